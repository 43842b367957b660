"""Taking stamps out of a field in whole arrays, one patch of lines a stamp: used where no compiler is at hand or worth its start."""

from __future__ import annotations

from math import ceil, floor, isfinite, pi

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation.field import LAYERS, Field
from steadyrest.simulation.lines import THIN, Interval, between, common, spared, through, united
from steadyrest.simulation.solid import FLAT, ToolSolid
from steadyrest.simulation.stamps import FEED_FIRST, FEED_SECOND, HEIGHT, PHI, RAPID_STAMP, RISE
from steadyrest.simulation.taken import AXIAL, DEPTH, HOLDER, LOST, SHANK, SIDE_HIGH, SIDE_LOW, VOLUME, nothing_taken

LABELLED_MM = 1e-3
"""So much of what can be seen of a line has to go before the line is called cut by an operation."""
Patch = tuple[slice, slice]


def carve(
    field: Field, last: NDArray[np.uint16], table: Floats, operation: int, solids: tuple[ToolSolid, ToolSolid], touch_mm: float
) -> Floats:
    """Take the stamps of `table` (k, 10) out of the field, in place; what each took and touched, (k, COLUMNS) of `taken`."""
    out = nothing_taken(len(table))
    top = field.outer_mm.max(axis=1).astype(np.float64)
    for stamp, row in zip(table, out, strict=True):
        solid = solids[1] if stamp[RAPID_STAMP] else solids[0]
        lowest = float(stamp[HEIGHT]) + solid.lift_mm
        for patch in _patches(field, stamp, solid.radius_mm, lowest, top):
            _cut(field, last, patch, stamp, solid, lowest, operation, touch_mm, row)
        if isfinite(solid.cutting_mm):
            base, upper = solid.cutting_mm + touch_mm, solid.length_mm
            _touching(field, stamp, solids[1].radius_mm, base, upper, top, row, SHANK)
        if isfinite(solid.length_mm):
            _touching(field, stamp, solid.holder_mm - touch_mm, solid.length_mm + touch_mm, np.inf, top, row, HOLDER)
    return out


def _patches(field: Field, stamp: Floats, radius: float, lowest: float, top: Floats) -> list[Patch]:
    """Rows and columns that the stamp may reach, columns in one or two pieces where it goes over the field's seam."""
    n, m = field.shape
    first, step = float(field.first_mm[0]), field.first_step_mm
    begin, end = min(stamp[0], stamp[1]), max(stamp[0], stamp[1])
    i_from, i_to = max(ceil((begin - radius - first) / step), 0), min(floor((end + radius - first) / step), n - 1)
    if i_from > i_to:
        return []
    rows = slice(i_from, i_to + 1)
    reach = float(top[rows].max())
    if lowest >= reach:
        return []
    left, right = min(stamp[2], stamp[3]) - radius, max(stamp[2], stamp[3]) + radius
    if field.chart == "heights":
        y, width = float(field.second[0]), field.second_step
        j_from, j_to = max(ceil((left - y) / width), 0), min(floor((right - y) / width), m - 1)
        return [(rows, slice(j_from, j_to + 1))] if j_from <= j_to else []
    if left >= reach or right <= -reach:
        return []
    psi_from, psi_to = _angles(left, right, lowest, reach)
    turned = float(stamp[PHI]) + float(field.second[0])
    j_from = ceil((psi_from - turned) / field.second_step)
    count = min(floor((psi_to - turned) / field.second_step) - j_from + 1, m)
    if count <= 0:
        return []
    j_from %= m
    if j_from + count <= m:
        return [(rows, slice(j_from, j_from + count))]
    return [(rows, slice(j_from, m)), (rows, slice(0, j_from + count - m))]


def _angles(left: float, right: float, lowest: float, top: float) -> tuple[float, float]:
    """Between which angles psi lies the part of left <= side <= right, height >= lowest that is no farther than top: at its corners."""
    if lowest <= 0 and left <= 0 <= right:
        return 0.0, 2 * pi
    corners = []
    for side in (left, right):
        far = float(np.sqrt(max(top**2 - side**2, 0.0)))
        if far >= lowest and abs(side) <= top:
            corners += [np.arctan2(side, far), np.arctan2(side, max(lowest, -far))]
    if abs(lowest) <= top:
        far = float(np.sqrt(top**2 - lowest**2))
        corners += [np.arctan2(side, lowest) for side in (-far, far) if left <= side <= right]
    return (float(min(corners)), float(max(corners))) if corners else (0.0, -1.0)


