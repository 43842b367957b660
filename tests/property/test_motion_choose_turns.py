"""The turns that are chosen against every choice there is: arriving from either side or from one, in any travel, to any end."""

from __future__ import annotations

from math import inf

from hypothesis import given, settings
from hypothesis import strategies as st

from chain_paths import Span, choose_turns
from steadyrest.motion.winding import Unfit
from steadyrest.profile.axes import Travel, Unwinding

angles = st.integers(-24, 24).map(lambda count: 30 * count)
ways = st.lists(st.tuples(angles, angles, st.booleans()), min_size=1, max_size=3)
limited = st.tuples(st.integers(-14, 0), st.integers(6, 15)).map(
    lambda ends: Travel.model_validate({"kind": "limited", "from": 30 * ends[0], "to": 30 * ends[1]})
)
travels = st.one_of(limited, limited, limited, st.sampled_from([Travel(), Travel(kind="rollover")]))
unwindings = st.tuples(
    st.sampled_from(["", "above", "below"]), st.sampled_from([5, 30, 150]), st.sampled_from(["stay", "zero", "nearest_turn"])
).map(
    lambda said: Unwinding.model_validate(
        {"at_end": said[2], **({"between": "one_side", "arrive_from": said[0], "overshoot": said[1]} if said[0] else {})}
    )
)


def turned(at: float, to: float, turned_to: bool, span: tuple[float, float], unwinding: Unwinding) -> float:
    """How far the rotary turns from one angle to another, counted plainly; infinite where going past leaves the travel, `span`."""
    from_above = unwinding.arrive_from == "above"
    if not turned_to or unwinding.between != "one_side" or to == at or (to > at) != from_above:
        return abs(to - at)
    past = to + unwinding.overshoot if from_above else to - unwinding.overshoot
    return abs(to - at) + 2 * unwinding.overshoot if span[0] <= past <= span[1] else inf


def turned_home(at: float, travel: Travel, span: tuple[float, float], unwinding: Unwinding) -> float:
    """How far it turns after the last."""
    if unwinding.at_end == "stay":
        return 0.0
    if unwinding.at_end == "zero" and travel.kind != "rollover":
        return abs(at)
    return min(abs(at - 360 * turn) for turn in range(-12, 13) if span[0] <= 360 * turn <= span[1])


@settings(deadline=None, max_examples=200)
@given(asked=ways, travel=travels, unwinding=unwindings, start_w=angles)
def test_no_other_turns_turn_less(asked: list[tuple[int, int, bool]], travel: Travel, unwinding: Unwinding, start_w: int) -> None:
    span = (travel.lowest, travel.highest) if travel.kind == "limited" else (-inf, inf)

    def least(allowed: list[list[int]]) -> float:
        best = {float(start_w): 0.0}
        for (start, end, turned_to), turns in zip(asked, allowed, strict=True):
            after: dict[float, float] = {}
            for turn in turns:
                to, last = start + 360.0 * turn, end + 360.0 * turn
                if span[0] <= min(to, last) and max(to, last) <= span[1]:
                    after[last] = min(cost + turned(at, to, turned_to, span, unwinding) for at, cost in best.items())
            best = after or {0.0: inf}
        return min(cost + turned_home(at, travel, span, unwinding) for at, cost in best.items())

    made = [Span(start, end, min(start, end), max(start, end), number, turned_to) for number, (start, end, turned_to) in enumerate(asked)]
    chosen = choose_turns(made, travel, unwinding, start_w)
    every = least([list(range(-15, 16))] * len(asked))
    assert every == (inf if isinstance(chosen, Unfit) else least([[turns] for turns in chosen]))
