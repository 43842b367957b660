"""Simultaneous runs on a chain of rotaries: their stretches, for the choice of solutions and whole turns, and the course then taken.

A run is gone through twice. `leaning` lays its tool axes out, with the poles that they pass, the same each time; `Stretches` are what
has to be chosen for them, `course` is what becomes of the choice.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, join
from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.chain import Lines, Solutions
from steadyrest.motion.choice import Choice, Stretch
from steadyrest.motion.courses import Course
from steadyrest.motion.orientations import BOTH, HALF_TURN_RAD, TURN, arc_lengths, on_arcs, orientations
from steadyrest.motion.poles import WIDEST_RAD, Passage, Point, Through, passages, through, tilts
from steadyrest.motion.subdivision import parts_of
from steadyrest.profile import Travel
from steadyrest.toolpath import Item, MoveColumns

Refuse = Callable[[int, str, str], PlanError]
"""The error that names a row's place, with the sentence and the cure."""
WIDEST_ARC_RAD = np.radians(2.0)
"""Between two points of a longer arc the angles are looked at in between."""
MOST_HELD = 200_000
"""Rows that are held back at most until the tool has passed a pole."""
AT_POLE_RAD = 1e-6
"""A tool axis as near to the pole as that is at it, and the first rotary stays: far below what any rotary word can say."""
SLACK_DEG = 1e-6
"""Past the end of a travel by less is not past it: far below what any rotary word can say."""
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
        return self.passage.straight and not self.passage.begins and not self.passage.ends


@dataclass(frozen=True, slots=True, eq=False)
class Leaning:
    """A run of moves laid out: m ways between m + 1 positions, the first of which is where the run before ended.

    tip, axis  (m + 1, 3)
    found      angles of both solutions at the positions
    row, part  (m,) the row of the run that a way belongs to, and how far along it the way ends
    free       (m,) rapids, and withdrawals
    begins     (m + 1,) positions, come to at rapid, at which a stretch begins
    at_pole    (m + 1,) positions at which the first rotary is free
    passed     the poles that are passed, in order
    after      where the run ends
    """

    tip: Floats
    axis: Floats
    found: Solutions
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


