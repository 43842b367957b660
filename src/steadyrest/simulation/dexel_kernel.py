"""Where a tool's solid, at any tilt, meets lines along X, Y or Z, and what is left of them: for whole arrays and for compiled loops.

As in `kernel`, functions up to `engagement` take numbers as well as arrays of one shape and choose by `pick`, never by `if`, but for what
holds for all lines of a bundle. A bundle's lines go along w; u and v are the two axes that follow it, in the order x, y, z, x.
Intervals are pairs (low, high), empty where low > high.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from math import inf
from typing import NamedTuple

import numpy as np
from numpy import maximum, minimum, sqrt

from steadyrest.simulation.kernel import (
    AXIAL,
    DEPTH,
    HOLDER,
    LABELLED_MM,
    SHANK,
    SIDE_HIGH,
    SIDE_LOW,
    TINY,
    VOLUME,
    Array,
    Interval,
    Value,
    common,
    compiler,
    cone,
    hull,
    over_core,
    pick,
    rounded,
    span_of,
)  # fmt: skip
from steadyrest.simulation.solid import BULLNOSE, FLAT, Solids, ToolSolid

THIN = 1e-4
"""mm: no piece of material thinner than this is held, and nothing thinner is taken out."""
BESIDE = 1e-12
"""Square of the sine of the angle below which a line lies along the tool's axis."""


class Bundle(NamedTuple):
    """n by m lines, coordinates in mm.

    u, v            (n,), (m,) where they stand; steps `u_step`, `v_step`
    ends            (n, m, room, 2) float32: where pieces of material begin and end, rising
    cut_by          (n, m, room, 2) uint16: the operation that made that end; 0 the skin of the stock
    held            (n, m) int16: how many pieces there are
    """

    u: Array
    v: Array
    u_step: float
    v_step: float
    ends: Array
    cut_by: Array
    held: Array


class Pose(NamedTuple):
    """A solid at one place, or moved from there along one straight line: twelve numbers, as a bundle sees them.

    tip_u, tip_v, tip_w     the tip, mm
    axis_u, axis_v, axis_w  the tool axis, from the tip to the holder, a unit vector
    feed_u, feed_v, feed_w  the direction square to it in which the tip moves over the part: a unit, or 0, 0, 0 where it does not
    long                    how far it is moved so; 0 where the place alone is meant
    rise                    how far it is moved along the tool axis; not both
    rapid                   1 in a rapid, else 0
    """

    tip_u: Value
    tip_v: Value
    tip_w: Value
    axis_u: Value
    axis_v: Value
    axis_w: Value
    feed_u: Value
    feed_v: Value
    feed_w: Value
    long: Value
    rise: Value
    rapid: Value


def within(low: float, high: float, at: Value, slope: float) -> Interval:
    """From where to where `at` + w * slope lies between low and high."""
    if abs(slope) < TINY:
        there = (at >= low) & (at <= high)
        return pick(there, -inf, 1.0), pick(there, inf, -1.0)
    one, other = (low - at) / slope, (high - at) / slope
    return minimum(one, other), maximum(one, other)


def circle(radius: float, at_one: Value, slope_one: float, at_other: Value, slope_other: float) -> Interval:
    """From where to where the two that go as at + w * slope are, as sides of a right angle, within a radius."""
    steep = slope_one * slope_one + slope_other * slope_other
    aside = at_one * slope_other - at_other * slope_one
    if steep < BESIDE:
        there = at_one * at_one + at_other * at_other <= radius * radius
        return pick(there, -inf, 1.0), pick(there, inf, -1.0)
    inside = radius * radius * steep - aside * aside
    half = sqrt(maximum(inside, 0.0)) / steep
    middle = -(at_one * slope_one + at_other * slope_other) / steep
    return pick(inside > 0.0, middle - half, 1.0), pick(inside > 0.0, middle + half, -1.0)


def bar(radius: float, du: Value, dv: Value, pose: Pose) -> Interval:
    """Where lines are in the endless cylinder around the tool axis."""
    steep = pose.axis_u * pose.axis_u + pose.axis_v * pose.axis_v
    if steep < BESIDE:
        there = du * du + dv * dv <= radius * radius
        return pick(there, -inf, 1.0), pick(there, inf, -1.0)
    aside = du * pose.axis_v - dv * pose.axis_u
    inside = radius * radius * steep - aside * aside
    half, middle = sqrt(maximum(inside, 0.0)) / steep, (du * pose.axis_u + dv * pose.axis_v) * pose.axis_w / steep
    return pick(inside > 0.0, middle - half, 1.0), pick(inside > 0.0, middle + half, -1.0)


