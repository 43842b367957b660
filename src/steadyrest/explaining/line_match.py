"""Which line of a file is which line of what would be written now?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import takewhile
from operator import eq

SMALL = 3000
"""Sections of so many lines are compared with each other line by line; longer ones are first cut where a line is found once in both."""

ALIKE = 0.5
"""Lines that have as much of their text in common are taken for the same line, changed (difflib's ratio)."""


@dataclass(frozen=True, slots=True)
class Match:
    """Numbers from 1.

    now       for each line of the file the line it answers to; 0: none
    missing   lines of what would be written now that no line of the file answers to
    """

    now: list[int]
    missing: int


def matched(file: Sequence[str], now: Sequence[str]) -> Match:
    """The lines of a file held against those that would be written now, in order."""
    pairs = [0] * len(file)
    low = sum(takewhile(bool, map(eq, file, now)))
    high = sum(takewhile(bool, map(eq, file[low:][::-1], now[low:][::-1])))
    pairs[:low] = range(1, low + 1)
    pairs[len(file) - high :] = range(len(now) - high + 1, len(now) + 1)
    _between(file, now, (low, len(file) - high), (low, len(now) - high), pairs)
    return Match(pairs, len(now) - sum(1 for pair in pairs if pair))


def _between(file: Sequence[str], now: Sequence[str], f: tuple[int, int], n: tuple[int, int], pairs: list[int]) -> None:
    """Sections f of the file and n of the other, both half open; what is found goes into `pairs`."""
    anchors = [] if max(f[1] - f[0], n[1] - n[0]) <= SMALL else _anchors(file, now, f, n)
    begin = f[0], n[0]
    for at, other in [*anchors, (f[1], n[1])]:
        _small(file, now, (begin[0], at), (begin[1], other), pairs)
        if at < f[1]:
            pairs[at] = other + 1
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
