"""The table of faults and what choosing a place for one needs.

A fault is a plain function from a finished program to a broken one; None where the program has nothing of the kind.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TypeVar

from planting import Block, Program
from program_text import Text

Fault = Callable[[Program], Text | None]
FAULTS: dict[str, Fault] = {}
T = TypeVar("T")


def fault(name: str) -> Callable[[Fault], Fault]:
    def enter(function: Fault) -> Fault:
        assert name not in FAULTS
        FAULTS[name] = function
        return function

    return enter


def middle(found: Sequence[T]) -> T | None:
    return found[len(found) // 2] if found else None


def in_middle(program: Program, blocks: list[Block], letter: str, change: Callable[[float], float]) -> Text | None:
    block = middle(blocks)
    return program.changed(block, letter, change) if block is not None else None


def moving(program: Program, letter: str, least: float, motions: tuple[str, ...] = ("line",)) -> list[Block]:
    """Cuts whose word of that letter says another position than before, by at least so much."""
    last: float | None = None
    found = []
    for block in program.blocks:
        if letter not in block.words:
            continue
        value = program.value(block, letter)
        step = abs(value - last) if last is not None and program.absolute else abs(value) if not program.absolute else 0.0
        if block.motion in motions and step >= least:
            found.append(block)
        last = value
    return found


def tenth(program: Program) -> float:
    """A step that no tolerance hides: a tenth of a millimetre, or as much in inches."""
    return 0.004 if program.inch else 0.1


def pairs(program: Program) -> list[tuple[Block, Block]]:
    """Each block with the one after it."""
    return list(pairwise(program.blocks))


def only_z(block: Block) -> bool:
    """Whether a block moves Z and no other axis."""
    return set(block.words) & set("XYZABC") == {"Z"}
