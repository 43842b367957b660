"""Wrapping: work coordinates, the part's angle, and the way of the tip."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.errors import PlanError
from steadyrest.motion.wrap import wrapped_axes, wrapped_length


def test_the_tool_stands_over_the_axis_of_rotation_about_x() -> None:
    xyz, phi = wrapped_axes(np.array([[-50.0, 0.0, 5.0]]), 40.0, 0.0, "surface", "X", (1.0, 2.0, 3.0))
    np.testing.assert_array_equal(xyz, [[-50.0, 2.0, 28.0]])
    np.testing.assert_array_equal(phi, [0.0])


def test_the_tool_stands_over_the_axis_of_rotation_about_y() -> None:
    xyz, phi = wrapped_axes(np.array([[0.0, -50.0, 5.0]]), 40.0, 0.0, "axis", "Y", (1.0, 2.0, 3.0))
    np.testing.assert_array_equal(xyz, [[1.0, -50.0, 8.0]])
    np.testing.assert_allclose(phi, [0.0], atol=0)


def test_the_start_angle_turns_the_part_the_other_way() -> None:
    _, phi = wrapped_axes(np.zeros((1, 3)), 40.0, 30.0, "surface", "X", (0, 0, 0))
    np.testing.assert_array_equal(phi, [-30.0])


def test_ten_times_round_is_ten_turns() -> None:
    _, phi = wrapped_axes(np.array([[0.0, 10 * np.pi * 40.0, 0.0]]), 40.0, 0.0, "surface", "X", (0, 0, 0))
    np.testing.assert_allclose(phi, [3600.0])


def test_nothing_is_wrapped_around_z() -> None:
    with pytest.raises(PlanError, match="along Z"):
        wrapped_axes(np.zeros((1, 3)), 40.0, 0.0, "surface", "Z", (0, 0, 0))


def test_without_a_turn_the_way_is_straight() -> None:
    one = np.ones(1)
    np.testing.assert_allclose(wrapped_length(3.0 * one, 0.0 * one, 20.0 * one, 24.0 * one), [5.0])


def test_on_the_axis_a_turn_is_no_way() -> None:
    nil = np.zeros(1)
    np.testing.assert_array_equal(wrapped_length(nil, nil + 360.0, nil, nil), [0.0])


def test_closed_form_and_quadrature_agree_where_they_meet() -> None:
    h0 = np.array([20.0, 20.0])
    h1 = 20.0 + np.array([0.02000, 0.02003])
    low, high = wrapped_length(np.full(2, 3.0), np.full(2, 500.0), h0, h1)
    assert high - low == pytest.approx(np.deg2rad(500.0) * 0.000015, rel=1e-3)
