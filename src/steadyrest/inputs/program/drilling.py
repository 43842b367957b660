"""How do the rows of a drilling cycle become a hole?"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from steadyrest.inputs.items import Hole, Moves
from steadyrest.inputs.program.feeds import feeds_of, starts
from steadyrest.inputs.program.state import Taking
from steadyrest.reading import MotionRead
from steadyrest.reading.model import LINE
from steadyrest.toolpath import RAPID

SAME_MM = 1e-9


def drill(taking: Taking, run: MotionRead, rows: slice) -> None:
    """Rows of the cycle in hand."""
    drilling = taking.drilling
    assert drilling is not None
    feeds = feeds_of(taking, run, rows)
    begins = starts(run, rows)
    for at, row in enumerate(range(rows.start, rows.stop)):
        if not drilling.ends:
            drilling.start = begins[at]
        drilling.ends.append(run.end_mm[row])
        drilling.motions.append(int(run.motion[row]))
        if run.motion[row] == LINE and math.isnan(drilling.feed):
            drilling.feed = float(feeds[at])


def close_hole(taking: Taking) -> None:
    """The hole whose rows are complete, if there is one."""
    drilling, taking.drilling = taking.drilling, None
    if drilling is None:
        return
    places = [drilling.start, *drilling.ends]
    down = next((row for row, motion in enumerate(drilling.motions) if motion == LINE), None)
    if down is None or np.isnan(places[down]).any():
        raise taking.error(drilling.line, "a drilling cycle from a place that is not known", "go to a position with X, Y and Z first")
    x, y, level = places[down].tolist()
    bottom = min(float(end[2]) for end in drilling.ends)
    says: dict[str, Any] = {"cycle": drilling.kind, "feed": drilling.feed}
    if drilling.kind in ("peck", "chip-break"):
        says["peck"] = level - float(drilling.ends[down][2])
    if drilling.dwell and drilling.kind not in ("drill", "tap"):
        says["dwell"] = drilling.dwell
    if drilling.kind == "dwell-drill":
        says.setdefault("dwell", 0.0)
    settings = taking.settings(drilling.line, cutting=True)
    taking.gatherer.add(settings, Hole(np.array([x, y, level]), 0.0, level - bottom, says, drilling.line))
    up = float(drilling.ends[-1][2])
    if up > level + SAME_MM:  # back to the level from before the cycle
        clear = Moves(np.array([RAPID], dtype=np.uint8), np.array([[x, y, up]]), np.array([np.nan]), np.array([drilling.line]))
        taking.gatherer.add(settings, clear)
