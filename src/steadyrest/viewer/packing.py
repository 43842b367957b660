"""How do columns of numbers and the listing become small enough to be carried in a page?

A column is held as counts of a step, of which differences are taken where these are smaller; a difference becomes a whole number that is
small whatever its sign (0, -1, 1, -2 are 0, 1, 2, 3), and of all of them first the lowest bytes are written, then the next: deflate finds
more in that. The listing is taken apart into forms of lines and columns of the numbers in their words, which pack like positions; put
together again it is what it was, byte for byte. `1_unpack.js` undoes both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import ceil, log10
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.progress import LISTING, Progress, Work

MOST_ORDER = 2
LETTER = np.isin(np.arange(256), np.frombuffer(b"ABCDEFHIJKLNOPQRSTUVWXYZ", dtype=np.uint8))
"""The letters whose numbers are taken. G and M words stay as they are: they tell one form of line from another."""
LARGEST, MOST_DIGITS = 2**31 - 1, 18
PIECE = 1 << 17
"""Bytes of the listing, at least, after which it is told how far it is."""


class Column(NamedTuple):
    """Numbers as the page holds them, and takes each times `step`.

    order   how often differences from number to number were taken; whole numbers only, and they may wrap round
    """

    numbers: NDArray[Any]
    step: float = 1.0
    order: int = 0


def counted(values: Floats, step: float) -> Column:
    """Numbers as 32-bit counts of a step, which is made coarser by tens where they would not fit."""
    largest = float(np.abs(values).max(initial=0.0))
    if largest > step * 2e9:
        step *= 10.0 ** ceil(log10(largest / (step * 2e9)))
    return best(np.rint(values / step).astype(np.int32), step)


def best(numbers: NDArray[np.int32], step: float = 1.0) -> Column:
    """The column with as many differences taken as make its numbers shortest."""
    held, lengths = numbers, []
    for _ in range(MOST_ORDER + 1):
        lengths.append(float(np.log2(1.0 + np.abs(held.astype(np.float64))).sum()))
        held = np.diff(held, prepend=np.int32(0))
    return Column(numbers, step, int(np.argmin(lengths)))


def packed(columns: Mapping[str, Column]) -> tuple[dict[str, Any], bytearray]:
    """Form, place, step and order of each column; and all of them, one after another."""
    arrays, body = {}, bytearray()
    for name, (numbers, step, order) in columns.items():
        raw = np.ascontiguousarray(numbers.astype(numbers.dtype.newbyteorder("<")).ravel())
        form, size = raw.dtype.str.lstrip("<|"), raw.dtype.itemsize
        for _ in range(order):
            raw = np.diff(raw, prepend=raw.dtype.type(0))
        if order:
            signed = raw.view(f"<i{size}")
            raw = (signed << 1) ^ (signed >> (8 * size - 1))
        arrays[name] = {"form": form, "at": len(body), "count": raw.size, "step": step, "order": order}
        body += raw.view(np.uint8).reshape(raw.size, size).T.tobytes()
    return {"arrays": arrays}, body


class Written(NamedTuple):
    """How the numbers of each letter are written, a row for each byte: decimals at most and at least, whether the point and the zero
    before it always stand."""

    most: Ints
    least: Ints
    point: Bools
    zero: Bools

    @classmethod
    def of(cls, pieces: list[Words]) -> Written:
        """How all the words of these pieces are written."""
        most, point = np.zeros(256, np.int64), np.ones(256, np.bool_)
        least, zero = np.full(256, MOST_DIGITS), np.ones(256, np.bool_)
        for words in pieces:
            np.maximum.at(most, words.letter, words.decimals)
            np.minimum.at(least, words.letter, words.decimals)
            np.logical_and.at(point, words.letter, words.point)
            np.logical_and.at(zero, words.letter, words.whole > 0)
        return cls(most, np.where(point, least, 0), point, zero)


class Words(NamedTuple):
    """The words in a piece of text, in their order.

    at, end           where the number begins and ends
    sign              0, or the sign as a byte
    whole, decimals   digits before and behind the point, if there is a `point`
    used              decimals up to the last that is not zero
    first             its first byte behind the sign
    value             all its digits as one whole number
    """

    letter: NDArray[np.uint8]
    at: Ints
    end: Ints
    sign: NDArray[np.uint8]
    whole: Ints
    decimals: Ints
    used: Ints
    point: Bools
    first: NDArray[np.uint8]
    value: Ints

    @classmethod
    def of(cls, piece: bytes) -> Words:
        """Those of at most `MOST_DIGITS` digits."""
        text = np.frombuffer(piece + b"\n" * (MOST_DIGITS + 2), dtype=np.uint8)
        others = np.flatnonzero(text - ord("0") > 9)
        at = np.flatnonzero(LETTER[text]) + 1
        sign = np.where((text[at] == ord("-")) | (text[at] == ord("+")), text[at], 0)
        begin = at + (sign > 0)
        dot = others[np.searchsorted(others, begin)]
        point = text[dot] == ord(".")
        end = others[np.searchsorted(others, dot + point)]
        whole, decimals = dot - begin, end - dot - point
        kept = (whole + decimals > 0) & (whole + decimals <= MOST_DIGITS)
        at, sign, begin, end, whole, decimals, point = (each[kept] for each in (at, sign, begin, end, whole, decimals, point))
        value, used = np.zeros(at.size, np.int64), np.zeros(at.size, np.int64)
        for k in range(int((whole + decimals).max(initial=0))):
            there = k < whole + decimals
            digit = text[begin + k + (k >= whole)] - ord("0")
            value = np.where(there, value * 10 + digit, value)
            used = np.where(there & (k >= whole) & (digit > 0), k + 1 - whole, used)
        return cls(text[at - 1], at, end, sign, whole, decimals, used, point, text[begin], value)

    def counts(self, how: Written) -> tuple[Ints, Bools]:
        """Each number as a count of its letter's last decimal, and whether it comes back from that as it is written."""
        most, least, point, zero = (each[self.letter] for each in how)
        scale = 10 ** (most - self.decimals)
        shown = np.maximum(least, self.used)
        nothing = (self.whole == 0) | ((self.whole == 1) & (self.first == ord("0")))
        returns = (self.decimals == shown) & (self.point == (point | (shown > 0))) & (self.value <= LARGEST // scale)
        returns &= np.where(nothing, self.whole == (zero | (shown == 0)), self.first != ord("0"))
        returns &= (self.sign == 0) | ((self.sign == ord("-")) & (self.value > 0))
        return np.where(self.sign > 0, -1, 1) * self.value * scale, returns


def _shaped(piece: bytes, at: Ints, end: Ints) -> bytes:
    """The text with a zero byte in place of each of these numbers."""
    text = np.frombuffer(piece, dtype=np.uint8).copy()
    text[at] = 0
    gone = np.zeros(text.size + 1, np.int8)
    gone[at + 1] += 1
    gone[end] -= 1
    return bytes(text[np.cumsum(gone[:-1], dtype=np.int8) == 0])


def _pieces(text: bytes) -> Iterator[bytes]:
    """Of whole lines."""
    at = 0
    while at < len(text):
        end = text.find(b"\n", at + PIECE) + 1 or len(text)
        yield text[at:end]
        at = end


def listing(text: bytes, progress: Progress | None = None) -> tuple[dict[str, Any], dict[str, Column]]:
    """The facts and columns of which the page puts the text together again.

    `lines` says the form of each line, `forms` is their text with a zero byte for each number, `word_X` the numbers of the letter X in
    order. A number that would not come back as it is written stays in the form of its line; so does all, where the text holds zero bytes.
    """
    pieces = list(_pieces(text)) if b"\0" not in text else []
    work, words = Work(progress, LISTING, len(text)), []
    for piece in pieces:
        words.append(Words.of(piece))
        work.on(len(piece))
    written = Written.of(words)
    letters: list[int] = []  # as they come in the text: so columns that change together lie near each other
    for each in words:
        known, at = np.unique(each.letter, return_index=True)
        letters += [letter for letter in known[np.argsort(at)].tolist() if letter not in letters]
    shaped, numbers = [], {letter: [np.zeros(0, np.int64)] for letter in letters}
    for piece, each in zip(pieces, words, strict=True):
        counts, returns = each.counts(written)
        for letter in letters:
            numbers[letter].append(counts[returns & (each.letter == letter)])
        shaped.append(_shaped(piece, each.at[returns], each.end[returns]))
    forms: dict[bytes, int] = {}
    kept = b"".join(shaped) if pieces else text
    lines: Ints = np.array([forms.setdefault(line, len(forms)) for line in kept.split(b"\n")], dtype=np.int64)
    facts = {"length": len(text), "written": {chr(each): [column[each].item() for column in written] for each in letters}}
    columns = {
        "lines": Column(lines.astype(np.uint16 if len(forms) < 2**16 else np.uint32)),
        "forms": Column(np.frombuffer(b"\n".join(forms), dtype=np.uint8)),
    }
    work.end()
    return facts, columns | {f"word_{chr(each)}": best(np.concatenate(numbers[each]).astype(np.int32)) for each in letters}
