"""A cut that needs more turning than the rotary's travel: turn back whole turns where the travel ends, and go on."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, take
from steadyrest.conventions import LINE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.links import Moves, arriving_travel, clear_height, rapids, turn_stops, turning
from steadyrest.motion.model import NAN, Asked, Event, Motion, Stand, after, motion
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivision import cut_at
from steadyrest.notices import noticed

SLACK_DEG = 1e-6
"""Past the end of the travel by less is not past it: far below what any rotary word can say."""
SLACK_COUNTS = 1.5
"""Past the end of the travel by so many counts of an angle's word is put onto it: less than words are rounded by twice."""
MOST_RAPIDS_BACK = 50
"""So many rapids before the end of the travel are tried as a place to turn back at."""
LEAST_DEG = 2.0
"""So much of a cut is left at least where it is broken off."""


def kept_in_travel(rows: Motion, stand: Stand, number: int, setup: Setup) -> Moves:
    """The rows in pieces, the rotary turned back between them.

    raises    PlanError where the travel is too short to turn back a whole turn
    """
    assert setup.rotary is not None
    travel = setup.rotary.travel
    rows, back = _broken_off(rows, stand, number, setup)
    begin = total = 0
    for row, turns in [*back, (len(rows) + 1, 0)]:
        end = max(0, row - 1)
        if end > begin or end == len(rows):
            piece = take(rows, slice(begin, end))
            # what is past the end of the travel by a hair is put onto it
            piece = replace(piece, rotary_deg=np.clip(piece.rotary_deg + 360.0 * total, travel.lowest, travel.highest))
            yield Asked(piece, stand)
            stand = after(piece, stand)
        if end < len(rows):
            leaves = rows.kind[end] == RAPID  # the tool leaves the cut: back into it, at rapid even, it must not go
            lowest = float(rows.xyz[end, 2]) if leaves else -math.inf
            feed = NAN if leaves else float(rows.feed[end])
            stand = yield from _turned_back(stand, turns - total, feed, number, setup, lowest)
            place = setup.place(number, int(rows.move[end]))
            setup.seen[number].turned_back.append(noticed("TurnedBack", place, turns=turns - total))
            begin, total = end, turns
    return stand


def _turned_back(stand: Stand, turns: int, feed: float, operation: int, setup: Setup, lowest: float) -> Moves:
    """Turn back whole turns inside an operation: up, turn, down to just over the path, and at feed onto it again.

    turns     whole turns added to W
    feed      of the tip, program units per minute, for the last bit of the way down; NaN before a rapid: all the way at rapid
    lowest    the height to which a rapid that comes next takes the tool: it does not go back below that
    """
    x, y, z = stand.xyz
    z = max(z, lowest)
    target = stand.rotary_deg[0] + 360.0 * turns
    assert setup.rotary is not None
    back = [turning([turn_stops(target, stand.rotary_deg[0], setup.rotary)], operation, "turn_back")]
    if stand.xyz[2] < (clear := clear_height(operation, setup)):
        up, stand = rapids([(NAN, NAN, clear)], stand, operation, "retract")
        back = [up, *back]
    yield Event("turn_back", operation, "turn_back", facts={"turns": turns}, motion=tuple(back))
    stand = stand._replace(rotary_deg=(target,), arrived=(True,))
    if stand.xyz[2] == z:
        return stand
    over = z + setup.profile.safety.clearance * setup.mm
    down = z if np.isnan(feed) else float(np.fmin(over, stand.xyz[2]))
    fast, stand = rapids([(NAN, NAN, down)], stand, operation, "turn_back")
    yield fast
    if down > z:
        rows = motion(
            LINE, np.array([[x, y, z]]), np.array([stand.rotary_deg]), feed=feed, tip=down - z, operation=operation, rule="turn_back"
        )
        yield Asked(rows, stand)
        stand = after(rows, stand)
    return stand


