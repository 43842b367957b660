"""The way of tip and tool axis on a chain of rotaries, cut into blocks so that tip and tool axis stay within tolerance.

Between two planned positions the machine moves all its axes linearly. With D the sum of the turns (radians), R the largest distance of
the tip from a point of each line, and dx the linear way, the second derivative of the tip is at most D^2 R + 2 D dx, that of the tool
axis D^2: each strays by an eighth of it at most. Held against the tool axis that is meant where the tip is, the unevenness of the tip
counts as well. Ways above the bound are measured at three points and cut into as many parts as the root of the excess, each part worked out
anew, until all hold.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, distinct
from steadyrest.motion.chain import BOTH, Lines, linear_axes, solutions, tip_in_part, tool_axis
from steadyrest.motion.orientations import TURN, arc_lengths, on_arcs
from steadyrest.motion.poles import Passage, Through, tilts
from steadyrest.motion.subdivision import parts_of

MEASURED_AT = (0.25, 0.5, 0.75)
WIDEST_TURN_RAD = 0.35
"""A block that turns by more is cut whatever is measured: three points say little of it."""
MARGIN = 1.05
"""Between the three points it may be off by so much more."""
MOST_AT_ONCE = 64
CHUNK = 32_768
"""Rows that are worked out at once: as many as the processor's memory holds."""


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Positions one after another, and the m ways between them. Position i is the start of way i, position i + 1 its end.

    tip, axis  (m + 1, 3) tip and tool axis, part frame; program units, unit vectors
    alpha_rad  (m + 1, r) the angles
    toward_rad (m + 1,) the first rotary's without what the solution adds to it
    row        (m,) the move that a way belongs to
    part       (m,) how far along its move the way ends
    solution   (m,) of the angles
    passage    (m,) the index of the pole's passage that a way lies in; -1: its angles are exact
    side       (m,) -1 before the place nearest to the pole, 1 after it
    evenly     (m,) the angles go evenly from one to the other: a turn in place, and what is free
    free       (m,) of which only the end counts: a rapid, and a withdrawal, after which the angles are others
    """

    tip: Floats
    axis: Floats
    alpha_rad: Floats
    toward_rad: Floats
    row: Ints
    part: Floats
    solution: Ints
    passage: Ints
    side: Ints
    evenly: Bools
    free: Bools

    def __len__(self) -> int:
        return len(self.row)


@dataclass(frozen=True, slots=True)
class Allowed:
    """How far a tip may stray (program units), and a tool axis (radians): on exact ways, and past a pole besides what that takes."""

    tip: float
    axis_rad: float
    past_pole_rad: float


Throughs = Sequence[tuple[Passage, Through]]
Countable = Callable[[Floats, Ints], Ints]
Rows = slice | Ints


def within(course: Course, throughs: Throughs, lines: Lines, allowed: Allowed, countable: Countable) -> tuple[Course, Floats]:
    """The course with as many positions between as it takes for tip and tool axis to stay within what is allowed; and X Y Z (m + 1, 3).

    throughs    of each passage, how its angles run
    countable   is given into how many parts ways are cut, (m,) beside the course, and refuses too many
    """
    xyz = linear_axes(course.tip, course.alpha_rad, lines)
    chunks: Sequence[Rows] = [slice(at, min(at + CHUNK, len(course))) for at in range(0, len(course), CHUNK)]
    while chunks:
        count, far = np.ones(len(course)), reach(course.tip, lines)
        for rows in chunks:
            count[rows] = _parts(course, xyz, far, rows, lines, allowed)
        if not (count > 1).any():
            break
        pieces = countable(count, course.row)
        course, fresh = _cut(course, pieces, throughs, lines)
        old = np.ones(len(course) + 1, dtype=np.bool_)
        old[fresh] = False
        before, xyz = xyz, np.empty((3, len(old))).T
        xyz[old], xyz[fresh] = before, linear_axes(course.tip[fresh], course.alpha_rad[fresh], lines)
        again = np.flatnonzero(np.repeat(count > 1, pieces))
        chunks = [again[at : at + CHUNK] for at in range(0, len(again), CHUNK)]
    return course, xyz


def reach(tips: Floats, lines: Lines) -> Floats:
    """No farther (k,) are tips from the points of the lines that carry the part, whatever the first has turned, nor reaches a head."""
    table, points = [line for line in lines if line.carries_part], [line.point for line in reversed(lines) if not line.carries_part]
    head = sum(float(np.linalg.norm(other - one)) for one, other in pairwise([np.zeros(3), *points]))
    if not table:
        return np.full(len(tips), head)
    away = tips - table[0].point
    square = np.einsum("ij,ij->i", away, away)
    if len(table) == BOTH:  # on its circle about the first line a tip is farthest where it lies across from the second's point
        off, along = table[1].point - table[0].point, away @ table[0].direction
        off_along = float(off @ table[0].direction)
        across = np.sqrt(np.maximum(square - along * along, 0.0)) + max(0.0, float(off @ off) - off_along**2) ** 0.5
        square = np.maximum(square, across * across + (along - off_along) ** 2)
    return np.asarray(np.maximum(np.sqrt(square), head))


def _parts(course: Course, xyz: Floats, far: Floats, at: Rows, lines: Lines, allowed: Allowed) -> Floats:
    """Into how many parts ways have to be cut, as far as can be told now; rapids into one."""
    to = slice(at.start + 1, at.stop + 1) if isinstance(at, slice) else at + 1
    columns = (xyz, course.alpha_rad, course.tip, course.axis)
    xyz0, alpha0, tip0, _ = begins = [_picked(column, at) for column in columns]
    xyz1, alpha1, tip1, _ = ends = [_picked(column, to) for column in columns]
    turn = np.abs(alpha1 - alpha0).sum(axis=1) if len(lines) else np.zeros(len(tip0))
    past = course.passage[at] >= 0
    axis_allowed = np.where(past, allowed.past_pole_rad, allowed.axis_rad)
    way, linear = _length(tip1 - tip0), _length(xyz1 - xyz0)
    tip_off = turn * (turn * np.maximum(far[at], far[to]) + 2 * linear) / 8
    # a tool axis goes no farther than its rotaries turn
    uneven = np.divide(turn * tip_off, way, out=np.zeros(len(turn)), where=way >= allowed.tip)
    above = past | (tip_off > allowed.tip) | (turn * turn / 8 + uneven > axis_allowed) | (turn > WIDEST_TURN_RAD)
    parts = np.ones(len(turn))
    rows = np.flatnonzero(above & ~course.free[at])
    if not len(rows):
        return parts
    worst = np.zeros(len(rows))
    measured = [_picked(column, rows) for pair in zip(begins, ends, strict=True) for column in pair]
    for part in MEASURED_AT:
        off, axis_off = strayed(measured, part, lines, allowed.tip)
        worst = np.maximum(worst, np.maximum(off / allowed.tip, axis_off / axis_allowed[rows]))
    excess = worst * MARGIN
    needed = np.where(excess > 1, np.maximum(2.0, np.ceil(np.sqrt(excess))), 1.0)
    parts[rows] = np.minimum(np.maximum(needed, np.ceil(turn[rows] / WIDEST_TURN_RAD - 1e-9)), MOST_AT_ONCE)
    return parts


def _picked(values: Floats, at: Rows) -> Floats:
    """Rows of values (n, k), column by column in memory as they are themselves."""
    return values[at] if isinstance(at, slice) else values.T[:, at].T


def _length(vectors: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)))


def strayed(ends: Sequence[Floats], part: float, lines: Lines, nothing: float) -> tuple[Floats, Floats]:
    """How far (n,) the tip is off its line at a part of each block, and the tool axis, radians, off the one that is meant where the tip is.

    ends      X Y Z, angles, tips and tool axes, each at the start and the end of the blocks
    nothing   on a way shorter than that the tip is everywhere, and the tool axis is held against the nearest of its arc
    """
    xyz0, xyz1, alpha0, alpha1, tip0, tip1, axis0, axis1 = ends
    alpha = alpha0 + part * (alpha1 - alpha0)
    tip, axis = tip_in_part(xyz0 + part * (xyz1 - xyz0), alpha, lines), tool_axis(alpha, lines)
    way = tip1 - tip0
    square = np.einsum("ij,ij->i", way, way)
    along = np.divide(np.einsum("ij,ij->i", tip - tip0, way), square, out=np.zeros(len(tip)), where=square > 0)
    across = axis1 - axis0
    chord = np.einsum("ij,ij->i", across, across)
    leaning = np.divide(np.einsum("ij,ij->i", axis - axis0, across), chord, out=np.zeros(len(tip)), where=chord > 0)
    there = np.clip(np.where(square >= nothing * nothing, along, leaning), 0.0, 1.0)
    off = _length(tip - tip0 - np.clip(along, 0.0, 1.0)[:, None] * way)
    return off, arc_lengths(axis, on_arcs(axis0, axis1, there))


def begun(row: Ints, part: Floats) -> Floats:
    """How far along its row each way (m,) begins, of ways that end at these parts of their rows."""
    before = np.concatenate([[0.0], part[:-1]])
    before[np.diff(row, prepend=-1) != 0] = 0.0
    return before


def doubled(ways: int, twice: Ints) -> tuple[Ints, Ints, Ints]:
    """Of ways + 1 positions some twice: which each then is, and which each way; and the fresh ways, from one of the two to the other."""
    position, way = (np.sort(np.concatenate([np.arange(count), twice])) for count in (ways + 1, ways))
    return position, way, twice + np.arange(len(twice))


def _cut(course: Course, pieces: Ints, throughs: Throughs, lines: Lines) -> tuple[Course, Ints]:
    """Ways cut into equal parts, (m,) of them, the positions between worked out anew; and which positions those are."""
    way, number = parts_of(pieces)
    ends = np.cumsum(pieces)  # the positions that stay
    fresh = np.flatnonzero(number + 1 < pieces[way])
    share = (number[fresh] + 1) / pieces[way[fresh]]
    added = between(course, way[fresh], share, throughs, lines)
    columns = {}
    for name, new in zip(("tip", "axis", "alpha_rad", "toward_rad"), added, strict=True):
        old = getattr(course, name)
        column = np.empty((*old.shape[1:], len(way) + 1)).T
        column[0], column[ends], column[fresh + 1] = old[0], old[1:], new
        columns[name] = column
    before = begun(course.row, course.part)
    part = course.part[way]
    part[fresh] = before[way[fresh]] + share * (part[fresh] - before[way[fresh]])
    of_ways = {name: getattr(course, name)[way] for name in ("row", "solution", "passage", "side", "evenly", "free")}
    return replace(course, part=part, **columns, **of_ways), fresh + 1


def between(course: Course, way: Ints, part: Floats, throughs: Throughs, lines: Lines) -> tuple[Floats, Floats, Floats, Floats]:
    """Positions at parts (k,) of ways (k,): tips, tool axes, angles, and the first rotary's without what its solution adds."""
    (tip0, tip1), (axis0, axis1), (alpha0, alpha1) = (
        (_picked(column, way), _picked(column, way + 1)) for column in (course.tip, course.axis, course.alpha_rad)
    )
    tip, axis, alpha = tip0 + part[:, None] * (tip1 - tip0), on_arcs(axis0, axis1, part), alpha0 + part[:, None] * (alpha1 - alpha0)
    toward = course.toward_rad[way] + part * (course.toward_rad[way + 1] - course.toward_rad[way])
    exact = np.flatnonzero((course.passage[way] < 0) & ~course.evenly[way])
    if len(exact) and lines:
        found = solutions(axis[exact], lines)
        principal = found.toward_rad
        middle = (course.toward_rad[way[exact]] + course.toward_rad[way[exact] + 1]) / 2
        there = principal + TURN * np.rint((middle - principal) / TURN)
        there = np.where(found.free, middle, there)
        angles = found.alpha_rad[course.solution[way[exact]], np.arange(len(exact))]
        angles[:, 0] = np.where(found.free, alpha[exact, 0], angles[:, 0] + there - principal)
        angles[:, 1:] += TURN * np.rint((alpha[exact, 1:] - angles[:, 1:]) / TURN)
        alpha[exact], toward[exact] = angles, there
    beside = course.passage[way]
    for index in distinct(beside[beside >= 0]):
        passage, run = throughs[index]
        here = np.flatnonzero(beside == index)
        alpha[here] = run.angles(tilts(axis[here], passage, lines, course.side[way[here]]))
    return tip, axis, alpha, toward
