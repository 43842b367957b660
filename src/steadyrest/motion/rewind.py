"""A cut that needs more turning than the rotary's travel: turn back whole turns where the travel ends, and go on."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import replace

import numpy as np

from steadyrest.errors import PlanError
from steadyrest.motion.links import arriving_travel, rewound
from steadyrest.motion.model import RAPID, PlanItem
from steadyrest.motion.rows import Rows, Stand
from steadyrest.motion.setup import Setup
from steadyrest.motion.speed import Slowed, axis_run
from steadyrest.notices import Rewound

EDGE_DEG = 1e-9
"""Standing on the end of the travel is within it, whatever the last bit of a float says."""


def kept_in_travel(
    rows: Rows, stand: Stand, number: int, rule: str, setup: Setup, slowed: Slowed
) -> Generator[PlanItem, None, tuple[Stand, int]]:
    """The rows in pieces between rewinds; returns the stand after them, and the whole turns that were added on the way.

    Each rewind turns back as far as the travel lets it, so that the next piece is as long as it can be.
    """
    assert setup.rotary is not None
    travel = setup.rotary.travel
    added = 0
    while len(rows):
        out = (rows.w_deg > travel.highest + EDGE_DEG) | (rows.w_deg < travel.lowest - EDGE_DEG)
        first = int(np.argmax(out)) if out.any() else len(rows)
        if first:
            piece = rows.taken(slice(0, first))
            run, stand = axis_run(piece, stand, number, rule, setup, slowed)
            yield run
            rows = rows.taken(slice(first, None))
        if len(rows):
            turns = _back(stand.w_deg, float(rows.w_deg[0]), rows, number, setup)
            feed = float(rows.asked[0]) if rows.motion[0] != RAPID else float("nan")
            items, stand = rewound(stand, turns, feed, number, setup)
            yield from items
            setup.notices.append(Rewound(setup.place(number, int(rows.move[0])), turns))
            rows = replace(rows, w_deg=rows.w_deg + 360.0 * turns)
            added += turns
    return stand, added


def _back(now: float, target: float, rows: Rows, number: int, setup: Setup) -> int:
    """Whole turns back from an end of the travel: as many as fit."""
    assert setup.rotary is not None
    travel = setup.rotary.travel
    low, high = arriving_travel(setup.rotary)
    if target > travel.highest:
        turns = -int(np.floor((min(now - low, target - travel.lowest) + EDGE_DEG) / 360.0))
    else:
        turns = int(np.floor((min(high - now, travel.highest - target) + EDGE_DEG) / 360.0))
    if turns == 0:
        raise PlanError(
            f"the rotary cannot go on at {target:.3f} degrees: its travel is {travel.lowest:g} to {travel.highest:g}, "
            "and there is no room to turn back a whole turn",
            place=setup.place(number, int(rows.move[0])),
            cure="a rotary with at least a whole turn and 30 degrees of travel can be rewound; split the operation for this one",
        )
    return turns