def _broken_off(rows: Motion, stand: Stand, number: int, setup: Setup) -> tuple[Motion, list[tuple[int, int]]]:
    """The rows, cut where a move alone needs more than the travel, and where the rotary turns back between them.

    A cut may run on to the very end of the travel, where the rotary could not arrive; only where that fits in no way it may not.
    """
    assert setup.rotary is not None
    arriving = arriving_travel(setup.rotary)
    for usable in (setup.rotary.travel, arriving):
        ends = (usable.lowest, usable.highest), (arriving.lowest, arriving.highest)
        room = Room(*_column(rows, stand), *ends, SLACK_COUNTS / setup.counts("angle"))
        try:
            at, fractions = limit_points(room)
            pieces = cut_at(rows, stand, at - 1, fractions, setup)
            w_deg, up = _column(pieces, stand)
            return pieces, turn_backs(room._replace(w_deg=w_deg, up=up))
        except PlanError as error:
            failed = error
    raise PlanError(failed.wrong, place=setup.place(number), cure=failed.cure) from None


def _column(rows: Motion, stand: Stand) -> tuple[Floats, Bools]:
    return np.concatenate([stand.rotary_deg, rows.rotary_deg[:, 0]]), np.concatenate([[True], rows.kind == RAPID])


def _turns(ends: tuple[float, float], slack_deg: float, least: Any, most: Any) -> tuple[Any, Any]:
    """The fewest and the most whole turns that bring angles from `least` to `most` between two ends."""
    return np.ceil((ends[0] - slack_deg - least) / 360.0), np.floor((ends[1] + slack_deg - most) / 360.0)


class Room(NamedTuple):
    """How the rotary turns in consecutive rows, and between which ends; degrees.

    w_deg      (n,) float, unwound; row 0 is where the rows begin
    up         (n,) bool, whether the move to a row is a rapid
    travel     the lowest and the highest angle
    arriving   the lowest and the highest angle at which the rotary can arrive after turning back
    slack_deg  how far past an end is not past it
    least_deg  where less than this is left of a cut, it is broken off earlier: nobody goes back into a cut for a hair
    """

    w_deg: Floats
    up: Bools
    travel: tuple[float, float]
    arriving: tuple[float, float]
    slack_deg: float
    least_deg: float = LEAST_DEG

    def arrivals(self, first: int, stop: int) -> Ints:
        """The rows, from `first` to before `stop`, at whose angle it can arrive in some turn."""
        w_deg = self.w_deg[first:stop]
        fewest, most = _turns(self.arriving, self.slack_deg, w_deg, w_deg)
        return np.flatnonzero(fewest <= most) + first

    def arrives(self, row: int) -> bool:
        """Whether it can arrive at the angle of a row in some turn."""
        return len(self.arrivals(row, row + 1)) > 0

    def last_arrival(self, first: int, stop: int) -> int:
        """The last row before `stop` at which it can arrive; `first` where there is none after it."""
        rows = self.arrivals(first + 1, stop)
        return int(rows[-1]) if len(rows) else first

    def run(self, first: int) -> tuple[int, int, int]:
        """How many rows from `first` on fit together, the row after them, and the turns in which they do."""
        low = high = self.w_deg[first]
        fewest, most = _turns(self.arriving, self.slack_deg, low, high)
        at, size = first, 1024
        while at < len(self.w_deg):
            block = self.w_deg[at : at + size]
            floor = np.minimum(np.minimum.accumulate(block), low)
            ceiling = np.maximum(np.maximum.accumulate(block), high)
            least, greatest = _turns(self.travel, self.slack_deg, floor, ceiling)
            fitting = int(np.count_nonzero(np.maximum(least, fewest) <= np.minimum(greatest, most)))
            if fitting:
                low, high = floor[fitting - 1], ceiling[fitting - 1]
            at += fitting
            if fitting < len(block):
                break
            size *= 2
        least, greatest = _turns(self.travel, self.slack_deg, low, high)
        return at, int(max(least, fewest)), int(min(greatest, most))

    def pieces(self, first: int, end: int) -> int:
        """In how many pieces the rows from `first` to before `end` fit; very many where they do not."""
        pieces = 1
        while (stop := self.run(first)[0]) < end:
            last = self.last_arrival(first, stop)
            if last == first:
                return end
            pieces, first = pieces + 1, last
        return pieces

    def furthest(self, start: float, toward: float) -> float:
        """How far a turn from `start` gets in the turn that lets it go furthest; `start` where there is none."""
        fewest, most = _turns(self.travel, SLACK_DEG, start, start)
        if fewest > most:
            return start
        if toward > start:
            return float(max(start, min(toward, self.travel[1] - 360.0 * fewest)))
        return float(min(start, max(toward, self.travel[0] - 360.0 * most)))

    def too_narrow(self, row: int) -> PlanError:
        """The travel has no room for the move to a row."""
        before = f"from {self.w_deg[row - 1]:.6g} " if row else ""
        return PlanError(
            f"the turn {before}to {self.w_deg[row]:.6g} degrees fits nowhere in the rotary's travel "
            f"from {self.travel[0]:g} to {self.travel[1]:g} degrees",
            cure="use a rotary with at least a full turn of travel, turn the part in its chuck, or split the operation",
        )


