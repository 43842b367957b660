"""Where a tool's solid meets the lines of a field, and what is left of them: written once, for whole arrays and for compiled loops.

The functions up to `engagement` take numbers as well as arrays of one shape: numpy works out many lines at once, and numba, where it is
there, compiles the same text for one line (`compiled`). So they choose by `pick` and never by `if`, but for what holds for all lines.
Everything compiled stands in this file: a compiled loop is kept on disk, and made anew only when its own file has changed.

A line goes from the axis of rotation outward (`radii`) or upward (heights); r is the distance along it. Intervals are pairs (low, high),
empty where low > high.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from functools import cache
from math import atan2, ceil, cos, floor, inf, pi, sin
from typing import Any, NamedTuple

import numpy as np
from numpy import maximum, minimum, sqrt

from steadyrest.simulation.solid import BULLNOSE, FLAT, Solids, ToolSolid

VOLUME, DEPTH, AXIAL, SIDE_LOW, SIDE_HIGH, SHANK, HOLDER = 0, 1, 4, 5, 6, 7, 10
COLUMNS = 13
"""What one stamp took and touched, a row of so many numbers:

VOLUME      mm3 taken
DEPTH       the most material taken from one line, mm; then that line's first and second number
AXIAL       the highest point over the tip at which material was taken, mm
SIDE_LOW    how far across its feed, to either side, it took material, mm (SIDE_HIGH less SIDE_LOW is the width of the cut); a tool that
SIDE_HIGH   only goes up or down: by how much to either side of its axis
SHANK       the most material on one line within the shank, mm; then that line's numbers; HOLDER alike
"""

LAYERS = 4
"""Gaps held per line; where there are more, the thinnest is counted as taken and drawn as if still there."""
THIN = 2e-5
"""mm: nothing thinner is taken out, and voids nearer than that to each other are one."""
LABELLED_MM = 1e-3
"""So much of what can be seen of a line has to go before the line is called cut by an operation."""
NEWTON_STEPS, NEWTON_MM = 14, 1e-7
LEAST_SHARE, HALVINGS = 1 / 256, 7
"""Of the way between two lines: how finely it is told where a wall stands, and how often the rest of it is halved for that."""
TINY = 1e-12

Value = Any
"""A number, or an array of one for each line."""
Interval = tuple[Value, Value]
Array = np.ndarray[Any, Any]


class Stamp(NamedTuple):
    """A solid moved along one straight line: ten numbers, or ten arrays.

    first_from, first_to, second_from, second_to  in the field's coordinates (radii: side, in rising order), mm
    height, rise      the lowest height of the tip, and how far it rises from there
    phi               turn of the part, radians
    feed_first, feed_second  direction in which the tip moves over the part across the tool's axis: a unit, or 0, 0 where it does not
    rapid             1 in a rapid, else 0
    """

    first_from: Value
    first_to: Value
    second_from: Value
    second_to: Value
    height: Value
    rise: Value
    phi: Value
    feed_first: Value
    feed_second: Value
    rapid: Value


class Log(NamedTuple):
    """What is written down of how lines change while a table of stamps is carved, each part of the work in a row of its own.

    rows, columns  of every so-manieth row and column of the field, the first one in the middle; 0: of none
    span        changes of a line by stamps of one and the same so-many count as one, at the last of them
    newest      (a, b) int32: where a line's last change stands, -1 where there is none yet; a by b are the lines written of
    line        (parts, e) int32: the changed line, by its number among a by b
    stamp       (parts, e) int32: the stamp that changed it, by its place in the table
    outer_mm    (parts, e) float32: what was left of it
    held        (parts,) int64: how many changes stand there. There is room for one of every line beside `more` of them; after that a line's
                next change counts as one with its last
    """

    rows: int
    columns: int
    span: int
    more: int
    newest: Array
    line: Array
    stamp: Array
    outer_mm: Array
    held: Array


class Lines(NamedTuple):
    """The lines of a `Field`, n along by m across or around, and who cut what can be seen of each last (n, m).

    sine, cosine  (m,) radii: of the lines' angles; heights: 0 and 1
    """

    field: Any
    radii: bool
    last: Array
    sine: Array
    cosine: Array
    log: Log


class Borders(NamedTuple):
    """Where a wall stands between a line that was cut and a neighbour that was not: b of them, row by row, columns rising in a row.

    start      (n + 1,) int64: those of row i are from start[i] to before start[i + 1]
    row, column  (b,) int64: the line that was cut
    to_first, to_second  (b,) float64: from there to the neighbour, in the field's coordinates; one of them is 0
    level_mm   (b,) float64: just below the top of the neighbour
    share      (b,) float64, 0 to 1: how much of the way to the neighbour is cut away at that level
    """

    start: Array
    row: Array
    column: Array
    to_first: Array
    to_second: Array
    level_mm: Array
    share: Array


def pick(condition: Value, one: Value, other: Value) -> Value:
    """One where the condition holds, else the other."""
    return np.where(condition, one, other)


def between(low: Value, high: Value, slope: Value) -> Interval:
    """From where to where r >= 0 keeps r * slope between low and high."""
    level = abs(slope) < TINY
    over = 1.0 / pick(level, 1.0, slope)
    one, other = low * over, high * over
    begin, end = pick(level, 0.0, maximum(minimum(one, other), 0.0)), pick(level, inf, maximum(one, other))
    never = level & ((low > 0.0) | (high < 0.0))
    return pick(never, 1.0, begin), pick(never, -1.0, end)


def common(one: Interval, other: Interval) -> Interval:
    """Where both are."""
    return maximum(one[0], other[0]), minimum(one[1], other[1])


def hull(one: Interval, other: Interval) -> Interval:
    """Where either is, of two that belong to one convex solid."""
    no_one, no_other = one[0] > one[1], other[0] > other[1]
    low = pick(no_other, one[0], pick(no_one, other[0], minimum(one[0], other[0])))
    high = pick(no_other, one[1], pick(no_one, other[1], maximum(one[1], other[1])))
    return low, high


def beyond(low: Value, high: Value, value: Value) -> Value:
    """How far a value lies outside low to high."""
    return maximum(maximum(low - value, value - high), 0.0)


def bottom(tool: ToolSolid, off: Value) -> Value:
    """Height of the lower surface over its lowest point, `off` from the tool's axis."""
    out = maximum(off - tool.flat_mm, 0.0)
    if tool.kind == BULLNOSE:
        return tool.corner_mm - sqrt(maximum(tool.corner_mm * tool.corner_mm - out * out, 0.0))
    if tool.kind == FLAT:
        return 0.0 * out
    return out / tool.widening


