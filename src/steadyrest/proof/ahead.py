"""What does the program do next, in the coordinates of the path? And does it do one block for one move?"""

from __future__ import annotations

from math import hypot

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.chart import Chart
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import Floats
from steadyrest.proof.intended import Elements
from steadyrest.proof.matching import Pairs, one_to_one
from steadyrest.proof.rows import PLANE_ORDER, Rows
from steadyrest.toolpath import RAPID

MOST_BLOCKS = 4096
"""Blocks paired by length at a time."""
_MOST_MOVES = 8192
"""Blocks compared at a time when each is one move; a power of two that stays in the cache."""
_FEW = 32
"""With fewer blocks than these that are one move each, pairing by length gets further."""


def chart_points(rows: Rows, chart: Chart, turns_off: float, first: int, stop: int) -> Floats:
    """Chart points (stop - first, 4) of the program's vertices, whole turns `turns_off` taken off."""
    at = slice(first, stop)
    return chart.of_program(rows.vertex[at], rows.phi[at] - turns_off, rows.tip[at])


def one_by_one(cursor: Cursor, chart: Chart, elements: Elements, at: int, u: float, turns_off: float, reach_mm: float) -> Pairs | None:
    """As many of the next blocks as end where one move each ends, from element `at` on; None when too few do to be worth it."""
    rows = cursor.rows
    assert rows is not None
    first = cursor.at
    n = min(len(rows) - first, len(elements) - at, _MOST_MOVES)
    same = (rows.motion[first : first + n] == RAPID) == (elements.kind[at : at + n] == RAPID)
    if not same.all():
        n = int(np.argmin(same))

    def near(count: int) -> NDArray[np.bool_]:
        points = chart_points(rows, chart, turns_off, first + 1, first + count + 1)
        gap = points - elements.points[at + 1 : at + count + 1]
        return np.asarray(np.einsum("ij,ij->i", gap, gap) <= reach_mm**2)

    if n == 0 or not near(min(n, 2)).any():
        return None
    found = near(n)
    if not found.all():
        n = int(np.argmin(found))
        if n < _FEW and elements.kind[at] != RAPID:
            return None
    return one_to_one(at, n, u) if n else None


def blocks_at_feed(cursor: Cursor, chart: Chart, turns_off: float) -> tuple[Floats, Floats]:
    """Chart points (n + 1, 4) and lengths (n,) of the blocks at feed that come next without a break; the first point is the present one."""
    rows = cursor.rows
    assert rows is not None
    first = cursor.at
    stop = min(first + MOST_BLOCKS, len(rows))
    rapids = np.flatnonzero(rows.motion[first:stop] == RAPID)
    if len(rapids):
        stop = first + int(rapids[0])
    points = chart_points(rows, chart, turns_off, first, stop + 1)
    way = np.diff(points, axis=0)
    lengths = np.sqrt(np.einsum("ij,ij->i", way, way))
    if rows.sweep is not None and rows.centre is not None and rows.plane is not None:
        for k in np.flatnonzero(rows.motion[first:stop] > 1):
            one, two, third = PLANE_ORDER[rows.plane[first + k]]
            arm = rows.vertex[first + k] - rows.centre[first + k]
            lengths[k] = hypot(hypot(float(arm[one]), float(arm[two])) * float(rows.sweep[first + k]), float(way[k, third]))
    return points, lengths
