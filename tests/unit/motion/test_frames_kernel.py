"""Frames: the mounting's sign, the turned part, the tool axis."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.motion.frames import phi_of_tool_axis, sigma, turned, turned_back
from steadyrest.profile.axes import Rotary


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