def off_way(stamp: Stamp, first: Value, second: Value) -> Value:
    """Heights: distance of lines from the level way of the tool's axis."""
    go_first, go_second = stamp.first_to - stamp.first_from, stamp.second_to - stamp.second_from
    away_first, away_second = first - stamp.first_from, second - stamp.second_from
    share = (away_first * go_first + away_second * go_second) / maximum(go_first * go_first + go_second * go_second, 1e-30)
    share = minimum(maximum(share, 0.0), 1.0)
    away_first, away_second = away_first - share * go_first, away_second - share * go_second
    return sqrt(away_first * away_first + away_second * away_second)


def over_core(tool: ToolSolid, w: Value, beside2: Value, height0: Value, climb: Value) -> tuple[Value, Value]:
    """Distance from the bullnose's core (flat radius, corner up) less the corner, and its slope along the line: convex in w, which counts
    from where the line is nearest to the tip, `height0` over it; the square of its distance there is `beside2`."""
    height = height0 + w * climb
    distance = sqrt(maximum(beside2 + w * w - height * height, 0.0))
    out, below = maximum(distance - tool.flat_mm, 0.0), maximum(tool.lift_mm + tool.corner_mm - height, 0.0)
    away = sqrt(out * out + below * below)
    slope = out * (w - height * climb) / maximum(distance, TINY) - below * climb
    return away - tool.corner_mm, slope / maximum(away, TINY)


def nearest_to_tip(tool: ToolSolid, off: Value, side: float, tip: float, sine: Value, cosine: Value) -> tuple[Value, Value, Value]:
    """Of lines in planes `off` from a tool's axis at `side`, whose lowest point is at the height `tip`: where they are nearest to the tip,
    the square of that distance, and how high over the tip that is."""
    aside = side * cosine - (tip - tool.lift_mm) * sine
    return side * sine + (tip - tool.lift_mm) * cosine, off * off + aside * aside, aside * sine


