"""Runs of tips and tool axes on a chain: what is refused, and that a run may be cut anywhere."""

from __future__ import annotations

import numpy as np
import pytest

from chain_paths import CHAINS, Z, past_pole, planned, rotary, run_of, strays, surveyed
from steadyrest.errors import PlanError

C_ON_A = CHAINS["C on A"]
TIPS = [[0, 0, 10], [10, 0, 10], [20, 0, 10], [30, 0, 10]]


def leaning_by(*degrees: float) -> np.ndarray:
    lean = np.radians(degrees)
    return np.column_stack([np.sin(lean), np.zeros(len(lean)), np.cos(lean)])


def test_a_tool_axis_out_of_reach_is_refused_with_the_angle_that_misses() -> None:
    run = run_of(TIPS[:2], leaning_by(80, 93))
    with pytest.raises(PlanError, match=r"\[0.99863, 0, -0.052336\] is out of reach of the rotaries by 3.000 degrees"):
        planned([run], CHAINS["a head that leans"])
    alone = run_of(TIPS[:1], [[0.0, np.sin(np.radians(2.5)), np.cos(np.radians(2.5))]])
    with pytest.raises(PlanError, match=r"by 2\.500 degrees"):
        planned([alone], CHAINS["B in the head, alone"])


def test_half_a_turn_between_two_tool_axes_is_refused_with_both_points_in_a_cut_and_not_in_a_rapid() -> None:
    axes = [[0.6, 0, 0.8], [-0.6, 0, -0.8]]
    with pytest.raises(
        PlanError,
        match=r"between \[0, 0, 10\] and \[10, 0, 10\] .* half a turn, from \[0.6, 0, 0.8\] to \[-0.6, 0, -0.8\]",
    ):
        surveyed([run_of(TIPS[:2], axes)], C_ON_A)
    _, met = surveyed([run_of(TIPS[:2], axes, kind=[0, 0])], C_ON_A)
    assert len(met.found) == 2


def test_a_run_cut_at_a_pole_by_an_event_is_planned_within_tolerance_too() -> None:
    run = past_pole(0.0)
    halves = [run.rows(0, 21), run.rows(21, 41)]
    _, made = planned(halves, C_ON_A)
    for course in made:
        assert strays(course, C_ON_A) <= (0.01, 0.1)
    np.testing.assert_allclose(made[1].alpha_rad[0], made[0].alpha_rad[-1], atol=1e-9)


def test_the_choice_keeps_each_rotary_in_its_travel_and_takes_the_side_that_is_preferred() -> None:
    run = run_of(TIPS, leaning_by(20, 50, 30, 10))
    for side, sign in (("positive", 1), ("negative", -1)):
        _, (made,) = planned([run], C_ON_A, [rotary(), rotary(prefer=side)])
        assert (sign * np.degrees(made.alpha_rad[1:, 1]) * C_ON_A[1].sign > 0).all()


def test_a_part_that_is_never_turned_is_cut_with_both_rotaries_at_zero() -> None:
    _, (made,) = planned([run_of(TIPS, [Z] * 4)], C_ON_A)
    np.testing.assert_allclose(made.alpha_rad, 0.0, atol=1e-12)


@pytest.mark.parametrize("points", [11, 40, 200])
def test_where_a_passage_of_a_pole_begins_is_nearest_and_ends_there_is_a_position(points: int) -> None:
    """Points every 8, 2 and 0.4 degrees, of which none lies 12 degrees from the pole, where the passage begins and ends."""
    ((laid,), _) = surveyed([past_pole(0.02, 40, points)], C_ON_A)
    (one,) = laid.passed
    far = np.degrees(np.arccos(laid.axis[[one.entry, one.exit]] @ Z))
    np.testing.assert_allclose(far, 12, atol=1e-6)
    assert np.degrees(np.linalg.norm(laid.axis[one.closest] - Z)) == pytest.approx(0.02, rel=0.01)
    assert (np.diff(laid.row + laid.part) > 0).all()


def test_nearer_to_a_pole_than_any_word_can_say_the_first_rotary_stays() -> None:
    """Half a millionth of a radian from it, to three sides; and two millionths."""
    for off, stays in ((5e-7, True), (2e-6, False)):
        axes = [[0.3, 0, 0.91**0.5], [off, 0, np.cos(off)], [0, off, np.cos(off)], [-off, 0, np.cos(off)]]
        ((laid,), _) = surveyed([run_of(TIPS, axes, kind=[0, 0, 0, 0])], C_ON_A)
        assert (laid.at_pole[-3:].all(), np.ptp(laid.alpha_rad[0, -3:, 0]) < 1e-12) == (stays, stays)


def test_a_run_that_goes_on_as_the_one_before_ended_has_no_more_ways_than_moves() -> None:
    runs = [run_of(TIPS, leaning_by(20, 20, 20, 20), first=1), run_of(TIPS[::-1], leaning_by(20, 20, 20, 20), first=5)]
    _, made = planned(runs, C_ON_A)
    assert [one.row.tolist() for one in made] == [[0, 1, 2, 3]] * 2
