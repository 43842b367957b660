"""What is measured while the program is gone through, and found besides that somebody has to look at.

What a stretch adds, how far the tool reaches, the figures of the whole; feeds and speeds lowered by hand, an origin on top of the stock,
turns left at the end.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import inf, isfinite, isnan, nan, pi

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import AXES, LINE, PLANE_AXES
from steadyrest.findings import Finding
from steadyrest.proof.geometry import FULL_TURN
from steadyrest.proof.intended_path import Elements, OperationFrame, Pass
from steadyrest.proof.rows import Rows, arms
from steadyrest.proof.setting import Setting
from steadyrest.proof.verdict import OperationFigures, WholeFigures
from steadyrest.reading import ArcsRead
from steadyrest.toolpath import RAPID, Hole


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
    """Lowest and highest place (n,) of each block along the axis, the whole way; NaN where it is nowhere low, not known, or a chain."""
    if setting.lines:
        return np.full(len(rows), np.nan), np.full(len(rows), np.nan)
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
    first, last = arms(rows.vertex[at], arcs, at), arms(rows.vertex[at + 1], arcs, at)
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
    mm per minute, and `slowed_around` the first and the last of the slowed blocks around the slowest, counted in the stretch.
    """

    blocks: int
    off_mm: float
    radius_mm: float
    axis_rad: float
    faster: float
    uneven: float
    at_pole_rad: float
    slowed: int
    slowest: float
    last_feed: float
    slowed_around: tuple[int, int]


@dataclass(slots=True)
class Totals:
    """The figures of the whole program, on their way, and what they come from.

    lowest, highest       (3 + r,): X, Y, Z in work coordinates, mm, and the words of the r rotaries, degrees; r is 1 where there is none
    first_deg, last_deg   of each rotary: its word where it is known first and last; turning_deg: how far it has turned in all
    """

    whole: WholeFigures = field(default_factory=WholeFigures)
    lowest: Floats = field(default_factory=lambda: np.full(4, inf))
    highest: Floats = field(default_factory=lambda: np.full(4, -inf))
    first_deg: list[float] = field(default_factory=list)
    last_deg: list[float] = field(default_factory=list)
    turning_deg: list[float] = field(default_factory=list)

    @classmethod
    def of_rotaries(cls, count: int) -> Totals:
        """Those of a program of so many rotaries, before its first block."""
        count = max(count, 1)
        return cls(WholeFigures(), np.full(3 + count, inf), np.full(3 + count, -inf), [nan] * count, [nan] * count, [0.0] * count)

    def note_tool(self, number: float) -> None:
        """A tool comes into the spindle; NaN where its number is not known."""
        if not isnan(number) and number not in self.whole.tools:
            self.whole.tools += (int(number),)

    def see(self, rows: Rows) -> None:
        """Take blocks into account."""
        bent, whole = np.flatnonzero(rows.motion > LINE), self.whole
        words = list(map(rows.words_of, range(len(self.first_deg))))
        for axis, column in enumerate((*rows.vertex.T, *words)):  # a reduction across the columns is fifty times slower
            ends = [(column, column)]
            if rows.arcs is not None and axis < 3:
                ends.append(_arc_extents(rows, rows.arcs, bent, axis))
            for lows, highs in ends:
                self.lowest[axis] = np.fmin(self.lowest[axis], np.fmin.reduce(lows, initial=inf))
                self.highest[axis] = np.fmax(self.highest[axis], np.fmax.reduce(highs, initial=-inf))
        for number, word in enumerate(() if rows.stands else words):
            turn = np.abs(np.diff(word))
            self.turning_deg[number] += float(np.nansum(turn))
            whole.turning_deg += float(np.nansum(turn))
            whole.rapid_turning_deg += float(np.nansum(turn[rows.rapid]))
            with np.errstate(divide="ignore", invalid="ignore"):
                speed = turn / rows.minutes
            whole.fastest_rotary_deg_per_min = float(speed[np.isfinite(speed)].max(initial=whole.fastest_rotary_deg_per_min))
        for number, word in enumerate(words):
            known = word[:1] if rows.stands else word[~np.isnan(word)]
            if len(known):
                self.first_deg[number] = float(known[0]) if isnan(self.first_deg[number]) else self.first_deg[number]
                self.last_deg[number] = float(known[-1])

    def figures(self, setting: Setting) -> WholeFigures:
        """What they come to, in the toolpath's units."""
        found = zip(self.lowest.tolist(), self.highest.tolist(), (*[setting.scale] * 3, *[1.0] * len(self.first_deg)), strict=True)
        reached = [(low / unit, high / unit) if isfinite(high - low) else None for low, high, unit in found]
        self.whole.extents = dict(zip(AXES, reached, strict=False))
        self.whole.rotary_extent_deg = reached[3] if setting.rotary is not None else None
        if setting.lines:
            self.whole.rotary_extents_deg = dict(zip(setting.rotaries, reached[3:], strict=True))
            self.whole.turning_of_deg = dict(zip(setting.rotaries, self.turning_deg, strict=True))
            used = setting.tools_used if setting.has_head else ()
            self.whole.gauge_lengths = {number: mm / setting.scale for number, mm in setting.gauge_mm.items() if number in used}
        self.whole.end_for_end = setting.end_for_end
        return self.whole


LEAST_KEPT = 0.6
"""Of what is asked for. What is lower still is no trimming at the machine any more: the proof refuses it."""

_MOST = 12
"""Findings in one operation; what goes beyond is counted with the last of them."""


