"""What lies between cuts: retract, turn, position, come down. Functions yield motion and events, and return where the machine stands."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from math import ceil, isnan

import numpy as np

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.model import NAN, STILL_DEG, Event, Motion, Quantity, Spot, Stand, Step, after, constant, motion
from steadyrest.motion.setup import Setup
from steadyrest.profile import Rotary, Travel

WIDEST_TURN_DEG = {"shortest": 170.0, "sign": 350.0}
"""Turns in one block under rollover stay clear of the half and the whole turn, where rounding could change the direction."""
MOST_TURN_PARTS = 100_000

Moves = Generator[Step, None, Stand]


def rapids(points: Sequence[Sequence[float]], stand: Stand, operation: int, rule: str) -> tuple[Motion, Stand]:
    """Rapids through (x, y, z), and where the machine stands then; NaN leaves an axis out. No rotary is commanded."""
    still = constant(NAN, (len(points), len(stand.rotary_deg)))
    rows = motion(RAPID, np.array(points), still, operation=operation, rule=rule)
    return rows, after(rows, stand)


def retracted(stand: Stand, operation: int, setup: Setup) -> Moves:
    """The tool clear of everything, along the spindle, as the profile's `retract` says."""
    retract = setup.profile.retract
    if retract.form == "height":
        if not stand.xyz[2] >= clear_height(operation, setup):
            stand = yield from to_clear_height(stand, operation, setup)
        return stand
    words = {"machine_z": Quantity("Z", retract.machine_z * setup.mm, "length")} if retract.form == "machine_zero" else {}
    yield Event("retract", operation, "retract", facts={"form": retract.form}, words=words)
    return stand._replace(xyz=(*stand.xyz[:2], NAN))  # Z is somewhere clear


def to_clear_height(stand: Stand, operation: int, setup: Setup) -> Moves:
    """The tool at the height at which the rotary may turn, said by a Z word."""
    up, stand = rapids([(NAN, NAN, clear_height(operation, setup))], stand, operation, "retract")
    yield Event("retract", operation, "retract", facts={"form": "height"}, motion=(up,))
    return stand


def risen(stand: Stand, operation: int, setup: Setup) -> Moves:
    """The tool at the height where the rotary may turn: up to it if below, by the profile's retract where no height is known."""
    if isnan(stand.xyz[2]):
        return stand
    if setup.clear is None:
        stand = yield from retracted(stand, operation, setup)
    elif stand.xyz[2] < setup.clear:
        up, stand = rapids([(NAN, NAN, setup.clear)], stand, operation, "retract")
        yield up
    return stand


def turning(stops: Sequence[Sequence[float]], operation: int, rule: str) -> Motion:
    """The rotaries, each through some angles, at rapid; the linear axes are not commanded."""
    way = np.full((max(map(len, stops)), len(stops)), NAN)
    for at, angles in enumerate(stops):
        way[: len(angles), at] = angles
    return motion(RAPID, constant(NAN, (len(way), 3)), way, operation=operation, rule=rule)


def clear_height(operation: int, setup: Setup) -> float:
    """The height at which the rotary may turn.

    raises    PlanError where nothing is known of it
    """
    if setup.clear is not None:
        return setup.clear
    raise PlanError(
        "the rotary is along the spindle and no stock is given: the height that clears it is unknown",
        place=setup.place(operation) if operation else None,
        cure="give the stock in the toolpath",
    )


