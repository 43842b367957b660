"""Where do many lines enter and leave one tool, and what becomes of their material? In whole arrays, without a compiler.

Intervals are pairs of arrays (low, high) of distances along the lines, empty where low > high.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation.field import LAYERS
from steadyrest.simulation.solid import BULLNOSE, FLAT, ToolSolid

THIN = 2e-5
"""mm: nothing thinner is taken out, and voids nearer than that to each other are one."""
_BISECTIONS = 48
Interval = tuple[Floats, Floats]


def between(low: Floats | float, high: Floats | float, slope: Floats) -> Interval:
    """From where to where r >= 0 keeps r * slope between low and high."""
    flat = np.abs(slope) < 1e-12
    slope = np.where(flat, 1.0, slope)
    one, other = low / slope, high / slope
    never = flat & ~((np.asarray(low) <= 0) & (np.asarray(high) >= 0))
    begin = np.where(flat, 0.0, np.maximum(np.minimum(one, other), 0.0))
    end = np.where(flat, np.inf, np.maximum(one, other))
    return np.where(never, 1.0, begin), np.where(never, -1.0, end)


def common(one: Interval, other: Interval) -> Interval:
    """Where both are."""
    return np.maximum(one[0], other[0]), np.minimum(one[1], other[1])


def hull(one: Interval, other: Interval) -> Interval:
    """Where either is, of two that belong to one convex solid."""
    no_one, no_other = one[0] > one[1], other[0] > other[1]
    low = np.where(no_other, one[0], np.where(no_one, other[0], np.minimum(one[0], other[0])))
    high = np.where(no_other, one[1], np.where(no_one, other[1], np.maximum(one[1], other[1])))
    return low, high


def through(solid: ToolSolid, off: Floats, left: float, right: float, lowest: float, sine: Floats, cosine: Floats) -> Interval:
    """Where lines in planes `off` (rows, 1) from the tool's axis, directions sine, cosine (columns,), are in the solid swept sideways.

    lowest is the height of the solid's lowest point; left and right are where its axis begins and ends.
    """
    wide = np.sqrt(np.maximum(solid.radius_mm**2 - off**2, 0.0))
    if solid.kind == FLAT:
        return common(between(left - wide, right + wide, sine), between(lowest, np.inf, cosine))
    section = _section(solid, off, wide, left, lowest, sine, cosine)
    if right > left:
        section = hull(section, _section(solid, off, wide, right, lowest, sine, cosine))
        bottom = solid.bottom_mm(off) - solid.lift_mm
        section = hull(section, common(between(left, right, sine), between(lowest + bottom, np.inf, cosine)))
    return section


def spared(solid: ToolSolid, r: Floats, off: Floats, side: float, lowest: float, sine: Floats, cosine: Floats) -> NDArray[np.bool_]:
    """Whether lines clearly stay out of the solid from the axis up to r, told without finding where they enter; all arrays (k,).

    What says how far a point is outside a convex solid is convex along a line: above zero and falling at r, it was above zero before.
    """
    height, across = r * cosine - lowest, r * sine - side
    upward = cosine > 0
    if solid.kind == FLAT:
        return np.asarray(upward & (height <= 0))
    if solid.kind == BULLNOSE:
        beyond = np.maximum(np.hypot(across, off) - solid.flat_mm, 0.0)
        below = solid.corner_mm - height
        outside = beyond**2 + np.maximum(below, 0.0) ** 2 >= solid.corner_mm**2
        share = beyond / np.maximum(beyond + solid.flat_mm, 1e-12)
        approaches = share * across * sine <= below * cosine
    else:
        below = np.ones_like(r)
        radius = solid.flat_mm + solid.widening * height
        outside = (across**2 + off**2 >= radius**2) & (radius >= 0)
        approaches = across * sine <= solid.widening * cosine * radius
    return np.asarray(upward & ((height <= 0) | ((below >= 0) & outside & approaches)))


def _section(solid: ToolSolid, off: Floats, wide: Floats, side: float, lowest: float, sine: Floats, cosine: Floats) -> Interval:
    slab = between(side - wide, side + wide, sine)
    if solid.kind == BULLNOSE and solid.flat_mm == 0.0:
        middle = lowest + solid.radius_mm
        nearest = side * sine + middle * cosine
        inside = wide**2 - (side**2 + middle**2 - nearest**2)
        half = np.sqrt(np.maximum(inside, 0.0))
        hit = (inside > 0) & (nearest + half > 0)
        circle = np.where(hit, np.maximum(nearest - half, 0.0), 1.0), np.where(hit, nearest + half, -1.0)
        return hull(common(slab, between(middle, np.inf, cosine)), circle)
    low, high = common(slab, between(lowest, np.inf, cosine))
    if solid.kind == BULLNOSE:
        return _rounded(solid, off, side, lowest, sine, cosine, low, high)
    base, grow = solid.flat_mm - solid.widening * lowest, solid.widening * cosine
    a = sine**2 - grow**2
    a = np.where(np.abs(a) < 1e-12, 1e-12, a)
    half_b, c = -(side * sine + base * grow), side**2 + off**2 - base**2
    inside = half_b**2 - a * c
    root = np.sqrt(np.maximum(inside, 0.0))
    one, other = (-half_b - root) / a, (-half_b + root) / a
    one, other = np.minimum(one, other), np.maximum(one, other)
    shallow = a > 0
    upper = base + grow * 0.5 * (one + other) >= 0
    cone_low = np.where(shallow, one, np.where(grow > 0, other, 0.0))
    cone_high = np.where(shallow, other, np.where(grow > 0, np.inf, one))
    miss = (inside < 0) | (shallow & ~upper)
    return common((low, high), (np.where(miss, 1.0, cone_low), np.where(miss, -1.0, cone_high)))


def _rounded(
    solid: ToolSolid, off: Floats, side: float, lowest: float, sine: Floats, cosine: Floats, low: Floats, high: Floats
) -> Interval:
    """Bullnose: the distance from its core is convex along a line; its lowest place by ternary search, its two roots by bisection."""

    def over(r: Floats) -> Floats:
        beyond = np.maximum(np.hypot(r * sine - side, off) - solid.flat_mm, 0.0)
        below = np.maximum(solid.corner_mm - (r * cosine - lowest), 0.0)
        return np.hypot(beyond, below) - solid.corner_mm

    hit = low <= high
    endless = ~np.isfinite(high)
    begin = np.where(hit, low, 0.0)
    # A line without end goes up along the tool, and is inside for good once over the corner.
    end = np.where(hit, np.where(endless, np.maximum(begin, 0.0) + 4 * (solid.radius_mm + abs(lowest) + abs(side)), high), 0.0)
    a, b = begin, end
    for _ in range(_BISECTIONS):
        one, other = a + (b - a) / 3, b - (b - a) / 3
        nearer = over(one) <= over(other)
        a, b = np.where(nearer, a, one), np.where(nearer, other, b)
    best = 0.5 * (a + b)
    hit = hit & (over(best) <= 0)
    roots = []
    for outside in (begin, end):
        far, near = outside, best
        for _ in range(_BISECTIONS):
            middle = 0.5 * (far + near)
            within = over(middle) <= 0
            near, far = np.where(within, middle, near), np.where(within, far, middle)
        roots.append(np.where(over(outside) <= 0, outside, near))
    return np.where(hit, roots[0], 1.0), np.where(hit, np.where(endless, np.inf, roots[1]), -1.0)


def united(
    outer: Floats, gaps: Floats, held: NDArray[np.integer], low: Floats, high: Floats
) -> tuple[Floats, Floats, NDArray[np.uint8], Floats]:
    """Voids from low to high (c,) taken out of c lines that have gaps, or get one: new outer, gaps, held, and gaps without room (c, 2).

    Outside the material is a void without end; so is what is taken out; joined and sorted, the last one begins where material ends.
    """
    count = len(outer)
    voids = np.full((count, LAYERS + 2, 2), np.inf)
    used = np.arange(LAYERS)[None, :] < held[:, None]
    voids[:, :LAYERS][used] = gaps[used]
    voids[:, LAYERS, 0] = np.where(high >= outer - THIN, np.minimum(low, outer), low)
    voids[:, LAYERS, 1] = np.where(high >= outer - THIN, np.inf, high)
    voids[:, LAYERS + 1, 0] = outer
    rows = np.arange(count)[:, None]
    voids = voids[rows, np.argsort(voids[:, :, 0], axis=1, kind="stable")]
    ends = np.maximum.accumulate(voids[:, :, 1], axis=1)
    fresh = np.ones((count, LAYERS + 2), dtype=bool)
    fresh[:, 1:] = (voids[:, 1:, 0] > ends[:, :-1] + THIN) & np.isfinite(ends[:, :-1])
    group = np.cumsum(fresh, axis=1) - 1
    merged = np.zeros((count, LAYERS + 2, 2))
    np.put_along_axis(merged[:, :, 1], group, ends, axis=1)  # the last of a group is its farthest end
    first_low = np.where(fresh, voids[:, :, 0], np.inf)
    starts = np.full((count, LAYERS + 2), np.inf)
    for layer in range(LAYERS + 2):
        at = group[:, layer]
        starts[rows[:, 0], at] = np.minimum(starts[rows[:, 0], at], first_low[:, layer])
    merged[:, :, 0] = starts
    groups = group[:, -1]  # the number of gaps; the group of that number is the outside
    new_outer = merged[rows[:, 0], groups, 0]
    dropped = np.zeros((count, 2))
    full = np.flatnonzero(groups > LAYERS)  # no room: the thinnest is given up, its material stays
    if len(full):
        gone = np.argmin(merged[full, : LAYERS + 1, 1] - merged[full, : LAYERS + 1, 0], axis=1)
        dropped[full] = merged[full, gone]
        kept = np.arange(LAYERS)[None, :] + (np.arange(LAYERS)[None, :] >= gone[:, None])
        merged[full, :LAYERS] = merged[full[:, None], kept]
    new_held = np.minimum(groups, LAYERS).astype(np.uint8)
    return new_outer, merged[:, :LAYERS], new_held, dropped
