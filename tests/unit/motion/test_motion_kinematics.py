"""Kinematics: the mounting's sign, the turned part, the tool axis, unwinding, wrapping."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from steadyrest.errors import PlanError
from steadyrest.motion.kinematics import half_turns, phi_of_tool_axis, sigma, turned, unwound, wrapped_axes, wrapped_length
from steadyrest.profile.axes import Rotary
from strayed import turned_back


def mounted(faces: str, turns: str) -> Rotary:
    return Rotary.model_validate({"along": faces[1], "chuck_faces": faces, "positive_turns_chuck": turns})


@pytest.mark.parametrize("letter", ["X", "Y", "Z"])
def test_facing_plus_and_counterclockwise_is_plus_and_each_fact_changed_flips_it(letter: str) -> None:
    assert sigma(mounted(f"+{letter}", "counterclockwise")) == 1
    assert sigma(mounted(f"-{letter}", "counterclockwise")) == -1
    assert sigma(mounted(f"+{letter}", "clockwise")) == -1
    assert sigma(mounted(f"-{letter}", "clockwise")) == 1


def test_a_quarter_turn_about_x_brings_y_up() -> None:
    np.testing.assert_allclose(turned(np.array([[5.0, 1.0, 0.0]]), 90.0, "X", (0, 0, 0)), [[5.0, 0.0, 1.0]], atol=1e-15)


def test_a_point_on_the_axis_stays_where_it_is() -> None:
    centre = (1.0, 2.0, -5.0)
    np.testing.assert_array_equal(turned(np.array([[9.0, 2.0, -5.0]]), 33.0, "X", centre), [[9.0, 2.0, -5.0]])


def test_turning_leaves_the_given_points_alone() -> None:
    points = np.array([[1.0, 2.0, 3.0]])
    turned(points, 45.0, "Y", (0, 0, 0))
    np.testing.assert_array_equal(points, [[1.0, 2.0, 3.0]])


def test_turned_back_undoes_turned_with_an_angle_per_point() -> None:
    points = np.array([[1.0, 2.0, 3.0], [4.0, -5.0, 6.0]])
    phi = np.array([12.0, -200.0])
    np.testing.assert_allclose(turned_back(turned(points, phi, "Y", (1, 2, 3)), phi, "Y", (1, 2, 3)), points, atol=1e-13)


def test_upright_needs_no_turn_and_upside_down_half_a_turn_about_either_axis() -> None:
    up_and_down = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0], [-0.0, -0.0, -1.0]])
    for axis in ("X", "Y"):
        phi, miss = phi_of_tool_axis(up_and_down, axis)
        np.testing.assert_array_equal(phi, [0.0, 180.0, 180.0])
        np.testing.assert_array_equal(miss, 0.0)


def test_a_tool_axis_out_of_the_plane_is_missed_by_its_angle() -> None:
    leaning = np.array([[np.sin(np.deg2rad(3.0)), 0.0, np.cos(np.deg2rad(3.0))], [1.0, 0.0, 0.0]])
    _, miss = phi_of_tool_axis(leaning, "X")
    np.testing.assert_allclose(miss, [3.0, 90.0], rtol=1e-12)


def test_about_z_only_the_upright_tool_axis_is_reached() -> None:
    phi, miss = phi_of_tool_axis(np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 1.0], [0.0, 0.0, -1.0]]), "Z")
    np.testing.assert_array_equal(phi, 0.0)
    np.testing.assert_allclose(miss, [0.0, 45.0, 180.0])


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


@pytest.mark.parametrize("rise", [1e-8, 1e-6, 1e-4, 0.019, 0.021, 1.0, 40.0])
def test_the_way_of_a_spiral_is_right_to_the_last_digits_however_little_it_rises(rise: float) -> None:
    along, turn, low = 3.0, 500.0, 20.0
    rate = np.deg2rad(turn)
    expected, _ = quad(lambda t: np.sqrt(along**2 + rise**2 + (rate * (low + rise * t)) ** 2), 0.0, 1.0, epsabs=0.0, epsrel=1e-13)
    one = np.ones(1)
    assert wrapped_length(along * one, turn * one, low * one, (low + rise) * one)[0] == pytest.approx(expected, rel=2e-11)
