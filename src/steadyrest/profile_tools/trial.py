"""What comes out when a toolpath is written for a profile, in memory; and the tour, the toolpaths on which every profile is tried."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Literal

from steadyrest.columns import Ints
from steadyrest.errors import SteadyrestError
from steadyrest.motion import Event, Motion
from steadyrest.posting import begin
from steadyrest.profile import ResolvedProfile, shipped_folder
from steadyrest.proof import Verdict, prove
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.writing import Printed, Source

Outcome = Literal["proved", "not proved", "refused", "broken"]

_HEAD = re.compile(rb"(PROVED TOOLPATH [0-9A-F]{16} PROFILE )[0-9A-F]{16}")


@dataclass(frozen=True, slots=True)
class Part:
    """Consecutive lines of a program with one reason to be there.

    name        the event (`tool_change`), or the rule of the motion (`cut`, `link`); "refusal" where there is no program
    operation   its number, from 1; 0 outside any
    """

    name: str
    operation: int
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Trial:
    """One toolpath tried on one profile.

    outcome   "proved"; "not proved" by the proof; "refused" in words before anything was written, as it should be where a controller
              cannot; "broken": steadyrest itself failed
    words     why it was not proved, refused or broken; empty when proved
    error     the error of a refusal
    text      the proved program
    """

    outcome: Outcome
    words: str = ""
    verdict: Verdict | None = None
    error: SteadyrestError | None = None
    text: bytes = b""


@dataclass(slots=True)
class _Heard:
    """Which part each line belongs to, heard while the program is written; a line of motion inside an event is the motion's."""

    parts: list[tuple[str, int]] = field(default_factory=list)
    of_line: dict[int, int] = field(default_factory=dict)
    events: set[str] = field(default_factory=set)
    event_part: int = 0

    def begins(self, event: Event, template: str) -> None:
        self.events.add(event.name)
        self.event_part = len(self.parts)
        self.parts.append((event.name, event.operation))

    def line(self, number: int, source: Source, printed: Sequence[Printed]) -> None:
        self.of_line[number] = self.event_part

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        if not self.parts or self.parts[-1] != (run.rule, run.operation):
            self.parts.append((run.rule, run.operation))
        self.of_line |= dict.fromkeys(range(first_line, first_line + len(kept)), len(self.parts) - 1)

    def ends(self) -> None:
        pass


def try_out(toolpath: Toolpath, resolved: ResolvedProfile) -> Trial:
    """Write a toolpath and prove it. Never raises for what is wrong with toolpath, profile or templates, nor for a mistake of ours."""
    text = b""
    try:
        text = _written(toolpath, resolved)
        verdict = prove(text, toolpath, resolved.profile)
    except SteadyrestError as error:
        # where the reader does not take what was written, that is a proof that failed, and no refusal in time
        return Trial("not proved" if text else "refused", str(error), error=error)
    except Exception as error:  # whatever it is, the other checks go on
        return Trial("broken", f"steadyrest failed: {type(error).__name__}: {error}")
    if (failure := verdict.failure) is None:
        return Trial("proved", verdict=verdict, text=text)
    where = f"{failure.place}: " if str(failure.place) else ""
    return Trial("not proved", f"{where}{failure.sentence}" + (f"; likely: {failure.cause}" if failure.cause else ""), verdict)


def tried(toolpaths: Mapping[str, Toolpath], resolved: ResolvedProfile) -> dict[str, Trial]:
    """Every toolpath written and proved."""
    return {name: try_out(toolpath, resolved) for name, toolpath in toolpaths.items()}


def program_text(toolpath: Toolpath, resolved: ResolvedProfile, heard: _Heard | None = None) -> str:
    """The program, or the words of its refusal: to see whether two settings make any difference. The digest of the profile is left out."""
    try:
        return without_digest(_written(toolpath, resolved, heard)).decode("ascii")
    except SteadyrestError as error:
        return f"refused: {error}"


def without_digest(program: bytes) -> bytes:
    """The program without the digest of its profile, which differs with every setting and says nothing of the program."""
    return _HEAD.sub(rb"\g<1>" + 16 * b"0", program)


def program_parts(toolpath: Toolpath, resolved: ResolvedProfile) -> tuple[Part, ...]:
    """The same, as parts, without block numbers and line endings, which would make every line another one. A refusal is one part."""
    heard = _Heard()
    text = program_text(toolpath, resolved, heard)
    if text.startswith("refused: "):
        return (Part("refusal", 0, tuple(text.removeprefix("refused: ").splitlines())),)
    numbers = resolved.profile.program.block_numbers
    block_number = re.compile(rf"^(/?){numbers.letter}\d+ ?" if numbers.use != "none" else "^()(?!)")
    lines = [(number, block_number.sub(r"\1", line)) for number, line in enumerate(text.replace("\r", "").split("\n")[:-1], 1)]
    groups = groupby(lines, key=lambda each: heard.of_line[each[0]])
    return tuple(Part(*heard.parts[index], tuple(line for _, line in group)) for index, group in groups)


def events_reached(toolpaths: Iterable[Toolpath], resolved: ResolvedProfile) -> set[str]:
    """The names of the events that the programs of some toolpaths have; a program that is refused has none."""
    found: set[str] = set()
    for toolpath in toolpaths:
        heard = _Heard()
        if not program_text(toolpath, resolved, heard).startswith("refused: "):
            found |= heard.events
    return found


def _written(toolpath: Toolpath, resolved: ResolvedProfile, heard: _Heard | None = None) -> bytes:
    return b"".join(begin(toolpath, resolved, record=heard).writing)


ENDING = ".toolpath.json"


def tour_folder() -> Path:
    """The folder of the tour: in a checkout the one of its golden files, else the one inside the installed package.

    Raises ProfileError when neither is there: the installation is damaged.
    """
    return shipped_folder("tour", within="tests/golden")


def tour() -> dict[str, Toolpath]:
    """The toolpaths of the tour by their names: every intent, every axis, both units, arcs, cycles, more turns than most travels."""
    return dict(_tour(tour_folder()))


@cache
def _tour(folder: Path) -> dict[str, Toolpath]:
    return {file.name.removesuffix(ENDING): load_toolpath(file) for file in sorted(folder.glob(f"*{ENDING}"))}
