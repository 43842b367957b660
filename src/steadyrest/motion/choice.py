"""Which solution does each stretch take, and in which whole turns, so that the rotaries of a chain turn for the least time between them?

A tool axis has two solutions on a chain of two rotaries. Inside a stretch each is continuous; between two stretches the tool is clear, and
either may be taken, in any whole turns that fit the travels. A state of a stretch is a solution and the whole turns of each rotary; what a
link costs is the time of its slowest rotary, and of links that take as long the turning of all of them together decides. Of choices as
good in both the first stretch decides, then the next: the smaller absolute angles at its start, then the positive ones (as `winding`,
which answers the same for one rotary).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.motion.winding import NEVER, TURN, Links, Unfit, count, nearest_turn_of, shorter
from steadyrest.profile import Rotary, Travel, Unwinding

FEW_STATES, BATCH = 64, 4096
"""Links between so few states, one times the other, are worked out so many at once."""
MOST_TURNS = 20
"""So many whole turns from zero to either side are tried within a wider travel, or the nearest to them that fit."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """What is done without a rapid between, in each of its solutions; angles in degrees of the rotaries' words, unwound.

    start_deg, end_deg       (s, r) where the r rotaries stand at its start and its end, in no particular turn
    lowest_deg, highest_deg  (s, r) the least and the most of each on the way
    operation                number of the operation, from 1
    turned_to                it is come to by a turn of its own, from the side that is asked for; else by a rapid of the toolpath
    past                     of one that goes on beside a pole, within the cut: by (solution before, solution) how far each rotary then
                             turns, (r,) degrees; what is not there cannot follow. None: any state may follow any other
    """

    start_deg: Floats
    end_deg: Floats
    lowest_deg: Floats
    highest_deg: Floats
    operation: int
    turned_to: bool = True
    past: Mapping[tuple[int, int], Floats] | None = None


def standing(w_deg: Floats, operation: int) -> Stretch:
    """A stretch in which the rotaries stand, at w_deg (s, r)."""
    return Stretch(w_deg, w_deg, w_deg, w_deg, operation)


class Choice(NamedTuple):
    """The solution of a stretch, and the whole turns of each rotary to be added to its angles."""

    solution: int
    turns: tuple[int, ...]


class _States(NamedTuple):
    """The states of a stretch: solution (k,), turns (k, r), and start and end (k, r) with these turns, in counts."""

    solution: Ints
    turns: Ints
    start: Ints
    end: Ints


def choose(stretches: Sequence[Stretch], rotaries: Sequence[Rotary], start_deg: Sequence[float]) -> list[Choice] | Unfit:
    """The choice for each stretch with which all lie in the travels and the time of turning between them is least.

    start_deg  (r,) where the rotaries stand before the first
    returns    one choice a stretch; or the first stretch that fits in no state, or can be arrived at in none
    counted    the turning between stretches, from start_deg on; twice the overshoot where `one_side` arrives from the wrong side; and the
               way to where `at_end` leaves the rotaries. With `between` zero every operation begins in the turn around 0, or the nearest to
               it in the travel. A rotary without limits else turns the shorter way each time, and its whole turns are not counted: neither
               those that `between` zero takes back nor those that `at_end` zero does
    source     dynamic programming over the states, from the last stretch to the first
    """
    links = [_Chain(rotaries, turned_to) for turned_to in (False, True)]
    each = _states(stretches, rotaries)
    empty = next((index for index, states in enumerate(each) if not len(states.solution)), None)
    if empty is not None:
        return Unfit(empty)
    if not each:
        return []
    known = _ways_between(stretches, each, links)
    left = [links[True].end(each[-1].end)]
    for index in range(len(each) - 1, 0, -1):
        ways = known.get(index) or links[stretches[index].turned_to].between(each[index - 1], each[index], stretches[index].past)
        left.append(_least(ways, left[-1]))
        if left[-1][0].min() >= NEVER:
            return Unfit(index, overshoot=True)
    at = np.array([count(angle) for angle in start_deg], dtype=np.int64)
    before = _States(np.zeros(1, dtype=np.int64), np.zeros((1, len(at)), dtype=np.int64), at[None], at[None])
    chosen: list[Choice] = []
    state = 0
    for index, (stretch, states, rest) in enumerate(zip(stretches, each, reversed(left), strict=True)):
        link = links[stretch.turned_to]
        if index in known:  # what a rotary without limits has turned on makes no way another
            ways = known[index][0][state : state + 1], known[index][1][state : state + 1]
        else:
            ways = link.between(before, states, stretch.past)
        time, turning = (np.where(way[0] >= NEVER, NEVER, way[0] + after) for way, after in zip(ways, rest, strict=True))
        if time.min() >= NEVER:
            return Unfit(index, overshoot=True)
        least = np.flatnonzero(time == time.min())
        least = least[turning[least] == turning[least].min()]
        begins = not index or stretch.operation != stretches[index - 1].operation
        places = [(link.resolved(before, states, state, stretch.past, begins=begins), state) for state in least.tolist()]
        start, state = min(places, key=lambda found: (*map(abs, found[0]), *(-angle for angle in found[0])))
        more = (np.array(start) - states.start[state]) // TURN
        chosen.append(Choice(int(states.solution[state]), tuple((states.turns[state] + more).tolist())))
        end = (states.end[state] + more * TURN)[None]
        before = _States(states.solution[state : state + 1], states.turns[state : state + 1] + more, end, end)
    return chosen


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


def _states(stretches: Sequence[Stretch], rotaries: Sequence[Rotary]) -> list[_States]:
    """The states of each stretch: its solutions in all whole turns of each rotary that fit; of one without limits in one turn."""
    if not stretches:
        return []
    travels, from_zero = [usable(rotary) for rotary in rotaries], [rotary.unwinding.between == "zero" for rotary in rotaries]
    operation = np.array([stretch.operation for stretch in stretches])
    solutions = np.array([len(stretch.start_deg) for stretch in stretches])
    begins = np.repeat(np.diff(operation, prepend=0) != 0, solutions)
    names = ("start_deg", "end_deg", "lowest_deg", "highest_deg")
    start, end, low, high = (_counts(np.concatenate([getattr(stretch, name) for stretch in stretches])) for name in names)
    around = -((start + TURN // 2) // TURN)  # it then starts in [-180, 180)
    first, last = around.copy(), around.copy()
    for at, travel in enumerate(travels):
        if travel.kind == "limited":
            fewest, most = -((low[:, at] - count(travel.lowest)) // TURN), (count(travel.highest) - high[:, at]) // TURN
            first[:, at] = np.minimum(np.maximum(around[:, at] - MOST_TURNS, fewest), most)
            last[:, at] = np.minimum(np.maximum(around[:, at] + MOST_TURNS, fewest), most)
            first[fewest > most, at], last[fewest > most, at] = 1, 0
        zero = begins & from_zero[at] & (first[:, at] <= last[:, at])
        nearest = np.minimum(np.maximum(around[:, at], first[:, at]), last[:, at])
        first[zero, at] = last[zero, at] = nearest[zero]
    each, row = [], 0
    windows = np.stack([first, last + 1], axis=2).tolist()
    for number in solutions.tolist():
        found = [(one, turns) for one in range(number) for turns in product(*(range(*window) for window in windows[row + one]))]
        which = np.array([one for one, _ in found], dtype=np.int64)
        whole = np.array([turns for _, turns in found], dtype=np.int64).reshape(len(found), len(rotaries))
        each.append(_States(which, whole, start[row + which] + whole * TURN, end[row + which] + whole * TURN))
        row += number
    return each


def _counts(deg: Floats) -> Ints:
    return np.rint(deg * (TURN // 360)).astype(np.int64)


def _ways_between(stretches: Sequence[Stretch], each: Sequence[_States], links: Sequence[_Chain]) -> dict[int, Ways]:
    """The ways to stretches, by their index, from all states before them: of the links between few states, many of them at once."""
    alike: defaultdict[tuple[int, int, bool], list[int]] = defaultdict(list)
    for index in range(1, len(each)):
        sizes = len(each[index - 1].solution), len(each[index].solution)
        if stretches[index].past is None and sizes[0] * sizes[1] <= FEW_STATES:
            alike[(*sizes, stretches[index].turned_to)].append(index)
    known: dict[int, Ways] = {}
    for (_, _, turned_to), of_one in alike.items():
        for block in (of_one[at : at + BATCH] for at in range(0, len(of_one), BATCH)):
            ends, starts = np.stack([each[index - 1].end for index in block]), np.stack([each[index].start for index in block])
            known |= dict(zip(block, zip(*links[turned_to].ways(ends, starts), strict=True), strict=True))
    return known


_ROUNDING = 1000
"""Counts by which angles that are the same may differ beside a pole."""
Ways = tuple[Ints, Ints]
"""Of links: the time of the slowest rotary, in counts of the fastest one, and the turning of all together, in counts."""


class _Chain:
    """What the ways of all rotaries between two stretches cost."""

    def __init__(self, rotaries: Sequence[Rotary], turned_to: bool) -> None:
        fastest = max((rotary.fastest for rotary in rotaries), default=1.0)
        self.slower = [fastest / rotary.fastest for rotary in rotaries]
        self.links = [Links(usable(rotary), rotary.unwinding if turned_to else Unwinding()) for rotary in rotaries]
        self.ends = [Links(usable(rotary), rotary.unwinding) for rotary in rotaries]
        self.from_zero = [rotary.unwinding.between == "zero" for rotary in rotaries]

    def ways(self, ends: Ints, starts: Ints) -> Ways:
        """From each of the ends (..., m, r) to each start (..., k, r): (..., m, k) each; never where the overshoot leaves a travel."""
        time = turning = np.zeros((*ends.shape[:-1], starts.shape[-2]), dtype=np.int64)
        for at, (links, slower) in enumerate(zip(self.links, self.slower, strict=True)):
            before, after = ends[..., :, None, at], starts[..., None, :, at]
            if links.travel.kind == "limited":
                cost = links.cost(before, after)
            else:
                up = (after - before) % TURN
                cost = np.where(up > 0, np.minimum(up + links.up, TURN - up + links.down), 0)
            never = (cost >= NEVER) | (turning >= NEVER)
            time = np.where(never, NEVER, np.maximum(time, np.rint(np.where(never, 0, cost) * slower).astype(np.int64)))
            turning = np.where(never, NEVER, turning + cost)
        return time, turning

    def end(self, ends: Ints) -> Ways:
        """After the last stretch, from its ends (k, r): (k,) each."""
        time = turning = np.zeros(len(ends), dtype=np.int64)
        for at, (links, slower) in enumerate(zip(self.ends, self.slower, strict=True)):
            ways = np.array([_home(int(end), links) for end in ends[:, at]], dtype=np.int64)
            time, turning = np.maximum(time, np.rint(ways * slower).astype(np.int64)), turning + ways
        return time, turning

    def between(self, before: _States, after: _States, past: Mapping[tuple[int, int], Floats] | None) -> Ways:
        """From each state to each of the next stretch; beside a pole from a state only to those that are come to there."""
        if past is None:
            return self.ways(before.end, after.start)
        time = np.full((len(before.solution), len(after.solution)), NEVER, dtype=np.int64)
        turning = time.copy()
        unlimited = np.array([links.travel.kind != "limited" for links in self.links])
        for (one, other), step_deg in past.items():
            step = _counts(step_deg[None])[0]
            off = after.start[None] - before.end[:, None] - step
            off = np.where(unlimited, (off + TURN // 2) % TURN - TURN // 2, off)
            there = (before.solution == one)[:, None] & (after.solution == other)[None] & (np.abs(off) <= _ROUNDING).all(axis=2)
            time[there] = round(max(np.abs(step) * self.slower))
            turning[there] = np.abs(step).sum()
        return time, turning

    def resolved(
        self, before: _States, states: _States, state: int, past: Mapping[tuple[int, int], Floats] | None, *, begins: bool
    ) -> tuple[int, ...]:
        """Where the rotaries arrive at the start of a state, those without limits in the turn that is nearest to where they stand.

        begins   an operation begins there, for which a rotary may go back to its turn around 0
        """
        out, at, start = [], before.end[0], states.start[state]
        if past is not None:
            there = at + _counts(past[int(before.solution[0]), int(states.solution[state])][None])[0]
            return tuple((start + np.rint((there - start) / TURN).astype(np.int64) * TURN).tolist())
        for links, zero, now, to in zip(self.links, self.from_zero, at.tolist(), start.tolist(), strict=True):
            out.append(to if links.travel.kind == "limited" or (zero and begins) else now + shorter(to, now, links)[0])
        return tuple(out)


def _home(end: int, links: Links) -> int:
    """How far a rotary turns after the last stretch; without limits to the nearest whole turn at least."""
    if not (links.ends_at_zero or links.ends_at_turn):
        return 0
    if links.ends_at_zero and links.travel.kind == "limited":
        return abs(end)
    return abs(end - nearest_turn_of(end, links.travel))


def _least(ways: Ways, left: Ways) -> Ways:
    """From each end the least of a way and what is left after it: first by the time, then by the turning."""
    never = ways[0] >= NEVER
    time = np.where(never | (left[0] >= NEVER), NEVER, ways[0] + left[0])
    least = time.min(axis=1)
    turning = np.where(time == least[:, None], ways[1] + left[1], NEVER)
    return least, np.where(least >= NEVER, NEVER, turning.min(axis=1))
