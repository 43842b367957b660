"""Which change of a profile changes which line of a program? One change after the other is made, and what each does is watched.

A change is a setting, or the file of a template. Made one at a time, from the first profile to the second, every line that comes out
different is put down to the change that was made then; changes that cannot stand alone are made together.
"""

from __future__ import annotations

import shutil
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import combinations, islice, zip_longest
from pathlib import Path

from steadyrest.errors import ProfileError
from steadyrest.profile import Profile
from steadyrest.profile_tools.settings import differences, with_values
from steadyrest.profile_tools.trial import Part, program_parts, program_text
from steadyrest.toolpath import Toolpath

TEMPLATE = "template "
"""What stands before the name of a template among changes."""
TOGETHER = " with "
"""Between changes that can only be made together."""
ON_EVERY_LINE = ("program.line_ending", "program.block_numbers.")
"""Settings that `program_parts` leaves out."""
NOT_IN_PROGRAMS = ("speaks", "program.extension", "delivery.")
"""Settings that say nothing of what is in a program."""
MOST_TRIED_TOGETHER = 400
"""So many pairs of changes are tried before all that are left are made at once."""


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


@dataclass(frozen=True, slots=True)
class Dialect:
    """A profile, and where its templates are looked for."""

    profile: Profile
    template_folders: tuple[Path, ...]

    def parts(self, toolpath: Toolpath) -> tuple[Part, ...]:
        """The program of a toolpath, or its refusal."""
        return program_parts(toolpath, self.profile, self.template_folders)


def changes_between(first: Dialect, second: Dialect) -> list[str]:
    """The settings that differ by their keys, then the templates that differ, as `template NAME.j2`."""
    keys = [each.key for each in differences(first.profile, second.profile) if not each.key.startswith(NOT_IN_PROGRAMS)]
    return keys + [TEMPLATE + name for name in differing_templates(first.template_folders, second.template_folders)]


def differing_templates(first: Sequence[Path], second: Sequence[Path]) -> dict[str, tuple[Path | None, Path | None]]:
    """The templates that are not the same text in both, with their files; None where there is none."""
    one, other = _templates(first), _templates(second)
    pairs = {name: (one.get(name), other.get(name)) for name in sorted(one.keys() | other.keys())}
    return {name: (a, b) for name, (a, b) in pairs.items() if a is None or b is None or a.read_bytes() != b.read_bytes()}


def _templates(folders: Sequence[Path]) -> dict[str, Path]:
    """The file of each template: the first folder that has it wins."""
    return {file.name: file for folder in reversed(folders) for file in sorted(folder.glob("*.j2"))}


def on_every_line(toolpath: Toolpath, first: Dialect, second: Dialect, changes: Sequence[str]) -> tuple[str, ...]:
    """The changes of line ending and block numbers without which the second's program would be another one."""
    before = {each.key: each.first for each in differences(first.profile, second.profile)}
    whole = program_text(toolpath, second.profile, second.template_folders)

    def matters(change: str) -> bool:
        try:
            without = with_values(second.profile, {change: before[change]})
        except ProfileError:
            return True
        return program_text(toolpath, without, second.template_folders) != whole

    return tuple(change for change in changes if change.startswith(ON_EVERY_LINE) and matters(change))


