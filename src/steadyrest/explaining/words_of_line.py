"""Which words, comments and marks does a line have?"""

from __future__ import annotations

import re

_PIECE = re.compile(r"(?P<comment>\([^)]*\)|;.*)|(?P<word>[A-Za-z:]\s*[-+]?(?:\d+\.?\d*|\.\d+))|(?P<other>[^\sA-Za-z:(;]+|\S)")


def pieces(line: str) -> list[str]:
    """A line's words, comments and marks, from left to right, without the spaces between them."""
    return [found.group() if found["comment"] else re.sub(r"\s", "", found.group()) for found in _PIECE.finditer(line)]


def is_comment(piece: str) -> bool:
    """A comment, in either style."""
    return piece[:1] in ("(", ";")
