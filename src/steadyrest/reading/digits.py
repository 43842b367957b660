"""Numbers from bytes, many at once and strictly: what is not a plain number is flagged, never guessed.

Eight characters are one 64-bit integer, the first in the lowest byte, and are decoded together. A number is an optional sign, digits,
at most one point among them, at least one digit: anything else, or more digits than a float holds exactly, goes to the full grammar.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.uint64]

PAD = 16
MOST_CHARACTERS = 16
BEYOND = 1e9  # in no word of a program: the grammar says so, with its place
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


@dataclass(frozen=True, slots=True)
class Numbers:
    """Decoded numbers.

    values   (n,) float64, the nearest floats to the decimals; meaningless where `bad`
    points   (n,) bool, a decimal point stands in the number
    signed   (n,) bool, a sign stands before it
    bad      (n,) bool, not a plain number
    """

    values: NDArray[np.float64]
    points: NDArray[np.bool_]
    signed: NDArray[np.bool_]
    bad: NDArray[np.bool_]


def decode_numbers(padded: bytes, starts: NDArray[np.int64], lengths: NDArray[np.int64]) -> Numbers:
    """The numbers that stand at `starts` and are `lengths` bytes long.

    padded   text with at least PAD bytes after the last number; the numbers' characters are ASCII
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
    return Numbers(floats, points, signed, bad)


def _aligned(eight: Bits, lengths: NDArray[np.int64]) -> Bits:
    """The first `lengths` characters moved to the top, zeros before them, each byte the digit's value."""
    shifts = lengths << 3
    np.subtract(64, shifts, out=shifts)
    aligned = eight ^ _ZEROS
    aligned <<= shifts.view(np.uint64)
    return aligned


def _decode_eight(x: Bits) -> tuple[Bits, NDArray[np.int64], NDArray[np.bool_], NDArray[np.bool_]]:
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


def _decode_long(
    eights: Bits, starts: NDArray[np.int64], lengths: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]:
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
    values: NDArray[np.float64] = digits.view(np.int64).astype(np.float64) / _POWERS[decimals]
    bad |= values >= BEYOND
    return values, points, bad
