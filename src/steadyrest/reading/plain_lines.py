"""Finds, in a piece of a program, the lines that are nothing but plain words of straight motion, and takes their words apart.

A line is plain when it consists of capital letters of straight motion, each once and each with a plain number, and names an axis.
Everything else, right or wrong, is left to the full grammar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.reading.digits import PAD, decode_numbers

NEWLINE = 10
_DELIMITER_SHIFT = np.uint8(NEWLINE + 1)  # bytes from `A` on and the line feed become 54 and more, characters of numbers less
_DELIMITER_FROM = np.uint8(ord("A") - NEWLINE - 1)

Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Letters:
    """What the letters of straight motion are in a dialect.

    axes     letters of X, Y, Z and the rotary
    feed     the letter of F
    motion   the letter of the motion codes, or "" when rapid and line do not share one
    rapid, line   the numbers of the two codes
    number   the letter of block numbers, which have at most `number_digits` digits
    """

    axes: str
    feed: str
    motion: str
    rapid: float
    line: float
    number: str
    number_digits: int


@dataclass(frozen=True, slots=True)
class PlainWords:
    """One letter's words in a piece: the lines they stand in (rising, from 0), their numbers, and whether these have a point."""

    lines: Index
    values: NDArray[np.float64]
    points: NDArray[np.bool_]

    def between(self, start: int, stop: int) -> PlainWords:
        """The words of lines start to stop, the lines counted from start."""
        if start == 0 and (not len(self.lines) or self.lines[-1] < stop):
            return self
        low, high = np.searchsorted(self.lines, (start, stop))
        return PlainWords(self.lines[low:high] - start, self.values[low:high], self.points[low:high])


@dataclass(frozen=True, slots=True)
class PlainLines:
    """A piece of a program.

    plain   which of its lines are plain
    ends    where each line's line feed stands
    words   by letter; those of lines that are not plain may be anything
    """

    plain: NDArray[np.bool_]
    ends: Index
    words: dict[str, PlainWords]


def find_plain_lines(piece: bytes, letters: Letters, longest_line: int) -> PlainLines:
    """The plain lines of a piece that ends with a line feed, line by line.

    Blanks are taken out first: they mean nothing, even inside a number (NISTIR 6556, 3.3). Lines with comments are not plain anyway.
    """
    line_ends = np.flatnonzero(np.frombuffer(piece, dtype=np.uint8) == NEWLINE)
    lengths = np.diff(line_ends, prepend=-1) - 1
    padded = piece.translate(None, b" \t") + b"\n" * PAD
    characters = np.frombuffer(padded, dtype=np.uint8)[:-PAD]
    delimiters = np.flatnonzero((characters - _DELIMITER_SHIFT) >= _DELIMITER_FROM)
    kinds = characters[delimiters]
    ends = np.flatnonzero(kinds == NEWLINE)
    count = len(ends)
    bad = lengths > longest_line
    # Nothing but a letter or a line feed may follow a line feed, nor stand at the very start.
    bad[0] |= bool(delimiters[0] != 0)
    bad[1:] |= delimiters[ends[:-1] + 1] != delimiters[ends[:-1]] + 1
    words_per_line = np.diff(ends, prepend=-1) - 1
    at = np.flatnonzero(kinds != NEWLINE)
    line_of = np.repeat(np.arange(count), words_per_line)
    word_letters = kinds[at]
    starts = delimiters[at]
    numbers = decode_numbers(padded, starts + 1, delimiters[at + 1] - starts - 1)
    unknown = np.ones(256, dtype=np.bool_)
    names = dict.fromkeys(letters.axes + letters.feed + letters.motion + letters.number)
    for name in names:
        unknown[ord(name)] = False
    bad[line_of[np.flatnonzero(numbers.bad | unknown[word_letters])]] = True
    words: dict[str, PlainWords] = {}
    moves = np.zeros(count, dtype=np.bool_)
    for name in names:
        chosen = np.flatnonzero(word_letters == ord(name))
        lines = line_of[chosen]
        if len(lines):
            bad[lines[1:][lines[1:] == lines[:-1]]] = True
        values = numbers.values[chosen]
        if name == letters.number:
            first = np.cumsum(words_per_line) - words_per_line
            digits = delimiters[at[chosen] + 1] - starts[chosen] - 1
            wrong = (chosen != first[lines]) | numbers.points[chosen] | numbers.signed[chosen] | (digits > letters.number_digits)
            bad[lines[wrong]] = True
        elif name == letters.motion:
            bad[lines[(values != letters.rapid) & (values != letters.line)]] = True
        elif name in letters.axes:
            moves[lines] = True
        words[name] = PlainWords(lines, values, numbers.points[chosen])
    return PlainLines(~bad & moves, line_ends, words)
