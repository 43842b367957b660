"""Simultaneous runs on a chain of rotaries: laid out, with the poles that they pass, and the course taken in what is then chosen.

A run is gone through twice. `leaning` lays its tool axes out, the same each time; `stretches` finds what has to be chosen for them, and
`course` is what becomes of the choice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import RAPID
from steadyrest.errors import Place, PlanError
from steadyrest.motion.chain import BOTH, Lines
from steadyrest.motion.choice import Choice
from steadyrest.motion.courses import Course, begun, doubled
from steadyrest.motion.orientations import HALF_TURN_RAD, TURN, arc_lengths, in_words, on_arcs, orientations, unclear_turn
from steadyrest.motion.poles import Passage, Point, Through, passages, through, tilts
from steadyrest.motion.subdivision import parts_of
from steadyrest.toolpath import MoveColumns

WIDEST_ARC_RAD = np.radians(2.0)
"""Between two points of a longer arc the angles are looked at in between."""
AT_POLE_RAD = 1e-6
"""A tool axis as near to the pole as that is at it, and the first rotary stays: far below what any rotary word can say."""
SAME = 1e-9
"""Part of a move, and radians: nearer than that two points are one, and two angles."""


@dataclass(frozen=True, slots=True, eq=False)
class Before:
    """Where the run before ended, in the operation's own terms: nothing is said before the first.

    tip, axis   (3,) program units, unit vector; None before the first run
    toward_rad  the first rotary's angle without what a solution adds, from which is counted on
    at_rapid    the last move was a rapid, or there was none
    """

    tip: Floats | None
    axis: Floats | None
    toward_rad: float
    at_rapid: bool = True


def at_start(lines: Lines) -> Before:
    """Before the first run of a program: the first rotary stands at zero in the first solution."""
    return Before(None, None, -np.pi / 2 if len(lines) == BOTH else 0.0)


class Passed(NamedTuple):
    """A passage of a pole, and at which positions it begins, is nearest and ends."""

    passage: Passage
    entry: int
    closest: int
    exit: int

    @property
    def chosen(self) -> bool:
        """Whether it may be passed in two ways, straight through or round: a stretch ends here and another begins."""
        return self.passage.straight and not self.held

    @property
    def held(self) -> bool:
        """Whether a cut begins or ends there: the first rotary then stays."""
        return self.passage.begins or self.passage.ends

    def through(self, axis: Floats, ends_rad: Floats, solution: int, lines: Lines) -> Through:
        """How the angles, ends_rad (2, r), run when come to in a solution; where a cut begins beside the pole, it goes on in it."""
        sign = 1 if solution == 0 else -1
        sign = -sign if self.passage.begins and not self.passage.ends else sign
        return through(self.passage, axis[[self.entry, self.exit]], ends_rad, sign, lines)


@dataclass(frozen=True, slots=True, eq=False)
class Leaning:
    """A run of moves laid out: m ways between m + 1 positions, the first of which is where the run before ended.

    tip, axis  (m + 1, 3)
    alpha_rad  (s, m + 1, r) of both solutions; where a cut begins or ends beside a pole with the first rotary held
    toward_rad (m + 1,) the first rotary's without what a solution adds to it
    row, part  (m,) the row of the run that a way belongs to, and how far along it the way ends
    free       (m,) rapids, and withdrawals
    begins     (m + 1,) positions, come to at rapid, at which a stretch begins
    at_pole    (m + 1,) positions at which the first rotary is free
    passed     the poles that are passed, in order
    after      where the run ends
    """

    tip: Floats
    axis: Floats
    alpha_rad: Floats
    toward_rad: Floats
    row: Ints
    part: Floats
    free: Bools
    begins: Bools
    at_pole: Bools
    passed: list[Passed]
    after: Before

    @property
    def stretches(self) -> int:
        """How many stretches begin in the run."""
        return int(np.count_nonzero(self.begins)) + sum(one.chosen for one in self.passed)


class Limits(NamedTuple):
    """How far the tool axis may be out of reach, and off to pass a pole; radians."""

    miss_rad: float
    pole_rad: float


def leaning(run: MoveColumns, before: Before, lines: Lines, scale: float, limits: Limits, place_of: Callable[[int], Place]) -> Leaning:
    """A run of tips and tool axes, with the positions at which a pole's passage begins and ends put in.

    scale     program units per unit of the run
    place_of  the place of a row
    raises    PlanError for a tool axis that is out of reach, or half a turn from the one before it in a cut
    """
    assert run.tool_axis is not None
    rapid = run.kind == RAPID
    first = before.tip is None or before.axis is None
    tips, axes = (
        np.vstack([own[:1] if start is None else start, own], dtype=np.float64)
        for own, start in ((run.end * scale, before.tip), (run.tool_axis, before.axis))
    )
    step = np.diff(axes, axis=0)
    chord = np.einsum("ij,ij->i", step, step)  # its square
    begins = np.zeros(len(tips), dtype=np.bool_)
    begins[1:] = rapid & ((chord > SAME**2) | ~np.concatenate([[before.at_rapid], rapid[:-1]]))
    free = rapid.copy()
    if first:
        free[0] = begins[1] = True
    chord[free] = 0.0
    widest = 2 * math.asin(min(1.0, math.sqrt(float(chord.max(initial=0.0))) / 2))
    arcs = np.where(free, 0.0, arc_lengths(axes[:-1], axes[1:])) if widest > WIDEST_ARC_RAD else np.zeros(len(run))
    if len(half := np.flatnonzero(np.pi - arcs < HALF_TURN_RAD)):
        pair = slice(half[0], half[0] + 2)
        raise unclear_turn(tips[pair] / scale, axes[pair], place_of(int(half[0])))
    found = passages(axes, widest, ~free, lines, limits.pole_rad)
    if found or widest > WIDEST_ARC_RAD:
        row, part = _positions(np.maximum(1.0, np.ceil(arcs / WIDEST_ARC_RAD)).astype(np.int64), found)
    else:
        row, part = np.arange(len(run)), np.ones(len(run))
    if len(row) > len(run):
        tips = np.vstack([tips[:1], np.where((part == 1)[:, None], tips[row + 1], tips[row] + part[:, None] * (tips[row + 1] - tips[row]))])
        axes = np.vstack([axes[:1], on_arcs(axes[row], axes[row + 1], part)])
        whole = np.concatenate([[False], part == 1])
        begins_there = np.zeros(len(tips), dtype=np.bool_)
        begins_there[whole] = begins[1:]
        begins, free = begins_there, free[row]
    place = np.concatenate([[0.0], row + part]) if found else np.empty(0)
    passed = [Passed(one, *(_index(place, point) for point in (one.entry, one.closest, one.exit))) for one in found]
    held = np.abs(axes @ lines[0].direction) > 1 - AT_POLE_RAD**2 / 2 if len(lines) == BOTH else None
    angles = orientations(axes, lines, before.toward_rad, held)
    far = np.flatnonzero(angles.miss_rad[1:] > limits.miss_rad)
    if len(far):
        at = int(next(iter(far[part[far] == 1]), far[0]))  # one that is asked for before one between two
        miss = np.degrees(float(angles.miss_rad[at + 1]))
        raise PlanError(
            f"the tool axis {in_words(axes[at + 1])} is out of reach of the rotaries by {miss:.3f} degrees",
            place=place_of(int(row[at])),
            cure="use a tool axis that they reach, or a machine that reaches it; or allow the angle by axis_tolerance",
        )
    hold(angles.alpha_rad, axes, passed, np.flatnonzero(begins), lines)
    after = Before(tips[-1], axes[-1], float(angles.toward_rad[-1]), bool(rapid[-1]))
    at_pole = angles.free if held is None else held
    return Leaning(tips, axes, angles.alpha_rad, angles.toward_rad, row, part, free, begins, at_pole, passed, after)


def _positions(counts: Ints, found: Sequence[Passage]) -> tuple[Ints, Floats]:
    """Rows and parts of them at which ways end: equal parts of each, and the points of passages."""
    row, number = parts_of(counts)
    part = (number + 1) / counts[row]
    points = [(point.arc, point.part) for one in found for point in (one.entry, one.closest, one.exit) if SAME < point.part < 1 - SAME]
    if points:
        more = np.array(points)
        row, part = np.concatenate([row, more[:, 0].astype(np.int64)]), np.concatenate([part, more[:, 1]])
        order = np.lexsort((part, row))
        row, part = row[order], part[order]
        keep = np.append((np.diff(row) > 0) | (np.diff(part) > SAME), True)
        row, part = row[keep], part[keep]
    return row, part


def _index(place: Floats, point: Point) -> int:
    """The position nearest to a point of the way."""
    there = point.arc + point.part
    at = int(np.searchsorted(place, there))
    return at - 1 if at == len(place) or (at and there - place[at - 1] < place[at] - there) else at


def hold(alpha_rad: Floats, axis: Floats, passed: Sequence[Passed], begun: Ints, lines: Lines) -> None:
    """Where a cut begins or ends beside a pole the first rotary is held, in the angles (s, m + 1, r) of each solution."""
    for one in passed:
        if not one.held:
            continue
        inside = np.arange(one.entry, one.exit + 1)
        for solution, alpha in enumerate(alpha_rad):
            run = one.through(axis, alpha[[one.entry, one.exit]], solution, lines)
            alpha[inside] = run.angles(tilts(axis[inside], one.passage, lines, np.where(inside < one.closest, -1, 1)))
            if one.passage.begins:  # over rapids before it that do not turn
                since = begun[begun <= one.entry]
                alpha[(int(since[-1]) if len(since) else one.entry) : one.entry] = alpha[one.entry]


def course(at: Leaning, states: Sequence[Choice], last_rad: Floats | None, lines: Lines) -> tuple[Course, list[tuple[Passage, Through]]]:
    """The positions of a run in the states chosen for its stretches.

    states     the first is of the stretch that goes on from the run before, or of the first that begins
    last_rad   (r,) the angles at which the run before ended; None before the first
    """
    n = len(at.tip)
    begin = np.sort([*np.flatnonzero(at.begins).tolist(), *(one.exit for one in at.passed if one.chosen)]).astype(np.int64)
    which = np.repeat(np.arange(len(begin) + 1), np.diff(begin, prepend=0, append=n))
    if last_rad is None:
        which = np.maximum(which - 1, 0)
    signs = np.array([line.sign for line in lines])
    solution = np.array([state.solution for state in states])[which]
    offset = TURN * signs * np.array([state.turns for state in states]).reshape(len(states), len(lines))
    more = np.take(offset.T, which, axis=1).T
    alpha = np.where((solution == 0)[:, None], at.alpha_rad[0], at.alpha_rad[-1]) + more
    toward = at.toward_rad + (more[:, 0] if len(lines) else 0.0)
    ways = n - 1
    passage, side = np.full(ways, -1), np.ones(ways, dtype=np.int64)
    evenly = at.free.copy()
    throughs: list[tuple[Passage, Through]] = []
    for one in at.passed:
        straight = one.chosen and solution[one.entry] != solution[one.exit]
        if not (one.held or straight):
            continue
        run = one.through(at.axis, alpha[[one.entry, one.exit]], int(solution[one.entry]), lines)
        if straight:
            inside = np.arange(one.entry + 1, one.exit)
            alpha[inside] = run.angles(tilts(at.axis[inside], one.passage, lines, np.where(inside <= one.closest, -1, 1)))
        passage[one.entry : one.exit], side[one.entry : one.exit] = len(throughs), 1
        side[one.entry : one.closest] = -1
        throughs.append((one.passage, run))
    passage[at.free] = -1
    made = Course(at.tip, at.axis, alpha, toward, at.row, at.part, solution[1:], passage, side, evenly, at.free)
    return _turned_in_place(made, at.at_pole, last_rad), throughs


def withdrawn(at: Leaning, parted: Sequence[int]) -> Leaning:
    """A run with each position at which a cut is withdrawn from there twice: at the first a stretch ends, at the second one begins."""
    if not parted:
        return at
    twice = np.array(parted)
    position, way, fresh = doubled(len(at.row), twice)
    part, free, begins = at.part[way], at.free[way], at.begins[position]
    free[fresh], part[fresh], begins[fresh + 1] = True, begun(at.row, at.part)[twice], True
    moved = [Passed(one.passage, *(node + int(np.count_nonzero(twice < node)) for node in one[1:])) for one in at.passed]
    tip, axis, alpha, toward = at.tip[position], at.axis[position], at.alpha_rad[:, position], at.toward_rad[position]
    return Leaning(tip, axis, alpha, toward, at.row[way], part, free, begins, at.at_pole[position], moved, at.after)


def _turned_in_place(made: Course, at_pole: Bools, last_rad: Floats | None) -> Course:
    """With a way more wherever the first rotary has to turn while the tool stands at a pole: out of there the angles are exact."""
    leaves = (made.passage < 0) & ~made.evenly & at_pole[:-1] & ~at_pole[1:]
    turns = np.flatnonzero(leaves & (np.abs(np.diff(made.toward_rad)) > SAME))
    comes = last_rad is not None and not made.evenly[0] and bool((np.abs(made.alpha_rad[0] - last_rad) > SAME).any())
    if not len(turns) and not comes:
        return made
    # the position is there twice: with the angles with which it is come to, and with those with which it is left
    twice = np.sort(np.append(turns, 0)) if comes else turns
    position, way, fresh = doubled(len(made), twice)
    columns = {name: getattr(made, name)[position] for name in ("tip", "axis", "alpha_rad", "toward_rad")}
    of_ways = {name: getattr(made, name)[way] for name in ("row", "part", "solution", "passage", "side", "evenly", "free")}
    of_ways["evenly"][fresh], of_ways["free"][fresh], of_ways["passage"][fresh] = True, False, -1
    of_ways["part"][fresh] = begun(made.row, made.part)[twice]
    for turn in turns.tolist():
        there = int(np.searchsorted(position, turn, "right")) - 1
        change = made.toward_rad[turn + 1] - made.toward_rad[turn]
        columns["alpha_rad"][there, 0] += change
        columns["toward_rad"][there] += change
    if comes:
        columns["alpha_rad"][0] = last_rad
    return Course(**columns, **of_ways)