def leaning(run: MoveColumns, before: Before, lines: Lines, scale: float, limits: Limits, refuse: Refuse) -> Leaning:
    """A run of tips and tool axes, with the positions at which a pole's passage begins and ends put in.

    scale     program units per unit of the run
    refuse    makes the error for a tool axis that is out of reach, or half a turn from the one before it in a cut
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
        start, end, lay, lies = (_text(each) for each in (*tips[half[0] : half[0] + 2] / scale, *axes[half[0] : half[0] + 2] + 0.0))
        wrong = f"between {start} and {end} the tool axis turns by exactly half a turn, from {lay} to {lies}: which way round is not clear"
        raise refuse(int(half[0]), wrong, "put a point between the two")
    found = passages(axes, widest, ~free, lines, limits.pole_rad)
    if found or widest > WIDEST_ARC_RAD:
        row, part = _positions(np.maximum(1.0, np.ceil(arcs / WIDEST_ARC_RAD)).astype(np.int64), found)
    else:
        row, part = np.arange(len(run)), np.ones(len(run))
    passed: list[Passed] = []
    if len(row) > len(run):
        tips = np.vstack([tips[:1], np.where((part == 1)[:, None], tips[row + 1], tips[row] + part[:, None] * (tips[row + 1] - tips[row]))])
        axes = np.vstack([axes[:1], on_arcs(axes[row], axes[row + 1], part)])
        whole = np.concatenate([[False], part == 1])
        begins_there = np.zeros(len(tips), dtype=np.bool_)
        begins_there[whole] = begins[1:]
        begins, free = begins_there, free[row]
    place = np.concatenate([[0.0], row + part]) if found else np.empty(0)
    for passage in found:
        passed.append(Passed(passage, *(_index(place, point) for point in (passage.entry, passage.closest, passage.exit))))
    held = np.abs(axes @ lines[0].direction) > 1 - AT_POLE_RAD**2 / 2 if len(lines) == BOTH else None
    angles = orientations(axes, lines, before.toward_rad, held)
    far = np.flatnonzero(angles.miss_rad[1:] > limits.miss_rad)
    if len(far):
        at = int(next(iter(far[part[far] == 1]), far[0]))  # one that is asked for before one between two
        miss = np.degrees(float(angles.miss_rad[at + 1]))
        raise refuse(
            int(row[at]),
            f"the tool axis {_text(axes[at + 1])} is out of reach of the rotaries by {miss:.3f} degrees",
            "use a tool axis that they reach, or a machine that reaches it; or allow the angle by axis_tolerance",
        )
    after = Before(tips[-1], axes[-1], float(angles.toward_rad[-1]), bool(rapid[-1]))
    return Leaning(tips, axes, angles, row, part, free, begins, angles.free if held is None else held, passed, after)


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


def _text(point: Floats) -> str:
    return "[" + ", ".join(f"{value:.6g}" for value in point) + "]"


def _held(at: Leaning, lines: Lines) -> Floats:
    """The angles (s, m + 1, r) of each solution, where a cut begins or ends beside a pole those with the first rotary held."""
    alpha = at.found.alpha_rad
    if not any(one.passage.begins or one.passage.ends for one in at.passed):
        return alpha
    alpha = alpha.copy()
    begun = np.flatnonzero(at.begins)
    for one in at.passed:
        if not (one.passage.begins or one.passage.ends):
            continue
        inside = np.arange(one.entry, one.exit + 1)
        side = np.where(inside < one.closest, -1, 1)
        for solution in range(len(alpha)):
            run = _through(one, at, alpha[solution, [one.entry, one.exit]], solution, lines)
            alpha[solution, inside] = run.angles(tilts(at.axis[inside], one.passage, lines, side))
            if one.passage.begins:  # over rapids before it that do not turn
                since = begun[begun <= one.entry]
                alpha[solution, (int(since[-1]) if len(since) else one.entry) : one.entry] = alpha[solution, one.entry]
    return alpha


def _through(one: Passed, at: Leaning, ends_rad: Floats, solution: int, lines: Lines) -> Through:
    """How the angles run through a passage that is come to in a solution; where a cut begins beside the pole, it goes on in it."""
    sign = 1 if solution == 0 else -1
    return through(
        one.passage, at.axis[[one.entry, one.exit]], ends_rad, -sign if one.passage.begins and not one.passage.ends else sign, lines
    )


def words_deg(alpha_rad: Floats, lines: Lines) -> Floats:
    """Commanded angles, degrees, of angles (..., r)."""
    return np.asarray(alpha_rad * np.degrees([float(line.sign) for line in lines]))


@dataclass(slots=True)
class Stretches:
    """The stretches of an operation as its runs are gone through.

    travels   of the rotaries, where a cut that fits in none of them may be withdrawn from; None: it may not
    moves     with which move each begins; of one that goes on beyond a pole, the move that comes nearest to it
    """

    operation: int
    travels: Sequence[Travel] | None = None
    found: list[Stretch] = field(default_factory=list)
    moves: list[int] = field(default_factory=list)

    def meet(self, at: Leaning, run: MoveColumns, lines: Lines, *, swings: bool) -> list[int]:
        """Take in a run: what goes on from the run before belongs to the last stretch.

        swings    whether the first rotary may swing round beside a pole
        returns   positions at which a cut has to be withdrawn from, since it fits on in no solution and no turn: as far on as it fits
        """
        parted: list[int] = []
        words = words_deg(_held(at, lines), lines)
        goes_on = bool(self.found)
        starts: list[tuple[int, Passed | None]] = [(node, None) for node in np.flatnonzero(at.begins).tolist()]
        starts = sorted(starts + [(one.exit, one) for one in at.passed if one.chosen], key=lambda each: each[0])
        starts = [(0, None), *starts] if goes_on else starts
        for number, (node, one) in enumerate(starts):
            following, past = starts[number + 1] if number + 1 < len(starts) else (len(at.tip), None)
            last = past.entry if past is not None else following - 1
            begun = not (goes_on and number == 0)
            if begun:
                past_deg = self._past(one, at, words, lines, swings=swings) if one is not None else None
                self._begin(words[:, node], run, at, one.closest if one is not None else node, past_deg, turned_to=not self.found)
            while (end := self._gone_on(words[:, node : last + 1], begun=begun)) < last - node:
                node, begun = node + end, True
                self._begin(words[:, node], run, at, node, None, turned_to=True)
                parted.append(node)
        return parted

    def _begin(
        self, w_deg: Floats, run: MoveColumns, at: Leaning, node: int, past: dict[tuple[int, int], Floats] | None, *, turned_to: bool
    ) -> None:
        self.found.append(Stretch(w_deg, w_deg, w_deg, w_deg, self.operation, turned_to, past))
        self.moves.append(int(run.first_move + at.row[max(node - 1, 0)]))

    def _gone_on(self, w_deg: Floats, *, begun: bool) -> int:
        """The last stretch goes on over angles (s, k, r), as far as it fits in some solution and turn: up to which of them.

        Over all of them, too, where it begins with the first and not even the second fits: then it can be parted nowhere.
        """
        last, end = self.found[-1], int(w_deg.shape[1]) - 1
        columns = [[one[:, at] for at in range(w_deg.shape[2])] for one in w_deg]  # reduced by itself each is much faster
        least, most = (np.array([[reduce(column) for column in one] for one in columns]) for reduce in (np.min, np.max))
        lowest, highest = np.minimum(last.lowest_deg, least), np.maximum(last.highest_deg, most)
        if self.travels is not None and not _fits(lowest, highest, self.travels).any():
            on_lowest = np.minimum(np.minimum.accumulate(w_deg, axis=1), last.lowest_deg[:, None])
            on_highest = np.maximum(np.maximum.accumulate(w_deg, axis=1), last.highest_deg[:, None])
            beyond = int(np.argmin(_fits(on_lowest, on_highest, self.travels).any(axis=0)))
            if beyond > begun:
                end = beyond - 1
                lowest, highest = on_lowest[:, end], on_highest[:, end]
        self.found[-1] = replace(last, end_deg=w_deg[:, end], lowest_deg=lowest, highest_deg=highest)
        return end

    def _past(self, one: Passed, at: Leaning, words: Floats, lines: Lines, *, swings: bool) -> dict[tuple[int, int], Floats]:
        steps = {}
        for solution in (0, 1):
            ends = np.stack([at.found.alpha_rad[solution, one.entry], at.found.alpha_rad[1 - solution, one.exit]])
            run = _through(one, at, ends, solution, lines)
            steps[solution, 1 - solution] = words_deg(run.angles(np.array([run.v_after]))[0] - ends[0], lines)
            if swings:
                steps[solution, solution] = words[solution, one.exit] - words[solution, one.entry]
        return steps


def _fits(lowest_deg: Floats, highest_deg: Floats, travels: Sequence[Travel]) -> Bools:
    """Whether angles of the rotaries' words, (..., r) between lowest and highest, lie within the travels in some whole turns."""
    fits = np.ones(lowest_deg.shape[:-1], dtype=np.bool_)
    for column, travel in enumerate(travels):
        if travel.kind == "limited":
            fewest = np.ceil((travel.lowest - SLACK_DEG - lowest_deg[..., column]) / 360.0)
            fits &= fewest <= np.floor((travel.highest + SLACK_DEG - highest_deg[..., column]) / 360.0)
    return fits