def spared(tool: ToolSolid, stamp: Stamp, r: Value, off: Value, sine: Value, cosine: Value) -> Value:
    """Whether a line clearly stays out of a tool that is not swept sideways, from the axis up to r, without finding where it enters.

    What says how far a point is outside a convex solid is convex along a line: above zero and falling at r, it was above zero before.
    """
    side, tip = stamp.second_from, stamp.height + tool.lift_mm
    height, across = r * cosine - tip, r * sine - side
    if tool.kind == FLAT:
        return (cosine > 0.0) & (height <= 0.0)
    if tool.kind != BULLNOSE:
        radius = tool.flat_mm + tool.widening * height
        clear = (across * across + off * off >= radius * radius) & (across * sine <= tool.widening * cosine * radius)
    else:
        below = tool.corner_mm - height
        if tool.flat_mm == 0.0:
            outside = across * across + off * off + below * below >= tool.corner_mm * tool.corner_mm
            clear = (below >= 0.0) & outside & (across * sine <= below * cosine)
        else:
            foot, beside2, height0 = nearest_to_tip(tool, off, side, tip, sine, cosine)
            value, slope = over_core(tool, r - foot, beside2, height0, cosine)
            clear = (below >= 0.0) & (value >= 0.0) & (slope <= 0.0)
    return (cosine > 0.0) & ((height <= 0.0) | clear)


def section(tool: ToolSolid, off: Value, side: float, tip: float, sine: Value, cosine: Value) -> Interval:
    """Where lines in planes `off` from the tool's axis are in the solid, which stands at `side`."""
    wide2 = maximum(tool.radius_mm * tool.radius_mm - off * off, 0.0)
    wide = sqrt(wide2)
    slab = between(side - wide, side + wide, sine)
    if tool.kind == BULLNOSE and tool.flat_mm == 0.0:  # a circle, and the slab above its middle
        middle = tip + tool.radius_mm
        nearest = side * sine + middle * cosine
        inside = wide2 - (side * side + middle * middle - nearest * nearest)
        half = sqrt(maximum(inside, 0.0))
        hit = (inside > 0.0) & (nearest + half > 0.0)
        circle = pick(hit, maximum(nearest - half, 0.0), 1.0), pick(hit, nearest + half, -1.0)
        return hull(common(slab, between(middle, inf, cosine)), circle)
    slab = common(slab, between(tip, inf, cosine))
    foot, beside2, height0 = nearest_to_tip(tool, off, side, tip, sine, cosine)
    around = slab[0] - foot, slab[1] - foot
    if tool.kind == BULLNOSE:
        low, high = rounded(tool, beside2, height0, cosine, around)
    else:
        low, high = common(around, cone(tool, beside2, height0, cosine))
    return pick(low <= high, low + foot, 1.0), pick(low <= high, high + foot, -1.0)


def cone(tool: ToolSolid, beside2: Value, height0: Value, climb: Value) -> Interval:
    """Where lines are in the endless cone, as `over_core`; of the one upside down only what lies below the tool's end too."""
    radius, grow = tool.flat_mm + tool.widening * (height0 - tool.lift_mm), tool.widening * climb
    a = 1.0 - climb * climb - grow * grow
    a = pick(abs(a) < TINY, TINY, a)
    half_b, c = -(height0 * climb + radius * grow), beside2 - height0 * height0 - radius * radius
    inside = half_b * half_b - a * c
    root = sqrt(maximum(inside, 0.0))
    q = pick(half_b >= 0.0, -(half_b + root), root - half_b)
    one = q / a
    other = pick(q != 0.0, c / pick(q != 0.0, q, 1.0), one)
    one, other = minimum(one, other), maximum(one, other)
    # Steeper than the cone's side a line stays inside from there on, or comes from inside.
    shallow, miss = a > 0.0, (a > 0.0) & (inside < 0.0)
    low = pick(shallow, one, pick(climb > 0.0, other, -inf))
    high = pick(shallow, other, pick(climb > 0.0, inf, one))
    return pick(miss, 1.0, low), pick(miss, -1.0, high)


