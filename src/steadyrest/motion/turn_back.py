"""A cut that needs more turning than the rotary's travel: turn back whole turns where the travel ends, and go on."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import replace

import numpy as np

from steadyrest.columns import take
from steadyrest.errors import PlanError
from steadyrest.motion.feeds import Slowed, with_feeds
from steadyrest.motion.limits import TurnBack, limit_points, turn_backs
from steadyrest.motion.links import arriving_travel, turned_back
from steadyrest.motion.model import RAPID, Motion, PlanItem, Stand
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivision import cut_at
from steadyrest.notices import TurnedBack

SLACK_COUNTS = 1.5
"""Past the end of the travel by so many counts of an angle's word is put onto it: less than words are rounded by twice."""
LEAST_DEG = 2.0
"""So much of a cut is left at least where it is broken off."""


def kept_in_travel(rows: Motion, stand: Stand, number: int, setup: Setup, slowed: Slowed) -> Generator[PlanItem, None, tuple[Stand, int]]:
    """The rows in pieces, the rotary turned back between them; returns the stand after them, and the whole turns added on the way.

    raises    PlanError where the travel is too short to turn back a whole turn
    """
    rows, back = _turned_back(rows, stand, number, setup)
    done = total = 0
    for step in back:
        before = max(0, step.row - 1)
        if before > done:
            run, stand = with_feeds(_in_turn(rows, done, before, total, setup), stand, setup, slowed)
            yield run
        if rows.kind[before] == RAPID:  # the tool leaves the cut: back into it, at rapid even, it must not go
            items, stand = turned_back(stand, step.turns, float("nan"), number, setup, leaves_to=float(rows.xyz[before, 2]))
        else:
            items, stand = turned_back(stand, step.turns, float(rows.feed[before]), number, setup)
        yield from items
        setup.notices.append(TurnedBack(setup.place(number, int(rows.move[before])), step.turns))
        done, total = before, step.total
    run, stand = with_feeds(_in_turn(rows, done, len(rows), total, setup), stand, setup, slowed)
    yield run
    return stand, total


def _turned_back(rows: Motion, stand: Stand, number: int, setup: Setup) -> tuple[Motion, list[TurnBack]]:
    """The rows, cut where a move alone needs more than the travel, and where the rotary turns back between them.

    A cut may run on to the very end of the travel, where the rotary could not arrive; only where that fits in no way it may not.
    """
    assert setup.rotary is not None
    travel, arriving = setup.rotary.travel, arriving_travel(setup.rotary)
    slack = SLACK_COUNTS / setup.counts("angle")
    narrow = travel.model_copy(update={"lowest": arriving[0], "highest": arriving[1]})
    for usable in (travel, narrow):
        try:
            column = np.concatenate([stand.rotary_deg, rows.rotary_deg[:, 0]])
            at, fractions = limit_points(column, usable, slack_deg=slack, least_deg=LEAST_DEG)
            pieces = cut_at(rows, stand, at - 1, fractions, setup)
            up = np.concatenate([[True], pieces.kind == RAPID])
            column = np.concatenate([stand.rotary_deg, pieces.rotary_deg[:, 0]])
            return pieces, turn_backs(column, usable, arriving=arriving, up=up, slack_deg=slack, least_deg=LEAST_DEG)
        except PlanError as error:
            failed = error
    raise PlanError(failed.wrong, place=setup.place(number), cure=failed.cure) from None


def _in_turn(rows: Motion, start: int, stop: int, turns: int, setup: Setup) -> Motion:
    """Some of the rows, whole turns added to their angles, and what is past the end of the travel by a hair put onto it."""
    assert setup.rotary is not None
    piece, travel = take(rows, slice(start, stop)), setup.rotary.travel
    return replace(piece, rotary_deg=np.clip(piece.rotary_deg + 360.0 * turns, travel.lowest, travel.highest))
