"""A field being carved: in whole arrays at first, with compiled loops from some thousands of positions on where numba is installed."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from math import cos, inf, sin
from typing import Literal

import numpy as np

from steadyrest.columns import Floats
from steadyrest.simulation import kernel
from steadyrest.simulation.field import Field
from steadyrest.simulation.kernel import AXIAL, DEPTH, HOLDER, LAYERS, SHANK, SIDE_HIGH, SIDE_LOW, THIN, VOLUME, Array, Lines, Stamp
from steadyrest.simulation.solid import Solids, ToolSolid

Carving = Literal["auto", "arrays", "compiled"]
WORTH_COMPILING = 2_000
"""Positions; starting the compiler costs as much as some thousand positions in whole arrays, ten times that the first time on a machine."""
MOST_THREADS = 4


def nothing_taken(stamps: int) -> Floats:
    """(stamps, kernel.COLUMNS) of a tool that has met nothing."""
    out = np.zeros((stamps, kernel.COLUMNS))
    out[:, SIDE_LOW], out[:, SIDE_HIGH] = np.inf, -np.inf
    return out


class Carver:
    """A field being carved, and which operation last changed what can be seen of each line."""

    def __init__(self, field: Field, way: Carving = "auto") -> None:
        if way == "compiled" and find_spec("numba") is None:
            raise ValueError("compiled carving needs numba: install steadyrest[fast]")
        self.field = field
        self.last = np.zeros(field.shape, dtype=np.uint16)
        self.done = 0
        self._way = way
        self._can_compile = find_spec("numba") is not None
        radii, angle = field.chart == "radii", field.second
        turned = (np.sin(angle), np.cos(angle)) if radii else (np.zeros(len(angle)), np.ones(len(angle)))
        self._lines = Lines(field, radii, self.last, *turned)

    @property
    def top_mm(self) -> float:
        """The outermost material on any line."""
        return float(self.field.outer_mm.max(initial=0.0))

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Take stamps (k, 10) out; what each took and touched, (k, COLUMNS) of `kernel`."""
        self.done += len(table)
        tops = self.field.outer_mm.max(axis=1).astype(np.float64)
        if self._way == "compiled" or (self._way == "auto" and self._can_compile and self.done > WORTH_COMPILING):
            return self._compiled(tops, table, operation, solids, touch_mm)
        out = nothing_taken(len(table))
        for row, taken in zip(table, out, strict=True):
            stamp = Stamp(*row.tolist())
            for column, body in ((DEPTH, solids.rapid if stamp.rapid else solids.cut), (SHANK, solids.shank), (HOLDER, solids.holder)):
                if body.lift_mm < inf:
                    _put(self._lines, tops, stamp, body, column, operation, touch_mm, taken)
        return out

    def _compiled(self, tops: Floats, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        loops, parts = kernel.compiled(), min(os.cpu_count() or 1, MOST_THREADS)
        outs = [nothing_taken(len(table)) for _ in range(parts)]
        with ThreadPoolExecutor(parts) as pool:  # the compiler lets one thread in at a time; the loops run without its lock
            list(pool.map(lambda part: loops(self._lines, tops, table, operation, solids, touch_mm, part, parts, outs[part]), range(parts)))
        every = np.stack(outs)  # what the same stamps took from different rows of the field
        out: Floats = every.max(axis=0)
        out[:, VOLUME], out[:, SIDE_LOW] = every[..., VOLUME].sum(axis=0), every[..., SIDE_LOW].min(axis=0)
        for column in (DEPTH, SHANK, HOLDER):
            deepest = every[..., column].argmax(axis=0)
            out[:, column : column + 3] = every[deepest, np.arange(len(out)), column : column + 3]
        return out


def _put(lines: Lines, tops: Floats, stamp: Stamp, body: ToolSolid, column: int, operation: int, touch_mm: float, taken: Floats) -> None:
    """`kernel.put_line_by_line` in whole arrays, for all lines that the body may reach: the same as the compiled loops do line by line."""
    field: Field = lines.field
    first, last = kernel.spread_of(lines, stamp, body.radius_mm)
    if first > last:
        return
    begin, count = kernel.columns_of(lines, body, stamp, 0.0, float(tops[first : last + 1].max()))
    if count <= 0:
        return
    i, j = np.arange(first, last + 1)[:, None], (begin + np.arange(count)) % len(field.second)
    along, across = field.first_mm[i], field.second[j]
    near = kernel.beyond(stamp.first_from, stamp.first_to, along) if lines.radii else kernel.off_way(stamp, along, across)
    sin_phi, cos_phi = sin(stamp.phi), cos(stamp.phi)
    sine, cosine = lines.sine[j] * cos_phi + lines.cosine[j] * sin_phi, lines.cosine[j] * cos_phi - lines.sine[j] * sin_phi
    shown = field.outer_mm[i, j]
    row, place = np.nonzero((near < body.radius_mm) & ((cosine <= 0) | (shown * cosine > stamp.height + body.lift_mm)))
    i, j, sine, cosine, top = i[row, 0], j[place], sine[place], cosine[place], shown[row, place].astype(np.float64)
    off = near[row, 0 if lines.radii else place]
    low, high = kernel.reach(lines.radii, body, stamp, off, sine, cosine)
    enters = (high - low >= THIN) & (top - low >= THIN)
    i, j, off, sine, cosine, top, low, high = (one[enters] for one in (i, j, off, sine, cosine, top, low, high))
    if column == DEPTH:
        length, measure = _taken_out(lines, i, j, low, high, top)
        cell = field.first_step_mm * field.second_step * (0.5 if lines.radii else 1.0)
        deep = length > touch_mm
        high = np.minimum(top, high)
        taken[VOLUME] += cell * float(measure.sum())
        seen = (length >= THIN) & (top - field.outer_mm[i, j] > kernel.LABELLED_MM)
        lines.last[i[seen], j[seen]] = operation
        i, j, off, sine, cosine, low, high, length = (one[deep] for one in (i, j, off, sine, cosine, low, high, length))
        if len(length):
            axial, least, widest = kernel.engagement(lines.radii, stamp, field.first_mm[i], field.second[j], off, sine, cosine, low, high)
            taken[AXIAL] = min(float(axial.max()), body.cutting_mm + stamp.rise)
            taken[SIDE_LOW], taken[SIDE_HIGH] = float(least.min()), float(widest.max())
    else:
        length = kernel.met(field.outer_mm, field.gaps_mm, field.gaps_held, i, j, low, high)
    if length.max(initial=0.0) > taken[column]:
        most = int(np.argmax(length))
        taken[column : column + 3] = length[most], i[most], j[most]


def _taken_out(lines: Lines, i: Array, j: Array, low: Floats, high: Floats, top: Floats) -> tuple[Array, Array]:
    """`take_out` for lines (c,): at once where there are no gaps and none comes, which is nearly always; one by one where not."""
    field: Field = lines.field
    length = top - low
    measure = top * top - low * low if lines.radii else length.copy()
    plain = (field.gaps_held[i, j] == 0) & (high >= top - THIN)
    field.outer_mm[i[plain], j[plain]] = low[plain]
    rest = np.flatnonzero(~plain)
    (begin, end), bottom, top = np.moveaxis(field.gaps_mm[i[rest], j[rest]], 2, 0), low[rest, None] + THIN, high[rest, None] - THIN
    void = ((begin <= bottom) & (end >= top) & (np.arange(LAYERS) < field.gaps_held[i[rest], j[rest], None])).any(axis=1)
    length[rest[void]] = measure[rest[void]] = 0.0
    for at in rest[~void].tolist():
        line = lines.radii, field.outer_mm, field.gaps_mm, field.gaps_held, int(i[at]), int(j[at])
        length[at], measure[at] = kernel.take_out(*line, float(low[at]), float(high[at]))
    return length, measure
