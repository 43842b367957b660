"""The simulated cut against the boolean of solid meshes (manifold3d), with tilted, off-centre and sloping straight cuts.

A convex tool moved along a straight line sweeps the convex hull of where it begins and where it ends.
"""

from __future__ import annotations

import itertools
from math import cos, pi, radians, sin, tan
from typing import Any

import numpy as np
import pytest

from simulated import cut

manifold3d = pytest.importorskip("manifold3d")

RADIUS, LENGTH, SIDES = 20.0, 30.0, 240
STOCK = {"shape": "round", "diameter": 2 * RADIUS, "from": 0, "to": LENGTH}
TOOLS: list[dict[str, Any]] = [
    {"shape": "flat", "diameter": 8},
    {"shape": "ball", "diameter": 8},
    {"shape": "bullnose", "diameter": 8, "corner_radius": 1.5},
    {"shape": "drill", "diameter": 8, "point_angle": 118},
    {"shape": "chamfer", "diameter": 10, "tip_diameter": 2, "included_angle": 90},
    {"shape": "flat", "diameter": 8, "cutting_length": 6, "length": 30},
]
Point = tuple[float, float, float]
WAYS: dict[str, tuple[float, list[Point]]] = {
    "slot beside the axis": (0.0, [(-6, 9, 30), (-6, 9, 11), (36, 9, 11)]),
    "cut across a tilted bar": (35.0, [(15, -30, 30), (15, -30, 13), (15, 30, 13)]),
    "ramp askew, tilted": (-110.0, [(2, -6, 30), (2, -6, 17), (26, 10, 8)]),
    "corner": (20.0, [(8, 2, 30), (8, 2, 12), (22, 2, 12), (22, -8, 12)]),
    "below the axis": (0.0, [(15, 12, 30), (15, 12, -8)]),
}


def profile_points(tool: dict[str, Any]) -> list[tuple[float, float]]:
    """Half section of the tool, distance from its axis and height over its tip, without its upper end."""
    r = tool["diameter"] / 2
    if tool["shape"] == "ball":
        return [(r * sin(a), r - r * cos(a)) for a in np.linspace(0, pi / 2, 25)]
    if tool["shape"] == "bullnose":
        c = tool["corner_radius"]
        return [(0, 0), *((r - c + c * sin(a), c - c * cos(a)) for a in np.linspace(0, pi / 2, 17))]
    if tool["shape"] == "drill":
        return [(0, 0), (r, r / tan(radians(tool["point_angle"] / 2)))]
    if tool["shape"] == "chamfer":
        t = tool["tip_diameter"] / 2
        return [(0, 0), (t, 0), (r, (r - t) / tan(radians(tool["included_angle"] / 2)))]
    return [(0, 0), (r, 0)]


def solid_tool(tool: dict[str, Any]) -> Any:
    """The cutting part, tip at the origin, along +z; up to a height over everything where its length is not given."""
    points = profile_points(tool)
    top = tool.get("cutting_length", 90.0)
    outline = np.array([*points, (points[-1][0], top), (0, top)])
    return manifold3d.CrossSection([outline]).revolve(100)


def mesh_volume(tool: dict[str, Any], angle_deg: float, way: list[Point]) -> float:
    bar = manifold3d.Manifold.cylinder(LENGTH, RADIUS, RADIUS, SIDES).rotate([0, 90, 0])
    # ISO 841 (from memory): A turns the tool right-hand round the part, so the part turns left-hand about +X.
    work = bar.rotate([-angle_deg, 0, 0])
    shape = solid_tool(tool)
    before = work.volume()
    for start, end in itertools.pairwise(way):
        work = work - manifold3d.Manifold.batch_hull([shape.translate(list(start)), shape.translate(list(end))])
    return float(before - work.volume())


@pytest.mark.parametrize("name", WAYS)
@pytest.mark.parametrize("tool", TOOLS, ids=lambda tool: tool["shape"] + ("-short" if "cutting_length" in tool else ""))
def test_the_volume_cut_is_that_of_the_solids(tool: dict[str, Any], name: str) -> None:
    angle, way = WAYS[name]
    lines = [f"G0 X{way[0][0]} Y{way[0][1]} A{angle}", f"G0 Z{way[0][2]}", *(f"G1 X{x} Y{y} Z{z}" for x, y, z in way[1:])]
    off = 0.008 if "cutting_length" in tool else 0.02
    done = cut("\n".join(lines), tools=[tool | {"number": 1}], stock=STOCK, along=150, around=1080, off_mm=off, carving="arrays")

    assert mesh_volume(tool, angle, way) == pytest.approx(done.removed_mm3, rel=6e-3)
    assert done.stock_mm3 - done.removed_mm3 == pytest.approx(done.field.volume_mm3(), abs=0.05)