class Lowered:
    """What was lowered, gathered by operation and by what was asked for there."""

    def __init__(self) -> None:
        self._found: dict[int, dict[str, tuple[Finding, float]]] = {}

    def note(self, operation: int, line: int, said: str, asked: str, kept: float, count: int = 1) -> None:
        """`said` and `asked` are words, such as `F35` and `45 inch/min`; `kept` is the lowest share of what was asked, 0 to 1."""
        here = self._found.setdefault(operation, {})
        key = asked if asked in here or len(here) < _MOST else next(reversed(here))
        if key not in here:
            here[key] = Finding("lowered", "look", f"{said}; the toolpath asks for {asked}", line, operation, count=count), kept
        elif (first := here[key])[0].line != line:
            here[key] = replace(first[0], count=first[0].count + count), min(first[1], kept)

    def findings(self) -> list[Finding]:
        """One for each figure asked for: the line where it is first lowered, and how many blocks run slower."""
        found = (one for here in self._found.values() for one in here.values())
        return [replace(one, sentence=f"{one.sentence} (lowered to {100 * lowest:.3g} percent)") for one, lowest in found]


NEAR_AXIS = 0.05
"""Cuts that end no higher over the axis than this part of the stock's least radius count as cuts at the axis (common practice)."""
HOLE_NEAR = 0.4
"""A hole whose retract level is lower over the axis than this part of it may be measured from the top of the stock (common practice)."""


@dataclass(slots=True)
class Heights:
    """One pass: the heights over the axis of rotation, mm, where its cuts begin and where they end, the highest of each.

    A touch on top of round stock stands at its radius over the axis (common practice: 40 mm bar, Z 20), so that paths made for an origin
    on top lie a radius too low. Once one cut tells otherwise nothing more is worked out.
    """

    setting: Setting
    this: Pass
    begin: float = -np.inf
    end: float = -np.inf

    @property
    def in_doubt(self) -> bool:
        """Whether every cut so far lies at or below the axis and begins inside the stock."""
        return self.begin < self.setting.surface_mm and self.end <= NEAR_AXIS * self.setting.surface_mm

    def _see(self, begins: Floats, ends: Floats) -> None:
        self.begin = float(np.fmax.reduce(begins, initial=self.begin))
        self.end = float(np.fmax.reduce(ends, initial=self.end))

    def see_moves(self, elements: Elements) -> None:
        """Take a run of moves into account."""
        cuts = np.flatnonzero(elements.kind != RAPID)
        if len(cuts) and self.in_doubt:
            self._see(self._over_axis(elements.points[cuts]), self._over_axis(elements.points[cuts + 1]))

    def see_hole(self, hole: Hole) -> None:
        """A hole begins at its retract level. How deep it goes says nothing about the origin, unless it begins near the axis as well."""
        if not self.in_doubt:
            return
        ends = np.array([(hole.x, hole.y, height, 0.0) for height in (hole.retract, hole.bottom)]) * self.setting.scale
        heights = self._over_axis(ends)
        self._see(heights[:1], heights[1:] if heights[0] < HOLE_NEAR * self.setting.surface_mm else heights[:1])

    def finding(self) -> Finding | None:
        """The doubt, if every cut of the pass agrees with it."""
        if not self.in_doubt or self.begin == -np.inf:
            return None
        setting = self.setting
        top = setting.length(setting.surface_mm)
        shift = f"{setting.surface_mm / setting.scale:.6g}"
        return Finding(
            "origin",
            "stop",
            f"every cut is at or below the axis of rotation (highest {setting.length(self.end)}) and begins inside the stock, whose "
            f"surface is {top} above the axis: the origin seems to be on top of the stock. Put it on the axis of rotation (the "
            f"top of the stock is then Z {shift}; for a program of one face use --shift 0,0,{shift})",
            operation=self.this.number,
        )

    def _over_axis(self, points: Floats) -> Floats:
        frame = self.this.frame
        assert isinstance(frame, OperationFrame)  # with a chain the surface is never in doubt
        return np.asarray(frame.work_of(points)[:, 2] - self.setting.frame.centre_mm[2])


MANY_TURNS = 2
"""From so many whole turns on it is told: one more or less is every day's work (common practice)."""


def turns_left(totals: Totals, setting: Setting, line: int) -> list[Finding]:
    """Whether the program leaves the rotary turns away from where it began, so that the next part begins with unwinding.

    A rotary that rolls over has nothing to unwind.
    """
    found = []
    for (letter, rotary), first, last in zip(setting.rotaries.items(), totals.first_deg, totals.last_deg, strict=False):
        way = last - first
        if rotary.travel.kind == "rollover" or not abs(way) >= 360.0 * MANY_TURNS - 0.5:
            continue
        sentence = (
            f"{setting.name_of(letter)} ends at {last:.10g} degrees, {round(abs(way) / 360.0, 1):.10g} turns from {first:.10g}, "
            "where the program starts: the next part starts by unwinding them at rapid"
        )
        if rotary.unwinding.at_end != "zero":
            sentence += f'; rotary.{letter}.unwinding.at_end = "zero" makes it turn back at the end of the program'
        found.append(Finding("turns-left", "look", sentence, line))
    return found


def beyond_travel(totals: Totals, setting: Setting) -> list[Finding]:
    """Which linear axes go farther from end to end than their travel."""
    found = []
    for axis, need in zip(AXES, totals.highest - totals.lowest, strict=False):
        travel = setting.profile.linear[axis].travel if axis in setting.profile.linear else 0.0
        if travel and isfinite(need) and need > travel:
            wrong = f"{axis} needs {setting.length(need)} of travel from end to end, and has {setting.length(travel)}"
            found.append(Finding("travel", "stop", wrong))
    return found


def path_mode_changes(changes: list[tuple[int, str]]) -> list[Finding]:
    """One for all changes of the path mode on the way, each a line and a code."""
    return [
        Finding("path-mode", "look", f"the path mode changes to {code} in the middle of the program", line, count=len(changes))
        for line, code in changes[:1]
    ]
