"""Where are the machine and the tip all along a program? Its motion as columns of positions, close enough together to be drawn.

To which operation a line belongs the proof says, which goes through program and toolpath side by side: nothing in the text is trusted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, isnan, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats, Ints, join, or_zero, take
from steadyrest.proof import OperationFigures, Setting, no_rows, poses, rows_of
from steadyrest.reading import MotionRead, ProgramItem, no_arcs, within_block

Array = NDArray[Any]

STEP_DEG = 4.0
"""A turn of the part or an arc is drawn in chords of at most so much: they miss a circle by less than 0.0007 of its radius."""
MOST_CHORDS = 60_000
"""Chords beyond one a block; where a program turns more, they get coarser."""
ABOVE = 1.25
"""A height that is not known because the tool is clear of everything is drawn at so many swept radii over the axis of rotation."""
MOST_POSITIONS = 150_000
FIRST_OFF_MM = 0.001
WORST_OFF_MM = 1000.0


@dataclass(frozen=True, slots=True)
class Track:
    """v positions in order; the first is where the program begins. Lengths in mm, work coordinates.

    line         (v,) int64, the line whose block leads here
    place_mm     (v, 3)
    word_deg     (v, r) the words of the rotaries, unwound, counted from the part to the spindle
    minutes      (v,) since the start, pauses counted, tool changes not
    blocks       (v,) how many blocks that move are done by then, the last in part
    rapid        (v,) whether the way here is a rapid
    known        (v,) whether the position is known, or only where it is drawn
    operation    (v,) uint16, from 1
    tool         (v,) int64, number in the spindle, 0 where none is named
    tip_mm_per_min      (v,) speed of the tip over the part on the way here; NaN where it takes no time
    rotary_deg_per_min  (v, r) speed of each rotary, without sign, likewise
    whole        how many positions there were before thinning
    off_mm       how far thinning may have moved the drawn path, 0 when nothing was left out
    """

    line: Ints
    place_mm: Floats
    word_deg: Floats
    minutes: Floats
    blocks: Floats
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
        return _in_part(self.place_mm, self.word_deg, self.tool, setting)


def track_of(items: Sequence[ProgramItem], setting: Setting, operations: Sequence[OperationFigures] = (), *, failed: bool = False) -> Track:
    """All motion of a program as its reader gives it: the ends of its blocks, and points between where one turns the part or is an arc.

    operations   as the proof found them, in order; without any all is one
    failed       the proof stopped at a difference: what comes after it gets the number after the last operation found
    """
    read = [item for item in items if isinstance(item, MotionRead) and len(item)]
    pause, tool = _pauses_and_tools(items, setting, sum(map(len, read)))
    firsts = np.cumsum([0, *map(len, read)])
    runs = [rows_of(run, setting, float(tool[first])) for run, first in zip(read, firsts, strict=False)] or [no_rows(setting)]
    vertex = np.concatenate([run.vertex[min(at, 1) :] for at, run in enumerate(runs)])
    words_read = [run.word_deg.reshape(len(run) + 1, -1)[:, : len(setting.rotaries)] for run in runs]
    unwound = np.concatenate([words[min(at, 1) :] for at, words in enumerate(words_read)])
    line, rapid, clear = (np.concatenate(each) for each in zip(*((run.line, run.rapid, run.clear) for run in runs), strict=True))
    minutes = np.concatenate([np.fmax(run.minutes, run.machine) for run in runs])  # by the F word or the axes, whichever is longer
    arcs = join([run.arcs or no_arcs(len(run)) for run in runs])
    known = np.isfinite(vertex[1:]).all(axis=1) & np.isfinite(unwound[1:]).all(axis=1)
    ends, words = _drawn(vertex, clear, setting), _filled(unwound)
    turns = np.abs(np.diff(words, axis=0))

    chords = _chords(turns.sum(axis=1) + np.degrees(np.abs(or_zero(arcs.sweep_rad))))
    block = np.repeat(np.arange(len(line)), chords)
    number = np.arange(len(block)) - (np.cumsum(chords) - chords)[block] + 1
    share = number / chords[block]
    place = np.concatenate([ends[:1], within_block(ends, block, share, arcs)])
    word = np.concatenate([words[:1], within_block(words, block, share)])
    spent = minutes[block] / chords[block] + np.where(number == 1, pause[block], 0.0)
    part = _in_part(place, word, np.concatenate([tool[block[:1]], tool[block]]), setting)
    way = np.bincount(block, np.sqrt(((part[1:] - part[:-1]) ** 2).sum(axis=1)), len(line))
    timed = (minutes > 0) & known & np.concatenate([[False], known])[:-1]
    spent_on = np.where(timed, minutes, nan)
    tip, rotary = way / spent_on, turns / spent_on[:, None]

    def spread(column: Array) -> Array:
        """One value a block to one a position, the first block's also for the start."""
        return np.concatenate([column[block[:1]], column[block]])

    after = np.searchsorted([one.last_line for one in operations], line)  # which operations have ended before
    operation = np.minimum(after, max(len(operations) - (not failed), 0)) + 1
    return Track(
        line=spread(line),
        place_mm=place,
        word_deg=word,
        minutes=np.cumsum(np.concatenate([[0.0], spent])),
        blocks=np.concatenate([[0.0], block + share]),
        rapid=spread(rapid),
        known=spread(known),
        operation=spread(operation.astype(np.uint16)),
        tool=spread(tool),
        tip_mm_per_min=spread(tip),
        rotary_deg_per_min=spread(rotary),
        whole=len(place),
        off_mm=0.0,
    )


