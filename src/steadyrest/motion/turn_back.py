"""A cut that needs more turning than the rotary's travel: turn back whole turns where the travel ends, and go on."""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, take
from steadyrest.errors import PlanError
from steadyrest.motion.links import Moves, arriving_travel, rapids, risen, turn
from steadyrest.motion.model import LINE, NAN, RAPID, Asked, Event, Motion, Seen, Stand, Step, after, motion
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivision import cut_at
from steadyrest.notices import noticed
from steadyrest.profile import Travel

SLACK_DEG = 1e-6
"""Past the end of the travel by less is not past it: far below what any rotary word can say."""
SLACK_COUNTS = 1.5
"""Past the end of the travel by so many counts of an angle's word is put onto it: less than words are rounded by twice."""
LEAST_DEG = 2.0
"""So much of a cut is left at least where it is broken off."""


class TurnBack(NamedTuple):
    """Before the move to a row the rotary turns by whole turns where it stands, the tool retracted.

    row    the move to it is the first in the new turn; 0: the operation is begun in another turn than the column says
    turns  by how many it turns, signed
    total  what to add to the column from this row on, whole turns
    """

    row: int
    turns: int
    total: int


def kept_in_travel(rows: Motion, stand: Stand, number: int, setup: Setup, seen: Seen) -> Generator[Step, None, tuple[Stand, int]]:
    """The rows in pieces, the rotary turned back between them; returns the stand after them, and the whole turns added on the way.

    raises    PlanError where the travel is too short to turn back a whole turn
    """
    assert setup.rotary is not None
    travel = setup.rotary.travel
    rows, back = _broken_off(rows, stand, number, setup)
    ends = [max(0, step.row - 1) for step in back]
    total = 0
    for begin, end, step in zip([0, *ends], [*ends, len(rows)], [*back, None], strict=True):
        if end > begin or step is None:
            piece = take(rows, slice(begin, end))
            # what is past the end of the travel by a hair is put onto it
            piece = replace(piece, rotary_deg=np.clip(piece.rotary_deg + 360.0 * total, travel.lowest, travel.highest))
            yield Asked(piece, stand, seen)
            stand = after(piece, stand)
        if step is not None:
            leaves = rows.kind[end] == RAPID  # the tool leaves the cut: back into it, at rapid even, it must not go
            lowest = float(rows.xyz[end, 2]) if leaves else -math.inf
            stand = yield from _turned_back(stand, step.turns, NAN if leaves else float(rows.feed[end]), number, setup, lowest)
            seen.turned_back.append(noticed("TurnedBack", setup.place(number, int(rows.move[end])), turns=step.turns))
            total = step.total
    return stand, total


def _turned_back(stand: Stand, turns: int, feed: float, operation: int, setup: Setup, lowest: float) -> Moves:
    """Turn back whole turns inside an operation: up, turn, down to just over the path, and at feed onto it again.

    turns     whole turns added to W
    feed      of the tip, program units per minute, for the last bit of the way down; NaN before a rapid: all the way at rapid
    lowest    the height to which a rapid that comes next takes the tool: it does not go back below that
    """
    x, y, z = stand.xyz
    z = max(z, lowest)
    target = stand.rotary_deg[0] + 360.0 * turns
    back: list[Motion] = []
    stand = _gathered(risen(stand, operation, setup), back)
    stand = _gathered(turn(target, stand, operation, setup, clamp=False, rule="turn_back"), back)
    yield Event("turn_back", operation, "turn_back", facts={"turns": turns}, motion=tuple(back))
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
        yield Asked(rows, stand, Seen())
        stand = after(rows, stand)
    return stand


def _gathered(moves: Moves, into: list[Motion]) -> Stand:
    """Carry moves out, their motion and that of their events put into a list."""
    while True:
        try:
            item = next(moves)
        except StopIteration as done:
            stand: Stand = done.value
            return stand
        into += [item] if isinstance(item, Motion) else item.motion if isinstance(item, Event) else []


def _broken_off(rows: Motion, stand: Stand, number: int, setup: Setup) -> tuple[Motion, list[TurnBack]]:
    """The rows, cut where a move alone needs more than the travel, and where the rotary turns back between them.

    A cut may run on to the very end of the travel, where the rotary could not arrive; only where that fits in no way it may not.
    """
    assert setup.rotary is not None
    travel = arriving_travel(setup.rotary)
    slack = SLACK_COUNTS / setup.counts("angle")
    for usable in (setup.rotary.travel, travel):
        try:
            column = np.concatenate([stand.rotary_deg, rows.rotary_deg[:, 0]])
            at, fractions = limit_points(column, usable, slack_deg=slack, least_deg=LEAST_DEG)
            pieces = cut_at(rows, stand, at - 1, fractions, setup)
            up = np.concatenate([[True], pieces.kind == RAPID])
            column = np.concatenate([stand.rotary_deg, pieces.rotary_deg[:, 0]])
            arriving = travel.lowest, travel.highest
            return pieces, turn_backs(column, usable, arriving=arriving, up=up, slack_deg=slack, least_deg=LEAST_DEG)
        except PlanError as error:
            failed = error
    raise PlanError(failed.wrong, place=setup.place(number), cure=failed.cure) from None