def turn_backs(room: Room) -> list[tuple[int, int]]:
    """Where the rotary turns back so that a cut stays in the travel, least often: on as far as it goes, then back by as little as
    lets it go furthest.

    Where a rapid comes before the end of what fits, the rotary is turned back there if it then turns back less often inside a
    cut, where it may show on the part.

    returns   rows, in order, the move to which is the first in another turn than the one before, and how many whole turns to add to the
              column from there on; 0: the operation is begun so. The rotary turns where the row before stands, whose place lies in the
              travel in both turns; empty when all fits as it is
    raises    PlanError when the turn of a single move fits in no turn: cut it first, at `limit_points`
    source    a part of what fits fits as well, so running on as far as possible never costs one more
    """
    found: list[tuple[int, int]] = []
    first, total = 0, 0
    while True:
        stop, fewest, most = room.run(first)
        if stop <= first + 1 and stop < len(room.w_deg):
            raise room.too_narrow(stop)
        turns = min(max(total, fewest), most)
        if turns != total:
            found.append((first + 1 if first else 0, turns))
        if stop == len(room.w_deg):
            return found
        last = room.last_arrival(first, stop)
        if last == first:
            raise room.too_narrow(stop)
        first, total = _better_place(room, first, last), turns


def _better_place(room: Room, first: int, last: int) -> int:
    """The row at which the rotary is turned back, that could run on from row `first` to row `last`: there, or at one before."""
    if room.up[last + 1]:
        return last
    w_deg, rapids = room.w_deg, np.flatnonzero(room.up)
    end = int(next(iter(rapids[rapids > last]), len(w_deg)))
    rapids = rapids[(rapids > first + 1) & (rapids <= last)]
    begin = int(rapids[-1]) if len(rapids) else first + 1
    if np.abs(w_deg[last:end] - w_deg[last]).max() < room.least_deg:  # earlier in the same cut, so that enough of it is left
        far = np.flatnonzero(np.abs(w_deg[begin:last] - w_deg[last]) >= room.least_deg) + begin
        fitting = (row for row in far[::-1].tolist() if room.arrives(row) and room.run(row)[0] > last + 1)
        last = next(fitting, last)
    marks = room.pieces(last, end)
    before = (int(row) - 1 for row in rapids[:-MOST_RAPIDS_BACK:-1] if room.arrives(int(row) - 1))
    return next((row for row in before if room.pieces(row, end) - 1 < marks), last)


def limit_points(room: Room) -> tuple[Ints, Floats]:
    """Where moves that fit in no turn have to be cut, at an end of the travel, so that `turn_backs` finds its places.

    returns  rows (m,) int64 and fractions (m,) float, above 0 and below 1, both in order: a point belongs on the move to
             that row, at that part of its turn. Empty when no move has to be cut
    raises   PlanError when the travel is under a full turn and a move goes on past it
    """
    rows: list[int] = []
    fractions: list[float] = []
    least, most = np.minimum(room.w_deg[1:], room.w_deg[:-1]), np.maximum(room.w_deg[1:], room.w_deg[:-1])
    fewest, greatest = _turns(room.travel, room.slack_deg, least, most)
    for row in (np.flatnonzero(fewest > greatest) + 1).tolist():
        before, after = room.w_deg[row - 1 : row + 1].tolist()
        places = [before]
        while (beyond := room.furthest(places[-1], after)) != after:
            if beyond == places[-1]:
                raise room.too_narrow(row)
            places.append(beyond)
        if len(places) > 1 and abs(after - places[-1]) < room.least_deg:
            earlier = places[-1] + np.sign(before - after) * min(room.least_deg, abs(places[-1] - places[-2]) / 2)
            if room.furthest(earlier, after) == after:
                places[-1] = earlier
        rows += [row] * (len(places) - 1)
        fractions += [(place - before) / (after - before) for place in places[1:]]
    return np.array(rows, dtype=np.int64), np.array(fractions)
