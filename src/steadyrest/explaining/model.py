"""What is known of a line once it is explained, and which file says a setting on which line?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from steadyrest.motion import lines_of
from steadyrest.profile import Chain, ResolvedProfile, Rotary, chain_of, flat, has_one_in_table, line_of
from steadyrest.writing import WordFormat


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


class Settings:
    """The settings of one profile, to be asked for by their dotted keys.

    rotary         the one in the table; None without it
    lines          of the rotaries, each at zero, through one point: directions are all that counts here
    end_for_end    the job that they wrote was turned
    axis           of the toolpath
    """

    def __init__(self, resolved: ResolvedProfile, form: WordFormat, *, end_for_end: bool = False, axis: str = "X") -> None:
        self.resolved = resolved
        self.profile = resolved.profile
        self.form = form
        self.rotaries: dict[str, Rotary] = {letter: self.profile.rotary[letter] for letter in form.rotary_letters}  # type: ignore[index]
        self.rotary = next(iter(self.rotaries.values()), None) if has_one_in_table(self.profile) else None
        self.lines = lines_of(self.profile, chain_of(self.profile) or Chain(tuple(self.rotaries)), np.zeros(3), 0.0, 1.0)
        self.end_for_end, self.axis = end_for_end, axis
        self._values = flat(self.profile)
        self._found: dict[str, Setting] = {}

    def of(self, *keys: str) -> tuple[Setting, ...]:
        """The settings of some keys; `rotary.*.` stands for each rotary that the program turns. Keys that are not there are left out."""
        said = [key.replace("rotary.*", f"rotary.{letter}") for key in keys for letter in self.form.rotary_letters or ("*",)]
        known = [key for key in dict.fromkeys(said) if key in self._values]
        for key in known:
            if key not in self._found:
                origin = self.resolved.origins.get(key, "")
                line = line_of(Path(origin), key) if origin.endswith(".toml") else None
                self._found[key] = Setting(key, self._values[key], origin, line)
        return tuple(self._found[key] for key in known)

    def number(self, kind: str, letter: str) -> tuple[Setting, ...]:
        """How the numbers of a word are spelled: its decimals, and whether they are whole counts."""
        by_letter = kind in ("length", "angle") and letter in self.profile.numbers.by_letter
        table = f"numbers.by_letter.{letter}" if by_letter else f"numbers.{kind}"
        inches = self._values.get(f"{table}.inch_decimals") if self.form.inch else None
        keys = [f"{table}.decimals" if inches is None else f"{table}.inch_decimals"]
        if self._values.get(f"{table}.point") != "when_needed":
            keys.append(f"{table}.point")
        return self.of(*keys)


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
