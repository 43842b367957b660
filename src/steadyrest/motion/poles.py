"""Past the poles: with the tool axis along the line of the first rotary that rotary is free, and near there it would swing round at once.

Past a pole by less than is allowed the tool goes straight through: the first rotary runs on evenly from one side to the other, the second
through the pole into the other solution. Tilt is counted along the way, v < 0 before the place nearest to the pole and v > 0 after it, from

    cos theta = cos h cos v,

theta the distance of the tool axis from the pole and h the least of it. With a spindle and a second line that lean alike from it, by b, the
triangle of first line, second line and spindle has two equal sides, and both its angles are smooth in v through the pole:

    sin(A / 2) = sin(v / 2) / sin b,     tan^2(B / 2) = sin(b - v / 2) / sin(b + v / 2).

What a measured machine differs from that, and h, is made up evenly between the two ends, which are exact. So the tool axis is off by h
at most, and a little of the turn; the widest stretch on which it is within what is allowed everywhere is taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.motion.chain import POLE_RAD, SPINDLE, Lines, lies, solutions, tool_axis
from steadyrest.motion.orientations import TURN, arc_lengths, on_arcs

WIDEST_RAD = np.radians(12.0)
"""So far from the pole the tool begins to go straight through: the first rotary then turns least."""
NARROWER = 0.75
"""Each width that is tried is that part of the one before."""
SAMPLES, MOST_SAMPLES = 2400, 120
"""Places in all at which the tool axis is measured beside a pole, where there are few moves; and on one move at most."""


@dataclass(frozen=True, slots=True)
class Pole:
    """A tool axis along the first line at which the spindle can stand.

    side      +1 along its + direction, -1 against it
    lean_rad  by how much the second line, and the spindle from that, lean from it: the mean of both
    nearest   the second rotary's angle where the spindle lies nearest to the + direction
    """

    side: int
    lean_rad: float
    nearest: float


@lru_cache(maxsize=16)
def poles_of(lines: Lines, allowed_rad: float) -> list[Pole]:
    """The poles of a chain: none but with two rotaries. A spindle that misses the first line by no more than is allowed lies along it."""
    if len(lines) < 2:
        return []
    first, second = lines[0].direction, lines[1].direction
    (beta, at_zero), (gamma, at_first) = ((math.atan2(sin, cos), at) for cos, sin, at in (lies(SPINDLE, second), lies(first, second)))
    found = []
    for side, other in ((1, gamma), (-1, np.pi - gamma)):
        if abs(beta - other) <= max(allowed_rad, POLE_RAD):
            found.append(Pole(side, (beta + other) / 2, at_first - at_zero))
    return found


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the way: the arc, and the part of it."""

    arc: int
    part: float


@dataclass(frozen=True, slots=True)
class Passage:
    """A part of the way on which the tool axis is beside a pole.

    pole            which
    least_rad       how far past it goes
    entry, exit     between which the angles are those of `through`; at the ends they are exact
    closest         where it is nearest to the pole
    begins, ends    a cut begins, or ends, beside the pole: the first rotary then stays as it is at the other end
    straight        it can go straight through within what is allowed; if not, the first rotary swings round
    """

    pole: Pole
    least_rad: float
    entry: Point
    closest: Point
    exit: Point
    begins: bool
    ends: bool
    straight: bool


def passages(axes: Floats, widest_rad: float, cut: Bools, lines: Lines, allowed_rad: float) -> list[Passage]:
    """Where consecutive tool axes (n, 3) come past a pole by no more than is allowed, in order; nowhere do two of them overlap.

    widest_rad  of the arcs between them that are cuts none is longer
    cut         (n - 1,) whether an arc is a cut: over one that is none nothing is passed
    """
    found: list[Passage] = []
    upright = axes @ lines[0].direction if lines else np.zeros(len(axes))
    far = np.cos(min(np.pi, allowed_rad + POLE_RAD + widest_rad / 2)) - 1e-12
    for pole in poles_of(lines, allowed_rad):
        if (pole.side * upright).max() < far:
            continue
        up = pole.side * lines[0].direction
        theta = arc_lengths(axes, np.broadcast_to(up, axes.shape))
        limit = max(allowed_rad, POLE_RAD)
        beside = np.flatnonzero(cut & (theta[:-1] + theta[1:] - arc_lengths(axes[:-1], axes[1:]) <= 2 * limit + 1e-12))
        if len(beside):
            found += _Beside(axes, theta, pole, up, limit, lines).passages(cut, beside)
    return sorted(found, key=lambda one: (one.entry.arc, one.entry.part))


