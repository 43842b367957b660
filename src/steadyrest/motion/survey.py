"""The look ahead: which angles every operation needs, so that the whole turns can be chosen for all of them together."""

from __future__ import annotations

from math import ceil, floor

import numpy as np

from steadyrest.errors import PlanError
from steadyrest.motion.axis_positions import hole_point, simultaneous_positions, wrapped_positions
from steadyrest.motion.links import arriving_travel
from steadyrest.motion.model import STILL_DEG, unknown
from steadyrest.motion.setup import Setup
from steadyrest.motion.stretches import Met
from steadyrest.motion.winding import Span, Unfit, choose_turns
from steadyrest.toolpath import MoveColumns
from steadyrest.toolpath.columns import Hole


def needs_survey(setup: Setup) -> bool:
    """Whether what comes later bears on the whole turns of what comes before: with a limited travel, or a way back to zero.

    Otherwise each link is least by itself and so is their sum.
    """
    rotary = setup.rotary
    return rotary is not None and (rotary.travel.kind == "limited" or "zero" in (rotary.unwinding.at_end, rotary.unwinding.between))


def surveyed(setup: Setup, start_w_deg: float) -> tuple[list[list[int]], set[int]]:
    """Whole turns for every operation, one for each angle it stands at, or each stretch where it turns while cutting.

    An operation of which a stretch fits into no winding is one in all: it is turned back on the way.

    returns   the turns by operation, and the numbers of operations that fit into no winding and have to be turned back
    raises    PlanError where an operation needs more than the travel and the profile says to refuse it
    """
    assert setup.rotary is not None
    rotary = setup.rotary
    spans: list[Span] = []
    in_one: dict[int, Span] = {}
    for number in range(1, len(setup.toolpath.operations) + 1):
        stretches, one = operation_spans(number, setup)
        spans += stretches
        if one is not None and len(stretches) > 1:
            in_one[number] = one
    turns: list[list[int]] = [[] for _ in setup.toolpath.operations]
    unfit: set[int] = set()
    done = 0
    while done < len(spans):
        chosen = choose_turns(spans[done:], rotary.travel, rotary.unwinding, start_w_deg)
        if not isinstance(chosen, Unfit):
            for span, turn in zip(spans[done:], chosen, strict=True):
                turns[span.operation - 1].append(turn)
            break
        # What comes before the one that does not fit is chosen by itself, and what follows from where its turning back leaves it.
        before = spans[done : done + chosen.index]
        first = choose_turns(before, rotary.travel, rotary.unwinding, start_w_deg) if before else []
        while isinstance(first, Unfit):
            chosen, before = first, before[: first.index]
            first = choose_turns(before, rotary.travel, rotary.unwinding, start_w_deg) if before else []
        number = spans[done + chosen.index].operation
        if number in in_one:  # no stretch of it is too wide: it cannot arrive at one of them, and is turned back instead
            first_of = next(at for at in range(done, len(spans)) if spans[at].operation == number)
            last_of = next((at for at in range(first_of, len(spans)) if spans[at].operation != number), len(spans))
            spans[first_of:last_of] = [in_one.pop(number)]
            continue
        for span, turn in zip(before, first, strict=True):
            turns[span.operation - 1].append(turn)
        wide = spans[done + chosen.index]
        turns[wide.operation - 1].append(_first_turn(wide, chosen, setup))
        unfit.add(wide.operation)
        start_w_deg = _within(wide.end_w, setup)
        done += chosen.index + 1
    return turns, unfit


def _within(w_deg: float, setup: Setup) -> float:
    """The same angle in the turn nearest to the end of the travel that it lies beyond."""
    assert setup.rotary is not None
    travel = setup.rotary.travel
    if w_deg > travel.highest:
        return w_deg - 360.0 * float(np.ceil((w_deg - travel.highest) / 360.0))
    if w_deg < travel.lowest:
        return w_deg + 360.0 * float(np.ceil((travel.lowest - w_deg) / 360.0))
    return w_deg


def _first_turn(span: Span, unfit: Unfit, setup: Setup) -> int:
    """Where an operation that does not fit begins: with the most room in the direction in which it goes on.

    raises    PlanError where turning back on the way is no cure, or not wanted
    """
    assert setup.rotary is not None
    travel = setup.rotary.travel
    still = span.highest_w - span.lowest_w < STILL_DEG
    low, high = arriving_travel(setup.rotary)
    if unfit.reason == "overshoot" and (still or travel.when_exceeded == "refuse"):
        raise PlanError(
            f"the rotary cannot arrive at {span.start_w:.3f} degrees from {setup.rotary.unwinding.arrive_from}: "
            f"its travel from {travel.lowest:g} to {travel.highest:g} leaves no room to overshoot",
            place=setup.place(span.operation),
            cure="make rotary unwinding.overshoot smaller, or set unwinding.between to shortest",
        )
    if travel.when_exceeded == "refuse" or still:
        raise PlanError(
            f"the operation needs the rotary from {span.lowest_w:.3f} to {span.highest_w:.3f} degrees, {unfit.needs_deg:.3f} in all; "
            f"the travel of {setup.letter} is {travel.lowest:g} to {travel.highest:g}: it fits in no whole turn",
            place=setup.place(span.operation),
            cure="use other angles" if still else "split the operation, or set rotary travel.when_exceeded to turn_back",
        )
    if span.end_w >= span.start_w:
        return int(np.ceil((low - span.start_w) / 360.0))
    return int(np.floor((high - span.start_w) / 360.0))


def operation_spans(number: int, setup: Setup) -> tuple[list[Span], Span | None]:
    """The angles W that an operation needs, before whole turns are added: in stretches; and in one, if it turns while cutting."""
    operation = setup.operation(number)
    rotary = operation.rotary
    if rotary.intent == "still":
        return [Span(0.0, 0.0, 0.0, 0.0, number)], None
    if rotary.intent == "indexed":
        return [Span(w, w, w, w, number) for w in (-setup.sigma * angle for angle in rotary.angles)], None
    met = Met(number)
    stand = unknown(1)
    for item in operation.stream():
        if isinstance(item, MoveColumns):
            lower = wrapped_positions if rotary.intent == "wrapped" else simultaneous_positions
            before_deg = setup.sigma * stand.phi_deg
            rows, stand, _, _ = lower(item, stand, number, setup)
            met.rows(rows, before_deg)
        elif isinstance(item, Hole):
            _, hole_w, stand = hole_point(item, stand, number, setup)
            met.hole(hole_w)
    assert setup.rotary is not None
    return met.stretches(setup.rotary.travel), met.one


def nearest_turn(w_deg: float, stand_w_deg: float, setup: Setup) -> int:
    """Whole turns to be added to w_deg so that the rotary turns least from where it stands; where two are as good, to the smaller angle.

    Arriving from one side counts the overshoot, twice.
    """
    assert setup.rotary is not None
    unwinding = setup.rotary.unwinding
    past = 2.0 * unwinding.overshoot if unwinding.between == "one_side" else 0.0
    low, high = floor((stand_w_deg - w_deg) / 360.0 + 1e-12), ceil((stand_w_deg - w_deg) / 360.0 - 1e-12)
    if low == high:
        return low
    up = w_deg + 360.0 * high - stand_w_deg + (past if unwinding.arrive_from == "above" else 0.0)
    down = stand_w_deg - w_deg - 360.0 * low + (past if unwinding.arrive_from == "below" else 0.0)
    if abs(up - down) < 1e-6:
        return high if abs(w_deg + 360.0 * high) <= abs(w_deg + 360.0 * low) + 1e-6 else low
    return high if up < down else low
