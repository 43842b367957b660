"""Finds, in a piece of a program, the lines that say nothing but motion, and takes their words apart.

A line is plain when it consists of letters of motion, each once and each with a plain number, codes of motion or of modes, one of a modal
group, and perhaps a comment at its end; a code of motion goes with the word of an axis. It may also be empty. Everything else, right or
wrong, is left to the full grammar, and so is a code that changes a mode.

Numbers are decoded from bytes, many at once and strictly: eight characters are one 64-bit integer, the first in the lowest byte. A number
is an optional sign, digits, at most one point among them, at least one digit; anything else, or more digits than a float holds exactly,
is flagged, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Codes, Floats, Ints
from steadyrest.conventions import AXES, INVERSE, MM_PER_INCH, PER_MINUTE
from steadyrest.reading.block_words import Block
from steadyrest.reading.dialect import BEYOND, CENTRES, RADIUS, Dialect
from steadyrest.reading.motion_read import MOTIONS, PLANE_CODES

Bits = NDArray[np.uint64]

PAD = 16
MOST_CHARACTERS = 16
MOST_DIGITS = 15  # integers below 10**15 and powers of ten up to 10**22 are exact in a float, so their quotient is the nearest float

_ZEROS = np.uint64(0x3030303030303030)
_POINTS = np.uint64(0x1E1E1E1E1E1E1E1E)  # a point after the zeros' bits are taken off: 0x2E ^ 0x30
_ONES = np.uint64(0x0101010101010101)
_TOPS = np.uint64(0x8080808080808080)
_ABOVE_NINE = np.uint64(0x7676767676767676)  # added to a byte above 9, gives its top bit
_DECIMALS = np.uint64(0x0706050403020100)  # times the bit of the point's byte: how many bytes stand above it, in the top byte
_PAIRS, _FOURS = np.uint64(0x00FF00FF00FF00FF), np.uint64(0x0000FFFF0000FFFF)
_1, _3, _7, _8, _16, _32, _56, _63 = (np.uint64(n) for n in (1, 3, 7, 8, 16, 32, 56, 63))
_TENS, _HUNDREDS, _TEN_THOUSANDS = (np.uint64(1 + (10**n << 8 * n)) for n in (1, 2, 4))  # neighbours: first times 10**n, plus second
_POWERS = np.array([10.0**n for n in range(MOST_CHARACTERS + 1)] + [1.0] * (255 - MOST_CHARACTERS))

STRANGE = -1
CODE_STEP = 4096.0  # more than a letter's number in a tenth of it: no two codes look alike
NEWLINE = 10
_CAPITALS = bytes(range(256)).upper()
_DELIMITER_SHIFT = np.uint8(NEWLINE + 1)  # bytes from `A` on and the line feed become 54 and more, characters of numbers less
_DELIMITER_FROM = np.uint8(ord("A") - NEWLINE - 1)


MOTION, MACHINE = "motion", "one block"
MODES = ("feed mode", "distance", "plane", "units")
MEANT: dict[str, Mapping[str, float]] = {
    MOTION: MOTIONS,
    MACHINE: {"machine": 1.0},
    "feed mode": {"per_minute": PER_MINUTE, "inverse": INVERSE},
    "distance": {"absolute": 0.0, "incremental": 1.0},
    "plane": PLANE_CODES,
    "units": {"mm": 1.0, "inch": MM_PER_INCH},
}
"""What the codes of plain lines do, by modal group (NISTIR 6556, table 4), as the numbers of `PlainLines.columns` and of the state."""

# Its words, if any, are before it; see `block_words` for the same in a line by itself.
_COMMENT = {
    "parentheses": re.compile(rb"\(([\t -'*-~]*)\)[ \t]*\n"),
    "semicolon": re.compile(rb";([\t -~]*)\n"),
    "any": re.compile(rb"(?:;(.*)|\(([^()\n]*)\)[ \t]*)\n"),
}


@dataclass(frozen=True, slots=True)
class PlainLines:
    """A piece of a program, n lines.

    plain     (n,) which of its lines are plain
    moves     (n,) which of them name an axis
    worded    (n,) which of them have words
    ends      (n,) where each line's line feed stands
    columns   by letter, (n,) the number a line gives it, by modal group what its code does; NaN where it gives none, and nothing at all of
              some letters and groups that no line has; lines that are not plain may hold anything
    points    by letter, (n,) whether that number has a decimal point; empty where nobody asks
    comments  (line, from 0 in the piece, and text) of each comment, in order, also of lines that are not plain
    switches  line and block of each that is left out, in order
    """

    plain: Bools
    moves: Bools
    worded: Bools
    ends: Ints
    columns: dict[str, Floats]
    points: dict[str, Bools]
    comments: list[tuple[int, str]]
    switches: list[tuple[int, Block]]

    def leave_out(self, line: int, switch: Block) -> None:
        """A line that is not plain says nothing here but what it switches."""
        self.switches.append((line, switch))
        self.moves[line] = False
        for column in self.columns.values():
            column[line] = np.nan


def find_plain_lines(piece: bytes, dialect: Dialect) -> PlainLines:
    """The plain lines of a piece that ends with a line feed.

    Comments and blanks are taken out first, and letters made capitals: they mean nothing, even inside a number, and the same
    (NISTIR 6556, 3.3).
    """
    line_ends = np.flatnonzero(np.frombuffer(piece, dtype=np.uint8) == NEWLINE)
    bad = np.diff(line_ends, prepend=-1) > dialect.profile.program.longest_line + 1
    bare, comments = _without_comments(piece, dialect.comment_style, line_ends)
    padded = bare.translate(_CAPITALS, b" \t") + b"\n" * PAD
    characters = np.frombuffer(padded, dtype=np.uint8)[:-PAD]
    delimiters = np.flatnonzero((characters - _DELIMITER_SHIFT) >= _DELIMITER_FROM)
    kinds = characters[delimiters]
    ends = np.flatnonzero(kinds == NEWLINE)
    # Nothing but a letter or a line feed may follow a line feed, nor stand at the very start.
    bad[0] |= bool(delimiters[0] != 0)
    bad[1:] |= delimiters[ends[:-1] + 1] != delimiters[ends[:-1]] + 1
    words = np.flatnonzero(kinds != NEWLINE)
    word_letters = kinds[words]
    starts = delimiters[words]
    starts += 1
    words += 1
    lengths = delimiters[words]
    lengths -= starts
    values, pointed, signed, strange = decode_numbers(padded, starts, lengths)
    words_per_line = np.diff(ends, prepend=-1) - 1
    line_of = np.repeat(np.arange(len(ends)), words_per_line)
    arcs = [letter for letter in CENTRES + RADIUS if letter.encode() in padded and dialect.profile.arcs.form != "none"]
    axes = AXES + "".join(letter for letter in dialect.rotaries if letter not in AXES)
    number = dialect.profile.program.block_numbers.letter
    names = list(dict.fromkeys([*axes, "F", *number, *arcs]))
    rows = np.full(256, STRANGE)
    rows[np.frombuffer("".join(names).encode(), dtype=np.uint8)] = np.arange(len(names))
    cells = rows[word_letters]
    _take_codes(dialect, word_letters, values, cells, names)
    strange |= cells == STRANGE
    at_number = np.flatnonzero(word_letters == ord(number))
    if len(at_number):
        first = (np.cumsum(words_per_line) - words_per_line)[line_of[at_number]]
        strange[at_number] |= (at_number != first) | (lengths[at_number] > dialect.block_number_digits)
        strange[at_number] |= pointed[at_number] | signed[at_number]
    at_strange = np.flatnonzero(strange)
    bad[line_of[at_strange]] = True
    cells[at_strange] = len(names)
    cells *= len(ends)
    cells += line_of
    table = np.full((len(names) + 1, len(ends)), np.nan)
    table.reshape(-1)[cells] = values
    given = table == table
    if np.count_nonzero(given) != len(cells):  # some cell was filled twice: a letter stands twice in a line
        bad |= (np.bincount(cells, minlength=table.size).reshape(table.shape) > 1).any(axis=0)
    moves = np.logical_or.reduce(given[: len(axes)], axis=0)
    for row, name in enumerate(names):
        if name in MODES:  # the grammar carries out what changes, once; here a mode is only stated again
            stated = np.flatnonzero(given[row])
            bad[stated[1:][np.diff(table[row, stated]) != 0]] = True
        elif name in (MOTION, MACHINE, *arcs):
            bad |= given[row] & ~moves
    points: dict[str, Bools] = {}
    numbers = dialect.profile.numbers
    formats = (numbers.length, numbers.angle, numbers.feed, numbers.inverse_feed, *numbers.by_letter.values())
    if any(spelled.point == "counts" for spelled in formats):
        with_point = np.zeros(table.shape, dtype=np.bool_)
        with_point.reshape(-1)[cells] = pointed
        points = dict(zip(names, with_point, strict=False))
    columns = dict(zip(names, table, strict=False))
    return PlainLines(~bad, moves, words_per_line > 0, line_ends, columns, points, comments, [])


def _without_comments(piece: bytes, style: str, line_ends: Ints) -> tuple[bytes, list[tuple[int, str]]]:
    """The piece without the comments at the ends of its lines, and these by line."""
    comment = _COMMENT.get(style)
    if comment is None or not (b"(" in piece or b";" in piece):
        return piece, []
    found = list(comment.finditer(piece))
    lines = np.searchsorted(line_ends, [match.start() for match in found]).tolist()
    return comment.sub(b"\n", piece), [(line, decoded(match[match.lastindex or 0])) for line, match in zip(lines, found, strict=True)]


def decoded(raw: bytes) -> str:
    """A line of a program or part of it: the comments of one from elsewhere may hold anything."""
    try:
        return raw.decode()
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _take_codes(dialect: Dialect, word_letters: Codes, values: Floats, cells: Ints, names: list[str]) -> None:
    """Give the words that are codes to their modal groups, in place: `names` grows by the groups that are there."""
    codes = {
        (letter, tenths / 10): (meaning.group, does)
        for (letter, tenths), meaning in dialect.codes.items()
        if (does := MEANT.get(meaning.group, {}).get(meaning.does)) is not None
    }
    letters, numbers = np.array([ord(letter) for letter, _ in codes]), np.array([number for _, number in codes])
    at = np.flatnonzero(np.logical_or.reduce([word_letters == letter for letter in set(letters.tolist())]))
    if not len(at):
        return
    keys = numbers * CODE_STEP + letters
    order = np.argsort(keys)
    letter, value = word_letters[at], values[at]
    found = np.searchsorted(keys[order], value * CODE_STEP + letter)
    code = order[np.minimum(found, len(order) - 1)]
    known = (letters[code] == letter) & (numbers[code] == value)
    groups = [group for group, _ in codes.values()]
    code, at = code[known], at[known]
    present = np.bincount(code, minlength=len(groups)).tolist()
    names += dict.fromkeys(group for group, count in zip(groups, present, strict=True) if count)
    cells[at] = np.array([names.index(group) if group in names else STRANGE for group in groups])[code]
    values[at] = np.array([does for _, does in codes.values()])[code]


def decode_numbers(padded: bytes, starts: Ints, lengths: Ints) -> tuple[Floats, Bools, Bools, Bools]:
    """The numbers that stand at `starts` and are `lengths` bytes long.

    padded   text with at least PAD bytes after the last number; the numbers' characters are ASCII
    returns  (n,) each: the nearest floats to the decimals; whether a point stands in the number, a sign before it; whether it is no plain
             number, so that its value means nothing
    """
    characters = np.frombuffer(padded, dtype=np.uint8)
    eights = np.ndarray((len(padded) - 7,), dtype="<u8", buffer=padded, strides=(1,))
    first = characters[starts]
    negative = first == ord("-")
    signed = negative | (first == ord("+"))
    signs = signed.astype(np.int64)
    starts = starts + signs
    lengths = lengths - signs
    values, decimals, points, bad = _decode_eight(_aligned(eights[starts], lengths))
    bad |= lengths < 1
    bad |= (lengths == 1) & points
    floats = values.view(np.int64).astype(np.float64)
    long = np.flatnonzero(lengths > 8)
    floats /= _POWERS[decimals]
    if len(long):
        floats[long], points[long], bad[long] = _decode_long(eights, starts[long], lengths[long])
    bits = floats.view(np.uint64)
    bits ^= negative.astype(np.uint64) << _63
    return floats, points, signed, bad


def _aligned(eight: Bits, lengths: Ints) -> Bits:
    """The first `lengths` characters moved to the top, zeros before them, each byte the digit's value."""
    shifts = lengths << 3
    np.subtract(64, shifts, out=shifts)
    aligned = eight ^ _ZEROS
    aligned <<= shifts.view(np.uint64)
    return aligned


