"""Everything steadyrest raises on purpose.

A message has three parts: where, what is wrong (with what is allowed), and the cure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

LONGEST_WORD = 200
"""Characters of a word or name in a message; paths are whole."""
LONGEST_SENTENCE = 2_000
_LONG = re.compile(rf"[^\s/\\]{{{LONGEST_WORD + 1},}}")


def short(name: str) -> str:
    """A name as it stands in a message: its first 80 characters."""
    return name if len(name) <= 80 else f"{name[:77]}..."


def cut(text: str) -> str:
    """A text with its long words cut in the middle, so that a message stays one that can be read."""
    return text if len(text) <= LONGEST_WORD else _LONG.sub(lambda found: f"{found[0][:60]}...{found[0][-20:]}", text)


def sentence(text: str) -> str:
    """A sentence of a message: without long words, and no longer than a screen."""
    text = cut(text)
    return text if len(text) <= LONGEST_SENTENCE else f"{text[: LONGEST_SENTENCE - 200]} ... {text[-150:]}"


@dataclass(frozen=True, slots=True)
class Place:
    """Where something is: as much of it as is known. Numbers count from 1; `angle_deg` and `plane` are those of an indexed operation."""

    file: str | None = None
    line: int | None = None
    column: int | None = None
    operation: int | None = None
    operation_name: str | None = None
    move: int | None = None
    key: str | None = None
    angle_deg: float | None = None
    plane: int | None = None

    def __str__(self) -> str:
        parts: list[str] = []
        if self.file is not None:
            file = self.file if len(self.file) <= LONGEST_SENTENCE else f"{self.file[:300]}...{self.file[-100:]}"
            spot = [file] + [str(n) for n in (self.line, self.column) if n is not None]
            parts.append(":".join(spot))
        elif self.line is not None:
            parts.append(f"line {self.line}" + (f", column {self.column}" if self.column is not None else ""))
        if self.operation is not None:
            name = f" '{short(self.operation_name)}'" if self.operation_name else ""
            angle = f" at {self.angle_deg:g} degrees" if self.angle_deg is not None else ""
            plane = f" in plane {self.plane}" if self.plane is not None else ""
            parts.append(f"operation {self.operation}{name}{angle}{plane}")
        if self.move is not None:
            parts.append(f"move {self.move}")
        if self.key is not None:
            parts.append(sentence(self.key))
        return ", ".join(parts)

    def before(self, sentence: str) -> str:
        """A sentence with the place in front of it, if there is any."""
        return f"{where}: {sentence}" if (where := str(self)) else sentence

    def within(self, file: str) -> Place:
        """The same place with its file named, if it was not yet."""
        return self if self.file is not None else replace(self, file=file)


class SteadyrestError(Exception):
    """Base of all: a place, what is wrong, and the cure, each a plain sentence."""

    exit_code = 1

    def __init__(self, wrong: str, *, place: Place | None = None, cure: str = "", also: Sequence[SteadyrestError] = ()) -> None:
        """also: what else is wrong with the same file, as far as that can be told at once."""
        super().__init__(wrong)
        self.wrong = sentence(wrong)
        self.place = place if place is not None else Place()
        self.cure = sentence(cure)
        self.also = tuple(also)

    def __str__(self) -> str:
        return "\n".join([self.alone(), *map(str, self.also)])

    def alone(self) -> str:
        """Its message without what else is wrong."""
        text = self.place.before(self.wrong)
        return f"{text}\n  cure: {self.cure}" if self.cure else text

    def as_json(self) -> dict[str, Any]:
        """The same as data, under the key `error`."""
        said = {"kind": type(self).__name__, "exit_code": self.exit_code, "wrong": self.wrong, "cure": self.cure}
        also = [each.as_json()["error"] for each in self.also]
        return {"error": said | asdict(self.place) | {"also": also}}


class InputError(SteadyrestError):
    """What was given is wrong; nothing was written."""


class ToolpathError(InputError):
    """The toolpath file, or an operation or move in it, is wrong."""

    tool: tuple[int, float, str] | None = None
    """Number, diameter and unit of the tool that has to be described to mend it, where it is about one."""


class ProfileError(InputError):
    """A controller profile is wrong: file, key and what is allowed."""


class TemplateError(InputError):
    """A template of a profile is wrong: file and line."""


class PlanError(InputError):
    """The toolpath cannot be run on this controller as it stands."""


class PluginError(InputError):
    """A plug-in refuses, fails, or says what it may not: its name, its package and version, and at what."""


class ProgramError(InputError):
    """A program is not in the controller's language: line, column, what was found, what is allowed."""


class OutputError(InputError):
    """The place the program should go to cannot take it."""


class Refused(SteadyrestError):
    """The proof failed or a check said no; the file is as it was before."""

    exit_code = 3

    def __init__(self, wrong: str, *, screen: str = "", found: Mapping[str, Any] | None = None, **more: Any) -> None:
        """screen: what was found, for a person, below the message; found: the same as data."""
        super().__init__(wrong, **more)
        self.screen = screen
        self.found = found or {}

    def __str__(self) -> str:
        said = super().__str__()
        return f"{said}\n{self.screen}" if self.screen else said

    def as_json(self) -> dict[str, Any]:
        """What was found, with the keys of the verdict where it is one, and the `error`."""
        return {**self.found, **super().as_json()}


class Cancelled(SteadyrestError):
    """Whoever asked wants no more of it; nothing was put in place, unless it says what may have been."""

    exit_code = 130
