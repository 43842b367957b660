"""What lies between cuts: retract, turn, position, come down; and turning back whole turns inside an operation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import PlanError
from steadyrest.motion.feeds import with_feeds
from steadyrest.motion.model import LINE, RAPID, STILL_DEG, Event, Motion, PlanItem, Quantity, Stand, motion
from steadyrest.motion.setup import Setup
from steadyrest.profile import Rotary

NAN = float("nan")
WIDEST_TURN_DEG = {"shortest": 170.0, "sign": 350.0}
"""Turns in one block under rollover stay clear of the half and the whole turn, where rounding could change the direction."""
MOST_TURN_PARTS = 100_000


def rapids(points: list[tuple[float, float, float]], stand: Stand, operation: int, rule: str) -> tuple[Motion, Stand]:
    """Rapids through (x, y, z), and where the machine stands then; NaN leaves an axis out. No rotary is commanded."""
    xyz = np.array(points)
    still = np.full((len(xyz), len(stand.rotary_deg)), NAN)
    for point in xyz:
        stand = replace(stand, xyz=np.where(np.isnan(point), stand.xyz, point))
    return motion(RAPID, xyz, still, operation=operation, rule=rule), stand


def retracted(stand: Stand, operation: int, setup: Setup) -> tuple[list[PlanItem], Stand]:
    """The tool clear of everything, along the spindle, as the profile's `retract` says."""
    retract = setup.profile.retract
    if retract.form == "height":
        clear = clear_height(operation, setup)
        if stand.xyz[2] >= clear:
            return [], stand
        up, stand = rapids([(NAN, NAN, clear)], stand, operation, "retract")
        return [Event("retract", operation, "retract", facts={"form": retract.form}, motion=(up,))], stand
    words = {"machine_z": Quantity("Z", retract.machine_z * setup.mm, "length")} if retract.form == "machine_zero" else {}
    event = Event("retract", operation, "retract", facts={"form": retract.form}, words=words)
    return [event], replace(stand, xyz=np.array([*stand.xyz[:2], NAN]))  # Z is somewhere clear


def height_said_anew(stand: Stand, operation: int, setup: Setup) -> tuple[list[PlanItem], Stand]:
    """The clear height, said by a Z word under another tool: from a place of the machine's own a longer one may reach into the stock.

    Not in steps, where every tool is set to the same tip; nor without a rotary where no height is known.
    """
    if setup.profile.words.distance == "incremental" or (setup.clear is None and setup.rotary is None):
        return [], stand
    clear = clear_height(operation, setup)
    up, stand = rapids([(NAN, NAN, clear)], stand, operation, "retract")
    return [Event("retract", operation, "retract", facts={"form": "height"}, motion=(up,))], stand


def risen(stand: Stand, operation: int, setup: Setup) -> tuple[list[PlanItem], Stand]:
    """The tool at the height where the rotary may turn: up to it if below, by the profile's retract where no height is known."""
    if np.isnan(stand.xyz[2]):
        return [], stand
    if setup.clear is None:
        return retracted(stand, operation, setup)
    if stand.xyz[2] >= setup.clear:
        return [], stand
    up, stand = rapids([(NAN, NAN, setup.clear)], stand, operation, "retract")
    return [up], stand


def clear_height(operation: int, setup: Setup) -> float:
    """The height at which the rotary may turn.

    raises    PlanError where nothing is known of it
    """
    if setup.clear is not None:
        return setup.clear
    raise PlanError(
        "the rotary stands along the spindle and the stock is not given: no height is known to be clear of it",
        place=setup.place(operation) if operation else None,
        cure="give the stock in the toolpath",
    )


def turn(target: float, stand: Stand, operation: int, setup: Setup, *, clamp: bool, rule: str = "turn") -> tuple[list[PlanItem], Stand]:
    """The rotary to W = target at rapid, tool already clear; released before and clamped after where the profile has a clamp."""
    rotary = setup.rotary
    if rotary is None:
        return [], stand
    clamping = rotary.clamp.use == "indexing"
    items: list[PlanItem] = []
    stops = turn_stops(target, float(stand.rotary_deg[0]), setup, again=clamp and not stand.arrived)
    if clamping and stand.clamped is not False and (stops or not clamp):
        items.append(_clamp_event("unclamp", operation, setup))
        stand = replace(stand, clamped=False)
    if stops:
        turning = motion(RAPID, np.full((len(stops), 3), NAN), np.array(stops)[:, None], operation=operation, rule=rule)
        items.append(Event("index", operation, rule, words={"angle": Quantity("", target, "angle")}, motion=(turning,)))
    if clamping and clamp and not stand.clamped:
        items.append(_clamp_event("clamp", operation, setup))
        stand = replace(stand, clamped=True)
    return items, replace(stand, rotary_deg=np.array([target]), arrived=stand.arrived or bool(stops))