def _in_part(place_mm: Floats, word_deg: Floats, tool: Ints, setting: Setting) -> Floats:
    """Positions (v, 3) over the part, in the part frame, of X Y Z (v, 3), words (v, r) and tool numbers (v,)."""
    if not setting.lines:
        return setting.frame.to_part(place_mm, np.radians(setting.sigma * word_deg.sum(axis=1)))
    part = np.empty_like(place_mm)
    for number in np.unique(tool):
        here = tool == number
        part[here] = poses(setting.lines_with(float(number)), place_mm[here], np.radians(word_deg[here]))[0]
    return part


def _pauses_and_tools(items: Sequence[ProgramItem], setting: Setting, blocks: int) -> tuple[Floats, Ints]:
    """Minutes of dwell before each block (n,), and the number of the tool in the spindle (n,), 0 where none is named."""
    pause, tool = np.zeros(blocks + 1), np.zeros(blocks, dtype=np.int64)
    selected, count = nan, 0
    for item in items:
        if isinstance(item, MotionRead):
            count += len(item)
        elif item.kind == "dwell" and not isnan(item.number):
            pause[count] += item.number / 60
        elif item.kind in ("tool_selected", "tool_change"):
            selected = item.number if item.kind == "tool_selected" or not isnan(item.number) else selected
            if item.kind == "tool_change" or not setting.profile.tool.change:
                tool[count:] = 0 if isnan(selected) else int(selected)
    return pause[:blocks], tool


def _chords(turned_deg: Floats) -> Ints:
    """In how many chords (n,) each block is drawn."""
    step = STEP_DEG
    while (extra := np.ceil(turned_deg / step)).sum() - np.count_nonzero(turned_deg) > MOST_CHORDS:
        step *= 1.5
    return np.maximum(extra, 1).astype(np.int64)


def _drawn(place: Floats, clear: Bools, setting: Setting) -> Floats:
    """Positions (n + 1, 3) with a place for what is not known: clear heights above the part, all else where it last was."""
    out = place.copy()
    height = setting.clear_mm if isfinite(setting.clear_mm) else setting.top_mm
    high = float(setting.frame.centre_mm[2]) + ABOVE * max(setting.swept_mm, height)
    up = np.isnan(out[:, 2]) & np.concatenate([[True], clear | np.isnan(place[1:, 2])])
    out[up, 2] = np.fmax(high, np.nanmax(out[:, 2], initial=high)) if up.any() else high
    return _filled(out)


def _filled(columns: Floats) -> Floats:
    """Columns (n, k), NaN replaced by the last known value, at the start by the first; 0 where none is known."""
    return np.stack([_filled_one(column) for column in columns.T], axis=1) if columns.shape[1] else columns


def _filled_one(column: Floats) -> Floats:
    good = np.isfinite(column)
    if not good.any():
        return np.zeros_like(column)
    return np.asarray(column[np.maximum.accumulate(np.where(good, np.arange(len(column)), good.argmax()))])


def thinned(track: Track, setting: Setting, most: int = MOST_POSITIONS) -> Track:
    """At most some `most` positions. Every other one is left out where the way without it stays close, in passes that get coarser.

    Measured over the part and in work coordinates alike; ends of rapids, of operations and places that are not known are kept.
    `off_mm` of the result bounds how far any position left out is from the drawn path.
    """
    kept = np.arange(len(track))
    alike = 4 * track.operation.astype(np.int64) + 2 * track.rapid + track.known
    part, off, limit = track.part_mm(setting), 0.0, FIRST_OFF_MM
    while len(kept) > most and limit <= WORST_OFF_MM:
        middle = np.arange(1, len(kept) - 1, 2)
        here, before, after = kept[middle], kept[middle - 1], kept[middle + 1]
        gone = (alike[here] == alike[before]) & (alike[here] == alike[after])
        for points in (part, track.place_mm):
            gone &= off_way(points[here], points[before], points[after]) <= limit
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


def off_way(points: Floats, start: Floats, end: Floats) -> Floats:
    """Distance (k,) of points (k, 3), or of one (3,), from the straight ways between others."""
    way, rel = end - start, points - start
    length = (way * way).sum(axis=1)
    share = np.clip((rel * way).sum(axis=1) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(rel - share[:, None] * way, axis=1))
