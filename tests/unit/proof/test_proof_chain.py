"""The proof's own kinematics of chains: against SciPy's rotations, against what planning has worked out, and signs by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from steadyrest.motion.chain import lines_of as planned_lines
from steadyrest.motion.chain import tip_in_part, tool_axis
from steadyrest.profile import Profile, chain_of
from steadyrest.proof.chain import angles_between, bends, lines_of, posed, poses

CENTRE = np.array([1.0, 2.0, 3.0])
GAUGE = 128.35


def along(axis: str, **more: Any) -> dict[str, Any]:
    return {"along": axis, "chuck_faces": f"+{axis}", "positive_turns_chuck": "clockwise", **more}


def leaning(by: float, towards: str, **more: Any) -> dict[str, Any]:
    return along("Z", leans={"towards": towards, "by": by}, **more)


CHAINS: dict[str, tuple[str, dict[str, Any]]] = {
    "C on A": ("part C A bed spindle", {"C": along("Z"), "A": along("X", point=[0, 0.12, 48])}),
    "C on B the other way": (
        "part C B bed spindle",
        {"C": along("Z", chuck_faces="-Z"), "B": along("Y", positive_turns_chuck="counterclockwise")},
    ),
    "C on a leaning B": ("part C B bed spindle", {"C": along("Z"), "B": leaning(45, "+Y", point=[0.1, -0.3, 60])}),
    "C below, B in the head": ("part C bed B spindle", {"C": along("Z"), "B": along("Y", pivot=[0, 0, 150])}),
    "C and A in the head": ("part bed C A spindle", {"C": along("Z"), "A": along("X", pivot=[0, -0.4, 170], chuck_faces="-X")}),
    "a head that leans": ("part bed C B spindle", {"C": along("Z"), "B": leaning(45, "-Y", pivot=[0, 0, 145])}),
    "B in the head, alone": ("part bed B spindle", {"B": along("Y", pivot=[0, 0, 150], positive_turns_chuck="counterclockwise")}),
}


def machine(name: str) -> Profile:
    words, rotary = CHAINS[name]
    return Profile.model_validate({"name": "hand", "speaks": "a machine of the tests", "chain": words, "rotary": rotary})


@pytest.mark.parametrize("name", CHAINS)
def test_tip_and_tool_axis_are_those_of_planning_and_of_an_independent_library(name: str) -> None:
    profile, random = machine(name), np.random.default_rng(20)
    lines, chain = lines_of(profile, CENTRE, GAUGE), chain_of(profile)
    assert chain is not None
    words = random.uniform(-np.pi, np.pi, (2000, len(lines)))
    xyz = random.uniform(-300, 300, (2000, 3))
    tips, axes = poses(lines, xyz, words)
    planned = planned_lines(profile, chain, CENTRE, GAUGE, 1.0)
    alpha = words * [line.sign for line in planned]
    np.testing.assert_allclose(tips, tip_in_part(xyz, alpha, planned), atol=1e-9)
    np.testing.assert_allclose(axes, tool_axis(alpha, planned), atol=1e-12)
    tip, axis, moved = np.zeros_like(xyz), np.tile([0.0, 0.0, 1.0], (len(xyz), 1)), False
    for line, turn in zip(lines[::-1], words.T[::-1], strict=True):
        if line.carries_part and not moved:
            tip, moved = tip + xyz, True
        rotation = Rotation.from_rotvec(turn[:, None] * line.about)
        tip, axis = rotation.apply(tip - line.point) + line.point, rotation.apply(axis)
    np.testing.assert_allclose(tips, tip if moved else tip + xyz, atol=1e-9)
    np.testing.assert_allclose(axes, axis, atol=1e-12)


def pose(words: str, rotary: dict[str, Any], *degrees: float, xyz: tuple[float, float, float] = (0, 0, 0)) -> tuple[Any, Any]:
    profile = Profile.model_validate({"name": "hand", "speaks": "a machine of the tests", "chain": words, "rotary": rotary})
    tips, axes = poses(lines_of(profile, np.zeros(3), 0.0), np.array([xyz], dtype=float), np.radians([degrees]))
    return tips[0], axes[0]


@pytest.mark.parametrize(
    ("letter", "up", "turned_to"),
    [("A", (0, -1, 0), (0, 0, 1)), ("B", (1, 0, 0), (0, 0, 1))],
)
def test_a_table_that_tilts_as_iso_841_says_shows_the_spindle_the_side_worked_by_hand(letter: str, up: Any, turned_to: Any) -> None:
    """ISO 841 (from memory): A90 of a table lays what pointed up towards +Y, so that the spindle then looks at what pointed to -Y; B90 of
    a table lays what pointed up towards -X, so that it looks at what pointed to +X."""
    axis = "X" if letter == "A" else "Y"
    tip, found = pose(f"part C {letter} bed spindle", {"C": along("Z"), letter: along(axis)}, 0, 90, xyz=(0, 0, 10))
    np.testing.assert_allclose(found, up, atol=1e-12)
    np.testing.assert_allclose(tip, 10 * np.array(up), atol=1e-9)


def test_a_table_that_turns_clockwise_from_above_brings_its_right_side_to_the_front() -> None:
    """Seen from above, clockwise: what lay along +X comes to -Y after a quarter. So the tool at the front, -Y, is over the part's +X."""
    tip, axis = pose("part C A bed spindle", {"C": along("Z"), "A": along("X")}, 90, 0, xyz=(0, -10, 5))
    np.testing.assert_allclose(tip, (10, 0, 5), atol=1e-9)
    np.testing.assert_allclose(axis, (0, 0, 1), atol=1e-12)


