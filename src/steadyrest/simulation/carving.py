"""A field being carved: in whole arrays at first, with compiled loops from some thousands of positions on where numba is installed."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from math import cos, inf, sin
from typing import Literal

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.simulation import kernel
from steadyrest.simulation.field import Field
from steadyrest.simulation.kernel import AXIAL, DEPTH, HOLDER, LAYERS, SHANK, SIDE_HIGH, SIDE_LOW, THIN, VOLUME, Array, Lines, Log, Stamp
from steadyrest.simulation.solid import Solids, ToolSolid

Carving = Literal["auto", "arrays", "compiled"]
WORTH_COMPILING = 2_000
"""Positions; starting the compiler costs as much as some thousand positions in whole arrays, ten times that the first time on a machine."""
MOST_THREADS = 4
ONE_CHANGE = 64
"""Stamps: a tool that goes over a line in a few steps changes it once."""
MORE_CHANGES = 3
"""So many changes of each line are written down while a table of stamps is carved, on the average."""
MOST_CHANGES = 1_000_000
"""Where more are written down in all, those of a line that lie close to each other count as one, the closer the fewer there are."""
_NONE = np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.float32)


def nothing_taken(stamps: int) -> Floats:
    """(stamps, kernel.COLUMNS) of a tool that has met nothing."""
    out = np.zeros((stamps, kernel.COLUMNS))
    out[:, SIDE_LOW], out[:, SIDE_HIGH] = np.inf, -np.inf
    return out


class Carver:
    """A field being carved, and which operation last changed what can be seen of each line.

    every   of every so-manieth row and column it is written down when what can be seen of the line changes, and to what; 0: of none
    lines   the field's, for `kernel`, in so many `parts` at once
    """

    def __init__(self, field: Field, way: Carving = "auto", every: tuple[int, int] = (0, 0)) -> None:
        if way == "compiled" and find_spec("numba") is None:
            raise ValueError("compiled carving needs numba: install steadyrest[fast]")
        self.field = field
        self.last = np.zeros(field.shape, dtype=np.uint16)
        self.done = 0
        self._way = way
        self._can_compile = find_spec("numba") is not None
        radii, angle = field.chart == "radii", field.second
        sine, cosine = (np.sin(angle), np.cos(angle)) if radii else (np.zeros(len(angle)), np.ones(len(angle)))
        self.parts = min(os.cpu_count() or 1, MOST_THREADS)
        self._log = _empty_log(field, every, self.parts)
        self._written: list[tuple[Ints, Ints, Array]] = []
        self.lines = Lines(field, radii, self.last, sine, cosine, self._log)

    @property
    def top_mm(self) -> float:
        """The outermost material on any line."""
        return float(self.field.outer_mm.max(initial=0.0))

    @property
    def compiles(self) -> bool:
        """Whether compiled loops are worth it by now."""
        return self._way == "compiled" or (self._way == "auto" and self._can_compile and self.done > WORTH_COMPILING)

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Take stamps (k, 10) out; what each took and touched, (k, COLUMNS) of `kernel`."""
        self.done += len(table)
        tops = self.field.outer_mm.max(axis=1).astype(np.float64)
        if self.compiles:
            out = self._compiled(tops, table, operation, solids, touch_mm)
        else:
            out = self._in_arrays(tops, table, operation, solids, touch_mm)
        if self._log.rows:
            self._file(self.done - len(table))
        return out

    def changes(self) -> tuple[Ints, Ints, Array]:
        """What was written down, (e,) each: lines, by their numbers among those written of; numbers of the stamps in the order carved,
        rising; and what was left of the line, mm."""
        line, stamp, outer = (np.concatenate(each) for each in zip(*(self._written or [_NONE]), strict=True))
        return line, stamp, outer

    def _file(self, before: int) -> None:
        """Take what was written down out of the log, in order."""
        log, chosen = self._log, np.arange(self._log.line.shape[1]) < self._log.held[:, None]
        line, stamp, outer = (column[chosen] for column in (log.line, log.stamp, log.outer_mm))
        order = np.lexsort((line, stamp))
        self._written.append((line[order].astype(np.int64), stamp[order].astype(np.int64) + before, outer[order]))
        log.newest[:], log.held[:] = -1, 0
        while sum(len(each) for each, *_ in self._written) > MOST_CHANGES and self._log.span <= self.done:
            self._log = self._log._replace(span=2 * self._log.span)
            self.lines = self.lines._replace(log=self._log)
            self._written = [_fewer(*self.changes(), self._log.span)]

    def _in_arrays(self, tops: Floats, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        out = nothing_taken(len(table))
        for number, (row, taken) in enumerate(zip(table, out, strict=True)):
            stamp = Stamp(*row.tolist())
            for column, body in ((DEPTH, solids.rapid if stamp.rapid else solids.cut), (SHANK, solids.shank), (HOLDER, solids.holder)):
                if body.lift_mm < inf:
                    _put(self.lines, tops, number, stamp, body, column, operation, touch_mm, taken)
        return out

    def _compiled(self, tops: Floats, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        loops, parts = kernel.compiled(), self.parts
        outs = [nothing_taken(len(table)) for _ in range(parts)]
        with ThreadPoolExecutor(parts) as pool:  # the compiler lets one thread in at a time; the loops run without its lock
            list(pool.map(lambda part: loops(self.lines, tops, table, operation, solids, touch_mm, part, parts, outs[part]), range(parts)))
        return of_parts(np.stack(outs))


def of_parts(outs: Floats) -> Floats:
    """What the same poses took from different rows, as one."""
    out: Floats = outs.max(axis=0)
    out[:, VOLUME], out[:, SIDE_LOW] = outs[..., VOLUME].sum(axis=0), outs[..., SIDE_LOW].min(axis=0)
    for column in (DEPTH, SHANK, HOLDER):
        deepest = outs[..., column].argmax(axis=0)
        out[:, column : column + 3] = outs[deepest, np.arange(out.shape[0]), column : column + 3]
    return out


def _empty_log(field: Field, every: tuple[int, int], parts: int) -> Log:
    (rows, columns), shape = every, (0, 0)
    if rows:
        shape = len(field.first_mm[rows // 2 :: rows]), len(field.second[columns // 2 :: columns])
    lines = shape[0] * shape[1]
    room = parts, (1 + MORE_CHANGES) * lines
    newest, line, stamp = np.full(shape, -1, dtype=np.int32), np.zeros(room, dtype=np.int32), np.zeros(room, dtype=np.int32)
    outer = np.zeros(room, dtype=np.float32)
    return Log(rows, columns, ONE_CHANGE, MORE_CHANGES * lines, newest, line, stamp, outer, np.zeros(parts, dtype=np.int64))


def _fewer(line: Ints, stamp: Ints, outer_mm: Array, span: int) -> tuple[Ints, Ints, Array]:
    """Of a line's changes by one and the same so-many stamps the last."""
    order = np.lexsort((stamp, stamp // span, line))
    last = np.ones(len(order), dtype=bool)
    last[:-1] = (np.diff(line[order]) != 0) | (np.diff(stamp[order] // span) != 0)
    kept = np.sort(order[last])
    return line[kept], stamp[kept], outer_mm[kept]


def _write_down(log: Log, i: Array, j: Array, number: int, outer_mm: Array) -> None:
    """`kernel.write_down` for lines (c,) that one stamp has changed."""
    written = (i % log.rows == log.rows // 2) & (j % log.columns == log.columns // 2)
    line = i[written] // log.rows * log.newest.shape[1] + j[written] // log.columns
    newest, held = log.newest.reshape(-1), int(log.held[0])
    at = newest[line].astype(np.int64)
    new = at < 0
    if held + len(line) <= log.more:
        new |= log.stamp[0, at] // log.span != number // log.span
    count = int(np.count_nonzero(new))
    at[new] = held + np.arange(count)
    newest[line], log.line[0, at], log.stamp[0, at], log.outer_mm[0, at] = at, line, number, outer_mm[written]
    log.held[0] += count


def _put(
    lines: Lines, tops: Floats, number: int, stamp: Stamp, body: ToolSolid, column: int, operation: int, touch_mm: float, taken: Floats
) -> None:
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
        if lines.log.rows:
            changed = (length >= THIN) & (top > field.outer_mm[i, j])
            _write_down(lines.log, i[changed], j[changed], number, field.outer_mm[i[changed], j[changed]])
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
