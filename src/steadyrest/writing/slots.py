"""How columns of words become lines of text: word slots of whole pieces, set side by side, zero bytes taken out at the end.

A slot is one word in every block of a chunk: some pieces of four bytes, and which blocks have the word. The first byte of a
slot's first piece is kept free for the space before the word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Ints
from steadyrest.writing.numbers import Piece, Spelling, number_pieces, whole_pieces

Flags = NDArray[np.bool_]


@dataclass(slots=True)
class Slot:
    """One word of every block: pieces (n,) each, from left to right, and the blocks that have it, (n,) bool; None: all of them."""

    letter: str
    pieces: list[Piece]
    said: Flags | None


def number_slot(letter: str, counts: Ints, spelled: Spelling, said: Flags | None) -> Slot:
    """A letter and a number: (n,) int64 counts."""
    sign, digits = number_pieces(counts, spelled)
    return Slot(letter, [sign | _piece("\0" + letter), *digits], said)


def code_slot(codes: Sequence[str], which: Ints, said: Flags | None) -> Slot:
    """A code out of a few, by its number, (n,) int64; codes are up to seven characters, of one letter all of them."""
    table = np.frombuffer(b"".join(("\0" + code).encode("ascii").ljust(8, b"\0") for code in codes), dtype=np.uint32).reshape(-1, 2)
    letter = next((code[0] for code in codes if code), "G")
    return Slot(letter, [table[:, 0].take(which), table[:, 1].take(which)], said)


def block_number_slot(letter: str, numbers: Ints, digits: int) -> Slot:
    """The numbers of blocks, with at least so many digits."""
    pieces = whole_pieces(numbers, digits)
    return Slot(letter, [np.full(len(numbers), _piece("\0" + letter)), *pieces], None)


def lines(slots: Sequence[Slot], n: int, *, spaces: bool, ending: str) -> bytes:
    """The text of n lines, each with its own words of the slots in the order given."""
    width = sum(len(slot.pieces) for slot in slots) + 1
    sheet = np.empty((n, width), dtype=np.uint32)
    column = 0
    before: Flags | None = None
    always = False
    for slot in slots:
        first, *rest = slot.pieces
        if spaces and always:
            first = first | _SPACE
        elif spaces and before is not None:
            first = np.where(before, first | _SPACE, first)
        # A piece times false is four zero bytes.
        said = None if slot.said is None else slot.said.astype(np.uint32)
        for piece in (first, *rest):
            if said is None:
                sheet[:, column] = piece
            else:
                np.multiply(piece, said, out=sheet[:, column])
            column += 1
        if slot.said is None:
            always = True
        elif not always:
            before = slot.said if before is None else before | slot.said
    sheet[:, column] = _piece(ending)
    return sheet.tobytes().translate(None, b"\0")


def _piece(text: str) -> np.uint32:
    return np.uint32(np.frombuffer(text.encode("ascii").ljust(4, b"\0"), dtype=np.uint32)[0])


_SPACE = _piece(" ")
