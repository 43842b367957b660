"""What the proof cannot see, or need not."""

from __future__ import annotations

from fault_table import fault, in_middle, middle, only_z, pairs
from planting import Program
from program_text import Text


@fault("a block doubled at once")
def _(program: Program) -> Text | None:
    block = middle([b for b in program.cuts(motions=("line",)) if "G" not in b.words])
    return program.text.with_inserted(block.at, "".join(program.text.lines[block.at])) if block else None


@fault("the last count of a coordinate off by one")
def _(program: Program) -> Text | None:
    count = 10.0 ** -program.decimals("X")
    blocks = [b for b in program.cuts("X", motions=("line",)) if "F" not in b.words]
    return in_middle(program, blocks, "X", lambda value: value + count) if program.absolute and blocks else None


@fault("a comment changed")
def _(program: Program) -> Text | None:
    for at, line in enumerate(program.text.lines):
        for spot, token in enumerate(line):
            if token[0] == "(" and "PROVED" not in token:
                return program.text.with_line(at, (*line[:spot], "(SOMETHING ELSE)", *line[spot + 1 :]))
    return None


@fault("a block number changed")
def _(program: Program) -> Text | None:
    at = middle([at for at in range(len(program.text.lines)) if "N" in program.text.words(at)])
    return program.text.number(at, "N", "7") if at is not None else None


@fault("a rapid's lift higher than needed")
def _(program: Program) -> Text | None:
    both = pairs(program)
    found = [b for before, b in both if b.motion == "rapid" and before.motion == "line" and only_z(b)]
    block = middle(found)
    if block is None or not program.absolute:
        return None
    higher = program.changed(block, "Z", lambda value: value + 1)
    return program.text.with_inserted(block.at, "".join(higher.lines[block.at]))


NOT_CATCHABLE: dict[str, str] = {
    "the end of a cycle left out": "the next motion code ends the cycle as well (NISTIR 6556, 3.5.16)",
    "a block doubled at once": "in absolute words it goes nowhere: the same metal is cut (incremental or inverse time: it is caught)",
    "the last count of a coordinate off by one": "within the tolerance: the program still cuts what was asked for",
    "a comment changed": "comments move nothing",
    "a block number changed": "numbers of blocks move nothing, and the language lets them repeat",
    "a rapid's lift higher than needed": "a safe way to the same place",
    "return to the old level after a hole": "higher than asked, which is safe, and the way on from there is judged by itself",
}
"""Faults that may pass, each with its reason."""
