"""The motion of a program that turns rotaries while it cuts, or a head: as tip and tool axis in the part, block by block.

Between two blocks a machine moves all its axes evenly, and a toolpath the tip on a straight line with the tool axis the shortest way. Where
the two are farther apart than planning allows, a block becomes several moves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, Ints, take
from steadyrest.conventions import RAPID
from steadyrest.inputs.stretches import Moves
from steadyrest.motion import Line, tip_in_part, tool_axis
from steadyrest.reading import MotionRead

TIP_MM, AXIS_RAD = 0.01, np.radians(0.1)
"""How far tip and tool axis may be off what the machine does between two moves: the tip by what planning allows unless told otherwise."""
MEASURED_AT = (0.25, 0.5, 0.75)
MARGIN = 1.25
"""Into so many times more parts a block is cut as if it were bent evenly all along."""
PIECE_DEG, MOST_PARTS = 30.0, 120
"""A block is looked at piece by piece, of so many degrees at most, and each cut into so many parts at most: a quarter of a degree each."""
MOST_DEG = 360_000.0
"""A block that turns a rotary farther than a thousand turns is not cut up: it is refused."""


def in_part(moves: Moves, run: MotionRead, lines: Sequence[Line]) -> tuple[Moves, Ints, Floats]:
    """The moves of a run in the part, with tool axes; the row (m,) that each belongs to; and how far (n,) the tip goes in each row.

    Arcs turn nothing, and what is not known of a rotary is 0: who hands over a run has seen to both.
    """
    alpha = np.radians(np.nan_to_num(run.vertex_deg)) * [line.sign for line in lines]

    def laid(row: Ints, share: Floats) -> tuple[Floats, Floats]:
        at = share[:, None]
        place = np.where(at == 1.0, run.vertex_mm[row + 1], run.vertex_mm[row] + at * (run.vertex_mm[row + 1] - run.vertex_mm[row]))
        turned = alpha[row] + at * (alpha[row + 1] - alpha[row])
        return tip_in_part(place, turned, lines), tool_axis(turned, lines)

    parts = np.ones(len(run), dtype=np.int64)
    cut = np.flatnonzero((alpha[1:] != alpha[:-1]).any(axis=1) & (run.motion != RAPID))
    if len(cut):
        pieces = np.maximum(1, np.ceil(np.abs(alpha[cut + 1] - alpha[cut]).max(axis=1) / np.radians(PIECE_DEG))).astype(np.int64)
        of, first = np.repeat(cut, pieces), np.cumsum(pieces) - pieces
        size = 1 / np.repeat(pieces, pieces)
        begin = (np.arange(len(of)) - np.repeat(first, pieces)) * size
        (tip0, axis0), (tip1, axis1) = (laid(of, begin + end * size) for end in (0.0, 1.0))
        needed = np.ones(len(of))
        for part in MEASURED_AT:
            tip, axis = laid(of, begin + part * size)
            meant = axis0 + part * (axis1 - axis0)
            meant /= np.linalg.norm(meant, axis=1, keepdims=True)
            off = 2 * np.arcsin(np.minimum(1.0, np.linalg.norm(axis - meant, axis=1) / 2))
            way, gone = tip1 - tip0, tip - tip0
            along = np.einsum("ij,ij->i", gone, way) / np.maximum(np.einsum("ij,ij->i", way, way), 1e-12)
            far = np.maximum(np.linalg.norm(gone - np.clip(along, 0.0, 1.0)[:, None] * way, axis=1) / TIP_MM, off / AXIS_RAD)
            needed = np.maximum(needed, np.where(far > 1.0, np.sqrt(far) * MARGIN, 1.0))
        parts[cut] = pieces * np.minimum(np.ceil(np.maximum.reduceat(needed, first)), MOST_PARTS)
    row: Ints = np.repeat(np.arange(len(run)), parts)
    share = (np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts) + 1) / parts[row]
    tip, axis = laid(row, share)
    start = laid(np.zeros(1, dtype=np.int64), np.zeros(1))[0]
    steps: Floats = np.nan_to_num(np.linalg.norm(np.diff(tip, axis=0, prepend=start), axis=1))
    ways = np.bincount(row, steps, len(run)).astype(np.float64)
    found = replace(take(moves, row), end=tip, axis=axis)
    if found.arcs is not None:
        begin, centre, over = (
            tip_in_part(points, alpha[row + 1], lines)
            for points in (found.arcs.start, found.arcs.centre, found.arcs.centre + found.arcs.normal)
        )
        found = replace(found, arcs=replace(found.arcs, start=begin, centre=centre, normal=over - centre))
    return found, row, ways
