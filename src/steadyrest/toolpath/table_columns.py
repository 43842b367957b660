"""Which columns may a block of a table have, and what shape do they have to be of?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from steadyrest.columns import Floats
from steadyrest.errors import Place, ToolpathError
from steadyrest.model_errors import nearest
from steadyrest.toolpath.part import printable

COLUMNS = {
    "motion": "0 rapid, 1 cut.",
    "x": "End points, in `units`.",
    "y": "End points, in `units`.",
    "z": "End points, in `units`.",
    "i": "Tool axis, unit vector from the tip towards the spindle; simultaneous operations only, with j and k.",
    "j": "Tool axis, see i.",
    "k": "Tool axis, see i.",
    "feed": "Feed of each cut, in `units` per minute; of a rapid ignored. Left out, the feed in force holds.",
}
"""The columns of a table block and what they hold."""
REQUIRED = ("motion", "x", "y", "z")
AXIS = ("i", "j", "k")

Block = dict[str, Floats]
"""One block: the columns that it has, each (n,) float64."""


def check_names(names: Sequence[str], place: Place, first_move: int) -> None:
    """ToolpathError unless these are the names of a block's columns, each once, none missing."""
    here = replace(place, move=first_move)
    for name in names:
        if name not in COLUMNS:
            close = nearest(name, COLUMNS)
            raise ToolpathError(
                f"a table has no column '{printable(name)}'; allowed are {', '.join(COLUMNS)}",
                place=replace(here, key=f"table, {printable(name)}"),
                cure=f"did you mean '{close[0]}'?" if close else "take the column out",
            )
        if names.count(name) > 1:
            raise ToolpathError(
                f"the column '{name}' is given twice in one table",
                place=replace(here, key=f"table, {printable(name)}"),
                cure="keep one of the two",
            )
    for name in REQUIRED:
        if name not in names:
            raise ToolpathError(
                f"the table has no column '{name}'; it needs {', '.join(REQUIRED)}, and feed for its cuts",
                place=replace(here, key=f"table, {printable(name)}"),
                cure="add the column",
            )
    found = [name for name in AXIS if name in names]
    if found and len(found) < 3:
        raise ToolpathError(
            f"the table has {' and '.join(found)} but not {' and '.join(n for n in AXIS if n not in found)}",
            place=replace(here, key="table, " + found[0]),
            cure="a tool axis needs the three columns i, j and k, or none of them",
        )


def check_shape(block: Mapping[str, Floats], place: Place, first_move: int) -> None:
    """ToolpathError unless the names are right and the columns are of one length, not empty."""
    check_names(list(block), place, first_move)
    here = replace(place, move=first_move)
    lengths = {name: column.shape for name, column in block.items()}
    if len(set(lengths.values())) > 1 or any(len(shape) != 1 for shape in lengths.values()):
        raise ToolpathError(
            "the columns of the table differ in length: "
            + ", ".join(f"{name} {'x'.join(map(str, shape)) or 'none'}" for name, shape in lengths.items()),
            place=replace(here, key="table"),
            cure="every column holds one number for every move",
        )
    if not len(block["motion"]):
        raise ToolpathError("the table has no moves", place=replace(here, key="table"), cure="give moves, or leave the block out")
