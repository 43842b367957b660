"""What one rotary turns from one angle to another, which of the angles 360 degrees apart that makes, and where it is left.

Angles are counted in whole millionths of a degree while choosing, so that equal ways are equal. Where two ways are as good the smaller
absolute angle is taken, then the positive one. Only where no limit counts but the end at zero does, of links that are as good the last is
the one turned the other way.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from math import ceil

import numpy as np

from steadyrest.columns import Ints
from steadyrest.profile import Travel, Unwinding

_PER_DEG = 1_000_000
TURN = 360 * _PER_DEG
NEVER = 1 << 60


@dataclass(frozen=True, slots=True)
class Unfit:
    """A span that fits into the travel in no turn; or, by its overshoot alone, could only be arrived at by going past the travel."""

    index: int
    overshoot: bool = False


def nearest_turn(w_deg: float, stand_w_deg: float, travel: Travel, unwinding: Unwinding) -> int:
    """Whole turns to be added to w_deg so that the rotary turns least from where it stands; where two are as good, to the smaller angle.

    Arriving from one side counts the overshoot, twice.
    """
    start, at = count(w_deg), count(stand_w_deg)
    return (at + shorter(start, at, Links(travel, unwinding))[0] - start) // TURN


def turns_into(w_deg: float, travel: Travel) -> int:
    """The fewest whole turns that bring an angle past an end of a limited travel back before it."""
    return max(0, ceil((travel.lowest - w_deg) / 360.0)) - max(0, ceil((w_deg - travel.highest) / 360.0))


def window(lowest: Ints, highest: Ints, travel: Travel) -> tuple[Ints, Ints]:
    """The fewest and the most whole turns with which the least and the most of an angle (n,), counts, lie in a limited travel."""
    return -((lowest - count(travel.lowest)) // TURN), (count(travel.highest) - highest) // TURN


def end_position(w_deg: float, travel: Travel, unwinding: Unwinding) -> float:
    """Where the rotary is left at the end of the program, degrees, from where the last operation ended.

    At rollover zero is the nearest whole turn, for there is no other. With limited travel the nearest whole turn within it;
    0 always is (the profile sees to it).
    """
    if unwinding.at_end == "stay":
        return w_deg
    if unwinding.at_end == "zero" and travel.kind != "rollover":
        return 0.0
    return nearest_turn_of(count(w_deg), travel) / _PER_DEG


def count(degrees: float) -> int:
    """An angle in whole millionths of a degree."""
    return round(degrees * _PER_DEG)


def nearest_turn_of(w: int, travel: Travel) -> int:
    """The whole turn nearest to w, within limited travel if one is; half way the one nearer to zero."""
    turn = (abs(w) + TURN // 2 - 1) // TURN * (1 if w >= 0 else -1)
    if travel.kind == "limited":
        turn = min(max(turn, -(-count(travel.lowest) // TURN)), count(travel.highest) // TURN)
    return turn * TURN


class Links:
    """What the way between two spans costs, and where it may arrive; arriving from the wrong side goes past and back."""

    def __init__(self, travel: Travel, unwinding: Unwinding) -> None:
        self.past = count(unwinding.overshoot) if unwinding.between == "one_side" else 0
        self.side = 1 if unwinding.arrive_from == "above" else -1
        self.up, self.down = (2 * self.past, 0) if self.side > 0 else (0, 2 * self.past)
        self.travel = travel
        self.ends_at_zero = unwinding.at_end == "zero" and travel.kind != "rollover"
        self.ends_at_turn = unwinding.at_end != "stay" and not self.ends_at_zero
        limited = travel.kind == "limited"
        self.low = count(travel.lowest) if limited else -NEVER
        self.high = count(travel.highest) if limited else NEVER

    def cost(self, from_w: int | Ints, to_w: Ints) -> Ints:
        """The turning from one angle to another; never where the overshoot leaves the travel."""
        way = to_w - from_w
        if not self.past:
            return np.abs(np.asarray(way))
        past = to_w + self.side * self.past
        beyond = (way * self.side > 0) & ((past > self.high) | (past < self.low))
        return np.where(beyond, NEVER, np.abs(way) + np.where(way > 0, self.up, self.down) * (way != 0))

    def end(self, w: int) -> int:
        """The turning after the last span."""
        if self.ends_at_zero:
            return abs(w)
        return abs(w - nearest_turn_of(w, self.travel)) if self.ends_at_turn else 0


def without_limits(start: list[int], end: list[int], each: list[Links], links: Links, fixed: dict[int, int], at: int) -> list[int]:
    """Whole turns to add to each stretch so that a rotary without limits turns least.

    start, end  where it begins and ends in each, counts, in no particular turn
    each        the links to them, and `links` to where it goes after the last
    fixed       the turns of those stretches whose turn is given
    at          where it stands before the first
    source      every link is least on its own, but for an end at zero, or at the next operation's own zero, for which those links are
                turned the other way that gain most
    """
    turns: list[int] = []
    for stop in [*fixed, len(start)]:
        index = len(turns)
        target = start[stop] + fixed[stop] * TURN if stop in fixed else 0 if links.ends_at_zero else None
        turns += _chain(start[index:stop], end[index:stop], each[index:stop], at, target)
        if stop in fixed:
            turns.append(fixed[stop])
            at = end[stop] + fixed[stop] * TURN
    return turns


def _chain(starts: list[int], ends: list[int], each: list[Links], at: int, target: int | None) -> list[int]:
    """The turns of least turning from one angle on; `target`: where the rotary goes after the last span, None: nowhere in particular."""
    turns: list[int] = []
    ways: list[int] = []
    gaps: list[int] = []
    for start, end, links in zip(starts, ends, each, strict=True):
        way, gap = shorter(start, at, links)
        ways.append(way)
        gaps.append(gap)
        turns.append((at + way - start) // TURN)
        at = end + turns[-1] * TURN
    if target is None:
        return turns
    # turning a link the other way costs its gap once, and brings the end a turn nearer to where it has to go
    toward = -1 if at > target else 1
    switched = set()
    for index in sorted((i for i, way in enumerate(ways) if way * toward < 0), key=lambda i: (gaps[i], -i)):
        if abs(at - target) - abs(at + toward * TURN - target) <= gaps[index]:
            break
        at += toward * TURN
        switched.add(index)
    moved = accumulate(toward if index in switched else 0 for index in range(len(turns)))
    return [turn + more for turn, more in zip(turns, moved, strict=True)]


def shorter(start: int, at: int, links: Links) -> tuple[int, int]:
    """The way from one angle to a start in whatever turn, and by how much the way the other way round costs more."""
    gap = (start - at) % TURN
    up, down = gap + (links.up if gap else 0), (TURN - gap + links.down if gap else TURN)
    rising, falling = at + gap, at + gap - TURN
    take_up = up < down or (up == down and (abs(rising), -rising) < (abs(falling), -falling))
    return gap if take_up else gap - TURN, abs(down - up)