def section(tool: ToolSolid, du: Value, dv: Value, pose: Pose, upto: float) -> Interval:
    """Where lines, so far from the tip, are in the solid standing there, up to a height over the tip; counted from the tip along w."""
    height, climb = du * pose.axis_u + dv * pose.axis_v, pose.axis_w
    around = common(bar(tool.radius_mm, du, dv, pose), within(tool.lift_mm, upto, height, climb))
    if tool.kind == FLAT:
        return around
    if tool.kind != BULLNOSE:
        return common(around, cone(tool, du * du + dv * dv, height, climb))
    if tool.flat_mm > 0.0:
        return rounded(tool, du * du + dv * dv, height, climb, around)
    # a ball, and the cylinder above its middle
    middle = tool.lift_mm + tool.corner_mm
    away_u, away_v, nearest = du - middle * pose.axis_u, dv - middle * pose.axis_v, middle * climb
    inside = tool.corner_mm * tool.corner_mm - away_u * away_u - away_v * away_v
    half = sqrt(maximum(inside, 0.0))
    ball = pick(inside > 0.0, nearest - half, 1.0), pick(inside > 0.0, nearest + half, -1.0)
    return common(around, hull(common(around, within(middle, inf, height, climb)), ball))


def strip(tool: ToolSolid, du: Value, dv: Value, pose: Pose) -> Interval:
    """Where lines are in what a solid sweeps between its two ends, moved square to its axis: its widest section, drawn out."""
    height, climb = du * pose.axis_u + dv * pose.axis_v, pose.axis_w
    side_u = pose.axis_v * pose.feed_w - pose.axis_w * pose.feed_v
    side_v = pose.axis_w * pose.feed_u - pose.axis_u * pose.feed_w
    side, lean = du * side_u + dv * side_v, pose.axis_u * pose.feed_v - pose.axis_v * pose.feed_u
    wide = within(-tool.radius_mm, tool.radius_mm, side, lean)
    between = common(within(0.0, pose.long, du * pose.feed_u + dv * pose.feed_v, pose.feed_w), within(tool.lift_mm, inf, height, climb))
    if tool.kind == FLAT:
        return common(between, wide)
    if tool.kind != BULLNOSE:
        grow, least = tool.widening, tool.flat_mm - tool.widening * tool.lift_mm
        left = within(-inf, least, side - grow * height, lean - grow * climb)
        right = within(-inf, least, -side - grow * height, -lean - grow * climb)
        return common(common(between, wide), common(left, right))
    middle = tool.lift_mm + tool.corner_mm
    found = common(between, within(-tool.flat_mm, tool.flat_mm, side, lean))
    found = hull(found, common(between, common(wide, within(middle, inf, height, climb))))
    for flat in (-tool.flat_mm, tool.flat_mm):
        found = hull(found, common(between, circle(tool.corner_mm, side - flat, lean, height - middle, climb)))
    return found


def reach(tool: ToolSolid, pose: Pose, upto: float, u: Value, v: Value) -> Interval:
    """Where lines at u, v are in the solid as it is moved, up to a height over the tip, at its lower end."""
    du, dv = u - pose.tip_u, v - pose.tip_v
    low, high = section(tool, du, dv, pose, upto)
    if pose.long > 0.0:
        end = section(tool, du - pose.long * pose.feed_u, dv - pose.long * pose.feed_v, pose, upto)
        move = pose.long * pose.feed_w
        end = pick(end[0] <= end[1], end[0] + move, 1.0), pick(end[0] <= end[1], end[1] + move, -1.0)
        low, high = hull(hull((low, high), end), strip(tool, du, dv, pose))
        low, high = common((low, high), within(-inf, upto, du * pose.axis_u + dv * pose.axis_v, pose.axis_w))
    none = low > high
    return pick(none, 1.0, low + pose.tip_w), pick(none, -1.0, high + pose.tip_w)


