"""What is measured while the program is gone through: what a stretch adds, how far the tool reaches, and the figures of the whole."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import degrees, inf, isfinite, isnan, nan, pi

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import AXES, PLANE_AXES
from steadyrest.proof.geometry import FULL_TURN
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.proof.verdict import OperationFigures, WholeFigures
from steadyrest.reading import LINE, ArcsRead


def widen_reach(figures: OperationFigures, lows: Floats, highs: Floats, lines: Ints) -> None:
    """Take blocks into account: the lowest and highest place of each, the toolpath's units, NaN where it has none, and its line."""
    low, high = float(np.fmin.reduce(lows)), float(np.fmax.reduce(highs))
    (lowest, highest), (low_line, high_line) = figures.reach or (inf, -inf), figures.reach_lines or (0, 0)
    if low < lowest:
        lowest, low_line = low, int(lines[np.argmax(lows == low)])
    if high > highest:
        highest, high_line = high, int(lines[np.argmax(highs == high)])
    if low_line:
        figures.reach, figures.reach_lines = (lowest, highest), (low_line, high_line)


def extents(rows: Rows, setting: Setting) -> tuple[Floats, Floats]:
    """Lowest and highest place (n,) of each block along the axis, the whole way; NaN where it is nowhere low, or not known."""
    column = rows.vertex[:, setting.frame.along]
    begin, end = column[:-1], column[1:]
    if rows.rapid.any():
        begin, end = _while_low(begin, end, rows, setting)
    lows, highs = np.fmin(begin, end), np.fmax(begin, end)
    if rows.arcs is not None:
        bent = np.flatnonzero(rows.motion > LINE)
        lows[bent], highs[bent] = _arc_extents(rows, rows.arcs, bent, setting.frame.along)
    return lows, highs


def _while_low(begin: Floats, end: Floats, rows: Rows, setting: Setting) -> tuple[Floats, Floats]:
    """Where straight rapids begin and end to be below the clear height, NaN where they never are.

    A height that is not known at one end alone is taken to be that of the other; retracted in machine coordinates is not low.
    """
    height = rows.vertex[:, 2] - setting.frame.centre_mm[2]
    before, after = height[:-1], height[1:]
    before, after = np.where(np.isnan(before), after, before), np.where(np.isnan(after), before, after)
    low_before, low_after = before < setting.high_mm, after < setting.high_mm
    with np.errstate(invalid="ignore", divide="ignore"):
        crossing = begin + (setting.high_mm - before) / (after - before) * (end - begin)
    from_low = np.where(low_before, begin, np.where(low_after, crossing, np.nan))
    to_low = np.where(low_after, end, np.where(low_before, crossing, np.nan))
    nowhere = rows.rapid & rows.clear
    return (
        np.where(nowhere, np.nan, np.where(rows.rapid, from_low, begin)),
        np.where(nowhere, np.nan, np.where(rows.rapid, to_low, end)),
    )


def _arc_extents(rows: Rows, arcs: ArcsRead, at: Ints, axis: int) -> tuple[Floats, Floats]:
    """Lowest and highest X, Y or Z (`axis` 0, 1, 2) of the arcs `at` (k,), which may bulge beyond their ends.

    They do where their plane holds that axis and they pass the angle at which they point along it.
    """
    begin, end, centre = rows.vertex[at, axis], rows.vertex[at + 1, axis], arcs.centre_mm[at, axis]
    one, two, _ = np.array(PLANE_AXES)[arcs.plane[at]].T
    first, last = (
        rows.vertex[row, one] - arcs.centre_mm[at, one] + 1j * (rows.vertex[row, two] - arcs.centre_mm[at, two]) for row in (at, at + 1)
    )
    radius = np.where((one == axis) | (two == axis), np.maximum(np.abs(first), np.abs(last)), np.nan)
    start = np.angle(first)
    finish = start + arcs.sweep_rad[at]
    highest = np.where(one == axis, 0.0, pi / 2)

    def passed(angle: Floats) -> Bools:
        least, most = np.minimum(start, finish), np.maximum(start, finish)
        return np.asarray(np.floor((most - angle) / FULL_TURN) >= np.ceil((least - angle) / FULL_TURN))

    lowest = np.fmin(np.fmin(begin, end), np.where(passed(highest + pi), centre - radius, np.nan))
    return lowest, np.fmax(np.fmax(begin, end), np.where(passed(highest), centre + radius, np.nan))


