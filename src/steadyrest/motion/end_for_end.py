"""Is the stock held at the end where the chuck stands? Where it is not, the whole job is turned by half a turn about Z, as the rotary was.

Every point and tool axis (x, y, z) becomes (-x, -y, z), whatever the intent: work, part and developed coordinates alike. Indexed angles
and the start angle change their sign, and so do arcs in XZ and YZ their sense, since the axis they turn about points the other way. The
part then turns the other way for the same cut, and so does the chuck, which faces the other way: rotary words stay as they are. Of planes
origin, x and z are turned, and their moves, which are the planes' own, are not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from pydantic import PrivateAttr

from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.errors import Place, PlanError
from steadyrest.profile import Profile, Rotary
from steadyrest.toolpath import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, PLANE_XY, Holes, Item, MoveColumns, Operation, Plane, Toolpath

HALF_TURN = np.array([-1.0, -1.0, 1.0])


def held_at_the_other_end(toolpath: Toolpath, rotary: Rotary | None) -> bool:
    """Whether the toolpath says that the end is held at which the chuck does not stand: at `from` a chuck faces +, at `to` it faces -.

    raises    PlanError with the axis of rotation along Z, where nothing can be turned
    """
    held = toolpath.stock.held if toolpath.stock is not None else None
    if held is None or rotary is None or (held.at == "from") == rotary.chuck_faces.startswith("+"):
        return False
    if toolpath.axis == "Z":
        raise PlanError(
            f"the stock is held at '{held.at}', and the chuck faces {rotary.chuck_faces}: a job along Z cannot be turned end for end",
            place=Place(file=toolpath.file, key="stock, held"),
            cure="hold it at 'from' with a chuck that faces +Z, or correct chuck_faces in the profile",
        )
    return True


def end_for_end(toolpath: Toolpath) -> Toolpath:
    """The same job turned by half a turn about Z; long tables are turned while they are read. Not for axis Z."""
    stock = toolpath.stock
    x, y, z = toolpath.centre
    return toolpath.model_copy(
        update={
            "centre": (-x, -y, z),
            "stock": stock.end_for_end(toolpath.axis) if stock is not None else None,
            "operations": tuple(_operation(operation) for operation in toolpath.operations),
        }
    )


def check_start_position(toolpath: Toolpath, profile: Profile) -> None:
    """The place where the profile has the machine stand at the start is not turned, and has to be clear of the stock as it stands.

    toolpath    as it stands on the machine
    raises      PlanError where the tool would stand in the space that the stock sweeps
    """
    position, stock = profile.program.start_position, toolpath.stock
    if position is None or stock is None:
        return
    widest = max(tool.diameter for tool in toolpath.tools) / 2
    reach = np.full(3, stock.swept_radius(toolpath.axis) + widest)
    low, high = np.array(toolpath.centre) - reach, np.array(toolpath.centre) + reach
    along = AXES.index(toolpath.axis)
    low[along], high[along] = np.array(stock.along(toolpath.axis)) + toolpath.centre[along] + (-widest, widest)
    low[2] = -np.inf  # below the stock is no way out of it
    high[2] -= widest  # the tool points down
    place = np.array(position[:3]) / (MM_PER_INCH if toolpath.units == "inch" else 1.0)
    if (place > low).all() and (place < high).all():
        shown = ", ".join(f"{axis} {value:g}" for axis, value in zip(AXES, position, strict=False))
        raise PlanError(
            f"the start position {shown} of {profile.name} is in the space that the stock sweeps as mounted on the machine",
            place=Place(key="program.start_position"),
            cure="set program.start_position to a place above or beside the stock; it does not turn end for end with the job",
        )


def held_in_words(toolpath: Toolpath, is_turned: bool, scale: float) -> str:
    """For the head of a program: where the stock is held, in units of the program; `toolpath` as it stands on the machine."""
    stock, axis = toolpath.stock, toolpath.axis
    if stock is None or stock.held is None:
        return ""
    end = stock.along(axis)[0 if stock.held.at == "from" else 1] + toolpath.centre[AXES.index(axis)]
    where = f"held at {axis} {round(end * scale, 4) + 0.0:g}"
    return f"turned end for end, signs of X and Y changed, {where}" if is_turned else f"stock {where}"


class _Turned(Operation):
    """An operation that streams the moves of another, turned."""

    _as_written: Operation = PrivateAttr()

    def stream(self) -> Iterator[Item]:
        """The moves in order, turned."""
        return map(_item, self._as_written.stream())


def _operation(operation: Operation) -> Operation:
    rotary = operation.rotary
    if rotary.intent == "indexed" and rotary.planes is not None:  # the moves are the planes' own, and stay
        planes = tuple(_plane(plane) for plane in rotary.planes)
        return operation.model_copy(update={"rotary": rotary.model_copy(update={"planes": planes})})
    if rotary.intent == "wrapped" and rotary.plane is not None:
        return operation.model_copy(update={"rotary": rotary.model_copy(update={"plane": _plane(rotary.plane)})})
    if rotary.intent == "indexed":
        rotary = rotary.model_copy(update={"angles": tuple(0.0 - angle for angle in rotary.angles or ())})
    elif rotary.intent == "wrapped":
        rotary = rotary.model_copy(update={"start_angle": 0.0 - rotary.start_angle})
    turned = _Turned.model_construct(**{**dict(operation), "rotary": rotary})
    turned._as_written = operation
    return turned


def _plane(plane: Plane) -> Plane:
    """A plane turned, its x said, since what is laid into it unless said is another direction now."""
    x, _, z = (tuple((along * HALF_TURN).tolist()) for along in plane.axes.T)
    return plane.model_copy(update={"origin": tuple((np.array(plane.origin) * HALF_TURN).tolist()), "x": x, "z": z})


def _item(item: Item) -> Item:
    if isinstance(item, Holes):
        return replace(item, xy=0.0 - item.xy)
    if not isinstance(item, MoveColumns):
        return item
    turned = replace(item, end=item.end * HALF_TURN + 0.0, tool_axis=None if item.tool_axis is None else item.tool_axis * HALF_TURN + 0.0)
    arcs = item.arcs
    if arcs is None:
        return turned
    reverse = (arcs.plane != PLANE_XY) & (item.kind >= ARC_CLOCKWISE)
    kind = np.where(reverse, ARC_CLOCKWISE + ARC_COUNTERCLOCKWISE - item.kind, item.kind).astype(np.uint8)
    sweep_rad = np.where(reverse, -arcs.sweep_rad, arcs.sweep_rad)
    return replace(turned, kind=kind, arcs=replace(arcs, centre=arcs.centre * HALF_TURN, sweep_rad=sweep_rad))