def engagement(pose: Pose, u: Value, v: Value, low: Value, high: Value) -> tuple[Value, Value, Value]:
    """Where material went from low to high on lines: AXIAL, SIDE_LOW, SIDE_HIGH of `kernel`."""
    du, dv, one, other = u - pose.tip_u, v - pose.tip_v, low - pose.tip_w, high - pose.tip_w
    height = du * pose.axis_u + dv * pose.axis_v
    one_up, other_up = height + one * pose.axis_w, height + other * pose.axis_w
    axial = maximum(one_up, other_up)
    if pose.feed_u == 0.0 and pose.feed_v == 0.0 and pose.feed_w == 0.0:  # up or down
        beside = du * du + dv * dv
        off = maximum(beside + one * one - one_up * one_up, beside + other * other - other_up * other_up)
        off = sqrt(maximum(off, 0.0))
        return axial, -off, off
    side = du * (pose.axis_v * pose.feed_w - pose.axis_w * pose.feed_v) + dv * (pose.axis_w * pose.feed_u - pose.axis_u * pose.feed_w)
    lean = pose.axis_u * pose.feed_v - pose.axis_v * pose.feed_u
    one, other = side + one * lean, side + other * lean
    return axial, minimum(one, other), maximum(one, other)


# From here on all are numbers: a pose, a row of lines, one line.


def spared(tool: ToolSolid, pose: Pose, du: float, dv: float, w: float, beyond: float) -> bool:
    """Whether a line clearly stays out of a solid that is not moved, on one side of w (from the tip), without finding where it enters.

    What says how far a point is outside a convex solid is convex along a line: above zero at w and falling towards the other side, it is
    above zero on this one. `beyond` is 1 where the side meant is that of less than w, -1 where it is that of more.
    """
    height0, climb = du * pose.axis_u + dv * pose.axis_v, pose.axis_w
    height = height0 + w * climb
    around2, outward = du * du + dv * dv + w * w - height * height, beyond * (w - height * climb)
    if around2 >= tool.radius_mm * tool.radius_mm and outward <= 0.0:
        return True
    if height <= tool.lift_mm and beyond * climb >= 0.0:
        return True
    if tool.kind == FLAT:
        return False
    middle = tool.lift_mm + tool.corner_mm
    if tool.kind != BULLNOSE:
        around, radius = float(np.sqrt(max(around2, 0.0))), tool.flat_mm + tool.widening * (height - tool.lift_mm)
        return bool(around >= radius and outward <= beyond * tool.widening * climb * around)
    if height >= middle:
        return False
    if tool.flat_mm == 0.0:
        below = middle - height
        return bool(around2 + below * below >= tool.corner_mm * tool.corner_mm and beyond * (w - middle * climb) <= 0.0)
    value, slope = over_core(tool, w, du * du + dv * dv, height0, climb)
    return bool(value >= 0.0 and beyond * slope <= 0.0)


def height_in_box(pose: Pose, low: Array, high: Array) -> float:
    """The largest height over the tip, along the tool axis, of any place in a box, whose corners are given as the bundle sees them."""
    height: float = (
        max((low[0] - pose.tip_u) * pose.axis_u, (high[0] - pose.tip_u) * pose.axis_u)
        + max((low[1] - pose.tip_v) * pose.axis_v, (high[1] - pose.tip_v) * pose.axis_v)
        + max((low[2] - pose.tip_w) * pose.axis_w, (high[2] - pose.tip_w) * pose.axis_w)
    )
    return height


def spread(tool: ToolSolid, upto: float, tip: float, axis: float, move: float) -> tuple[float, float]:
    """Between which places of one coordinate all of the moved solid lies; tip, tool axis and way by that coordinate."""
    wide = tool.radius_mm * float(np.sqrt(max(1.0 - axis * axis, 0.0)))
    one, other = tool.lift_mm * axis, upto * axis
    return tip + min(one, other) + min(move, 0.0) - wide, tip + max(one, other) + max(move, 0.0) + wide


