"""Moves become axis positions: wrapped lines, subdivided moves, and what cannot be reached."""

from __future__ import annotations

import contextlib
import math

import numpy as np
import pytest
from planning_parts import indexed, items_of, motion_in, notices_of, operation, toolpath

from steadyrest import posted_text
from steadyrest.conventions import ARC_COUNTERCLOCKWISE, LINE
from steadyrest.errors import PlanError
from steadyrest.motion import Motion


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


@pytest.mark.parametrize("turned_deg", [90, 300])
def test_a_rapid_of_a_wrapped_path_after_a_pause_begins_at_the_angle_of_the_cut_before(turned_deg: float) -> None:
    along = 40 * np.pi * turned_deg / 360
    cut = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, 0], "feed": 200}, {"cut": [-15, along, 0]}]
    away = {"rapid": [-15, along, 6]}
    wrap = {"intent": "wrapped", "diameter": 40}
    straight, paused = (motion_in(items_of(toolpath(operation(wrap, [*cut, *pause, away])))) for pause in ([], [{"dwell": 1}]))
    assert -turned_deg == pytest.approx(straight[-1][4])
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
    with pytest.raises(
        PlanError,
        match=r"operation 1 'cut', move 3: between \[-5, 0, 18\] and \[-7, 0, -18\] .* half a turn, from \[0, 0, 1\] to \[0, 0, -1\]",
    ):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))


def test_unreachable_tool_axis_says_by_how_much_it_misses() -> None:
    moves = [{"rapid": [-5, 0, 30], "tool_axis": [0.5, 0, 0.8660254]}]
    with pytest.raises(PlanError, match=r"move 1: the tool axis \[0.5, 0, 0.866025\] leans 30.000 degrees out of the plane across X"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))


@pytest.mark.parametrize(("leans_deg", "refused"), [(0.009, False), (0.011, True)])
def test_a_tool_axis_may_lean_by_what_five_decimals_of_it_leave_open(leans_deg: float, refused: bool) -> None:
    leans = np.deg2rad(leans_deg)
    moves = [{"rapid": [-5, 0, 30], "tool_axis": [np.sin(leans), 0, np.cos(leans)]}]
    path = toolpath(operation({"intent": "simultaneous"}, moves))
    with pytest.raises(PlanError, match=r"leans 0\.011 degrees") if refused else contextlib.nullcontext():
        items_of(path)


@pytest.mark.parametrize(("sweep_deg", "blocks"), [(149, 1), (150, 2)])
def test_an_arc_said_by_its_radius_is_split_where_rounding_moves_its_middle_by_more_than_the_tolerance(
    sweep_deg: float, blocks: int
) -> None:
    """On counts of 0.001 mm R is off by 0.0005, half the chord by 0.0005 times the root of 2: at 149.5 degrees 0.005 mm in the middle."""
    angle = np.deg2rad(sweep_deg)
    arc = {"arc": [-40 + 10 * np.cos(angle), 10 * np.sin(angle), 15], "centre": [-40, 0, 15], "turns": "counterclockwise"}
    path = toolpath(indexed(0, moves=[{"rapid": [-30, 0, 25]}, {"cut": [-30, 0, 15], "feed": 100}, arc]))
    sets = ("arcs.form=radius", "arcs.full_circles=false", "arcs.largest_sweep=165", "numbers.length.decimals=3")
    (run,) = [item for item in items_of(path, "rs274ngc", *sets, tolerance=0.005) if isinstance(item, Motion) and item.rule == "cut"]
    assert [LINE, *[ARC_COUNTERCLOCKWISE] * blocks] == run.kind.tolist()


@pytest.mark.parametrize(("units", "radius", "as_arc"), [("mm", 99, True), ("mm", 101, False), ("inch", 3.9, True), ("inch", 4, False)])
def test_the_largest_radius_is_in_mm_whatever_the_program_is_in(units: str, radius: float, as_arc: bool) -> None:
    arc = {"arc": [-9 - radius, radius, 15], "centre": [-9 - radius, 0, 15], "turns": "counterclockwise"}
    moves = [{"rapid": [-9, 0, 25]}, {"cut": [-9, 0, 15], "feed": 100}, arc]
    path = toolpath(indexed(0, moves=moves), units=units, stock=None, clearance=20)
    (run,) = [item for item in items_of(path, "rs274ngc", "arcs.largest_radius=100") if isinstance(item, Motion) and item.rule == "cut"]
    assert as_arc == (ARC_COUNTERCLOCKWISE in run.kind)


def test_a_tool_axis_that_leans_out_of_reach_is_planned_within_the_axis_tolerance_and_refused_beyond() -> None:
    lean = math.radians(0.5)
    axis = [math.sin(lean), 0.0, math.cos(lean)]
    moves = [{"rapid": [0, 0, 40], "tool_axis": axis}, {"cut": [0, 0, 18], "feed": 100}, {"cut": [-30, 0, 18]}, {"rapid": [-30, 0, 40]}]
    with pytest.raises(PlanError, match=r"leans 0.500 degrees out of the plane across X.*\n.*or allow the angle by axis_tolerance"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))
    with pytest.raises(PlanError, match=r"leans 0.500 degrees"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves, axis_tolerance=0.49)))
    assert "X-30" in posted_text(toolpath(operation({"intent": "simultaneous"}, moves, axis_tolerance=0.5001)), "rs274ngc")
