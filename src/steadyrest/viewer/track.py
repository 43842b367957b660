"""Where are the machine and the tip all along a program? Its motion as columns of positions, close enough together to be drawn.

To which operation a block belongs the proof says, which goes through program and toolpath side by side and keeps the time at feed and at
rapid that each operation took. Those times, added up, say where one ends and the next begins; nothing in the text has to be trusted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isnan, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats, Ints, join, or_zero, take
from steadyrest.proof import Rows, Setting, Verdict, rows_of
from steadyrest.reading import ArcsRead, MotionRead, ProgramItem, no_arcs, within_block

Array = NDArray[Any]

STEP_DEG = 4.0
"""A turn of the part or an arc is drawn in chords of at most so much: they miss a circle by less than 0.0007 of its radius."""
MOST_CHORDS = 60_000
"""Chords beyond one a block; where a program turns more, they get coarser."""
ABOVE = 1.25
"""A height that is not known because the tool is clear of everything is drawn at so many swept radii over the axis of rotation."""
HAIR = 1e-9
"""Part of the whole time; sums in another order differ by less."""
MOST_POSITIONS = 150_000
FIRST_OFF_MM = 0.001
WORST_OFF_MM = 1000.0


@dataclass(frozen=True, slots=True)
class Blocks:
    """n blocks of a program in order, mm, degrees and minutes; work coordinates. NaN is gone: what is not known is where it is drawn.

    line       (n,) int64, line of the program
    place_mm   (n + 1, 3), before the first block and after each
    word_deg   (n + 1,) the rotary's word, unwound
    minutes    (n,) how long it takes, by the F word or the axes, whichever is longer
    pause      (n,) minutes of dwell before it
    rapid      (n,) whether it is a rapid
    known      (n,) whether its end is known; a retract in machine coordinates is not
    tool       (n,) int64, number in the spindle, 0 where none is named
    arcs       of the n blocks
    """

    line: Ints
    place_mm: Floats
    word_deg: Floats
    minutes: Floats
    pause: Floats
    rapid: Bools
    known: Bools
    tool: Ints
    arcs: ArcsRead

    def __len__(self) -> int:
        return len(self.line)


@dataclass(frozen=True, slots=True)
class Track:
    """v positions in order; the first is where the program begins. Lengths in mm, work coordinates.

    line         (v,) int64, the line whose block leads here
    place_mm     (v, 3)
    word_deg     (v,) the rotary's word, unwound
    minutes      (v,) since the start, pauses counted, tool changes not
    rapid        (v,) whether the way here is a rapid
    known        (v,) whether the position is known, or only where it is drawn
    operation    (v,) uint16, from 1
    tool         (v,) int64, number in the spindle, 0 where none is named
    tip_mm_per_min      (v,) speed of the tip over the part on the way here; NaN where it takes no time
    rotary_deg_per_min  (v,) speed of the rotary, without sign, likewise
    whole        how many positions there were before thinning
    off_mm       how far thinning may have moved the drawn path, 0 when nothing was left out
    """

    line: Ints
    place_mm: Floats
    word_deg: Floats
    minutes: Floats
    rapid: Bools
    known: Bools
    operation: NDArray[np.uint16]
    tool: Ints
    tip_mm_per_min: Floats
    rotary_deg_per_min: Floats
    whole: int
    off_mm: float

    def __len__(self) -> int:
        return len(self.line)

    def part_mm(self, setting: Setting) -> Floats:
        """The positions (v, 3) over the part, in the part frame."""
        return setting.frame.to_part(self.place_mm, np.radians(setting.sigma * self.word_deg))


def blocks_of(items: Sequence[ProgramItem], setting: Setting) -> Blocks:
    """All motion of a program as its reader gives it. Empty when nothing moves."""
    runs: list[Rows] = []
    arcs = [no_arcs(0)]
    pauses: list[tuple[int, float]] = []
    tools: list[tuple[int, float]] = []
    selected, count = nan, 0
    for item in items:
        if isinstance(item, MotionRead):
            if len(item):
                runs.append(rows_of(item, setting))
                arcs.append(item.arcs or no_arcs(len(item)))
                count += len(item)
        elif item.kind == "dwell" and not isnan(item.number):
            pauses.append((count, item.number / 60))
        elif item.kind == "tool_selected":
            selected = item.number
            if not setting.profile.tool.change:
                tools.append((count, selected))
        elif item.kind == "tool_change":
            tools.append((count, selected if isnan(item.number) else item.number))
    place = np.concatenate([run.vertex[min(at, 1) :] for at, run in enumerate(runs)] or [np.zeros((1, 3))])
    word = np.concatenate([run.word_deg[min(at, 1) :] for at, run in enumerate(runs)] or [np.zeros(1)])
    pause, number = np.zeros(count + 1), np.zeros(count, dtype=np.int64)
    for at, spent in pauses:
        pause[at] += spent
    for at, tool in tools:
        number[at:] = 0 if isnan(tool) else int(tool)

    def joined(columns: Iterable[Array], kind: type[np.generic]) -> Array:
        return np.concatenate([np.zeros(0, dtype=kind), *columns])

    return Blocks(
        line=joined((run.line for run in runs), np.int64),
        place_mm=_drawn(place, joined((run.clear for run in runs), np.bool_), setting),
        word_deg=_filled(word),
        minutes=joined((np.fmax(run.minutes, run.machine) for run in runs), np.float64),
        pause=pause[:count],
        rapid=joined((run.rapid for run in runs), np.bool_),
        known=np.isfinite(place[1:]).all(axis=1) & np.isfinite(word[1:]),
        tool=number,
        arcs=join(arcs),
    )


def operation_of_blocks(blocks: Blocks, verdict: Verdict) -> NDArray[np.uint16]:
    """The number (n,) of each block's operation, from 1. What comes after the first difference gets the number after the last one found."""
    cut = np.cumsum(np.where(blocks.rapid, 0.0, blocks.minutes))
    rapid = np.cumsum(np.where(blocks.rapid, blocks.minutes, 0.0))
    cut_ends = np.cumsum([one.cutting_minutes for one in verdict.operations])
    rapid_ends = np.cumsum([one.rapid_minutes for one in verdict.operations])
    if len(cut_ends) == 0 or len(blocks) == 0:
        return np.ones(len(blocks), dtype=np.uint16)
    hair = HAIR * (cut[-1] + rapid[-1])
    at = np.maximum(np.searchsorted(cut_ends, cut - hair), np.searchsorted(rapid_ends, rapid - hair))
    most = len(cut_ends) if verdict.failure is not None else len(cut_ends) - 1
    return np.asarray(np.minimum(np.maximum.accumulate(at), most) + 1, dtype=np.uint16)


