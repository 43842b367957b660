"""Every tool shape leaves its own print, and the smaller solid of a rapid lies inside it."""

from __future__ import annotations

from math import inf, sqrt
from typing import Any

import numpy as np
import pytest

from simulated import cut, part
from steadyrest.simulation.kernel import bottom
from steadyrest.simulation.solid import ToolSolid, solid_of

BLOCK = {"shape": "rectangular", "across": [40, 40], "from": 0, "to": 40}
SHAPES: dict[str, dict[str, Any]] = {
    "flat": {"shape": "flat", "diameter": 8},
    "ball": {"shape": "ball", "diameter": 8},
    "bullnose": {"shape": "bullnose", "diameter": 8, "corner_radius": 1},
    "drill": {"shape": "drill", "diameter": 8, "point_angle": 90},
    "flat drill": {"shape": "drill", "diameter": 8, "point_angle": 180},
    "chamfer": {"shape": "chamfer", "diameter": 8, "tip_diameter": 2, "included_angle": 90},
    "sharp chamfer": {"shape": "chamfer", "diameter": 8, "tip_diameter": 0, "included_angle": 60},
}
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


@pytest.mark.parametrize("name", SHAPES)
def test_a_smaller_solid_is_inside_by_that_much(name: str) -> None:
    tool = solid(name)
    small = tool.smaller(0.2)
    off = np.linspace(0, small.radius_mm - 1e-9, 200)
    low = bottom_mm(small, off)
    outline = np.linspace(0, tool.radius_mm, 20001)
    surface = bottom_mm(tool, outline)
    distance = np.array([np.hypot(outline - x, surface - z).min() for x, z in zip(off, low, strict=True)])

    assert pytest.approx(tool.radius_mm - 0.2) == small.radius_mm
    assert distance.min() >= 0.2 - 1e-3
    assert distance.max() <= 0.2 * sqrt(2) + 1e-3


def test_a_corner_that_vanishes_leaves_a_flat_end() -> None:
    small = solid("bullnose", corner_radius=0.1).smaller(0.2)

    assert 0.0 == small.corner_mm
    assert small.flat_mm == small.radius_mm < 4


def test_lengths_not_given_have_no_end() -> None:
    assert (inf, inf) == (solid("flat").cutting_mm, solid("flat").length_mm)


def test_without_a_cutting_length_the_tool_cuts_up_to_the_holder() -> None:
    assert (30.0, 30.0) == (solid("flat", length=30).cutting_mm, solid("flat", length=30).length_mm)


def test_a_tool_in_inch_is_turned_into_mm() -> None:
    tool = part([SHAPES["bullnose"] | {"number": 1, "length": 100}], None).tool(1)
    inch = solid_of(tool, 25.4)

    assert (101.6, 25.4, 76.2, 2540.0) == pytest.approx((inch.radius_mm, inch.corner_mm, inch.flat_mm, inch.length_mm))


def test_a_ball_may_step_as_far_as_the_sagitta_allows() -> None:
    """Sagitta of a chord of length d in a circle of radius r: d^2 / (8 r) (handbook formula for small ones)."""
    step = solid("ball").step_mm(0.002)

    assert 0.002 == pytest.approx(4 - sqrt(16 - (step / 2) ** 2), rel=1e-2)
