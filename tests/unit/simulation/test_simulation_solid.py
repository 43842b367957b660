"""The solids of tools, and the smaller one of a rapid that lies inside."""

from __future__ import annotations

from math import inf, sqrt
from typing import Any

import numpy as np
import pytest

from simulated import SHAPES, part
from steadyrest.simulation.kernel import bottom
from steadyrest.simulation.solid import ToolSolid, solid_of


def solid(name: str, **more: Any) -> ToolSolid:
    return solid_of(part([SHAPES[name] | {"number": 1} | more], None).tool(1), 1.0)


def bottom_mm(tool: ToolSolid, off: Any) -> Any:
    """Height of the lower surface over the tip, inf outside the tool."""
    return np.where(off <= tool.radius_mm, tool.lift_mm + bottom(tool, off), inf)


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
