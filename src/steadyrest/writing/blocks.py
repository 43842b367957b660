"""Motion rows to blocks of a program: which words change, which rows say nothing, and the text of a whole chunk at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Codes, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import ARC_CLOCKWISE, RAPID, Motion
from steadyrest.writing.arcs import Arcs, ArcWords, arc_words, as_lines
from steadyrest.writing.axis_words import AxisColumn, axis_column, axis_slot, commanded
from steadyrest.writing.dialect import CENTRE_LETTERS, PLANE_AXES, Dialect
from steadyrest.writing.feeds import FeedWords, feed_words
from steadyrest.writing.modal import Modal
from steadyrest.writing.slots import Flags, Slot, block_number_slot, code_slot, lines, number_slot

CHUNK = 8192
"""Blocks written at once: the sheet of their words stays in a processor's second cache."""


@dataclass(frozen=True, slots=True)
class Text:
    """Finished lines of motion, how many, and a length that none of them is above, line ending included."""

    text: bytes
    lines: int
    widest: int = 0


Numbering = Callable[[int], Ints]
"""Gives the next so many block numbers."""


def motion_text(
    run: Motion,
    dialect: Dialect,
    modal: Modal,
    numbering: Numbering | None,
    found: Callable[[int, float], None],
    heard: Callable[[Ints], None] | None = None,
) -> Text:
    """A chunk of motion as lines; `modal` is brought up to date.

    found   takes the rows and the worst percentage of a coarse F
    heard   takes the rows (k,) that became a line each
    """
    n = len(run)
    if not n:
        return Text(b"", 0)
    motion = run.kind
    columns = [column for axis in dialect.axes if (column := axis_column(axis, run, modal)) is not None]
    arc_rows = np.flatnonzero(motion >= ARC_CLOCKWISE) if motion.max() >= ARC_CLOCKWISE else np.zeros(0, np.int64)
    arcs: ArcWords | None = None
    if len(arc_rows):
        motion, arc_rows, arcs = _with_arcs(run, arc_rows, columns, dialect, modal)
    modal.exact = _last_exact(run.xyz, modal.exact)
    _check_still(run, dialect)
    kept = np.zeros(n, bool)
    for column in columns:
        kept |= column.said
    if arcs is not None:
        kept[arc_rows] = True
    if dialect.repeat_axes:
        for column in columns:
            if column.axis.letter in dialect.repeat_axes:
                column.said = commanded(column.axis, run)
    slots = [axis_slot(column, dialect) for column in columns if column.said.any()]
    if arcs is not None:
        slots += _centre_slots(arcs, arc_rows, n, dialect)
    everything = bool(kept.all())
    if not everything:
        if not kept.any():
            _remember(columns, modal)
            return Text(b"", 0)
        slots = [_compressed(slot, kept) for slot in slots]
    mode, feed = run.feed_mode, run.feed
    if not everything:
        motion, mode, feed = motion[kept], mode[kept], feed[kept]
    feeds = feed_words(motion != RAPID, mode, feed, dialect, modal)
    if feeds.coarse:
        found(feeds.coarse, feeds.worst_percent)
    # Words with the same letter stay in this order: feed mode, plane, motion.
    first = _mode_slots(feeds, dialect)
    if arcs is not None:
        first += _plane_slots(run, arc_rows, kept, dialect, modal)
    first += _motion_slots(motion, dialect, modal)
    ordered = sorted([*first, *slots, *feeds.slots], key=lambda slot: dialect.rank(slot.letter))
    rows = len(motion)
    if numbering is not None:
        numbers = dialect.profile.program.block_numbers
        ordered.insert(0, block_number_slot(numbers.letter, numbering(rows), numbers.digits))
    _remember(columns, modal)
    if heard is not None:
        heard(np.flatnonzero(kept))
    widest = 4 + 4 * sum(len(slot.pieces) for slot in ordered)
    return Text(lines(ordered, rows, spaces=dialect.spaces, ending=dialect.line_ending), rows, widest)


def _with_arcs(run: Motion, rows: Ints, columns: list[AxisColumn], dialect: Dialect, modal: Modal) -> tuple[Codes, Ints, ArcWords | None]:
    """The arcs of a chunk made ready: ends of whole circles set to their start, arcs below the rounding made lines."""
    if run.arcs is None:
        raise PlanError("a run with arcs has no centres or planes")
    centres, planes = run.arcs.centre, run.arcs.plane
    by_column = {column.axis.column: column for column in columns}
    exact = _filled(run.xyz, modal.exact)
    while True:
        start_counts, end_counts = np.zeros((len(rows), 3), np.int64), np.zeros((len(rows), 3), np.int64)
        for i in range(3):
            if i in by_column:
                start_counts[:, i], end_counts[:, i] = by_column[i].before[rows], by_column[i].counts[rows]
            else:
                place = modal.counts.get("XYZ"[i], 0)
                start_counts[:, i] = end_counts[:, i] = place
        arcs = Arcs(run.kind[rows], planes[rows], exact[rows], exact[rows + 1], centres[rows], start_counts, end_counts, run.move[rows])
        words = arc_words(arcs, dialect)
        if not _close(words, arcs, rows, by_column):
            break
    motion = as_lines(run.kind, rows, words.straight)
    left = ~words.straight
    rows = rows[left]
    if not len(rows):
        return motion, rows, None
    kept = replace(words, straight=words.straight[left], closed=words.closed[left], centre=words.centre[left], has=words.has[left])
    kept.radius = None if words.radius is None else words.radius[left]
    # Both end words of an arc's plane are always written: NISTIR 6556 section 3.5.3 needs one at least, and dialects differ on the rest.
    for plane, (a, b) in enumerate(PLANE_AXES):
        in_plane = rows[planes[rows] == plane]
        for i in (a, b):
            if len(in_plane) and i in by_column:
                by_column[i].said[in_plane] = True
    for i in range(3):
        if i in by_column:
            continue
        if any(i in PLANE_AXES[plane] for plane in np.unique(planes[rows])):
            raise PlanError(f"an arc does not state its end in {'XYZ'[i]}", cure="state the position in every arc")
    return motion, rows, kept


