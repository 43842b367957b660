"""What moves mean, in figures worked by hand or published."""

import math
from typing import Any

import numpy as np
import pytest
from toolpath_parts import CUT, RAPID, SIMULTANEOUS, toolpath

from steadyrest.toolpath import (
    ARC_COUNTERCLOCKWISE,
    Dwell,
    Hole,
    MoveColumns,
    Note,
    Stop,
    parse_toolpath,
)

TAP = {"hole": [0, 0], "cycle": "tap", "retract": 25, "bottom": 10}


def items(data: dict[str, Any]) -> list[Any]:
    return list(parse_toolpath(data).operations[0].stream())


def sweep(start: list[float], arc: dict[str, Any]) -> float:
    (run,) = items(toolpath([{"rapid": start}, {"feed": 100, **arc}]))
    assert isinstance(run, MoveColumns)
    assert run.arcs is not None
    return math.degrees(run.arcs.sweep_rad[1])


def test_the_arc_of_the_published_example_sweeps_143_degrees_clockwise() -> None:
    # NISTIR 6556 3.5.3.2: at (7, 7) `G17 G2 X10 Y16 I3 J4`: centre (10, 11), radius 5; the sweep follows from it.
    arc = {"arc": [10, 16, 0], "centre": [10, 11, 0], "turns": "clockwise"}
    assert pytest.approx(-143.130102) == sweep([7, 7, 0], arc)


def test_an_arc_from_z_to_x_in_the_xz_plane_is_counterclockwise() -> None:
    # NISTIR 6556 3.5.3: seen from the + end of Y the positive turn runs from +Z to +X.
    arc = {"arc": [5, 0, 0], "centre": [0, 0, 0], "turns": "counterclockwise", "plane": "XZ"}
    assert pytest.approx(90) == sweep([0, 0, 5], arc)


def test_an_arc_from_y_to_z_in_the_yz_plane_is_counterclockwise() -> None:
    arc = {"arc": [0, 0, 5], "centre": [0, 0, 0], "turns": "counterclockwise", "plane": "YZ"}
    assert pytest.approx(90) == sweep([0, 5, 0], arc)


def test_an_arc_that_ends_where_it_starts_is_a_full_circle() -> None:
    # NISTIR 6556, program C.1: `g2 x32.5 j2.5` back to its start is a full circle.
    arc = {"arc": [5, 0, 0], "centre": [0, 0, 0], "turns": "clockwise"}
    assert pytest.approx(-360) == sweep([5, 0, 0], arc)


@pytest.mark.parametrize(("full_turns", "degrees"), [(0, 90), (1, 450), (2, 810)])
def test_full_turns_come_on_top_of_the_part_turn(full_turns: int, degrees: float) -> None:
    arc = {"arc": [0, 5, -1], "centre": [0, 0, 0], "turns": "counterclockwise", "full_turns": full_turns}
    assert pytest.approx(degrees) == sweep([5, 0, 0], arc)


@pytest.mark.parametrize(("full_turns", "degrees"), [(0, 360), (1, 360), (3, 1080)])
def test_full_turns_of_a_full_circle_are_its_turns_one_unless_more(full_turns: int, degrees: float) -> None:
    arc = {"arc": [5, 0, -1], "centre": [0, 0, 0], "turns": "counterclockwise", "full_turns": full_turns}
    assert pytest.approx(degrees) == sweep([5, 0, 0], arc)


def test_radii_that_differ_by_the_published_limit_are_taken() -> None:
    # NISTIR 6556 3.5.3.2: at most 0.002 mm.
    arc = {"arc": [0, 5.00199, 0], "centre": [0, 0, 0], "turns": "counterclockwise"}
    assert pytest.approx(90) == sweep([5, 0, 0], arc)


def test_an_arc_may_start_where_a_hole_ended() -> None:
    hole = {"hole": [5, 0], "retract": 3, "bottom": -1, "feed": 100}
    arc = {"arc": [0, 5, 3], "centre": [0, 0, 3], "turns": "counterclockwise"}
    _, run = items(toolpath([hole, arc]))
    np.testing.assert_allclose(run.arcs.sweep_rad, [np.pi / 2])
    assert ARC_COUNTERCLOCKWISE == run.kind[0]
    assert 100 == run.feed[0]


def test_events_keep_their_place_and_number_between_the_runs() -> None:
    moves = [{"note": "clamp"}, RAPID, CUT, {"dwell": 1}, {"stop": {"optional": True}}, {"stop": {}}, RAPID]
    note, run, dwell, optional, stop, last = items(toolpath(moves))
    assert [Note(1, "clamp"), Dwell(4, 1.0), Stop(5, True), Stop(6, False)] == [note, dwell, optional, stop]
    assert [2, 7] == [run.first_move, last.first_move]


def test_a_feed_holds_over_events() -> None:
    run = items(toolpath([CUT, {"dwell": 1}, {"cut": [0, 0, 0]}]))[2]
    assert [300.0] == run.feed.tolist()


def test_a_tool_axis_holds_until_the_next_one() -> None:
    moves = [{**RAPID, "tool_axis": [0, 0, 1]}, CUT, {**CUT, "tool_axis": [0, 1, 0]}]
    (run,) = items(toolpath(moves, operation={"rotary": SIMULTANEOUS}))
    assert [[0, 0, 1], [0, 0, 1], [0, 1, 0]] == run.tool_axis.tolist()


def test_a_tool_axis_written_with_five_decimals_is_made_a_unit_vector() -> None:
    moves = [{**CUT, "tool_axis": [0, 0.70711, 0.70711]}]
    (run,) = items(toolpath(moves, operation={"rotary": SIMULTANEOUS}))
    np.testing.assert_allclose(np.linalg.norm(run.tool_axis, axis=1), 1.0, rtol=1e-15)


def test_a_tap_without_pitch_has_the_lead_of_feed_over_speed() -> None:
    # NISTIR 6556 3.5.16.5: two threads per millimetre, F150: S300.
    ((hole,),) = items(toolpath([{**TAP, "feed": 150}], operation={"spindle": {"rpm": 300, "turns": "clockwise"}}))
    assert (0.5, 150.0) == (hole.lead, hole.feed)


def test_a_tap_with_pitch_is_fed_at_speed_times_pitch() -> None:
    ((hole,),) = items(toolpath([{**TAP, "pitch": 0.5}], operation={"spindle": {"rpm": 300, "turns": "clockwise"}}))
    assert (0.5, 150.0) == (hole.lead, hole.feed)


def test_a_hole_streams_with_all_its_figures() -> None:
    peck = {"hole": [1, 2, 20], "cycle": "peck", "retract": 22, "bottom": 10, "peck": 3, "dwell": 0.5, "feed": 100}
    expected = Hole(1, 1.0, 2.0, "peck", 22.0, 10.0, 100.0, surface=20.0, peck=3.0, dwell=0.5)
    assert [[expected]] == [list(run) for run in items(toolpath([peck]))]