def columns_of(tool: ToolSolid, pose: Pose, upto: float, u: float) -> tuple[float, float]:
    """Between which v the moved solid may meet lines of row u: its shadow, which lies within four rounded bars."""
    au, av = pose.tip_u + tool.lift_mm * pose.axis_u, pose.tip_v + tool.lift_mm * pose.axis_v
    up_u, up_v = (upto - tool.lift_mm) * pose.axis_u, (upto - tool.lift_mm) * pose.axis_v
    low, high = shadow(u, au, av, up_u, up_v, tool.radius_mm, inf, -inf)
    if pose.long > 0.0:
        go_u, go_v = pose.long * pose.feed_u, pose.long * pose.feed_v
        low, high = shadow(u, au + go_u, av + go_v, up_u, up_v, tool.radius_mm, low, high)
        low, high = shadow(u, au, av, go_u, go_v, tool.radius_mm, low, high)
        low, high = shadow(u, au + up_u, av + up_v, go_u, go_v, tool.radius_mm, low, high)
    return low, high


def shadow(u: float, au: float, av: float, go_u: float, go_v: float, radius: float, low: float, high: float) -> tuple[float, float]:
    """Low and high widened by where row u crosses a bar with round ends, from (au, av) by (go_u, go_v)."""
    for share in (0.0, 1.0):
        off = u - au - share * go_u
        if abs(off) < radius:
            half = float(np.sqrt(radius * radius - off * off))
            low, high = min(low, av + share * go_v - half), max(high, av + share * go_v + half)
    length = float(np.sqrt(go_u * go_u + go_v * go_v))
    if abs(go_u) > TINY:
        for side in (-radius / length, radius / length):
            share = (u - au + side * go_v) / go_u
            if 0.0 <= share <= 1.0:
                at = av + share * go_v + side * go_u
                low, high = min(low, at), max(high, at)
    return low, high


def take_out(bundle: Bundle, i: int, j: int, low: float, high: float, operation: int) -> tuple[float, float, float]:
    """Void from low to high on a line: length taken, and between which places; -1 where there is no room for one piece more."""
    ends, cut_by = bundle.ends, bundle.cut_by
    count, keep, length, first, last = int(bundle.held[i, j]), 0, 0.0, inf, -inf
    for g in range(count):
        begin, end = float(ends[i, j, g, 0]), float(ends[i, j, g, 1])
        one, other = max(begin, low), min(end, high)
        if other - one >= THIN:
            begins, stops = one - begin >= THIN, end - other >= THIN
            if begins and stops:  # in two: nothing else is met
                if count == ends.shape[2]:
                    return -1.0, 0.0, 0.0
                for h in range(count, g + 1, -1):
                    ends[i, j, h, 0], ends[i, j, h, 1] = ends[i, j, h - 1, 0], ends[i, j, h - 1, 1]
                    cut_by[i, j, h, 0], cut_by[i, j, h, 1] = cut_by[i, j, h - 1, 0], cut_by[i, j, h - 1, 1]
                ends[i, j, g + 1, 0], ends[i, j, g + 1, 1], ends[i, j, g, 1] = other, end, one
                cut_by[i, j, g + 1, 0], cut_by[i, j, g + 1, 1], cut_by[i, j, g, 1] = operation, cut_by[i, j, g, 1], operation
                bundle.held[i, j] = count + 1
                return other - one, one, other
            one, other = one if begins else begin, other if stops else end
            length, first, last = length + other - one, min(first, one), max(last, other)
            if not begins and not stops:
                continue
            labelled = other - one > LABELLED_MM
            if begins:
                ends[i, j, g, 1] = one
                if labelled:
                    cut_by[i, j, g, 1] = operation
            else:
                ends[i, j, g, 0] = other
                if labelled:
                    cut_by[i, j, g, 0] = operation
        if keep < g:
            ends[i, j, keep, 0], ends[i, j, keep, 1] = ends[i, j, g, 0], ends[i, j, g, 1]
            cut_by[i, j, keep, 0], cut_by[i, j, keep, 1] = cut_by[i, j, g, 0], cut_by[i, j, g, 1]
        keep += 1
    bundle.held[i, j] = keep
    return length, first, last


def met(bundle: Bundle, i: int, j: int, low: float, high: float) -> float:
    """How much material there is between low and high."""
    length = 0.0
    for g in range(int(bundle.held[i, j])):
        length += max(min(float(bundle.ends[i, j, g, 1]), high) - max(float(bundle.ends[i, j, g, 0]), low), 0.0)
    return length


