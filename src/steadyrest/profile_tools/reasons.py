"""Which change of a profile changes which line of a program? One change after the other is made, and what each does is watched."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import combinations, zip_longest
from pathlib import Path
from typing import Any

from steadyrest.errors import ProfileError
from steadyrest.profile import Profile
from steadyrest.profile_tools.settings import differences, with_values
from steadyrest.profile_tools.trial import Part, program_parts, program_text
from steadyrest.toolpath import Toolpath

TEMPLATE = "template "
"""What stands before the name of a template among changes."""

ON_EVERY_LINE = ("program.line_ending", "program.block_numbers.")
"""Settings that `program_parts` leaves out."""

NOT_IN_PROGRAMS = ("speaks", "program.extension", "delivery.")
"""Settings that say nothing of what is in a program."""

MOST_TRIED_TOGETHER = 400
"""So many pairs of changes are tried before all that are left are made at once."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """A profile, and where its templates are looked for."""

    profile: Profile
    template_folders: tuple[Path, ...]

    def parts(self, toolpath: Toolpath) -> tuple[Part, ...]:
        """The program of a toolpath, or its refusal."""
        return program_parts(toolpath, self.profile, self.template_folders)


@dataclass(frozen=True, slots=True)
class Step:
    """Changes made together, mostly one, and the program after them."""

    changes: tuple[str, ...]
    parts: tuple[Part, ...]


def changes_between(first: Dialect, second: Dialect) -> list[str]:
    """The settings that differ by their keys, then the templates that differ, as `template NAME.j2`."""
    keys = [each.key for each in differences(first.profile, second.profile)]
    return [key for key in keys if not key.startswith(NOT_IN_PROGRAMS)] + [
        TEMPLATE + name for name in differing_templates(first.template_folders, second.template_folders)
    ]


def differing_templates(first: Sequence[Path], second: Sequence[Path]) -> dict[str, tuple[Path | None, Path | None]]:
    """The templates that are not the same text in both, with their files; None where there is none."""
    one, other = _templates(first), _templates(second)
    found: dict[str, tuple[Path | None, Path | None]] = {}
    for name in sorted(one.keys() | other.keys()):
        files = one.get(name), other.get(name)
        if None in files or files[0].read_bytes() != files[1].read_bytes():  # type: ignore[union-attr]
            found[name] = files
    return found


def left_out(
    toolpath: Toolpath, first: Dialect, second: Dialect, change: str, changes: Sequence[str], scratch: Path
) -> tuple[Part, ...] | None:
    """The program of the second with one change not made; None where the others cannot do without it."""
    values = {each.key: each.second for each in differences(first.profile, second.profile)}
    return _Way(toolpath, first, second, values, scratch, False).after([each for each in changes if each != change])


def on_every_line(toolpath: Toolpath, first: Dialect, second: Dialect, changes: Sequence[str]) -> tuple[str, ...]:
    """The changes of line ending and block numbers without which the second's program would be another one."""
    before = {each.key: each.first for each in differences(first.profile, second.profile)}
    found = []
    whole = program_text(toolpath, second.profile, second.template_folders)
    for change in changes:
        if not change.startswith(ON_EVERY_LINE):
            continue
        try:
            without = with_values(second.profile, {change: before[change]})
        except ProfileError:
            found.append(change)
            continue
        if program_text(toolpath, without, second.template_folders) != whole:
            found.append(change)
    return tuple(found)


def steps(toolpath: Toolpath, first: Dialect, second: Dialect, changes: Sequence[str], scratch: Path) -> Iterator[Step]:
    """The way from the first to the second, change by change; the last step's program is the second's own.

    scratch   an empty folder for templates in between
    """
    goal = second.parts(toolpath)
    fits = not (refused(first.parts(toolpath)) or refused(goal))
    way = _Way(toolpath, first, second, {each.key: each.second for each in differences(first.profile, second.profile)}, scratch, fits)
    made: tuple[str, ...] = ()
    left = list(changes)
    while left:
        before = len(left)
        for change in list(left):
            parts = way.after((*made, change))
            if parts is not None:
                made, left = (*made, change), [each for each in left if each != change]
                yield Step((change,), parts)
        if len(left) == before:
            together = _together(way, made, left, goal)
            made, left = (*made, *together[0]), [each for each in left if each not in together[0]]
            yield Step(*together)


