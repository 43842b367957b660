"""Where does each word of these lines come from, which line of the file is which line of what would be written now, and which lines belong
together under one heading: head, each operation and tool change, end?
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import takewhile
from operator import eq
from pathlib import Path
from typing import Literal

from steadyrest.errors import InputError, Place
from steadyrest.explaining.line_origins import Origins
from steadyrest.explaining.model import Explained, Explanation, Settings, Spot
from steadyrest.explaining.reasons import asked_moves, why
from steadyrest.explaining.word_origins import event_words, motion_words
from steadyrest.notices import Notice
from steadyrest.posting import begin
from steadyrest.profile import resolve
from steadyrest.progress import MATCHING, Progress, Work
from steadyrest.reading import opened_program
from steadyrest.request import Request
from steadyrest.toolpath import Toolpath
from steadyrest.writing import Origin, word_format

TOLD_AT = 1000
"""After so many lines that both have it is told how far it is."""
SMALL = 3000
"""Sections of so many lines are compared with each other line by line; longer ones are first cut where a line is found once in both."""

ALIKE = 0.5
"""Lines that have as much of their text in common are taken for the same line, changed (difflib's ratio)."""


SectionKind = Literal["head", "operation", "tool change", "end"]
_KINDS: dict[str, SectionKind] = {
    "program_start": "head",
    "operation_start": "operation",
    "tool_change": "tool change",
    "program_end": "end",
}


@dataclass(frozen=True, slots=True)
class Written:
    """A program as it would be written now, in memory and unproved, and where each line comes from: made once, asked often.

    lines      its lines, without their ends
    origins    where each of them comes from
    settings   of its profile
    notices    what was changed on the way from toolpath to program
    """

    request: Request
    toolpath: Toolpath
    lines: tuple[str, ...]
    origins: Origins
    settings: Settings
    notices: tuple[Notice, ...]


def write_anew(request: Request, *, progress: Progress | None = None) -> Written:
    """The program of a request, as it would be written now. InputError for whatever keeps it from being written.

    progress   is told how far it is, stage by stage
    """
    resolved = resolve(request.named_controller, request.sets)
    toolpath = request.toolpath(progress=progress)
    told: list[Origin] = []
    underway = begin(toolpath, resolved, request, record=told.append, progress=progress)
    lines = b"".join(underway).decode("ascii").splitlines()
    said = word_format(resolved.profile, inch=underway.inch, rotary_letters=underway.letters)
    turned = any(notice.kind == "EndForEnd" for notice in underway.notices)
    settings = Settings(resolved, said, end_for_end=turned, axis=toolpath.axis)
    return Written(request, toolpath, tuple(lines), Origins(told), settings, tuple(underway.notices))


def explain(program: Path, first: int, last: int, request: Request, *, progress: Progress | None = None) -> Explanation:
    """Explain the lines from first to last, both included, from 1, of a program's file.

    The program is written anew in memory, unproved, as `request` says; where the file differs from it, that is said.
    progress  is told how far it is, stage by stage
    raises    InputError for a program that cannot be read, lines that it does not have, and whatever keeps it from being written
    """
    with opened_program(program) as opened:
        file = lines_of(opened.read())
    check_lines(len(file), first, last, str(program))
    return explain_lines(program, file, first, last, write_anew(request, progress=progress), progress)


def lines_of(program: bytes) -> list[str]:
    """The lines of a program, without their ends; a byte that is no ASCII is no line of a program of ours, and stays visible as such."""
    return program.decode("utf-8", errors="replace").replace("\r\n", "\n").replace("\r", "\n").removesuffix("\n").split("\n")


def check_lines(count: int, first: int, last: int, program: str) -> None:
    """InputError unless a program of so many lines has those from first to last."""
    if not 1 <= first <= last <= count:
        raise InputError(
            f"the lines {first} to {last} are asked for, and there are {count}" if first != last else f"there is no line {first}",
            place=Place(file=program),
            cure=f"ask for lines from 1 to {count}",
        )


def explain_lines(
    program: Path, file: Sequence[str], first: int, last: int, written: Written, progress: Progress | None = None
) -> Explanation:
    """Explain the lines from first to last, both included, from 1, of a program's lines, held against what would be written now.

    program   what it is called
    progress  is told how many lines are held against each other
    raises    InputError for lines that it does not have
    """
    check_lines(len(file), first, last, str(program))
    now, settings, request = written.lines, written.settings, written.request
    pairs = matched(file, now, Work(progress, MATCHING, len(file)))
    changed = [at + 1 for at, pair in enumerate(pairs) if not pair or file[at] != now[pair - 1]]
    origins = written.origins.of(set(pairs[first - 1 : last]))
    asked = asked_moves(written.toolpath, {(one.operation, one.move) for one in origins.values()})
    explained = []
    for number in range(first, last + 1):
        pair = pairs[number - 1]
        if not pair:
            explained.append(Explained(number, file[number - 1], None))
            continue
        origin = origins[pair]
        at, move = origin.operation, origin.move
        operation = written.toolpath.operations[at - 1] if at else None
        says = asked.get((at, move), "")
        rule, reason, keys = why(origin, operation, says, settings, request.tolerance)
        text, row = now[pair - 1], origin.row
        notices = [notice.sentence() for notice in written.notices if at and notice.place.operation == at and row is not None]
        before = next((one for one in reversed(pairs[: number - 1]) if one), 0)
        explained.append(
            Explained(
                number=number,
                text=file[number - 1],
                now=text,
                operation=at,
                operation_name=operation.name if operation is not None else "",
                intent=operation.rotary.intent if operation is not None else "",
                move=move,
                asked=says,
                rule=rule,
                why=reason,
                why_settings=keys,
                template=Spot(origin.template) if origin.template else None,
                words=motion_words(text, row, settings) if row is not None else event_words(text, origin, settings),
                notices=tuple(dict.fromkeys(notices)),
                missing=pair - before - 1,
            )
        )
    missing = len(now) - sum(map(bool, pairs))
    controller = settings.profile.name
    return Explanation(program, str(request.part), controller, tuple(explained), len(changed), changed[0] if changed else None, missing)


def matched(file: Sequence[str], now: Sequence[str], work: Work | None = None) -> list[int]:
    """For each line of a file the one of those that would be written now that it answers to, by its number from 1; 0: none.

    work   is told how many lines of the file are through
    """
    work = work or Work(None, MATCHING)
    work.to(0)
    pairs = [0] * len(file)
    low = sum(takewhile(bool, map(eq, file, now)))
    high = sum(takewhile(bool, map(eq, file[low:][::-1], now[low:][::-1])))
    pairs[:low] = range(1, low + 1)
    pairs[len(file) - high :] = range(len(now) - high + 1, len(now) + 1)
    work.to(low)
    _between(file, now, (low, len(file) - high), (low, len(now) - high), pairs, work)
    work.end()
    return pairs


def _between(file: Sequence[str], now: Sequence[str], f: tuple[int, int], n: tuple[int, int], pairs: list[int], work: Work) -> None:
    """Sections f of the file and n of the other, both half open; what is found goes into `pairs`."""
    anchors = [] if max(f[1] - f[0], n[1] - n[0]) <= SMALL else _anchors(file, now, f, n)
    begin = f[0], n[0]
    for number, (at, other) in enumerate([*anchors, (f[1], n[1])]):
        _small(file, now, (begin[0], at), (begin[1], other), pairs)
        if at < f[1]:
            pairs[at] = other + 1
        if number % TOLD_AT == 0:
            work.to(at)
        begin = at + 1, other + 1


def _anchors(file: Sequence[str], now: Sequence[str], f: tuple[int, int], n: tuple[int, int]) -> list[tuple[int, int]]:
    """Lines that stand once in either section, as far as they stand in the same order."""
    in_file, in_now = Counter(file[slice(*f)]), Counter(now[slice(*n)])
    places = {now[at]: at for at in range(*n) if in_now[now[at]] == 1}
    found: list[tuple[int, int]] = []
    for at in range(*f):
        other = places.get(file[at], -1)
        if in_file[file[at]] == 1 and other > (found[-1][1] if found else -1):
            found.append((at, other))
    return found


def _small(file: Sequence[str], now: Sequence[str], f: tuple[int, int], n: tuple[int, int], pairs: list[int]) -> None:
    if f[0] >= f[1] or n[0] >= n[1]:
        return
    if max(f[1] - f[0], n[1] - n[0]) > SMALL:
        # Nothing in common to hold on to: line by line where both are as long, else not at all.
        if f[1] - f[0] == n[1] - n[0]:
            pairs[f[0] : f[1]] = range(n[0] + 1, n[1] + 1)
        return
    a, b = list(file[slice(*f)]), list(now[slice(*n)])
    for what, a0, a1, b0, b1 in SequenceMatcher(None, a, b, autojunk=False).get_opcodes():
        if what == "equal" or (what == "replace" and a1 - a0 == b1 - b0):
            pairs[f[0] + a0 : f[0] + a1] = range(n[0] + b0 + 1, n[0] + b1 + 1)
        elif what == "replace":  # a few lines against more or fewer others: each goes to the first in order that looks like it
            free = b0
            for one in range(a0, a1):
                like = (at for at in range(free, b1) if SequenceMatcher(None, a[one], b[at]).ratio() >= ALIKE)
                if (other := next(like, None)) is not None:
                    pairs[f[0] + one] = n[0] + other + 1
                    free = other + 1


@dataclass(frozen=True, slots=True)
class Section:
    """Some lines of a program that belong together. A tool change is a part of its operation.

    first, last   its lines, from 1, both included; `last` is `first - 1` where the program says nothing there
    operation     its number, from 1; 0: it belongs to none
    name          of the operation, as the toolpath has it; may be empty
    tool          number of the tool of the operation, or of the one that is put in; None for head and end
    tool_name     its name in the toolpath; may be empty
    intent        of the operation: `indexed`, `wrapped`, `simultaneous`, `still` or another of the toolpath's; empty for head and end
    angles        of an indexed operation, degrees; planes: in how many planes it is cut
    """

    kind: SectionKind
    first: int
    last: int
    operation: int = 0
    name: str = ""
    tool: int | None = None
    tool_name: str = ""
    intent: str = ""
    angles: tuple[float, ...] = ()
    planes: int = 0


def sections(written: Written) -> tuple[Section, ...]:
    """The sections of a program in the order of its lines; an operation reaches to the next one, or to the end of the program."""
    names = {tool.number: tool.name for tool in written.toolpath.tools}
    begins = [(first, event, kind) for first, event in written.origins.events if (kind := _KINDS.get(event.name)) is not None]
    found: list[Section] = []
    past = written.origins.count + 1
    for first, event, kind in reversed(begins):
        if kind == "tool change":
            end = written.origins.past(first, event)
        else:
            end, past = past, first
        if not event.operation:
            found.append(Section(kind, first, end - 1))
            continue
        operation = written.toolpath.operations[event.operation - 1]
        rotary, tool = operation.rotary, operation.tool
        angles = tuple(rotary.angles or ()) if rotary.intent == "indexed" else ()
        planes = len(rotary.planes or ()) if rotary.intent == "indexed" else 0
        found.append(
            Section(kind, first, end - 1, event.operation, operation.name, tool, names.get(tool, ""), rotary.intent, angles, planes)
        )
    return tuple(reversed(found))
