"""Motion rows to blocks of a program: which rows say something, and which words each of them has."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, join, take
from steadyrest.errors import PlanError
from steadyrest.motion import ARC_CLOCKWISE, RAPID, Motion
from steadyrest.writing.arcs import arc_columns, filled
from steadyrest.writing.feeds import feed_columns
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import Breaks, WordColumn, axis_column, axis_words, code_letter, first_after, lasts, news, places_of
from steadyrest.writing.word_formats import WordFormat


@dataclass(frozen=True, slots=True)
class Blocks:
    """The blocks of a batch of motion.

    kept     (n,) bool, the rows that become a block each; the others say nothing
    words    of those blocks, in the order in which they stand in each
    coarse   rows (k,), and by how many percent (k,) their F takes the speed off
    held_after   what the controller holds after them, and after what comes between and behind
    """

    kept: Bools
    words: list[WordColumn]
    coarse: list[tuple[Ints, Floats]]
    held_after: Held


def motion_blocks(runs: list[Motion], breaks: Breaks, form: WordFormat, was: Held) -> Blocks:
    """The blocks of a batch; `was` is what the controller held before it."""
    held, n = was.copy(), sum(map(len, runs))
    if len(breaks.forgotten):
        held.forget()
    if len(breaks.lost):
        held.lose("Z")
    if not n:
        return Blocks(np.zeros(0, bool), [], [], held)
    run = join(runs)
    kind = run.kind
    axes = [column for axis in form.axes if (column := axis_column(axis, run, was, breaks)) is not None]
    of_arcs: list[WordColumn] = []
    if kind.max() >= ARC_CLOCKWISE:
        kind, of_arcs = arc_columns(run, axes, breaks, form, was, held)
    known = not np.isnan(run.xyz[-1]).any()
    held.exact = np.array(run.xyz[-1] if known else filled(run.xyz, was.exact, breaks)[-1])
    if not lasts(breaks.lost, n - 1):
        held.exact[2] = np.nan
    if all(axis.column < 3 for axis in form.axes) and (np.abs(np.nan_to_num(run.rotary_deg)) > 0).any():
        raise PlanError("the program turns the rotary, but no rotary was chosen", cure="choose a profile with a rotary, or give its letter")
    kept = kind >= ARC_CLOCKWISE
    for column in axes:
        kept |= column.said
        if column.stays:
            held.counts[column.letter] = int(column.values[-1])
        if column.is_said:
            held.said.add(column.letter)
    rows = int(np.count_nonzero(kept))
    if not rows:
        return Blocks(kept, [], [], held)
    if form.repeat_axes:
        axes = [replace(axis, said=~np.isnan(places_of(axis.axis, run))) if axis.letter in form.repeat_axes else axis for axis in axes]
    columns = [*of_arcs, *(axis_words(column, form) for column in axes if column.said.any())]
    mode, feed, forgotten = run.feed_mode, run.feed, breaks.forgotten
    if rows < n:
        kind, mode, feed, forgotten = kind[kept], mode[kept], feed[kept], np.searchsorted(np.flatnonzero(kept), forgotten)
        columns = [take(column, kept) for column in columns]
    feeds, coarse = feed_columns(kind != RAPID, mode, feed, forgotten, form, was, held)
    # Words with the same letter stay in this order: feed mode, plane, motion.
    words = [*feeds, *columns[: len(of_arcs)], _kind_column(kind, forgotten, form, was, held), *columns[len(of_arcs) :]]
    ordered = sorted((word for word in words if word.said.any()), key=lambda word: form.rank(word.letter))
    if coarse and rows < n:
        coarse = [(np.flatnonzero(kept)[at], percent) for at, percent in coarse]
    return Blocks(kept, ordered, coarse, held)


def _kind_column(kind: Codes, forgotten: Ints, form: WordFormat, was: Held, held: Held) -> WordColumn:
    """The words of rapids, lines and arcs."""
    said = news(kind, was.motion, first_after(forgotten, len(kind)))
    held.motion = int(kind[-1]) if lasts(forgotten, len(kind) - 1) else None
    if form.profile.words.repeat_motion:
        said[:] = True
    for code in np.flatnonzero(np.bincount(kind[said])):
        if not form.motion_codes[code]:
            name = ("rapids", "straight lines", "arcs clockwise", "arcs counterclockwise")[code]
            raise PlanError(f"the controller has no code for {name}", cure="set it in the profile's `codes`, or arcs.form to 'none'")
    return WordColumn(code_letter(form.motion_codes), kind.astype(np.int64), said, form.motion_codes)
