"""Dexels against the boolean of solid meshes (manifold3d), which nobody here wrote, and against volumes that a handbook gives.

A convex tool moved along a straight line, its axis held, sweeps the convex hull of where it begins and where it ends.
"""

from __future__ import annotations

import itertools
from math import cos, pi, radians, sin, tan
from typing import Any

import numpy as np
import pytest
from test_simulation_against_meshes import TOOLS, solid_tool

from posed import BLOCK, billet, cut_poses, turned, unit

manifold3d = pytest.importorskip("manifold3d")

LEANING = unit([1, 2, 3])
ASIDE = unit(np.cross(LEANING, [1, 0, 0]))
WAYS = {
    "along its axis": [15 * LEANING, 3 * LEANING],
    "across its axis": [3 * LEANING - 20 * ASIDE, 3 * LEANING + 20 * ASIDE],
    "down, askew and across": [20 * LEANING - 5 * ASIDE, 2 * LEANING - 4 * ASIDE, 4 * LEANING + 5 * ASIDE],
}


def placed(shape: Any, tip: Any) -> Any:
    x = unit(np.cross(LEANING, [0, 1, 0]))
    return shape.transform(np.column_stack([x, np.cross(LEANING, x), LEANING, tip]))


@pytest.mark.parametrize("name", WAYS)
@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool["shape"] + ("-short" if "cutting_length" in tool else ""))
def test_each_bundle_takes_the_volume_of_the_solids(tool: dict[str, Any], name: str) -> None:
    way, shape = WAYS[name], solid_tool(tool)
    work = manifold3d.Manifold.cube([40, 30, 20]).translate([-20, -15, -10])
    for start, end in itertools.pairwise(way):
        work = work - manifold3d.Manifold.batch_hull([placed(shape, start), placed(shape, end)])
    dexels, took, _ = cut_poses(billet(BLOCK), tool, way, [LEANING] * len(way), cell_mm=0.4, off_mm=0.02)

    assert 24000 - work.volume() == pytest.approx(took.removed_mm3, rel=8e-3)
    np.testing.assert_allclose(24000 - dexels.volumes_mm3(), 24000 - work.volume(), rtol=1.2e-2)


def test_what_dexels_leave_of_a_line_is_what_the_mesh_leaves_of_it() -> None:
    """A cut of the mesh by a plane through a row of lines: its sections are their pieces."""
    way, tool = WAYS["down, askew and across"], TOOLS[2]
    work, shape = manifold3d.Manifold.cube([40, 30, 20]).translate([-20, -15, -10]), solid_tool(tool)
    for start, end in itertools.pairwise(way):
        work = work - manifold3d.Manifold.batch_hull([placed(shape, start), placed(shape, end)])
    bundle = cut_poses(billet(BLOCK), tool, way, [LEANING] * 3, off_mm=0.005)[0].bundles[2]
    heights = np.array([work.slice(height).area() for height in np.arange(-9.95, 10, 0.1)])
    there = np.arange(bundle.ends.shape[2]) < bundle.held[..., None]
    inside = (
        there[None] & (bundle.ends[None, ..., 0] < np.arange(-9.95, 10, 0.1)[:, None, None, None])
        & (bundle.ends[None, ..., 1] > np.arange(-9.95, 10, 0.1)[:, None, None, None])
    )  # fmt: skip

    np.testing.assert_allclose(inside.sum(axis=(1, 2, 3)) * bundle.u_step * bundle.v_step, heights, atol=2.5)


def test_a_leaning_hole_through_a_plate_is_longer_by_its_lean() -> None:
    """A cylinder cut by two parallel planes: its section times the thickness by the cosine of the lean."""
    plate = {"shape": "rectangular", "across": [60, 10], "from": -30, "to": 30}
    axis = unit([0.3, 0.4, 1])
    dexels, took, _ = cut_poses(billet(plate), {"shape": "flat", "diameter": 6}, [20 * axis, -20 * axis], [axis, axis])

    assert pi * 9 * 10 / axis[2] == pytest.approx(took.removed_mm3, rel=3e-3)
    np.testing.assert_allclose(60 * 60 * 10 - dexels.volumes_mm3(), pi * 9 * 10 / axis[2], rtol=6e-3)


