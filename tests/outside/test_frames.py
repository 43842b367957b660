"""Frames and signs against ISO 841's sign tables, an independent rotation library, and closed kinematic formulas.

Sources: ISO 841:2001, rules for A, B, C and for a moved workpiece (recalled from the standard, agreeing with NISTIR 6556
2.1.2.2); the tables here are worked by hand from those rules. SciPy's rotations are nobody's work here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadyrest.motion.kinematics import Axis, phi_of_tool_axis, sigma, turned
from steadyrest.profile.axes import Rotary
from strayed import turned_back


def iso_841(letter: str) -> Rotary:
    """A rotary that turns as ISO 841 says: seen at its face, which looks in the + direction, a positive word goes clockwise."""
    return Rotary.model_validate({"along": letter, "chuck_faces": f"+{letter}", "positive_turns_chuck": "clockwise"})


def commanded(axis: Axis, word_deg: float, point: tuple[float, ...], centre: tuple[float, ...] = (0, 0, 0)) -> np.ndarray:
    """Where a work point stands after an ISO 841 word."""
    return turned(np.array([point], dtype=float), sigma(iso_841(axis)) * word_deg, axis, centre)[0]


@pytest.mark.parametrize(
    ("axis", "word", "point", "expected"),
    [
        ("X", 90, (0, 1, 0), (0, 0, -1)),
        ("X", 90, (0, 0, 1), (0, 1, 0)),
        ("X", 30, (0, 10, 0), (0, 8.660254, -5)),
        ("X", 30, (0, 0, 25), (0, 12.5, 21.650635)),
        ("Y", 90, (1, 0, 0), (0, 0, 1)),
        ("Y", 90, (0, 0, 1), (-1, 0, 0)),
        ("Z", 90, (1, 0, 0), (0, -1, 0)),
        ("Z", 90, (0, 1, 0), (1, 0, 0)),
    ],
)
def test_a_positive_word_turns_a_carried_part_the_other_way(axis: Axis, word: float, point: tuple, expected: tuple) -> None:
    np.testing.assert_allclose(commanded(axis, word, point), expected, atol=5e-7)


@pytest.mark.parametrize(
    ("axis", "word", "centre", "expected"),
    [
        ("X", 30, (0, 0, 0), (30, 21.160254, 16.650635)),
        ("X", -30, (0, 0, 0), (30, -3.839746, 26.650635)),
        ("X", 90, (0, 0, 0), (30, 25, -10)),
        ("X", 30, (0, 2, -5), (30, 23.928203, 16.980762)),
        ("X", 90, (0, 2, -5), (30, 32, -13)),
        ("X", 180, (0, 2, -5), (30, -6, -35)),
        ("Y", 30, (0, 0, 0), (13.480762, 10, 36.650635)),
        ("Y", 90, (0, 0, 0), (-25, 10, 30)),
        ("Z", 30, (0, 0, 0), (30.980762, -6.339746, 25)),
        ("Z", 90, (0, 0, 0), (10, -30, 25)),
    ],
)
def test_the_closed_formulas_of_a_rotary_table_hold(axis: Axis, word: float, centre: tuple, expected: tuple) -> None:
    np.testing.assert_allclose(commanded(axis, word, (30, 10, 25), centre), expected, atol=5e-7)


@pytest.mark.parametrize(
    ("axis", "tool_axis", "word"),
    [
        ("X", (0, -0.5, 0.866025), 30),
        ("X", (0, 1, 0), -90),
        ("X", (0, 0, -1), 180),
        ("Y", (0.5, 0, 0.866025), 30),
    ],
)
def test_tool_axes_ask_for_the_words_of_iso_841(axis: Axis, tool_axis: tuple, word: float) -> None:
    phi, miss = phi_of_tool_axis(np.array([tool_axis], dtype=float), axis)
    assert (sigma(iso_841(axis)) * phi[0] - word) % 360 == pytest.approx(0.0, abs=1e-4)
    assert miss[0] == 0.0


def test_a_quarter_turn_brings_up_the_face_that_iso_841_says() -> None:
    np.testing.assert_allclose(commanded("X", 90, (0, -20, 0)), (0, 0, 20), atol=1e-12)
    np.testing.assert_allclose(commanded("Y", 90, (20, 0, 0)), (0, 0, 20), atol=1e-12)


def test_the_mark_on_top_goes_where_the_operator_sees_it_go() -> None:
    """ISO sense: the top mark goes to +Y on a table along X, to -X on one along Y. The other sense: towards the operator."""
    assert commanded("X", 5, (0, 0, 20))[1] > 0
    assert commanded("Y", 5, (0, 0, 20))[0] < 0
    other = Rotary(along="X", chuck_faces="+X", positive_turns_chuck="counterclockwise")
    assert turned(np.array([[0.0, 0.0, 20.0]]), sigma(other) * 5.0, "X", (0, 0, 0))[0, 1] < 0


def test_at_the_other_end_of_the_table_the_same_command_turns_the_other_way() -> None:
    """Common practice: the same rotary, carried to the other end, faces the other way and is otherwise as it was."""
    here = iso_841("X")
    there = here.model_copy(update={"chuck_faces": "-X"})
    assert sigma(there) == -sigma(here)


@pytest.mark.parametrize("axis", ["X", "Y", "Z"])
def test_turning_is_the_rotation_of_an_independent_library(axis: Axis) -> None:
    rng = np.random.default_rng(7)
    points, phi, centre = rng.normal(size=(200, 3)) * 80, rng.uniform(-2000, 2000, 200), np.array([3.0, -7.0, 11.0])
    rotation = Rotation.from_euler(axis.lower(), phi[:, None], degrees=True)
    np.testing.assert_allclose(turned(points, phi, axis, centre), centre + rotation.apply(points - centre), atol=1e-11)
    np.testing.assert_allclose(turned_back(points, phi, axis, centre), centre + rotation.inv().apply(points - centre), atol=1e-11)


@pytest.mark.parametrize("axis", ["X", "Y"])
def test_the_angle_brings_the_tool_axis_upright_in_an_independent_library(axis: Axis) -> None:
    angles = np.linspace(-179.0, 180.0, 91)
    tool_axis = Rotation.from_euler(axis.lower(), angles[:, None], degrees=True).apply([0.0, 0.0, 1.0])
    phi, miss = phi_of_tool_axis(tool_axis, axis)
    np.testing.assert_allclose(
        Rotation.from_euler(axis.lower(), phi[:, None], degrees=True).apply(tool_axis), np.tile([0, 0, 1.0], (91, 1)), atol=1e-12
    )
    np.testing.assert_allclose(miss, 0.0, atol=1e-12)
