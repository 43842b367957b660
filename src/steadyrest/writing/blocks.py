"""Motion rows to blocks of a program: which words change, which rows say nothing, and the text of a whole chunk at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Codes, Ints, join, take
from steadyrest.errors import PlanError
from steadyrest.motion import ARC_CLOCKWISE, RAPID, Event, Motion
from steadyrest.writing.arcs import arc_columns, filled
from steadyrest.writing.feeds import feed_columns
from steadyrest.writing.numbers import Spelling
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import WordColumn, axis_column, axis_words, code_letter, line_text, places_of
from steadyrest.writing.word_formats import WordFormat

CHUNK = 8192
"""Blocks written at once: the sheet of their words stays in a processor's second cache."""


@dataclass(frozen=True, slots=True)
class Text:
    """Finished lines of motion, how many, and a length that none of them is above, line ending included."""

    text: bytes
    lines: int
    widest: int = 0


def gathered(items: Iterable[Motion | Event]) -> Iterator[Motion | Event]:
    """Small runs of one operation that follow each other, joined: a chunk costs the same whether it has two rows or two hundred."""
    waiting: list[Motion] = []
    rows = 0
    for item in items:
        if waiting and (isinstance(item, Event) or item.operation != waiting[0].operation or rows + len(item) > CHUNK):
            yield join(waiting)
            waiting, rows = [], 0
        if isinstance(item, Event):
            yield item
        else:
            waiting.append(item)
            rows += len(item)
    if waiting:
        yield join(waiting)


def motion_text(
    run: Motion,
    form: WordFormat,
    held: Held,
    numbering: Callable[[int], Ints] | None,
    found: Callable[[int, float], None],
    heard: Callable[[Ints], None] | None = None,
) -> Text:
    """A chunk of motion as lines; `held` is brought up to date.

    numbering   gives the next so many block numbers
    found       takes the rows and the worst percentage of a coarse F
    heard       takes the rows (k,) that became a line each
    """
    if not len(run):
        return Text(b"", 0)
    kind = run.kind
    axes = [column for axis in form.axes if (column := axis_column(axis, run, held)) is not None]
    of_arcs: list[WordColumn] = []
    if kind.max() >= ARC_CLOCKWISE:
        kind, of_arcs = arc_columns(run, axes, form, held)
    held.exact = np.array(run.xyz[-1]) if not np.isnan(run.xyz[-1]).any() else filled(run.xyz, held.exact)[-1]
    if all(axis.column < 3 for axis in form.axes) and (np.abs(np.nan_to_num(run.rotary_deg)) > 0).any():
        raise PlanError("the program turns the rotary, but no rotary was chosen", cure="choose a profile with a rotary, or give its letter")
    kept = kind >= ARC_CLOCKWISE
    for column in axes:
        kept |= column.said
        held.counts[column.letter] = int(column.values[-1])
        held.said.add(column.letter)
    rows = int(np.count_nonzero(kept))
    if not rows:
        return Text(b"", 0)
    if form.repeat_axes:
        axes = [replace(axis, said=~np.isnan(places_of(axis.axis, run))) if axis.letter in form.repeat_axes else axis for axis in axes]
    columns = [*of_arcs, *(axis_words(column, form) for column in axes if column.said.any())]
    mode, feed = run.feed_mode, run.feed
    if rows < len(run):
        kind, mode, feed = kind[kept], mode[kept], feed[kept]
        columns = [take(column, kept) for column in columns]
    feeds = feed_columns(kind != RAPID, mode, feed, form, held, found)
    # Words with the same letter stay in this order: feed mode, plane, motion.
    words = [*feeds, *columns[: len(of_arcs)], _kind_column(kind, form, held), *columns[len(of_arcs) :]]
    ordered = sorted((word for word in words if word.said.any()), key=lambda word: form.rank(word.letter))
    if numbering is not None:
        numbers = form.profile.program.block_numbers
        spelled = Spelling(0, digits=numbers.digits)
        ordered.insert(0, WordColumn(numbers.letter, numbering(rows), np.ones(rows, bool), spelled))
    if heard is not None:
        heard(np.flatnonzero(kept))
    text, widest = line_text(ordered, rows, spaces=form.spaces, ending=form.line_ending)
    return Text(text, rows, widest)


def _kind_column(kind: Codes, form: WordFormat, held: Held) -> WordColumn:
    """The words of rapids, lines and arcs."""
    said = np.append(kind[0] != held.motion, kind[1:] != kind[:-1])
    held.motion = int(kind[-1])
    if form.profile.words.repeat_motion:
        said[:] = True
    for code in np.flatnonzero(np.bincount(kind[said])):
        if not form.motion_codes[code]:
            name = ("rapids", "straight lines", "arcs clockwise", "arcs counterclockwise")[code]
            raise PlanError(f"the controller has no code for {name}", cure="set it in the profile's `codes`, or arcs.form to 'none'")
    return WordColumn(code_letter(form.motion_codes), kind.astype(np.int64), said, form.motion_codes)
