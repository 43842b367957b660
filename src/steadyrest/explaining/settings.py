"""What does a setting say, and which file says it on which line?"""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Any

from steadyrest.explaining.model import Setting
from steadyrest.motion import sigma
from steadyrest.profile import ResolvedProfile, Rotary, flat, line_of
from steadyrest.writing import WordFormat


class Settings:
    """The settings of one profile, to be asked for by their dotted keys; `end_for_end`: the job that they wrote was turned."""

    def __init__(self, resolved: ResolvedProfile, form: WordFormat, letter: str | None, *, end_for_end: bool = False) -> None:
        self.resolved = resolved
        self.profile = resolved.profile
        self.form = form
        self.letter = letter
        self.rotary: Rotary | None = next((one for name, one in self.profile.rotary.items() if name == letter), None)
        self.sign = sigma(self.rotary) if self.rotary is not None else 1
        self.end_for_end = end_for_end
        self._found: dict[str, Setting] = {}

    @cached_property
    def _values(self) -> dict[str, Any]:
        return flat(self.profile)

    def of(self, *keys: str) -> tuple[Setting, ...]:
        """The settings of some keys; `rotary.*.` stands for the rotary that the program turns. Keys that the profile lacks are left out."""
        said = [key.replace("rotary.*", f"rotary.{self.letter}") for key in keys]
        return tuple(self._one(key) for key in dict.fromkeys(said) if key in self._values)

    def number(self, kind: str, letter: str) -> tuple[Setting, ...]:
        """How the numbers of a word are spelled: its decimals, and whether they are whole counts."""
        by_letter = kind in ("length", "angle") and letter in self.profile.numbers.by_letter
        table = f"numbers.by_letter.{letter}" if by_letter else f"numbers.{kind}"
        inches = self._values.get(f"{table}.inch_decimals") if self.form.inch else None
        keys = [f"{table}.decimals" if inches is None else f"{table}.inch_decimals"]
        if self._values.get(f"{table}.point") != "when_needed":
            keys.append(f"{table}.point")
        return self.of(*keys)

    def _one(self, key: str) -> Setting:
        if key not in self._found:
            origin = self.resolved.origins.get(key, "")
            line = line_of(Path(origin), key) if origin.endswith(".toml") else None
            self._found[key] = Setting(key, self._values[key], origin, line)
        return self._found[key]
