"""What one stamp took out of the stock and touched: the columns in which both ways of carving say it.

VOLUME      mm3 taken
DEPTH       the most material taken from one line, mm; then that line's first and second number
AXIAL       the highest point over the tip at which material was taken, mm
SIDE_LOW    how far across its feed, to either side, it took material, mm (SIDE_HIGH less SIDE_LOW is the width of the cut); a tool that
SIDE_HIGH   only goes up or down: by how much to either side of its axis
LOST        mm3 of gaps for which a line had no room left: taken, but drawn as if still there
SHANK       the most material on one line within the shank, mm; then that line's numbers; HOLDER alike
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

VOLUME, DEPTH, DEPTH_FIRST, DEPTH_SECOND, AXIAL, SIDE_LOW, SIDE_HIGH, LOST = range(8)
SHANK, SHANK_FIRST, SHANK_SECOND, HOLDER, HOLDER_FIRST, HOLDER_SECOND = range(8, 14)
COLUMNS = 14


def nothing_taken(stamps: int) -> NDArray[np.float64]:
    """(stamps, COLUMNS) of a tool that has met nothing."""
    out = np.zeros((stamps, COLUMNS))
    out[:, SIDE_LOW], out[:, SIDE_HIGH] = np.inf, -np.inf
    return out


def together(parts: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """What the same stamps took from different rows of the field."""
    out = parts[0]
    for more in parts[1:]:
        out[:, VOLUME] += more[:, VOLUME]
        out[:, LOST] += more[:, LOST]
        out[:, AXIAL] = np.maximum(out[:, AXIAL], more[:, AXIAL])
        out[:, SIDE_LOW] = np.minimum(out[:, SIDE_LOW], more[:, SIDE_LOW])
        out[:, SIDE_HIGH] = np.maximum(out[:, SIDE_HIGH], more[:, SIDE_HIGH])
        for column in (DEPTH, SHANK, HOLDER):
            deeper = more[:, column] > out[:, column]
            out[deeper, column : column + 3] = more[deeper, column : column + 3]
    return out
