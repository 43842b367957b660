"""The kinematics of chains with two rotaries: SciPy's rotations, sign tables worked by hand from ISO 841, and published numbers.

Sources: ISO 841:2001, scope and rules for A, B, C (from memory); the icosahedron's face normals as public tables of polyhedra
give them; the spherical law of cosines. SciPy's rotations are nobody's work here.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadyrest.motion.chain import Line, lies, linear_axes, lines_of, solutions, tip_in_part, tool_axis
from steadyrest.profile import Chain, Profile

ROTARY = {"positive_turns_chuck": "clockwise"}
CENTRE = np.array([1.0, 2.0, 3.0])


def leaning(by: float, towards: str) -> dict[str, object]:
    return {"along": "Z", "chuck_faces": "+Z", "leans": {"towards": towards, "by": by}}


def along(axis: str) -> dict[str, object]:
    return {"along": axis, "chuck_faces": f"+{axis}"}


CHAINS: dict[str, tuple[str, dict[str, dict[str, object]]]] = {
    "C on A": ("part C A bed spindle", {"C": along("Z"), "A": {**along("X"), "point": [0, 0.12, 48]}}),
    "C on B": ("part C B bed spindle", {"C": along("Z"), "B": {**along("Y"), "point": [0.2, 0, -30]}}),
    "C on a leaning B": ("part C B bed spindle", {"C": along("Z"), "B": {**leaning(45, "+Y"), "point": [0.1, -0.3, 60]}}),
    "C below, B in the head": ("part C bed B spindle", {"C": along("Z"), "B": {**along("Y"), "pivot": [0, 0, 150]}}),
    "A below, B in the head": ("part A bed B spindle", {"A": along("X"), "B": {**along("Y"), "pivot": [0.3, 0, 150]}}),
    "C and A in the head": ("part bed C A spindle", {"C": along("Z"), "A": {**along("X"), "pivot": [0, -0.4, 170]}}),
    "A and B in the head": ("part bed A B spindle", {"A": {**along("X"), "pivot": [0, 0, 160]}, "B": {**along("Y"), "pivot": [0, 0, 120]}}),
    "a head that leans": ("part bed C B spindle", {"C": along("Z"), "B": {**leaning(45, "-Y"), "pivot": [0, 0, 145]}}),
    "a head that leans by 30": ("part bed C B spindle", {"C": along("Z"), "B": {**leaning(30, "+X"), "pivot": [0.2, 0.1, 99]}}),
    "A below, alone": ("part A bed spindle", {"A": along("X")}),
    "B in the head, alone": ("part bed B spindle", {"B": {**along("Y"), "pivot": [0, 0, 150]}}),
}


def placed(name: str, gauge: float = 128.35) -> tuple[Line, ...]:
    words, rotaries = CHAINS[name]
    rotary = {letter: ROTARY | facts for letter, facts in rotaries.items()}
    profile = Profile.model_validate({"name": "hand", "speaks": "a machine of the tests", "chain": words, "rotary": rotary})
    order = words.split()
    bed = order.index("bed")
    return lines_of(profile, Chain(tuple(order[1:bed]), tuple(order[bed + 1 : -1])), CENTRE, gauge, 1.0)


def by_scipy(xyz: np.ndarray, alpha: np.ndarray, lines: tuple[Line, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Tip and tool axis by SciPy alone: turns about lines, from the spindle to the part, in the words of the design."""
    tip, axis = np.zeros_like(xyz), np.tile([0.0, 0.0, 1.0], (len(xyz), 1))
    moved = False
    for line, turn in zip(lines[::-1], alpha.T[::-1], strict=True):
        if line.carries_part and not moved:
            tip, moved = tip + xyz, True
        rotation = Rotation.from_rotvec(turn[:, None] * line.direction)
        tip, axis = rotation.apply(tip - line.point) + line.point, rotation.apply(axis)
    return (tip if moved else tip + xyz), axis


