"""The compiled loops over stamps, rows and lines; the geometry of one line is in `loops`. Needs numba."""

from __future__ import annotations

from math import ceil, cos, floor, hypot, inf, sin, sqrt
from typing import NamedTuple

from steadyrest.simulation.loops import THIN, Array, _angles, _between, _met, _section, ball_angles, bottom, compiled, spared, take_out
from steadyrest.simulation.solid import BULLNOSE, FLAT
from steadyrest.simulation.taken import (
    AXIAL,
    DEPTH,
    DEPTH_FIRST,
    HOLDER,
    LOST,
    SHANK,
    SIDE_HIGH,
    SIDE_LOW,
    VOLUME,
)

LABELLED_MM = 1e-3
"""So much of what can be seen of a line has to go before the line is called cut by an operation."""


class Lines(NamedTuple):
    """The lines of a field, n along by m across or around, and the material on them.

    last    the operation that last changed what can be seen of each line
    grid    first line and step along, step across or around, first line across or around
    """

    outer: Array
    gaps: Array
    held: Array
    last: Array
    grid: Array
    first_mm: Array


class Around(NamedTuple):
    """How lines stand around the axis of rotation: sine and cosine (m,) of their angles, and the farthest material (n,) of each row."""

    sine: Array
    cosine: Array
    row_top: Array


class Work(NamedTuple):
    """Stamps (k, 10) of one operation to take out of the rows i with i % parts == part, and what each took and touched (k, COLUMNS).

    tools           the solid of cuts and the smaller one of rapids, in numbers
    touch           material up to this length is not counted as met
    """

    table: Array
    operation: int
    tools: Array
    touch: float
    part: int
    parts: int
    out: Array


@compiled
def _rows(low: float, high: float, first: float, step: float, count: int, part: int, parts: int) -> tuple[int, int]:
    """Of the lines between low and high the first with i % parts == part, and the last of them all."""
    begin = max(ceil((low - first) / step), 0)
    return begin + (part - begin) % parts, min(floor((high - first) / step), count - 1)


@compiled
def _around(psi_from: float, psi_to: float, phi: float, seam: float, turn: float, most: int) -> tuple[int, int]:
    """The first line between two angles over the part, and how many there are: at most one turn of them."""
    first = ceil((psi_from - phi - seam) / turn)
    return first, min(floor((psi_to - phi - seam) / turn) - first + 1, most)


