"""In which turn does each operation run, so that all fit into the travel and the rotary turns least between them?

Angles are counted in whole millionths of a degree while choosing, so that equal ways are equal. Among choices with the same
total turning the first operation decides, then the next: the smaller absolute angle at its start, then the positive one.
Only where no limit counts but the end at zero does, of links that are as good the last is the one turned the other way.
"""

from __future__ import annotations

from collections.abc import Sequence
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
class Span:
    """Where the rotary begins, ends and goes in one stretch of an operation: W in degrees, unwound.

    turned_to   it comes to the start by a turn of its own, from the side that is asked for; else by a rapid of the toolpath
    """

    start_w: float
    end_w: float
    lowest_w: float
    highest_w: float
    operation: int = 0
    turned_to: bool = True


@dataclass(frozen=True, slots=True)
class Unfit:
    """A span that fits into the travel in no turn; or, by its overshoot alone, could only be arrived at by going past the travel."""

    index: int
    overshoot: bool = False


def choose_turns(spans: Sequence[Span], travel: Travel, unwinding: Unwinding, start_w: float) -> list[int] | Unfit:
    """Whole turns to add to each span (360 degrees each) so that all lie in the travel and the total turning is least.

    start_w   where the rotary stands before the first span, degrees
    returns   one whole number a span; or the first span that fits in no turn
    counted   the turning between spans, from start_w on; twice the overshoot where `one_side` arrives from the wrong side;
              and the way to where `at_end` leaves the rotary. At rollover the word says nothing of turns, but the way is
              the same: it is treated as unlimited. With `between` zero every operation begins in the turn around 0, or the
              nearest to it in the travel; what it turns inside is least like all else
    source    without limits every link is least on its own, but for an end at zero, or at the next operation's own zero, for which
              those links are turned the other way that gain most; if that fits it is best. Else dynamic programming over the turns
              of all spans
    """
    if not spans:
        return []
    start, end = (np.array([count(getattr(span, side)) for span in spans]) for side in ("start_w", "end_w"))
    windows = np.array([_window(span, travel) for span in spans])
    for index in np.flatnonzero(windows[:, 0] > windows[:, 1]).tolist():
        return Unfit(index)
    fixed: dict[int, int] = {}
    if unwinding.between == "zero":
        firsts = np.flatnonzero(np.diff([span.operation for span in spans], prepend=-1))
        around = -((start[firsts] + TURN // 2) // TURN)  # it then starts in [-180, 180)
        windows[firsts] = np.clip(around, *windows[firsts].T)[:, None]
        fixed = dict(zip(firsts.tolist(), windows[firsts, 0].tolist(), strict=True))
    links, moved = Links(travel, unwinding), Links(travel, Unwinding())
    each = [links if span.turned_to else moved for span in spans]
    free = _without_limits(start.tolist(), end.tolist(), each, links, fixed, count(start_w))
    turns = np.array(free)
    before = np.concatenate([[count(start_w)], end + turns * TURN])[:-1]
    too_far = (links.cost(before, start + turns * TURN) >= NEVER) & [span.turned_to for span in spans]
    if not (too_far | (turns < windows[:, 0]) | (turns > windows[:, 1])).any():
        return free
    return _within_limits(start, end, windows, each, links, count(start_w))


def nearest_turn(w_deg: float, stand_w_deg: float, travel: Travel, unwinding: Unwinding) -> int:
    """Whole turns to be added to w_deg so that the rotary turns least from where it stands; where two are as good, to the smaller angle.

    Arriving from one side counts the overshoot, twice.
    """
    start, at = count(w_deg), count(stand_w_deg)
    return (at + shorter(start, at, Links(travel, unwinding))[0] - start) // TURN


def fits(span: Span, travel: Travel) -> bool:
    """Whether a span fits into the travel in some turn."""
    first, last = _window(span, travel)
    return first <= last


def turns_into(w_deg: float, travel: Travel) -> int:
    """The fewest whole turns that bring an angle past an end of a limited travel back before it."""
    return max(0, ceil((travel.lowest - w_deg) / 360.0)) - max(0, ceil((w_deg - travel.highest) / 360.0))


def _window(span: Span, travel: Travel) -> tuple[int, int]:
    """The fewest and the most whole turns with which a span lies in the travel."""
    if travel.kind != "limited":
        return -NEVER, NEVER
    return -((count(span.lowest_w) - count(travel.lowest)) // TURN), (count(travel.highest) - count(span.highest_w)) // TURN


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
        past = to_w + self.side * self.past
        beyond = (way * self.side > 0) & ((past > self.high) | (past < self.low))
        return np.where(beyond, NEVER, np.abs(way) + np.where(way > 0, self.up, self.down) * (way != 0))

    def end(self, w: int) -> int:
        """The turning after the last span."""
        if self.ends_at_zero:
            return abs(w)
        return abs(w - nearest_turn_of(w, self.travel)) if self.ends_at_turn else 0


def _without_limits(start: list[int], end: list[int], each: list[Links], links: Links, fixed: dict[int, int], at: int) -> list[int]:
    """The turns of least turning when the travel has no end: between two spans whose turn is fixed, each chain by itself."""
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


def _within_limits(start: Ints, end: Ints, windows: Ints, each: list[Links], links: Links, at: int) -> list[int] | Unfit:
    """Dynamic programming from the last span to the first: what is left to turn from each turn of each span."""
    turns = [np.arange(first, last + 1, dtype=np.int64) for first, last in windows.tolist()]
    left = [np.array([links.end(int(w)) for w in end[-1] + turns[-1] * TURN], dtype=np.int64)] * len(start)
    for index in range(len(start) - 2, -1, -1):
        ends, starts = end[index] + turns[index] * TURN, start[index + 1] + turns[index + 1] * TURN
        left[index] = _least(ends, starts, left[index + 1], each[index + 1])
        if left[index].min() >= NEVER:
            return Unfit(index + 1, overshoot=True)
    chosen: list[int] = []
    for index in range(len(start)):
        starts = start[index] + turns[index] * TURN
        total = each[index].cost(at, starts) + left[index]
        if total.min() >= NEVER:
            return Unfit(index, overshoot=True)
        best = min(np.flatnonzero(total == total.min()), key=lambda i: (abs(int(starts[i])), -int(starts[i])))
        chosen.append(int(turns[index][best]))
        at = int(end[index]) + chosen[-1] * TURN
    return chosen


def _least(ends: Ints, starts: Ints, left: Ints, links: Links) -> Ints:
    """For each end the least of turning to a start and what is left from there; both rise, so running minima will do."""
    upward = np.where(starts + links.past <= links.high, left, NEVER) if links.up else left
    downward = np.where(starts - links.past >= links.low, left, NEVER) if links.down else left
    above = np.append(np.minimum.accumulate((upward + starts)[::-1])[::-1], 2 * NEVER)
    below = np.append(2 * NEVER, np.minimum.accumulate(downward - starts))
    before, after = np.searchsorted(starts, ends, "left"), np.searchsorted(starts, ends, "right")
    least = np.minimum(above[after] - ends + links.up, below[before] + ends + links.down)
    same = np.flatnonzero(after > before)
    least[same] = np.minimum(least[same], left[before[same]])
    # what cannot be reached stays so, whatever was added to it
    return np.where(least >= NEVER // 2, NEVER, least)