def test_a_head_whose_nose_goes_clockwise_seen_from_the_right_leans_its_axis_to_the_back() -> None:
    """Stand at +X and look along -X: the nose, below, goes clockwise, so to the left, which is -Y (Y points to the right, Z up). The back
    of the spindle leans to +Y and the tip, 150 below the pivot, swings by 150 sin 30 to -Y and up by 150 (1 - cos 30)."""
    tip, axis = pose("part bed A spindle", {"A": along("X", pivot=[0, 0, 150])}, 30)
    np.testing.assert_allclose(axis, (0, 0.5, 0.75**0.5), atol=1e-12)
    np.testing.assert_allclose(tip, (0, -75, 150 * (1 - 0.75**0.5)), atol=1e-9)


@given(
    st.sampled_from(sorted(CHAINS)),
    st.lists(st.floats(-100, 100), min_size=6, max_size=6),
    st.lists(st.floats(-3, 3), min_size=4, max_size=4),
    st.floats(0.001, 1.0),
)
def test_no_point_of_a_block_strays_more_than_the_bound_from_the_straight_way(
    name: str, places: list[float], turns: list[float], size: float
) -> None:
    lines = lines_of(machine(name), CENTRE, GAUGE)
    xyz, words = np.array(places).reshape(2, 1, 3), np.array(turns).reshape(2, 1, 2)[..., : len(lines)]
    words[1] = words[0] + size * (words[1] - words[0])
    ends = xyz[:, 0], words[:, 0]
    bound = bends(lines, *ends, posed(lines, *ends).arms_mm)
    u = np.linspace(0, 1, 101)[:, None]
    tips, axes = poses(lines, xyz[0] + u * (xyz[1] - xyz[0]), words[0] + u * (words[1] - words[0]))
    for curve, least in ((tips, bound.tip_mm[0]), (axes, bound.axis_rad[0])):
        chord = curve[0] + u * (curve[-1] - curve[0])
        assert np.linalg.norm(curve - chord, axis=1).max() <= least + 1e-9
    if lines[0].carries_part:
        assert np.linalg.norm(np.cross(lines[0].about, tips - lines[0].point), axis=1).max() <= bound.radius_mm[0] + 1e-9


def test_a_small_angle_between_two_axes_keeps_its_digits() -> None:
    one, other = np.array([[0.0, 0.0, 1.0]]), np.array([[np.sin(1e-9), 0.0, np.cos(1e-9)]])
    np.testing.assert_allclose(angles_between(one, other), 1e-9, rtol=1e-6)
    np.testing.assert_allclose(angles_between(one, -one), np.pi)
