"""The words of many blocks at once, and the lines of text that they make.

A word's text is some pieces of four bytes, the first byte of the first kept free for the space before the word; the pieces of all words
of a block are set side by side, and the zero bytes taken out of many blocks at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, distinct
from steadyrest.errors import PlanError
from steadyrest.motion import Motion
from steadyrest.writing.numbers import Piece, Spelling, number_pieces, to_counts
from steadyrest.writing.state import Held
from steadyrest.writing.word_formats import AxisWord, WordFormat


@dataclass(frozen=True, slots=True)
class WordColumn:
    """One word of every block.

    values   (n,) int64: counts of a number, or which of some codes
    said     (n,) bool: the blocks that have it
    spelled  how the number is written; or the codes, of up to seven characters and one letter all of them
    """

    letter: str
    values: Ints
    said: Bools
    spelled: Spelling | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AxisColumn(WordColumn):
    """The word of an axis: `values` is where it stands after each block.

    before       (n,) int64, where it stands before each block
    is_unknown   a block commands it from a place that is not known
    stays        where it stands is known after the last block, `is_said`: and has not to be said again
    """

    axis: AxisWord
    before: Ints
    is_unknown: bool
    stays: bool
    is_said: bool


@dataclass(frozen=True, slots=True)
class Breaks:
    """What comes between the n blocks of a batch: before which of them, int64, in order; n is behind the last.

    forgotten   every modal word has to be said again
    lost        where Z stands is not known any more
    silent      none: the numbers of rows that no block says, for where a cycle takes the axes by itself
    """

    forgotten: Ints
    lost: Ints
    silent: Ints


def first_after(breaks: Ints, rows: Ints | int) -> Ints:
    """Which of some rows (m,), or of all of so many, comes first after each break."""
    found = breaks if isinstance(rows, int) else np.searchsorted(rows, breaks)
    return found[found < (rows if isinstance(rows, int) else len(rows))]


def lasts(breaks: Ints, row: int) -> bool:
    """Whether what a row says still holds after the batch."""
    return not len(breaks) or row >= breaks[-1]


def news(values: Ints | Codes, last: int | None, again: Ints) -> Bools:
    """Which of some values (n,) are not the one before, nothing being known before the first where `last` is None, or come `again`."""
    new = np.empty(len(values), dtype=np.bool_)
    new[0] = values[0] != last
    np.not_equal(values[1:], values[:-1], out=new[1:])
    new[again] = True
    return new


def scattered(letter: str, values: Ints, said: Bools, spelled: Spelling | tuple[str, ...], rows: Ints, n: int) -> WordColumn:
    """A word that only the blocks `rows` (m,) of n can have: values and said (m,)."""
    if len(rows) == n:
        return WordColumn(letter, values, said, spelled)
    all_values, all_said = np.zeros(n, np.int64), np.zeros(n, bool)
    all_values[rows], all_said[rows] = values, said
    return WordColumn(letter, all_values, all_said, spelled)


def code_column(
    codes: Sequence[str],
    values: Codes,
    rows: Ints,
    n: int,
    last: int | None,
    forgotten: Ints,
    *,
    every: bool = False,
    names: Sequence[str] = (),
    cure: str = "",
) -> tuple[WordColumn, int | None]:
    """A word that is one of some codes, said where it is news, or by `every` block; and which of them holds after n blocks, None: none.

    values    (m,) which of the codes, of the blocks `rows` (m,) that can have the word; `last` is the one before them
    raises    PlanError with `cure` for a code that the controller does not have; without `names` of what they say it is not asked
    """
    said = news(values, last, first_after(forgotten, rows))
    if every:
        said[:] = True
    lacking = [code for code in distinct(values[said]) if not codes[code]] if names else []
    if lacking:
        raise PlanError(f"the controller has no code for {names[lacking[-1]]}", cure=cure)
    letter = next((code[0] for code in codes if code), "G")
    column = scattered(letter, values.astype(np.int64), said, tuple(codes), rows, n)
    return column, int(values[-1]) if lasts(forgotten, int(rows[-1])) else None


def places_of(axis: AxisWord, run: Motion) -> Floats:
    """Where a run commands an axis to, (n,) float64: program units or degrees; NaN where it does not."""
    return run.xyz[:, axis.column] if axis.column < 3 else run.rotary_deg[:, axis.column - 3]


def axis_column(axis: AxisWord, run: Motion, held: Held, breaks: Breaks) -> AxisColumn | None:
    """An axis in counts, and where its word has to be written; None where the run does not command it at all. `held` is as before it."""
    places, n = places_of(axis, run), len(run)
    rows = None if not np.isnan(places.min()) else np.flatnonzero(~np.isnan(places))
    if axis.scale != 1.0:
        places = places * axis.scale
    counts = to_counts(places if rows is None else places[rows], axis.spelled)
    if not len(counts):
        return None
    among, last = n if rows is None else rows, held.counts.get(axis.letter)
    lost = breaks.lost if axis.letter == "Z" else np.zeros(0, np.int64)
    unknown = first_after(np.append(0, lost) if last is None else lost, among)
    before = np.append(counts[0] if last is None else last, counts[:-1])
    before[unknown] = counts[unknown]
    said = counts != before
    said[unknown] = said[first_after(breaks.forgotten, among)] = True
    said[0] |= axis.letter not in held.said
    row = n - 1 if rows is None else int(rows[-1])
    stays, is_said = lasts(lost, row), lasts(breaks.forgotten, row)
    if rows is not None:
        # Where the axis is not commanded it stays where the last row with a command has left it.
        latest = np.searchsorted(rows, np.arange(n), "right") - 1
        values = np.where(latest >= 0, counts[latest], before[0])
        counts, stepped, stated = values, (before, said), (values.copy(), np.zeros(n, np.bool_))
        for all_rows, some in zip(stated, stepped, strict=True):
            all_rows[rows] = some
        before, said = stated
    return AxisColumn(axis.letter, counts, said, axis.spelled, axis, before, len(unknown) > 0, stays, is_said)


def axis_words(column: AxisColumn, form: WordFormat) -> AxisColumn:
    """What the words of an axis say: positions, steps, or positions within a turn. PlanError for a step from an unknown place."""
    if form.incremental:
        if column.is_unknown:
            raise PlanError(
                f"an incremental {column.letter} word starts from an unknown position",
                cure="incremental programs need program.start_position, and a retract in work coordinates (retract.form 'height')",
            )
        return replace(column, values=column.values - column.before)
    return replace(column, values=_within_a_turn(column)) if column.axis.turn else column


def _within_a_turn(column: AxisColumn) -> Ints:
    """Rotary counts as a controller that rolls over at 360 degrees wants them: positions within a turn, from 0 up to 360 not included.

    With the sign as the direction, a position reached by turning down is written negative, and 0 reached so as -360.
    PlanError where a single word cannot say how far to turn.
    """
    axis, turn = column.axis, column.axis.turn
    step = column.values - column.before
    place = column.values % turn
    shortest = axis.turning == "shortest"
    if np.abs(step).max() >= (turn / 2 if shortest else turn):
        raise PlanError(
            f"a block turns {axis.letter} by half a turn or more, but the controller takes the shortest way"
            if shortest
            else f"a block turns {axis.letter} by a whole turn or more, which a position within one turn cannot state",
            cure="split the turn into smaller ones",
        )
    return place if shortest else np.where(step < 0, np.where(place == 0, -turn, -place), place)


def line_text(columns: Sequence[WordColumn], n: int, *, spaces: bool, ending: str) -> tuple[bytes, int]:
    """The text of n lines, each with its own words of the columns in the order given, and a length that none of them is above."""
    pieces = [_pieces(column) for column in columns]
    sheet = np.empty((n, sum(map(len, pieces)) + 1), dtype=np.uint32)
    at = 0
    before = np.zeros(n, bool)
    always = False
    for column, (first, *rest) in zip(columns, pieces, strict=True):
        if spaces and always:
            first = first | _SPACE
        elif spaces and at:
            first = np.where(before, first | _SPACE, first)
        every = bool(column.said.all())
        # A piece times false is four zero bytes.
        said = None if every else column.said.astype(np.uint32)
        for piece in (first, *rest):
            if said is None:
                sheet[:, at] = piece
            else:
                np.multiply(piece, said, out=sheet[:, at])
            at += 1
        always = always or every
        if not always:
            before |= column.said
    sheet[:, at] = _piece(ending)
    return sheet.tobytes().translate(None, b"\0"), 4 * sheet.shape[1]


def _pieces(column: WordColumn) -> list[Piece]:
    if isinstance(column.spelled, Spelling):
        sign, digits = number_pieces(column.values, column.spelled)
        return [sign | _piece("\0" + column.letter), *digits]
    codes = b"".join(("\0" + code).encode("ascii").ljust(8, b"\0") for code in column.spelled)
    table = np.frombuffer(codes, dtype=np.uint32).reshape(-1, 2)
    return [table[:, 0].take(column.values), table[:, 1].take(column.values)]


def _piece(text: str) -> np.uint32:
    return np.uint32(np.frombuffer(text.encode("ascii").ljust(4, b"\0"), dtype=np.uint32)[0])


_SPACE = _piece(" ")
