"""One arc by itself, as planning works on them in columns; for the tests of arcs."""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import PLANE_AXES, PLANES
from steadyrest.errors import Place
from steadyrest.motion.arcs import ArcRows, arc_rows, chords, parted
from steadyrest.toolpath import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, ArcColumns, MoveColumns
from steadyrest.toolpath.columns import with_sweeps

Spot = tuple[float, float, float]


def arc(
    start: Spot, end: Spot, centre: Spot = (0.0, 0.0, 0.0), plane: str = "XY", *, clockwise: bool = False, full_turns: int = 0
) -> ArcRows:
    """An arc whose sweep is the one that the toolpath works out."""
    kind = np.array([ARC_CLOCKWISE if clockwise else ARC_COUNTERCLOCKWISE], np.uint8)
    said = ArcColumns(np.array([centre]), np.array([PLANES.index(plane)], np.uint8), np.array([full_turns]), np.array([np.nan]))
    run = with_sweeps(MoveColumns(2, kind, np.array([end]), None, np.array([1.0]), said), np.array([start]), "mm", Place())
    assert run.arcs is not None
    return arc_rows(np.array([start]), run.end, run.arcs.centre, run.arcs.plane, run.arcs.sweep_rad)


def sweep_deg(arcs: ArcRows) -> float:
    """The sweep of the one arc."""
    return float(np.degrees(arcs.sweep_rad[0]))


def length(arcs: ArcRows) -> float:
    """The way along the one arc."""
    return float(parted(arcs, np.ones(1, np.int64))[1][0])


def in_blocks(arcs: ArcRows, parts: Floats) -> Floats:
    """The ends (m, 3) of the blocks of the one arc."""
    return parted(arcs, parts.astype(np.int64))[0]


def sweeps_deg(arcs: ArcRows, parts: Floats) -> list[float]:
    """The sweeps of the blocks of the one arc, from where they start and end, above 0 and to 360."""
    u, v, _ = PLANE_AXES[arcs.plane[0]]
    arms = np.vstack([arcs.start, in_blocks(arcs, parts)]) - arcs.centre[0]
    turned = np.degrees(np.diff(np.arctan2(arms[:, v], arms[:, u]))) * np.sign(arcs.sweep_rad[0])
    return [360.0 - (360.0 - float(value)) % 360.0 for value in turned]


def flattened(arcs: ArcRows, tolerance: float) -> Floats:
    """The ends (m, 3) of the chords that replace the one arc."""
    return in_blocks(arcs, chords(arcs, tolerance))