def _close(words: ArcWords, arcs: Arcs, rows: Ints, by_column: dict[int, AxisColumn]) -> bool:
    """Set the ends of whole circles to the counts of their starts; true where that changed anything."""
    changed = False
    for row in np.flatnonzero(words.closed):
        for i in PLANE_AXES[int(arcs.plane[row])]:
            column = by_column.get(i)
            if column is None or arcs.start_counts[row, i] == arcs.end_counts[row, i]:
                continue
            changed = True
            at = int(rows[row])
            column.counts[at] = arcs.start_counts[row, i]
            if at + 1 < len(column.counts):
                column.before[at + 1] = column.counts[at]
                column.said[at + 1] |= column.counts[at + 1] != column.counts[at]
    return changed


def _filled(xyz: Floats, exact: Floats) -> Floats:
    """(n + 1, 3): the place before the first row and after each, axes that are not commanded staying where they are."""
    places = np.vstack([exact, xyz])
    given = ~np.isnan(places)
    latest = np.maximum.accumulate(np.where(given, np.arange(len(places))[:, None], 0), axis=0)
    return np.asarray(np.take_along_axis(places, latest, axis=0))


def _last_exact(xyz: Floats, exact: Floats) -> Floats:
    last = xyz[-1]
    if not np.isnan(last).any():
        return np.array(last)
    return np.asarray(_filled(xyz, exact)[-1])


def _check_still(run: Motion, dialect: Dialect) -> None:
    """Without a rotary word, nothing may turn."""
    if any(axis.column >= 3 for axis in dialect.axes):
        return
    if bool((np.abs(np.nan_to_num(run.rotary_deg)) > 0).any()):
        raise PlanError("the program turns the rotary, and no rotary was chosen", cure="choose a profile with a rotary, or its letter")


def _centre_slots(arcs: ArcWords, rows: Ints, n: int, dialect: Dialect) -> list[Slot]:
    slots = []
    if arcs.radius is not None:
        return [_scattered("R", arcs.radius, np.ones(len(rows), bool), rows, n, dialect)]
    for i, letter in enumerate(CENTRE_LETTERS):
        if arcs.has[:, i].any():
            slots.append(_scattered(letter, arcs.centre[:, i], arcs.has[:, i], rows, n, dialect))
    return slots


def _scattered(letter: str, counts: Ints, has: Flags, rows: Ints, n: int, dialect: Dialect) -> Slot:
    all_counts, said = np.zeros(n, np.int64), np.zeros(n, bool)
    all_counts[rows], said[rows] = counts, has
    return number_slot(letter, all_counts, dialect.spelling("length", letter), said)


def _compressed(slot: Slot, kept: Flags) -> Slot:
    return Slot(slot.letter, [piece[kept] for piece in slot.pieces], None if slot.said is None else slot.said[kept])


def _mode_slots(feeds: FeedWords, dialect: Dialect) -> list[Slot]:
    if feeds.mode_said is None:
        return []
    return [code_slot(dialect.mode_codes, feeds.mode, feeds.mode_said)]


def _plane_slots(run: Motion, arc_rows: Ints, kept: Flags, dialect: Dialect, modal: Modal) -> list[Slot]:
    assert run.arcs is not None
    planes = run.arcs.plane[arc_rows].astype(np.int64)
    before = np.concatenate(([-1 if modal.plane is None else modal.plane], planes[:-1]))
    said = planes != before
    modal.plane = int(planes[-1])
    if not said.any():
        return []
    for plane in np.unique(planes[said]):
        if not dialect.plane_codes[plane] and (plane != 0 or any(dialect.plane_codes)):
            raise PlanError(
                f"the controller has no code for the plane {('XY', 'XZ', 'YZ')[plane]}", cure="leave the plane out of arcs.planes"
            )
    which, flags = np.zeros(len(kept), np.int64), np.zeros(len(kept), bool)
    which[arc_rows], flags[arc_rows] = planes, said
    return [code_slot(dialect.plane_codes, which[kept], flags[kept])]


def _motion_slots(motion: Codes, dialect: Dialect, modal: Modal) -> list[Slot]:
    before = np.empty(len(motion), np.int64)
    before[0] = -1 if modal.motion is None else modal.motion
    before[1:] = motion[:-1]
    said = motion != before
    modal.motion = int(motion[-1])
    if dialect.profile.words.repeat_motion:
        said[:] = True
    if not said.any():
        return []
    for code in np.unique(motion[said]):
        if not dialect.motion_codes[code]:
            name = ("rapids", "straight lines", "arcs clockwise", "arcs counterclockwise")[code]
            raise PlanError(f"the controller has no code for {name}", cure="set it in the profile's `codes`, or arcs.form to 'none'")
    return [code_slot(dialect.motion_codes, motion.astype(np.int64), None if said.all() else said)]


def _remember(columns: list[AxisColumn], modal: Modal) -> None:
    for column in columns:
        modal.counts[column.axis.letter] = int(column.counts[-1])
        modal.said.add(column.axis.letter)
