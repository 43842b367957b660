"""Which toolpaths should a property hold for? Hypothesis strategies for valid, physically sensible toolpaths.

Needs hypothesis; only tests import this. The toolpaths are sensible in this: rapids go at a height outside the swept
radius, or straight up and down; cuts stay within the stock's length; tool axes turn by less than a quarter turn from
point to point; everything is relative to `centre`.

A shop's test of a profile (a whole repository is in `examples/shop`):

    from hypothesis import given
    from steadyrest.errors import PlanError
    from steadyrest import posted_text
    from steadyrest.testing import toolpaths

    @given(toolpaths(axis="X", intents=("indexed", "still"), arcs=False, events=False))
    def test_no_line_is_longer_than_the_screen(toolpath):
        try:
            text = posted_text(toolpath, "controllers/corner-mill")  # written, read back and proved; Refused where that fails
        except PlanError:
            return  # refused in words, because the controller cannot do it
        assert max(map(len, text.splitlines())) <= 80

`toolpaths` gives models; `toolpath_data` gives what the JSON file would hold, to be changed before `parse_toolpath`, and `table_of`
turns moves into a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, radians, sin
from typing import Any

from hypothesis import strategies as st

from steadyrest.conventions import MM_PER_INCH
from steadyrest.toolpath import CYCLES, Toolpath, parse_toolpath

INTENTS = ("indexed", "wrapped", "simultaneous", "still")
Draw = st.DrawFn
DECIMALS = 6


def toolpaths(**said: Any) -> st.SearchStrategy[Toolpath]:
    """Toolpaths; what may be said of them is as in `toolpath_data`."""
    return toolpath_data(**said).map(parse_toolpath)


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
    planes: bool = True,
    most_operations: int = 3,
) -> dict[str, Any]:
    """Toolpaths of one to `most_operations` operations as the objects of the JSON file, to be changed or broken by a test.

    `axis` X, Y or Z, `units` mm or inch, and `centred` (centre at the origin, or off it) are drawn unless given. `intents` are
    those allowed, all that the axis permits unless given. `arcs=False` leaves out arcs, `events=False` dwells, holes, stops and notes,
    `planes=False` planes of indexed and wrapped operations.
    """
    axis = axis or draw(st.sampled_from("XYZ" if intents is None else "XY"))
    units = units or draw(st.sampled_from(("mm", "inch")))
    allowed = tuple(intents) if intents is not None else INTENTS if axis != "Z" else ("indexed", "still")
    unit = 1.0 if units == "mm" else 1 / MM_PER_INCH
    off = draw(st.booleans()) if centred is None else not centred
    centre = tuple(_between(draw, -30 * unit, 30 * unit) if off else 0.0 for _ in "xyz")

    stock, least, swept = _drawn_stock(draw, unit)
    tools = _drawn_tools(draw, unit)
    space = _Space(axis, centre, unit, stock["from"], stock["to"], least, swept)
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
            moves = _simultaneous_moves(draw, space)
        else:
            operation["rotary"], height = _flat_rotary(draw, space, intent, planes=planes)
            moves = _flat_moves(draw, space, height, intent, arcs=arcs, events=events, drills=drills)
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
    rows: list[dict[str, Any]] = []
    held: dict[str, Any] = {"feed": 0.0, "tool_axis": None}
    for move in moves:
        held |= move
        rows.append({"motion": 0 if "rapid" in move else 1, "end": move["rapid"] if "rapid" in move else move["cut"], **held})
    table = {"motion": [row["motion"] for row in rows]}
    table |= {name: [row["end"][at] for row in rows] for at, name in enumerate("xyz")}
    if rows[0]["tool_axis"] is not None:
        table |= {name: [row["tool_axis"][at] for row in rows] for at, name in enumerate("ijk")}
    return table | {"feed": [row["feed"] for row in rows]}


@dataclass(frozen=True, slots=True)
class _Space:
    """Where the stock is, in file units; `unit` is a millimetre in them."""

    axis: str
    centre: tuple[float, ...]
    unit: float
    start: float
    stop: float
    least: float
    swept: float

    def along(self, draw: Draw) -> float:
        """A place along the axis, measured from `centre`."""
        return _between(draw, self.start, self.stop)

    def safe(self, draw: Draw) -> float:
        """A height over the axis outside the swept radius."""
        return self.swept + _between(draw, 3 * self.unit, 20 * self.unit)

    def depth(self, draw: Draw) -> float:
        """A height over the axis inside the stock."""
        return _between(draw, 0.4 * self.least, 0.95 * self.least)


def _between(draw: Draw, low: float, high: float) -> float:
    """One of the thousand and one numbers that part the way from low to high evenly."""
    return round(low + (high - low) * draw(st.integers(0, 1000)) / 1000, DECIMALS)


def _rounded(point: Sequence[float]) -> list[float]:
    return [round(value, DECIMALS) for value in point]


def _drawn_stock(draw: Draw, unit: float) -> tuple[dict[str, Any], float, float]:
    """Stock, and its least and swept radius; `unit`: a millimetre in file units."""
    start = _between(draw, -120 * unit, -40 * unit)
    stop = _between(draw, -5 * unit, 5 * unit)
    if draw(st.booleans()):
        diameter = _between(draw, 20 * unit, 100 * unit)
        return {"shape": "round", "diameter": diameter, "from": start, "to": stop}, diameter / 2, diameter / 2
    across = [_between(draw, 20 * unit, 80 * unit), _between(draw, 20 * unit, 80 * unit)]
    stock = {"shape": "rectangular", "across": across, "from": start, "to": stop}
    return stock, min(across) / 2, (across[0] ** 2 + across[1] ** 2) ** 0.5 / 2


def _drawn_tools(draw: Draw, unit: float) -> list[dict[str, Any]]:
    """One to three tools of different shapes, numbers 1 to 99; `unit`: a millimetre in file units."""
    shapes: list[dict[str, Any]] = [
        {"shape": "flat", "name": "end mill"},
        {"shape": "ball", "name": "ball end mill"},
        {"shape": "bullnose", "name": "bullnose end mill", "corner_radius": round(0.5 * unit, DECIMALS)},
        {"shape": "drill", "name": "drill", "point_angle": 118},
        {"shape": "chamfer", "name": "chamfer mill", "tip_diameter": 0, "included_angle": 90},
    ]
    chosen = draw(st.lists(st.sampled_from(range(len(shapes))), min_size=1, max_size=3, unique=True))
    numbers = draw(st.lists(st.integers(1, 99), min_size=len(chosen), max_size=len(chosen), unique=True))
    alike = {"flutes": 3, "cutting_length": round(20 * unit, DECIMALS), "length": round(60 * unit, DECIMALS)}
    return [
        {"number": number, "diameter": _between(draw, 2 * unit, 12 * unit), **alike, **shapes[kind]}
        for number, kind in zip(numbers, chosen, strict=True)
    ]


def _drawn_feed(draw: Draw, space: _Space) -> float:
    """A feed per minute in file units, 50 to 2000 mm."""
    return round(draw(st.integers(50, 2000)) * space.unit, DECIMALS)


_HEADINGS = (0, 33.5, 90, -90, 180)


def _plane(space: _Space, angle: float, heading: float) -> dict[str, Any]:
    """The plane in which coordinates mean what they mean at an angle, turned about the spindle in the middle of the stock, degrees."""
    alpha, turn, along = radians(angle), radians(heading), "XYZ".index(space.axis)
    out, up = (1 if along == 0 else 0), 2
    if along == 2:
        out, up = 0, 1

    def of_part(direction: Sequence[float]) -> list[float]:
        turned = list(direction)
        sense = -1 if along == 1 else 1  # about Y a right-hand turn runs from z to x
        turned[out] = direction[out] * cos(alpha) - sense * direction[up] * sin(alpha)
        turned[up] = direction[up] * cos(alpha) + sense * direction[out] * sin(alpha)
        return turned

    middle = [value + (space.start + space.stop) / 2 * (axis == along) for axis, value in enumerate(space.centre)]
    x, y = middle[0] * cos(turn) - middle[1] * sin(turn), middle[0] * sin(turn) + middle[1] * cos(turn)
    zero = [middle[0] - x - space.centre[0], middle[1] - y - space.centre[1], -space.centre[2]]
    origin = [one + centre for one, centre in zip(of_part(zero), space.centre, strict=True)]
    return {"origin": _rounded(origin), "z": _rounded(of_part([0, 0, 1])), "x": _rounded(of_part([cos(turn), sin(turn), 0]))}


def _flat_rotary(draw: Draw, space: _Space, intent: str, *, planes: bool) -> tuple[dict[str, Any], float]:
    """The rotary of an operation that is not simultaneous, and the z of the axis in its frame."""
    if intent == "indexed":
        angles = draw(st.lists(st.integers(-720, 720).map(lambda half: half / 2), min_size=1, max_size=4))
        if planes and draw(st.booleans()):
            return {"intent": intent, "planes": [_plane(space, angle, draw(st.sampled_from(_HEADINGS))) for angle in angles]}, space.centre[
                2
            ]
        return {"intent": intent, "angles": angles}, space.centre[2]
    if intent == "still":
        return {"intent": intent}, space.centre[2]
    diameter = round(2 * space.least, DECIMALS)
    z_from = draw(st.sampled_from(("surface", "axis")))
    rotary = {"intent": intent, "diameter": diameter, "start_angle": _between(draw, -360, 360), "z_from": z_from}
    if planes and space.axis == "X" and draw(st.booleans()):
        angle, zero = _between(draw, -180, 180), [0.0, *space.centre[1:]]
        upright = [0.0, -sin(radians(angle)), cos(radians(angle))]
        rotary["plane"] = {"origin": zero, "z": _rounded(upright), "x": [draw(st.sampled_from((1.0, -1.0))), 0.0, 0.0]}
    return rotary, -diameter / 2 if z_from == "surface" else 0.0


def _flat_moves(draw: Draw, space: _Space, axis_z: float, intent: str, *, arcs: bool, events: bool, drills: bool) -> list[dict[str, Any]]:
    """Moves of an operation that is not simultaneous; `axis_z` is the height of the axis of rotation in its frame."""
    turns = intent == "wrapped"

    def point() -> tuple[float, float]:
        spread = 3 * pi * 2 * space.least if turns else 0.8 * space.least  # wrapped paths go round more than once
        across = _between(draw, -spread, spread)
        if space.axis == "Z":
            return space.centre[0] + across, space.centre[1] + _between(draw, -spread, spread)
        along = space.centre["XYZ".index(space.axis)] + space.along(draw)
        across += 0.0 if turns else space.centre[1 if space.axis == "X" else 0]
        return (along, across) if space.axis == "X" else (across, along)

    # With the axis along the spindle, heights count from the stock's ends instead of from the axis.
    if space.axis == "Z":
        top = space.centre[2] + space.stop
        safe, depths = top + _between(draw, 3 * space.unit, 20 * space.unit), (space.centre[2] + space.start, top)
    else:
        safe, depths = axis_z + space.safe(draw), (axis_z + 0.4 * space.least, axis_z + 0.95 * space.least)
    safe = round(safe, DECIMALS)
    moves: list[dict[str, Any]] = []
    if events and draw(st.booleans()):
        moves.append({"note": draw(st.sampled_from(("clean the chips", "check the clamp")))})
    for _ in range(draw(st.integers(1, 3))):
        x, y = _rounded(point())
        moves.append({"rapid": [x, y, safe]})
        z = _between(draw, *depths)
        moves.append({"cut": [x, y, z], "feed": _drawn_feed(draw, space)})
        for _ in range(draw(st.integers(1, 4))):
            if arcs and draw(st.booleans()):
                moves.append(_arc(draw, space, (x, y, z)))
                x, y, z = moves[-1]["arc"]
            else:
                x, y = _rounded(point())
                move: dict[str, Any] = {"cut": [x, y, z]}
                if draw(st.booleans()):
                    move["feed"] = _drawn_feed(draw, space)
                moves.append(move)
        if events and draw(st.booleans()):
            moves.append({"dwell": _between(draw, 0, 2)})
        moves.append({"rapid": [x, y, safe]})
        if events and draw(st.booleans()):
            moves.append({"stop": {"optional": draw(st.booleans())}})
    if drills:
        for _ in range(draw(st.integers(1, 3))):
            moves.append(_hole(draw, space, point(), safe, _between(draw, *depths)))
    return moves


def _arc(draw: Draw, space: _Space, start: tuple[float, float, float]) -> dict[str, Any]:
    """An arc from `start`: in XY of any sweep, level or helical; in XZ and YZ a half circle over the top."""
    x, y, z = start
    radius = _between(draw, 1 * space.unit, 8 * space.unit)
    plane = draw(st.sampled_from(("XY", "XY", "XZ", "YZ")))
    arc: dict[str, Any] = {"plane": plane}
    if plane == "XZ":
        arc |= {"arc": _rounded((x + 2 * radius, y, z)), "centre": _rounded((x + radius, y, z)), "turns": "counterclockwise"}
    elif plane == "YZ":
        arc |= {"arc": _rounded((x, y + 2 * radius, z)), "centre": _rounded((x, y + radius, z)), "turns": "clockwise"}
    else:
        begin = radians(draw(st.integers(0, 359)))
        end = begin + radians(draw(st.integers(0, 359)))
        centre = (x - radius * cos(begin), y - radius * sin(begin))
        rise = _between(draw, 0, 1 * space.unit) if draw(st.booleans()) else 0.0
        arc |= {
            "arc": _rounded((centre[0] + radius * cos(end), centre[1] + radius * sin(end), z + rise)),
            "centre": _rounded((*centre, z)),
            "turns": draw(st.sampled_from(("clockwise", "counterclockwise"))),
            "full_turns": draw(st.sampled_from((0, 0, 0, 1, 2))),
        }
    if draw(st.booleans()):
        arc["feed"] = _drawn_feed(draw, space)
    return arc


def _hole(draw: Draw, space: _Space, point: tuple[float, float], safe: float, bottom: float) -> dict[str, Any]:
    cycle, feed = draw(st.sampled_from(CYCLES)), _drawn_feed(draw, space)
    hole: dict[str, Any] = {"hole": _rounded(point), "cycle": cycle, "retract": safe, "bottom": bottom, "feed": feed}
    if cycle in ("peck", "chip-break"):
        hole["peck"] = _between(draw, 0.5 * space.unit, 5 * space.unit)
    if cycle in ("dwell-drill", "bore"):
        hole["dwell"] = _between(draw, 0, 1)
    return hole


def _simultaneous_moves(draw: Draw, space: _Space) -> list[dict[str, Any]]:
    """Moves with the tool axis across the axis of rotation, turned by less than a quarter turn from point to point."""
    angle = draw(st.integers(-180, 180))
    moves: list[dict[str, Any]] = []

    def add(kind: str, along: float, sideways: float, radius: float) -> None:
        a = radians(angle)
        if space.axis == "X":
            tool_axis, aside, forward = (0.0, -sin(a), cos(a)), (0.0, cos(a), sin(a)), (1.0, 0.0, 0.0)
        else:
            tool_axis, aside, forward = (sin(a), 0.0, cos(a)), (cos(a), 0.0, -sin(a)), (0.0, 1.0, 0.0)
        tip = [c + along * f + sideways * s + radius * t for c, f, s, t in zip(space.centre, forward, aside, tool_axis, strict=True)]
        moves.append({kind: _rounded(tip), "tool_axis": [round(value, 9) for value in tool_axis]})

    for _ in range(draw(st.integers(1, 2))):
        safe, along = space.safe(draw), space.along(draw)
        add("rapid", along, 0.0, safe)
        add("cut", along, 0.0, space.depth(draw))
        moves[-1]["feed"] = _drawn_feed(draw, space)
        sideways = 0.0
        for _ in range(draw(st.integers(1, 6))):
            angle += draw(st.integers(-80, 80))
            along, sideways = space.along(draw), _between(draw, -0.3 * space.least, 0.3 * space.least)
            add("cut", along, sideways, space.depth(draw))
        add("rapid", along, sideways, safe)
    return moves
