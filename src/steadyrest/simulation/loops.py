"""Taking stamps out of a field, line by line, as loops that a just-in-time compiler makes fast. Needs numba; imported when worth it.

`arrays` does the same in whole arrays, written apart from this, and each is the other's check.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from math import atan2, inf, pi, sqrt
from typing import Any, TypeVar

import numpy as np

from steadyrest.simulation.solid import BULLNOSE, FLAT

_F = TypeVar("_F", bound=Callable[..., Any])
compiled: Callable[[_F], _F] = importlib.import_module("numba").njit(cache=True, nogil=True, error_model="numpy")

THIN = 2e-5
NEWTON_STEPS = 14
Array = np.ndarray[Any, Any]


@compiled
def _between(low: float, high: float, slope: float) -> tuple[float, float]:
    """From where to where r >= 0 keeps r * slope between low and high; from > to where it never does."""
    if slope > 1e-12:
        return max(low / slope, 0.0), high / slope
    if slope < -1e-12:
        return max(high / slope, 0.0), low / slope
    if low <= 0.0 <= high:
        return 0.0, inf
    return 1.0, -1.0


@compiled
def _hull(low: float, high: float, other_low: float, other_high: float) -> tuple[float, float]:
    if other_low > other_high:
        return low, high
    if low > high:
        return other_low, other_high
    return min(low, other_low), max(high, other_high)


@compiled
def _ball(radius: float, off: float, side: float, tip: float, sine: float, cosine: float) -> tuple[float, float]:
    """A circle, and the slab above its middle."""
    wide2 = radius * radius - off * off
    wide, middle = sqrt(wide2), tip + radius
    low, high = _between(side - wide, side + wide, sine)
    up, upto = _between(middle, inf, cosine)
    low, high = max(low, up), min(high, upto)
    nearest = side * sine + middle * cosine
    inside = wide2 - (side * side + middle * middle - nearest * nearest)
    if inside > 0.0:
        half = sqrt(inside)
        if nearest + half > 0.0:
            return _hull(low, high, max(nearest - half, 0.0), nearest + half)
    return low, high


@compiled
def _over_core(r: float, tool: Array, off: float, side: float, tip: float, sine: float, cosine: float) -> tuple[float, float]:
    """Distance from the bullnose's core (flat radius, corner up) less the corner, and its slope along the line: convex in r."""
    across = r * sine - side
    distance = sqrt(across * across + off * off)
    beyond, below = max(distance - tool[2], 0.0), max(tool[3] - (r * cosine - tip), 0.0)
    away = sqrt(beyond * beyond + below * below)
    if away == 0.0:
        return -tool[3], 0.0
    slope = -below * cosine
    if beyond > 0.0:
        slope += beyond * across * sine / distance
    return away - tool[3], slope / away


@compiled
def _bullnose(tool: Array, off: float, side: float, tip: float, sine: float, cosine: float) -> tuple[float, float]:
    """Newton's rule from both ends of the surrounding cylinder; on a convex function it cannot step past the root."""
    wide = sqrt(tool[1] * tool[1] - off * off)
    low, high = _between(side - wide, side + wide, sine)
    up, upto = _between(tip, inf, cosine)
    low, high = max(low, up), min(high, upto)
    if low > high:
        return low, high
    for _ in range(NEWTON_STEPS):
        value, slope = _over_core(low, tool, off, side, tip, sine, cosine)
        if value <= 1e-7:
            break
        if slope >= 0.0:
            return 1.0, -1.0
        low -= value / slope
        if low > high:
            return 1.0, -1.0
    if high < inf:
        for _ in range(NEWTON_STEPS):
            value, slope = _over_core(high, tool, off, side, tip, sine, cosine)
            if value <= 1e-7 or slope <= 0.0:
                break
            high -= value / slope
    return low, high