def refused(parts: Sequence[Part]) -> bool:
    """Whether there is no program."""
    return len(parts) == 1 and parts[0].name == "refusal"


def aligned(first: Sequence[Part], second: Sequence[Part]) -> list[tuple[Part | None, Part | None]]:
    """Parts that answer each other: the same event, or motion by the same rule, of the same operation, in the same order."""
    pairs: list[tuple[Part | None, Part | None]] = []
    keys = [(part.name, part.operation) for part in first], [(part.name, part.operation) for part in second]
    for kind, a, b, c, d in SequenceMatcher(None, *keys, autojunk=False).get_opcodes():
        if kind == "equal":
            pairs += list(zip(first[a:b], second[c:d], strict=True))
        else:
            pairs += [(part, None) for part in first[a:b]]
            pairs += [(None, part) for part in second[c:d]]
    return pairs


@dataclass(frozen=True, slots=True)
class _Way:
    """From the first dialect to the second, for one toolpath. `values` are the second's settings, where they differ.

    fits   both write a program, so no place in between may refuse
    """

    toolpath: Toolpath
    first: Dialect
    second: Dialect
    values: Mapping[str, Any]
    scratch: Path
    fits: bool

    def after(self, made: Sequence[str]) -> tuple[Part, ...] | None:
        """The program with some of the changes made; None where they cannot stand like that."""
        try:
            profile = with_values(self.first.profile, {key: self.values[key] for key in made if key in self.values})
        except ProfileError:
            return None
        parts = Dialect(profile, self._folders(made)).parts(self.toolpath)
        return None if self.fits and refused(parts) else parts

    def _folders(self, made: Sequence[str]) -> tuple[Path, ...]:
        names = [change.removeprefix(TEMPLATE) for change in made if change.startswith(TEMPLATE)]
        if not names:
            return self.first.template_folders
        shutil.rmtree(self.scratch, ignore_errors=True)
        self.scratch.mkdir(parents=True)
        others = _templates(self.second.template_folders)
        for name in names:
            if name in others:
                shutil.copyfile(others[name], self.scratch / name)
        return (self.scratch, *self.first.template_folders)


def _together(way: _Way, made: tuple[str, ...], left: list[str], goal: tuple[Part, ...]) -> tuple[tuple[str, ...], tuple[Part, ...]]:
    """The fewest changes that can stand together: two or three, or all that are left."""
    tried = 0
    for size in (2, 3):
        for group in combinations(left, size):
            tried += 1
            if tried > MOST_TRIED_TOGETHER:
                break
            parts = way.after((*made, *group))
            if parts is not None:
                return group, parts
    return tuple(left), goal


def _templates(folders: Sequence[Path]) -> dict[str, Path]:
    """The file of each template: the first folder that has it wins."""
    found: dict[str, Path] = {}
    for folder in folders:
        for file in sorted(folder.glob("*.j2")):
            found.setdefault(file.name, file)
    return found


TOGETHER = " with "
"""Between changes that can only be made together."""


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


@dataclass(slots=True)
class _Line:
    """A line on its way from the first program to the second: what has changed it, and which lines of the first it comes from."""

    text: str
    reasons: set[str]
    origins: set[int]


def side_by_side(toolpath: Toolpath, first: Dialect, second: Dialect, changes: Sequence[str], scratch: Path) -> tuple[PartRows, ...]:
    """Both programs of a toolpath, with the reason of each difference. `changes` as `changes_between` gives them."""
    start, goal = first.parts(toolpath), second.parts(toolpath)
    if start == goal:
        return tuple(PartRows(part.name, part.operation, tuple(Row(line, line) for line in part.lines)) for part in start)
    numbered = iter(range(sum(len(part.lines) for part in start)))
    now = [[_Line(line, set(), {next(numbered)}) for line in part.lines] for part in start]
    changed: dict[int, set[str]] = {}
    parts = start
    every: set[str] = set()
    for step in steps(toolpath, first, second, changes, scratch):
        if step.parts != parts:
            reason = TOGETHER.join(step.changes)
            every.add(reason)
            now = _carried(parts, now, step.parts, reason, changed)
            parts = step.parts
    _left_out(toolpath, first, second, _quiet(changes, every), changes, goal, now, scratch)
    return tuple(_rows(start, goal, now, changed, sorted(every)))