@pytest.mark.parametrize("name", CHAINS)
def test_a_hundred_thousand_random_poses_agree_with_an_independent_library(name: str) -> None:
    """1,100,000 poses in all, error under 1e-9 (design, two rotary axes: checks from outside)."""
    lines, random = placed(name), np.random.default_rng(20)
    alpha = random.uniform(-np.pi, np.pi, (100_000, len(lines)))
    xyz = random.uniform(-300, 300, (100_000, 3))
    tip, axis = by_scipy(xyz, alpha, lines)
    np.testing.assert_allclose(tip_in_part(xyz, alpha, lines), tip, atol=1e-9)
    np.testing.assert_allclose(tool_axis(alpha, lines), axis, atol=1e-12)
    np.testing.assert_allclose(linear_axes(tip, alpha, lines), xyz, atol=1e-9)
    found = solutions(axis, lines)
    assert found.miss_rad.max() < 1e-9
    for each in found.alpha_rad:
        np.testing.assert_allclose(by_scipy(xyz, each, lines)[1], axis, atol=1e-9)
    near = np.abs((found.alpha_rad - alpha + np.pi) % (2 * np.pi) - np.pi).max(axis=2).min(axis=0)
    away = ~found.free & (np.linalg.norm(np.cross(axis, lines[0].direction), axis=1) > 1e-4)
    assert near[away].max() < 1e-9  # one of the solutions is the one that was turned to


@pytest.mark.parametrize("name", [name for name, (_, rotaries) in CHAINS.items() if len(rotaries) == 2])
def test_at_the_pole_and_beside_it_all_digits_are_kept(name: str) -> None:
    lines = placed(name)
    first = lines[0].direction
    square = np.cross(first, [0.3, 0.5, 0.7])
    for lean in (0.0, 1e-12, 2e-9, 1e-7, 1e-5, 1e-3):
        axis = Rotation.from_rotvec(lean * square / np.linalg.norm(square)).apply(first)[None]
        found = solutions(axis, lines)
        if found.miss_rad[0] > 1e-6:
            continue  # this machine cannot lay its spindle along the first line
        for alpha in found.alpha_rad:
            np.testing.assert_allclose(tool_axis(alpha, lines), axis, atol=5e-15)
        assert bool(found.free[0]) is (lean < 1e-9)


ICOSAHEDRON = np.array([(0.49112347, 0.35682208, 0.79465447), (0.98224695, 0.0, -0.18759247), (-0.18759247, -0.57735027, 0.79465447)])
"""Three of its face normals, from public tables of polyhedra."""


def test_the_faces_of_an_icosahedron_are_tilted_to_at_the_published_angles() -> None:
    """Tilt = angle to Z: 37.377368 and 100.812317 degrees (those of the normals' third coordinates)."""
    lines = placed("C on A")
    found = np.degrees(solutions(ICOSAHEDRON, lines).alpha_rad)
    np.testing.assert_allclose(np.abs((found[..., 1] + 180) % 360 - 180), [[37.377368, 100.812317, 37.377368]] * 2, atol=2e-6)


def test_a_table_of_two_worked_by_hand() -> None:
    """Design, two rotary axes, section 10: C on A, t = (1, 2, 3) / sqrt 14, p (30, 10, 25), all lines through the origin."""
    profile = Profile.model_validate(
        {"name": "hand", "speaks": "a machine of the tests", "chain": "part C A bed spindle",
         "rotary": {"C": ROTARY | along("Z"), "A": ROTARY | along("X")}}
    )  # fmt: skip
    lines = lines_of(profile, Chain(("C", "A")), np.zeros(3), 0.0, 1.0)
    alpha = solutions(np.array([[1.0, 2.0, 3.0]]) / 14**0.5, lines).alpha_rad
    words = np.degrees(alpha) * [line.sign for line in lines]
    wanted = np.array([153.434949, 36.699225])
    best = int(np.argmin(np.abs((words - wanted + 180) % 360 - 180).max(axis=(1, 2))))
    np.testing.assert_allclose((words[best] - wanted + 180) % 360 - 180, 0, atol=1e-6)
    xyz = linear_axes(np.array([[30.0, 10.0, 25.0]]), alpha[best], lines)
    np.testing.assert_allclose(xyz, [[-22.360680, -2.988072, 33.407655]], atol=1e-6)


def test_half_a_turn_of_an_axis_that_leans_by_45_lays_the_spindle_along_y() -> None:
    lines = placed("a head that leans")
    np.testing.assert_allclose(tool_axis(np.array([[0.0, np.pi]]), lines), [[0, -1, 0]], atol=1e-12)


