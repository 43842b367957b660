"""One operation, carried out: the rotary positioned, the tool brought to the path, the path, and what stands between its moves."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from math import inf, isnan

import numpy as np

from steadyrest.columns import take
from steadyrest.conventions import RAPID
from steadyrest.motion.around import arounds, goes_round
from steadyrest.motion.axis_positions import (
    Positions,
    around_holes,
    around_positions,
    hole_positions,
    indexed_positions,
    simultaneous_positions,
    wrapped_positions,
)
from steadyrest.motion.chain_runs import Runs, axis_tolerance_rad, stream
from steadyrest.motion.choice import Choice
from steadyrest.motion.feeds import SLOWED_BY
from steadyrest.motion.head_runs import carried_by_head, left
from steadyrest.motion.holes import alike, drilled, dwell_word
from steadyrest.motion.leaning import at_feed, come, drilled_leaning, leave
from steadyrest.motion.links import WIDEST_TURN_DEG, Moves, approach, risen, turn
from steadyrest.motion.lying import Lying
from steadyrest.motion.model import NAN, NOWHERE, STILL_DEG, Asked, Event, Motion, Seen, Stand, after, spot
from steadyrest.motion.planes import lyings
from steadyrest.motion.reorient import reoriented
from steadyrest.motion.setup import Setup, check_replaced_axis
from steadyrest.motion.subdivision import lifted, split_turns
from steadyrest.motion.survey import Windings
from steadyrest.motion.turn_back import kept_in_travel
from steadyrest.motion.winding import nearest_turn, turns_into
from steadyrest.notices import noticed
from steadyrest.toolpath import Dwell, Holes, MoveColumns, Note, Stop, moves_in


def report(seen: Seen, operation: int, setup: Setup) -> None:
    """Put one notice of each kind into the plan's list."""
    place, notices = setup.place(operation), setup.notices
    notices.extend(seen.turned_back)
    if seen.slowed:
        why = ["F would exceed the controller's limit" if each == SLOWED_BY[5] else f"{each} goes no faster" for each in seen.limits]
        lowest, asked = (speed / setup.scale for speed in seen.slowest)
        speeds = {"asked": asked, "lowest": lowest, "units": setup.toolpath.units}
        notices.append(noticed("FeedSlowed", place, moves=seen.slowed, limit=", ".join(why), **speeds))
    if seen.lifted:
        notices.append(noticed("RapidRetracted", place, moves=seen.lifted))
    if seen.cut_moves:
        intent = setup.operation(operation).rotary.intent
        what = "moves" if intent == "simultaneous" or (setup.on_chain and intent == "wrapped" and goes_round(operation, setup)) else "arcs"
        within = f"the tip stays within {setup.tolerance:.4g} {'in' if setup.inch else 'mm'} of its path"
        if setup.on_chain and what == "moves":
            within += f", the tool axis within {np.degrees(axis_tolerance_rad(operation, setup)):.2g} degrees"
        notices.append(noticed("Subdivided", place, what=what, moves=seen.cut_moves, blocks=seen.cut_blocks, reason=within))
    for (cycle, reason), holes in seen.written_out.items():
        notices.append(noticed("CycleSpelledOut", place, cycle=cycle, holes=holes, reason=reason))


def carried_out(
    number: int, turns: list[int] | None, unfit: bool, stand: Stand, setup: Setup, choices: list[Choice] | None = None
) -> Moves:
    """All passes of an operation, from a retracted tool to its last move; returns where the machine stands then.

    turns    whole turns for each pass; None: the nearest each time
    choices  on a chain of two rotaries the solution and the turns of each pass
    unfit    the operation fits into no winding of a limited travel and is turned back on the way
    """
    rotary = setup.operation(number).rotary
    if choices is not None and rotary.intent == "wrapped" and not goes_round(number, setup):
        stand = yield from _around_pass(number, choices[0], stand, setup)
    elif rotary.intent in ("wrapped", "simultaneous"):
        stand = yield from _pass(number, turns, unfit, stand, setup, choices=choices)
        if setup.has_head and not isnan(stand.point[0]):
            stand = yield from left(stand, number, setup)
    else:
        for at, found in enumerate(lyings(number, setup)):
            if at:
                stand = yield from risen(stand, number, setup)
            if choices is not None:
                lying, whole = found[choices[at].solution], choices[at].turns
            else:
                (lying,) = found
                whole = tuple(_whole_turns(w_deg, at, turns, stand, setup) for w_deg in lying.rotary_deg)
            target = [w_deg + 360.0 * more for w_deg, more in zip(lying.rotary_deg, whole, strict=True)]
            stand = yield from turn(target, stand, number, setup, clamp=True)
            stand = yield from _pass(number, None, False, stand, setup, lying)
            stand = yield from leave(lying, stand, number, setup)
    return stand


