"""Which words, comments and marks does a line have?"""

from __future__ import annotations

import re

from steadyrest.explaining.model import WordOrigin
from steadyrest.explaining.settings import Settings

_PIECE = re.compile(r"(?P<comment>\([^)]*\)|;.*)|(?P<word>[A-Za-z:]\s*[-+]?(?:\d+\.?\d*|\.\d+))|(?P<other>[^\sA-Za-z:(;]+|\S)")


def pieces(line: str) -> list[str]:
    """A line's words, comments and marks, from left to right, without the spaces between them."""
    return [found.group() if found["comment"] else re.sub(r"\s", "", found.group()) for found in _PIECE.finditer(line)]


def is_comment(piece: str) -> bool:
    """A comment, in either style."""
    return piece[:1] in ("(", ";")


def block_number(piece: str, settings: Settings) -> WordOrigin:
    """Where the number of a block comes from."""
    return WordOrigin(piece, "block number", settings.of("program.block_numbers.use", "program.block_numbers.step"))
