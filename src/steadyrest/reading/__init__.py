"""The reading room: a finished program's text, read as the controller would. Its door is `read_program`.

`Lenient` says that a program comes from elsewhere and only what it cuts is wanted; `pieces` puts many small items together;
`within_block` says where the tool is in the middle of a block, `sigma` which way a word of the rotary turns the part; `lex_line` takes a
line of an unknown dialect apart.
"""

from __future__ import annotations

from steadyrest.reading.block_words import Word, lex_line
from steadyrest.reading.dialect import Lenient
from steadyrest.reading.motion_read import (
    BESIDE_WORDS,
    ArcsRead,
    EventRead,
    MotionRead,
    Piece,
    ProgramItem,
    last_line,
    no_arcs,
    pieces,
    sigma,
    within_block,
)
from steadyrest.reading.program import lines_in, opened_program, read_program

__all__ = [
    "BESIDE_WORDS",
    "ArcsRead",
    "EventRead",
    "Lenient",
    "MotionRead",
    "Piece",
    "ProgramItem",
    "Word",
    "last_line",
    "lex_line",
    "lines_in",
    "no_arcs",
    "opened_program",
    "pieces",
    "read_program",
    "sigma",
    "within_block",
]