@compiled
def _cone(tool: Array, off: float, side: float, tip: float, sine: float, cosine: float) -> tuple[float, float]:
    """(r sine - side)^2 + off^2 <= (radius at that height)^2 is a quadratic in r; of its two cones the upper one counts."""
    wide = sqrt(tool[1] * tool[1] - off * off)
    low, high = _between(side - wide, side + wide, sine)
    up, upto = _between(tip, inf, cosine)
    low, high = max(low, up), min(high, upto)
    if low > high:
        return low, high
    base, grow = tool[2] - tool[4] * tip, tool[4] * cosine
    a = sine * sine - grow * grow
    if abs(a) < 1e-12:
        a = 1e-12
    half_b, c = -(side * sine + base * grow), side * side + off * off - base * base
    inside = half_b * half_b - a * c
    if inside < 0.0:
        return 1.0, -1.0
    root = sqrt(inside)
    q = -(half_b + root) if half_b >= 0.0 else root - half_b
    one, other = q / a, (c / q if q != 0.0 else q / a)
    if one > other:
        one, other = other, one
    if a > 0.0:
        if base + grow * 0.5 * (one + other) < 0.0:
            return 1.0, -1.0
        return max(low, one), min(high, other)
    if grow > 0.0:
        return max(low, other), high
    return low, min(high, one)


@compiled
def _section(tool: Array, off: float, side: float, tip: float, sine: float, cosine: float) -> tuple[float, float]:
    if tool[0] == BULLNOSE:
        if tool[2] == 0.0:
            return _ball(tool[1], off, side, tip, sine, cosine)
        return _bullnose(tool, off, side, tip, sine, cosine)
    return _cone(tool, off, side, tip, sine, cosine)


@compiled
def spared(r: float, tool: Array, off: float, side: float, tip: float, sine: float, cosine: float) -> bool:
    """Whether the line clearly stays out of the tool from the axis up to r, without finding where it enters.

    What says how far a point is outside a convex solid is convex along a line: above zero and falling at r, it was above zero before.
    """
    height = r * cosine - tip
    if cosine <= 0.0:
        return False
    if height <= 0.0:
        return True
    if tool[0] == FLAT:
        return False
    across = r * sine - side
    if tool[0] == BULLNOSE:
        if tool[2] == 0.0:
            below = tool[1] - height
            outside = across * across + off * off + below * below >= tool[1] * tool[1]
            return bool(below >= 0.0 and outside and across * sine <= below * cosine)
        if height > tool[3]:
            return False
        value, slope = _over_core(r, tool, off, side, tip, sine, cosine)
        return bool(value >= 0.0 and slope <= 0.0)
    radius = tool[2] + tool[4] * height
    return bool(across * across + off * off >= radius * radius and across * sine <= tool[4] * cosine * radius)


@compiled
def ball_angles(radius: float, side: float, middle: float, top: float) -> tuple[float, float]:
    """Between which angles lies what a circle around (middle, side), wholly in the half over the axis, has within top of the axis."""
    apart = sqrt(side * side + middle * middle)
    if apart - radius >= top:
        return 0.0, -1.0
    along = sqrt(max(apart * apart - radius * radius, 0.0))
    if along > top:
        along = (apart * apart + top * top - radius * radius) / (2.0 * apart)
        half = atan2(sqrt(max(top * top - along * along, 0.0)), along)
    else:
        half = atan2(radius, along)
    at = atan2(side, middle)
    return at - half, at + half


@compiled
def bottom(tool: Array, off: float) -> float:
    """Height of the lower surface over its lowest point, `off` from the tool's axis."""
    beyond = max(off - tool[2], 0.0)
    if tool[0] == BULLNOSE:
        return float(tool[3] - sqrt(max(tool[3] * tool[3] - beyond * beyond, 0.0)))
    if tool[0] == FLAT:
        return 0.0
    return float(beyond / tool[4])


