"""What holds for every cut: material never grows, order does not matter, and a mirrored motion gives a mirrored part."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from simulated import cut, hidden_mm, not_held_mm3
from steadyrest.simulation.kernel import LAYERS

TOOLS: list[dict[str, Any]] = [
    {"number": 1, "shape": "flat", "diameter": 6},
    {"number": 1, "shape": "ball", "diameter": 7},
    {"number": 1, "shape": "bullnose", "diameter": 8, "corner_radius": 1.5},
    {"number": 1, "shape": "drill", "diameter": 5, "point_angle": 118},
    {"number": 1, "shape": "chamfer", "diameter": 10, "tip_diameter": 1, "included_angle": 90},
]
STOCKS: list[dict[str, Any]] = [
    {"shape": "round", "diameter": 40, "from": 0, "to": 40},
    {"shape": "rectangular", "across": [36, 28], "from": 0, "to": 40},
]
Move = tuple[float, float, float, float]
Pass = tuple[Move, Move]
SIZE = {"along": 24, "around": 96, "off_mm": 0.2, "carving": "arrays"}

number = st.integers(0, 1000)
move = st.tuples(
    number.map(lambda n: round(-2 + 44 * n / 1000, 3)),
    number.map(lambda n: round(-18 + 36 * n / 1000, 3)),
    number.map(lambda n: round(6 + 14 * n / 1000, 3)),
    number.map(lambda n: round(-180 + 360 * n / 1000, 3)),
)
passes = st.lists(st.tuples(move, move), min_size=1, max_size=3)
turning = st.booleans()


def program(ways: list[Pass], turns: bool, *, mirror_along: bool = False, mirror_across: bool = False) -> str:
    """Down at the first place of each pass and straight to the second, the part turning with it or not."""
    lines = []
    for pair in ways:
        (x, y, z, a), (x1, y1, z1, a1) = (
            (40 - x if mirror_along else x, -y if mirror_across else y, z, -a if mirror_across else a) for x, y, z, a in pair
        )
        turn = f" A{a1:.3f}" if turns else ""
        lines.append(f"G0 X{x:.3f} Y{y:.3f} A{a:.3f}\nG0 Z25\nG93\nG1 Z{z:.3f} F1\nG1 X{x1:.3f} Y{y1:.3f} Z{z1:.3f}{turn} F0.1\nG0 Z25")
    return "\n".join(lines)


@given(passes, st.sampled_from(TOOLS), st.sampled_from(STOCKS), turning)
@settings(max_examples=25)
def test_material_never_grows_and_volumes_add_up(ways: list[Pass], tool: dict[str, Any], stock: dict[str, Any], turns: bool) -> None:
    outer, volume = np.inf, np.inf
    for count in range(1, len(ways) + 1):
        done = cut(program(ways[:count], turns), tools=[tool], stock=stock, **SIZE)
        assert (done.field.outer_mm <= outer).all()
        assert done.field.volume_mm3() <= volume + not_held_mm3(done) + 1e-6
        assert -1e-3 <= done.removed_mm3 - (done.stock_mm3 - done.field.volume_mm3())
        assert not_held_mm3(done) < 1e-3 or (done.field.gaps_held == LAYERS).any()
        outer, volume = done.field.outer_mm, done.field.volume_mm3()


@given(st.tuples(move, move), st.tuples(move, move), st.sampled_from(TOOLS), st.sampled_from(STOCKS), turning)
@settings(max_examples=25)
def test_the_order_of_two_cuts_does_not_matter(one: Pass, other: Pass, tool: dict[str, Any], stock: dict[str, Any], turns: bool) -> None:
    first = cut(program([one, other], turns), tools=[tool], stock=stock, **SIZE)
    second = cut(program([other, one], turns), tools=[tool], stock=stock, **SIZE)

    np.testing.assert_allclose(first.field.outer_mm, second.field.outer_mm, atol=1e-3)
    if max(not_held_mm3(first), not_held_mm3(second)) < 1e-3:
        np.testing.assert_allclose(hidden_mm(first.field), hidden_mm(second.field), atol=1e-3)


@given(passes, st.sampled_from(TOOLS), st.sampled_from(STOCKS), turning)
@settings(max_examples=25)
def test_motion_mirrored_along_the_axis_gives_the_part_mirrored(
    ways: list[Pass], tool: dict[str, Any], stock: dict[str, Any], turns: bool
) -> None:
    plain = cut(program(ways, turns), tools=[tool], stock=stock, **SIZE)
    mirrored = cut(program(ways, turns, mirror_along=True), tools=[tool], stock=stock, **SIZE)

    assert_nearly_same(plain.field.outer_mm, mirrored.field.outer_mm[::-1])


@given(passes, st.sampled_from(TOOLS), st.sampled_from(STOCKS), turning)
@settings(max_examples=25)
def test_motion_mirrored_across_the_axis_gives_the_part_mirrored(
    ways: list[Pass], tool: dict[str, Any], stock: dict[str, Any], turns: bool
) -> None:
    plain = cut(program(ways, turns), tools=[tool], stock=stock, **SIZE)
    mirrored = cut(program(ways, turns, mirror_across=True), tools=[tool], stock=stock, **SIZE)

    assert_nearly_same(plain.field.outer_mm, mirrored.field.outer_mm[:, ::-1])


def assert_nearly_same(one: np.ndarray[Any, Any], other: np.ndarray[Any, Any]) -> None:
    """A line that grazes the tool's edge to the last digit may fall to either side of it; nothing else may differ."""
    assert np.mean(np.abs(one - other) > 1e-3) <= 0.005
