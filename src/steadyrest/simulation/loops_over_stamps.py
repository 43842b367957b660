"""The compiled loops over stamps, rows and lines; the geometry of one line is in `loops`. Needs numba."""

from __future__ import annotations

from math import ceil, cos, floor, hypot, inf, sin, sqrt

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


@compiled
def carve_radii(
    outer: Array,
    gaps: Array,
    held: Array,
    last: Array,
    grid: Array,
    first_mm: Array,
    sine: Array,
    cosine: Array,
    row_top: Array,
    table: Array,
    operation: int,
    tools: Array,
    touch: float,
    part: int,
    parts: int,
    out: Array,
) -> None:
    """All stamps over the rows i with i % parts == part. `grid`: first line, step along, step around, first angle."""
    n, m = outer.shape
    start, step, turn, seam = grid[0], grid[1], grid[2], grid[3]
    for k in range(table.shape[0]):
        rapid = table[k, 9] != 0.0
        tool = tools[1] if rapid else tools[0]
        radius, tip = tool[1], table[k, 4] + tool[5]
        begin, end, left, right, phi = table[k, 0], table[k, 1], table[k, 2], table[k, 3], table[k, 6]
        upto = table[k, 4] + tool[6] + table[k, 5]
        cos_phi, sin_phi = cos(phi), sin(phi)
        ball = tool[0] == BULLNOSE and tool[2] == 0.0 and left == right
        i_first, i_last = max(ceil((begin - radius - start) / step), 0), min(floor((end + radius - start) / step), n - 1)
        i_begin = i_first + (part - i_first) % parts
        for i in range(i_begin, i_last + 1, parts):
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
            j_first = ceil((psi_from - phi - seam) / turn)
            count = min(floor((psi_to - phi - seam) / turn) - j_first + 1, m)
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
                if length > 1e-3:
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
            shank = tools[1, 1]
            _touching(
                outer,
                gaps,
                held,
                grid,
                first_mm,
                sine,
                cosine,
                row_top,
                table[k],
                shank,
                tool[6] + touch,
                tool[7],
                part,
                parts,
                out[k],
                SHANK,
            )
            if tool[7] < inf:
                holder = tool[8] - touch
                _touching(
                    outer,
                    gaps,
                    held,
                    grid,
                    first_mm,
                    sine,
                    cosine,
                    row_top,
                    table[k],
                    holder,
                    tool[7] + touch,
                    inf,
                    part,
                    parts,
                    out[k],
                    HOLDER,
                )


@compiled
def _touching(
    outer: Array,
    gaps: Array,
    held: Array,
    grid: Array,
    first_mm: Array,
    sine: Array,
    cosine: Array,
    row_top: Array,
    stamp: Array,
    radius: float,
    base: float,
    upper: float,
    part: int,
    parts: int,
    out: Array,
    column: int,
) -> None:
    """The most material on any line within a cylinder from `base` to `upper` over the tip, with the line's place."""
    n, m = outer.shape
    start, step, turn, seam = grid[0], grid[1], grid[2], grid[3]
    begin, end, left, right, phi = stamp[0], stamp[1], stamp[2], stamp[3], stamp[6]
    lowest, upto = stamp[4] + base, stamp[4] + stamp[5] + upper
    i_first, i_last = max(ceil((begin - radius - start) / step), 0), min(floor((end + radius - start) / step), n - 1)
    i_begin = i_first + (part - i_first) % parts
    for i in range(i_begin, i_last + 1, parts):
        off = max(begin - first_mm[i], first_mm[i] - end, 0.0)
        if off >= radius or lowest >= row_top[i]:
            continue
        wide = sqrt(radius * radius - off * off)
        if left - wide >= row_top[i] or right + wide <= -row_top[i]:
            continue
        psi_from, psi_to = _angles(left - wide, right + wide, lowest, row_top[i])
        j_first = ceil((psi_from - phi - seam) / turn)
        count = min(floor((psi_to - phi - seam) / turn) - j_first + 1, m)
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
def carve_heights(
    outer: Array,
    gaps: Array,
    held: Array,
    last: Array,
    grid: Array,
    first_mm: Array,
    second_mm: Array,
    table: Array,
    operation: int,
    tools: Array,
    touch: float,
    part: int,
    parts: int,
    out: Array,
) -> None:
    """All stamps over the rows i with i % parts == part, lines upright and parallel to the tool."""
    n, m = outer.shape
    area = grid[1] * grid[2]
    for k in range(table.shape[0]):
        tool = tools[1] if table[k, 9] != 0.0 else tools[0]
        tip, lifts = table[k, 4], table[k, 5]
        x, y, go_x, go_y = table[k, 0], table[k, 2], table[k, 1] - table[k, 0], table[k, 3] - table[k, 2]
        square = go_x * go_x + go_y * go_y
        wide = max(tool[1], tool[8] if tool[7] < inf else 0.0)
        i_first = max(ceil((min(x, x + go_x) - wide - grid[0]) / grid[1]), 0)
        i_last = min(floor((max(x, x + go_x) + wide - grid[0]) / grid[1]), n - 1)
        j_first = max(ceil((min(y, y + go_y) - wide - second_mm[0]) / grid[2]), 0)
        j_last = min(floor((max(y, y + go_y) + wide - second_mm[0]) / grid[2]), m - 1)
        i_begin = i_first + (part - i_first) % parts
        for i in range(i_begin, i_last + 1, parts):
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
                        if length > 1e-3:
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
