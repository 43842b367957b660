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
from steadyrest.simulation.field import LAYERS, Field
from steadyrest.simulation.kernel import THIN, Array, Lines, Stamp
from steadyrest.simulation.solid import Solids, ToolSolid

Carving = Literal["auto", "arrays", "compiled"]
WORTH_COMPILING = 2_000
"""Positions; starting the compiler costs as much as some thousand positions in whole arrays, ten times that the first time on a machine."""
MOST_THREADS = 4


def nothing_taken(stamps: int) -> Floats:
    """(stamps, kernel.COLUMNS) of a tool that has kernel.met nothing."""
    out = np.zeros((stamps, kernel.COLUMNS))
    out[:, kernel.SIDE_LOW], out[:, kernel.SIDE_HIGH] = np.inf, -np.inf
    return out


class Carver:
    """A field being carved, and which operation last changed what can be seen of each line."""

    def __init__(self, field: Field, way: Carving = "auto", threads: int | None = None) -> None:
        if way == "compiled" and find_spec("numba") is None:
            raise ValueError("compiled carving needs numba: install steadyrest[fast]")
        self.field = field
        self.last = np.zeros(field.shape, dtype=np.uint16)
        self.done = 0
        self._way = way
        self._can_compile = find_spec("numba") is not None
        self._threads = threads or min(os.cpu_count() or 1, MOST_THREADS)
        radii = field.chart == "radii"
        self._lines = Lines(
            radii,
            field.outer_mm,
            field.gaps_mm,
            field.gaps_held,
            self.last,
            field.first_mm,
            field.second,
            np.sin(field.second) if radii else np.zeros(len(field.second)),
            np.cos(field.second) if radii else np.ones(len(field.second)),
            field.first_step_mm,
            field.second_step,
        )

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
            _carve(self._lines, tops, Stamp(*row.tolist()), operation, solids, touch_mm, taken)
        return out

    def _compiled(self, tops: Floats, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        loops, parts = kernel.compiled(), self._threads
        outs = [nothing_taken(len(table)) for _ in range(parts)]

        def carve_part(part: int) -> None:
            loops(self._lines, tops, table, operation, solids, touch_mm, part, parts, outs[part])

        if parts == 1:
            carve_part(0)
        else:
            with ThreadPoolExecutor(parts) as pool:  # the compiler lets one thread in at a time; the loops run without its lock
                list(pool.map(carve_part, range(parts)))
        return _together(outs)


def _together(parts: list[Floats]) -> Floats:
    """What the same stamps took from different rows of the field."""
    out = parts[0]
    for more in parts[1:]:
        out[:, [kernel.VOLUME, kernel.LOST]] += more[:, [kernel.VOLUME, kernel.LOST]]
        for column in (kernel.AXIAL, kernel.SIDE_HIGH):
            out[:, column] = np.maximum(out[:, column], more[:, column])
        out[:, kernel.SIDE_LOW] = np.minimum(out[:, kernel.SIDE_LOW], more[:, kernel.SIDE_LOW])
        for column in (kernel.DEPTH, kernel.SHANK, kernel.HOLDER):
            deeper = more[:, column] > out[:, column]
            out[deeper, column : column + 3] = more[deeper, column : column + 3]
    return out


def _carve(lines: Lines, tops: Floats, stamp: Stamp, operation: int, solids: Solids, touch_mm: float, taken: Floats) -> None:
    """One stamp out of all lines that it may reach, in whole arrays: the same as the kernel.compiled loops do line by line."""
    tool = solids.rapid if stamp.rapid else solids.cut
    _cut(lines, tops, stamp, tool, operation, touch_mm, taken)
    for column, body in ((kernel.SHANK, solids.shank), (kernel.HOLDER, solids.holder)):
        if body.lift_mm == inf or (patch := _patch(lines, tops, stamp, body)) is None:
            continue
        i, j, off, sine, cosine = patch
        low, high = _reach(lines, body, stamp, off, sine, cosine)
        length = np.where(off < body.radius_mm, kernel.met(lines.outer, lines.gaps, lines.held, i, j, low, high), 0.0)
        most = np.unravel_index(int(np.argmax(length)), length.shape)
        if length[most] > taken[column]:
            taken[column : column + 3] = length[most], i[most[0], 0], j[most[1]]


def _patch(lines: Lines, tops: Floats, stamp: Stamp, tool: ToolSolid) -> tuple[Array, Array, Array, Array, Array] | None:
    """Rows (r, 1) and columns (c,) that the tool may reach, how far off it they are, (r, 1) or (r, c), and how they stand (c,)."""
    first, last = kernel.spread_of(lines, stamp, tool.radius_mm)
    if first > last:
        return None
    begin, count = kernel.columns_of(lines, tool, stamp, 0.0, float(tops[first : last + 1].max()))
    if count <= 0:
        return None
    i, j = np.arange(first, last + 1)[:, None], (begin + np.arange(count)) % len(lines.second)
    along, across = lines.first[i], lines.second[j]
    off = kernel.beyond(stamp.first_from, stamp.first_to, along) if lines.radii else kernel.off_way(stamp, along, across)
    sine, cosine = sin(stamp.phi), cos(stamp.phi)
    return i, j, off, lines.sine[j] * cosine + lines.cosine[j] * sine, lines.cosine[j] * cosine - lines.sine[j] * sine


def _reach(lines: Lines, tool: ToolSolid, stamp: Stamp, off: Floats, sine: Floats, cosine: Floats) -> tuple[Array, Array]:
    low, high = kernel.reach_out(tool, stamp, off, sine, cosine) if lines.radii else kernel.reach_up(tool, stamp, off)
    return low, np.broadcast_to(high, low.shape)


def _cut(lines: Lines, tops: Floats, stamp: Stamp, tool: ToolSolid, operation: int, touch_mm: float, taken: Floats) -> None:
    patch = _patch(lines, tops, stamp, tool)
    if patch is None:
        return
    i, j, off, sine, cosine = patch
    shown = lines.outer[i, j]
    row, column = np.nonzero((off < tool.radius_mm) & ((cosine <= 0) | (shown * cosine > stamp.height + tool.lift_mm)))
    off = off[row, 0 if lines.radii else column]
    i, j, sine, cosine, top = i[row, 0], j[column], sine[column], cosine[column], shown[row, column].astype(np.float64)
    if lines.radii and stamp.second_from == stamp.second_to:
        met_at_all = ~kernel.spared(tool, stamp, top - THIN, off, sine, cosine)
        i, j, off, sine, cosine, top = (one[met_at_all] for one in (i, j, off, sine, cosine, top))
    low, high = _reach(lines, tool, stamp, off, sine, cosine)
    enters = (high - low >= THIN) & (top - low >= THIN)
    i, j, off, sine, cosine, top, low, high = (one[enters] for one in (i, j, off, sine, cosine, top, low, high))
    length, measure, lost = _taken_out(lines, i, j, low, high, top)
    cell = lines.first_step * lines.second_step * (0.5 if lines.radii else 1.0)
    gone = length >= THIN
    taken[kernel.LOST] += cell * float(lost.sum())
    taken[kernel.VOLUME] += cell * float(measure[gone].sum())
    seen = gone & (top - lines.outer[i, j] > kernel.LABELLED_MM)
    lines.last[i[seen], j[seen]] = operation
    deep = length > touch_mm
    if not deep.any():
        return
    most = int(np.argmax(length))
    taken[kernel.DEPTH : kernel.DEPTH + 3] = length[most], i[most], j[most]
    i, j, off, sine, cosine, low, high = (one[deep] for one in (i, j, off, sine, cosine, low, np.minimum(top, high)))
    axial, least, widest = kernel.engagement(lines.radii, stamp, lines.first[i], lines.second[j], off, sine, cosine, low, high)
    taken[kernel.AXIAL] = min(float(axial.max()), tool.cutting_mm + stamp.rise)
    taken[kernel.SIDE_LOW], taken[kernel.SIDE_HIGH] = float(least.min()), float(widest.max())


def _taken_out(lines: Lines, i: Array, j: Array, low: Floats, high: Floats, top: Floats) -> tuple[Array, Array, Array]:
    """`take_out` for lines (c,): at once where there are no gaps and none comes, which is nearly always; one by one where not."""
    length, measure, lost = top - low, top * top - low * low if lines.radii else top - low, np.zeros(len(low))
    plain = (lines.held[i, j] == 0) & (high >= top - THIN)
    lines.outer[i[plain], j[plain]] = low[plain]
    rest = np.flatnonzero(~plain)
    (begin, end), bottom, top = (
        np.moveaxis(lines.gaps[i[rest], j[rest]], 2, 0),
        low[rest, None] + THIN,
        high[rest, None] - THIN,
    )
    void = ((begin <= bottom) & (end >= top) & (np.arange(LAYERS) < lines.held[i[rest], j[rest], None])).any(axis=1)
    length[rest[void]] = measure[rest[void]] = 0.0
    for at in rest[~void].tolist():
        line = lines.radii, lines.outer, lines.gaps, lines.held, int(i[at]), int(j[at])
        length[at], measure[at], lost[at] = kernel.take_out(*line, float(low[at]), float(high[at]))
    return length, measure, lost