def _quiet(changes: Sequence[str], reasons: Iterable[str]) -> list[str]:
    loud = {change for reason in reasons for change in reason.split(TOGETHER)}
    return [each for each in changes if each not in loud and not each.startswith(ON_EVERY_LINE)]


def _left_out(
    toolpath: Toolpath,
    first: Dialect,
    second: Dialect,
    quiet: Sequence[str],
    changes: Sequence[str],
    goal: Sequence[Part],
    lines: list[list[_Line]],
    scratch: Path,
) -> None:
    """Changes that did nothing on the way, because they were made before the one that needs them: what if only they were not made?"""
    for change in quiet:
        without = left_out(toolpath, first, second, change, changes, scratch)
        if without is None or without == goal:
            continue
        of_goal = {id(part): tagged for part, tagged in zip(goal, lines, strict=True)}
        for before, after in aligned(goal, without):
            if before is None:
                continue
            texts = after.lines if after is not None else ()
            for kind, a, b, _, _ in SequenceMatcher(None, before.lines, texts, autojunk=False).get_opcodes():
                for line in of_goal[id(before)][a:b] if kind != "equal" else ():
                    line.reasons.add(change)


def _carried(
    old: Sequence[Part], lines: list[list[_Line]], new: Sequence[Part], reason: str, changed: dict[int, set[str]]
) -> list[list[_Line]]:
    """The lines after a step, with what is known of the lines they come from."""
    of_old = {id(part): tagged for part, tagged in zip(old, lines, strict=True)}
    carried: list[list[_Line]] = []
    for before, after in aligned(old, new):
        was = of_old[id(before)] if before is not None else []
        texts = after.lines if after is not None else ()
        now: list[_Line] = []
        for kind, a, b, c, d in SequenceMatcher(None, [line.text for line in was], texts, autojunk=False).get_opcodes():
            if kind == "equal":
                now += was[a:b]
                continue
            for origin in set().union(*(line.origins for line in was[a:b])):
                changed.setdefault(origin, set()).add(reason)
            for index, text in enumerate(texts[c:d]):
                source = was[a + index : a + index + 1] if b - a == d - c else was[a:b]
                reasons = {reason}.union(*(line.reasons for line in source))
                now.append(_Line(text, reasons, set().union(*(line.origins for line in source))))
        if after is not None:
            carried.append(now)
    return carried


def _rows(
    start: Sequence[Part], goal: Sequence[Part], lines: list[list[_Line]], changed: dict[int, set[str]], every: list[str]
) -> Iterable[PartRows]:
    numbers: dict[int, int] = {}
    count = 0
    for part in start:
        numbers[id(part)] = count
        count += len(part.lines)
    of_goal = {id(part): tagged for part, tagged in zip(goal, lines, strict=True)}
    for before, after in aligned(start, goal):
        left = before.lines if before is not None else ()
        right = of_goal[id(after)] if after is not None else []
        base = numbers[id(before)] if before is not None else 0
        rows: list[Row] = []
        known = {reason for line in right for reason in line.reasons}
        known |= {reason for index in range(len(left)) for reason in changed.get(base + index, ())}
        for kind, a, b, c, d in SequenceMatcher(None, left, [line.text for line in right], autojunk=False).get_opcodes():
            if kind == "equal":
                rows += [Row(line, line) for line in left[a:b]]
                continue
            for index, line in zip_longest(range(a, b), right[c:d]):
                reasons = changed.get(base + index, set()) if index is not None else set()
                reasons = reasons | (line.reasons if line is not None else set())
                text = None if index is None else left[index]
                rows.append(Row(text, None if line is None else line.text, tuple(sorted(reasons or known or every))))
        named = before if before is not None else after
        assert named is not None
        yield PartRows(named.name, named.operation, tuple(rows))