@compiled
def _angles(left: float, right: float, lowest: float, top: float) -> tuple[float, float]:
    """Between which angles psi lies all of left <= side <= right, height >= lowest, that is no farther than top."""
    if left <= 0.0 <= right and lowest <= 0.0:
        return 0.0, 2 * pi
    at_low = sqrt(max(top * top - lowest * lowest, 0.0))
    if lowest > 0.0:
        least = atan2(max(left, -at_low), lowest) if left <= 0.0 else atan2(left, sqrt(max(top * top - left * left, 0.0)))
        most = atan2(min(right, at_low), lowest) if right >= 0.0 else atan2(right, sqrt(max(top * top - right * right, 0.0)))
        return least, most
    if left > 0.0:
        far = sqrt(max(top * top - left * left, 0.0))
        return atan2(left, far), atan2(left, max(lowest, -far))
    far = sqrt(max(top * top - right * right, 0.0))
    return atan2(right, max(lowest, -far)), atan2(right, far)


@compiled
def take_out(outer: Array, gaps: Array, held: Array, i: int, j: int, low: float, high: float, radii: bool) -> tuple[float, float, float]:
    """Void from low to high on a line: length and measure (r^2, or length) taken, and the measure of gaps that no longer fit."""
    top = float(outer[i, j])
    k = int(held[i, j])
    if k == 0 and high >= top - THIN:
        outer[i, j] = low
        return top - low, (top * top - low * low if radii else top - low), 0.0
    for g in range(k):
        if gaps[i, j, g, 0] <= low + THIN and gaps[i, j, g, 1] >= high - THIN:
            return 0.0, 0.0, 0.0
    length, measure = _material(top, gaps, k, i, j, radii)
    lost = 0.0
    if high >= top - THIN:
        while k > 0 and gaps[i, j, k - 1, 1] >= low - THIN:
            low = min(low, float(gaps[i, j, k - 1, 0]))
            k -= 1
        outer[i, j] = low
    else:
        keep, at = 0, 0
        for g in range(k):
            begin, end = float(gaps[i, j, g, 0]), float(gaps[i, j, g, 1])
            if end < low - THIN or begin > high + THIN:
                gaps[i, j, keep, 0], gaps[i, j, keep, 1] = begin, end
                keep += 1
                if end < low:
                    at = keep
            else:
                low, high = min(low, begin), max(high, end)
        k = keep
        if k == gaps.shape[2]:  # no room: the thinnest is given up, its material stays
            thinnest, drop = high - low, -1
            for g in range(k):
                if gaps[i, j, g, 1] - gaps[i, j, g, 0] < thinnest:
                    thinnest, drop = float(gaps[i, j, g, 1] - gaps[i, j, g, 0]), g
            if drop < 0:
                return 0.0, 0.0, (high * high - low * low if radii else thinnest)
            begin, end = float(gaps[i, j, drop, 0]), float(gaps[i, j, drop, 1])
            lost = end * end - begin * begin if radii else end - begin
            for g in range(drop, k - 1):
                gaps[i, j, g, 0], gaps[i, j, g, 1] = gaps[i, j, g + 1, 0], gaps[i, j, g + 1, 1]
            k -= 1
            if drop < at:
                at -= 1
        for g in range(k, at, -1):
            gaps[i, j, g, 0], gaps[i, j, g, 1] = gaps[i, j, g - 1, 0], gaps[i, j, g - 1, 1]
        gaps[i, j, at, 0], gaps[i, j, at, 1] = low, high
        k += 1
    held[i, j] = k
    length_after, measure_after = _material(float(outer[i, j]), gaps, k, i, j, radii)
    return length - length_after, measure - measure_after + lost, lost


@compiled
def _material(top: float, gaps: Array, k: int, i: int, j: int, radii: bool) -> tuple[float, float]:
    length, measure = top, (top * top if radii else top)
    for g in range(k):
        begin, end = float(gaps[i, j, g, 0]), float(gaps[i, j, g, 1])
        length -= end - begin
        measure -= end * end - begin * begin if radii else end - begin
    return length, measure


@compiled
def _met(outer: Array, gaps: Array, held: Array, i: int, j: int, low: float, high: float) -> float:
    """How much material there is between low and high on a line."""
    high = min(high, float(outer[i, j]))
    length = high - low
    for g in range(int(held[i, j])):
        begin, end = max(low, float(gaps[i, j, g, 0])), min(high, float(gaps[i, j, g, 1]))
        if end > begin:
            length -= end - begin
    return length