def first_lines(blocks: Blocks, operation: NDArray[np.uint16]) -> tuple[int, ...]:
    """The line at which each operation, from 1 to the last, begins to move."""
    if len(operation) == 0:
        return ()
    starts = np.searchsorted(operation, np.arange(1, int(operation[-1]) + 1))
    return tuple(int(line) for line in blocks.line[starts])


def track_of(blocks: Blocks, operation: NDArray[np.uint16], setting: Setting) -> Track:
    """Positions for drawing: the ends of all blocks, and points between where a block turns the part or is an arc."""
    n = len(blocks)
    chords = _chords(blocks)
    block = np.repeat(np.arange(n), chords)
    first = np.cumsum(chords) - chords
    share = (np.arange(len(block)) - first[block] + 1) / chords[block]
    place = within_block(blocks.place_mm, block, share, blocks.arcs)
    word = within_block(blocks.word_deg, block, share)
    begin = np.concatenate([blocks.place_mm[:1], place])
    turn = np.concatenate([blocks.word_deg[:1], word])
    spent = blocks.minutes[block] / chords[block]
    at_first = share * chords[block] < 1.5
    minutes = np.cumsum(np.concatenate([[0.0], spent + np.where(at_first, blocks.pause[block], 0.0)]))
    part = setting.frame.to_part(begin, np.radians(setting.sigma * turn))
    way = np.bincount(block, np.sqrt(((part[1:] - part[:-1]) ** 2).sum(axis=1)), n)
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = np.where(blocks.minutes > 0, way / blocks.minutes, np.nan)
        rotary = np.where(blocks.minutes > 0, np.abs(np.diff(blocks.word_deg)) / blocks.minutes, np.nan)
    unknown = ~blocks.known | ~np.concatenate([[False], blocks.known[:-1]])
    tip, rotary = np.where(unknown, np.nan, tip), np.where(unknown, np.nan, rotary)

    def spread(column: Array) -> Array:
        """One value a block to one a position, the first block's also for the start."""
        return np.concatenate([column[block[:1]], column[block]])

    return Track(
        line=spread(blocks.line),
        place_mm=begin,
        word_deg=turn,
        minutes=minutes,
        rapid=spread(blocks.rapid),
        known=spread(blocks.known),
        operation=spread(operation),
        tool=spread(blocks.tool),
        tip_mm_per_min=spread(tip),
        rotary_deg_per_min=spread(rotary),
        whole=len(begin),
        off_mm=0.0,
    )