class Way:
    """From the first dialect to the second, for one toolpath.

    scratch   an empty folder for templates in between
    """

    def __init__(self, toolpath: Toolpath, first: Dialect, second: Dialect, changes: Sequence[str], scratch: Path) -> None:
        self.toolpath, self.first, self.second, self.changes, self.scratch = toolpath, first, second, changes, scratch
        self.start, self.goal = first.parts(toolpath), second.parts(toolpath)
        self._values = {each.key: each.second for each in differences(first.profile, second.profile)}

    def after(self, made: Iterable[str]) -> tuple[Part, ...] | None:
        """The program with some of the changes made; None where they cannot stand like that."""
        made = tuple(made)
        try:
            profile = with_values(self.first.profile, {key: self._values[key] for key in made if key in self._values})
        except ProfileError:
            return None
        names = [change.removeprefix(TEMPLATE) for change in made if change.startswith(TEMPLATE)]
        folders = self.first.template_folders
        if names:
            shutil.rmtree(self.scratch, ignore_errors=True)
            self.scratch.mkdir(parents=True)
            others = _templates(self.second.template_folders)
            for name in names:
                if name in others:
                    shutil.copyfile(others[name], self.scratch / name)
            folders = (self.scratch, *folders)
        return Dialect(profile, folders).parts(self.toolpath)

    def steps(self) -> Iterator[tuple[tuple[str, ...], tuple[Part, ...]]]:
        """Changes made together, mostly one, and the program after them, up to the second's own."""
        fits = not (_refused(self.start) or _refused(self.goal))  # then no place in between may refuse
        made: tuple[str, ...] = ()
        left = list(self.changes)

        def tried(*changes: str) -> tuple[Part, ...] | None:
            parts = self.after((*made, *changes))
            return None if parts is not None and fits and _refused(parts) else parts

        while left:
            before = len(left)
            for change in list(left):
                if (parts := tried(change)) is not None:
                    made, left = (*made, change), [each for each in left if each != change]
                    yield (change,), parts
            if len(left) == before:
                groups = (group for size in (2, 3) for group in islice(combinations(left, size), MOST_TRIED_TOGETHER))
                together = next(((group, parts) for group in groups if (parts := tried(*group)) is not None), (tuple(left), self.goal))
                made, left = (*made, *together[0]), [each for each in left if each not in together[0]]
                yield together

    def without(self, changes: Sequence[str]) -> Iterator[tuple[str, tuple[Part, ...]]]:
        """Those of some changes without which, all others made, the program is not the second's, and what it is then."""
        batches = [list(changes)] if changes else []
        while batches:
            batch = batches.pop(0)
            parts = self.after(each for each in self.changes if each not in batch)
            if parts == self.goal:
                continue
            if len(batch) > 1:
                batches[:0] = [batch[: len(batch) // 2], batch[len(batch) // 2 :]]
            elif parts is not None:
                yield batch[0], parts


def _refused(parts: Sequence[Part]) -> bool:
    return len(parts) == 1 and parts[0].name == "refusal"


def aligned(first: Sequence[Part], second: Sequence[Part]) -> list[tuple[int | None, int | None]]:
    """The places of parts that answer each other: the same event, or motion by the same rule, of the same operation, in the same order."""
    pairs: list[tuple[int | None, int | None]] = []
    keys = [(part.name, part.operation) for part in first], [(part.name, part.operation) for part in second]
    for kind, a, b, c, d in SequenceMatcher(None, *keys, autojunk=False).get_opcodes():
        if kind == "equal":
            pairs += list(zip(range(a, b), range(c, d), strict=True))
        else:
            pairs += [*((part, None) for part in range(a, b)), *((None, part) for part in range(c, d))]
    return pairs


@dataclass(slots=True)
class _Line:
    """A line on its way from the first program to the second: what has changed it, and which lines of the first it comes from."""

    text: str
    reasons: set[str]
    origins: set[tuple[int, int]]


Changed = defaultdict[tuple[int, int], set[str]]
"""What has changed the lines of the first program, by part and line."""


def side_by_side(toolpath: Toolpath, first: Dialect, second: Dialect, changes: Sequence[str], scratch: Path) -> tuple[PartRows, ...]:
    """Both programs of a toolpath, with the reason of each difference. `changes` as `changes_between` gives them."""
    way = Way(toolpath, first, second, changes, scratch)
    if way.start == way.goal:
        return tuple(PartRows(part.name, part.operation, tuple(Row(line, line) for line in part.lines)) for part in way.start)
    lines = [[_Line(line, set(), {(at, number)}) for number, line in enumerate(part.lines)] for at, part in enumerate(way.start)]
    changed: Changed = defaultdict(set)
    parts, loud = way.start, set[str]()
    every: set[str] = set()
    for made, after in way.steps():
        if after != parts:
            reason = TOGETHER.join(made)
            every.add(reason)
            loud |= set(made)
            lines, parts = _carried(parts, lines, after, reason, changed), after
    # Changes that did nothing on the way, because they were made before the one that needs them: what if only they were not made?
    for change, parts in way.without([each for each in changes if each not in loud and not each.startswith(ON_EVERY_LINE)]):
        for before, at in aligned(way.goal, parts):
            texts = parts[at].lines if at is not None else ()
            was = lines[before] if before is not None else []
            for kind, a, b, _, _ in SequenceMatcher(None, [line.text for line in was], texts, autojunk=False).get_opcodes():
                for line in was[a:b] if kind != "equal" else ():
                    line.reasons.add(change)
    return tuple(_rows(way.start, way.goal, lines, changed, sorted(every)))


def _carried(old: Sequence[Part], lines: list[list[_Line]], new: Sequence[Part], reason: str, changed: Changed) -> list[list[_Line]]:
    """The lines after a step, with what is known of the lines they come from."""
    carried: list[list[_Line]] = []
    for before, after in aligned(old, new):
        was = lines[before] if before is not None else []
        texts = new[after].lines if after is not None else ()
        now: list[_Line] = []
        for kind, a, b, c, d in SequenceMatcher(None, [line.text for line in was], texts, autojunk=False).get_opcodes():
            if kind == "equal":
                now += was[a:b]
                continue
            for origin in set().union(*(line.origins for line in was[a:b])):
                changed[origin].add(reason)
            for index, text in enumerate(texts[c:d]):
                source = was[a + index : a + index + 1] if b - a == d - c else was[a:b]
                reasons = {reason}.union(*(line.reasons for line in source))
                now.append(_Line(text, reasons, set().union(*(line.origins for line in source))))
        if after is not None:
            carried.append(now)
    return carried


def _rows(
    start: Sequence[Part], goal: Sequence[Part], lines: list[list[_Line]], changed: Changed, every: Sequence[str]
) -> Iterable[PartRows]:
    for before, after in aligned(start, goal):
        left = start[before].lines if before is not None else ()
        right = lines[after] if after is not None else []
        of_left = [changed[before, index] if before is not None else set() for index in range(len(left))]
        known = set().union(*of_left, *(line.reasons for line in right))
        rows: list[Row] = []
        for kind, a, b, c, d in SequenceMatcher(None, left, [line.text for line in right], autojunk=False).get_opcodes():
            if kind == "equal":
                rows += [Row(line, line) for line in left[a:b]]
                continue
            for index, line in zip_longest(range(a, b), right[c:d]):
                reasons = (of_left[index] if index is not None else set()) | (line.reasons if line is not None else set())
                texts = None if index is None else left[index], None if line is None else line.text
                rows.append(Row(*texts, tuple(sorted(reasons or known or every))))
        part = start[before] if before is not None else goal[after or 0]
        yield PartRows(part.name, part.operation, tuple(rows))