@compiled
def carve_radii(lines: Lines, around: Around, work: Work) -> None:
    """All stamps over this part's rows of lines that stand on the axis of rotation."""
    outer, gaps, held, last, first_mm = lines.outer, lines.gaps, lines.held, lines.last, lines.first_mm
    sine, cosine, row_top = around
    table, operation, tools, touch, out = work.table, work.operation, work.tools, work.touch, work.out
    n, m = outer.shape
    start, step, turn, seam = lines.grid[0], lines.grid[1], lines.grid[2], lines.grid[3]
    for k in range(table.shape[0]):
        rapid = table[k, 9] != 0.0
        tool = tools[1] if rapid else tools[0]
        radius, tip = tool[1], table[k, 4] + tool[5]
        begin, end, left, right, phi = table[k, 0], table[k, 1], table[k, 2], table[k, 3], table[k, 6]
        upto = table[k, 4] + tool[6] + table[k, 5]
        cos_phi, sin_phi = cos(phi), sin(phi)
        ball = tool[0] == BULLNOSE and tool[2] == 0.0 and left == right
        i_first, i_last = _rows(begin - radius, end + radius, start, step, n, work.part, work.parts)
        for i in range(i_first, i_last + 1, work.parts):
            off = max(begin - first_mm[i], first_mm[i] - end, 0.0)
            if off >= radius:
                continue
            lowest = tip + bottom(tool, off)
            if lowest >= row_top[i]:
                continue
            wide = sqrt(radius * radius - off * off)
            if left - wide >= row_top[i] or right + wide <= -row_top[i]:
                continue
            if ball and tip + radius >= row_top[i]:  # nothing above its middle can be met
                psi_from, psi_to = ball_angles(wide, left, tip + radius, row_top[i])
            else:
                psi_from, psi_to = _angles(left - wide, right + wide, lowest, row_top[i])
            j_first, count = _around(psi_from, psi_to, phi, seam, turn, m)
            j = j_first % m - 1
            for _ in range(count):
                j += 1
                if j == m:
                    j = 0
                s = sine[j] * cos_phi + cosine[j] * sin_phi
                c = cosine[j] * cos_phi - sine[j] * sin_phi
                top = float(outer[i, j])
                if c > 0.0 and top * c <= lowest:
                    continue
                if left == right and spared(top - THIN, tool, off, left, tip, s, c):
                    continue
                if tool[0] == FLAT or right > left:
                    low, high = _between(left - (wide if tool[0] == FLAT else 0.0), right + (wide if tool[0] == FLAT else 0.0), s)
                    up, away = _between(lowest, inf, c)
                    low, high = max(low, up), min(high, away)
                    if tool[0] != FLAT:  # swept sideways: both ends, and the strip between them
                        for side in (left, right):
                            near, far = _section(tool, off, side, tip, s, c)
                            if low > high:
                                low, high = near, far
                            elif near <= far:
                                low, high = min(low, near), max(high, far)
                else:
                    low, high = _section(tool, off, left, tip, s, c)
                if upto < inf:
                    up, away = _between(-inf, upto, c)
                    low, high = max(low, up), min(high, away)
                if high - low < THIN or top - low < THIN:
                    continue
                length, measure, lost = take_out(outer, gaps, held, i, j, low, high, True)
                out[k, LOST] += 0.5 * lost * step * turn
                if length < THIN:
                    continue
                out[k, VOLUME] += 0.5 * measure * step * turn
                if top - outer[i, j] > LABELLED_MM:
                    last[i, j] = operation
                if length <= touch:
                    continue
                if length > out[k, DEPTH]:
                    out[k, DEPTH], out[k, DEPTH_FIRST], out[k, DEPTH_FIRST + 1] = length, i, j
                end_r = min(top, high)
                out[k, AXIAL] = max(out[k, AXIAL], min(max(low * c, end_r * c), upto) - table[k, 4])
                for r in (low, end_r):
                    across = r * s - min(max(r * s, left), right) if table[k, 7] == 0.0 and table[k, 8] == 0.0 else r * s - left
                    if table[k, 7] == 0.0 and table[k, 8] == 0.0:
                        reach = sqrt(off * off + across * across)
                        out[k, SIDE_LOW], out[k, SIDE_HIGH] = min(out[k, SIDE_LOW], -reach), max(out[k, SIDE_HIGH], reach)
                    else:
                        reach = table[k, 7] * across - table[k, 8] * (first_mm[i] - begin)
                        out[k, SIDE_LOW], out[k, SIDE_HIGH] = min(out[k, SIDE_LOW], reach), max(out[k, SIDE_HIGH], reach)
        if tool[6] < inf:
            _touching(lines, around, work, k, tools[1, 1], tool[6] + touch, tool[7], SHANK)
            if tool[7] < inf:
                _touching(lines, around, work, k, tool[8] - touch, tool[7] + touch, inf, HOLDER)


@compiled
def _touching(lines: Lines, around: Around, work: Work, k: int, radius: float, base: float, upper: float, column: int) -> None:
    """The most material on any line within a cylinder from `base` to `upper` over the tip of stamp k, with the line's place."""
    outer, gaps, held, first_mm = lines.outer, lines.gaps, lines.held, lines.first_mm
    sine, cosine, row_top = around
    stamp, out = work.table[k], work.out[k]
    n, m = outer.shape
    start, step, turn, seam = lines.grid[0], lines.grid[1], lines.grid[2], lines.grid[3]
    begin, end, left, right, phi = stamp[0], stamp[1], stamp[2], stamp[3], stamp[6]
    lowest, upto = stamp[4] + base, stamp[4] + stamp[5] + upper
    i_first, i_last = _rows(begin - radius, end + radius, start, step, n, work.part, work.parts)
    for i in range(i_first, i_last + 1, work.parts):
        off = max(begin - first_mm[i], first_mm[i] - end, 0.0)
        if off >= radius or lowest >= row_top[i]:
            continue
        wide = sqrt(radius * radius - off * off)
        if left - wide >= row_top[i] or right + wide <= -row_top[i]:
            continue
        psi_from, psi_to = _angles(left - wide, right + wide, lowest, row_top[i])
        j_first, count = _around(psi_from, psi_to, phi, seam, turn, m)
        for q in range(count):
            j = (j_first + q) % m
            s = sine[j] * cos(phi) + cosine[j] * sin(phi)
            c = cosine[j] * cos(phi) - sine[j] * sin(phi)
            low, high = _between(left - wide, right + wide, s)
            up, away = _between(lowest, upto, c)
            low, high = max(low, up), min(high, away)
            if high > low and outer[i, j] > low:
                length = _met(outer, gaps, held, i, j, low, high)
                if length > out[column]:
                    out[column], out[column + 1], out[column + 2] = length, i, j


