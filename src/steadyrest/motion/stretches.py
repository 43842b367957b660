"""Where inside an operation may the rotary wind otherwise? At its rapids and holes: between two of them lies a stretch, one winding.

A stretch runs from a rapid, or a hole, to before the next one. Its angles belong together; between two stretches any number of whole turns
may be added, for the tool goes up before the rotary turns at rapid (design, rules of motion).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.motion.model import RAPID, STILL_DEG, Motion
from steadyrest.motion.winding import Span, fits
from steadyrest.profile.axes import Travel


@dataclass(slots=True)
class Windings:
    """The whole turns of an operation's stretches, met one after the other.

    chosen   whole turns of each stretch; fewer than two: of the first, and every rapid and hole then turns the shorter way
    whole    whole turns in force; None before the first stretch
    """

    chosen: list[int] | None = None
    whole: int | None = None
    _met: int = 0
    _at_rapid: bool = True

    def begin(self, turns: int) -> None:
        """The first stretch begins, that many turns away."""
        self.whole = turns

    def turned_back(self, turns: int) -> None:
        """So many whole turns were added on the way."""
        assert self.whole is not None
        self.whole += turns

    def hole(self, nearest: int) -> None:
        """A hole comes next, the shorter way to which is in that turn."""
        self._at_rapid = False
        self._met += self.whole is not None
        self.whole = self.chosen[self._met] if self.chosen is not None and len(self.chosen) > 1 else nearest

    def of_rows(self, rows: Motion, before_deg: float) -> Ints | int:
        """Whole turns (n,) to be added to the angles of rows that come from `before_deg`, NaN at the operation's start; or one for all."""
        assert self.whole is not None
        found = begins(rows, before_deg, at_rapid=self._at_rapid)
        self._at_rapid = bool(rows.kind[-1] == RAPID)
        if not len(found):
            return self.whole
        if self.chosen is not None and len(self.chosen) > 1:
            steps = np.diff(self.chosen[self._met : self._met + len(found) + 1])
        else:
            w_deg = rows.rotary_deg[:, 0]
            way = w_deg[found] - np.where(found > 0, w_deg[found - 1], before_deg)
            steps = -np.sign(way) * np.ceil(np.maximum(np.abs(way) - 180.0, 0.0) / 360.0)
        added = np.zeros(len(rows), dtype=np.int64)
        added[found] = steps
        turns: Ints = self.whole + np.cumsum(added)
        self._met += len(found)
        self.whole = int(turns[-1])
        return turns


def begins(rows: Motion, before_deg: float, *, at_rapid: bool) -> Ints:
    """Which rows begin a stretch: rapids that turn, and the first of several that do not; at the operation's start none for itself.

    at_rapid   the row before them was a rapid
    """
    rapid = rows.kind == RAPID
    if not rapid.any():
        return np.empty(0, dtype=np.int64)
    turning = np.abs(np.diff(rows.rotary_deg[:, 0], prepend=before_deg)) > STILL_DEG  # NaN, before the first, does not turn
    first = ~np.concatenate([[at_rapid], rapid[:-1]])
    return np.flatnonzero(rapid & (turning | first))


MOST_STRETCHES = 20_000
"""In an operation with more of them every rapid turns the shorter way, and only where it begins is chosen: memory has to stay bounded."""


@dataclass(slots=True)
class Met:
    """The stretches of an operation while it is looked through: W in degrees, without whole turns; and all of it as one.

    In one it is as it is carried out when every rapid turns the shorter way.
    """

    operation: int
    spans: list[Span] = field(default_factory=list)
    one: Span | None = None
    _nearest: Windings = field(default_factory=Windings)
    _at_rapid: bool = True

    def rows(self, rows: Motion, before_deg: float) -> None:
        """Rows that come next, from `before_deg`."""
        w_deg = rows.rotary_deg[:, 0]
        found = begins(rows, before_deg, at_rapid=self._at_rapid)
        self._at_rapid = bool(rows.kind[-1] == RAPID)
        if self._nearest.whole is None:
            self._nearest.begin(0)
        one = wound(w_deg, self._nearest.of_rows(rows, before_deg))
        self._as_one(float(one[0]), float(one[-1]), float(one.min()), float(one.max()))
        if len(self.spans) > MOST_STRETCHES:
            return
        at = np.concatenate([[0], found[found > 0]]) if not len(found) or found[0] > 0 else found
        low, high = np.minimum.reduceat(w_deg, at), np.maximum.reduceat(w_deg, at)
        last = np.concatenate([at[1:], [len(w_deg)]]) - 1
        new = [
            Span(float(w_deg[i]), float(w_deg[j]), float(a), float(b), self.operation, turned_to=False)
            for i, j, a, b in zip(at, last, low, high, strict=True)
        ]
        if self.spans and not (len(found) and found[0] == 0):
            self.spans[-1] = _joined(self.spans[-1], new.pop(0))
        self.spans += new

    def hole(self, w_deg: float) -> None:
        """A hole that comes next."""
        self._at_rapid = False
        nearest = w_deg if self.one is None else w_deg + 360.0 * round((self.one.end_w - w_deg) / 360.0)
        self._nearest.whole = round((nearest - w_deg) / 360.0)
        self._as_one(nearest, nearest, nearest, nearest)
        self.spans.append(Span(w_deg, w_deg, w_deg, w_deg, self.operation))

    def stretches(self, travel: Travel) -> list[Span]:
        """All of them, the first turned to; one instead where they are too many, or one of them fits into the travel in no turn."""
        if self.one is None:
            return [Span(0.0, 0.0, 0.0, 0.0, self.operation)]
        if len(self.spans) > MOST_STRETCHES or not all(fits(span, travel) for span in self.spans):
            return [self.one]
        first = self.spans[0]
        return [Span(first.start_w, first.end_w, first.lowest_w, first.highest_w, self.operation), *self.spans[1:]]

    def _as_one(self, start: float, end: float, low: float, high: float) -> None:
        new = Span(start, end, low, high, self.operation)
        self.one = new if self.one is None else _joined(self.one, new)


def _joined(before: Span, after: Span) -> Span:
    low, high = min(before.lowest_w, after.lowest_w), max(before.highest_w, after.highest_w)
    return Span(before.start_w, after.end_w, low, high, before.operation, turned_to=before.turned_to)


def wound(w_deg: Floats, turns: Ints | int) -> Floats:
    """Angles with whole turns added; the same column where there are none."""
    return w_deg if isinstance(turns, int) and turns == 0 else np.asarray(w_deg + 360.0 * np.asarray(turns))