def _chords(blocks: Blocks) -> Ints:
    """In how many chords (n,) each block is drawn."""
    turned = np.abs(np.diff(blocks.word_deg)) + np.degrees(np.abs(or_zero(blocks.arcs.sweep_rad)))
    step = STEP_DEG
    while (extra := np.ceil(turned / step)).sum() - np.count_nonzero(turned) > MOST_CHORDS:
        step *= 1.5
    return np.maximum(extra, 1).astype(np.int64)


def _drawn(place: Floats, clear: Bools, setting: Setting) -> Floats:
    """Positions (n + 1, 3) with a place for what is not known: clear heights above the part, all else where it last was."""
    out = place.copy()
    high = float(setting.frame.centre_mm[2]) + ABOVE * max(setting.swept_mm, setting.clear_mm)
    up = np.isnan(out[:, 2]) & np.concatenate([[True], clear | np.isnan(place[1:, 2])])
    out[up, 2] = np.fmax(high, np.nanmax(out[:, 2], initial=high)) if up.any() else high
    for axis in range(3):
        out[:, axis] = _filled(out[:, axis])
    return out


def _filled(column: Floats) -> Floats:
    """NaN replaced by the last known value, at the start by the first; 0 where none is known."""
    good = np.flatnonzero(np.isfinite(column))
    if len(good) == 0:
        return np.zeros_like(column)
    at = np.searchsorted(good, np.arange(len(column)), side="right") - 1
    return np.asarray(column[good[np.maximum(at, 0)]], dtype=np.float64)


def thinned(track: Track, setting: Setting, most: int = MOST_POSITIONS) -> Track:
    """At most some `most` positions. Every other one is left out where the way without it stays close, in passes that get coarser.

    Measured over the part and in work coordinates alike; ends of rapids, of operations and places that are not known are kept.
    `off_mm` of the result bounds how far any position left out is from the drawn path.
    """
    kept = np.arange(len(track))
    part, off, limit = track.part_mm(setting), 0.0, FIRST_OFF_MM
    while len(kept) > most and limit <= WORST_OFF_MM:
        middle = np.arange(1, len(kept) - 1, 2)
        here, before, after = kept[middle], kept[middle - 1], kept[middle + 1]
        alike = _same(track, here, before) & _same(track, here, after)
        gone = alike & (_off(part, before, here, after) <= limit) & (_off(track.place_mm, before, here, after) <= limit)
        if gone.sum() < 0.02 * len(kept):
            limit *= 2
            if not gone.any():
                continue
        off += limit
        stays = np.ones(len(kept), dtype=bool)
        stays[middle[gone]] = False
        kept = kept[stays]
    if len(kept) == len(track):
        return track
    return replace(take(track, kept), off_mm=off)


def _same(track: Track, one: Ints, other: Ints) -> Bools:
    return np.asarray(
        (track.rapid[one] == track.rapid[other])
        & (track.known[one] == track.known[other])
        & (track.operation[one] == track.operation[other])
    )


def _off(points: Floats, before: Ints, here: Ints, after: Ints) -> Floats:
    """Distance (k,) of points from the straight lines between those before and after."""
    start, way = points[before], points[after] - points[before]
    rel = points[here] - start
    length = (way * way).sum(axis=1)
    share = np.clip((rel * way).sum(axis=1) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(rel - share[:, None] * way, axis=1))