def rounded(tool: ToolSolid, beside2: Value, height0: Value, climb: Value, around: Interval) -> Interval:
    """Bullnose: Newton's rule from both ends of the surrounding cylinder; on a convex function it cannot step past the root."""
    low, high = around
    hit, endless = low <= high, high == inf
    low = pick(hit, low, 0.0)
    for _ in range(NEWTON_STEPS):
        value, slope = over_core(tool, low, beside2, height0, climb)
        outside = hit & (value > NEWTON_MM)
        if not np.any(outside):
            break
        low = low - pick(outside & (slope < 0.0), value / pick(slope < 0.0, slope, -1.0), 0.0)
        hit = hit & ((value <= NEWTON_MM) | (slope < 0.0)) & (low <= high)
    end = pick(hit & (high < inf), high, 0.0)
    for _ in range(NEWTON_STEPS):
        value, slope = over_core(tool, end, beside2, height0, climb)
        outside = hit & (high < inf) & (value > NEWTON_MM) & (slope > 0.0)
        if not np.any(outside):
            break
        end = end - pick(outside, value / pick(slope > 0.0, slope, 1.0), 0.0)
    return pick(hit, low, 1.0), pick(hit, pick(endless, inf, end), -1.0)


def reach(radii: bool, tool: ToolSolid, stamp: Stamp, off: Value, sine: Value, cosine: Value) -> Interval:
    """Where lines are in the swept solid. Radii: lines in planes `off` from that in which the tool moves; heights: `off` from its way."""
    tip, upto = stamp.height + tool.lift_mm, stamp.height + stamp.rise + tool.cutting_mm
    left, right = stamp.second_from, stamp.second_to
    if not radii:
        return maximum(tip + bottom(tool, off), 0.0), upto + 0.0 * off
    if tool.kind == FLAT:
        wide = sqrt(maximum(tool.radius_mm * tool.radius_mm - off * off, 0.0))
        found = common(between(left - wide, right + wide, sine), between(tip, inf, cosine))
    else:
        found = section(tool, off, left, tip, sine, cosine)
        if right > left:  # swept sideways: both ends, and the strip between them
            strip = common(between(left, right, sine), between(tip + bottom(tool, off), inf, cosine))
            found = hull(hull(found, section(tool, off, right, tip, sine, cosine)), strip)
    if upto < inf:
        found = common(found, between(-inf, upto, cosine))
    return found


def met(outer: Array, gaps: Array, held: Array, i: Value, j: Value, low: Value, high: Value) -> Value:
    """How much material there is between low and high."""
    high = minimum(high, outer[i, j])
    length = high - low
    for layer in range(LAYERS):
        void = minimum(high, gaps[i, j, layer, 1]) - maximum(low, gaps[i, j, layer, 0])
        length = length - pick(layer < held[i, j], maximum(void, 0.0), 0.0)
    return maximum(length, 0.0)


def engagement(
    radii: bool, stamp: Stamp, first: Value, second: Value, off: Value, sine: Value, cosine: Value, low: Value, high: Value
) -> tuple[Value, Value, Value]:
    """Where material went from low to high on lines: AXIAL, SIDE_LOW, SIDE_HIGH of what was taken."""
    axial = maximum(low * cosine, high * cosine) - stamp.height
    one, other = (low * sine, high * sine) if radii else (second, second)
    if stamp.feed_first == 0.0 and stamp.feed_second == 0.0:  # up or down
        reach = off
        if radii:
            out = maximum(beyond(stamp.second_from, stamp.second_to, one), beyond(stamp.second_from, stamp.second_to, other))
            reach = sqrt(off * off + out * out)
        return axial, -reach, reach
    along = stamp.feed_second * (first - stamp.first_from)
    one, other = stamp.feed_first * (one - stamp.second_from) - along, stamp.feed_first * (other - stamp.second_from) - along
    return axial, minimum(one, other), maximum(one, other)


def holds(radii: bool, tool: ToolSolid, stamp: Stamp, first: Value, second: Value, level: Value) -> Value:
    """Whether places so far out, anywhere on the field and not on its lines alone, are in the swept solid."""
    off = beyond(stamp.first_from, stamp.first_to, first) if radii else off_way(stamp, first, second)
    angle = second + stamp.phi if radii else 0.0 * second
    low, high = reach(radii, tool, stamp, off, np.sin(angle), np.cos(angle))
    return (off < tool.radius_mm) & (low <= level) & (level <= high)


def pushed(
    radii: bool, tool: ToolSolid, stamp: Stamp, first: Value, second: Value, to_first: Value, to_second: Value, level: Value, share: Value
) -> Value:
    """How far a stamp takes walls that it takes further than `share`."""
    inside, outside = share + LEAST_SHARE, 0.0 * share + 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (inside + outside)
        within = holds(radii, tool, stamp, first + middle * to_first, second + middle * to_second, level)
        inside, outside = pick(within, middle, inside), pick(within, outside, middle)
    return minimum(inside, 1.0)