def carve_bundle(
    bundle: Bundle,
    low: Array,
    high: Array,
    table: Array,
    start: int,
    operation: int,
    solids: Solids,
    touch: float,
    part: int,
    parts: int,
    out: Array,
) -> int:
    """All poses of one operation, from number `start` on, out of the rows i with i % parts == part, and what each took and touched.

    low, high   (3,) the box of the lines, as the bundle sees it
    touch       material up to this length is not counted as met
    out         (k, COLUMNS) of `kernel`; VOLUME as this bundle has it, and of DEPTH, SHANK and HOLDER the second number the line,
                i * m + j, the third the middle of what is met along it
    returns     the number of poses; or less, that of the pose that finds no room for one piece more, which is then to be done again
    """
    for k in range(start, len(table)):
        row = table[k]
        pose = Pose(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10], row[11])
        for body, column in ((solids.rapid if pose.rapid != 0.0 else solids.cut, DEPTH), (solids.shank, SHANK), (solids.holder, HOLDER)):
            if body.lift_mm < inf and not put(bundle, low, high, pose, body, column, operation, touch, part, parts, out[k]):
                return k
    return len(table)


def put(
    bundle: Bundle,
    low_box: Array,
    high_box: Array,
    pose: Pose,
    body: ToolSolid,
    column: int,
    operation: int,
    touch: float,
    part: int,
    parts: int,
    taken: Array,
) -> bool:
    """One body of a pose through the lines. Column DEPTH: it is taken out; SHANK, HOLDER: what is within. False: no room on a line."""
    upto = min(body.cutting_mm + pose.rise, height_in_box(pose, low_box, high_box))
    if upto <= body.lift_mm:
        return True
    lowest, highest = spread(body, upto, pose.tip_w, pose.axis_w, pose.long * pose.feed_w)
    if lowest >= high_box[2] or highest <= low_box[2]:
        return True
    m = len(bundle.v)
    low_u, high_u = spread(body, upto, pose.tip_u, pose.axis_u, pose.long * pose.feed_u)
    i_first, i_last = span_of(low_u, high_u, bundle.u[0], bundle.u_step, len(bundle.u))
    for i in range(i_first + (part - i_first) % parts, i_last + 1, parts):
        left, right = columns_of(body, pose, upto, bundle.u[i])
        if left > right:
            continue
        j_first, j_last = span_of(left, right, bundle.v[0], bundle.v_step, m)
        for j in range(j_first, j_last + 1):
            held = bundle.held[i, j]
            if held == 0 or bundle.ends[i, j, 0, 0] >= highest or bundle.ends[i, j, held - 1, 1] <= lowest:
                continue
            if pose.long == 0.0:
                du, dv = bundle.u[i] - pose.tip_u, bundle.v[j] - pose.tip_v
                if spared(body, pose, du, dv, bundle.ends[i, j, held - 1, 1] - THIN - pose.tip_w, 1.0):
                    continue
                if spared(body, pose, du, dv, bundle.ends[i, j, 0, 0] + THIN - pose.tip_w, -1.0):
                    continue
            low, high = reach(body, pose, upto, bundle.u[i], bundle.v[j])
            if high - low < THIN:
                continue
            if column == DEPTH:
                length, low, high = take_out(bundle, i, j, low, high, operation)
                if length < 0.0:
                    return False
                taken[VOLUME] += length * bundle.u_step * bundle.v_step
                if length <= touch:
                    continue
                axial, least, most = engagement(pose, bundle.u[i], bundle.v[j], low, high)
                taken[AXIAL] = max(taken[AXIAL], min(axial, body.cutting_mm + pose.rise))
                taken[SIDE_LOW], taken[SIDE_HIGH] = min(taken[SIDE_LOW], least), max(taken[SIDE_HIGH], most)
            else:
                length = met(bundle, i, j, low, high)
            if length > taken[column]:
                taken[column], taken[column + 1], taken[column + 2] = length, i * m + j, 0.5 * (low + high)
    return True


@cache
def compiled() -> Callable[..., int]:
    """`carve_bundle`, compiled. Needs numba, which takes half a second to load."""
    numba, extending = compiler()
    of_many = (within, circle, bar, section, strip, reach, engagement)
    of_one = (spared, height_in_box, spread, columns_of, shadow, take_out, met, put)
    for function in of_many + of_one:
        extending.register_jitable(error_model="numpy")(function)
    loops: Callable[..., int] = numba.njit(cache=True, nogil=True, error_model="numpy")(carve_bundle)
    return loops
