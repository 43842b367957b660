"""Finds, in a piece of a program, the lines that are nothing but plain words of motion, and takes their words apart.

A line is plain when it consists of letters of motion, each once and each with a plain number, and names an axis.
Everything else, right or wrong, is left to the full grammar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.reading.digits import PAD, decode_numbers

NEWLINE = 10
_CAPITALS = bytes(range(256)).upper()
_DELIMITER_SHIFT = np.uint8(NEWLINE + 1)  # bytes from `A` on and the line feed become 54 and more, characters of numbers less
_DELIMITER_FROM = np.uint8(ord("A") - NEWLINE - 1)


Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Letters:
    """What the letters of motion are in a dialect.

    axes     letters of X, Y, Z and the rotary
    feed     the letter of F
    motion   the letter of the motion codes, or "" when rapid and line do not share one
    codes    what the numbers of those codes do: RAPID, LINE, and CLOCKWISE and COUNTERCLOCKWISE where they share the letter
    arcs     letters of an arc's centre and radius, "" where there are no arcs
    number   the letter of block numbers, which have at most `number_digits` digits
    """

    axes: str
    feed: str
    motion: str
    codes: dict[float, int]
    arcs: str
    number: str
    number_digits: int


@dataclass(frozen=True, slots=True)
class PlainLines:
    """A piece of a program.

    plain    which of its lines are plain
    ends     where each line's line feed stands
    columns  by letter, the number a line gives it, NaN where it gives none; lines that are not plain may hold anything
    points   by letter, whether that number has a decimal point; empty where nobody asked
    """

    plain: NDArray[np.bool_]
    ends: Index
    columns: dict[str, NDArray[np.float64]]
    points: dict[str, NDArray[np.bool_]]


def find_plain_lines(piece: bytes, letters: Letters, longest_line: int, *, with_points: bool) -> PlainLines:
    """The plain lines of a piece that ends with a line feed.

    Blanks are taken out first, and letters made capitals: they mean nothing, even inside a number, and the same (NISTIR 6556, 3.3).
    Lines with comments are not plain anyway.
    """
    line_ends = np.flatnonzero(np.frombuffer(piece, dtype=np.uint8) == NEWLINE)
    bad = np.diff(line_ends, prepend=-1) > longest_line + 1
    padded = piece.translate(_CAPITALS, b" \t") + b"\n" * PAD
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
    numbers = decode_numbers(padded, starts, lengths)
    words_per_line = np.diff(ends, prepend=-1) - 1
    line_of = np.repeat(np.arange(len(ends)), words_per_line)
    arcs = "".join(letter for letter in letters.arcs if letter.encode() in padded)
    names = "".join(dict.fromkeys(letters.axes + letters.feed + letters.motion + letters.number + arcs))
    rows = np.full(256, len(names), dtype=np.int64)  # the last row is for every other letter
    rows[np.frombuffer(names.encode(), dtype=np.uint8)] = np.arange(len(names))
    cells = rows[word_letters]
    strange = cells >= len(names)
    strange |= numbers.bad
    at_number = np.flatnonzero(word_letters == ord(letters.number))
    if len(at_number):
        first = (np.cumsum(words_per_line) - words_per_line)[line_of[at_number]]
        strange[at_number] |= (at_number != first) | (lengths[at_number] > letters.number_digits)
        strange[at_number] |= numbers.points[at_number] | numbers.signed[at_number]
    bad[line_of[np.flatnonzero(strange)]] = True
    cells *= len(ends)
    cells += line_of
    table = np.full((len(names) + 1, len(ends)), np.nan)
    table.reshape(-1)[cells] = numbers.values
    given = table == table
    if np.count_nonzero(given) != len(cells):  # some cell was filled twice: a letter stands twice in a line
        bad |= (np.bincount(cells, minlength=table.size).reshape(table.shape) > 1).any(axis=0)
    if letters.motion:
        motion = names.index(letters.motion)
        strange_code = given[motion]
        for code in letters.codes:
            strange_code = strange_code & (table[motion] != code)
        bad |= strange_code
    moves = np.logical_or.reduce(given[: len(letters.axes)], axis=0)
    points: dict[str, NDArray[np.bool_]] = {}
    if with_points:
        pointed = np.zeros(table.shape, dtype=np.bool_)
        pointed.reshape(-1)[cells] = numbers.points
        points = dict(zip(names, pointed, strict=False))
    return PlainLines(~bad & moves, line_ends, dict(zip(names, table, strict=False)), points)