def _clamp_event(name: str, operation: int, setup: Setup) -> Event:
    assert setup.rotary is not None
    dwell = setup.rotary.clamp.dwell
    words = {"dwell": Quantity(setup.profile.codes.dwell_letter, dwell, "dwell")} if dwell > 0 else {}
    return Event(name, operation, "turn", words=words)


def turn_stops(target: float, now: float, setup: Setup, *, again: bool = False) -> list[float]:
    """The angles to go through on the way from now (NaN: not known) to target; empty when it stands there already.

    again    it came to where it stands in a cut, from either side: a place there, or less far than the overshoot, is arrived at anew

    Backlash: with `one_side` the last way is always made from the side asked for, overshooting where needed.
    Rollover: no single turn is so wide that its direction would be in doubt.
    """
    assert setup.rotary is not None
    unwinding, travel = setup.rotary.unwinding, setup.rotary.travel
    there = not np.isnan(now) and abs(target - now) <= STILL_DEG
    if there and not (again and unwinding.between == "one_side"):
        return []
    stops = [target]
    if unwinding.between == "one_side":
        side = -1.0 if unwinding.arrive_from == "below" else 1.0
        near = again and abs(target - now) < unwinding.overshoot
        if there or near or np.isnan(now) or (target - now) * side > 0:
            past = target + side * unwinding.overshoot
            if travel.kind == "limited":
                past = min(max(past, travel.lowest), travel.highest)
            if abs(past - target) <= STILL_DEG:
                raise PlanError(
                    f"the rotary cannot arrive at {target:g} degrees from {unwinding.arrive_from}: its travel ends there",
                    cure="set rotary.unwinding.between to shortest, or the travel wider",
                )
            stops = [past, target]
    if travel.kind != "rollover" or np.isnan(now):
        return stops
    out: list[float] = []
    for stop in stops:
        count = max(1, int(np.ceil(abs(stop - now) / WIDEST_TURN_DEG[travel.rule])))
        if count > MOST_TURN_PARTS:
            raise PlanError(
                f"the rotary would turn from {now:g} to {stop:g} degrees, in {count:,} parts; {MOST_TURN_PARTS:,} are allowed",
                cure="correct the angle: a whole turn more or less is the same place",
            )
        out += [now + (stop - now) * (part + 1) / count for part in range(count)]
        now = stop
    return out


def arriving_travel(rotary: Rotary) -> tuple[float, float]:
    """The angles from lowest to highest at which a limited rotary can arrive, with room to overshoot where the profile asks for it."""
    unwinding, travel = rotary.unwinding, rotary.travel
    if unwinding.between != "one_side":
        return travel.lowest, travel.highest
    if unwinding.arrive_from == "below":
        return travel.lowest + unwinding.overshoot, travel.highest
    return travel.lowest, travel.highest - unwinding.overshoot


def approach(point: Floats, stand: Stand, operation: int, setup: Setup, *, cutting: bool) -> tuple[list[PlanItem], Stand]:
    """Over the first point at the height the tool stands at, then down: to the point, or for a cut to the clear height.

    A cut then goes down to its first point at its own feed.
    """
    x, y, z = (float(value) for value in point)
    down = clear_height(operation, setup) if cutting else z
    if cutting and z > down:
        down = z
    over, stand = rapids([(x, y, NAN), (NAN, NAN, down)], stand, operation, "approach")
    return [over], stand


def turned_back(
    stand: Stand, turns: int, feed: float, operation: int, setup: Setup, *, leaves_to: float = float("-inf")
) -> tuple[list[PlanItem], Stand]:
    """Turn back whole turns inside an operation: up, turn, down to just over the path, and at feed onto it again.

    turns        whole turns added to W
    feed         of the tip, program units per minute, for the last bit of the way down; NaN before a rapid: all the way at rapid
    leaves_to    the height to which a rapid that comes next takes the tool: it does not go back below that
    """
    here = stand
    items, stand = risen(stand, operation, setup)
    turned, stand = turn(float(here.rotary_deg[0]) + 360.0 * turns, stand, operation, setup, clamp=False, rule="turn_back")
    back = tuple(_motion_of(items + turned))
    items = [Event("turn_back", operation, "turn_back", facts={"turns": turns}, motion=back)]
    x, y, z = (float(value) for value in here.xyz)
    z = max(z, leaves_to)
    gap = setup.profile.safety.clearance * setup.mm
    if stand.xyz[2] == z:
        return items, stand
    down = z if np.isnan(feed) else min(z + gap, float(stand.xyz[2]) if not np.isnan(stand.xyz[2]) else z + gap)
    fast, stand = rapids([(NAN, NAN, down)], stand, operation, "turn_back")
    items.append(fast)
    if down > z:
        xyz = np.array([[x, y, z]])
        slow, stand = with_feeds(
            motion(LINE, xyz, stand.rotary_deg[None, :], feed=feed, tip=down - z, operation=operation, rule="turn_back"), stand, setup
        )
        items.append(slow)
    return items, stand


def _motion_of(items: list[PlanItem]) -> Iterator[Motion]:
    for item in items:
        if isinstance(item, Motion):
            yield item
        else:
            yield from item.motion