# From here on all are numbers: a stamp, a row of lines, one line.


def spread_of(lines: Lines, stamp: Stamp, radius: float) -> tuple[int, int]:
    """The first and the last row of lines that something of that radius may reach."""
    begin, end = min(stamp.first_from, stamp.first_to), max(stamp.first_from, stamp.first_to)
    return span_of(begin - radius, end + radius, lines.field.first_mm[0], lines.field.first_step_mm, len(lines.field.first_mm))


def span_of(low: float, high: float, first: float, step: float, count: int) -> tuple[int, int]:
    """Of `count` lines the first and the last between low and high."""
    return max(ceil((low - first) / step), 0), min(floor((high - first) / step), count - 1)


def columns_of(lines: Lines, tool: ToolSolid, stamp: Stamp, off: float, top: float) -> tuple[int, int]:
    """The first line that the tool may meet in rows `off` from it whose material goes out to `top`, and how many; they go round."""
    wide = float(np.sqrt(max(tool.radius_mm * tool.radius_mm - off * off, 0.0)))
    left, right = min(stamp.second_from, stamp.second_to) - wide, max(stamp.second_from, stamp.second_to) + wide
    tip = stamp.height + tool.lift_mm
    lowest = tip + bottom(tool, off)
    if lowest >= top:
        return 0, 0
    m, second, step = len(lines.field.second), lines.field.second[0], lines.field.second_step
    if not lines.radii:
        begin, end = span_of(left, right, second, step, m)
        return begin, end - begin + 1
    if left >= top or right <= -top:
        return 0, 0
    ball = tool.kind == BULLNOSE and tool.flat_mm == 0.0 and stamp.second_from == stamp.second_to
    if ball and tip + tool.radius_mm >= top:  # nothing above its middle can be met
        psi_from, psi_to = circle_angles(wide, stamp.second_from, tip + tool.radius_mm, top)
    else:
        psi_from, psi_to = corner_angles(left, right, lowest, top)
    turned = stamp.phi + second
    begin = ceil((psi_from - turned) / step)
    return begin % m, min(floor((psi_to - turned) / step) - begin + 1, m)


def circle_angles(radius: float, side: float, middle: float, top: float) -> tuple[float, float]:
    """Between which angles lies what a circle around (middle, side), wholly in the half over the axis, has within top of the axis."""
    apart = float(np.sqrt(side * side + middle * middle))
    if apart - radius >= top:
        return 0.0, -1.0
    along = float(np.sqrt(max(apart * apart - radius * radius, 0.0)))
    if along > top:
        along = (apart * apart + top * top - radius * radius) / (2.0 * apart)
        half = atan2(float(np.sqrt(max(top * top - along * along, 0.0))), along)
    else:
        half = atan2(radius, along)
    at = atan2(side, middle)
    return at - half, at + half


def corner_angles(left: float, right: float, lowest: float, top: float) -> tuple[float, float]:
    """Between which angles psi lies all of left <= side <= right, height >= lowest, that is no farther than top."""
    if left <= 0.0 <= right and lowest <= 0.0:
        return 0.0, 2 * pi
    at_low = float(np.sqrt(max(top * top - lowest * lowest, 0.0)))
    at_left, at_right = float(np.sqrt(max(top * top - left * left, 0.0))), float(np.sqrt(max(top * top - right * right, 0.0)))
    if lowest > 0.0:
        least = atan2(max(left, -at_low), lowest) if left <= 0.0 else atan2(left, at_left)
        most = atan2(min(right, at_low), lowest) if right >= 0.0 else atan2(right, at_right)
        return least, most
    if left > 0.0:
        return atan2(left, at_left), atan2(left, max(lowest, -at_left))
    return atan2(right, max(lowest, -at_right)), atan2(right, at_right)


