"""Unwinding: continuous, exact, and half turns found."""

from __future__ import annotations

import numpy as np

from steadyrest.motion.unwind import half_turns, unwound


def test_angles_count_on_past_a_turn() -> None:
    np.testing.assert_array_equal(unwound(np.array([350.0, 10.0, 170.0, -30.0]), 350.0), [350.0, 370.0, 530.0, 690.0])


def test_the_first_angle_joins_on_to_the_one_before() -> None:
    np.testing.assert_array_equal(unwound(np.array([10.0, 20.0]), 725.0), [730.0, 740.0])


def test_no_angles_are_no_angles() -> None:
    assert len(unwound(np.empty(0), 5.0)) == 0


def test_the_given_column_is_left_alone() -> None:
    phi = np.array([1.0, 2.0])
    unwound(phi, 0.0)[0] = 99.0
    np.testing.assert_array_equal(phi, [1.0, 2.0])


def test_a_million_turns_drift_by_nothing() -> None:
    steps = np.arange(3_000_000, dtype=np.int64)
    raw = (steps * 120) % 360 - 180.0
    np.testing.assert_array_equal(unwound(raw, -180.0), steps * 120.0 - 180.0)


def test_half_a_turn_is_found_and_nothing_near_it() -> None:
    phi = np.array([0.0, 180.0, 0.0, 179.9999995, 359.0, 180.0 + 359.0 + 1e-5])
    np.testing.assert_array_equal(half_turns(phi, 0.0), [False, True, True, True, False, False])
