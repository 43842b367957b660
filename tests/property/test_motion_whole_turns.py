"""Windings and turning back against every possibility, tried one by one."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from chain_paths import Span, choose_turns
from steadyrest.errors import PlanError
from steadyrest.motion.turn_back import Room, limit_points, turn_backs
from steadyrest.motion.winding import Unfit
from steadyrest.profile.axes import Travel, Unwinding

angles = st.one_of(st.integers(-12, 12).map(lambda k: k * 60.0), st.integers(-800, 800).map(float))


@st.composite
def spans(draw: st.DrawFn) -> list[Span]:
    found: list[Span] = []
    for number in range(1, draw(st.integers(1, 4)) + 1):
        inside = bool(found) and draw(st.booleans())
        start = draw(angles)
        end = start + draw(st.integers(-500, 500))
        low = min(start, end) - draw(st.sampled_from([0, 0, 20, 100]))
        high = max(start, end) + draw(st.sampled_from([0, 0, 20, 100]))
        operation = found[-1].operation if inside else number
        found.append(Span(start, end, low, high, operation, turned_to=not (inside and draw(st.booleans()))))
    return found


@st.composite
def unwindings(draw: st.DrawFn) -> Unwinding:
    settings: dict[str, Any] = {
        "between": draw(st.sampled_from(["shortest", "one_side", "zero"])),
        "overshoot": draw(st.sampled_from([1, 5, 90])),
    }
    settings |= {
        "arrive_from": draw(st.sampled_from(["below", "above"])),
        "at_end": draw(st.sampled_from(["stay", "nearest_turn", "zero"])),
    }
    return Unwinding.model_validate(settings)


travels = st.one_of(
    st.just(Travel()),
    st.just(Travel(kind="rollover")),
    st.tuples(st.integers(-800, 0), st.integers(200, 900)).map(
        lambda t: Travel.model_validate({"kind": "limited", "from": t[0], "to": t[1]})
    ),
)


def around_zero(span: Span, low: float, high: float) -> float:
    """Where it begins in the turn around zero, or in the nearest to that in which it lies in the travel."""
    fits = [k for k in range(-9, 10) if low <= span.lowest_w + 360 * k and span.highest_w + 360 * k <= high]
    wanted = -((span.start_w + 180) // 360)
    return min((span.start_w + 360 * k for k in fits), key=lambda w: abs(w - span.start_w - 360 * wanted), default=0.0)


def turning(found: list[Span], turns: tuple[int, ...], travel: Travel, unwinding: Unwinding, start_w: float) -> float | None:
    """The turning as the words of the profile say it; None where it leaves the travel."""
    low, high = (travel.lowest, travel.highest) if travel.kind == "limited" else (-np.inf, np.inf)
    at, total, last = start_w, 0.0, None
    for span, turn in zip(found, turns, strict=True):
        start = span.start_w + 360 * turn
        if unwinding.between == "zero" and span.operation != last and start != around_zero(span, low, high):
            return None
        last = span.operation
        if span.lowest_w + 360 * turn < low or span.highest_w + 360 * turn > high:
            return None
        total += abs(start - at)
        if unwinding.between == "one_side" and span.turned_to and start != at and (start < at) == (unwinding.arrive_from == "below"):
            past = start - unwinding.overshoot if start < at else start + unwinding.overshoot
            if not low <= past <= high:
                return None
            total += 2 * unwinding.overshoot
        at = span.end_w + 360 * turn
    if unwinding.at_end == "zero" and travel.kind != "rollover":
        total += abs(at)
    elif unwinding.at_end != "stay":
        total += min(abs(at - 360 * k) for k in range(-60, 61) if low <= 360 * k <= high)
    return total


@settings(max_examples=settings.default.max_examples, deadline=None)
@given(found=spans(), travel=travels, unwinding=unwindings(), start_w=angles)
def test_the_chosen_windings_turn_least_of_all_that_fit(found: list[Span], travel: Travel, unwinding: Unwinding, start_w: float) -> None:
    chosen = choose_turns(found, travel, unwinding, start_w)
    every = itertools.product(range(-7, 8), repeat=len(found)) if len(found) < 4 else itertools.product(range(-5, 6), repeat=4)
    costs = [cost for turns in every if (cost := turning(found, turns, travel, unwinding, start_w)) is not None]
    if isinstance(chosen, Unfit):
        assert not costs
    else:
        actual = turning(found, tuple(chosen), travel, unwinding, start_w)
        assert actual is not None
        assert actual <= min(costs, default=np.inf) + 1e-6


@given(found=spans(), travel=travels, start_w=angles)
def test_back_to_zero_takes_the_turn_nearest_to_zero(found: list[Span], travel: Travel, start_w: float) -> None:
    found = [replace(span, operation=number) for number, span in enumerate(found)]
    chosen = choose_turns(found, travel, Unwinding(between="zero"), start_w)
    low, high = (travel.lowest, travel.highest) if travel.kind == "limited" else (-np.inf, np.inf)
    fits = [[k for k in range(-9, 10) if low <= s.lowest_w + 360 * k and s.highest_w + 360 * k <= high] for s in found]
    if isinstance(chosen, Unfit):
        assert fits[chosen.index] == []
    else:
        for span, turn, possible in zip(found, chosen, fits, strict=True):
            assert turn in possible
            assert abs(span.start_w + 360 * turn) == min(abs(span.start_w + 360 * k) for k in possible)


def room(w: np.ndarray, low: float, high: float, least_deg: float = 0.0, **more: Any) -> Room:
    ends = {"travel": (low, high), "arriving": (low, high), "slack_deg": 1e-6}
    return Room(**{"w_deg": w, "up": np.zeros(len(w), dtype=bool), **ends, "least_deg": least_deg, **more})


walks = st.lists(st.integers(-170, 170), min_size=0, max_size=12).map(lambda steps: np.cumsum([0.0, *steps]))


def least_turn_backs(w: np.ndarray, low: float, high: float) -> int | None:
    """By trying every turn at every row: the fewest changes of turn, each where both turns fit the row before."""
    turns = range(-12, 13)
    fits = [[low <= value + 360 * k <= high for k in turns] for value in w]
    best = [0 if ok else np.inf for ok in fits[0]]
    for row in range(1, len(w)):
        change = min(best) + 1
        # a change before this row happens where the last one stood: the last row has to fit in the new turn too
        best = [min(stay, change if fits[row - 1][i] else np.inf) if fits[row][i] else np.inf for i, stay in enumerate(best)]
    return None if min(best) == np.inf else int(min(best))


@settings(max_examples=300)
@given(w=walks, low=st.integers(-700, 0), width=st.integers(200, 900))
def test_no_other_choice_needs_fewer_turn_backs(w: np.ndarray, low: int, width: int) -> None:
    high = max(0, low + width)
    fewest = least_turn_backs(w, low, high)
    try:
        found = turn_backs(room(w, low, high))
    except PlanError:
        assert fewest is None
        return
    assert fewest == sum(row > 0 for row, _ in found)
    total = np.zeros(len(w), dtype=int)
    for row, turns in found:
        total[row:] = turns
    assert all(low <= value + 360 * turn <= high for value, turn in zip(w, total, strict=True))
    for row, turns in found:
        if row:
            assert low <= w[row - 1] + 360 * turns <= high


def fewest_marks(w: np.ndarray, up: np.ndarray, low: float, high: float, room: tuple[float, float]) -> int | None:
    """By trying every turn at every row: the fewest changes of turn before a cut, each where the rotary can arrive."""
    turns = range(-12, 13)
    fits = [[low <= value + 360 * k <= high for k in turns] for value in w]
    arrives = [[room[0] <= value + 360 * k <= room[1] for k in turns] for value in w]
    best = [0 if ok and can else np.inf for ok, can in zip(fits[0], arrives[0], strict=True)]
    for row in range(1, len(w)):
        change = min(best) + (0 if up[row] else 1)
        best = [
            min(stay, change if fits[row - 1][i] and arrives[row - 1][i] else np.inf) if fits[row][i] else np.inf
            for i, stay in enumerate(best)
        ]
    return None if min(best) == np.inf else int(min(best))


def test_where_the_rotary_cannot_arrive_at_the_last_rapid_it_is_turned_back_at_one_before() -> None:
    """By hand: a turn up puts 44 at 404, where it may arrive, and 45 at 405, where it may only pass."""
    w, up = np.array([0.0, 47, 44, 45, 44, -1]), np.array([True, False, False, True, True, False])
    assert turn_backs(room(w, 0, 406, arriving=(0, 404), up=up)) == [(3, 1)]


@settings(max_examples=300)
@given(w=walks, data=st.data(), low=st.integers(-700, 0), width=st.integers(200, 900), overshoot=st.sampled_from([0, 2, 30]))
def test_turned_back_at_rapids_it_leaves_the_fewest_marks(w: np.ndarray, data: st.DataObject, low: int, width: int, overshoot: int) -> None:
    high = max(0, low + width)
    arriving = (low, high - overshoot)
    up = np.array([True, *data.draw(st.lists(st.booleans(), min_size=len(w) - 1, max_size=len(w) - 1))])
    try:
        found = turn_backs(room(w, low, high, arriving=arriving, up=up))
    except PlanError:
        return
    total = np.zeros(len(w), dtype=int)
    for row, turns in found:
        total[row:] = turns
        assert arriving[0] <= w[max(0, row - 1)] + 360 * turns <= arriving[1]
    assert all(low <= value + 360 * turn <= high for value, turn in zip(w, total, strict=True))
    assert fewest_marks(w, up, low, high, arriving) == sum(row > 0 and not up[row] for row, _ in found)


@settings(max_examples=300)
@given(
    w=st.lists(st.integers(-1500, 1500), min_size=1, max_size=6).map(lambda steps: np.cumsum([0.0, *steps])),
    low=st.integers(-700, 0),
    width=st.integers(360, 900),
    least_deg=st.sampled_from([0.0, 2.0]),
)
def test_with_points_at_its_ends_a_full_turn_of_travel_is_always_enough(w: np.ndarray, low: int, width: int, least_deg: float) -> None:
    high = max(0, low + width)
    rows, fractions = limit_points(room(w, low, high, least_deg))
    assert ((fractions > 0) & (fractions < 1)).all()
    column = np.insert(w, rows, w[rows - 1] + fractions * (w[rows] - w[rows - 1]))
    total = np.zeros(len(column), dtype=int)
    for row, turns in turn_backs(room(column, low, high, least_deg)):
        total[row:] = turns
    wound = column + 360.0 * total
    assert (wound >= low - 1e-5).all()
    assert (wound <= high + 1e-5).all()
