"""Which moves has an operation in which the rotary turns while the tool cuts?"""

from __future__ import annotations

from math import cos, radians, sin
from typing import Any

from hypothesis import strategies as st

from steadyrest.testing.space import Draw, Space, between, drawn_feed, rounded


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
