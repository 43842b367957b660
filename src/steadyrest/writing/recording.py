"""What a listener hears while a program is written: which item each line comes from. Without a listener nothing of it is worked out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, Protocol

from steadyrest.columns import Ints
from steadyrest.motion.model import Event, Motion

Source = Literal["template", "cycle", "plain"]
"""A line of an event: printed by its template, a block of its cycle, or said by the event itself."""


class Recording(Protocol):
    """Hears of every line in the order of the program. With a listener, runs are not joined: each is heard of as it was planned."""

    def begins(self, event: Event, words: Mapping[str, str], template: str) -> None:
        """An event is about to be written: its ready words by name, and the file of its template."""

    def line(self, number: int, source: Source) -> None:
        """A line of the event that began last, by its number in the program, from 1."""

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        """A run, or some 8000 rows of a longer one; its rows `kept` (k,) became the lines from first_line on, the others say nothing."""

    def ends(self) -> None:
        """The event that began last is written."""


class WhoSaid:
    """Remembers which file, or which plug-in, says one line of a program; nothing for a line of motion."""

    def __init__(self, line: int) -> None:
        self.file = ""
        self._line, self._template = line, ""

    def begins(self, event: Event, words: Mapping[str, str], template: str) -> None:
        """As a Recording."""
        self._template = template

    def line(self, number: int, source: Source) -> None:
        """As a Recording."""
        if number == self._line:
            self.file = self._template

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        """As a Recording."""

    def ends(self) -> None:
        """As a Recording."""
