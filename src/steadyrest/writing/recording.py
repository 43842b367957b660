"""Where each line of a program comes from, told while it is written. Where nobody asks, nothing of it is worked out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal, NamedTuple

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


class Origin(NamedTuple):
    """Where some lines come from: one line of an event, or the blocks of a run; before them, without either, that an event begins.

    first_line   the first of them, by its number in the program, from 1
    event        what they belong to, None: nothing; and the file of its template, or who else says its lines
    said         of a line of an event: its source, and its pieces in order, without a block number
    blocks       of motion: the run, or some 8000 rows of a longer one, and its rows (k,) that became the lines; the others say nothing
    """

    first_line: int
    event: Event | None
    file: str
    said: tuple[Source, Sequence[Printed]] | None = None
    blocks: tuple[Motion, Ints] | None = None


Record = Callable[[Origin], None]
"""Is told of all lines in the order of the program."""
