"""What has to be chosen for runs on a chain: where stretches begin, what angles they need, where a cut that fits in no travel is parted."""

from __future__ import annotations

import numpy as np
import pytest

from chain_paths import CHAINS, past_pole, place_of, run_of, surveyed
from steadyrest.motion.simultaneous import Limits, at_start, leaning
from steadyrest.motion.stretches import Stretches, words_deg
from steadyrest.profile import Travel

C_ON_A = CHAINS["C on A"]
TIPS = [[0, 0, 10], [10, 0, 10], [20, 0, 10], [30, 0, 10]]


def leaning_by(*degrees: float) -> np.ndarray:
    lean = np.radians(degrees)
    return np.column_stack([np.sin(lean), np.zeros(len(lean)), np.cos(lean)])


def test_a_stretch_begins_at_each_rapid_that_turns_and_at_the_first_of_several_that_do_not() -> None:
    run = run_of([*TIPS, *TIPS], leaning_by(20, 20, 20, 30, 30, 40, 40, 45), kind=[0, 0, 1, 1, 0, 0, 0, 1])
    _, met = surveyed([run], C_ON_A)
    assert met.moves == [1, 5, 6]
    ends = [np.abs(stretch.end_deg[:, 1]).tolist() for stretch in met.found]
    np.testing.assert_allclose(ends, [[30, 30], [30, 30], [45, 45]], atol=1e-9)


def test_a_stretch_goes_on_in_the_next_run_with_its_lowest_and_highest_angles() -> None:
    whole = run_of(TIPS, leaning_by(20, 50, 30, 10))
    _, one = surveyed([whole], C_ON_A)
    _, two = surveyed([whole.rows(0, 2), whole.rows(2, 4)], C_ON_A)
    for name in ("start_deg", "end_deg", "lowest_deg", "highest_deg"):
        np.testing.assert_allclose(getattr(two.found[0], name), getattr(one.found[0], name), atol=1e-9)


@pytest.mark.parametrize("lengths", [[400], [137, 100, 163]])
def test_a_cut_that_fits_in_no_travel_is_parted_as_far_on_as_it_fits(lengths: list[int]) -> None:
    """Against a plain look at each position: fits, in some solution and turn, what has been gone through since the cut was parted last?"""
    turn, lean = np.linspace(0, 4.4 * np.pi, 400), 0.5 + 0.1 * np.sin(np.linspace(0, 60, 400))
    run = run_of(np.zeros((400, 3)), np.column_stack([np.sin(lean) * np.cos(turn), np.sin(lean) * np.sin(turn), np.cos(lean)]))
    travels = [Travel.model_validate({"kind": "limited", "from": -200, "to": 250}), Travel.model_validate({"kind": "unlimited"})]
    met, before, parted, words, first = Stretches(1, travels), at_start(C_ON_A), [], [], 0
    for length in lengths:
        laid = leaning(piece := run.rows(first, first + length), before, C_ON_A, 1.0, Limits(1e-3, 1e-4), place_of)
        parted += [first + node for node in met.meet(laid, piece, C_ON_A, swings=True)]
        words.append(words_deg(laid.alpha_rad, C_ON_A)[:, 1:, 0])
        before, first = laid.after, first + length

    def fits(low: float, high: float) -> bool:
        return any(-200 <= low + 360 * whole and high + 360 * whole <= 250 for whole in range(-9, 10))

    wanted, since = [], 0
    for at in range(400):
        seen = np.concatenate(words, axis=1)[:, since : at + 1]
        if not any(fits(one.min(), one.max()) for one in seen):
            wanted.append(at)
            since = at - 1
    assert parted == wanted
    assert len(met.found) == 1 + len(wanted)


def test_past_a_pole_each_solution_goes_on_into_the_other_and_into_itself_where_the_first_rotary_may_swing() -> None:
    straight = {(0, 1), (1, 0)}
    for swings, ways in ((False, straight), (True, straight | {(0, 0), (1, 1)})):
        _, met = surveyed([past_pole(0.02)], C_ON_A, swings=swings)
        assert set(met.found[1].past or ()) == ways