@compiled
def carve_heights(lines: Lines, second_mm: Array, work: Work) -> None:
    """All stamps over this part's rows of lines that stand upright, parallel to the tool."""
    outer, gaps, held, last, grid, first_mm = lines
    table, operation, tools, touch, out = work.table, work.operation, work.tools, work.touch, work.out
    n, m = outer.shape
    area = grid[1] * grid[2]
    for k in range(table.shape[0]):
        tool = tools[1] if table[k, 9] != 0.0 else tools[0]
        tip, lifts = table[k, 4], table[k, 5]
        x, y, go_x, go_y = table[k, 0], table[k, 2], table[k, 1] - table[k, 0], table[k, 3] - table[k, 2]
        square = go_x * go_x + go_y * go_y
        wide = max(tool[1], tool[8] if tool[7] < inf else 0.0)
        i_first, i_last = _rows(min(x, x + go_x) - wide, max(x, x + go_x) + wide, grid[0], grid[1], n, work.part, work.parts)
        j_first, j_last = _rows(min(y, y + go_y) - wide, max(y, y + go_y) + wide, second_mm[0], grid[2], m, 0, 1)
        for i in range(i_first, i_last + 1, work.parts):
            for j in range(j_first, j_last + 1):
                away_x, away_y = first_mm[i] - x, second_mm[j] - y
                share = 0.0
                if square > 0.0:
                    share = min(max((away_x * go_x + away_y * go_y) / square, 0.0), 1.0)
                off = hypot(away_x - share * go_x, away_y - share * go_y)
                top = float(outer[i, j])
                if off < tool[1]:
                    low, high = max(tip + tool[5] + bottom(tool, off), 0.0), tip + tool[6] + lifts
                    if high - low >= THIN and top - low >= THIN:
                        length, measure, lost = take_out(outer, gaps, held, i, j, low, high, False)
                        out[k, LOST] += lost * area
                        if length >= THIN:
                            out[k, VOLUME] += measure * area
                        if top - outer[i, j] > LABELLED_MM:
                            last[i, j] = operation
                        if length > touch:
                            if length > out[k, DEPTH]:
                                out[k, DEPTH], out[k, DEPTH_FIRST], out[k, DEPTH_FIRST + 1] = length, i, j
                            out[k, AXIAL] = max(out[k, AXIAL], min(top, high) - tip)
                            reach = table[k, 7] * away_y - table[k, 8] * away_x
                            if table[k, 7] == 0.0 and table[k, 8] == 0.0:
                                reach = off
                                out[k, SIDE_LOW] = min(out[k, SIDE_LOW], -reach)
                            out[k, SIDE_LOW], out[k, SIDE_HIGH] = min(out[k, SIDE_LOW], reach), max(out[k, SIDE_HIGH], reach)
                if tool[6] < inf and off < tools[1, 1] and outer[i, j] > tip + tool[6] + touch:
                    length = _met(outer, gaps, held, i, j, max(tip + tool[6] + touch, 0.0), tip + lifts + tool[7])
                    if length > out[k, SHANK]:
                        out[k, SHANK], out[k, SHANK + 1], out[k, SHANK + 2] = length, i, j
                if tool[7] < inf and off < tool[8] - touch and outer[i, j] > tip + tool[7] + touch:
                    length = _met(outer, gaps, held, i, j, max(tip + tool[7] + touch, 0.0), inf)
                    if length > out[k, HOLDER]:
                        out[k, HOLDER], out[k, HOLDER + 1], out[k, HOLDER + 2] = length, i, j
