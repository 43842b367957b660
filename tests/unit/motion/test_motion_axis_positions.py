"""Moves become axis positions: wrapped lines, subdivided moves, and what cannot be reached."""

from __future__ import annotations

import numpy as np
import pytest
from planning_parts import items_of, motion_in, notices_of, operation, toolpath

from steadyrest.errors import PlanError
from steadyrest.motion.model import LINE


def test_wrapped_line_stays_one_block() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, 0], "feed": 200}, {"cut": [-25, 62.8318531, 0]}]
    rows = motion_in(items_of(toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))))
    assert (LINE, -25.0, 0.0, 20.0, -180.0) == tuple(round(value, 5) for value in rows[-1])
    assert 2 == sum(row[0] == LINE for row in rows)


def test_a_wrapped_path_goes_on_after_a_pause_from_where_it_was() -> None:
    down = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, 0], "feed": 200}, {"cut": [-15, 31.4159265, 0]}]
    quarter = {"arc": [-25, 41.4159265, 0], "centre": [-15, 41.4159265, 0], "turns": "clockwise"}
    wrap = {"intent": "wrapped", "diameter": 40}
    straight, paused = (motion_in(items_of(toolpath(operation(wrap, [*down, *pause, quarter])))) for pause in ([], [{"dwell": 1}]))
    assert len(straight) > 10
    np.testing.assert_allclose(straight, paused)


def test_a_rapid_of_a_wrapped_path_after_a_pause_begins_at_the_angle_of_the_cut_before() -> None:
    cut = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, 0], "feed": 200}, {"cut": [-15, 31.4159265, 0]}]
    away = {"rapid": [-15, 31.4159265, 6]}
    wrap = {"intent": "wrapped", "diameter": 40}
    straight, paused = (motion_in(items_of(toolpath(operation(wrap, [*cut, *pause, away])))) for pause in ([], [{"dwell": 1}]))
    np.testing.assert_allclose(straight, paused)


def test_simultaneous_path_is_subdivided_and_said_so() -> None:
    moves = [
        {"rapid": [-5, 0, 30], "tool_axis": [0, 0, 1]},
        {"cut": [-5, 0, 18], "feed": 300},
        {"cut": [-5, -18, 0], "tool_axis": [0, -1, 0]},
    ]
    found = notices_of(toolpath(operation({"intent": "simultaneous"}, moves)), tolerance=0.005)
    notice = next(notice for notice in found if notice.kind == "Subdivided")
    assert notice.facts["moves"] == 1
    assert notice.facts["blocks"] > 10


def test_half_a_turn_between_two_points_names_both() -> None:
    moves = [
        {"rapid": [-5, 0, 30], "tool_axis": [0, 0, 1]},
        {"cut": [-5, 0, 18], "feed": 300},
        {"cut": [-7, 0, -18], "tool_axis": [0, 0, -1]},
    ]
    with pytest.raises(PlanError, match=r"operation 1 'cut', move 3: between \[-5, 0, 18\] and \[-7, 0, -18\] .* half a turn"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))


def test_unreachable_tool_axis_says_by_how_much_it_misses() -> None:
    moves = [{"rapid": [-5, 0, 30], "tool_axis": [0.5, 0, 0.8660254]}]
    with pytest.raises(PlanError, match=r"move 1: the tool axis \[0.5, 0, 0.866025\] leans 30.000 degrees out of the plane across X"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))
