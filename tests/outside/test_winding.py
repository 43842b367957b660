"""Unwinding and winding against worked numbers and the words of NISTIR 6556.

Sources: the unwinding row by hand from next = prev + ((new - prev + 180) mod 360) - 180; NISTIR 6556 2.1.1.2: a rotary's
scale runs on without end, with no modulo and no shortest way, so from A350 a word of A10 turns back 340 degrees.
"""

from __future__ import annotations

import numpy as np
import pytest

from chain_paths import Span, choose_turns
from steadyrest.motion.kinematics import half_turns, unwound
from steadyrest.profile.axes import Travel, Unwinding


@pytest.mark.parametrize(
    ("before", "new", "expected"),
    [(350, 10, 370), (-170, 170, -190), (725, 0, 720), (359.999, 0.001, 360.001), (0, 180, -180)],
)
def test_the_next_angle_is_within_half_a_turn(before: float, new: float, expected: float) -> None:
    assert unwound(np.array([float(new)]), float(before))[0] == pytest.approx(expected, abs=1e-9)


def test_half_a_turn_is_told_to_be_ambiguous_whatever_the_formula_says() -> None:
    assert half_turns(unwound(np.array([180.0]), 0.0), 0.0).all()


def test_numpys_own_unwrapping_agrees() -> None:
    rng = np.random.default_rng(3)
    true = np.cumsum(rng.uniform(-179.0, 179.0, 5000))
    folded = (true + 180.0) % 360.0 - 180.0
    np.testing.assert_allclose(unwound(folded, 0.0), np.unwrap(np.concatenate([[0.0], folded]), period=360.0)[1:], atol=1e-8)


def test_from_350_the_word_for_ten_degrees_is_370() -> None:
    spans = [Span(10.0, 10.0, 10.0, 10.0, 1)]
    turns = choose_turns(spans, Travel(), Unwinding(), 350.0)
    assert turns == [1]


def test_six_flats_step_by_sixty_degrees_and_go_on_past_the_turn() -> None:
    """Common practice: six flats come 60 degrees apart; the first again is 60 degrees on, not 300 back."""
    spans = [Span(w, w, w, w, 1) for w in (0.0, 60.0, 120.0, 180.0, 240.0, 300.0, 0.0)]
    turns = choose_turns(spans, Travel(), Unwinding(), 0.0)
    assert isinstance(turns, list)
    assert [span.start_w + 360 * turn for span, turn in zip(spans, turns, strict=True)] == [0, 60, 120, 180, 240, 300, 360]
