"""The look ahead on a chain of two rotaries: every stretch of all operations, and the solution and turns chosen for them together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import PlanError
from steadyrest.motion.around import arounds, goes_round
from steadyrest.motion.axis_positions import around_holes, around_positions
from steadyrest.motion.chain import BOTH, tool_axis
from steadyrest.motion.chain_planes import LEVEL, said_angles
from steadyrest.motion.chain_runs import stretches_of
from steadyrest.motion.choice import Choice, Stretch, choose, standing, usable
from steadyrest.motion.model import spot, unknown
from steadyrest.motion.planes import lyings
from steadyrest.motion.setup import Setup
from steadyrest.motion.winding import Unfit
from steadyrest.progress import TURNS, Work
from steadyrest.toolpath import Holes, MoveColumns


def surveyed_chain(setup: Setup, start_deg: Sequence[float]) -> Mapping[int, list[Choice]]:
    """The choice for every stretch, by the number of its operation.

    start_deg  (r,) where the rotaries stand before the first; NaN, which is not known, counts as 0
    raises     PlanError where a stretch fits in no solution and no turn
    """
    stretches: list[Stretch] = []
    moves: list[int] = []
    work = Work(setup.work.progress, TURNS, sum(one.moves_there for one in setup.toolpath.operations))
    for number, operation in enumerate(setup.toolpath.operations, 1):
        before = work.done
        here, at = _stretches(number, setup, work)
        stretches += here
        moves += at
        work.to(before + operation.moves_there)
    stretches = _pointing_up(stretches, setup)
    chosen = choose(stretches, tuple(setup.rotaries.values()), np.nan_to_num(np.array(start_deg)).tolist())
    if isinstance(chosen, Unfit):
        raise _fits_nowhere(stretches[chosen.index], moves[chosen.index], overshoot=chosen.overshoot, setup=setup)
    by_operation: defaultdict[int, list[Choice]] = defaultdict(list)
    for stretch, choice in zip(stretches, chosen, strict=True):
        by_operation[stretch.operation].append(choice)
    return by_operation


def _pointing_up(stretches: list[Stretch], setup: Setup) -> list[Stretch]:
    """The stretches with the solutions marked in which the tool points up: it cannot leave a cut so, for up leads into the part.

    Solutions differ in that only where one rotary carries the part and the other one the tool. Where the tool goes down on one side it
    comes up on the other, so that the least and the most of the head's angle decide.
    """
    lines = setup.lines
    if not stretches or len(lines) != BOTH or not lines[0].carries_part or lines[1].carries_part:
        return stretches
    up = np.zeros(sum(len(one.start_deg) for one in stretches), dtype=np.bool_)
    for ends in ([one.lowest_deg for one in stretches], [one.highest_deg for one in stretches]):
        up |= tool_axis(np.radians(np.vstack(ends)[:, 1:] * lines[1].sign), lines[1:])[:, 2] < LEVEL
    each = np.split(up, np.cumsum([len(one.start_deg) for one in stretches])[:-1])
    return [replace(one, up=pointing) if pointing.any() else one for one, pointing in zip(stretches, each, strict=True)]


def _stretches(number: int, setup: Setup, work: Work) -> tuple[list[Stretch], list[int]]:
    """The stretches of an operation, in their order, and the moves with which they begin; 0 where no move is meant."""
    intent = setup.operation(number).rotary.intent
    if intent == "simultaneous" or (intent == "wrapped" and goes_round(number, setup)):
        met = stretches_of(number, setup, work)
        return met.found, met.moves
    if intent == "wrapped":
        return [_round_the_drawing(number, setup)], [0]
    stood = [standing(np.array([lying.rotary_deg for lying in found]), number) for found in lyings(number, setup)]
    return stood, [0] * len(stood)


def _round_the_drawing(number: int, setup: Setup) -> Stretch:
    """A wrapped operation, all of it in one turn of the rotary that turns, in each way to turn the part."""
    found = arounds(number, setup)
    stand, alpha = unknown(len(setup.rotaries)), [np.zeros(0)]
    for item in setup.operation(number).stream():
        if isinstance(item, MoveColumns):
            rows, stand, _, _ = around_positions(item, stand, number, setup, found[0])
            alpha.append(rows.rotary_deg[:, found[0].at])
        elif isinstance(item, Holes):
            points, _, stands = around_holes(item, number, setup, found[0])
            stand = stand._replace(point=spot(points[-1]))
            alpha.append(stands[:, found[0].at])
    turned = found[0].sense * (np.concatenate(alpha) - found[0].rotary_deg[found[0].at])
    start, end, low, high = (turned[0], turned[-1], turned.min(), turned.max()) if len(turned) else (0.0,) * 4

    def w_deg(rising: float, falling: float) -> Floats:
        """Of each way (s, r): at one angle where the word rises with it, at the other where it falls."""
        return np.array([around.at_angle(rising if around.sense > 0 else falling) for around in found])

    return Stretch(w_deg(start, start), w_deg(end, end), w_deg(low, high), w_deg(high, low), number)


def _fits_nowhere(stretch: Stretch, move: int, *, overshoot: bool, setup: Setup) -> PlanError:
    if move and (stretch.past is not None or not overshoot):
        return _cut_fits_nowhere(stretch, move, overshoot=overshoot, setup=setup)
    places = ", or at ".join(said_angles(w_deg, setup) for w_deg in stretch.start_deg)
    travels = {letter: usable(rotary) for letter, rotary in setup.rotaries.items()}
    ends = "; ".join(
        f"{letter} goes from {travel.lowest:g} to {travel.highest:g}" for letter, travel in travels.items() if travel.kind == "limited"
    )
    why = "there is no room to arrive from the side that is asked for" if overshoot else "it fits in no whole turn"
    cure = "make unwinding.overshoot smaller" if overshoot else "lay the part otherwise, or correct travel and prefer in the profile"
    return PlanError(
        f"the tool axis asked for is reached at {places}, and {ends}: {why}",
        place=setup.place(stretch.operation, move),
        cure=f"use other angles or planes, or {cure}",
    )


def _cut_fits_nowhere(stretch: Stretch, move: int, *, overshoot: bool, setup: Setup) -> PlanError:
    """A cut that turns needs more than the travels, or cannot go on past a pole."""
    first = next(iter(setup.rotaries))
    if overshoot:
        slow = setup.profile.poles.past == "slow"
        room = "they have no room" if slow else f"they have room only if {first} swings round, which the profile refuses, or not at all"
        return PlanError(
            f"here the cut passes the axis of {first} and cannot go on within the travels: beyond it {room}",
            place=setup.place(stretch.operation, move),
            cure="lay the part otherwise, tilt the tool axes away from there, "
            + ("" if slow else 'set poles.past = "slow", ')
            + 'set reorient.inside_a_cut = "withdraw" in the profile, or widen the travels',
        )
    ranges = ", or ".join(
        " and ".join(f"{letter} from {low:.3f} to {high:.3f}" for letter, low, high in zip(setup.rotaries, *ends, strict=True))
        for ends in zip(stretch.lowest_deg.tolist(), stretch.highest_deg.tolist(), strict=True)
    )
    travels = "; ".join(
        f"{letter} goes from {travel.lowest:g} to {travel.highest:g}"
        for letter, travel in ((letter, usable(rotary)) for letter, rotary in setup.rotaries.items())
        if travel.kind == "limited"
    )
    cut = "the cut that begins here" if stretch.past is None else f"beyond the axis of {first}, which it passes here, the cut"
    return PlanError(
        f"{cut} needs {ranges} degrees, and {travels}: it fits in no whole turn",
        place=setup.place(stretch.operation, move),
        cure="lay the part otherwise, split the cut, or correct travel and prefer in the profile",
    )
