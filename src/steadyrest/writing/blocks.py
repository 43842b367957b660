"""Motion rows to blocks of a program: which rows say something, which words each of them has, and how far rounding takes F off."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, join, take
from steadyrest.conventions import ARC_CLOCKWISE, INVERSE, PER_MINUTE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Motion
from steadyrest.writing.arcs import arc_columns, filled
from steadyrest.writing.numbers import to_counts
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import (
    AxisColumn,
    Breaks,
    WordColumn,
    axis_column,
    axis_words,
    code_column,
    lasts,
    news,
    places_of,
    scattered,
)
from steadyrest.writing.word_formats import WordFormat

COARSE_PERCENT = 0.1
"""A feed rounded further off than this is told to the user."""


@dataclass(frozen=True, slots=True)
class Blocks:
    """The blocks of a batch of motion.

    kept         (n,) bool, the rows that become a block each; the others say nothing
    words        of those blocks, in the order in which they stand in each
    off_percent  (n,) float64, by how much the F of each takes the speed off
    held_at      what it holds, as far as a cycle depends on it, before each silent row
    held_after   what the controller holds after them, and after what comes between and behind
    """

    kept: Bools
    words: list[WordColumn]
    off_percent: Floats
    held_at: list[Held]
    held_after: Held


def motion_blocks(runs: list[Motion], breaks: Breaks, form: WordFormat, was: Held) -> Blocks:
    """The blocks of a batch; `was` is what the controller held before it."""
    held, n = replace(was, counts=was.counts.copy(), said=was.said.copy(), exact=was.exact.copy()), sum(map(len, runs))
    if len(breaks.forgotten):  # everything is stated again; where the axes stand is still known
        held = Held(held.counts, exact=held.exact, mode_now=held.mode_now)
    if len(breaks.lost):  # Z is moved in a way that leaves its place in work coordinates unknown
        held.counts.pop("Z", None)
        held.said.discard("Z")
        held.exact[2] = np.nan
    if not n:
        return Blocks(np.zeros(0, bool), [], np.zeros(0), [], held)
    run = join(runs)
    kind, last = run.kind, run.xyz[-1]
    is_known = lasts(breaks.lost, n - 1) and not np.isnan(last).any()
    held.exact = (last if is_known else filled(run.xyz, was.exact, breaks)[-1]).copy()
    axes = [column for axis in form.axes if (column := axis_column(axis, run, was, breaks)) is not None]
    of_arcs: list[WordColumn] = []
    if kind.max() >= ARC_CLOCKWISE:
        kind, of_arcs = arc_columns(run, axes, breaks, form, was, held)
    if all(axis.column < 3 for axis in form.axes) and (np.abs(np.nan_to_num(run.rotary_deg)) > 0).any():
        raise PlanError("the program turns the rotary, but no rotary was chosen", cure="choose a profile with a rotary, or give its letter")
    kept = kind >= ARC_CLOCKWISE
    for column in axes:
        kept |= column.said
        if column.stays:
            held.counts[column.letter] = int(column.values[-1])
        if column.is_said:
            held.said.add(column.letter)
    kept[breaks.silent] = False
    cuts = np.flatnonzero(kept & (kind != RAPID))
    ends_in_cycle = form.has_inverse and len(breaks.silent) > 0 and (not len(cuts) or breaks.silent[-1] > cuts[-1])
    held_at = [_held_at(row, run, kind, kept, axes, breaks, was) for row in breaks.silent.tolist()]
    rows = int(np.count_nonzero(kept))
    if not rows:
        held.mode_now = PER_MINUTE if ends_in_cycle else held.mode_now
        return Blocks(kept, [], np.zeros(n), held_at, held)
    if form.repeat_axes:
        axes = [replace(axis, said=~np.isnan(places_of(axis.axis, run))) if axis.letter in form.repeat_axes else axis for axis in axes]
    columns = [*of_arcs, *(axis_words(column, form) for column in axes if column.said.any())]
    mode, feed, forgotten = run.feed_mode, run.feed, breaks.forgotten
    if rows < n:
        kind, mode, feed, forgotten = kind[kept], mode[kept], feed[kept], np.searchsorted(np.flatnonzero(kept), forgotten)
        columns = [take(column, kept) for column in columns]
    off_percent = np.zeros(n)
    feeds, off_percent[kept] = feed_columns(kind != RAPID, mode, feed, forgotten, form, was, held)
    held.mode_now = PER_MINUTE if ends_in_cycle else held.mode_now
    of_kind, held.motion = code_column(
        form.motion_codes,
        kind,
        np.arange(rows),
        rows,
        was.motion,
        forgotten,
        every=form.profile.words.repeat_motion,
        names=("rapids", "straight lines", "arcs clockwise", "arcs counterclockwise"),
        cure="set it in the profile's `codes`, or arcs.form to 'none'",
    )
    # Words with the same letter stay in this order: feed mode, plane, motion.
    words = [*feeds, *columns[: len(of_arcs)], of_kind, *columns[len(of_arcs) :]]
    ordered = sorted((word for word in words if word.said.any()), key=lambda word: form.rank(word.letter))
    return Blocks(kept, ordered, off_percent, held_at, held)


def _held_at(row: int, run: Motion, kind: Codes, kept: Bools, axes: list[AxisColumn], breaks: Breaks, was: Held) -> Held:
    """What is held before a row: the feed mode and the plane as they were last said, and where the axes stand."""
    since = int(breaks.forgotten[breaks.forgotten <= row].max(initial=0))
    known = was if not (breaks.forgotten <= row).any() else Held()
    planes = kind if run.arcs is None else run.arcs.plane
    said = [known.mode, known.plane]
    for at, (rows, values) in enumerate(((kind != RAPID, run.feed_mode), (kind >= ARC_CLOCKWISE, planes))):
        last = np.flatnonzero(rows[since:row] & kept[since:row])
        if len(last):
            said[at] = int(values[since + last[-1]])
    return Held(counts={axis.letter: int(axis.before[row]) for axis in axes}, mode=said[0], plane=said[1])


def feed_columns(
    cutting: Bools, mode: Codes, feed: Floats, forgotten: Ints, form: WordFormat, was: Held, held: Held
) -> tuple[list[WordColumn], Floats]:
    """Feeds of a batch as words, the words of their modes first; `was` is what the controller held before it, `held` what it holds after.

    cutting     (n,) bool, the row moves at feed; mode (n,) uint8; feed (n,) float64, exact F words
    forgotten   rows before which every word has to be said again
    returns     the columns; and by how many percent (n,) the F word of each takes the speed off
    raises      PlanError for a feed that is no positive number, or a mode that the controller does not have
    """
    n, rows = len(mode), np.flatnonzero(cutting)
    off_percent = np.zeros(n)
    if not len(rows):
        return [], off_percent
    modes, feeds = (mode, feed) if len(rows) == n else (mode[rows], feed[rows])
    if not feeds.min() > 0:
        raise PlanError("a block moves at feed without a feed above zero", cure="give every cut a feed")
    if not form.has_inverse and (modes == INVERSE).any():
        raise PlanError("the controller has no inverse-time feed", cure="set feed.inverse_code, or feed.combined to 'per_minute'")
    if form.has_inverse and not form.profile.feed.per_minute_code and (modes == PER_MINUTE).any():
        raise PlanError("the controller has no code to go back to feed per minute", cure="set feed.per_minute_code")
    of_modes, held.mode = code_column(form.mode_codes, modes, rows, n, was.mode, forgotten)
    changed = of_modes.said[rows]
    columns = [of_modes] if form.has_inverse and changed.any() else []
    for one in (PER_MINUTE, INVERSE):
        here = modes == one
        if not here.any():
            continue
        among = slice(None) if here.all() else np.flatnonzero(here)
        counts, off_percent[rows[among]] = feed_counts(feeds[among], one, form)
        said = np.ones(len(counts), bool)
        if one == PER_MINUTE and not form.profile.words.repeat_feed:
            said = changed[among] | news(counts, was.feed, rows[:0])
        if said.any():
            columns.append(scattered("F", counts, said, form.feed[one], rows[among], n))
        if modes[-1] == one:
            held.feed = int(counts[-1]) if one == PER_MINUTE and held.mode is not None else None
    held.mode_now = int(modes[-1])
    return columns, off_percent


def feed_counts(feeds: Floats, mode: int, form: WordFormat) -> tuple[Ints, Floats]:
    """F words in counts, and by how many percent each takes the speed off what was asked.

    A feed never becomes zero: the least is one count. None is above the controller's largest F.
    """
    spelled = form.feed[mode]
    largest = form.largest_feed(mode)
    is_time = mode == INVERSE and form.profile.feed.inverse_is == "seconds"
    if is_time and feeds.max() > largest * (1 + 1e-9):
        raise PlanError(
            f"a block takes {float(feeds.max()):g} seconds, but the largest F is {largest:g}: with that it would move too fast",
            cure="split the move, or raise the feed",
        )
    counts = np.clip(to_counts(feeds, spelled), 1, max(1, math.floor(largest * spelled.scale + 1e-6)))
    written = counts / spelled.scale
    off = np.abs(feeds / written - 1) if is_time else np.abs(written / feeds - 1)
    return counts, 100 * off
