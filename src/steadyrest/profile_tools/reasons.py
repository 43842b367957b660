"""Which change of a profile changes which line of a program? One change after the other is made, and what each does is watched.

A change is a setting, or the file of a template. Made one at a time, from the first profile to the second, every line that comes out
different is put down to the change that was made then; changes that cannot stand alone are made together.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from itertools import combinations, islice, zip_longest
from operator import attrgetter, itemgetter
from pathlib import Path
from typing import Any

from steadyrest.errors import ProfileError
from steadyrest.profile import ResolvedProfile
from steadyrest.profile_tools.settings import differences, with_values
from steadyrest.profile_tools.trial import Part, program_parts
from steadyrest.toolpath import Toolpath

TEMPLATE = "template "
"""What stands before the name of a template among changes."""
TOGETHER = " with "
"""Between changes that can only be made together."""
ON_EVERY_LINE = ("program.line_ending", "program.block_numbers.")
"""Settings that `program_parts` leaves out."""
MOST_TRIED_TOGETHER = 400
"""So many changes, pairs and triples of them, are tried before all that are left are made at once."""

Changes = Mapping[str, tuple[Any, Any]]
"""The key of a setting, or `template NAME.j2`: what the first profile has (ABSENT, or no file: None), and what the second."""


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the first program and the line of the second that answers it; None where there is none. No reasons: they are equal."""

    first: str | None
    second: str | None
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartRows:
    """One part of both programs: an event, or motion by one rule. `differs` where any of its rows has reasons."""

    name: str
    operation: int
    rows: tuple[Row, ...]

    @property
    def differs(self) -> bool:
        """Whether any of its lines is not the same in both."""
        return any(row.reasons for row in self.rows)


def changes_between(first: ResolvedProfile, second: ResolvedProfile) -> dict[str, tuple[Any, Any]]:
    """The settings that differ by their keys, then the templates that are not the same text in both."""
    one, other = template_files(first), template_files(second)
    files = {name: (one.get(name), other.get(name)) for name in sorted(one.keys() | other.keys())}
    differing = {name: (a, b) for name, (a, b) in files.items() if a is None or b is None or a.read_bytes() != b.read_bytes()}
    return differences(first.profile, second.profile) | {TEMPLATE + name: pair for name, pair in differing.items()}


def template_files(resolved: ResolvedProfile) -> dict[str, Path]:
    """The file of each template: the first folder that has it wins."""
    return {file.name: file for folder in reversed(resolved.template_folders) for file in sorted(folder.glob("*.j2"))}


class Way:
    """From the first profile to the second, for one toolpath.

    scratch   an empty folder for templates in between
    """

    def __init__(self, toolpath: Toolpath, first: ResolvedProfile, second: ResolvedProfile, changes: Changes, scratch: Path) -> None:
        self.toolpath, self.first, self.changes, self.scratch = toolpath, first, changes, scratch
        self.start, self.goal = program_parts(toolpath, first), program_parts(toolpath, second)

    def after(self, made: Iterable[str]) -> tuple[Part, ...] | None:
        """The program with some of the changes made; None where they cannot stand like that."""
        values = {change: self.changes[change][1] for change in made}
        try:
            profile = with_values(self.first.profile, {key: value for key, value in values.items() if not key.startswith(TEMPLATE)})
        except ProfileError:
            return None
        folders = self.first.template_folders
        if files := [value for key, value in values.items() if key.startswith(TEMPLATE)]:
            shutil.rmtree(self.scratch, ignore_errors=True)
            self.scratch.mkdir(parents=True)
            for file in filter(None, files):
                shutil.copy(file, self.scratch)
            folders = (self.scratch, *folders)
        return program_parts(self.toolpath, replace(self.first, profile=profile, template_folders=folders))

    def steps(self) -> Iterator[tuple[tuple[str, ...], tuple[Part, ...]]]:
        """Changes made together, mostly one, and the program after them, up to the second's own."""
        fits = not (_refused(self.start) or _refused(self.goal))  # then no place in between may refuse
        made: tuple[str, ...] = ()
        left = list(self.changes)

        while left:
            groups = (group for size in (1, 2, 3) for group in islice(combinations(left, size), MOST_TRIED_TOGETHER))
            tried = ((group, self.after((*made, *group))) for group in groups)
            fitting = ((group, parts) for group, parts in tried if parts is not None and not (fits and _refused(parts)))
            group, parts = next(fitting, (tuple(left), self.goal))
            made += group
            done = left.index(group[0]) + 1  # those before it could not stand yet, and wait until the others have been tried
            left = [each for each in (*left[done:], *left[:done]) if each not in group]
            yield group, parts