def turn_backs(
    w_deg: Floats,
    travel: Travel,
    *,
    arriving: tuple[float, float] | None = None,
    up: Bools | None = None,
    slack_deg: float = SLACK_DEG,
    least_deg: float = 0.0,
) -> list[TurnBack]:
    """Where the rotary turns back so that a cut stays in the travel, least often: on as far as it goes, then back by as little as
    lets it go furthest.

    Where a rapid comes before the end of what fits, the rotary is turned back there if it then turns back less often inside a
    cut, where it may show on the part.

    w_deg     (n,) float, degrees, unwound; row 0 is where the cut begins
    arriving  the lowest and the highest angle at which the rotary can arrive after turning back; the whole travel unless given
    up        (n,) bool, whether the move to a row is a rapid; None: none is
    slack_deg   how far past the end of the travel is not past it
    least_deg   where less than this is left of a cut, it is broken off earlier: nobody goes back into a cut for a hair
    returns   in order of the rows; empty when all fits as it is. One stands where the last row was, so the place of the
              row before it lies in the travel in both turns
    raises    PlanError when the turn of a single move fits in no turn: cut it first, at `limit_points`
    source    a part of what fits fits as well, so running on as far as possible never costs one more
    """
    if travel.kind != "limited" or len(w_deg) == 0:
        return []
    lowest, highest = arriving if arriving is not None else (travel.lowest, travel.highest)
    up = np.zeros(len(w_deg), dtype=np.bool_) if up is None else up
    room = _Room(w_deg, up, travel.lowest - slack_deg, travel.highest + slack_deg, lowest - slack_deg, highest + slack_deg)
    found: list[TurnBack] = []
    first, total = 0, 0
    while True:
        stop, fewest, most = room.run(first)
        if stop <= first + 1 and stop < len(w_deg):
            raise _too_narrow(w_deg, stop, travel)
        turns = min(max(total, fewest), most)
        if turns != total:
            found.append(TurnBack(first + 1 if first else 0, turns - total, turns))
        if stop == len(w_deg):
            return found
        last = room.last_arrival(first, stop)
        if last == first:
            raise _too_narrow(w_deg, stop, travel)
        first, total = _better_place(room, first, last, least_deg), turns


class _Room(NamedTuple):
    """Angles (n,), which rows are come to at rapid, the travel, and between which angles the rotary can arrive, slack included."""

    w_deg: Floats
    up: Bools
    low: float
    high: float
    lowest: float
    highest: float

    def arrives(self, row: int) -> bool:
        """Whether it can arrive at the angle of a row in some turn."""
        w_deg = float(self.w_deg[row])
        return math.ceil((self.lowest - w_deg) / 360.0) <= math.floor((self.highest - w_deg) / 360.0)

    def last_arrival(self, first: int, stop: int) -> int:
        """The last row before `stop` at which it can arrive; `first` where there is none after it."""
        return next((row for row in range(stop - 1, first, -1) if self.arrives(row)), first)

    def end_of_cut(self, row: int) -> int:
        """The row after a row that is next come to at rapid, or the end of all."""
        after = np.flatnonzero(self.up[row + 1 :])
        return row + 1 + int(after[0]) if len(after) else len(self.w_deg)

    def run(self, first: int) -> tuple[int, int, int]:
        """How many rows from `first` on fit together, the row after them, and the turns in which they do."""
        low, high = self.low, self.high
        lowest = highest = float(self.w_deg[first])
        least, most = math.ceil((self.lowest - lowest) / 360.0), math.floor((self.highest - lowest) / 360.0)
        at, size = first, 1024
        while at < len(self.w_deg):
            block = self.w_deg[at : at + size]
            floor = np.minimum(np.minimum.accumulate(block), lowest)
            ceiling = np.maximum(np.maximum.accumulate(block), highest)
            outside = np.maximum(np.ceil((low - floor) / 360.0), least) > np.minimum(np.floor((high - ceiling) / 360.0), most)
            broken = int(np.argmax(outside)) if outside.any() else len(block)
            if broken:
                lowest, highest = float(floor[broken - 1]), float(ceiling[broken - 1])
            at += broken
            if broken < len(block):
                break
            size *= 2
        return at, max(least, math.ceil((low - lowest) / 360.0)), min(most, math.floor((high - highest) / 360.0))

    def pieces(self, first: int, end: int) -> int:
        """In how many pieces the rows from `first` to before `end` fit; very many where they do not."""
        pieces = 1
        while (stop := self.run(first)[0]) < end:
            last = self.last_arrival(first, stop)
            if last == first:
                return end
            pieces, first = pieces + 1, last
        return pieces