def turn(target: Sequence[float], stand: Stand, operation: int, setup: Setup, *, clamp: bool, rule: str = "turn") -> Moves:
    """The rotaries to W = target (r,) at rapid, together, tool already clear.

    Each is released before and clamped after where the profile has a clamp for it.
    """
    rotaries = setup.rotaries
    if not rotaries:
        return stand
    each = zip(target, stand.rotary_deg, stand.arrived, rotaries.values(), strict=True)
    stops = [turn_stops(to, now, rotary, again=clamp and not arrived) for to, now, arrived, rotary in each]
    for at, (letter, rotary) in enumerate(rotaries.items()):
        if rotary.clamp.use == "indexing" and stand.clamped[at] is not False and (stops[at] or not clamp):
            yield _clamping("unclamp", letter, rotary, operation, setup)
            stand = _clamped(stand, at, on=False)
    if any(stops):
        words = {name: Quantity("", to, "angle") for name, to in zip(("angle", "second_angle"), target, strict=False)}
        yield Event("index", operation, rule, words=words, motion=(turning(stops, operation, rule),))
    for at, (letter, rotary) in enumerate(rotaries.items()):
        if rotary.clamp.use == "indexing" and clamp and not stand.clamped[at]:
            yield _clamping("clamp", letter, rotary, operation, setup)
            stand = _clamped(stand, at, on=True)
    arrived = tuple(there or bool(through) for there, through in zip(stand.arrived, stops, strict=True))
    return stand._replace(rotary_deg=tuple(target), arrived=arrived)


def _clamping(name: str, letter: str, rotary: Rotary, operation: int, setup: Setup) -> Event:
    dwell = rotary.clamp.dwell
    words = {"dwell": Quantity(setup.profile.codes.dwell_letter, dwell, "dwell")} if dwell > 0 else {}
    return Event(name, operation, "turn", facts={"rotary": letter}, words=words)


def _clamped(stand: Stand, at: int, *, on: bool) -> Stand:
    return stand._replace(clamped=(*stand.clamped[:at], on, *stand.clamped[at + 1 :]))


def turn_stops(target: float, now: float, rotary: Rotary, *, again: bool = False) -> list[float]:
    """The angles to go through on the way from now (NaN: not known) to target; empty when it stands there already.

    again    it came to where it stands in a cut, from either side: a place there, or less far than the overshoot, is arrived at anew

    Backlash: with `one_side` the last way is always made from the side asked for, overshooting where needed.
    Rollover: no single turn is so wide that its direction would be in doubt.
    """
    unwinding, travel = rotary.unwinding, rotary.travel
    one_side = unwinding.between == "one_side"
    there = abs(target - now) <= STILL_DEG
    if there and not (again and one_side):
        return []
    stops = [target]
    side = -1.0 if unwinding.arrive_from == "below" else 1.0
    near = there or (again and abs(target - now) < unwinding.overshoot)
    if one_side and (near or isnan(now) or (target - now) * side > 0):
        past = target + side * unwinding.overshoot
        if travel.kind == "limited":
            past = min(max(past, travel.lowest), travel.highest)
        if abs(past - target) <= STILL_DEG:
            raise PlanError(
                f"the rotary cannot arrive at {target:g} degrees from {unwinding.arrive_from}: its travel ends there",
                cure="set rotary.unwinding.between to shortest, or widen the travel",
            )
        stops = [past, target]
    if travel.kind != "rollover" or isnan(now):
        return stops
    out: list[float] = []
    for stop in stops:
        count = max(1, ceil(abs(stop - now) / WIDEST_TURN_DEG[travel.rule]))
        if count > MOST_TURN_PARTS:
            raise PlanError(
                f"the rotary would turn from {now:g} to {stop:g} degrees, in {count:,} steps; {MOST_TURN_PARTS:,} are allowed",
                cure="correct the angle: whole turns more or less are the same position",
            )
        out += [now + (stop - now) * (part + 1) / count for part in range(count)]
        now = stop
    return out


def arriving_travel(rotary: Rotary) -> Travel:
    """The travel as far as a limited rotary can arrive in it, with room to overshoot where the profile asks for it."""
    unwinding, travel = rotary.unwinding, rotary.travel
    past = unwinding.overshoot if unwinding.between == "one_side" else 0.0
    if unwinding.arrive_from == "below":
        return travel.model_copy(update={"lowest": travel.lowest + past})
    return travel.model_copy(update={"highest": travel.highest - past})


def approach(point: Spot, stand: Stand, operation: int, setup: Setup, *, cutting: bool) -> Moves:
    """Over the first point at the height the tool stands at, then down: to the point, or for a cut to the clear height.

    A cut then goes down to its first point at its own feed.
    """
    x, y, z = point
    over, stand = rapids([(x, y, NAN), (NAN, NAN, max(z, clear_height(operation, setup)) if cutting else z)], stand, operation, "approach")
    yield over
    return stand
