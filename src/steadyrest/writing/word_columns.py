"""The words of many blocks at once, and the lines of text that they make.

A word's text is some pieces of four bytes, the first byte of the first kept free for the space before the word; the pieces of all words
of a block are set side by side, and the zero bytes taken out of many blocks at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
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
    known_from   the first block of which that is known
    """

    axis: AxisWord
    before: Ints
    known_from: int


def scattered(letter: str, values: Ints, said: Bools, spelled: Spelling | tuple[str, ...], rows: Ints, n: int) -> WordColumn:
    """A word that only the blocks `rows` (m,) of n can have: values and said (m,)."""
    if len(rows) == n:
        return WordColumn(letter, values, said, spelled)
    all_values, all_said = np.zeros(n, np.int64), np.zeros(n, bool)
    all_values[rows], all_said[rows] = values, said
    return WordColumn(letter, all_values, all_said, spelled)


def code_letter(codes: Sequence[str]) -> str:
    """The letter of some codes."""
    return next((code[0] for code in codes if code), "G")


def places_of(axis: AxisWord, run: Motion) -> Floats:
    """Where a run commands an axis to, (n,) float64: program units or degrees; NaN where it does not."""
    return run.xyz[:, axis.column] if axis.column < 3 else run.rotary_deg[:, axis.column - 3]


def axis_column(axis: AxisWord, run: Motion, held: Held) -> AxisColumn | None:
    """An axis in counts, and where its word has to be written; None where the run does not command it at all."""
    values = places_of(axis, run) if axis.scale == 1.0 else places_of(axis, run) * axis.scale
    last = held.counts.get(axis.letter)
    first = 0
    if not np.isnan(values.min()):
        counts = to_counts(values, axis.spelled)
    else:
        given = ~np.isnan(values)
        if not given.any():
            return None
        first = int(np.argmax(given))
        some = to_counts(values[given], axis.spelled)
        # Where the axis is not commanded it stays where the last row with a command has left it.
        counts = np.where(given.cumsum() > 0, some[np.maximum(given.cumsum() - 1, 0)], some[0] if last is None else last)
    before = np.empty(len(counts), np.int64)
    before[0] = counts[0] if last is None else last
    before[1:] = counts[:-1]
    said = counts != before
    said[first] |= axis.letter not in held.said or last is None
    return AxisColumn(axis.letter, counts, said, axis.spelled, axis, before, 0 if last is not None else first + 1)


def axis_words(column: AxisColumn, form: WordFormat) -> AxisColumn:
    """What the words of an axis say: positions, steps, or positions within a turn. PlanError for a step from an unknown place."""
    if form.incremental:
        if column.said[: column.known_from].any():
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
    reach = np.abs(step).max()
    if axis.turning == "shortest":
        if 2 * reach >= turn:
            raise PlanError(
                f"a block turns {axis.letter} by half a turn or more, but the controller takes the shortest way",
                cure="split the turn into smaller ones",
            )
        return place
    if reach >= turn:
        raise PlanError(
            f"a block turns {axis.letter} by a whole turn or more, which a position within one turn cannot state", cure="split the turn"
        )
    return np.where(step < 0, np.where(place == 0, -turn, -place), place)


def line_text(columns: Sequence[WordColumn], n: int, *, spaces: bool, ending: str) -> tuple[bytes, int]:
    """The text of n lines, each with its own words of the columns in the order given, and a length that none of them is above."""
    pieces = [_pieces(column) for column in columns]
    width = sum(map(len, pieces)) + 1
    sheet = np.empty((n, width), dtype=np.uint32)
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
    return sheet.tobytes().translate(None, b"\0"), 4 * width


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