def course(at: Leaning, states: Sequence[Choice], last_rad: Floats | None, lines: Lines) -> tuple[Course, list[tuple[Passage, Through]]]:
    """The positions of a run in the states chosen for its stretches.

    states     the first is of the stretch that goes on from the run before, or of the first that begins
    last_rad   (r,) the angles at which the run before ended; None before the first
    """
    alpha_all, n = _held(at, lines), len(at.tip)
    begin = np.sort([*np.flatnonzero(at.begins).tolist(), *(one.exit for one in at.passed if one.chosen)]).astype(np.int64)
    which = np.repeat(np.arange(len(begin) + 1), np.diff(begin, prepend=0, append=n))
    if last_rad is None:
        which = np.maximum(which - 1, 0)
    signs = np.array([line.sign for line in lines])
    solution = np.array([state.solution for state in states])[which]
    offset = TURN * signs * np.array([state.turns for state in states]).reshape(len(states), len(lines))
    more = np.take(offset.T, which, axis=1).T
    alpha = np.where((solution == 0)[:, None], alpha_all[0], alpha_all[-1]) + more
    toward = at.found.toward_rad + (more[:, 0] if len(lines) else 0.0)
    ways = n - 1
    passage, side = np.full(ways, -1), np.ones(ways, dtype=np.int64)
    evenly = at.free.copy()
    throughs: list[tuple[Passage, Through]] = []
    for one in at.passed:
        held = one.passage.begins or one.passage.ends
        straight = one.chosen and solution[one.entry] != solution[one.exit]
        if not (held or straight):
            continue
        run = _through(one, at, alpha[[one.entry, one.exit]], int(solution[one.entry]), lines)
        inside = np.arange(one.entry + (not held), one.exit + held)
        if not held:
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
    position = np.sort(np.concatenate([np.arange(len(at.tip)), twice]))
    way = np.sort(np.concatenate([np.arange(len(at.row)), twice]))
    fresh = twice + np.arange(len(twice))
    row, part, free, begins = at.row[way], at.part[way], at.free[way], at.begins[position]
    before = np.maximum(twice - 1, 0)
    free[fresh], part[fresh] = True, np.where((at.row[twice] == at.row[before]) & (twice > 0), at.part[before], 0.0)
    begins[fresh + 1] = True
    found = at.found
    angles = Solutions(found.alpha_rad[:, position], found.toward_rad[position], found.miss_rad[position], found.free[position])
    moved = [Passed(one.passage, *(node + int(np.count_nonzero(twice < node)) for node in one[1:])) for one in at.passed]
    return Leaning(at.tip[position], at.axis[position], angles, row, part, free, begins, at.at_pole[position], moved, at.after)


