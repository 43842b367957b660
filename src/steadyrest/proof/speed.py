"""Is the tip as fast as it should be? Time by the F word against what feed, axes and F allow, in columns and straight down alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, run_around
from steadyrest.proof.chain import sizes
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.figures import LEAST_KEPT, StretchFigures
from steadyrest.proof.measure import Measured
from steadyrest.proof.rows import Rows
from steadyrest.proof.safety import PART_IN
from steadyrest.proof.setting import Setting, count_of
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import feed_word, speed

FASTEST_BY_ROUNDING = 1e-2
"""As much too fast, as a fraction, the rounding of F may make a block that is not itself hardly longer than the rounding of its ends."""


def pause_slack_s(setting: Setting, seconds: float, letter: str = "") -> float:
    """How far a pause may be off, seconds: half a count of its word (which has the letter), and what a speed may be."""
    profile = setting.profile
    unit = 1e-3 if profile.codes.dwell_unit == "milliseconds" else 1.0
    return 0.5 * count_of(profile, letter, profile.numbers.dwell) * unit + PART_IN * seconds + 1e-9


@dataclass(frozen=True, slots=True)
class Timing:
    """Of k blocks: the first that is wrong and why, or None; and of each (k,), speeds as fractions of the feed:

    lowered   whether it is slower than it has to be, but not by so much that it is wrong
    kept      its speed as a fraction of the highest that feed, axes and F allow
    faster    by how much it is faster than the feed, with rounding
    slowed    its speed where a limit holds it back, else 1
    """

    wrong: tuple[int, str] | None
    lowered: Bools
    kept: Floats
    faster: Floats
    slowed: Floats


def judge(
    minutes: Floats,
    feed: Floats,
    largest_feed: Floats,
    intended_mm: Floats,
    program_mm: Floats,
    machine: Floats,
    least: Floats,
    count: Floats,
    travel_mm: Floats,
    rounding_mm: float,
    starts: Sequence[int] | Ints = (0,),
) -> Timing:
    """Judge k blocks at feed.

    minutes      by the F word; `feed` (k,) what the tip is to do over the part, mm per minute; `largest_feed` where several may be meant
    intended_mm, program_mm   length of the tip's path over the part, as intended and with the words' rounding: a block is right by either
    machine      the least time of the axes, `least` that of the largest F, minutes; `count` one count of F, as a fraction
    travel_mm    the way of the axes; it stands in for the path where the tip hardly moves over the part (it only turns about the tip)
    rounding_mm  by how much the rounding of its two ends may lengthen or shorten a block
    starts       the first block of each stretch that is judged as one
    """
    near, far = np.minimum(intended_mm, program_mm), np.maximum(intended_mm, program_mm)
    short = np.maximum(near - rounding_mm, 0.0) / largest_feed
    long = far / feed
    turning = np.where(intended_mm <= rounding_mm, travel_mm / feed, 0.0)
    bound = np.maximum(machine, least)
    slow = np.maximum(np.maximum(long, bound) * (1 + rounding_mm / np.maximum(far, 1e-12)), turning)
    # F was rounded by half a count at most: the F meant is no less than F minus that.
    allowed_fast = np.maximum(1 + PART_IN, 1 / (1 - np.minimum(0.5 * count, 0.9))) + 1e-9
    allowed_fast = np.where(near > 4 * rounding_mm, np.minimum(allowed_fast, 1 + FASTEST_BY_ROUNDING), allowed_fast)
    allowed_slow = 1 + np.maximum(PART_IN, count)
    too_fast = ~(minutes * allowed_fast >= short)  # a time that is not known is wrong as well
    lowered = ~(minutes <= slow * allowed_slow)
    too_slow = lowered & ~(minutes * LEAST_KEPT <= slow * allowed_slow)
    known = np.where(minutes > 0, minutes, 1.0)
    ratio = np.where(minutes > 0, short / known, np.where(short > 0, np.inf, 0.0))
    kept = np.where(minutes > 0, far / feed / known, 1.0)
    held_back = (kept < 1 - 2 * PART_IN) & (kept < 1 - 2 * count) & (bound > long)
    together = _sum_too_short(minutes, largest_feed, intended_mm, program_mm, allowed_fast, rounding_mm, starts)
    found = [one for one in (_first(too_fast, too_slow, ratio, kept), together) if one is not None]
    return Timing(
        min(found, key=lambda one: int(np.searchsorted(starts, one[0], side="right")), default=None),
        lowered,
        np.maximum(np.maximum(long, bound), turning) / known,
        ratio - 1.0,
        np.where(held_back, kept, 1.0),
    )


def time_of(found: Measured, cutting: Ints, setting: Setting, reach_mm: float, starts: Sequence[int] | Ints = (0,)) -> Timing:
    """Judge those of the blocks that cut; `starts` as in `judge`, among these."""
    rows, blocks = found.rows, found.blocks
    which: Ints | slice = slice(None) if len(cutting) == len(found.pairs) else cutting
    rounding = 2 * (setting.slack_mm - setting.tolerance_mm)
    travel = np.zeros(len(cutting))
    if len(short := np.flatnonzero(found.intended_mm[which] <= rounding)):
        row = np.arange(blocks.start, blocks.stop) if isinstance(blocks, slice) else blocks
        at = row[cutting[short]]
        turn = np.abs(rows.phi[at + 1] - rows.phi[at])
        travel[short] = sizes(rows.vertex[at + 1] - rows.vertex[at]) + (turn if turn.ndim == 1 else turn.sum(axis=1)) * setting.swept_mm
    least, most = _feeds_around(found, which, reach_mm)
    return judge(
        rows.minutes[blocks][which],
        least,
        most,
        found.intended_mm[which],
        found.program_mm[which],
        rows.machine[blocks][which],
        rows.least[blocks][which],
        rows.count[blocks][which],
        travel,
        rounding,
        starts,
    )


def _feeds_around(found: Measured, which: Ints | slice, reach_mm: float) -> tuple[Floats, Floats]:
    """The least and the largest feed that may be meant for each block.

    A block shorter than the tolerance may belong to the move before or after as well: which one it was written for cannot be told.
    """
    elements, element = found.elements, found.pairs.element[which]
    feed = elements.feed[element]
    tiny = np.flatnonzero(np.minimum(found.intended_mm, found.program_mm)[which] <= 2 * reach_mm)
    if len(tiny) == 0:
        return feed, feed
    near = element[tiny][:, None] + np.arange(-2, 3)[None, :]
    feeds = elements.feed[np.clip(near, 0, len(elements) - 1)]
    least, most = feed.copy(), feed.copy()
    least[tiny], most[tiny] = np.nanmin(feeds, axis=1), np.nanmax(feeds, axis=1)
    return least, most


def figures_of(
    found: Measured,
    timing: Timing,
    cutting: Ints,
    starts: Sequence[int] | Ints,
    counts: Sequence[int] | Ints,
    begins: Sequence[int] | Ints,
) -> list[StretchFigures]:
    """The figures of stretches that are right; `starts` as in `judge`, `counts` their blocks, rapids among them, from block `begins` on."""
    columns = found.apart_mm[cutting], found.radius_mm[cutting], found.axis_rad[cutting], timing.faster
    most = [np.maximum.reduceat(column, starts) for column in columns]
    of_chains = (found.uneven, found.at_pole_rad)
    most += [np.zeros(len(starts)) if column is None else np.maximum.reduceat(column[cutting], starts) for column in of_chains]
    slowed, slowest = np.add.reduceat(timing.slowed < 1.0, starts, dtype=np.int64), np.minimum.reduceat(timing.slowed, starts)
    ends = np.append(np.asarray(starts)[1:], len(cutting))
    last = cutting[ends - 1]
    around = [(0, 0)] * len(slowed)
    for one in np.flatnonzero(slowed).tolist():
        part = slice(int(starts[one]), int(ends[one]))
        blocks, held = cutting[part] - begins[one], timing.slowed[part]
        around[one] = run_around(blocks[held < 1.0], int(blocks[np.argmin(held)]))
    feeds = found.elements.feed[found.pairs.element[last]]
    told = (np.asarray(column).tolist() for column in (counts, *most, slowed, slowest, feeds))
    return [StretchFigures(*one) for one in zip(*told, around, strict=True)]


def _first(too_fast: Bools, too_slow: Bools, ratio: Floats, kept: Floats) -> tuple[int, str] | None:
    bad = too_fast | too_slow
    if not bad.any():
        return None
    row = int(np.argmax(bad))
    if np.isnan(ratio[row]) or np.isnan(kept[row]):
        return row, "the speed of the tip is unknown: the block starts at an unknown position"
    if too_fast[row]:
        return row, f"the tip moves {_times(float(ratio[row]))} as fast as the feed"
    return row, f"the tip moves {_times(float(kept[row]))} as fast as the feed, and no limit of the machine explains it"


def _times(ratio: float) -> str:
    return "infinitely many times" if not np.isfinite(ratio) else f"{ratio:.4g} times"


def _sum_too_short(
    minutes: Floats,
    feed: Floats,
    intended_mm: Floats,
    program_mm: Floats,
    allowed: Floats,
    rounding_mm: float,
    starts: Sequence[int] | Ints,
) -> tuple[int, str] | None:
    """The blocks of a stretch together: the rounding of positions, which excuses much in a very short block, grows only as the root of
    their number.
    """
    share = 1 / (feed * allowed)
    columns = intended_mm * share, program_mm * share, share * share, minutes
    intended, program, squares, took = (np.add.reduceat(column, starts) for column in columns)
    needed = np.minimum(intended, program)
    short = np.flatnonzero(~(took >= needed * (1 - PART_IN) - 2 * rounding_mm * np.sqrt(squares)))
    if len(short) == 0:
        return None
    at = int(short[0])
    first, stop = [*starts, len(minutes)][at : at + 2]
    ratio = float(needed[at] / took[at]) if took[at] > 0 else np.inf
    return int(first), f"over {stop - first} blocks from here on the tip moves {_times(ratio)} as fast as the feed"


def judge_straight(cursor: Cursor, operation: int, move: int | None, way_mm: float, feeds: tuple[float, float], what: str) -> None:
    """Judge the next block, straight along the spindle.

    feeds    mm per minute: the least and the largest that may be meant
    what     what the tool does, for the sentence
    raises   Mismatch of kind "feed"; what is lowered by a little is noted
    """
    rows, at, setting = cursor.rows, cursor.at, cursor.setting
    if (differs := unlike(rows, at, setting, way_mm, feeds)) is None:
        return
    too_fast, fastest, bound = differs
    minutes, least, most = float(rows.minutes[at]), way_mm / feeds[1], way_mm / feeds[0]
    said, asked = feed_word(rows, at, setting, way_mm / minutes if minutes > 0 else float("inf")), speed(setting, feeds[1])
    if too_fast or not minutes * LEAST_KEPT <= bound:
        ratio = (least if too_fast else most) / minutes if minutes > 0 else float("inf")
        why = "" if too_fast else ", and no limit of the machine explains it"
        sentence = f"{said}; the toolpath asks for {asked}: {what} {ratio:.4g} times as fast as the feed{why}"
        raise Mismatch("feed", sentence, line=cursor.line, move=move)
    cursor.lowered.note(operation, cursor.line, said, asked, fastest / minutes)


def unlike(rows: Rows, at: int, setting: Setting, way_mm: float, feeds: tuple[float, float]) -> tuple[bool, float, float] | None:
    """None for a block straight along the spindle that is as fast as it should be; else whether it is too fast, and the longest time that
    limits explain, minutes, twice: bare, and with rounding.
    """
    minutes, count, linear = float(rows.minutes[at]), float(rows.count[at]), setting.rounding.linear_mm
    if way_mm <= 2 * linear:
        return None
    rounded = 2 * linear / way_mm  # F may be that of the step before its ends were rounded
    least, most = way_mm / feeds[1], way_mm / feeds[0]
    fastest = max(most, float(rows.machine[at]), float(rows.least[at]))
    bound = fastest * (1 + max(PART_IN, count)) * (1 + rounded)
    too_fast = not minutes * (1 + max(PART_IN, min(0.5 * count, FASTEST_BY_ROUNDING))) >= least * (1 - rounded)
    return None if not too_fast and minutes <= bound else (too_fast, fastest, bound)
