"""What a listener hears while a program is written: which item each line comes from. Without a listener nothing of it is worked out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple, Protocol

from steadyrest.columns import Ints
from steadyrest.motion import Event, Motion

Source = Literal["template", "cycle", "plain"]
"""A line of an event: printed by its template, a block of its cycle, or said by the event itself."""


class Named(str):
    """Text that knows what it is: a ready word, a setting, a word of a block."""

    name: str

    def __new__(cls, text: str, name: str) -> Named:
        """The text, and the name under which it is asked about."""
        made = super().__new__(cls, text)
        made.name = name
        return made


class Printed(NamedTuple):
    """A piece of an event's line, as it was put there.

    name    `words.NAME`, `setting.KEY` or `comment` in a template, the word's name in a block; empty for text that stands as it is
    facts   names of the facts that a comment is made of
    file    the template, and its line from 1; empty and 0 where no template printed it
    """

    text: str
    name: str = ""
    facts: tuple[str, ...] = ()
    file: str = ""
    line: int = 0


class Recording(Protocol):
    """Hears of every line in the order of the program. With a listener, runs are not joined: each is heard of as it was planned."""

    def begins(self, event: Event, template: str) -> None:
        """An event is about to be written: the file of its template."""

    def line(self, number: int, source: Source, printed: Sequence[Printed]) -> None:
        """A line of the event that began last, by its number in the program, from 1; its pieces in order, without a block number."""

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        """A run, or some 8000 rows of a longer one; its rows `kept` (k,) became the lines from first_line on, the others say nothing."""

    def ends(self) -> None:
        """The event that began last is written."""


class WhoSaid:
    """Remembers which file, or which plug-in, says one line of a program; nothing for a line of motion."""

    def __init__(self, line: int) -> None:
        self.file = ""
        self._line, self._template = line, ""

    def begins(self, event: Event, template: str) -> None:
        """As a Recording."""
        self._template = template

    def line(self, number: int, source: Source, printed: Sequence[Printed]) -> None:
        """As a Recording."""
        if number == self._line:
            self.file = self._template

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        """As a Recording."""

    def ends(self) -> None:
        """As a Recording."""