def _turned_in_place(made: Course, at_pole: Bools, last_rad: Floats | None) -> Course:
    """With a way more wherever the first rotary has to turn while the tool stands at a pole: out of there the angles are exact."""
    leaves = (made.passage < 0) & ~made.evenly & at_pole[:-1] & ~at_pole[1:]
    turns = np.flatnonzero(leaves & (np.abs(np.diff(made.toward_rad)) > SAME))
    comes = last_rad is not None and not made.evenly[0] and bool((np.abs(made.alpha_rad[0] - last_rad) > SAME).any())
    if not len(turns) and not comes:
        return made
    # the position is there twice: with the angles with which it is come to, and with those with which it is left
    twice = np.sort(np.append(turns, 0)) if comes else turns
    position = np.sort(np.concatenate([np.arange(len(made) + 1), twice]))
    way = np.sort(np.concatenate([np.arange(len(made)), twice]))
    fresh = np.flatnonzero(np.diff(way, prepend=-1) > 0)[np.isin(np.arange(len(made)), twice)]
    columns = {name: getattr(made, name)[position] for name in ("tip", "axis", "alpha_rad", "toward_rad")}
    of_ways = {name: getattr(made, name)[way] for name in ("row", "part", "solution", "passage", "side", "evenly", "free")}
    of_ways["evenly"][fresh], of_ways["free"][fresh], of_ways["passage"][fresh] = True, False, -1
    before = np.concatenate([[0.0], made.part[:-1]])
    before[np.diff(made.row, prepend=-1) != 0] = 0.0
    of_ways["part"][fresh] = before[twice]
    for turn in turns.tolist():
        there = int(np.searchsorted(position, turn, "right")) - 1
        change = made.toward_rad[turn + 1] - made.toward_rad[turn]
        columns["alpha_rad"][there, 0] += change
        columns["toward_rad"][there] += change
    if comes:
        columns["alpha_rad"][0] = last_rad
    return Course(**columns, **of_ways)


def held_together(items: Iterable[Item], lines: Lines) -> Iterator[Item]:
    """The items of an operation, no run of moves ending beside a pole where another goes on: what is passed there is passed in one run."""
    poles = np.array([line.direction for line in lines[:1]]) if len(lines) == BOTH else np.empty((0, 3))
    open_: MoveColumns | None = None
    for item in items:
        if not isinstance(item, MoveColumns):
            if open_ is not None:
                yield open_
            open_ = None
            yield item
            continue
        if open_ is None:
            open_ = item
            continue
        last = _last_away(open_, poles)
        if last > 0:
            yield open_.rows(0, last)
            open_ = open_.rows(last, len(open_))
        if len(open_) > MOST_HELD:
            yield open_
            open_ = item
        else:
            open_ = join([open_, item]) if len(open_) else item
    if open_ is not None:
        yield open_


def _last_away(run: MoveColumns, poles: Floats) -> int:
    """The rows of a run up to the last that is not beside a pole."""
    if not len(poles):
        return len(run)
    assert run.tool_axis is not None
    for axes in (run.tool_axis[-1:], run.tool_axis):  # it mostly is the very last
        away = np.flatnonzero((np.abs(axes @ poles.T) < np.cos(1.1 * WIDEST_RAD)).all(axis=1))
        if len(away):
            return len(run) - len(axes) + int(away[-1]) + 1
    return 0