@dataclass(frozen=True, slots=True, eq=False)
class _Beside:
    """A way beside a pole: the tool axes, how far each is from it, and how far the tool axis may be off."""

    axes: Floats
    theta: Floats
    pole: Pole
    up: Floats
    limit: float
    lines: Lines

    def passages(self, cut: Bools, beside: Ints) -> Iterator[Passage]:
        """Of arcs that may come beside the pole those that do, put together; between two the way is parted where it is farthest from it."""
        least, part = _closest(self.axes[beside], self.axes[beside + 1], self.up)
        near = least <= self.limit
        beside, least, part = beside[near], least[near], part[near]
        if not len(beside):
            return
        apart = (np.diff(beside) > 1) | (self.theta[beside[1:]] > self.limit)
        groups = np.split(np.arange(len(beside)), np.flatnonzero(apart) + 1)
        reach = [0]
        for one, other in pairwise(groups):
            first, last = int(beside[one[-1]]) + 1, int(beside[other[0]])
            reach.append(first + int(np.argmax(self.theta[first : last + 1])))
        reach.append(len(self.axes) - 1)
        breaks = np.flatnonzero(~cut)
        for group, low, high in zip(groups, reach, reach[1:], strict=False):
            first, last = int(beside[group[0]]), int(beside[group[-1]])
            before, after = np.searchsorted(breaks, [first, last])
            low = max(low, int(breaks[before - 1]) + 1 if before else 0)
            high = min(high, int(breaks[after]) if after < len(breaks) else high)
            best = int(group[np.argmin(least[group])])
            closest = Point(int(beside[best]), float(part[best]))
            inner = Point(first, float(part[group[0]])), Point(last, float(part[group[-1]]))
            yield self.widest((low, high), inner, closest, float(least[best]))

    def widest(self, within: tuple[int, int], inner: tuple[Point, Point], closest: Point, least: float) -> Passage:
        """The passage that begins and ends as far from the pole as it may, between two axes; `inner` is beside the pole."""
        (low, high), (first, last) = within, inner
        begins = first.arc == low and bool(self.theta[low] <= self.limit)
        ends = last.arc + 1 == high and bool(self.theta[high] <= self.limit)
        width = min(WIDEST_RAD, self.pole.lean_rad)
        while width > max(least, self.limit / 4):
            entry = Point(low, 0.0) if begins else self.crossing(first, low, width)
            exit_ = Point(high - 1, 1.0) if ends else self.crossing(last, high, width)
            passage = Passage(self.pole, least, entry, closest, exit_, begins, ends, straight=True)
            if (begins and ends) or _off(passage, self.axes, self.lines) <= self.limit * (1 + 1e-9):
                return passage
            width *= NARROWER
        return Passage(self.pole, least, closest, closest, closest, begins=False, ends=False, straight=False)

    def crossing(self, inner: Point, end: int, width: float) -> Point:
        """From a place beside the pole on, or back, to an axis: where the way gets as far from the pole as given, or its end."""
        onward = end > inner.arc
        at = np.arange(inner.arc + 1, end + 1) if onward else np.arange(inner.arc, end - 1, -1)
        far = np.flatnonzero(self.theta[at] >= width)
        if not len(far):
            return Point(end - 1, 1.0) if onward else Point(end, 0.0)
        outer = int(at[far[0]])
        arc, beyond = (outer - 1, 1.0) if onward else (outer, 0.0)
        near = inner.part if arc == inner.arc else 1.0 - beyond
        for _ in range(50):
            middle = (near + beyond) / 2
            axis = on_arcs(self.axes[arc : arc + 1], self.axes[arc + 1 : arc + 2], np.array([middle]))
            near, beyond = (near, middle) if arc_lengths(axis, self.up[None])[0] >= width else (middle, beyond)
        return Point(arc, beyond)


def _closest(axes0: Floats, axes1: Floats, up: Floats) -> tuple[Floats, Floats]:
    """How near arcs come to a direction, radians, and at which part of each."""
    length = arc_lengths(axes0, axes1)
    across = np.cross(axes0, axes1)
    norm = np.linalg.norm(across, axis=1)[:, None]
    across = np.divide(across, norm, out=np.zeros_like(across), where=norm > 0)
    along = np.arctan2(np.cross(across, axes0) @ up, axes0 @ up)  # from the start to the foot, along the great circle
    part = np.clip(np.divide(along, length, out=np.zeros(len(length)), where=length > 0), 0.0, 1.0)
    return arc_lengths(on_arcs(axes0, axes1, part), np.broadcast_to(up, axes0.shape)), part


