"""Blocks enough that tip and tool axis stay within tolerance, and hardly more."""

from __future__ import annotations

import numpy as np
import pytest

from chain_paths import CHAINS, planned, run_of, strays, surveyed
from steadyrest.errors import PlanError
from steadyrest.motion.chain import linear_axes
from steadyrest.motion.choice import Choice
from steadyrest.motion.courses import Allowed, reach, within
from steadyrest.motion.simultaneous import course


def leaning_by(*degrees: float) -> np.ndarray:
    lean = np.radians(degrees)
    return np.column_stack([np.sin(lean), np.zeros(len(lean)), np.cos(lean)])


@pytest.mark.parametrize("name", CHAINS)
def test_a_wide_move_is_cut_until_tip_and_tool_axis_hold_and_not_much_more(name: str) -> None:
    run, lines = run_of([[0, 0, 20], [60, 0, 25]], leaning_by(5, 55)), CHAINS[name]
    _, (fine,) = planned([run], lines)
    assert strays(fine, lines) <= (0.01, 0.05)
    _, (coarse,) = planned([run], lines, tolerance=0.0225, axis_deg=0.225)
    assert len(coarse) <= len(fine)
    tip_off, axis_off = strays(coarse, lines)
    assert max(tip_off / 0.0225, axis_off / 0.1125) > 0.15  # half as many blocks would be too few


@pytest.mark.parametrize("tolerance", [0.006, 0.005, 0.002])
def test_a_move_is_cut_into_hardly_more_blocks_than_its_bend_asks_for(tolerance: float) -> None:
    """What n blocks stray is a share 1 / (n n) of what one strays."""
    run, lines = run_of([[0, 0, 20], [60, 0, 25]], leaning_by(5, 25)), CHAINS["C below, B in the head"]
    (_, (whole,)), (_, (made,)) = (planned([run], lines, tolerance=allowed, axis_deg=170) for allowed in (1e3, tolerance))
    needed = np.count_nonzero(whole.row == 1) * np.sqrt(strays(whole, lines)[0] / tolerance)
    assert needed <= np.count_nonzero(made.row == 1) <= 1.4 * needed


def test_a_move_that_does_not_turn_stays_whole_and_ends_exactly() -> None:
    run, lines = run_of([[0, 0, 20], [60, 7, 25]], leaning_by(5, 5)), CHAINS["C on A"]
    _, (made,) = planned([run], lines)
    assert made.row.tolist() == [0, 1]
    np.testing.assert_array_equal(made.tip[1:], run.end)


def test_the_parts_of_a_move_end_where_they_say_and_its_last_where_the_move_does() -> None:
    run, lines = run_of([[0, 0, 20], [60, 0, 25]], leaning_by(5, 25)), CHAINS["a head that leans"]
    _, (made,) = planned([run], lines)
    second = made.row == 1
    np.testing.assert_allclose(made.tip[1:][second], run.end[0] + made.part[second][:, None] * (run.end[1] - run.end[0]), atol=1e-9)
    assert (np.diff(made.part[second]) > 0).all()
    assert made.part[-1] == 1
    np.testing.assert_array_equal(made.tip[-1], run.end[1])


def test_the_tool_turns_on_the_spot_within_tolerance() -> None:
    run, lines = run_of([[0, 0, 20], [0, 0, 20]], leaning_by(5, 65)), CHAINS["C below, B in the head"]
    _, (made,) = planned([run], lines)
    assert strays(made, lines) <= (0.01, 0.05)
    assert len(made) < 100  # the tool axis is where it should be all the way


def test_a_rapid_stays_whole() -> None:
    run = run_of([[0, 0, 90], [60, 0, 95]], leaning_by(5, 65), kind=[0, 0])
    _, (made,) = planned([run], CHAINS["C on A"])
    assert made.row.tolist() == [0, 1]
    assert made.evenly.all()


def test_too_many_blocks_are_refused_before_they_are_made() -> None:
    def refuse(parts: np.ndarray, _row: np.ndarray) -> np.ndarray:
        raise PlanError(f"{parts.sum():g} blocks")

    lines, run = CHAINS["C on A"], run_of([[0, 0, 20], [60, 0, 25]], leaning_by(5, 55))
    (laid,), met = surveyed([run], lines)

    way, throughs = course(laid, [Choice(0, (0, 0))] * len(met.found), None, lines)
    with pytest.raises(PlanError, match="blocks"):
        within(way, throughs, lines, Allowed(1e-6, 1e-6, 1e-6), refuse)


@pytest.mark.parametrize("name", CHAINS)
def test_no_tip_comes_farther_from_the_lines_than_is_reckoned_with(name: str) -> None:
    """However the rotaries stand; for tables it is hardly more than the distance where the two lines all but meet."""
    lines, random = CHAINS[name], np.random.default_rng(3)
    tips, alpha = random.uniform(-90, 90, (2000, 3)), random.uniform(-np.pi, np.pi, (2000, len(lines)))
    places, farthest = tips, np.zeros(len(tips))
    for at, line in enumerate(lines):
        if line.carries_part:
            farthest = np.maximum(farthest, np.linalg.norm(places - line.point, axis=1))
            places = linear_axes(tips, alpha[:, : at + 1], lines[: at + 1])
        else:
            farthest = np.maximum(farthest, np.linalg.norm(line.point))
    found = reach(tips, lines)
    assert (found >= farthest - 1e-9).all()
    assert found.mean() < 1.02 * farthest.mean() or not all(line.carries_part for line in lines)
