"""What was measured, gathered while the program is gone through: per operation and whole. Lengths are mm here."""

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


@dataclass(slots=True)
class Reach:
    """The lowest and highest place of the tip along the axis, work coordinates, mm, each with the line of its block; 0 before any."""

    lowest_mm: float = inf
    lowest_line: int = 0
    highest_mm: float = -inf
    highest_line: int = 0

    def see(self, lows: Floats, highs: Floats, lines: Ints) -> None:
        """Take blocks into account: the lowest and highest place of each, NaN where it has none, and its line."""
        low, high = float(np.fmin.reduce(lows)), float(np.fmax.reduce(highs))
        if low < self.lowest_mm:
            self.lowest_mm, self.lowest_line = low, int(lines[np.argmax(lows == low)])
        if high > self.highest_mm:
            self.highest_mm, self.highest_line = high, int(lines[np.argmax(highs == high)])


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


@dataclass(slots=True)
class Gathered:
    """One operation's figures while they grow. The two distances and the angle are upper bounds over all points, not samples.

    tip_off_path_mm    the farthest the tip gets from the intended path
    path_off_tip_mm    the farthest the intended path gets from the tip's
    axis_rad           the largest angle between the tool axes
    radius_mm          the largest distance of the tip from the axis of rotation while cutting, which the budget is for
    faster             the largest excess of speed, as a fraction of the feed
    slowed, slowest    how many blocks a limit slows down, and the slowest of them as a fraction of its feed
    last_line          the last line of the program that belongs to it
    lifted             how many times the part was turned back or the tool lifted inside a cut
    """

    number: int
    name: str
    intent: str
    tool: int
    tip_off_path_mm: float = 0.0
    path_off_tip_mm: float = 0.0
    axis_rad: float = 0.0
    radius_mm: float = 0.0
    faster: float = 0.0
    slowed: int = 0
    slowest: float = 1.0
    moves: int = 0
    blocks: int = 0
    holes: int = 0
    lifted: int = 0
    last_line: int = 0
    cut_minutes: float = 0.0
    rapid_minutes: float = 0.0
    reach: Reach = field(default_factory=Reach)

    def widen(self, off_mm: float, radius_mm: float, axis_rad: float = 0.0) -> None:
        """Take a cut into account that was so far off its path at most, and so far from the axis of rotation."""
        self.tip_off_path_mm = max(self.tip_off_path_mm, off_mm)
        self.path_off_tip_mm = max(self.path_off_tip_mm, off_mm)
        self.radius_mm = max(self.radius_mm, radius_mm)
        self.axis_rad = max(self.axis_rad, axis_rad)

    def take(self, stretch: StretchFigures) -> None:
        """Take a stretch into account."""
        self.widen(stretch.off_mm, stretch.radius_mm, stretch.axis_rad)
        self.faster, self.slowest = max(self.faster, stretch.faster), min(self.slowest, stretch.slowest)
        self.slowed += stretch.slowed
        self.blocks += stretch.blocks

    def figures(self, setting: Setting) -> OperationFigures:
        """The same in the toolpath's units, degrees and percent, with what was allowed."""
        scale, limit, reach = setting.scale, setting.limit_mm(self.radius_mm), self.reach
        return OperationFigures(
            number=self.number,
            name=self.name,
            intent=self.intent,
            tool=self.tool,
            tip_off_path=self.tip_off_path_mm / scale,
            path_off_tip=self.path_off_tip_mm / scale,
            limit=limit / scale,
            rounding=(limit - setting.tolerance_mm) / scale,
            radius=self.radius_mm / scale,
            axis_off_deg=degrees(self.axis_rad),
            axis_limit_deg=degrees(setting.axis_limit_rad),
            faster_percent=100 * self.faster,
            slowed_blocks=self.slowed,
            slowest_percent=100 * self.slowest,
            moves=self.moves,
            blocks=self.blocks,
            holes=self.holes,
            lifted=self.lifted,
            cutting_minutes=self.cut_minutes,
            rapid_minutes=self.rapid_minutes,
            reach=(reach.lowest_mm / scale, reach.highest_mm / scale) if reach.lowest_line else None,
            reach_lines=(reach.lowest_line, reach.highest_line) if reach.lowest_line else None,
            last_line=self.last_line,
        )


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
