"""In which turn does each operation run, so that all fit into the travel and the rotary turns least between them?

Angles are counted in whole millionths of a degree while choosing, so that equal ways are equal. Among choices with the same
total turning the first operation decides, then the next: the smaller absolute angle at its start, then the positive one.
Only where no limit counts but the end at zero does, of links that are as good the last is the one turned the other way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadyrest.columns import Ints
from steadyrest.profile.axes import Travel, Unwinding

_WITHOUT_SIDE = Unwinding()
STEP_DEG = 1e-6
"""Angles that differ by less are the same: far below what any rotary word can say."""

_PER_DEG = 1_000_000
_TURN = 360 * _PER_DEG
_NEVER = 1 << 60


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
    """A span that fits into the travel in no turn.

    index      of the span; `operation` is its number
    needs_deg  how far it turns from its lowest to its highest angle
    reason     "width": more than the travel; "place": its angles lie outside in every turn; "overshoot": it could only be
               arrived at from the asked side by going past the travel
    """

    index: int
    operation: int
    needs_deg: float
    reason: Literal["width", "place", "overshoot"]


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
    spots = [(_count(s.start_w), _count(s.end_w), _count(s.lowest_w), _count(s.highest_w)) for s in spans]
    windows: list[tuple[int, int]] | None = None
    if travel.kind == "limited":
        windows = [_window(span, travel) for span in spans]
        for index, (first, last) in enumerate(windows):
            if first > last:
                needs = spans[index].highest_w - spans[index].lowest_w
                reason: Literal["width", "place"] = "width" if needs > travel.highest - travel.lowest + STEP_DEG else "place"
                return Unfit(index, spans[index].operation, needs, reason)
    fixed: list[int | None] = [None] * len(spots)
    if unwinding.between == "zero":
        for index, (start, _, _, _) in enumerate(spots):
            if index == 0 or spans[index].operation != spans[index - 1].operation:
                fixed[index] = turn = _around_zero(start, windows[index] if windows else None)
                if windows is not None:
                    windows[index] = turn, turn
    links, moved = _Links(travel, unwinding), _Links(travel, _WITHOUT_SIDE)
    each = [links if span.turned_to else moved for span in spans]
    free = _without_limits(spots, each, links, fixed, _count(start_w))
    if windows is None or _fits(spots, free, windows, each, _count(start_w)):
        return free
    return _within_limits(spans, spots, windows, each, links, _count(start_w))


def fits(span: Span, travel: Travel) -> bool:
    """Whether a span fits into the travel in some turn."""
    first, last = _window(span, travel) if travel.kind == "limited" else (0, 0)
    return first <= last


def _window(span: Span, travel: Travel) -> tuple[int, int]:
    """The fewest and the most whole turns with which a span lies in limited travel."""
    return -((_count(span.lowest_w) - _count(travel.lowest)) // _TURN), (_count(travel.highest) - _count(span.highest_w)) // _TURN


def end_position(w_deg: float, travel: Travel, unwinding: Unwinding) -> float:
    """Where the rotary is left at the end of the program, degrees, from where the last operation ended.

    At rollover zero is the nearest whole turn, for there is no other. With limited travel the nearest whole turn within it;
    0 always is (the profile sees to it).
    """
    if unwinding.at_end == "stay":
        return w_deg
    if unwinding.at_end == "zero" and travel.kind != "rollover":
        return 0.0
    return _nearest_turn(_count(w_deg), travel) / _PER_DEG


def _count(degrees: float) -> int:
    return round(degrees * _PER_DEG)


def _nearest_turn(w: int, travel: Travel) -> int:
    """The whole turn nearest to w, within limited travel if one is; half way the one nearer to zero."""
    turn = (abs(w) + _TURN // 2 - 1) // _TURN * (1 if w >= 0 else -1)
    if travel.kind == "limited":
        turn = min(max(turn, -(-_count(travel.lowest) // _TURN)), _count(travel.highest) // _TURN)
    return turn * _TURN


def _around_zero(start: int, window: tuple[int, int] | None) -> int:
    """The turn in which a span starts in [-180, 180), or nearest to it within the travel."""
    turn = -((start + _TURN // 2) // _TURN)
    return turn if window is None else min(max(turn, window[0]), window[1])


class _Links:
    """What the way between two spans costs, and where it may arrive."""

    def __init__(self, travel: Travel, unwinding: Unwinding) -> None:
        one_side = unwinding.between == "one_side"
        self.past = _count(unwinding.overshoot) if one_side else 0
        self.up = 2 * self.past if unwinding.arrive_from == "above" else 0
        self.down = 2 * self.past if unwinding.arrive_from == "below" else 0
        self.travel = travel
        self.ends_at_zero = unwinding.at_end == "zero" and travel.kind != "rollover"
        self.ends_at_turn = unwinding.at_end != "stay" and not self.ends_at_zero
        limited = travel.kind == "limited"
        self.low = _count(travel.lowest) if limited else -_NEVER
        self.high = _count(travel.highest) if limited else _NEVER

    def cost(self, from_w: int, to_w: int) -> int:
        """The turning from one angle to another; never where the overshoot leaves the travel."""
        if to_w > from_w:
            return to_w - from_w + self.up if not self.up or to_w + self.past <= self.high else _NEVER
        if to_w < from_w:
            return from_w - to_w + self.down if not self.down or to_w - self.past >= self.low else _NEVER
        return 0

    def costs(self, from_w: int, to_w: Ints) -> Ints:
        """The same to many angles."""
        way = to_w - from_w
        cost = np.abs(way)
        cost[way > 0] += self.up
        cost[way < 0] += self.down
        if self.up:
            cost[(way > 0) & (to_w + self.past > self.high)] = _NEVER
        if self.down:
            cost[(way < 0) & (to_w - self.past < self.low)] = _NEVER
        return cost

    def end(self, w: int) -> int:
        """The turning after the last span."""
        if self.ends_at_zero:
            return abs(w)
        return abs(w - _nearest_turn(w, self.travel)) if self.ends_at_turn else 0


_Spot = tuple[int, int, int, int]


def _without_limits(spots: list[_Spot], each: list[_Links], links: _Links, fixed: list[int | None], start_w: int) -> list[int]:
    """The turns of least turning when the travel has no end: between two spans whose turn is fixed, each chain by itself."""
    turns: list[int] = []
    at, index = start_w, 0
    while index < len(spots):
        given = fixed[index]
        if given is not None:
            turns.append(given)
            at, index = spots[index][1] + given * _TURN, index + 1
        stop = index
        while stop < len(spots) and fixed[stop] is None:
            stop += 1
        target = spots[stop][0] + (fixed[stop] or 0) * _TURN if stop < len(spots) else 0 if links.ends_at_zero else None
        turns += _chain(spots[index:stop], each[index:stop], at, target)
        index = stop
    return turns


def _chain(spots: list[_Spot], each: list[_Links], start_w: int, target: int | None) -> list[int]:
    """The turns of least turning from one angle on; `target`: where the rotary goes after the last span, None: nowhere in particular."""
    turns: list[int] = []
    gaps: list[int] = []
    at = start_w
    for (start, end, _, _), links in zip(spots, each, strict=True):
        gap = (start - at) % _TURN
        up, down = gap + (links.up if gap else 0), (_TURN - gap + links.down if gap else _TURN)
        rising, falling = at + gap, at + gap - _TURN
        take_up = up < down or (up == down and (abs(rising), -rising) < (abs(falling), -falling))
        turn = ((rising if take_up else falling) - start) // _TURN
        turns.append(turn)
        gaps.append(down - up if take_up else up - down)
        at = end + turn * _TURN
    if target is None:
        return turns
    # turning a link the other way costs its gap once, and brings the end a turn nearer to where it has to go
    toward = -1 if at > target else 1
    switchable = _links_toward(toward, spots, turns, start_w)
    switched: set[int] = set()
    for index in sorted(switchable, key=lambda i: (gaps[i], -i)):
        if abs(at - target) - abs(at + toward * _TURN - target) <= gaps[index]:
            break
        at += toward * _TURN
        switched.add(index)
    moved = 0
    for index in range(len(turns)):
        moved += toward if index in switched else 0
        turns[index] += moved
    return turns


def _links_toward(toward: int, spots: list[_Spot], turns: list[int], start_w: int) -> list[int]:
    """The links that now turn away from `toward`, and could turn that way instead."""
    at, found = start_w, []
    for index, ((start, end, _, _), turn) in enumerate(zip(spots, turns, strict=True)):
        way = start + turn * _TURN - at
        if way * toward < 0:
            found.append(index)
        at = end + turn * _TURN
    return found


def _fits(spots: list[_Spot], turns: list[int], windows: list[tuple[int, int]], each: list[_Links], start_w: int) -> bool:
    at = start_w
    for (start, end, _, _), turn, (first, last), links in zip(spots, turns, windows, each, strict=True):
        if not first <= turn <= last or links.cost(at, start + turn * _TURN) >= _NEVER:
            return False
        at = end + turn * _TURN
    return True


def _within_limits(
    spans: Sequence[Span], spots: list[_Spot], windows: list[tuple[int, int]], each: list[_Links], links: _Links, start_w: int
) -> list[int] | Unfit:
    """Dynamic programming from the last span to the first: what is left to turn from each turn of each span."""
    turns = [np.arange(first, last + 1, dtype=np.int64) for first, last in windows]
    left: list[Ints] = [np.empty(0, dtype=np.int64)] * len(spots)
    left[-1] = np.array([links.end(int(spots[-1][1] + t * _TURN)) for t in turns[-1]], dtype=np.int64)
    for index in range(len(spots) - 2, -1, -1):
        ends, starts = spots[index][1] + turns[index] * _TURN, spots[index + 1][0] + turns[index + 1] * _TURN
        left[index] = _least(ends, starts, left[index + 1], each[index + 1])
        if left[index].min() >= _NEVER:
            return _overshoots(spans, index + 1)
    chosen: list[int] = []
    at = start_w
    for index, (start, end, _, _) in enumerate(spots):
        starts = start + turns[index] * _TURN
        total = np.minimum(each[index].costs(at, starts), _NEVER) + left[index]
        if total.min() >= _NEVER:
            return _overshoots(spans, index)
        equal = np.flatnonzero(total == total.min())
        best = min(equal, key=lambda i: (abs(int(starts[i])), -int(starts[i])))
        chosen.append(int(turns[index][best]))
        at = end + chosen[-1] * _TURN
    return chosen


def _overshoots(spans: Sequence[Span], index: int) -> Unfit:
    return Unfit(index, spans[index].operation, spans[index].highest_w - spans[index].lowest_w, "overshoot")


def _least(ends: Ints, starts: Ints, left: Ints, links: _Links) -> Ints:
    """For each end the least of turning to a start and what is left from there; both rise, so running minima will do."""
    upward = np.where(starts + links.past <= links.high, left, _NEVER) if links.up else left
    downward = np.where(starts - links.past >= links.low, left, _NEVER) if links.down else left
    above = np.append(np.minimum.accumulate((upward + starts)[::-1])[::-1], 2 * _NEVER)
    below = np.append(2 * _NEVER, np.minimum.accumulate(downward - starts))
    before, after = np.searchsorted(starts, ends, "left"), np.searchsorted(starts, ends, "right")
    least = np.minimum(above[after] - ends + links.up, below[before] + ends + links.down)
    same = np.flatnonzero(after > before)
    least[same] = np.minimum(least[same], left[before[same]])
    # what cannot be reached stays so, whatever was added to it
    return np.where(least >= _NEVER // 2, _NEVER, least)
