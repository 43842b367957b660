"""A copy of a program that somebody changes by hand: which lines became which, what the copy says as a whole, and the change in words."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from difflib import SequenceMatcher
from itertools import takewhile
from operator import eq
from typing import Any

from steadyrest.errors import InputError, short
from steadyrest.explaining import lines_of, pieces

MOST_CHANGES = 1_000
"""In one copy."""
COMPARED = 3_000
"""Lines that differ are compared one by one up to so many; more are one change."""


@dataclass(frozen=True, slots=True)
class Change:
    """Lines of a program that became others.

    first, last   of the program as it was, from 1, both included; `last` is `first - 1` where lines are only put in, before `first`
    lines         what stands there now; none where they are only taken out
    """

    first: int
    last: int
    lines: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data, as `read_changes` takes it."""
        return asdict(self)


def read_changes(text: str, count: int) -> tuple[Change, ...]:
    """The changes that the page sends, as JSON: in order, apart, within a program of `count` lines. InputError otherwise."""
    wrong = InputError("the changes cannot be read", cure="reload the page, and change the lines again")
    try:
        said = json.loads(text or "[]")
        found = tuple(Change(one["first"], one["last"], tuple(one["lines"])) for one in said)
    except (ValueError, TypeError, KeyError, RecursionError):
        raise wrong from None
    past = 0
    if len(found) > MOST_CHANGES:
        raise InputError(f"more than {MOST_CHANGES} changes in one copy", cure="change the setting or the template: see Profile")
    for one in found:
        numbers = all(type(number) is int for number in (one.first, one.last))
        if not numbers or not past < one.first <= one.last + 1 <= count + 1 or not all(isinstance(line, str) for line in one.lines):
            raise wrong
        if any({"\n", "\r"} & set(line) for line in one.lines):
            raise wrong
        past = one.last if one.last >= one.first else one.first - 1
    return found


def edited(posted: bytes, changes: Sequence[Change]) -> bytes:
    """The bytes of a program with its changes; lines that were put in end as the others do."""
    lines = posted.splitlines(keepends=True)
    end = b"\r\n" if lines and lines[0].endswith(b"\r\n") else b"\n"
    out: list[bytes] = []
    at = 0
    for one in changes:
        out += lines[at : one.first - 1]
        out += [line.encode("utf-8", errors="replace") + end for line in one.lines]
        at = one.last
    return b"".join([*out, *lines[at:]])


def changes_between(posted: bytes, other: bytes) -> tuple[Change, ...]:
    """By which changes a program became another one, such as a copy that was saved."""
    was, now = lines_of(posted), lines_of(other)
    low = sum(takewhile(bool, map(eq, was, now)))
    left = min(len(was), len(now)) - low
    high = sum(takewhile(bool, (was[-at] == now[-at] for at in range(1, left + 1))))
    a, b = was[low : len(was) - high], now[low : len(now) - high]
    if not a and not b:
        return ()
    if max(len(a), len(b)) > COMPARED:
        return (Change(low + 1, low + len(a), tuple(b)),)
    codes = SequenceMatcher(None, a, b, autojunk=False).get_opcodes()
    return tuple(Change(low + a0 + 1, low + a1, tuple(b[b0:b1])) for what, a0, a1, b0, b1 in codes if what != "equal")


def said(change: Change, posted: Sequence[str]) -> str:
    """A change in words: `was A-90., is A90.`; `posted` are the lines of the program as it was."""
    was, now = posted[change.first - 1 : change.last], change.lines
    if len(was) == len(now):
        return "; ".join(_words(*pair) for pair in list(zip(was, now, strict=True))[:3]) + ("; and so on" if len(now) > 3 else "")
    if not now:
        return f"{_lines(len(was))} taken out: {short(was[0])}"
    if not was:
        return f"{_lines(len(now))} put in: {short(now[0])}"
    return f"{_lines(len(was))} became {len(now)}: was {short(was[0])}, is {short(now[0])}"


def _lines(count: int) -> str:
    return f"{count} line{'s' if count != 1 else ''}"


def _words(was: str, now: str) -> str:
    old, new = pieces(was), pieces(now)
    gone, come = [], []
    for what, a0, a1, b0, b1 in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if what != "equal":
            gone += old[a0:a1]
            come += new[b0:b1]
    if gone and come:
        return f"was {short(' '.join(gone))}, is {short(' '.join(come))}"
    if gone:
        return f"{short(' '.join(gone))} was taken out"
    return f"{short(' '.join(come))} was put in" if come else "the same words, with other spaces"


def change_at(changes: Sequence[Change], line: int) -> Change | None:
    """The change that a line of the copy belongs to, or the last one before it; None where there is none. `line` counts in the copy."""
    shift, found = 0, None
    for one in changes:
        if one.first + shift > line:
            break
        found = one
        shift += len(one.lines) - (one.last - one.first + 1)
    return found
