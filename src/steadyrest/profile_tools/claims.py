"""What an example shows of a dialect: a setting, its value, and the line that shows it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from steadyrest.profile_tools.example_lines import Example, Line
from steadyrest.profile_tools.example_motion import Move, moves_of


@dataclass(frozen=True, slots=True)
class Claim:
    """A setting that an example shows.

    line     the number of the line that shows it, 0 where the whole file does
    text     that line
    why      in what way it shows it
    sure     the example leaves no other reading; else it is only likely, and has to be asked before it is used
    """

    key: str
    value: Any
    line: int
    text: str
    why: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Seen:
    """An example with its moves."""

    example: Example
    moves: tuple[Move, ...]

    def first(self, *codes: str) -> Line | None:
        """The first block with any of these codes."""
        return next((line for line in self.example.blocks if line.has(*codes)), None)

    def all(self, *codes: str) -> Iterator[Line]:
        """Every block with any of these codes."""
        return (line for line in self.example.blocks if line.has(*codes))

    @property
    def inch(self) -> bool | None:
        """Whether it is in inches; None where it does not say."""
        if self.first("G20", "G70"):
            return None if self.first("G21", "G71") else True
        return False if self.first("G21", "G71") else None


def seen_in(example: Example) -> Seen:
    """Follow an example."""
    return Seen(example, moves_of(example))


def at(line: Line, key: str, value: Any, why: str, *, sure: bool = True) -> Claim:
    """A claim that one line shows."""
    return Claim(key, value, line.number, line.text.strip(), why, sure)


def whole(key: str, value: Any, why: str, *, sure: bool = True) -> Claim:
    """A claim that the whole file shows."""
    return Claim(key, value, 0, "", why, sure)


def spelled(line: Line, code: str) -> str:
    """A code as the line spells it."""
    return next(word.text for word in line.words if word.code == code)
