"""Past a pole: straight through within what is allowed, round outside it, held where a cut begins, rests or ends there."""

from __future__ import annotations

import numpy as np
import pytest

from chain_paths import CHAINS, X, Y, Z, head, past_pole, planned, rotary, run_of, strays, table
from steadyrest.motion.orientations import arc_lengths, on_arcs
from steadyrest.motion.poles import Point, passages, poles_of

POLAR = [name for name in CHAINS if len(CHAINS[name]) == 2 and "A and B" not in name]


def turned(made: list, lines: tuple) -> np.ndarray:
    """How far each rotary turns in all after the approach, degrees."""
    return np.degrees(sum(np.abs(np.diff(one.alpha_rad[1:], axis=0)).sum(axis=0) for one in made))


@pytest.mark.parametrize("name", POLAR)
@pytest.mark.parametrize("by_deg", [0.0, 0.02, 0.045])
def test_past_a_pole_by_less_than_half_the_axis_tolerance_the_tool_goes_straight_through(name: str, by_deg: float) -> None:
    """Design, two rotary axes, section 6: tolerance 0.1 degrees, 0.045 past the pole C turns 0.7 degrees."""
    lines, run = CHAINS[name], past_pole(by_deg)
    chosen, made = planned([run], lines, swings=False)
    assert [one.solution for one in chosen] in ([0, 1], [1, 0])
    tip_off, axis_off = strays(made[0], lines)
    assert tip_off <= 0.01
    assert axis_off <= max(by_deg * 1.001, 0.05)
    if "lean" not in name:  # a leaning second line turns the first rotary by itself
        assert turned(made, lines)[0] == pytest.approx({0.0: 0.0, 0.02: 0.323, 0.045: 0.726}[by_deg], abs=0.002)


@pytest.mark.parametrize("name", POLAR)
def test_farther_past_it_than_that_the_first_rotary_swings_round(name: str) -> None:
    """Design, two rotary axes, section 6: 0.06 past it C turns 180 degrees."""
    lines, run = CHAINS[name], past_pole(0.06)
    chosen, made = planned([run], lines)
    assert len(chosen) == 1
    if "lean" not in name:
        assert turned(made, lines)[0] == pytest.approx(180, abs=0.3)
    assert strays(made[0], lines) <= (0.01, 0.05)


def test_where_the_second_rotary_has_no_other_side_the_first_swings_round_if_it_may() -> None:
    lines, run = CHAINS["C on A"], past_pole(0.045)
    one_sided = [rotary(), rotary(travel={"kind": "limited", "from": -1, "to": 110})]
    chosen, made = planned([run], lines, one_sided)
    assert len({one.solution for one in chosen}) == 1
    assert turned(made, lines)[0] == pytest.approx(180, abs=0.3)
    assert np.degrees(-made[0].alpha_rad[1:, 1]).min() > -1
    with pytest.raises(AssertionError, match="Unfit"):
        planned([run], lines, one_sided, swings=False)


def test_exactly_through_the_pole_it_swings_round_in_place() -> None:
    lines, run = CHAINS["C on A"], past_pole(0.0)
    _, made = planned([run], lines, [rotary(), rotary(travel={"kind": "limited", "from": -1, "to": 110})])
    assert turned(made, lines)[0] == pytest.approx(180, abs=1e-6)
    moves = np.abs(np.diff(made[0].alpha_rad[1:, 0])) > 1e-9
    assert np.abs(np.diff(made[0].tip[1:], axis=0)[moves]).max() < 1e-9
    assert strays(made[0], lines) <= (0.01, 0.05)


@pytest.mark.parametrize("name", POLAR)
def test_a_cut_that_begins_rests_or_ends_on_a_pole_holds_the_first_rotary(name: str) -> None:
    lines = CHAINS[name]
    side = np.array([np.sin(0.3), 0.0, np.cos(0.3)])
    for axes in ([Z, Z, side], [side, Z, Z], [Z, Z, Z]):
        run = run_of([[0, 0, 10], [10, 0, 10], [20, 0, 10]], axes)
        _, made = planned([run], lines, swings=False)
        resting = np.abs(made[0].axis[1:] @ Z - 1) < 1e-15
        assert np.ptp(made[0].alpha_rad[1:][resting, 0]) < 1e-9
        assert strays(made[0], lines) <= (0.01, 0.1)


def test_a_bend_on_a_pole_turns_the_first_rotary_by_the_bend() -> None:
    lines, lean = CHAINS["C on A"], 0.4
    run = run_of([[0, 0, 10], [10, 0, 10], [20, 0, 10]], [[np.sin(lean), 0, np.cos(lean)], Z, [0, np.sin(lean), np.cos(lean)]])
    _, made = planned([run], lines)
    assert turned(made, lines)[0] == pytest.approx(90, abs=0.1)
    assert strays(made[0], lines) <= (0.01, 0.1)


