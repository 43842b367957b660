"""What is known of a line once it is explained?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Setting:
    """A setting of the profile: its value, and the file that states it.

    origin   the file, "--set", or "built-in default"
    line     of the file; None where it stands in none
    """

    key: str
    value: Any
    origin: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """A line of a template; None where it is not known which."""

    file: str
    line: int | None = None


@dataclass(frozen=True, slots=True)
class WordOrigin:
    """One word, comment or mark of a line.

    says       what it says, in a sentence
    settings   the settings that made it so, the first the nearest
    template   the line of the template that printed it; None for motion
    """

    word: str
    says: str
    settings: tuple[Setting, ...] = ()
    template: Spot | None = None


@dataclass(frozen=True, slots=True)
class Explained:
    """One line of the file.

    number       of the line in the file
    text         as it stands there
    now          what would be written now in its place; None where nothing would
    operation    number of the toolpath's operation, 0 for none; `move` likewise
    asked        what the toolpath says there; empty for what comes from no move
    why          the rule that made the line, in a sentence, with the settings it follows
    words        of `now`, from left to right
    notices      what was changed on the way in this operation
    missing      how many lines that would be written now are missing just before this one
    """

    number: int
    text: str
    now: str | None
    operation: int = 0
    operation_name: str = ""
    intent: str = ""
    move: int = 0
    asked: str = ""
    rule: str = ""
    why: str = ""
    why_settings: tuple[Setting, ...] = ()
    template: Spot | None = None
    words: tuple[WordOrigin, ...] = ()
    notices: tuple[str, ...] = ()
    missing: int = 0

    @property
    def same(self) -> bool:
        """The file says what would be written now."""
        return self.text == self.now


@dataclass(frozen=True, slots=True)
class Explanation:
    """Some lines of a program.

    lines      those asked for
    changed    how many lines of the whole file are not what would be written now
    first      the first of them; None where there is none
    missing    how many lines that would be written now the file does not have
    """

    program: Path
    toolpath: str
    controller: str
    lines: tuple[Explained, ...]
    changed: int
    first: int | None
    missing: int
