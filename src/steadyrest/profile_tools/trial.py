"""What comes out when a toolpath is written for a profile, in memory; and the tour, the toolpaths on which every profile is tried."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any, Literal

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import ProfileError, SteadyrestError
from steadyrest.posting import begin
from steadyrest.profile import Profile, ResolvedProfile, chain_of, shipped_folder
from steadyrest.profile_tools.settings import with_values
from steadyrest.progress import Progress, Work
from steadyrest.proof import Verdict, prove
from steadyrest.request import Request
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.writing import Origin, Record, Writing

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


HOLDER_MM, STICKS_OUT_MM = 60.0, 40.0


def tried_gauge_lengths(toolpath: Toolpath, profile: Profile) -> dict[int, float]:
    """Gauge lengths to try a machine with a head on, by tool, file units: every tool in a holder of 60 mm, from which 40 mm stick out where
    its length is not given. They are facts of a set-up, which is none here; where no head turns there are none."""
    chain = chain_of(profile)
    if chain is None or not chain.tool:
        return {}
    mm = 1.0 / MM_PER_INCH if toolpath.units == "inch" else 1.0
    return {tool.number: round((tool.length or STICKS_OUT_MM * mm) + HOLDER_MM * mm, 4) for tool in toolpath.tools}


def _begun(toolpath: Toolpath, resolved: ResolvedProfile, record: Record | None = None, progress: Progress | None = None) -> Writing:
    request = Request(toolpath, gauge_lengths=tried_gauge_lengths(toolpath, resolved.profile))
    return begin(toolpath, resolved, request, record=record, progress=progress)


def try_out(toolpath: Toolpath, resolved: ResolvedProfile) -> Trial:
    """Write a toolpath and prove it. Never raises for what is wrong with toolpath, profile or templates, nor for a mistake of ours."""
    text = b""
    try:
        text = b"".join(_begun(toolpath, resolved))
        verdict = prove(text, toolpath, resolved.profile, gauge_lengths=tried_gauge_lengths(toolpath, resolved.profile))
    except SteadyrestError as error:
        # where the reader does not take what was written, that is a proof that failed, and no refusal in time
        return Trial("not proved" if text else "refused", str(error), error=error)
    except Exception as error:  # whatever it is, the other checks go on
        return Trial("broken", f"steadyrest failed: {type(error).__name__}: {error}")
    if (failure := verdict.failure) is None:
        return Trial("proved", verdict=verdict, text=text)
    where = f"{failure.place}: " if str(failure.place) else ""
    return Trial("not proved", f"{where}{failure.sentence}" + (f"; likely: {failure.cause}" if failure.cause else ""), verdict)


def tried(toolpaths: Mapping[str, Toolpath], resolved: ResolvedProfile, work: Work | None = None) -> dict[str, Trial]:
    """Every toolpath written and proved; `work` counts them."""
    found: dict[str, Trial] = {}
    for name, toolpath in toolpaths.items():
        found[name] = try_out(toolpath, resolved)
        if work is not None:
            work.on()
    return found


def program_text(toolpath: Toolpath, resolved: ResolvedProfile, record: Record | None = None) -> str:
    """The program, or the words of its refusal: to see whether two settings make any difference. The digest of the profile is left out."""
    try:
        return without_digest(b"".join(_begun(toolpath, resolved, record))).decode("ascii")
    except SteadyrestError as error:
        return f"refused: {error}"


def matters(key: str, instead: Any, resolved: ResolvedProfile, programs: Iterable[tuple[Toolpath, str]]) -> bool:
    """Whether any of a profile's programs is another one with a setting of another value, or its other settings forbid that value."""
    try:
        without = replace(resolved, profile=with_values(resolved.profile, {key: instead}))
    except ProfileError:
        return True
    return any(program_text(toolpath, without) != text for toolpath, text in programs)


def without_digest(program: bytes) -> bytes:
    """The program without the digest of its profile, which differs with every setting and says nothing of the program."""
    return _HEAD.sub(rb"\g<1>" + 16 * b"0", program)


def program_parts(toolpath: Toolpath, resolved: ResolvedProfile) -> tuple[Part, ...]:
    """The same, as parts, without block numbers and line endings, which would make every line another one. A refusal is one part."""
    told: list[Origin] = []
    text = program_text(toolpath, resolved, told.append)
    if text.startswith("refused: "):
        return (Part("refusal", 0, tuple(text.removeprefix("refused: ").splitlines())),)
    numbers = resolved.profile.program.block_numbers
    block_number = re.compile(rf"^(/?){numbers.letter}\d+ ?" if numbers.use != "none" else "^()(?!)")
    lines = [(number, block_number.sub(r"\1", line)) for number, line in enumerate(text.replace("\r", "").split("\n")[:-1], 1)]
    parts, of_line, event_part = list[tuple[str, int]](), [0], 0
    for _, event, _, said, blocks in told:
        if blocks is not None:  # also inside an event: it is the motion's
            run, kept = blocks
            if not parts or parts[-1] != (run.rule, run.operation):
                parts.append((run.rule, run.operation))
            of_line += [len(parts) - 1] * len(kept)
        elif said is not None:
            of_line.append(event_part)
        elif event is not None:
            event_part = len(parts)
            parts.append((event.name, event.operation))
    groups = groupby(lines, key=lambda each: of_line[each[0]])
    return tuple(Part(*parts[index], tuple(line for _, line in group)) for index, group in groups)


def events_reached(toolpaths: Iterable[Toolpath], resolved: ResolvedProfile) -> set[str]:
    """The names of the events that the programs of some toolpaths have; a program that is refused has none."""
    found: set[str] = set()
    for toolpath in toolpaths:
        told: list[Origin] = []
        if not program_text(toolpath, resolved, told.append).startswith("refused: "):
            found |= {origin.event.name for origin in told if origin.event is not None}
    return found


def event_lines(toolpath: Toolpath, resolved: ResolvedProfile, progress: Progress | None = None) -> dict[str, list[tuple[int, str]]]:
    """The lines of a program that templates say, motion that they print included, by their event: number, from 1, and text.

    Raises as a post does.
    """
    told: list[Origin] = []
    lines = b"".join(_begun(toolpath, resolved, told.append, progress)).decode("ascii").splitlines()
    found: dict[str, list[tuple[int, str]]] = {}
    for origin in told:
        count = 1 if origin.said is not None else len(origin.blocks[1]) if origin.blocks is not None else 0
        if origin.event is not None and count:
            numbers = range(origin.first_line, origin.first_line + count)
            found.setdefault(origin.event.name, []).extend((number, lines[number - 1]) for number in numbers)
    return found


ENDING = ".toolpath.json"


def tour_folder() -> Path:
    """The folder of the tour: in a checkout the one of its golden files, else the one inside the installed package.

    Raises ProfileError when neither is there: the installation is damaged.
    """
    return shipped_folder("tour", within="tests/golden")


@cache
def tour() -> Mapping[str, Toolpath]:
    """The toolpaths of the tour by their names: every intent, every axis, both units, arcs, cycles, more turns than most travels."""
    return {file.name.removesuffix(ENDING): load_toolpath(file) for file in sorted(tour_folder().glob(f"*{ENDING}"))}