def _whole_turns(w_deg: float, at: int, turns: list[int] | None, stand: Stand, setup: Setup) -> int:
    """Whole turns for one pass: as surveyed, else nearest to where the rotary stands."""
    if turns is not None:
        return turns[at]
    rotary = setup.rotary
    if rotary is None:
        return 0
    return nearest_turn(w_deg, 0.0 if isnan(stand.rotary_deg[0]) else stand.rotary_deg[0], rotary.travel, rotary.unwinding)


def _pass(
    number: int,
    turns: list[int] | None,
    unfit: bool,
    stand: Stand,
    setup: Setup,
    lying: Lying | None = None,
    choices: list[Choice] | None = None,
) -> Moves:
    """The moves of an operation: with the rotary standing, `lying` somewhere, or turning."""
    intent = setup.operation(number).rotary.intent
    stand = stand._replace(point=NOWHERE, phi_deg=NAN)  # nothing is said yet in the operation's own coordinates
    positions: Callable[..., Positions] = wrapped_positions if intent == "wrapped" else simultaneous_positions
    windings = Windings(turns if turns is not None and len(turns) > 1 else None) if lying is None and choices is None else None
    items, runs = setup.operation(number).stream(), None
    if lying is not None:
        positions = partial(indexed_positions, lying=lying)
    elif choices is not None:
        runs = Runs(number, choices, setup)
        positions, items = runs.positions, stream(number, setup)
    for item in items:
        if windings is not None and not isnan(stand.phi_deg):  # some turns may have been taken back
            windings.whole = round((stand.rotary_deg[0] - setup.sigma * stand.phi_deg) / 360.0)
        if isinstance(item, MoveColumns):
            before_deg = setup.sigma * stand.phi_deg
            rows, reached, moves, blocks = positions(item, stand, number, setup)
            if moves:
                setup.seen[number].cut_moves += moves
                setup.seen[number].cut_blocks += blocks
            if windings is not None:
                if windings.whole is None:
                    windings.whole = _whole_turns(float(rows.rotary_deg[0, 0]), 0, turns, stand, setup)
                rows, _ = windings.wound(rows, before_deg)
            if lying is None and isnan(stand.point[0]) and not setup.has_head:
                stand = yield from turn(rows.rotary_deg[0].tolist(), stand, number, setup, clamp=False)
            if runs is not None and setup.has_head:
                stand = yield from carried_by_head(rows, runs.withdrawals, stand, number, setup)
                stand = stand._replace(point=reached.point)
                setup.work.begun += moves_in(item)
                continue
            withdrawals = runs.withdrawals if runs is not None else []
            begin = 0
            for row in withdrawals:
                if row > begin:
                    stand = yield from _run(take(rows, slice(begin, row)), stand, reached, number, setup)
                stand = yield from reoriented(rows, row, stand, number, setup)
                begin = row + 1
            if begin:
                rows = take(rows, slice(begin, None))
            stand = yield from _run(rows, stand, reached, number, setup, unfit=unfit, lying=lying)
        elif isinstance(item, Holes) and lying is not None and lying.frame is not None:
            stand = yield from drilled_leaning(alike(item, item.xy * setup.scale, 0.0, setup), lying, stand, number, setup)
        elif isinstance(item, Holes) and lying is not None:
            rise = 0.0 if lying.origin is None else float(lying.origin[2])
            if setup.has_head and isnan(stand.point[0]):
                first = np.array([*item.xy[0], item.retract[0]]) * setup.scale
                stand = yield from come(lying, spot(first), stand, number, setup, cutting=False)
            stand = yield from _holes(alike(item, lying.placed(item.xy * setup.scale), rise, setup), stand, number, setup)
            stand = stand._replace(point=spot(np.array([*item.xy[-1], item.retract[-1]]) * setup.scale))
        elif isinstance(item, Holes) and windings is not None:
            for row, (point, place, phi_deg) in enumerate(zip(*hole_positions(item, number, setup), strict=True)):
                w_deg = float(setup.sigma * phi_deg)
                whole = windings.hole(_whole_turns(w_deg, 0, turns if windings.whole is None else None, stand, setup))
                assert setup.rotary is not None
                w_deg += 360.0 * whole
                w_deg += 360.0 * (turns_into(w_deg, setup.rotary.travel) if unfit else 0)
                stand = yield from _turned_to_hole([w_deg], stand, number, setup)
                hole = alike(take(item, [row]), place[None, :2], float(place[2] - point[2]), setup)
                stand = yield from _holes(hole, stand, number, setup)
                stand = stand._replace(point=spot(point), phi_deg=float(phi_deg))
        elif not isinstance(item, Holes):
            yield _event(item, number, setup)
        setup.work.begun += moves_in(item)
    return stand