def _decode_eight(x: Bits) -> tuple[Bits, Ints, Bools, Bools]:
    """Value of the digits without the point, decimals behind it, whether there is one, whether something else is among them."""
    rest = x ^ _POINTS
    mark = rest - _ONES
    np.invert(rest, out=rest)
    mark &= rest
    mark &= _TOPS
    points = mark != 0
    mark >>= _7
    below = mark - _1
    digits = x & below
    digits <<= points.astype(np.uint64) << _3
    np.invert(below, out=below)
    below <<= _8
    below &= x
    digits |= below
    np.add(digits, _ABOVE_NINE, out=rest)
    rest &= _TOPS
    mark *= _DECIMALS
    mark >>= _56
    digits *= _TENS
    digits >>= _8
    digits &= _PAIRS
    digits *= _HUNDREDS
    digits >>= _16
    digits &= _FOURS
    digits *= _TEN_THOUSANDS
    digits >>= _32
    return digits, mark.view(np.int64), points, rest != 0


def _decode_long(eights: Bits, starts: Ints, lengths: Ints) -> tuple[Floats, Bools, Bools]:
    """Numbers of 9 to 16 characters, in two halves; longer ones are flagged."""
    too_long = lengths > MOST_CHARACTERS
    lengths = np.where(too_long, MOST_CHARACTERS, lengths)
    high, high_decimals, high_points, high_bad = _decode_eight(_aligned(eights[starts], lengths - 8))
    low, low_decimals, low_points, low_bad = _decode_eight(eights[starts + lengths - 8] ^ _ZEROS)
    bad = too_long | high_bad | low_bad | (high_points & low_points)
    points = high_points | low_points
    bad |= lengths - points > MOST_DIGITS
    scale = np.where(low_points, 10_000_000, 100_000_000).astype(np.uint64)
    digits = high * scale + low
    decimals = np.where(bad, 0, np.where(high_points, high_decimals + 8, low_decimals))
    values: Floats = digits.view(np.int64).astype(np.float64) / _POWERS[decimals]
    bad |= values >= BEYOND
    return values, points, bad