@dataclass(frozen=True, slots=True, eq=False)
class Through:
    """The angles beside a pole: (2,) what is added to those of the triangle, evenly in v between `before` and `after`.

    sign             +1 and -1 in the first and the second solution, with which it comes
    v_before, v_after   tilt at the two ends, radians
    """

    pole: Pole
    sign: int
    least_rad: float
    v_before: float
    v_after: float
    before: Floats
    after: Floats

    def angles(self, v: Floats) -> Floats:
        """Angles (n, 2) at tilts (n,) along the way."""
        span = self.v_after - self.v_before
        share = (v - self.v_before) / span if span > 0 else np.zeros(len(v))
        return _triangle(v, self.pole, self.sign) + self.before + share[:, None] * (self.after - self.before)


def tilts(axes: Floats, passage: Passage, lines: Lines, side: Ints | int) -> Floats:
    """v (n,) of tool axes (n, 3): before the nearest place (side -1), after it (1); 0 where the cut begins or ends beside the pole."""
    up = passage.pole.side * lines[0].direction
    theta = arc_lengths(axes, np.broadcast_to(up, axes.shape))
    square = (np.sin(theta / 2) ** 2 - np.sin(passage.least_rad / 2) ** 2) / np.cos(passage.least_rad)
    v = 2 * np.arcsin(np.sqrt(np.clip(square, 0.0, 1.0))) * side
    if passage.begins:
        v = np.maximum(v, 0.0)
    return np.asarray(np.minimum(v, 0.0) if passage.ends else v)


def through(passage: Passage, axes: Floats, alpha_rad: Floats, sign: int, lines: Lines) -> Through:
    """How the angles run through a passage.

    axes        (2, 3) at its entry and exit
    alpha_rad   (2, 2) the exact angles there: before it in the solution of `sign`, after it in the other; where it begins or ends beside
                the pole, those at the other end count alone, and `sign` is of the solution with which it would have come
    """
    v = np.concatenate([tilts(axes[:1], passage, lines, -1), tilts(axes[1:], passage, lines, 1)])
    added = alpha_rad - _triangle(v, passage.pole, sign)
    before, after = added
    if passage.begins:
        before = after
    elif passage.ends:
        after = before
    else:
        after = before + (after - before + np.pi) % TURN - np.pi
    return Through(passage.pole, sign, passage.least_rad, float(v[0]), float(v[1]), before, after)


def _triangle(v: Floats, pole: Pole, sign: int) -> Floats:
    """Angles (n, 2) of both rotaries by the triangle with two equal sides, at tilts (n,), come to in one of the solutions."""
    at_second = 2 * np.arcsin(np.clip(np.sin(v / 2) / np.sin(pole.lean_rad), -1.0, 1.0))
    at_first = 2 * np.arctan2(np.sqrt(np.maximum(np.sin(pole.lean_rad - v / 2), 0)), np.sqrt(np.maximum(np.sin(pole.lean_rad + v / 2), 0)))
    second = pole.nearest - sign * at_second if pole.side > 0 else pole.nearest + sign * (np.pi + at_second)
    return np.column_stack([sign * (np.pi - at_first), second])


def _off(passage: Passage, axes: Floats, lines: Lines) -> float:
    """How far the tool axis is off at most, measured closely, when it goes through in the one solution and in the other."""
    arcs = np.arange(passage.entry.arc, passage.exit.arc + 1)
    each = max(1, min(MOST_SAMPLES, SAMPLES // len(arcs)))
    begin, end = np.zeros(len(arcs)), np.ones(len(arcs))
    begin[0], end[-1] = passage.entry.part, passage.exit.part
    part = (begin[:, None] + (end - begin)[:, None] * np.linspace(0.0, 1.0, each + 1)).ravel()
    arc = np.repeat(arcs, each + 1)
    meant = on_arcs(axes[arc], axes[arc + 1], part)
    side = np.where(arc + part < passage.closest.arc + passage.closest.part, -1, 1)
    ends = np.vstack([_at(axes, passage.entry), _at(axes, passage.exit)])
    exact = solutions(ends, lines).alpha_rad
    worst = 0.0
    for which, sign in enumerate((1, -1)):
        run = through(passage, ends, np.vstack([exact[which, 0], exact[1 - which, 1]]), sign, lines)
        made = tool_axis(run.angles(tilts(meant, passage, lines, side)), lines)
        worst = max(worst, float(arc_lengths(made, meant).max(initial=0.0)))
    return worst


def _at(axes: Floats, point: Point) -> Floats:
    return on_arcs(axes[point.arc : point.arc + 1], axes[point.arc + 1 : point.arc + 2], np.array([point.part]))