def take_out(radii: bool, outer: Array, gaps: Array, held: Array, i: int, j: int, low: float, high: float) -> tuple[float, float]:
    """Void from low to high on a line: length and measure (r^2, or length) taken."""
    top = float(outer[i, j])
    k = int(held[i, j])
    if k == 0 and high >= top - THIN:
        outer[i, j] = low
        return top - low, (top * top - low * low if radii else top - low)
    for g in range(k):
        if gaps[i, j, g, 0] <= low + THIN and gaps[i, j, g, 1] >= high - THIN:
            return 0.0, 0.0
    length, measure = material(top, gaps, i, j, k, radii)
    lost, keep, at = 0.0, 0, 0
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
    if high >= top - THIN:
        outer[i, j] = low
    else:
        if k == LAYERS:  # no room: the thinnest is given up, its material stays
            wide = gaps[i, j, :, 1] - gaps[i, j, :, 0]
            drop = int(np.argmin(wide))
            if high - low <= wide[drop]:
                return 0.0, (high * high - low * low if radii else high - low)
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
    length_after, measure_after = material(float(outer[i, j]), gaps, i, j, k, radii)
    return length - length_after, measure - measure_after + lost


def material(top: float, gaps: Array, i: int, j: int, k: int, radii: bool) -> tuple[float, float]:
    """Length and measure of what a line holds below `top` beside its first k gaps."""
    length, measure = top, (top * top if radii else top)
    for g in range(k):
        begin, end = float(gaps[i, j, g, 0]), float(gaps[i, j, g, 1])
        length -= end - begin
        measure -= end * end - begin * begin if radii else end - begin
    return length, measure


def write_down(log: Log, part: int, i: int, j: int, stamp: int, outer_mm: float) -> None:
    """That a stamp has changed line (i, j), if of that line something is written."""
    if log.rows == 0 or i % log.rows != log.rows // 2 or j % log.columns != log.columns // 2:
        return
    a, b = i // log.rows, j // log.columns
    at = log.newest[a, b]
    if at < 0 or (log.stamp[part, at] // log.span != stamp // log.span and log.held[part] < log.more):
        at = log.held[part]
        log.held[part] += 1
        log.newest[a, b] = at
        log.line[part, at] = a * log.newest.shape[1] + b
    log.stamp[part, at], log.outer_mm[part, at] = stamp, outer_mm


def carve_line_by_line(
    lines: Lines, tops: Array, table: Array, operation: int, solids: Solids, touch: float, part: int, parts: int, out: Array
) -> None:
    """All stamps of one operation out of the rows i with i % parts == part, and what each took and touched: to be compiled.

    tops    (n,) the farthest material of each row
    touch   material up to this length is not counted as met
    """
    for k in range(len(table)):
        taken, row = out[k], table[k]
        stamp = Stamp(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9])
        for body, column in ((solids.rapid if stamp.rapid != 0.0 else solids.cut, DEPTH), (solids.shank, SHANK), (solids.holder, HOLDER)):
            if body.lift_mm < inf:
                put_line_by_line(lines, tops, k, stamp, body, column, operation, touch, part, parts, taken)


def put_line_by_line(
    lines: Lines,
    tops: Array,
    number: int,
    stamp: Stamp,
    body: ToolSolid,
    column: int,
    operation: int,
    touch: float,
    part: int,
    parts: int,
    taken: Array,
) -> None:
    """One body of a stamp through the lines. Column DEPTH: it is taken out of them; SHANK, HOLDER: it is only looked at what is within."""
    field, radii, last, sine_of, cosine_of, log = lines
    outer, gaps, held, first, second = field.outer_mm, field.gaps_mm, field.gaps_held, field.first_mm, field.second
    cell = field.first_step_mm * field.second_step * (0.5 if radii else 1.0)
    m = len(second)
    straight = radii and stamp.second_from == stamp.second_to
    cos_phi, sin_phi = cos(stamp.phi), sin(stamp.phi)
    i_first, i_last = spread_of(lines, stamp, body.radius_mm)
    for i in range(i_first + (part - i_first) % parts, i_last + 1, parts):
        off = beyond(stamp.first_from, stamp.first_to, first[i]) if radii else 0.0
        if off >= body.radius_mm:
            continue
        lowest = stamp.height + body.lift_mm + bottom(body, off)
        j, count = columns_of(lines, body, stamp, off, tops[i])
        j -= 1
        for _ in range(count):
            j += 1
            if j == m:
                j = 0
            sine = sine_of[j] * cos_phi + cosine_of[j] * sin_phi
            cosine = cosine_of[j] * cos_phi - sine_of[j] * sin_phi
            top = float(outer[i, j])
            if cosine > 0.0 and top * cosine <= lowest:
                continue
            if straight and spared(body, stamp, top - THIN, off, sine, cosine):
                continue
            away = off if radii else off_way(stamp, first[i], second[j])
            if away >= body.radius_mm:
                continue
            low, high = reach(radii, body, stamp, away, sine, cosine)
            if high - low < THIN or top - low < THIN:
                continue
            if column == DEPTH:
                length, measure = take_out(radii, outer, gaps, held, i, j, low, high)
                taken[VOLUME] += measure * cell
                if length < THIN:
                    continue
                if top > outer[i, j]:
                    write_down(log, part, i, j, number, outer[i, j])
                if top - outer[i, j] > LABELLED_MM:
                    last[i, j] = operation
                if length <= touch:
                    continue
                axial, least, most = engagement(radii, stamp, first[i], second[j], away, sine, cosine, low, min(top, high))
                taken[AXIAL] = max(taken[AXIAL], min(axial, body.cutting_mm + stamp.rise))
                taken[SIDE_LOW], taken[SIDE_HIGH] = min(taken[SIDE_LOW], least), max(taken[SIDE_HIGH], most)
            else:
                length = met(outer, gaps, held, i, j, low, high)
            if length > taken[column]:
                taken[column], taken[column + 1], taken[column + 2] = length, i, j