def _directions(field: Field, stamp: Floats, columns: slice) -> tuple[Floats, Floats]:
    psi = field.second[columns] + stamp[PHI]
    return np.sin(psi), np.cos(psi)


def _off(field: Field, stamp: Floats, patch: Patch) -> Floats:
    """Distance of the lines from the tool's axis: radii: of their plane, (rows, 1); heights: (rows, columns), over a straight way."""
    first = field.first_mm[patch[0]][:, None]
    if field.chart == "radii":
        return np.asarray(np.maximum(np.maximum(stamp[0] - first, first - stamp[1]), 0.0))
    second = field.second[patch[1]][None, :]
    go = np.array([stamp[1] - stamp[0], stamp[3] - stamp[2]])
    square = float(go @ go)
    away_x, away_y = first - stamp[0], second - stamp[2]
    share = np.clip((away_x * go[0] + away_y * go[1]) / square, 0.0, 1.0) if square > 0 else 0.0
    return np.asarray(np.hypot(away_x - share * go[0], away_y - share * go[1]))


def _cut(
    field: Field,
    last: NDArray[np.uint16],
    patch: Patch,
    stamp: Floats,
    solid: ToolSolid,
    lowest: float,
    operation: int,
    touch_mm: float,
    out: Floats,
) -> None:
    radii = field.chart == "radii"
    off = _off(field, stamp, patch)
    upto = float(stamp[HEIGHT]) + solid.cutting_mm + float(stamp[RISE])
    shown = field.outer_mm[patch]
    sine = cosine = np.empty(0)
    if radii:
        left, right = float(stamp[2]), float(stamp[3])
        sine, cosine = _directions(field, stamp, patch[1])
        where = np.nonzero((off < solid.radius_mm) & ((cosine <= 0) | (shown * cosine > lowest)))
        tops, off_there = shown[where].astype(np.float64), off[where[0], 0]
        if left == right and len(where[0]):
            reached = ~spared(solid, tops - THIN, off_there, left, lowest, sine[where[1]], cosine[where[1]])
            where, tops, off_there = (where[0][reached], where[1][reached]), tops[reached], off_there[reached]
        if len(where[0]) == 0:
            return
        low, high = through(solid, off_there, left, right, lowest, sine[where[1]], cosine[where[1]])
        if isfinite(upto):
            low, high = common((low, high), between(-np.inf, upto, cosine[where[1]]))
    else:
        where = np.nonzero((off < solid.radius_mm) & (shown > lowest))
        tops, off_there = shown[where].astype(np.float64), off[where]
        low = np.maximum(lowest - solid.lift_mm + solid.bottom_mm(off_there), 0.0)
        high = np.full_like(low, upto)
    cut = (high >= low + THIN) & (tops >= low + THIN)
    if not cut.any():
        return
    where, low, high, top, off_there = (where[0][cut], where[1][cut]), low[cut], high[cut], tops[cut], off_there[cut]
    rows = where[0] + (patch[0].start or 0)
    columns = where[1] + (patch[1].start or 0)
    length, measure, lost = _take_out(field, rows, columns, low, high, top)
    cell = field.first_step_mm * field.second_step * (0.5 if radii else 1.0)
    out[LOST] += cell * float(lost.sum())
    taken = length >= THIN
    out[VOLUME] += cell * float(measure[taken].sum())
    labelled = top - field.outer_mm[rows, columns] > LABELLED_MM
    last[rows[labelled], columns[labelled]] = operation
    deep = np.flatnonzero(length > touch_mm)
    if len(deep) == 0:
        return
    at = deep[np.argmax(length[deep])]
    if length[at] > out[DEPTH]:
        out[DEPTH : DEPTH + 3] = length[at], rows[at], columns[at]
    end = np.minimum(top, high)[deep]
    slope = cosine[where[1][deep]] if radii else 1.0
    highest = np.minimum(np.maximum(low[deep] * slope, end * slope), upto) - stamp[HEIGHT]
    out[AXIAL] = max(out[AXIAL], float(highest.max()))
    plunges = stamp[FEED_FIRST] == 0.0 and stamp[FEED_SECOND] == 0.0
    along = field.first_mm[rows[deep]] - stamp[0]
    for r in (low[deep], end) if radii else (end,):
        side = r * sine[where[1][deep]] if radii else field.second[columns[deep]]
        if plunges:
            outside = np.maximum(np.maximum(stamp[2] - side, side - stamp[3]), 0.0)
            reach = np.hypot(off_there[deep], outside) if radii else off_there[deep]
            out[SIDE_LOW] = min(out[SIDE_LOW], -float(reach.max()))
        else:
            reach = stamp[FEED_FIRST] * (side - stamp[2]) - stamp[FEED_SECOND] * along
            out[SIDE_LOW] = min(out[SIDE_LOW], float(reach.min()))
        out[SIDE_HIGH] = max(out[SIDE_HIGH], float(reach.max()))


