"""To which operation of the toolpath does each block of the program belong?

The proof goes through both side by side and keeps the time at feed and at rapid that each operation took. Those times, added up, say
where one operation ends and the next begins; nothing in the program's text has to be trusted for it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof import Verdict
from steadyrest.report.track import Blocks

HAIR = 1e-9
"""Part of the whole time; sums in another order differ by less."""


def operation_of_blocks(blocks: Blocks, verdict: Verdict) -> NDArray[np.uint16]:
    """The number (n,) of each block's operation, from 1. What comes after the first difference gets the number after the last one found."""
    cut = np.cumsum(np.where(blocks.rapid, 0.0, blocks.minutes))
    rapid = np.cumsum(np.where(blocks.rapid, blocks.minutes, 0.0))
    cut_ends = np.cumsum([one.cutting_minutes for one in verdict.operations])
    rapid_ends = np.cumsum([one.rapid_minutes for one in verdict.operations])
    if len(cut_ends) == 0 or len(blocks) == 0:
        return np.ones(len(blocks), dtype=np.uint16)
    hair = HAIR * (cut[-1] + rapid[-1])
    at = np.maximum(np.searchsorted(cut_ends, cut - hair), np.searchsorted(rapid_ends, rapid - hair))
    most = len(cut_ends) if verdict.failure is not None else len(cut_ends) - 1
    return np.asarray(np.minimum(np.maximum.accumulate(at), most) + 1, dtype=np.uint16)


def first_lines(blocks: Blocks, operation: NDArray[np.uint16]) -> tuple[int, ...]:
    """The line at which each operation, from 1 to the last, begins to move."""
    if len(operation) == 0:
        return ()
    starts = np.searchsorted(operation, np.arange(1, int(operation[-1]) + 1))
    return tuple(int(line) for line in blocks.line[starts])
