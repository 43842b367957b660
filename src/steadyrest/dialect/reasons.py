"""Two programs of one toolpath side by side, part by part, and behind each line that differs the changes that made it so."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import zip_longest
from pathlib import Path

from steadyrest.dialect.steps import ON_EVERY_LINE, Dialect, aligned, left_out, steps
from steadyrest.dialect.trial import Part
from steadyrest.toolpath import Toolpath

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
