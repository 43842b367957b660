"""Does the stock stand as the toolpath has it, or end for end? A chuck that faces + of the axis holds `from`, one that faces - `to`."""

from __future__ import annotations

from steadyrest.errors import Place, ToolpathError
from steadyrest.profile import Rotary
from steadyrest.toolpath import Toolpath


def stands_end_for_end(toolpath: Toolpath, rotary: Rotary | None) -> bool:
    """Whether the toolpath's `held` and the chuck contradict each other, so that the whole job is turned by half a turn about Z.

    raises    ToolpathError with the axis of rotation along Z, where nothing can be turned
    """
    if rotary is None or toolpath.stock is None or toolpath.stock.held is None:
        return False
    wanted = {"from": "+", "to": "-"}[toolpath.stock.held.at] + toolpath.axis
    if wanted == rotary.chuck_faces:
        return False
    if toolpath.axis == "Z":
        raise ToolpathError(
            f"the stock is held at '{toolpath.stock.held.at}' and the chuck faces {rotary.chuck_faces}; along Z nothing can be turned",
            place=Place(file=toolpath.file, key="stock, held"),
            cure="hold it at 'from' with a chuck that faces +Z, or correct chuck_faces in the profile",
        )
    return True


def as_mounted(toolpath: Toolpath, rotary: Rotary | None) -> Toolpath:
    """The toolpath with its `stock` and `centre` as they stand on the machine; its moves stay as they are written."""
    if not stands_end_for_end(toolpath, rotary):
        return toolpath
    assert toolpath.stock is not None
    x, y, z = toolpath.centre
    return toolpath.model_copy(update={"stock": toolpath.stock.end_for_end(toolpath.axis), "centre": (-x, -y, z)})
