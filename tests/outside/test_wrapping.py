"""Wrapped paths against handbook formulas of the helix and numerical integration by an independent library.

Sources: lead of a helix L = pi D / tan(psi), psi from the axis (Machinery's Handbook, formula from memory); the wrapping of
a flat drawing onto a cylinder worked by hand from ISO 841's signs (from memory); SciPy's quadrature for ways on a cone.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.spatial.transform import Rotation

from steadyrest.motion.kinematics import sigma, wrapped_axes, wrapped_length
from steadyrest.profile.axes import Rotary
from strayed import turned_back


def iso_word(axis: str, phi_deg: float) -> float:
    rotary = Rotary.model_validate({"along": axis, "chuck_faces": f"+{axis}", "positive_turns_chuck": "clockwise"})
    return sigma(rotary) * phi_deg


def test_the_drawing_goes_to_the_side_that_keeps_it_readable() -> None:
    """+Y of a drawing goes to A = -(180/pi) s/r around X, +X to B = +(180/pi) s/r around Y; s 31.415927, r 20: 90 degrees."""
    _, phi = wrapped_axes(np.array([[0.0, 31.415927, 0.0]]), 40.0, 0.0, "surface", "X", (0, 0, 0))
    assert iso_word("X", phi[0]) == pytest.approx(-90.0, abs=1e-5)
    _, phi = wrapped_axes(np.array([[31.415927, 0.0, 0.0]]), 40.0, 0.0, "surface", "Y", (0, 0, 0))
    assert iso_word("Y", phi[0]) == pytest.approx(90.0, abs=1e-5)


@pytest.mark.parametrize(("axis", "along", "across"), [("X", (1, 0, 0), (0, 1, 0)), ("Y", (0, 1, 0), (1, 0, 0))])
def test_seen_from_outside_the_drawing_is_not_mirrored(axis: str, along: tuple, across: tuple) -> None:
    """Right, up and outward of the drawing are a right-handed triad on the surface as they are on paper."""
    small = np.array([(0, 0, 0), along, across, (0, 0, 1)], dtype=float) * 1e-4
    xyz, phi = wrapped_axes(small, 40.0, 77.0, "surface", axis, (1, 2, 3))  # type: ignore[arg-type]
    part = turned_back(xyz, phi, axis, (1, 2, 3))  # type: ignore[arg-type]
    x_right, y_up = (part[1], part[2]) if axis == "X" else (part[2], part[1])
    triad = np.array([x_right - part[0], y_up - part[0], part[3] - part[0]]) / 1e-4
    assert np.linalg.det(triad) == pytest.approx(1.0, abs=1e-4)


def test_the_start_angle_is_where_the_tool_stands_round_the_part() -> None:
    xyz, phi = wrapped_axes(np.array([[5.0, 0.0, 0.0]]), 40.0, 35.0, "surface", "X", (0, 0, 0))
    expected = Rotation.from_euler("x", 35.0, degrees=True).apply([5.0, 0.0, 20.0])
    np.testing.assert_allclose(turned_back(xyz, phi, "X", (0, 0, 0))[0], expected, atol=1e-12)


@pytest.mark.parametrize(
    ("diameter", "psi_deg", "lead", "degrees_per_length"),
    [(40, 30, 217.655924, 1.653987), (50, 45, 157.079633, 2.291831), (25.4, 15, 297.804418, 1.208847), (20, 20, 172.629098, 2.085396)],
)
def test_a_slanted_line_is_the_helix_of_the_handbook(diameter: float, psi_deg: float, lead: float, degrees_per_length: float) -> None:
    turn = np.pi * diameter
    points = np.array([[0.0, 0.0, 0.0], [turn / np.tan(np.deg2rad(psi_deg)), turn, 0.0]])
    xyz, phi = wrapped_axes(points, diameter, 0.0, "surface", "X", (0, 0, 0))
    assert xyz[1, 0] == pytest.approx(lead, abs=5e-7)
    assert abs(phi[1] - phi[0]) == pytest.approx(360.0)
    assert abs(phi[1] - phi[0]) / xyz[1, 0] == pytest.approx(degrees_per_length, abs=5e-7)


def test_a_right_hand_helix_has_x_and_a_of_the_same_sign() -> None:
    """ISO tool-relative sense. A right-hand thread runs down to the right on the flat drawing with x to the right."""
    _, phi = wrapped_axes(np.array([[0.0, 0.0, 0.0], [10.0, -10.0, 0.0]]), 40.0, 0.0, "surface", "X", (0, 0, 0))
    assert iso_word("X", phi[1] - phi[0]) > 0


@pytest.mark.parametrize(
    ("dx", "da", "radius", "expected"),
    [
        (10, 0, 20, 10),
        (10, 90, 20, 32.969083),
        (0, 90, 20, 31.415927),
        (0.001, 90, 20, 31.415927),
        (50, 360, 12.5, 93.104794),
        (100, 360, 20, 160.596909),
    ],
)
def test_the_way_over_the_surface_is_that_of_the_developed_triangle(dx: float, da: float, radius: float, expected: float) -> None:
    r = np.array([float(radius)])
    assert wrapped_length(np.array([float(dx)]), np.array([float(da)]), r, r)[0] == pytest.approx(expected, abs=5e-7)


@pytest.mark.parametrize(
    ("dx", "da", "h0", "h1"),
    [
        (5.0, 90.0, 20.0, 18.0),
        (0.0, 720.0, 20.0, 0.0),
        (0.0, -3600.0, 5.0, 25.0),
        (1.0, 40.0, 20.0, 20.01),
        (1.0, 40.0, 20.0, 20.03),
        (0.001, 5.0, 1.0, 30.0),
        (0.0, 0.5, 0.0, 30.0),
        (0.0, 0.6, 0.0, 30.0),
        (2.0, 360.0, -3.0, 3.0),
        (0.0, 1.0, 0.0, 1e-6),
    ],
)
def test_the_way_on_a_cone_is_the_integral_of_an_independent_library(dx: float, da: float, h0: float, h1: float) -> None:
    k = np.deg2rad(da)
    expected, _ = quad(
        lambda u: np.sqrt(dx**2 + (h1 - h0) ** 2 + ((h0 + u * (h1 - h0)) * k) ** 2), 0.0, 1.0, epsabs=1e-13, epsrel=1e-13, limit=500
    )
    actual = wrapped_length(np.array([dx]), np.array([da]), np.array([h0]), np.array([h1]))[0]
    assert actual == pytest.approx(expected, rel=1e-10)
