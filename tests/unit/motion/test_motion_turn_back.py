"""Turning back: where the rotary turns back, and where moves have to be cut for it."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from planning_parts import items_of, motion_in, notices_of, operation, toolpath

from steadyrest.conventions import LINE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.turn_back import Room, limit_points, turn_backs

SLACK_DEG = 1e-6


def room(w: Any, low: float, high: float, arriving: tuple[float, float] | None = None, **more: Any) -> Room:
    """Angles in a travel, in a cut that may be broken off anywhere unless `more` says otherwise."""
    up = more.pop("up", np.zeros(len(w), dtype=np.bool_))
    return Room(np.asarray(w, dtype=float), up, (low, high), arriving or (low, high), **{"slack_deg": SLACK_DEG, "least_deg": 0.0, **more})


def test_what_fits_is_not_turned_back() -> None:
    assert turn_backs(room(np.linspace(-300.0, 300.0, 50), -360, 360)) == []


def test_at_the_end_of_the_travel_it_turns_back_to_where_it_goes_furthest() -> None:
    w = np.arange(0.0, 1000.0, 10.0)
    # begun a turn lower it gets to 720 at the end of the travel; a turn back, at 0, is enough for the rest
    assert turn_backs(room(w, -360, 360)) == [(0, -1), (73, -2)]
    # half a turn more, and it has to go back by two
    assert turn_backs(room(np.arange(0.0, 1300.0, 10.0), -360, 360)) == [(0, -1), (73, -3)]


def test_a_cut_may_run_on_to_where_the_rotary_could_not_arrive() -> None:
    w = np.arange(0.0, 1441.0, 10.0)  # four turns; arriving from above needs 2 degrees beyond
    found = turn_backs(room(w, -360, 360, arriving=(-360.0, 358.0)))
    assert [(0, -1), (73, -3)] == found


def test_it_is_turned_back_at_a_rapid_before_the_end_of_what_fits() -> None:
    w = np.array([0.0, 100.0, 200.0, 250.0, 300.0, 340.0, 420.0, 500.0])
    up = np.array([True, False, False, True, False, False, False, False])
    assert [(6, -1)] == turn_backs(room(w, -200, 360))
    assert [(3, -1)] == turn_backs(room(w, -200, 360, up=up))
    # the place of the rapid lies in no other turn of a shorter travel: the cut is broken off, as without it
    assert [(6, -1)] == turn_backs(room(w, -100, 360, up=up))


def test_a_cut_is_broken_off_earlier_where_a_hair_would_be_left() -> None:
    w, cut = np.array([0.0, 180.0, 355.0, 359.5, 360.3]), np.zeros(5, dtype=bool)
    assert [4] == [row for row, _ in turn_backs(room(w, -10, 360, up=cut))]
    assert [3] == [row for row, _ in turn_backs(room(w, -10, 360, up=cut, least_deg=2.0))]
    rows, fractions = limit_points(room(np.array([0.0, 360.3]), -10, 360, least_deg=2.0))
    assert [1] == rows.tolist()
    assert pytest.approx([358 / 360.3]) == fractions.tolist()


def test_a_hair_past_the_end_of_the_travel_is_not_past_it() -> None:
    assert [] == turn_backs(room(np.array([0.0, 360.0001]), 0, 360, slack_deg=2e-4))
    assert 0 == len(limit_points(room(np.array([0.0, 360.0001]), 0, 360, slack_deg=2e-4))[0])


def test_downward_it_turns_back_upward() -> None:
    w = -np.arange(0.0, 1500.0, 10.0)
    found = turn_backs(room(w, -360, 360))
    assert [total for _, total in found] == [1, 3, 4]


def test_a_single_move_that_fits_nowhere_is_an_error_that_says_so() -> None:
    with pytest.raises(PlanError, match="fits nowhere"):
        turn_backs(room(np.array([0.0, 800.0]), -360, 360))


def test_a_row_outside_a_narrow_travel_is_an_error() -> None:
    with pytest.raises(PlanError, match="350"):
        turn_backs(room(np.array([0.0, 350.0]), 0, 300))


def test_just_a_full_turn_of_travel_needs_points_at_its_ends() -> None:
    rows, fractions = limit_points(room(np.array([0.0, 350.0, 370.0, 1000.0]), 0, 360))
    assert rows.tolist() == [2, 3]
    np.testing.assert_allclose(fractions, [0.5, 350.0 / 630.0])


def test_a_move_of_many_turns_is_cut_at_every_end_it_meets() -> None:
    rows, fractions = limit_points(room(np.array([0.0, 1800.0]), -360, 360))
    assert rows.tolist() == [1, 1]
    np.testing.assert_allclose(fractions * 1800.0, [720.0, 1440.0])


def test_moves_that_fit_somewhere_are_not_cut() -> None:
    rows, _ = limit_points(room(np.arange(0.0, 5000.0, 10.0), -10, 360))
    assert len(rows) == 0


def test_under_a_full_turn_of_travel_nothing_can_be_cut_to_fit() -> None:
    with pytest.raises(PlanError, match="at least a full turn"):
        limit_points(room(np.array([0.0, 400.0]), 0, 300))


def test_a_cut_beyond_the_travel_is_turned_back_by_whole_turns_with_the_tool_up() -> None:
    around = 5 * 40 * np.pi
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.from=-400", "rotary.A.travel.to=400")
    items = items_of(path, "rs274ngc", *sets)
    rows = motion_in(items)
    assert -400.0 <= min(row[4] for row in rows if not np.isnan(row[4]))
    assert 400.0 >= max(row[4] for row in rows if not np.isnan(row[4]))
    turned = [(before, after) for before, after in itertools.pairwise(rows) if after[0] == RAPID and abs(after[4] - before[4]) > 300]
    assert turned
    for before, after in turned:
        assert 25.0 == before[3] == after[3]
        assert 0.0 == pytest.approx((after[4] - before[4]) % 360.0, abs=1e-9) or 360.0 == pytest.approx(
            (after[4] - before[4]) % 360.0, abs=1e-9
        )
    assert [notice.facts["turns"] for notice in notices_of(path, "rs274ngc", *sets) if notice.kind == "TurnedBack"]


def test_after_a_pause_an_operation_goes_on_in_the_turn_that_turning_back_has_left_it_in() -> None:
    around = 5 * 40 * np.pi
    cut = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    on = {"cut": [-85, around, -1]}
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.from=-400", "rotary.A.travel.to=400")
    straight, paused = (
        motion_in(items_of(toolpath(operation({"intent": "wrapped", "diameter": 40}, [*cut, *pause, on])), "rs274ngc", *sets))
        for pause in ([], [{"dwell": 1}])
    )
    np.testing.assert_allclose(straight, paused)


def test_a_travel_of_exactly_one_turn_is_turned_back_at_its_end() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, 2.5 * 40 * np.pi, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.from=0", "rotary.A.travel.to=360")
    cuts = [round(row[4], 6) for row in motion_in(items_of(path, "rs274ngc", *sets)) if row[0] == LINE and row[3] == 19.0]
    assert [360.0, 0.0, 360.0, 0.0, 360.0, 180.0] == cuts


def test_a_cut_beyond_the_travel_is_refused_where_the_profile_says_so() -> None:
    around = 5 * 40 * np.pi
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.when_exceeded=refuse")
    with pytest.raises(PlanError, match=r"1800\.000 in all; the travel of A is -360 to 360"):
        items_of(path, "rs274ngc", *sets)
