"""How do columns of numbers and the listing become small enough to be carried in a page?

A column is held as counts of a step, of which differences are taken where these are smaller; a difference becomes a whole number that is
small whatever its sign (0, -1, 1, -2 are 0, 1, 2, 3), and of all of them first the lowest bytes are written, then the next: deflate finds
more in that. The listing is taken apart into forms of lines and columns of the numbers in their words, which pack like positions; put
together again it is what it was, byte for byte. `1_unpack.js` undoes both.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from math import ceil, log10
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats, Ints
from steadyrest.progress import LISTING, Progress, Work

MOST_ORDER = 2
WORD = re.compile(rb"([A-FH-LN-Z])([-+]?(?:\d+\.?\d*|\.\d+))")
"""A letter and its number. G and M words stay as they are: they tell one form of line from another."""
LARGEST = 2**31 - 1
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
    """How the numbers of one letter are written: decimals at most and at least, whether the point and the zero before it always stand."""

    most: int
    least: int
    point: bool
    zero: bool

    def text(self, count: int) -> bytes:
        """A count of the last decimal, as it is written."""
        digits = b"%0*d" % (self.most + 1, abs(count))
        whole, part = digits[: len(digits) - self.most], digits[len(digits) - self.most :]
        kept = max(self.least, len(part.rstrip(b"0")))
        if whole == b"0" and not self.zero and kept:
            whole = b""
        return (b"-" if count < 0 else b"") + whole + (b"." if kept or self.point else b"") + part[:kept]


def _written(numbers: set[bytes]) -> Written:
    parts = [number.partition(b".") for number in numbers]
    point = all(dot for _, dot, _ in parts)
    most = max(len(part) for *_, part in parts)
    return Written(most, min(len(part) for *_, part in parts) if point else 0, point, not any(whole in (b"", b"-") for whole, *_ in parts))


def _told(text: bytes, progress: Progress | None) -> Iterator[bytes]:
    """The text in pieces of whole lines."""
    work, at = Work(progress, LISTING, len(text)), 0
    while at < len(text):
        work.to(at)
        end = text.find(b"\n", at + PIECE) + 1 or len(text)
        yield text[at:end]
        at = end
    work.end()


def listing(text: bytes, progress: Progress | None = None) -> tuple[dict[str, Any], dict[str, Column]]:
    """The facts and columns of which the page puts the text together again.

    `lines` says the form of each line, `forms` is their text with a zero byte for each number, `word_X` the numbers of the letter X in
    order. A number that would not come back as it is written stays in the form of its line; so does all, where the text holds zero bytes.
    """
    found: dict[bytes, set[bytes]] = {}
    whole = b"\0" not in text
    for letter, number in WORD.findall(text) if whole else ():
        found.setdefault(letter, set()).add(number)
    written = {letter: _written(numbers) for letter, numbers in found.items()}
    known: dict[tuple[bytes, bytes], int | None] = {}
    counts: dict[bytes, list[int]] = {letter: [] for letter in found}

    def taken(match: re.Match[bytes]) -> bytes:
        letter, number = match.groups()
        key = (letter, number)
        if key not in known:
            how = written[letter]
            before, _, part = number.partition(b".")
            count = int((before + part.ljust(how.most, b"0")).replace(b"+", b"") or b"0")
            known[key] = count if abs(count) <= LARGEST and how.text(count) == number else None
        count_of = known[key]
        if count_of is None:
            return match.group()
        counts[letter].append(count_of)
        return letter + b"\0"

    shaped = b"".join(WORD.sub(taken, piece) for piece in _told(text, progress)) if whole else text
    forms: dict[bytes, int] = {}
    lines: Ints = np.array([forms.setdefault(line, len(forms)) for line in shaped.split(b"\n")], dtype=np.int64)
    facts = {"length": len(text), "written": {letter.decode(): list(how) for letter, how in written.items()}}
    columns = {
        "lines": Column(lines.astype(np.uint16 if len(forms) < 2**16 else np.uint32)),
        "forms": Column(np.frombuffer(b"\n".join(forms), dtype=np.uint8)),
    }
    return facts, columns | {f"word_{letter.decode()}": best(np.array(counts[letter], dtype=np.int32)) for letter in counts}
