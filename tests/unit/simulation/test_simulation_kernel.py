"""Every tool shape leaves its own print, and lines enter it where its surface is."""

from __future__ import annotations

from math import inf, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from simulated import SHAPES, cut, hidden_mm, not_held_mm3, part
from steadyrest.simulation.kernel import LAYERS, Stamp, bottom, reach, spared, take_out
from steadyrest.simulation.solid import ToolSolid, solid_of

BLOCK = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
BOTTOM_AT_3 = {
    "flat": 0.0,
    "ball": 4 - sqrt(16 - 9),
    "bullnose": 0.0,
    "drill": 3.0,
    "flat drill": 0.0,
    "chamfer": 2.0,
    "sharp chamfer": 3 * sqrt(3),
}


def solid(name: str, **more: Any) -> ToolSolid:
    return solid_of(part([SHAPES[name] | {"number": 1} | more], None).tool(1), 1.0)


def bottom_mm(tool: ToolSolid, off: Any) -> Any:
    """Height of the lower surface over the tip, inf outside the tool."""
    return np.where(off <= tool.radius_mm, tool.lift_mm + bottom(tool, off), inf)


@pytest.mark.parametrize("name", SHAPES)
def test_a_lower_surface_has_the_height_of_its_shape(name: str) -> None:
    low = bottom_mm(solid(name), np.array([0.0, 3.0, 4.1]))

    assert [0.0, pytest.approx(BOTTOM_AT_3[name]), inf] == low.tolist()


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("axis", ["X", "Z"])
def test_a_plunge_leaves_the_print_of_the_tool(name: str, axis: str) -> None:
    where = "G0 X20 Y0\nG0 Z45\nG1 Z15" if axis == "X" else "G0 X0 Y0\nG0 Z45\nG1 Z15"
    done = cut(where, tools=[SHAPES[name] | {"number": 1}], stock=BLOCK, toolpath={"axis": axis}, along=81, around=361)
    field, tool = done.field, solid(name)
    if axis == "Z":
        off = np.hypot(field.first_mm[:, None], field.second[None, :])
        inside = off < 3.9
        np.testing.assert_allclose(field.outer_mm[inside], 15 + bottom_mm(tool, off[inside]), atol=1e-4)
        assert (field.outer_mm[off > 4.1] == 40).all()
        return
    # Points shown near the middle must lie on the tool's lower surface.
    near = np.abs(field.second) < 0.12
    height = field.outer_mm[:, near] * np.cos(field.second[near])
    side = field.outer_mm[:, near] * np.sin(field.second[near])
    off = np.hypot(field.first_mm[:, None] - 20, side)
    cut_there = (off < 3.9) & (field.outer_mm[:, near] < 19.5)
    assert cut_there.sum() > 50
    np.testing.assert_allclose(height[cut_there], 15 + bottom_mm(tool, off[cut_there]), atol=1e-3)


def test_a_void_under_material_is_held_and_said() -> None:
    done = cut("G0 X-5 Y12 A0\nG0 Z25\nG1 Z9\nG1 X45", along=20, around=1440)
    hidden = hidden_mm(done.field)

    assert 0 < hidden.max() < 20
    np.testing.assert_array_equal(hidden > 0, done.field.gaps_held > 0)
    assert done.stock_mm3 - done.removed_mm3 == pytest.approx(done.field.volume_mm3())


def test_a_cut_free_of_undercuts_says_so() -> None:
    done = cut(
        "G0 X10 Y0 A0\nG0 Z25\nG1 Z18\nG1 X11",
        tools=[{"number": 1, "shape": "chamfer", "diameter": 10, "tip_diameter": 0, "included_angle": 90}],
    )

    assert not hidden_mm(done.field).any()


def test_more_voids_on_a_line_than_are_held_are_counted() -> None:
    """Thin fins, cut from the side with a short cutter: a line near the middle of the face goes through many of them."""
    saw = {"number": 1, "shape": "flat", "diameter": 1}
    slots = "".join(f"G0 X-5 Y{-16 + 2 * k}\nG0 Z22\nG1 Z2\nG1 X45\nG0 Z22\n" for k in range(9))
    done = cut("G0 A0\n" + slots, tools=[saw], along=8, around=720)

    shown_gone = done.stock_mm3 - done.field.volume_mm3()
    # Each slot is 0.5 to either side of its middle, from z = 2 up to the circle.
    across = (np.arange(1000) + 0.5) / 1000 - 0.5
    gone = sum(float((np.sqrt(400 - (y + across) ** 2) - 2).mean()) * 40 for y in range(-16, 1, 2))

    assert 0 < not_held_mm3(done)
    assert shown_gone < gone - 1  # drawn with more material than there is, never with less
    assert gone <= done.removed_mm3 * 1.001  # the lines are 0.17 mm apart


place = st.floats(-9, 9).map(lambda value: round(value, 3))


@given(st.sampled_from(sorted(SHAPES)), place, place, place, st.floats(-3.1, 3.1), st.floats(0, 3.9))
def test_a_line_is_in_a_tool_between_where_it_enters_and_leaves(
    name: str, left: float, right: float, height: float, angle: float, off: float
) -> None:
    """Points along a line, each asked for itself: within the width of the swept tool there, and over its lower surface."""
    tool = solid(name, cutting_length=6, length=20)
    left, right = min(left, right), max(left, right)
    stamp = Stamp(0, 0, left, right, height, 0.0, 0.0, 0.0, 0.0, 0.0)
    r = np.linspace(0, 25, 5001)
    side, over = r * np.sin(angle), r * np.cos(angle) - height
    away = np.hypot(off, np.maximum(np.maximum(left - side, side - right), 0.0))
    low, high = (float(end) for end in reach(True, tool, stamp, np.array(off), np.array(np.sin(angle)), np.array(np.cos(angle))))

    def inside(by: float) -> Any:
        return (away < tool.radius_mm - by) & (over >= bottom(tool, away + by) + by) & (over <= tool.cutting_mm - by)

    assert ((r >= low) & (r <= high))[inside(0.02)].all()
    assert inside(-0.02)[(r >= low) & (r <= high)].all()
    if left == right:
        assert not spared(tool, stamp, r, off, np.sin(angle), np.cos(angle))[inside(0.02)].any()


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 8)), min_size=1, max_size=8), st.booleans())
def test_what_is_taken_out_of_a_line_and_what_is_left_add_up(voids: list[tuple[int, int]], radii: bool) -> None:
    outer, gaps, held = np.full((1, 1), 25.0, np.float32), np.zeros((1, 1, LAYERS, 2), np.float32), np.zeros((1, 1), np.uint8)
    left, gone, most = np.ones(250, dtype=bool), 0.0, 0
    for low, long in voids:
        assume(low < outer[0, 0])
        gone += take_out(radii, outer, gaps, held, 0, 0, float(low), float(low + long))[0]
        left[10 * low : 10 * (low + long)] = False
        most = max(most, int(np.count_nonzero(~left[:-1] & left[1:])))  # voids under material
    shown = float(outer[0, 0]) - sum(float(high - low) for low, high in gaps[0, 0, : held[0, 0]])

    assert (np.diff(gaps[0, 0, : held[0, 0]].ravel()) > 0).all()
    assert shown >= 0.1 * left.sum() - 1e-4  # drawn with more material than there is, never with less
    if most <= LAYERS:
        assert 0.1 * left.sum() == pytest.approx(shown, abs=1e-4)
        assert 25 - shown == pytest.approx(gone, abs=1e-4)