def _refused(parts: Sequence[Part]) -> bool:
    return len(parts) == 1 and parts[0].name == "refusal"


@dataclass(slots=True, eq=False)
class _Line:
    """A line on its way from the first program to the second: what has changed it, and which lines of the first it comes from."""

    text: str
    reasons: set[str] = field(default_factory=set)
    origins: set[_Line] = field(default_factory=set)


Lines = list[tuple[tuple[str, int], list[_Line]]]
"""The lines of each part of a program, with its name and operation."""
_TEXT = attrgetter("text")


def _lines(parts: Sequence[Part]) -> Lines:
    return [((part.name, part.operation), [_Line(line) for line in part.lines]) for part in parts]


def _matched(first: Sequence[Any], second: Sequence[Any], key: Callable[[Any], Any]) -> list[tuple[bool, slice, slice]]:
    """The stretches of two sequences that answer each other, in order, and whether they are equal."""
    matcher = SequenceMatcher(None, [key(each) for each in first], [key(each) for each in second], autojunk=False)
    return [(kind == "equal", slice(a, b), slice(c, d)) for kind, a, b, c, d in matcher.get_opcodes()]


def _aligned(first: Lines, second: Lines) -> Iterator[tuple[tuple[str, int], list[_Line], list[_Line]]]:
    """The parts that answer each other: the same event, or motion by the same rule, of the same operation, in the same order."""
    for equal, here, there in _matched(first, second, itemgetter(0)):
        if equal:
            yield from ((key, ours, theirs) for (key, ours), (_, theirs) in zip(first[here], second[there], strict=True))
        else:
            yield from ((key, ours, []) for key, ours in first[here])
            yield from ((key, [], theirs) for key, theirs in second[there])


def side_by_side(
    toolpath: Toolpath, first: ResolvedProfile, second: ResolvedProfile, changes: Changes, scratch: Path
) -> tuple[PartRows, ...]:
    """Both programs of a toolpath, with the reason of each difference. `scratch`: an empty folder."""
    way = Way(toolpath, first, second, changes, scratch)
    start = lines = _lines(way.start)
    if way.start == way.goal:
        return tuple(_rows(start, lines, ()))
    parts, loud, every = way.start, set[str](), set[str]()
    for made, after in way.steps():
        if after != parts:
            every.add(reason := TOGETHER.join(made))
            loud |= set(made)
            lines, parts = list(_carried(lines, after, reason)), after
    # Changes that did nothing on the way, because they were made before the one that needs them: what if only they were not made?
    for change in (each for each in changes if each not in loud and not each.startswith(ON_EVERY_LINE)):
        without = way.after(each for each in changes if each != change) or way.goal
        for _, ours, theirs in _aligned(lines, _lines(without)):
            for equal, here, _ in _matched(ours, theirs, _TEXT):
                for line in [] if equal else ours[here]:
                    line.reasons.add(change)
    return tuple(_rows(start, lines, sorted(every)))


def _carried(old: Lines, parts: Sequence[Part], reason: str) -> Iterator[tuple[tuple[str, int], list[_Line]]]:
    for key, was, comes in _aligned(old, _lines(parts)):
        for equal, ours, theirs in reversed(_matched(was, comes, _TEXT)):
            sources, new = was[ours], comes[theirs]
            if equal:
                comes[theirs] = sources
                continue
            for origin in set(sources).union(*(line.origins for line in sources)):
                origin.reasons.add(reason)
            for index, line in enumerate(new):
                source = sources[index : index + 1] if len(sources) == len(new) else sources
                line.reasons = {reason}.union(*(each.reasons for each in source))
                line.origins = set().union(*(each.origins or {each} for each in source))
        if comes:
            yield key, comes


def _rows(first: Lines, second: Lines, every: Sequence[str]) -> Iterator[PartRows]:
    for (name, operation), left, right in _aligned(first, second):
        known = set().union(*(line.reasons for line in (*left, *right)))
        rows: list[Row] = []
        for equal, ours, theirs in _matched(left, right, _TEXT):
            for pair in zip_longest(left[ours], right[theirs]):
                reasons = set().union(*(line.reasons for line in pair if line)) or known or every
                one, other = (line.text if line else None for line in pair)
                rows.append(Row(one, other, () if equal else tuple(sorted(reasons))))
        yield PartRows(name, operation, tuple(rows))
