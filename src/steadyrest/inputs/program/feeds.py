"""How fast does each row of a program cut, and where does it begin?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.inputs.arcs import lengths
from steadyrest.inputs.items import Arcs
from steadyrest.inputs.program.state import Taking
from steadyrest.reading import MotionRead
from steadyrest.reading.model import CLOCKWISE, FEED_PER_MINUTE, RAPID

Floats = NDArray[np.float64]


def starts(run: MotionRead, rows: slice) -> Floats:
    """(n, 3) where each of these rows begins, mm."""
    return run.vertex_mm[rows]


def feeds_of(taking: Taking, run: MotionRead, rows: slice, arcs: Arcs | None = None) -> Floats:
    """Feeds in mm per minute (n,), NaN in rapids: the F word where it is one per minute, else length over time."""
    taking.cut_in.add(run.mm_per_unit)
    words, modes = run.feed_word[rows], run.feed_mode[rows]
    feed = words if run.mm_per_unit == 1.0 else words * run.mm_per_unit
    timed = modes != FEED_PER_MINUTE
    if timed.any():
        ways = np.linalg.norm(run.end_mm[rows] - starts(run, rows), axis=1)
        if arcs is not None:
            of_arc = run.motion[rows] >= CLOCKWISE
            ways[of_arc] = lengths(arcs, run.end_mm[rows][of_arc])
        with np.errstate(divide="ignore", invalid="ignore"):
            rate = ways / run.minutes[rows]
        feed = np.where(timed, rate, feed)
        for row in np.flatnonzero(timed & ~(rate > 0) & (run.motion[rows] != RAPID)).tolist():  # of no length: any feed will do
            before = feed[row - 1] if row else taking.feed_mm
            feed[row] = 1.0 if np.isnan(before) else before
    last = feed[-1]
    if np.isnan(last):
        known = np.flatnonzero(~np.isnan(feed))
        last = feed[known[-1]] if len(known) else taking.feed_mm
    taking.feed_mm = float(last)
    return feed