def push_line_by_line(lines: Lines, borders: Borders, tops: Array, table: Array, solids: Solids, part: int, parts: int) -> None:
    """All stamps against the walls of the rows i with i % parts == part: to be compiled.

    tops    (n,) the highest level in each row
    """
    field, m = lines.field, len(lines.field.second)
    for k in range(len(table)):
        row = table[k]
        stamp = Stamp(row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9])
        tool = solids.rapid if stamp.rapid != 0.0 else solids.cut
        i_first, i_last = spread_of(lines, stamp, tool.radius_mm)
        i_first, i_last = max(i_first - 1, 0), min(i_last + 1, len(field.first_mm) - 1)
        for i in range(i_first + (part - i_first) % parts, i_last + 1, parts):
            if borders.start[i] == borders.start[i + 1]:
                continue
            near = max(beyond(stamp.first_from, stamp.first_to, field.first_mm[i]) - field.first_step_mm, 0.0) if lines.radii else 0.0
            begin, count = columns_of(lines, tool, stamp, near, tops[i])
            if count <= 0:
                continue
            for round_ in range(2):  # columns go round, and one more on either side has its wall within reach
                low, high = begin - 1 - round_ * m, begin + count - round_ * m
                at = borders.start[i] + np.searchsorted(borders.column[borders.start[i] : borders.start[i + 1]], low)
                while at < borders.start[i + 1] and borders.column[at] <= high:
                    push_one(lines, borders, tool, stamp, at)
                    at += 1


def push_one(lines: Lines, borders: Borders, tool: ToolSolid, stamp: Stamp, at: int) -> None:
    """A stamp against one wall."""
    share, level = borders.share[at], borders.level_mm[at]
    first, second = lines.field.first_mm[borders.row[at]], lines.field.second[borders.column[at]]
    to_first, to_second = borders.to_first[at], borders.to_second[at]
    further = share + LEAST_SHARE
    if further <= 1.0 and holds(lines.radii, tool, stamp, first + further * to_first, second + further * to_second, level):
        borders.share[at] = pushed(lines.radii, tool, stamp, first, second, to_first, to_second, level, share)


@cache
def compiler() -> tuple[Any, Any]:
    """numba and its extending, which know all functions here from then on. It takes half a second to load."""
    numba, extending = importlib.import_module("numba"), importlib.import_module("numba.extending")
    extending.overload(pick)(lambda condition, one, other: lambda condition, one, other: one if condition else other)
    of_lines = (between, common, hull, beyond, off_way, spread_of, span_of, columns_of, circle_angles, corner_angles)
    of_solids = (bottom, over_core, nearest_to_tip, spared, section, cone, rounded, reach, met, engagement, holds, pushed)
    of_one = (material, take_out, write_down, put_line_by_line, push_one)
    for function in of_lines + of_solids + of_one:
        extending.register_jitable(error_model="numpy")(function)
    return numba, extending


@cache
def compiled(name: str = "carve_line_by_line") -> Callable[..., None]:
    """`carve_line_by_line` or `push_line_by_line`, compiled. Needs numba."""
    numba, _ = compiler()
    loops: Callable[..., None] = numba.njit(cache=True, nogil=True, error_model="numpy")(globals()[name])
    return loops
