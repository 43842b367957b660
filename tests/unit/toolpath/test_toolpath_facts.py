"""Figures and a rough drawing of each operation, round the axis of rotation."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from steadyrest.toolpath import OperationFacts, operation_facts, parse_toolpath


def facts(moves: list[dict[str, Any]], rotary: dict[str, Any] | None = None, axis: str = "X") -> OperationFacts:
    rotary = rotary or {"intent": "indexed", "angles": [0]}
    data = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "axis": axis,
        "clearance": 60,
        "tools": [{"number": 1, "shape": "flat", "diameter": 6}],
        "operations": [
            {
                "tool": 1,
                "spindle": {"rpm": 900, "turns": "clockwise"},
                "rotary": rotary,
                "moves": moves,
            }
        ],
    }
    (found,) = operation_facts(parse_toolpath(data))
    return found


def test_moves_feeds_and_reach_are_those_of_the_cuts() -> None:
    found = facts([{"rapid": [5, 0, 50]}, {"cut": [5, 0, 20], "feed": 100}, {"cut": [-15, 0, 20], "feed": 300}, {"rapid": [-15, 0, 50]}])
    assert (4, 2, 0) == (found.moves, found.cuts, found.holes)
    assert ((100, 300), (-15, 5), (20, 50)) == (found.feeds, found.along, found.radius)


def test_a_cut_beside_the_axis_is_told_at_its_angle() -> None:
    """About X the angle of (y, z) is atan2(-y, z): a point at y = -20 on the axis's height is at 90 degrees."""
    found = facts([{"rapid": [0, -20, 60]}, {"cut": [0, -20, 0], "feed": 100}])
    assert found.path[-1] == pytest.approx([0, 20, 90])
    over = facts([{"rapid": [0, 0, 60]}, {"cut": [0, -20, 20], "feed": 100}])
    assert np.nanmax(over.path[:, 2]) == pytest.approx(45)


def test_a_wrapped_path_lies_where_its_cylinder_says() -> None:
    """About X alpha = start - y / r, about Y start + x / r."""
    quarter = math.pi * 20 / 2
    moves = [{"rapid": [0, 0, 5]}, {"cut": [0, 0, -1], "feed": 100}, {"cut": [-9, quarter, -1]}]
    found = facts(moves, {"intent": "wrapped", "diameter": 40, "start_angle": 10})
    assert found.path[-1] == pytest.approx([-9, 19, -80])
    turned = [{"rapid": [0, 0, 5]}, {"cut": [0, 0, -1], "feed": 100}, {"cut": [quarter, -9, -1]}]
    assert facts(turned, {"intent": "wrapped", "diameter": 40}, axis="Y").path[-1] == pytest.approx([-9, 19, 90])


def test_holes_go_down_from_their_retract_level() -> None:
    found = facts([{"rapid": [0, 0, 60]}, {"hole": [-5, 0], "retract": 22, "bottom": 10, "feed": 80}])
    assert (1, (10, 22), (80, 80)) == (found.holes, found.radius, found.feeds)


def test_an_operation_that_cuts_nothing_has_no_figures() -> None:
    found = facts([{"rapid": [0, 0, 60]}])
    assert (None, None, None, 0) == (found.feeds, found.along, found.radius, len(found.path))