def test_a_machine_measured_off_square_passes_its_pole_within_the_tolerance_and_one_farther_off_has_none() -> None:
    """The spindle misses the first line by 0.01 degrees, by 2 degrees."""
    for off_deg, there in ((2.0, False), (0.01, True)):
        off = np.radians(off_deg)
        lines = (table(np.array([np.sin(off), 0.0, np.cos(off)]), 0, 0, 0), table(X, 0, 0, 50))
        assert bool(poles_of(lines, np.radians(0.05))) is there
    for by_deg in (0.02, 0.0):
        run = past_pole(by_deg)
        _, made = planned([run], lines, swings=False)
        assert strays(made[0], lines) <= (0.01, 0.1)


def test_both_ends_of_the_first_line_are_poles_where_the_spindle_gets_there() -> None:
    assert [pole.side for pole in poles_of(CHAINS["C on A"], 1e-3)] == [1, -1]
    assert [pole.side for pole in poles_of(CHAINS["a head that leans"], 1e-3)] == [1]
    assert poles_of((head(Y, 0, 0, 100),), 1e-3) == []
    run = past_pole(0.02)
    down = run_of(run.end, run.tool_axis * [1, 1, -1])
    chosen, made = planned([down], CHAINS["C on A"], swings=False)
    assert [one.solution for one in chosen] in ([0, 1], [1, 0])
    assert strays(made[0], CHAINS["C on A"]) <= (0.01, 0.05)


def test_two_passages_one_after_another_do_not_overlap_and_over_a_rapid_nothing_is_passed() -> None:
    lean = np.radians([-6.0, 3.0, 3.0, -6.0])
    axes = np.column_stack([np.sin(lean), np.zeros(4), np.cos(lean)])
    first, second = passages(axes, np.radians(9.0), np.ones(3, dtype=bool), CHAINS["C on A"], np.radians(0.05))
    assert (first.exit.arc, second.entry.arc) in {(0, 2), (1, 1), (0, 1), (1, 2)}
    assert first.exit.arc + first.exit.part <= second.entry.arc + second.entry.part
    assert passages(axes, np.radians(9.0), np.array([False, True, False]), CHAINS["C on A"], np.radians(0.05)) == []


@pytest.mark.parametrize("points", [11, 40, 41, 300])
@pytest.mark.parametrize("by_deg", [0.0, 0.03])
def test_a_passage_begins_and_ends_equally_far_from_its_pole_and_is_nearest_to_it_in_between(points: int, by_deg: float) -> None:
    axes = past_pole(by_deg, 40, points).tool_axis
    (one,) = passages(axes, np.radians(8.0), np.ones(points - 1, dtype=bool), CHAINS["C on A"], np.radians(0.05))

    def far(point: Point) -> float:
        axis = on_arcs(axes[[point.arc]], axes[[point.arc + 1]], np.array([point.part]))
        return float(np.degrees(arc_lengths(axis, Z[None])[0]))

    assert far(one.entry) == pytest.approx(far(one.exit), abs=1e-9)
    assert far(one.closest) == pytest.approx(by_deg, rel=5e-3, abs=1e-9)  # great circles past it bulge a little
    assert far(one.entry) == pytest.approx(12)  # as far as it may be, where the spindle meets the first line
    assert one.straight


def test_a_passage_begins_or_ends_with_the_cut_only_where_the_cut_does_so_beside_the_pole() -> None:
    axes, lines, allowed = past_pole(0.0).tool_axis, CHAINS["C on A"], np.radians(0.05)
    for part, at_ends in ((axes, (False, False)), (axes[20:], (True, False)), (axes[:21], (False, True))):
        (one,) = passages(part, np.radians(2.0), np.ones(len(part) - 1, dtype=bool), lines, allowed)
        assert (one.begins, one.ends) == at_ends
        assert (one.entry == Point(0, 0.0), one.exit == Point(len(part) - 2, 1.0)) == at_ends


@pytest.mark.parametrize("name", POLAR)
def test_a_cut_that_begins_or_ends_a_hair_beside_a_pole_stands_there_as_it_goes_on_or_came(name: str) -> None:
    """0.03 degrees off along Y, and from there 20 degrees over along X: exactly that asks for a quarter of a turn."""
    there, lines = np.radians(0.03), CHAINS[name]
    lean = np.radians(np.arange(0, 21, 1.0))
    axes = np.column_stack([np.sin(lean), np.zeros(21), np.cos(lean)])
    axes[0] = [0.0, np.sin(there), np.cos(there)]
    tips = np.column_stack([np.arange(21), np.zeros(21), np.full(21, 10.0)])
    for way in (axes, axes[::-1]):
        _, made = planned([run_of(tips, way)], lines, swings=False)
        exact = 11 if "lean" in name else 0.1  # a leaning second line turns the first rotary by half of what it leans
        assert turned(made, lines)[0] < exact
        assert strays(made[0], lines) <= (0.01, 0.1)