@pytest.mark.parametrize("tilt", [0.0, 10.0, 45.0, 80.0, 90.0])
def test_an_axis_that_leans_by_45_turns_by_the_closed_formula(tilt: float) -> None:
    """cos alpha_2 = 2 t_z - 1 (the spherical law of cosines with two sides of 45 degrees)."""
    axis = np.array([[np.sin(np.radians(tilt)), 0.0, np.cos(np.radians(tilt))]])
    alpha = solutions(axis, placed("a head that leans")).alpha_rad
    np.testing.assert_allclose(np.cos(alpha[:, 0, 1]), 2 * axis[0, 2] - 1, atol=1e-12)


def test_what_is_out_of_reach_is_told_by_the_angle_that_misses() -> None:
    straight_up_and_down = np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]])
    miss = np.degrees(solutions(straight_up_and_down, placed("a head that leans")).miss_rad)
    np.testing.assert_allclose(miss, [90, 0], atol=1e-9)
    np.testing.assert_allclose(np.degrees(solutions(np.array([[0.6, 0.0, 0.8]]), placed("A below, alone")).miss_rad), 36.869898, atol=1e-6)
    np.testing.assert_allclose(np.degrees(solutions(np.array([[0.6, 0.0, 0.8]]), ()).miss_rad), 36.869898, atol=1e-6)


SIGNS = [
    ("part C A bed spindle", "A", (0, 0, 1), 90, (0, 1, 0)),
    ("part C B bed spindle", "B", (0, 0, 1), 90, (-1, 0, 0)),
    ("part C A bed spindle", "C", (1, 0, 0), 90, (0, -1, 0)),
]
"""ISO 841 by hand: a positive word of a table in its sense (clockwise, seen at its face) turns the part left-hand about the axis. A90 lays
what pointed up towards +Y, B90 what pointed up towards -X, C90 what pointed along X towards -Y."""


@pytest.mark.parametrize(("words", "letter", "before", "word", "then"), SIGNS)
def test_a_positive_word_of_a_table_turns_the_part_as_iso_841_says(
    words: str, letter: str, before: tuple, word: float, then: tuple
) -> None:
    name = next(name for name, (chain, _) in CHAINS.items() if chain == words and "lean" not in name)
    lines, order = placed(name), words.split()[1:3]
    line = lines[order.index(letter)]
    turned = Rotation.from_rotvec(-line.sign * np.radians(word) * line.direction).apply(before)  # the part, seen from the tool
    np.testing.assert_allclose(turned, then, atol=1e-12)


def test_a_positive_word_of_a_head_turns_the_tool_as_iso_841_says() -> None:
    """ISO 841 by hand: B+ of a head is right-hand about +Y, and lays the spindle's back from +Z towards +X; nose watched from +Y it goes
    counterclockwise, since X then points to the left.
    """
    rotary = {"B": {"along": "Y", "chuck_faces": "+Y", "positive_turns_chuck": "counterclockwise", "pivot": [0, 0, 150]}}
    profile = Profile.model_validate({"name": "hand", "speaks": "a machine of the tests", "chain": "part bed B spindle", "rotary": rotary})
    lines = lines_of(profile, Chain((), ("B",)), np.zeros(3), 0.0, 1.0)
    alpha = np.array([[lines[0].sign * np.radians(30)]])
    np.testing.assert_allclose(tool_axis(alpha, lines), [[0.5, 0, 0.75**0.5]], atol=1e-12)
    # the tip swings about a pivot 150 above it the other way: by -150 sin 30 in X, and up by 150 (1 - cos 30)
    np.testing.assert_allclose(tip_in_part(np.zeros((1, 3)), alpha, lines), [[-75, 0, 150 * (1 - 0.75**0.5)]], atol=1e-9)


def test_how_far_round_a_line_a_direction_lies_grows_right_hand() -> None:
    about, vector = np.array([0.0, 0.6, 0.8]), np.array([0.96, 0.2, 0.1])
    cos, sin, round_ = lies(vector, about)
    assert (cos, sin) == (pytest.approx(0.2), pytest.approx((vector @ vector - 0.04) ** 0.5))
    assert lies(Rotation.from_rotvec(0.3 * about).apply(vector), about)[2] - round_ == pytest.approx(0.3)
