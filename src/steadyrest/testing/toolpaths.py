"""Which toolpaths does a property draw: whole ones as models, or as the objects of their file?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from steadyrest.conventions import MM_PER_INCH
from steadyrest.testing.moves import flat_moves, flat_rotary, simultaneous_moves
from steadyrest.testing.space import Draw, Space, between, drawn_stock, drawn_tools
from steadyrest.toolpath import Toolpath, parse_toolpath

INTENTS = ("indexed", "wrapped", "simultaneous", "still")


def toolpaths(
    *,
    axis: str | None = None,
    intents: Sequence[str] | None = None,
    units: str | None = None,
    centred: bool | None = None,
    arcs: bool = True,
    events: bool = True,
    most_operations: int = 3,
) -> st.SearchStrategy[Toolpath]:
    """Toolpaths of one to `most_operations` operations.

    `axis` X, Y or Z, `units` mm or inch, and `centred` (centre at the origin, or off it) are drawn unless given. `intents` are
    those allowed, all that the axis permits unless given. `arcs=False` leaves out arcs, `events=False` dwells, holes, stops and notes.
    """
    return toolpath_data(
        axis=axis,
        intents=intents,
        units=units,
        centred=centred,
        arcs=arcs,
        events=events,
        most_operations=most_operations,
    ).map(parse_toolpath)


@st.composite
def toolpath_data(
    draw: Draw,
    *,
    axis: str | None = None,
    intents: Sequence[str] | None = None,
    units: str | None = None,
    centred: bool | None = None,
    arcs: bool = True,
    events: bool = True,
    most_operations: int = 3,
) -> dict[str, Any]:
    """The same as the objects of the JSON file, to be changed or broken by a test; arguments as in `toolpaths`."""
    axis = axis or draw(st.sampled_from("XYZ" if intents is None else "XY"))
    units = units or draw(st.sampled_from(("mm", "inch")))
    allowed = tuple(intents) if intents is not None else INTENTS if axis != "Z" else ("indexed", "still")
    unit = 1.0 if units == "mm" else 1 / MM_PER_INCH
    off = draw(st.booleans()) if centred is None else not centred
    centre = tuple(between(draw, -30 * unit, 30 * unit) if off else 0.0 for _ in "xyz")

    stock, least, swept = drawn_stock(draw, unit)
    tools = drawn_tools(draw, unit)
    space = Space(axis, centre, unit, stock["from"], stock["to"], least, swept)
    operations = []
    for _ in range(draw(st.integers(1, most_operations))):
        intent = draw(st.sampled_from(allowed))
        drills = events and intent != "simultaneous" and draw(st.booleans())
        operation: dict[str, Any] = {
            "name": draw(st.sampled_from(("face", "groove", "flats", "vane"))),
            "tool": draw(st.sampled_from([tool["number"] for tool in tools])),
            "spindle": {
                "rpm": draw(st.integers(300, 12000)),
                "turns": draw(st.sampled_from(("clockwise", "counterclockwise"))),
            },
            "coolant": draw(st.sampled_from(("off", "flood", "mist", "air", "through"))),
        }
        if intent == "simultaneous":
            operation["rotary"] = {"intent": intent}
            moves = simultaneous_moves(draw, space)
        else:
            operation["rotary"], height = flat_rotary(draw, space, intent)
            moves = flat_moves(draw, space, height, intent, arcs=arcs, events=events, drills=drills)
        if all(move.keys() & {"rapid", "cut"} for move in moves) and draw(st.booleans()):
            operation["table"] = table_of(moves)
        else:
            operation["moves"] = moves
        operations.append(operation)
    return {
        "steadyrest_toolpath": 1,
        "name": draw(st.sampled_from(("lantern spindle", "float valve", "ratchet drum"))),
        "units": units,
        "axis": axis,
        "centre": list(centre),
        "stock": stock,
        "tools": tools,
        "operations": operations,
    }


def table_of(moves: Sequence[dict[str, Any]]) -> dict[str, list[float]]:
    """The same rapids and cuts as one block of a table, feeds and tool axes that hold written out."""
    ends = [move["rapid"] if "rapid" in move else move["cut"] for move in moves]
    table: dict[str, list[float]] = {"motion": [0 if "rapid" in move else 1 for move in moves]}
    for at, name in enumerate("xyz"):
        table[name] = [end[at] for end in ends]
    tool_axis: list[float] | None = None
    feed = 0.0
    axes: list[list[float]] = []
    feeds: list[float] = []
    for move in moves:
        tool_axis, feed = move.get("tool_axis", tool_axis), move.get("feed", feed)
        feeds.append(feed)
        if tool_axis is not None:
            axes.append(tool_axis)
    if axes:
        table |= {name: [axis[at] for axis in axes] for at, name in enumerate("ijk")}
    table["feed"] = feeds
    return table