def test_a_slot_by_a_ball_is_half_a_cylinder_and_what_lies_above() -> None:
    """Seen along the slot: half a disc of radius r, and above it a strip; the slot leans with its block's long edge across all bundles."""
    r, deep = 4.0, 6.0
    for along in ([1.0, 0, 0], unit([1, 0.4, 0])):
        across_block = unit(np.cross([0, 0, 1], along))
        tip = np.array([0, 0, 10 - deep])
        tips = [tip - 60 * np.asarray(along), tip + 60 * np.asarray(along)]
        took = cut_poses(billet(BLOCK), {"shape": "ball", "diameter": 2 * r}, tips, [[0, 0, 1]] * 2)[1]
        area, long = pi * r * r / 2 + 2 * r * (deep - r), 40 / across_block[1]  # it leaves by the ends, square or not

        assert area * long == pytest.approx(took.removed_mm3, rel=3e-3)
        assert 2 * r == pytest.approx(took.radial_mm, abs=0.1)
        assert deep == pytest.approx(took.axial_mm, abs=0.1)


def test_a_frustum_milled_by_the_flank_of_a_leaning_tool_has_its_volume_and_its_surface() -> None:
    """The tool's axis lies parallel to the cone's side all round it; frustum: pi h / 3 (R^2 + R r + r^2)."""
    half, base, height, r, around = radians(15), 12.0, 10.0, 12.0, np.linspace(0, 2 * pi, 121)
    out = np.column_stack([np.cos(around), np.sin(around), 0 * around])
    axis = cos(half) * np.array([0, 0, 1]) - sin(half) * out
    tips = base * out + r * (cos(half) * out + sin(half) * np.array([0, 0, 1])) - 10 * axis
    stock = billet({"shape": "round", "diameter": 40, "from": 0, "to": height}, "Z")
    dexels, took, _ = cut_poses(stock, {"shape": "flat", "diameter": 2 * r}, tips, axis, off_mm=0.02)
    top = base - height * tan(half)
    volume = pi * height / 3 * (base**2 + base * top + top**2)

    np.testing.assert_allclose(dexels.volumes_mm3(), volume, rtol=4e-3)
    assert pi * 400 * height - volume == pytest.approx(took.removed_mm3, rel=4e-3)
    upright = dexels.bundles[2]
    off = np.hypot(upright.u[:, None], upright.v)
    side = (off > top + 0.2) & (off < base - 0.2)
    surface_off = (upright.ends[..., 0, 1][side] - (base - off[side]) / tan(half)) * sin(half)
    assert np.abs(surface_off).max() < 0.03


@pytest.mark.parametrize("degrees", [23.0, 77.0])
def test_a_turn_of_part_and_poses_together_changes_nothing(degrees: float) -> None:
    """A round bar turned about itself is the same stock: what is taken out of it is the same too."""
    stock = billet({"shape": "round", "diameter": 30, "from": -20, "to": 20})
    tips, axes = np.array([[-5.0, 2, 12], [9, -3, 10], [12, 4, 11]]), np.array([[0, 0, 1.0], [0.3, -0.2, 1], [0.5, 0.5, 1]])
    shape = {"shape": "bullnose", "diameter": 8, "corner_radius": 1.5}
    first = cut_poses(stock, shape, tips, axes, cell_mm=0.5, off_mm=0.03)[1]
    turned_too = cut_poses(stock, shape, turned(tips, [1, 0, 0], degrees), turned(axes, [1, 0, 0], degrees), cell_mm=0.5, off_mm=0.03)[1]

    assert first.removed_mm3 == pytest.approx(turned_too.removed_mm3, rel=5e-3)
    assert first.axial_mm == pytest.approx(turned_too.axial_mm, abs=0.3)