def _take_out(
    field: Field, rows: NDArray[np.int64], columns: NDArray[np.int64], low: Floats, high: Floats, top: Floats
) -> tuple[Floats, Floats, Floats]:
    """Void from low to high on c lines, in place: length and measure (r^2, or length) taken from each, and that of gaps without room."""
    square = field.chart == "radii"

    def measured(one: Floats) -> Floats:
        return one * one if square else one

    length, measure, lost = top - low, measured(top) - measured(low), np.zeros(len(low))
    held = field.gaps_held[rows, columns]
    plain = (held == 0) & (high >= top - THIN)
    field.outer_mm[rows[plain], columns[plain]] = low[plain]
    if plain.all():
        return length, measure, lost
    other = ~plain
    gaps = field.gaps_mm[rows[other], columns[other]]
    held_there = np.arange(LAYERS)[None, :] < held[other][:, None]
    within = held_there & (gaps[..., 0] <= low[other][:, None] + THIN) & (gaps[..., 1] >= high[other][:, None] - THIN)
    void = np.zeros(len(low), dtype=bool)
    void[other] = within.any(axis=1)
    length[void] = measure[void] = 0.0
    other &= ~void
    if not other.any():
        return length, measure, lost
    i, j = rows[other], columns[other]
    gaps = field.gaps_mm[i, j].astype(np.float64)
    outer, new_gaps, new_held, dropped = united(top[other], gaps, held[other], low[other], high[other])
    field.outer_mm[i, j], field.gaps_mm[i, j], field.gaps_held[i, j] = outer, new_gaps, new_held

    def inside(tops: Floats, all_gaps: Floats, count: NDArray[np.integer], square: bool) -> Floats:
        ends = np.where(np.arange(LAYERS)[None, :, None] < count[:, None, None], all_gaps, 0.0)
        if square:
            return np.asarray(tops**2 - (ends[..., 1] ** 2 - ends[..., 0] ** 2).sum(axis=1))
        return np.asarray(tops - (ends[..., 1] - ends[..., 0]).sum(axis=1))

    lost[other] = measured(dropped[:, 1]) - measured(dropped[:, 0])
    length[other] = inside(top[other], gaps, held[other], False) - inside(outer, new_gaps, new_held, False)
    measure[other] = inside(top[other], gaps, held[other], square) - inside(outer, new_gaps, new_held, square) + lost[other]
    return length, measure, lost


def _touching(field: Field, stamp: Floats, radius: float, base: float, upper: float, top: Floats, out: Floats, column: int) -> None:
    """The most material on any line within a cylinder from `base` to `upper` over the tip, with the line's place."""
    lowest, upto = float(stamp[HEIGHT]) + base, float(stamp[HEIGHT] + stamp[RISE]) + upper
    cylinder = ToolSolid(FLAT, radius, radius)
    for patch in _patches(field, stamp, radius, lowest, top):
        off = _off(field, stamp, patch)
        if field.chart == "radii":
            sine, cosine = _directions(field, stamp, patch[1])
            inside: Interval = through(cylinder, off, float(stamp[2]), float(stamp[3]), lowest, sine, cosine)
            low, high = common(inside, between(-np.inf, upto, cosine)) if isfinite(upto) else inside
        else:
            low, high = np.full_like(off, max(lowest, 0.0)), np.full_like(off, upto)
        high = np.minimum(high, field.outer_mm[patch])
        length = np.where((off < radius) & (high > low), high - low, 0.0)
        held = field.gaps_held[patch]
        if held.any():
            for layer in range(LAYERS):
                gaps = field.gaps_mm[patch][:, :, layer]
                void = np.minimum(high, gaps[..., 1]) - np.maximum(low, gaps[..., 0])
                length -= np.where((layer < held) & (length > 0), np.maximum(void, 0.0), 0.0)
        most = int(np.argmax(length))
        if length.flat[most] > out[column]:
            i, j = np.unravel_index(most, length.shape)
            out[column : column + 3] = length.flat[most], i + (patch[0].start or 0), j + (patch[1].start or 0)
