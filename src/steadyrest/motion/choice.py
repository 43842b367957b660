"""Which solution does each stretch take, and in which whole turns, so that the rotaries of a chain turn for the least time between them?

A tool axis has two solutions on a chain of two rotaries. Inside a stretch each is continuous; between two stretches the tool is clear, and
either may be taken, in any whole turns that fit the travels. A state of a stretch is a solution and the whole turns of each rotary; what a
link costs is the time of its slowest rotary, and of links that take as long the turning of all of them together decides. Of choices as
good in both the first stretch decides, then the next: the smaller absolute angles at its start, then the positive ones. One rotary in the
table, with one solution, and none are chains like any other.

A cost is a complex number, for these are added and ordered as costs have to be: the time, in counts of the fastest rotary, is its real
part, the turning of all, in counts, its imaginary one. Whole numbers are exact in it up to 25 million turns.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Bools, Complexes, Floats, Ints
from steadyrest.motion.winding import NEVER, TURN, Links, Unfit, count, shorter, window, without_limits
from steadyrest.profile import Rotary, Travel, Unwinding

WAYS_AT_ONCE = 1 << 18
"""So many ways between states are worked out at once."""
MOST_TURNS = 20
"""In a wider travel so many whole turns are tried to either side of the shorter way; and so many at most of the way back to zero."""
SLACK_TURNS = 3
"""Of a rotary without limits that goes back to zero so many whole turns are tried beside those that take it there."""

Costs = Complexes | Floats


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """What is done without a rapid between, in each of its solutions; angles in degrees of the rotaries' words, unwound.

    start_deg, end_deg       (s, r) where the r rotaries stand at its start and its end, in no particular turn
    lowest_deg, highest_deg  (s, r) the least and the most of each on the way
    operation                number of the operation, from 1
    turned_to                it is come to by a turn of its own, from the side that is asked for; else by a rapid of the toolpath
    past                     of one that goes on beside a pole, within the cut: by (solution before, solution) how far each rotary then
                             turns, (r,) degrees; what is not there cannot follow. None: any state may follow any other
    up                       (s,) whether the tool then points up somewhere: such a solution is taken where there is no other. None: nowhere
    """

    start_deg: Floats
    end_deg: Floats
    lowest_deg: Floats
    highest_deg: Floats
    operation: int
    turned_to: bool = True
    past: Mapping[tuple[int, int], Floats] | None = None
    up: Bools | None = None


def standing(w_deg: Floats, operation: int) -> Stretch:
    """A stretch in which the rotaries stand, at w_deg (s, r)."""
    return Stretch(w_deg, w_deg, w_deg, w_deg, operation)


class Choice(NamedTuple):
    """The solution of a stretch, and the whole turns of each rotary to be added to its angles."""

    solution: int
    turns: tuple[int, ...]


class _States(NamedTuple):
    """The states of all stretches, one after another: those of stretch i from first[i] to before first[i + 1].

    solution            (m,)
    turns, start, end   (m, r), start and end with these turns, in counts
    """

    first: Ints
    solution: Ints
    turns: Ints
    start: Ints
    end: Ints


def choose(stretches: Sequence[Stretch], rotaries: Sequence[Rotary], start_deg: Sequence[float]) -> list[Choice] | Unfit:
    """The choice for each stretch with which all lie in the travels and the time of turning between them is least.

    start_deg  (r,) where the rotaries stand before the first
    returns    one choice a stretch; or the first stretch to which no choice of those before it leads: it fits in no state, or can be
               arrived at in none
    counted    the turning between stretches, from start_deg on; twice the overshoot where `one_side` arrives from the wrong side; and the
               way to where `at_end` leaves the rotaries. With `between` zero every operation begins in the turn around 0, or the nearest to
               it in the travel. A rotary without limits that goes back to zero neither between operations nor at the end turns the
               shorter way each time
    source     dynamic programming over the states, from the last stretch to the first; one rotary alone turns as it does without limits
               where that fits, for then it is best
    """
    if not stretches:
        return []
    if len(rotaries) == 1 and all(len(one.start_deg) == 1 for one in stretches):
        free = _without_limits(stretches, rotaries[0], start_deg[0])
        if free is not None:
            return free
    links = _Chain([standing(np.array([start_deg], dtype=np.float64), 0), *stretches], rotaries)
    states, first = links.states, links.states.first.tolist()
    home = links.home(states.end[first[-2] :])
    left = np.full(first[-1], np.inf, dtype=home.dtype)
    left[first[-2] :] = home
    for begin, ways in links.blocks(backwards=True):
        for index in range(begin + len(ways) - 1, begin - 1, -1):
            before, at, after = first[index - 1 : index + 2]
            if at < after:
                left[before:at] = (ways[index - begin, : at - before, : after - at] + left[at:after]).min(axis=1)
    if not np.isfinite(left[0]):
        if any(stretch.up is not None for stretch in stretches):
            return choose([replace(stretch, up=None) for stretch in stretches], rotaries, start_deg)
        return _unreached(links)
    chosen: list[Choice] = []
    state, stands = 0, states.end[0].tolist()
    for begin, ways in links.blocks():
        after, there = links.padded(np.arange(begin, begin + len(ways)), ways.shape[2])
        ways += np.where(there, left[after], np.inf)[:, None]
        best = ways == ways.min(axis=2, keepdims=True)
        several, least = (best.sum(axis=2) > 1).tolist(), best.argmax(axis=2).tolist()
        for row, index in enumerate(range(begin, begin + len(ways))):
            at = state - first[index - 1]
            found = np.flatnonzero(best[row, at]).tolist() if several[row][at] else [least[row][at]]
            places = [(links.arrival(index, state, first[index] + one, stands), first[index] + one) for one in found]
            start, state = min(places, key=lambda place: (*map(abs, place[0]), *(-angle for angle in place[0])))
            more = (np.array(start, dtype=np.int64) - states.start[state]) // TURN
            chosen.append(Choice(int(states.solution[state]), tuple((states.turns[state] + more).tolist())))
            stands = (states.end[state] + more * TURN).tolist()
    return chosen


def _without_limits(stretches: Sequence[Stretch], rotary: Rotary, start_deg: float) -> list[Choice] | None:
    """The choice for one rotary as if nothing ended its travel; None where that does not fit."""
    names = ("start_deg", "end_deg", "lowest_deg", "highest_deg")
    start, end, low, high = (counts_of(np.concatenate([getattr(one, name) for one in stretches])[:, 0]) for name in names)
    travel, fixed = usable(rotary), dict[int, int]()
    limits = window(low, high, travel) if travel.kind == "limited" else (np.full(len(start), -NEVER), np.full(len(start), NEVER))
    if rotary.unwinding.between == "zero":
        begins = np.flatnonzero(np.diff([one.operation for one in stretches], prepend=-1))
        around = np.clip(_around_zero(start), *limits)
        fixed = {index: int(around[index]) for index in begins.tolist()}
    links, moved = Links(travel, rotary.unwinding), Links(travel, Unwinding())
    each = [links if one.turned_to else moved for one in stretches]
    turns = without_limits(start.tolist(), end.tolist(), each, links, fixed, count(start_deg))
    whole = np.array(turns, dtype=np.int64)
    before = np.append(count(start_deg), end + whole * TURN)[:-1]
    too_far = (links.cost(before, start + whole * TURN) >= NEVER) & [one.turned_to for one in stretches]
    if (too_far | (whole < limits[0]) | (whole > limits[1])).any():
        return None
    return [Choice(0, one) for one in zip(turns, strict=True)]


def _unreached(links: _Chain) -> Unfit:
    """The first stretch to which no way leads from the start."""
    first, reached = links.states.first, np.ones(1, dtype=np.bool_)
    for begin, ways in links.blocks():
        for index, way in enumerate(ways, begin):
            states = int(first[index + 1] - first[index])
            reached = np.isfinite(way[: len(reached), :states][reached]).any(axis=0)
            if not reached.any():
                return Unfit(index - 1, overshoot=states > 0)
    raise AssertionError("some way leads to every stretch")


def sided(travel: Travel, prefer: str) -> Travel:
    """The travel of a rotary that may stand at one side only, by `prefer`: from 0 on to that side, half a turn at most."""
    if prefer == "either":
        return travel
    limited = travel.kind == "limited"
    lowest, highest = (max(travel.lowest, -180.0), min(travel.highest, 180.0)) if limited else (-180.0, 180.0)
    ends = {"lowest": 0.0} | {"highest": highest} if prefer == "positive" else {"lowest": lowest, "highest": 0.0}
    return travel.model_copy(update={"kind": "limited", **ends})


def usable(rotary: Rotary) -> Travel:
    """The travel of a rotary as far as it may be used."""
    return sided(rotary.travel, rotary.prefer)


def _states(stretches: Sequence[Stretch], rotaries: Sequence[Rotary], counted: Sequence[bool]) -> _States:
    """The states of each stretch: its solutions in all whole turns of each rotary that fit, or as many as are tried.

    stretches   the first is where the rotaries stand before all others
    counted     of each rotary whether its whole turns count; else it has one turn
    """
    names = ("start_deg", "end_deg", "lowest_deg", "highest_deg")
    start, end, low, high = (counts_of(np.concatenate([getattr(stretch, name) for stretch in stretches])) for name in names)
    solutions = np.array([len(stretch.start_deg) for stretch in stretches])
    rows, stretch = np.cumsum(solutions) - solutions, np.repeat(np.arange(len(stretches)), solutions)
    begins = np.diff([one.operation for one in stretches], prepend=0) != 0
    fewest, most = _around_zero(start), _around_zero(start)
    for at, (rotary, counts) in enumerate(zip(rotaries, counted, strict=True)):
        travel, zero, around = usable(rotary), rotary.unwinding.between == "zero", fewest[:, at].copy()
        if not counts:
            continue
        segments = np.append(0, np.flatnonzero(begins)) if zero else np.zeros(1, dtype=np.int64)
        each = start[rows, at], end[rows, at], around[rows]
        near, back = (turns[stretch] for turns in _shorter_turns(*each, segments, Links(travel, rotary.unwinding)))
        near += np.rint((start[rows, at][stretch] - start[:, at]) / TURN).astype(np.int64)
        if travel.kind == "limited":
            least, greatest = window(low[:, at], high[:, at], travel)
            near = np.clip(near, least + MOST_TURNS, np.maximum(greatest - MOST_TURNS, least + MOST_TURNS))
            fewest[:, at], most[:, at] = near - MOST_TURNS, np.minimum(near + MOST_TURNS, greatest)
            around = np.clip(around, least, np.maximum(least, greatest))
        else:
            fewest[:, at], most[:, at] = near + np.minimum(back, 0) - SLACK_TURNS, near + np.maximum(back, 0) + SLACK_TURNS
        if zero:
            fixed = begins[stretch] & (fewest[:, at] <= most[:, at])
            fewest[fixed, at] = most[fixed, at] = around[fixed]
    fewest[0] = most[0] = 0
    each_way = np.maximum(most - fewest + 1, 0)
    number = each_way.prod(axis=1)
    if any(one.up is not None for one in stretches):
        up = np.concatenate([np.zeros(len(one.start_deg), dtype=np.bool_) if one.up is None else one.up for one in stretches])
        number[up & (np.add.reduceat(np.where(up, 0, number), rows)[stretch] > 0)] = 0
    row = np.repeat(np.arange(len(number)), number)
    which = np.arange(len(row)) - np.repeat(np.cumsum(number) - number, number)
    turns = np.empty((len(row), len(rotaries)), dtype=np.int64)
    for at in range(len(rotaries)):
        which, step = np.divmod(which, each_way[row, at])
        turns[:, at] = fewest[row, at] + step
    first = np.append(0, np.cumsum(np.add.reduceat(number, rows)))
    return _States(first, row - rows[stretch[row]], turns, start[row] + turns * TURN, end[row] + turns * TURN)


def _shorter_turns(start: Ints, end: Ints, around: Ints, segments: Ints, links: Links) -> tuple[Ints, Ints]:
    """In which turn (n,) each stretch begins where all are come to the shorter way, and how many whole turns (n,) lead back to zero then.

    start, end   (n,) counts, in no particular turn
    around       (n,) the turn in which each begins around zero
    segments     the stretches that begin there, and the first one, which is what stands before all
    """
    near = np.append(0, np.cumsum(-np.rint((start[1:] - end[:-1]) / TURN).astype(np.int64)))
    lengths = np.diff(np.append(segments, len(start)))
    begin = np.where(segments > 0, around[segments], 0)
    near += np.repeat(begin - near[segments], lengths)
    ends = (end + near * TURN)[segments + lengths - 1]
    to = np.append((start[segments] + begin * TURN)[1:], 0 if links.ends_at_zero else ends[-1])
    back = np.clip(np.rint((to - ends) / TURN).astype(np.int64), -MOST_TURNS, MOST_TURNS)
    return near, np.repeat(back, lengths)


def _around_zero(start: Ints) -> Ints:
    """The whole turns with which an angle lies in the turn around 0: from -180 to 180, left out."""
    return -((start + TURN // 2) // TURN)


def counts_of(deg: Floats) -> Ints:
    """Angles in whole millionths of a degree."""
    return np.rint(deg * (TURN // 360)).astype(np.int64)


_ROUNDING = 1000
"""Counts by which angles that are the same may differ beside a pole."""


class _Chain:
    """The states of stretches on a chain of rotaries, and what the ways between them cost."""

    def __init__(self, stretches: Sequence[Stretch], rotaries: Sequence[Rotary]) -> None:
        fastest = max((rotary.fastest for rotary in rotaries), default=1.0)
        self.slower = [fastest / rotary.fastest for rotary in rotaries]
        self.links = [Links(usable(rotary), rotary.unwinding) for rotary in rotaries]
        self.moved = [Links(usable(rotary), Unwinding()) for rotary in rotaries]
        self.counted = [
            links.travel.kind == "limited" or links.ends_at_zero or rotary.unwinding.between == "zero"
            for links, rotary in zip(self.links, rotaries, strict=True)
        ]
        self.states = _states(stretches, rotaries, self.counted)
        self.turned_to = np.array([stretch.turned_to for stretch in stretches])
        self.past = {
            index: {solutions: counts_of(step_deg) for solutions, step_deg in stretch.past.items()}
            for index, stretch in enumerate(stretches)
            if stretch.past is not None
        }

    def blocks(self, *, backwards: bool = False) -> Iterator[tuple[int, Costs]]:
        """The ways (b, k, k) to each of b stretches, from all states of the one before: with the first of the b stretches, from 1."""
        sizes = np.diff(self.states.first)
        length = max(1, WAYS_AT_ONCE // int(sizes.max()) ** 2)
        begins = range(1, len(sizes), length)
        for begin in reversed(begins) if backwards else begins:
            index = np.arange(begin, min(begin + length, len(sizes)))
            most = int(sizes[begin - 1 : index[-1] + 1].max())
            (before, was), (after, there) = self.padded(index - 1, most), self.padded(index, most)
            ways = self._ways(self.states.end[before], self.states.start[after], self.turned_to[index])
            for row in np.flatnonzero(np.isin(index, list(self.past))).tolist() if self.past else ():
                ways[row] = self._past(before[row], after[row], self.past[begin + row])
            ways[~(was[:, :, None] & there[:, None, :])] = np.inf
            yield begin, ways

    def padded(self, index: Ints, most: int) -> tuple[Ints, Bools]:
        """The states (b, most) of b stretches, and which of them there are."""
        first, number = self.states.first[index, None], np.arange(most)
        there = first + number < self.states.first[index + 1, None]
        return np.where(there, first + number, 0), there

    def _ways(self, ends: Ints, starts: Ints, turned_to: Bools) -> Costs:
        """From each of the ends (b, k, r) to each start (b, k, r): (b, k, k); none where the overshoot leaves a travel."""
        costs = []
        for at, counts in enumerate(self.counted):
            before, after, (turned, moved) = ends[:, :, None, at], starts[:, None, :, at], (self.links[at], self.moved[at])
            cost = _cost(before, after, turned, counts=counts)
            if turned.past and not turned_to.all():
                cost = np.where(turned_to[:, None, None], cost, _cost(before, after, moved, counts=counts))
            costs.append(cost)
        return self._together(costs, (*ends.shape[:-1], starts.shape[-2]))

    def home(self, ends: Ints) -> Costs:
        """After the last stretch, from its ends (k, r): (k,)."""
        each = zip(self.links, ends.T, strict=True)
        return self._together(
            [np.array([links.end(end) for end in column.tolist()], dtype=np.float64) for links, column in each], len(ends)
        )

    def _together(self, costs: Sequence[Floats], shape: int | tuple[int, ...]) -> Costs:
        """What turning all rotaries costs: of one alone how far it turns is enough."""
        if len(costs) == 1:
            return costs[0]
        together = np.zeros(shape, dtype=np.complex128)
        for cost, slower in zip(costs, self.slower, strict=True):
            together.real, together.imag = np.maximum(together.real, np.rint(cost * slower)), together.imag + cost
        return together

    def _past(self, before: Ints, after: Ints, past: Mapping[tuple[int, int], Ints]) -> Complexes:
        """Beside a pole, from states (k,) before only to those (k,) that are come to there: (k, k)."""
        states, ways = self.states, np.full((len(before), len(after)), np.inf, dtype=np.complex128)
        for (one, other), step in past.items():
            off = states.start[after][None] - states.end[before][:, None] - step
            off = np.where(self.counted, off, (off + TURN // 2) % TURN - TURN // 2)
            there = (states.solution[before] == one)[:, None] & (states.solution[after] == other)[None]
            cost = complex(round(max(np.abs(step) * self.slower)), np.abs(step).sum())
            ways[there & (np.abs(off) <= _ROUNDING).all(axis=2)] = cost
        return ways

    def arrival(self, index: int, before: int, state: int, stands: Sequence[int]) -> tuple[int, ...]:
        """Where the rotaries arrive at the start of a state of a stretch, from where they stand; without limits in the nearest turn."""
        start = self.states.start[state].tolist()
        if index in self.past:
            step = self.past[index][int(self.states.solution[before]), int(self.states.solution[state])].tolist()
            each = zip(start, stands, step, strict=True)
            return tuple(to + round((now + on - to) / TURN) * TURN for to, now, on in each)
        links = self.links if self.turned_to[index] else self.moved
        each_one = zip(start, stands, self.counted, links, strict=True)
        return tuple(to if counts else now + shorter(to, now, own)[0] for to, now, counts, own in each_one)


def _cost(before: Ints, after: Ints, links: Links, *, counts: bool) -> Floats:
    """How far a rotary turns; where its whole turns do not count, the shorter way."""
    if counts:
        cost = links.cost(before, after).astype(np.float64)
        return np.where(cost >= NEVER, np.inf, cost) if links.past else cost
    up = (after - before) % TURN
    return np.where(up > 0, np.minimum(up + links.up, TURN - up + links.down), 0).astype(np.float64)