def _better_place(room: _Room, first: int, last: int, least_deg: float) -> int:
    """The row at which the rotary is turned back, that could run on from row `first` to row `last`: there, or at one before."""
    if room.up[last + 1]:
        return last
    last = _leaving_enough(room, first, last, least_deg)
    rapids = np.flatnonzero(room.up[first + 2 : last + 1]) + first + 2
    if not len(rapids):
        return last
    before, end = int(rapids[-1]) - 1, room.end_of_cut(last)
    return before if room.arrives(before) and room.pieces(before, end) - 1 < room.pieces(last, end) else last


def _leaving_enough(room: _Room, first: int, last: int, least_deg: float) -> int:
    """The row, or one before it in the same cut, from which the cut has more than `least_deg` to go."""
    w_deg = room.w_deg
    if np.abs(w_deg[last : room.end_of_cut(last)] - w_deg[last]).max() >= least_deg:
        return last
    rapids = np.flatnonzero(room.up[first + 1 : last + 1])
    begin = first + 1 + int(rapids[-1] if len(rapids) else 0)
    for row in (np.flatnonzero(np.abs(w_deg[begin:last] - w_deg[last]) >= least_deg)[::-1] + begin).tolist():
        if room.arrives(row) and room.run(row)[0] > last + 1:
            return int(row)
    return last


def limit_points(w_deg: Floats, travel: Travel, *, slack_deg: float = SLACK_DEG, least_deg: float = 0.0) -> tuple[Ints, Floats]:
    """Where moves that fit in no turn have to be cut, at an end of the travel, so that `turn_backs` finds its places.

    w_deg    (n,) float, degrees, unwound; row 0 is where the cut begins
    returns  rows (m,) int64 and fractions (m,) float, above 0 and below 1, both in order: a point belongs on the move to
             that row, at that part of its turn. Empty when no move has to be cut; slack_deg and least_deg as for `turn_backs`
    raises   PlanError when the travel is under a full turn and a move goes on past it
    """
    rows: list[int] = []
    fractions: list[float] = []
    if travel.kind == "limited" and len(w_deg):
        least, most = np.minimum(w_deg[1:], w_deg[:-1]), np.maximum(w_deg[1:], w_deg[:-1])
        fewest = np.ceil((travel.lowest - slack_deg - least) / 360.0)
        for row in np.flatnonzero(fewest > np.floor((travel.highest + slack_deg - most) / 360.0)) + 1:
            before, after = float(w_deg[row - 1]), float(w_deg[row])
            at, last = before, before
            while (beyond := _furthest(at, after, travel)) != after:
                if beyond == at:
                    raise _too_narrow(w_deg, int(row), travel)
                last, at = at, beyond
                rows.append(int(row))
                fractions.append((at - before) / (after - before))
            if at != before and abs(after - at) < least_deg:
                earlier = at + float(np.sign(before - after)) * min(least_deg, abs(at - last) / 2)
                if _furthest(earlier, after, travel) == after:
                    fractions[-1] = (earlier - before) / (after - before)
    return np.array(rows, dtype=np.int64), np.array(fractions)


def _furthest(start: float, toward: float, travel: Travel) -> float:
    """How far a turn from `start` gets in the turn that lets it go furthest; `start` where there is none."""
    fewest = math.ceil((travel.lowest - SLACK_DEG - start) / 360.0)
    most = math.floor((travel.highest + SLACK_DEG - start) / 360.0)
    if fewest > most:
        return start
    if toward > start:
        return max(start, min(toward, travel.highest - 360.0 * fewest))
    return min(start, max(toward, travel.lowest - 360.0 * most))


def _too_narrow(w_deg: Floats, row: int, travel: Travel) -> PlanError:
    before = f"from {w_deg[row - 1]:.6g} " if row else ""
    return PlanError(
        f"the turn {before}to {w_deg[row]:.6g} degrees fits nowhere in the rotary's travel "
        f"from {travel.lowest:g} to {travel.highest:g} degrees",
        cure="use a rotary with at least a full turn of travel, turn the part in its chuck, or split the operation",
    )
