"""The moves of an operation: cuts, arcs, holes, what an operator is told between them; or a path during which the rotary turns."""

from __future__ import annotations

from math import cos, pi, radians, sin
from typing import Any

from hypothesis import strategies as st

from steadyrest.testing.space import DECIMALS, Draw, Space, between, drawn_feed, rounded


def flat_rotary(draw: Draw, space: Space, intent: str) -> tuple[dict[str, Any], float]:
    """The rotary of an operation that is not simultaneous, and the z of the axis in its frame."""
    if intent == "indexed":
        angles = draw(st.lists(st.integers(-720, 720).map(lambda half: half / 2), min_size=1, max_size=4))
        return {"intent": intent, "angles": angles}, space.centre[2]
    if intent == "still":
        return {"intent": intent}, space.centre[2]
    diameter = round(2 * space.least, DECIMALS)
    z_from = draw(st.sampled_from(("surface", "axis")))
    rotary = {"intent": intent, "diameter": diameter, "start_angle": between(draw, -360, 360), "z_from": z_from}
    return rotary, -diameter / 2 if z_from == "surface" else 0.0


def flat_moves(draw: Draw, space: Space, axis_z: float, intent: str, *, arcs: bool, events: bool, drills: bool) -> list[dict[str, Any]]:
    """Moves of an operation that is not simultaneous; `axis_z` is the height of the axis of rotation in its frame."""
    turns = intent == "wrapped"

    def point() -> tuple[float, float]:
        spread = 3 * pi * 2 * space.least if turns else 0.8 * space.least  # wrapped paths go round more than once
        across = between(draw, -spread, spread)
        if space.axis == "Z":
            return space.centre[0] + across, space.centre[1] + between(draw, -spread, spread)
        along = space.centre["XYZ".index(space.axis)] + space.along(draw)
        across += 0.0 if turns else space.centre[1 if space.axis == "X" else 0]
        return (along, across) if space.axis == "X" else (across, along)

    # With the axis along the spindle, heights count from the stock's ends instead of from the axis.
    if space.axis == "Z":
        top = space.centre[2] + space.stop
        safe, depths = top + between(draw, 3 * space.unit, 20 * space.unit), (space.centre[2] + space.start, top)
    else:
        safe, depths = axis_z + space.safe(draw), (axis_z + 0.4 * space.least, axis_z + 0.95 * space.least)
    safe = round(safe, DECIMALS)
    moves: list[dict[str, Any]] = []
    if events and draw(st.booleans()):
        moves.append({"note": draw(st.sampled_from(("clean the chips", "check the clamp")))})
    for _ in range(draw(st.integers(1, 3))):
        x, y = rounded(point())
        moves.append({"rapid": [x, y, safe]})
        z = between(draw, *depths)
        moves.append({"cut": [x, y, z], "feed": drawn_feed(draw, space)})
        for _ in range(draw(st.integers(1, 4))):
            if arcs and draw(st.booleans()):
                moves.append(_arc(draw, space, (x, y, z)))
                x, y, z = moves[-1]["arc"]
            else:
                x, y = rounded(point())
                move: dict[str, Any] = {"cut": [x, y, z]}
                if draw(st.booleans()):
                    move["feed"] = drawn_feed(draw, space)
                moves.append(move)
        if events and draw(st.booleans()):
            moves.append({"dwell": between(draw, 0, 2)})
        moves.append({"rapid": [x, y, safe]})
        if events and draw(st.booleans()):
            moves.append({"stop": {"optional": draw(st.booleans())}})
    if drills:
        for _ in range(draw(st.integers(1, 3))):
            moves.append(_hole(draw, space, point(), safe, between(draw, *depths)))
    return moves


def _arc(draw: Draw, space: Space, start: tuple[float, float, float]) -> dict[str, Any]:
    """An arc from `start`: in XY of any sweep, level or helical; in XZ and YZ a half circle over the top."""
    x, y, z = start
    radius = between(draw, 1 * space.unit, 8 * space.unit)
    plane = draw(st.sampled_from(("XY", "XY", "XZ", "YZ")))
    arc: dict[str, Any] = {"plane": plane}
    if plane == "XZ":
        arc |= {"arc": rounded((x + 2 * radius, y, z)), "centre": rounded((x + radius, y, z)), "turns": "counterclockwise"}
    elif plane == "YZ":
        arc |= {"arc": rounded((x, y + 2 * radius, z)), "centre": rounded((x, y + radius, z)), "turns": "clockwise"}
    else:
        begin = radians(draw(st.integers(0, 359)))
        end = begin + radians(draw(st.integers(0, 359)))
        centre = (x - radius * cos(begin), y - radius * sin(begin))
        rise = between(draw, 0, 1 * space.unit) if draw(st.booleans()) else 0.0
        arc |= {
            "arc": rounded((centre[0] + radius * cos(end), centre[1] + radius * sin(end), z + rise)),
            "centre": rounded((*centre, z)),
            "turns": draw(st.sampled_from(("clockwise", "counterclockwise"))),
            "full_turns": draw(st.sampled_from((0, 0, 0, 1, 2))),
        }
    if draw(st.booleans()):
        arc["feed"] = drawn_feed(draw, space)
    return arc


def _hole(draw: Draw, space: Space, point: tuple[float, float], safe: float, bottom: float) -> dict[str, Any]:
    cycle = draw(st.sampled_from(("drill", "dwell-drill", "peck", "chip-break", "tap", "bore")))
    hole: dict[str, Any] = {
        "hole": rounded(point),
        "cycle": cycle,
        "retract": safe,
        "bottom": bottom,
        "feed": drawn_feed(draw, space),
    }
    if cycle in ("peck", "chip-break"):
        hole["peck"] = between(draw, 0.5 * space.unit, 5 * space.unit)
    if cycle in ("dwell-drill", "bore"):
        hole["dwell"] = between(draw, 0, 1)
    return hole


def simultaneous_moves(draw: Draw, space: Space) -> list[dict[str, Any]]:
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
        moves.append({kind: rounded(tip), "tool_axis": [round(value, 9) for value in tool_axis]})

    for _ in range(draw(st.integers(1, 2))):
        safe, along = space.safe(draw), space.along(draw)
        add("rapid", along, 0.0, safe)
        add("cut", along, 0.0, space.depth(draw))
        moves[-1]["feed"] = drawn_feed(draw, space)
        sideways = 0.0
        for _ in range(draw(st.integers(1, 6))):
            angle += draw(st.integers(-80, 80))
            along, sideways = space.along(draw), between(draw, -0.3 * space.least, 0.3 * space.least)
            add("cut", along, sideways, space.depth(draw))
        add("rapid", along, sideways, safe)
    return moves