def _around_pass(number: int, choice: Choice, stand: Stand, setup: Setup) -> Moves:
    """The moves of a wrapped operation on a chain of two rotaries: one turns, the other stands."""
    found = arounds(number, setup)[choice.solution]
    around = replace(found, rotary_deg=found.rotary_deg + 360.0 * np.array(choice.turns))
    stand = stand._replace(point=NOWHERE, phi_deg=NAN)
    for item in setup.operation(number).stream():
        if isinstance(item, MoveColumns):
            rows, reached, moves, blocks = around_positions(item, stand, number, setup, around)
            setup.seen[number].cut_moves += moves
            setup.seen[number].cut_blocks += blocks
            if isnan(stand.point[0]):
                stand = yield from turn(rows.rotary_deg[0].tolist(), stand, number, setup, clamp=False)
            stand = yield from _run(rows, stand, reached, number, setup)
        elif isinstance(item, Holes):
            for row, (point, place, w_deg) in enumerate(zip(*around_holes(item, number, setup, around), strict=True)):
                stand = yield from _turned_to_hole(w_deg.tolist(), stand, number, setup)
                hole = alike(take(item, [row]), place[None, :2], float(place[2] - point[2]), setup)
                stand = yield from _holes(hole, stand, number, setup)
                stand = stand._replace(point=spot(point))
        else:
            yield _event(item, number, setup)
        setup.work.begun += moves_in(item)
    return stand


def _run(
    rows: Motion, stand: Stand, reached: Stand, number: int, setup: Setup, *, unfit: bool = False, lying: Lying | None = None
) -> Moves:
    """One run of rows, come to where it starts if it is the first; `reached` is its end in the operation's own coordinates."""
    check_replaced_axis(rows.xyz, rows.move, number, setup)
    if isnan(stand.point[0]):
        # Over the first point and down. A rapid to it is then done; a cut to it goes down at its feed.
        cutting = bool(rows.kind[0] != RAPID)
        if lying is not None and setup.has_head:
            stand = yield from come(lying, spot(lying.drawn(rows.xyz[:1])[0]), stand, number, setup, cutting=cutting)
        else:
            stand = yield from approach(spot(rows.xyz[0]), stand, number, setup, cutting=cutting)
        if not cutting:
            rows = take(rows, slice(1, None))
        elif not isnan(rows.tip[0]):
            rows.tip[0] = abs(stand.xyz[2] - rows.xyz[0, 2])
    if lying is not None and lying.frame is not None:
        rows = at_feed(rows, setup)
    rows, low = lifted(rows, stand, setup.clear)
    rows = replace(rows, operation=number, rule="cut" if rows.kind.any() else "rapid")
    if low:
        setup.seen[number].lifted += low
    if len(rows) and unfit:
        stand = yield from kept_in_travel(rows, stand, number, setup)
    elif len(rows):
        travels = [rotary.travel for rotary in setup.rotaries.values()]
        if any(travel.kind == "rollover" for travel in travels):
            widest = [WIDEST_TURN_DEG[travel.rule] if travel.kind == "rollover" else inf for travel in travels]
            rows = split_turns(rows, stand, widest, setup)
        yield Asked(rows, stand)
        stand = after(rows, stand)
    return stand._replace(point=reached.point, phi_deg=reached.phi_deg)


def _holes(groups: Iterable[Holes], stand: Stand, number: int, setup: Setup) -> Moves:
    entered = not isnan(stand.point[0])
    for holes in groups:
        places = np.column_stack([holes.xy, holes.retract])
        check_replaced_axis(places, holes.move, number, setup)
        if not entered:
            stand = yield from approach(spot(places[0]), stand, number, setup, cutting=False)
            entered = True
        yield from drilled(holes, stand, number, setup)
        stand = stand._replace(xyz=spot(places[-1]))
    return stand


def _turned_to_hole(target: list[float], stand: Stand, number: int, setup: Setup) -> Moves:
    """The rotaries to a hole's angles, the tool risen first where it is too low to turn."""
    if not all(abs(to - now) < STILL_DEG for to, now in zip(target, stand.rotary_deg, strict=True)):  # where it is not known, it turns
        stand = yield from risen(stand, number, setup)
        stand = yield from turn(target, stand, number, setup, clamp=False)
    return stand


def _event(item: Dwell | Stop | Note, number: int, setup: Setup) -> Event:
    if isinstance(item, Dwell):
        return Event("dwell", number, "move", move=item.move, words={"time": dwell_word(item.seconds, setup)})
    if isinstance(item, Stop):
        return Event("stop", number, "move", move=item.move, facts={"optional": item.optional})
    return Event("note", number, "move", move=item.move, facts={"text": item.text})