@dataclass(frozen=True, slots=True)
class StretchFigures:
    """What a stretch of blocks that are right, cuts among them, adds to the figures of its operation; `last_feed` is that of its last cut,
    mm per minute.
    """

    blocks: int
    off_mm: float
    radius_mm: float
    axis_rad: float
    faster: float
    slowed: int
    slowest: float
    last_feed: float

    def add_to(self, figures: OperationFigures, scale: float) -> None:
        """Take the stretch into account; `scale` is mm in the toolpath's unit."""
        figures.widen(self.off_mm / scale, self.radius_mm / scale, degrees(self.axis_rad))
        figures.faster_percent = max(figures.faster_percent, 100 * self.faster)
        figures.slowest_percent = min(figures.slowest_percent, 100 * self.slowest)
        figures.slowed_blocks += self.slowed
        figures.blocks += self.blocks


@dataclass(slots=True)
class Totals:
    """Figures of the whole program."""

    lowest: Floats = field(default_factory=lambda: np.full(3, inf))
    highest: Floats = field(default_factory=lambda: np.full(3, -inf))
    turning_deg: float = 0.0
    rapid_turning_deg: float = 0.0
    first_deg: float = nan
    last_deg: float = nan
    fastest_deg_per_min: float = 0.0
    lowest_deg: float = inf
    highest_deg: float = -inf
    line: int = 0
    tools: list[int] = field(default_factory=list)

    def note_tool(self, number: float) -> None:
        """A tool comes into the spindle; NaN where its number is not known."""
        if not isnan(number) and int(number) not in self.tools:
            self.tools.append(int(number))

    def see(self, rows: Rows, *, turns: bool) -> None:
        """Take blocks into account; `turns`: there is a rotary."""
        bent = np.flatnonzero(rows.motion > LINE)
        for axis in range(3):  # column by column: a reduction across the columns is fifty times slower
            column = rows.vertex[:, axis]
            self.lowest[axis] = np.fmin(self.lowest[axis], np.fmin.reduce(column))
            self.highest[axis] = np.fmax(self.highest[axis], np.fmax.reduce(column))
            if rows.arcs is not None:
                lows, highs = _arc_extents(rows, rows.arcs, bent, axis)
                self.lowest[axis] = np.fmin(self.lowest[axis], np.fmin.reduce(lows, initial=inf))
                self.highest[axis] = np.fmax(self.highest[axis], np.fmax.reduce(highs, initial=-inf))
        word = rows.word_deg
        if not rows.stands:
            turn = np.abs(np.diff(word))
            self.turning_deg += float(np.nansum(turn))
            self.rapid_turning_deg += float(np.nansum(turn[rows.rapid]))
            with np.errstate(divide="ignore", invalid="ignore"):
                speed = turn / rows.minutes
            self.fastest_deg_per_min = float(speed[np.isfinite(speed)].max(initial=self.fastest_deg_per_min))
        known = word[:1] if rows.stands else word[~np.isnan(word)]
        if turns and len(known):
            self.first_deg = float(known[0]) if isnan(self.first_deg) else self.first_deg
            self.last_deg = float(known[-1])
            self.lowest_deg = min(self.lowest_deg, float(known.min()))
            self.highest_deg = max(self.highest_deg, float(known.max()))

    def figures(self, setting: Setting, cut_minutes: float, rapid_minutes: float) -> WholeFigures:
        """The same in the toolpath's units."""
        ends = dict(zip(AXES, np.column_stack([self.lowest, self.highest]) / setting.scale, strict=True))
        return WholeFigures(
            lines=self.line,
            tools=tuple(self.tools),
            extents={axis: (float(low), float(high)) if isfinite(high - low) else None for axis, (low, high) in ends.items()},
            rotary_extent_deg=(self.lowest_deg, self.highest_deg) if isfinite(self.lowest_deg) else None,
            turning_deg=self.turning_deg,
            rapid_turning_deg=self.rapid_turning_deg,
            fastest_rotary_deg_per_min=self.fastest_deg_per_min,
            cutting_minutes=cut_minutes,
            rapid_minutes=rapid_minutes,
            end_for_end=setting.end_for_end,
        )
