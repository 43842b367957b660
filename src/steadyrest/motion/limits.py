"""Where must the rotary turn back inside an operation, when its travel ends before the cut does?"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.profile.axes import Travel

SLACK_DEG = 1e-6
"""Past the end of the travel by less is not past it: far below what any rotary word can say."""


class TurnBack(NamedTuple):
    """Before the move to a row the rotary turns by whole turns where it stands, the tool retracted.

    row    the move to it is the first in the new turn; 0: the operation is begun in another turn than the column says
    turns  by how many it turns, signed
    total  what to add to the column from this row on, whole turns
    """

    row: int
    turns: int
    total: int


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
    low, high = arriving if arriving is not None else (travel.lowest, travel.highest)
    room = _Room(travel, low - slack_deg, high + slack_deg, slack_deg)
    found: list[TurnBack] = []
    first, total = 0, 0
    while True:
        stop, fewest, most = _run(w_deg, first, room)
        if stop <= first + 1 and stop < len(w_deg):
            raise _too_narrow(w_deg, stop, travel)
        turns = min(max(total, fewest), most)
        if turns != total:
            found.append(TurnBack(first + 1 if first else 0, turns - total, turns))
        if stop == len(w_deg):
            return found
        first, total = _turned_back_at(w_deg, first, stop, room, up, least_deg), turns


class _Room(NamedTuple):
    """The travel, and between which angles the rotary can arrive, slack included."""

    travel: Travel
    lowest: float
    highest: float
    slack_deg: float

    def arrives(self, w_deg: float) -> bool:
        """Whether it can arrive at an angle in some turn."""
        return math.ceil((self.lowest - w_deg) / 360.0) <= math.floor((self.highest - w_deg) / 360.0)


def _turned_back_at(w_deg: Floats, first: int, stop: int, room: _Room, up: Bools | None, least_deg: float) -> int:
    """Where the rotary is turned back that fits from row `first` to before row `stop`."""
    last = stop - 1
    while last > first and not room.arrives(float(w_deg[last])):
        last -= 1
    if last == first:
        raise _too_narrow(w_deg, stop, room.travel)
    if up is None or up[last + 1]:
        return last
    last = _leaving_enough(w_deg, first, last, room, up, least_deg)
    rapids = np.flatnonzero(up[first + 2 : last + 1]) + first + 2
    if not len(rapids):
        return last
    before = int(rapids[-1]) - 1
    after = np.flatnonzero(up[last + 1 :])
    end = last + 1 + int(after[0]) if len(after) else len(w_deg)
    inside = _pieces(w_deg[:end], before, room) - 1
    return before if room.arrives(float(w_deg[before])) and inside < _pieces(w_deg[:end], last, room) else last


def _leaving_enough(w_deg: Floats, first: int, last: int, room: _Room, up: Bools, least_deg: float) -> int:
    """The row, or one before it, from which a cut has more than `least_deg` to go."""
    after = np.flatnonzero(up[last + 1 :])
    end = last + 1 + int(after[0]) if len(after) else len(w_deg)
    if np.abs(w_deg[last:end] - w_deg[last]).max() >= least_deg:
        return last
    back = np.flatnonzero(np.abs(w_deg[first + 1 : last] - w_deg[last]) >= least_deg)
    for row in (back[::-1] + first + 1).tolist():
        if not up[row + 1 : last + 1].any() and room.arrives(float(w_deg[row])) and _run(w_deg, row, room)[0] > last + 1:
            return int(row)
    return last


def _pieces(w_deg: Floats, first: int, room: _Room) -> int:
    """In how many pieces the rows from `first` on fit; very many where they do not."""
    pieces = 1
    while (stop := _run(w_deg, first, room)[0]) < len(w_deg):
        last = stop - 1
        while last > first and not room.arrives(float(w_deg[last])):
            last -= 1
        if last == first:
            return len(w_deg)
        pieces, first = pieces + 1, last
    return pieces


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


def _run(w_deg: Floats, first: int, room: _Room) -> tuple[int, int, int]:
    """How many rows from `first` on fit together, the row after them, and the turns in which they do."""
    low, high = room.travel.lowest - room.slack_deg, room.travel.highest + room.slack_deg
    least = math.ceil((room.lowest - float(w_deg[first])) / 360.0)
    most = math.floor((room.highest - float(w_deg[first])) / 360.0)
    lowest = highest = float(w_deg[first])
    at, size = first, 1024
    while at < len(w_deg):
        block = w_deg[at : at + size]
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
        f"the turn {before}to {w_deg[row]:.6g} degrees fits in no turn of the rotary's travel "
        f"from {travel.lowest:g} to {travel.highest:g} degrees",
        cure="a rotary with at least a full turn of travel can be turned back; else turn the part in its chuck, or split the operation",
    )
