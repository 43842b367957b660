"""How a number becomes text: from a whole count of its least increment, here and nowhere else.

Every number is first rounded to whole counts, half to even; the count is the definition of what is written, so there is no
minus zero, no exponent, and no second rounding. `number_text` spells one count, `number_pieces` spells whole columns of
them; both give the same characters. A piece is four bytes of text in a uint32, a zero byte where a character is left out:
a writer sets pieces side by side and takes the zero bytes out of many blocks at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import Kind, Quantity
from steadyrest.profile import NumberFormat, Numbers

Piece = NDArray[np.uint32]

LARGEST_COUNT = 10**15
"""Beyond this a float64 no longer holds every count with room to spare (2**53 is 9.007e15)."""


@dataclass(frozen=True, slots=True)
class Spelling:
    """How the numbers of one word are spelled: a `NumberFormat`, resolved for the units of the program.

    decimals        of the value; one count is 10 to the power of minus this
    point           a decimal point is written: "always", "when_needed", or not at all ("counts")
    trailing_zeros  all decimals are written
    leading_zero    0.5 and not .5
    plus            + before positive numbers
    digits          of a number without decimals: filled up with leading zeros to so many
    """

    decimals: int
    point: str = "when_needed"
    trailing_zeros: bool = False
    leading_zero: bool = True
    plus: bool = False
    digits: int = 1

    @property
    def scale(self) -> int:
        """Counts in one unit of the value."""
        return int(10**self.decimals)


PLAIN = Spelling(0)
"""Whole numbers that are names rather than sizes: tool numbers, turns in a comment."""


def spelling(numbers: Numbers, kind: Kind, letter: str, *, inch: bool) -> Spelling:
    """How a profile spells a number of one kind behind one letter; `by_letter` speaks for lengths and angles only."""
    if kind == "count":
        return PLAIN
    form: NumberFormat = getattr(numbers, kind)
    if kind in ("length", "angle"):
        form = numbers.by_letter.get(letter, form)
    decimals = form.inch_decimals if inch and form.inch_decimals is not None else form.decimals
    counts = form.point == "counts"
    return Spelling(decimals, form.point, form.trailing_zeros and not counts, form.leading_zero, form.plus)


def to_count(value: float, spelled: Spelling) -> int:
    """The whole count of least increments nearest to a value, half to even. PlanError where it is not finite or too large."""
    exact = value * spelled.scale
    if not abs(exact) < LARGEST_COUNT:
        raise PlanError(f"{value!r} cannot be written as a number", cure="a word takes finite numbers below 10^9")
    return round(exact)


def to_counts(values: Floats, spelled: Spelling) -> Ints:
    """The same for a column: (n,) float64 to (n,) int64, each as `to_count` rounds it."""
    exact = np.multiply(values, spelled.scale, dtype=np.float64)
    if len(exact) and not (exact.min() > -LARGEST_COUNT and exact.max() < LARGEST_COUNT):
        worst = values[~(np.abs(exact) < LARGEST_COUNT)][0]
        raise PlanError(f"{float(worst)!r} cannot be written as a number", cure="a word takes finite numbers below 10^9")
    return np.rint(exact, out=exact).astype(np.int64)


def number_text(count: int, spelled: Spelling) -> str:
    """One count as text, sign included."""
    sign = "-" if count < 0 else "+" if count > 0 and spelled.plus else ""
    if spelled.point == "counts" or spelled.decimals == 0:
        return sign + str(abs(count)).rjust(spelled.digits, "0") + ("." if spelled.point == "always" else "")
    whole, part = divmod(abs(count), spelled.scale)
    digits = str(part).rjust(spelled.decimals, "0")
    if not spelled.trailing_zeros:
        digits = digits.rstrip("0")
    point = "." if digits or spelled.point == "always" else ""
    nothing = "" if digits and not spelled.leading_zero else "0"
    return sign + (str(whole) if whole else nothing) + point + digits


def word_text(quantity: Quantity, numbers: Numbers, *, inch: bool) -> str:
    """A quantity as a word: `S8000`, `Z-12.5`. PlanError for a value that is no number."""
    spelled = spelling(numbers, quantity.kind, quantity.letter, inch=inch)
    return quantity.letter + number_text(to_count(quantity.value, spelled), spelled).rjust(quantity.digits, "0")


def number_pieces(counts: Ints, spelled: Spelling) -> tuple[Piece, list[Piece]]:
    """A column of counts as text.

    counts   (n,) int64, magnitudes below 10^18
    returns  the sign of each, (n,) uint32 with the sign in its third byte and all others zero, and the digits, a list of
             (n,) uint32 from left to right
    """
    sign = (counts < 0) * _MINUS
    if spelled.plus:
        sign |= (counts > 0) * _PLUS
    magnitudes = np.abs(counts)
    if spelled.point == "counts" or spelled.decimals == 0:
        pieces = whole_pieces(magnitudes, spelled.digits)
        if spelled.point == "always":
            pieces.append(np.full(len(counts), _POINT))
        return sign, pieces
    whole = magnitudes // spelled.scale
    part = magnitudes - whole * spelled.scale
    pieces = whole_pieces(whole, least=1 if spelled.leading_zero else 0)
    if not spelled.leading_zero and not spelled.trailing_zeros:
        pieces[-1][magnitudes == 0] = _ZERO
    return sign, pieces + _part_pieces(part, spelled)


def whole_pieces(values: Ints, least: int = 1) -> list[Piece]:
    """Whole numbers, not negative, four digits a piece, with at least `least` digits: (n,) int64 to pieces, (n,) uint32 each."""
    groups: list[Piece] = []
    while True:
        if least <= 4 and (not len(values) or values.max() < 10_000):
            return [_whole_table(least).take(values), *groups]
        higher = values // 10_000
        lower = values - higher * 10_000
        # A group in front of which something stands has all its four digits.
        full = (higher > 0) | (least > 4)
        groups.insert(0, _whole_table(min(least, 4)).take(lower + 10_000 * full))
        values, least = higher, max(least - 4, 0)


def _part_pieces(part: Ints, spelled: Spelling) -> list[Piece]:
    decimals, trailing, always = spelled.decimals, spelled.trailing_zeros, spelled.point == "always"
    if decimals <= 4:
        found = _point_table(decimals, trailing, always).take(part, axis=0)
        return [found[:, i] for i in range(found.shape[1])]
    rest_scale = 10 ** (decimals - 3)
    first = part // rest_scale
    rest = part - first * rest_scale
    full = 1000 * (rest > 0)
    return [_point_table(3, trailing, always).ravel().take(first + full), _tail_table(decimals - 3, trailing).take(rest)]


def _pieces(texts: list[str]) -> Piece:
    """(entries, pieces): each text, filled up with nothing."""
    return np.array(texts, dtype=f"S{-(-max(map(len, texts)) // 4) * 4}").view(np.uint32).reshape(len(texts), -1)


_MINUS, _PLUS, _POINT, _ZERO = _pieces(["\0\0-", "\0\0+", ".", "0"]).ravel()


@cache
def _whole_table(least: int) -> Piece:
    """0 to 9999 with at least `least` digits (0 as nothing where `least` is 0), then the same again with four digits."""
    full = [f"{number:04d}" for number in range(10_000)]
    return _pieces([text.lstrip("0").rjust(least, "0") for text in full] + full).ravel()


@cache
def _point_table(decimals: int, trailing_zeros: bool, always: bool) -> Piece:
    """The point and up to four decimals, (entries, pieces): trailing zeros as asked, then again with all of them (more decimals follow)."""
    full = [f".{number:0{decimals}d}" for number in range(10**decimals)]
    asked = full if trailing_zeros else ["." if always else "", *(text.rstrip("0") for text in full[1:])]
    return _pieces(asked + full)


@cache
def _tail_table(digits: int, trailing_zeros: bool) -> Piece:
    full = [f"{number:0{digits}d}" for number in range(10**digits)]
    return _pieces(full if trailing_zeros else [text.rstrip("0") for text in full]).ravel()
