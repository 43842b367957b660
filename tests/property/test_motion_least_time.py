"""The solutions and turns that are chosen for two rotaries against every choice there is, counted plainly."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import inf
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from steadyrest.motion.choice import Choice, Stretch, choose
from steadyrest.motion.winding import Unfit
from steadyrest.profile.axes import Rotary

angles = st.integers(-13, 13).map(lambda number: 30.0 * number)
pairs = st.tuples(angles, angles)
solution = st.tuples(pairs, st.one_of(st.none(), pairs))
stretches = st.lists(st.tuples(st.lists(solution, min_size=1, max_size=2), st.booleans()), min_size=1, max_size=3)
ends = st.tuples(st.integers(-14, 0), st.integers(1, 14)).map(lambda two: {"kind": "limited", "from": 30 * two[0], "to": 30 * two[1]})
one_side = st.sampled_from(["", "above", "below"])
endless = st.sampled_from([{"kind": "unlimited"}, {"kind": "rollover"}])
homes, speeds = st.sampled_from(["stay", "zero", "nearest_turn"]), st.sampled_from([1800, 3600, 4500])
rotary_facts = st.tuples(ends, one_side, homes, speeds)
any_facts = st.tuples(st.one_of(ends, endless), one_side, homes, speeds)
TURNS = range(-3, 4)


def rotary(facts: tuple[dict[str, Any], str, str, int], letter: str = "X") -> Rotary:
    travel, side, at_end, fastest = facts
    unwinding = {"at_end": at_end} | ({"between": "one_side", "arrive_from": side, "overshoot": 30} if side else {})
    mounted = {"along": letter, "chuck_faces": f"+{letter}", "positive_turns_chuck": "clockwise"}
    return Rotary.model_validate(mounted | {"travel": travel, "unwinding": unwinding, "fastest": fastest})


def span(rotary: Rotary) -> tuple[float, float]:
    return (rotary.travel.lowest, rotary.travel.highest) if rotary.travel.kind == "limited" else (-inf, inf)


def fits(angle: float, rotary: Rotary) -> bool:
    return span(rotary)[0] <= angle <= span(rotary)[1]


def turns_of(rotary: Rotary) -> range:
    """Whole turns among which the best one is: without limits so many are not come to in three stretches."""
    return TURNS if rotary.travel.kind == "limited" else range(-6, 7)


def way(at: float, to: float, turned_to: bool, rotary: Rotary) -> float:
    """How far a rotary turns from one angle to another; infinite where it would have to go past its travel to arrive."""
    unwinding = rotary.unwinding
    from_above = unwinding.arrive_from == "above"
    if not turned_to or unwinding.between != "one_side" or to == at or (to > at) != from_above:
        return abs(to - at)
    past = to + (unwinding.overshoot if from_above else -unwinding.overshoot)
    return abs(to - at) + 2 * unwinding.overshoot if fits(past, rotary) else inf


def home(at: float, rotary: Rotary) -> float:
    if rotary.unwinding.at_end == "zero" and rotary.travel.kind != "rollover":
        return abs(at)
    turns = [360 * turn for turn in range(-9, 10) if fits(360 * turn, rotary)]
    return min(abs(at - turn) for turn in turns) if rotary.unwinding.at_end != "stay" else 0.0


def link(ways: list[float], rotaries: list[Rotary]) -> tuple[float, float]:
    """The time of the slowest rotary, in whole numbers, and degrees of all."""
    return max(each * (18000 // one.fastest) for each, one in zip(ways, rotaries, strict=True)), sum(ways)


def added(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    return one[0] + other[0], one[1] + other[1]


def cost(asked: list[Any], choices: list[Choice], rotaries: list[Rotary], start: tuple[float, float]) -> tuple[float, float]:
    total, at = (0.0, 0.0), start
    for (solutions, turned_to), choice in zip(asked, choices, strict=True):
        begin, end = solutions[choice.solution]
        to, last = (tuple(angle + 360 * turn for angle, turn in zip(place, choice.turns, strict=True)) for place in (begin, end or begin))
        inside = all(fits(*each) for place in (to, last) for each in zip(place, rotaries, strict=True))
        total = added(
            total, link([way(*each) if inside else inf for each in zip(at, to, [turned_to] * 2, rotaries, strict=True)], rotaries)
        )
        at = last
    return added(total, link([home(*each) for each in zip(at, rotaries, strict=True)], rotaries))


@settings(deadline=None, max_examples=150)
@given(asked=stretches, facts=st.tuples(any_facts, rotary_facts), start=pairs)
def test_no_other_solutions_and_turns_take_less_time(asked: list[Any], facts: tuple[Any, Any], start: tuple[float, float]) -> None:
    rotaries = [rotary(each) for each in facts]
    made = []
    for number, (solutions, turned_to) in enumerate(asked, 1):
        begin, end = np.array([one[0] for one in solutions]), np.array([one[1] or one[0] for one in solutions])
        made.append(Stretch(begin, end, np.minimum(begin, end), np.maximum(begin, end), number, turned_to))
    chosen = choose(made, rotaries, start)
    reached: dict[tuple[float, ...], tuple[float, float]] = {tuple(start): (0.0, 0.0)}
    for solutions, turned_to in asked:
        after: dict[tuple[float, ...], tuple[float, float]] = {}
        for (begin, end), turns in product(solutions, product(*map(turns_of, rotaries))):
            to, last = (tuple(angle + 360 * turn for angle, turn in zip(place, turns, strict=True)) for place in (begin, end or begin))
            if all(fits(*each) for place in (to, last) for each in zip(place, rotaries, strict=True)):
                for at, before in reached.items():
                    ways = [way(*each) for each in zip(at, to, [turned_to] * 2, rotaries, strict=True)]
                    after[last] = min(after.get(last, (inf, inf)), added(before, link(ways, rotaries)))
        reached = after
    homes = (added(total, link([home(*each) for each in zip(at, rotaries, strict=True)], rotaries)) for at, total in reached.items())
    every = min(homes, default=(inf, inf))
    if isinstance(chosen, Unfit):
        assert every[0] == inf
    else:
        assert cost(asked, chosen, rotaries, start) == every


pole = st.dictionaries(st.tuples(st.integers(0, 1), st.integers(0, 1)), st.tuples(st.integers(-1, 1), st.integers(-1, 1)), max_size=4)
cuts = st.lists(st.tuples(st.tuples(pairs, pairs), st.tuples(pairs, pairs), st.one_of(st.none(), pole)), min_size=2, max_size=2)


@settings(deadline=None, max_examples=60)
@given(asked=cuts, facts=st.tuples(*[st.tuples(ends, st.sampled_from([1800, 3600]))] * 2), start=pairs)
def test_past_a_pole_only_what_is_come_to_there_follows_and_nothing_takes_less_time(asked: list[Any], facts: Any, start: Any) -> None:
    """By which whole turns the rotaries come to each solution past a pole is given; every choice there is is tried."""
    rotaries = [rotary((travel, "", "stay", fastest)) for travel, fastest in facts]
    made: list[Stretch] = []
    for begin, end, turns in asked:
        begins, ends_ = np.array(begin), np.array(end)
        past = None
        if turns is not None and made:
            past = {(one, other): begins[other] + 360.0 * np.array(more) - made[-1].end_deg[one] for (one, other), more in turns.items()}
        made.append(Stretch(begins, ends_, np.minimum(begins, ends_), np.maximum(begins, ends_), 1, past=past))

    def within(stretch: Stretch, choice: Choice) -> bool:
        sides = stretch.lowest_deg[choice.solution], stretch.highest_deg[choice.solution]
        return all(fits(*each) for side in sides for each in zip(side + 360.0 * np.array(choice.turns), rotaries, strict=True))

    def taken(choices: Sequence[Choice]) -> float:
        total, at, before = 0.0, np.array(start), 0
        for stretch, choice in zip(made, choices, strict=True):
            more = 360.0 * np.array(choice.turns)
            to = stretch.start_deg[choice.solution] + more
            if stretch.past is not None:
                step = stretch.past.get((before, choice.solution))
                if step is None or np.abs(at + step - to).max() > 1e-6:
                    return inf
            total += max(abs(way) * (18000 // one.fastest) for way, one in zip(to - at, rotaries, strict=True))
            at, before = stretch.end_deg[choice.solution] + more, choice.solution
        return total

    states = [Choice(solution, turns) for solution in (0, 1) for turns in product(TURNS, TURNS)]
    fitting = [[choice for choice in states if within(stretch, choice)] for stretch in made]
    every = min((taken(choices) for choices in product(*fitting)), default=inf)
    chosen = choose(made, rotaries, start)
    assert (taken(chosen) if isinstance(chosen, list) else inf) == every
