"""Is there still material where a rapid, a shank or a holder goes? Told at points within the tool, from all stamps before it.

A point of the stock is gone when an earlier position of a tool has held it: an exact answer for that point, without a field. `Remaining`
stands in the place of the carver in a `Simulation`, keeps the stamps near the places that `Uncut` has found, and looks at those places
when the program comes to them.
"""

from __future__ import annotations

from math import ceil, isfinite

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation.field import Field
from steadyrest.simulation.solid import ToolSolid
from steadyrest.simulation.stamps import FIRST_FROM, FIRST_TO, HEIGHT, PHI, RISE, SECOND_FROM, SECOND_TO
from steadyrest.simulation.taken import DEPTH, HOLDER, SHANK, nothing_taken
from steadyrest.simulation.uncut import Uncut

RINGS = ((0.0, 1), (0.55, 6), (0.98, 16))
"""Share of the radius, and points on that circle."""
MOST_HEIGHTS, MOST_PLACES = 40, 64
CLEAR_MM = 0.02
APART, MOST_SKIPPED = 0.4, 64
"""Share of the radius by which two places that are looked at lie apart: nothing thicker than that hides between them; and how
many stamps are passed over at most."""
FIRST_TRIED = 48
"""Stamps before a place that are tried first: mostly it was cut just before."""
AT_ONCE = 200_000
"""Pairs of point and stamp: so many stay in the cache."""

_UNIT_RINGS = np.array(
    [(share * np.cos(angle), share * np.sin(angle), share) for share, count in RINGS for angle in 2 * np.pi * np.arange(count) / count]
)
"""First, second, and distance from the tool's axis, for a radius of 1."""


class Remaining:
    """What is left of the stock near some places along the axis.

    uncut   the stock before the first cut
    near    (k, 2) from and to along the axis, mm: where something could touch
    """

    def __init__(self, uncut: Uncut, near: Floats) -> None:
        self._uncut = uncut
        self._near = _joined(near)
        self.field: Field = uncut.field
        self.last, self.top_mm = uncut.last, uncut.top_mm
        self.done = 0
        self._solids: list[ToolSolid] = []
        self._table, self._solid, self._held = np.empty((1024, 10)), np.empty(1024, dtype=np.int64), 0

    def near(self, low: Floats, high: Floats) -> NDArray[np.bool_]:
        """(n,) whether what reaches from low to high along the axis comes near one of the places."""
        at = np.searchsorted(self._near[:, 1], low)
        return np.asarray((at < len(self._near)) & (self._near[np.minimum(at, len(self._near) - 1), 0] <= high))

    def carve(self, table: Floats, operation: int, solids: tuple[ToolSolid, ToolSolid], touch_mm: float) -> Floats:
        """Keep the stamps (k, 10), and look at those that could touch: (k, COLUMNS) of `taken`, DEPTH, SHANK and HOLDER in mm."""
        self.done += len(table)
        solid, small = solids
        first = self._keep(table, solid)
        out = nothing_taken(len(table))
        could = self._uncut.carve(table, operation, solids, touch_mm)
        rings = {DEPTH: (small, small.lift_mm, np.inf)}
        if isfinite(solid.cutting_mm):
            rings[SHANK] = (_cylinder(small.radius_mm), solid.cutting_mm + touch_mm, solid.length_mm)
        if isfinite(solid.length_mm):
            rings[HOLDER] = (_cylinder(solid.holder_mm), solid.length_mm + touch_mm, np.inf)
        for column, (body, base, upper) in rings.items():
            for at in _spread(table, np.flatnonzero(could[:, column] > 0), APART * body.radius_mm):
                out[at, column] = self._left_mm(table[at], body, base, upper, first + int(at))
                out[at, column + 1 : column + 3] = could[at, column + 1 : column + 3]
        return out

    def _keep(self, table: Floats, solid: ToolSolid) -> int:
        """Take the stamps down; the number of the first."""
        first, need = self._held, self._held + len(table)
        if need > len(self._table):
            more = max(need, 2 * len(self._table))
            self._table = np.concatenate([self._table, np.empty((more - len(self._table), 10))])
            self._solid = np.concatenate([self._solid, np.empty(more - len(self._solid), dtype=np.int64)])
        if solid not in self._solids:
            self._solids.append(solid)
        self._table[first:need], self._solid[first:need] = table, self._solids.index(solid)
        self._held = need
        return first

    def _left_mm(self, stamp: Floats, body: ToolSolid, base: float, upper: float, before: int) -> float:
        """The most material over one point of the tool's rings, mm, that none of the first `before` stamps has taken away."""
        points, step = self._points(stamp, body, base, upper)
        if not len(points):
            return 0.0
        candidates = self._candidates(points, before)[::-1]  # the latest are the likeliest
        left, many = np.ones(len(points), dtype=bool), FIRST_TRIED
        while len(candidates) and left.any():
            some, candidates = candidates[:many], candidates[many:]
            where = np.flatnonzero(left)
            left[where[self._gone(points[where], some)]] = False
            many = max(AT_ONCE // max(int(left.sum()), 1), FIRST_TRIED)
        if not left.any():
            return 0.0
        column = points[left, 3].astype(np.int64)
        return float((np.bincount(column).max() - 0.5) * step)

    def _candidates(self, points: Floats, before: int) -> NDArray[np.int64]:
        """Which of the first `before` stamps come near the points at all, seen as a ball."""
        widest = max(solid.radius_mm for solid in self._solids)
        kept = self._table[:before]
        low, high = points[:, 0].min() - widest, points[:, 0].max() + widest
        near = (np.minimum(kept[:, FIRST_FROM], kept[:, FIRST_TO]) < high) & (np.maximum(kept[:, FIRST_FROM], kept[:, FIRST_TO]) > low)
        found = np.flatnonzero(near)
        if self.field.chart == "heights":
            return found
        across = points[:, 1] + 1j * points[:, 2]
        middle = across.mean()
        ball = float(np.abs(across - middle).max())
        stands = middle * np.exp(1j * kept[found, PHI])
        beside = np.maximum(kept[found, SECOND_FROM] - stands.imag, stands.imag - kept[found, SECOND_TO])
        return np.asarray(found[(beside < widest + ball) & (stands.real + ball > kept[found, HEIGHT])])

    def _points(self, stamp: Floats, body: ToolSolid, base: float, upper: float) -> tuple[Floats, float]:
        """Points of the stock within the tool: (k, 4) first, and across (real, imaginary) in the part; the number of their column.

        Heights chart: first, second, height. And the distance between two of a column, mm.
        """
        long = float(np.hypot(stamp[FIRST_TO] - stamp[FIRST_FROM], stamp[SECOND_TO] - stamp[SECOND_FROM]))
        places = int(np.clip(ceil(long / max(0.5 * body.radius_mm, 0.1)), 1, MOST_PLACES))
        share = np.linspace(0.0, 1.0, places + 1) if long > 0 else np.zeros(1)
        ring = _UNIT_RINGS * body.radius_mm
        first = (stamp[FIRST_FROM] + share * (stamp[FIRST_TO] - stamp[FIRST_FROM]))[:, None] + ring[None, :, 0]
        second = (stamp[SECOND_FROM] + share * (stamp[SECOND_TO] - stamp[SECOND_FROM]))[:, None] + ring[None, :, 1]
        lowest = stamp[HEIGHT] + base + CLEAR_MM + np.broadcast_to(body.bottom_mm(ring[:, 2]) - body.lift_mm, first.shape)
        highest = min(self.top_mm, float(stamp[HEIGHT] + stamp[RISE] + upper))
        step = max((highest - float(lowest.min())) / MOST_HEIGHTS, min(0.5 * body.radius_mm, 1.0))
        count = max(ceil((highest - float(lowest.min())) / step), 1)
        height = lowest[..., None] + step * np.arange(count)
        first, second = (np.broadcast_to(each[..., None], height.shape) for each in (first, second))
        column = np.broadcast_to(np.arange(lowest.size).reshape(lowest.shape)[..., None], height.shape)
        if self.field.chart == "heights":
            flat = np.column_stack([first.ravel(), second.ravel(), height.ravel(), column.ravel()])
        else:
            across = (height + 1j * second) * np.exp(-1j * stamp[PHI])
            flat = np.column_stack([first.ravel(), across.real.ravel(), across.imag.ravel(), column.ravel()])
        return flat[(height.ravel() < highest) & self._uncut.holds(flat[:, :3])], step

    def _gone(self, points: Floats, stamps: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Which points (p,) one of the stamps (k,) has taken."""
        gone = np.zeros(len(points), dtype=bool)
        for number in np.unique(self._solid[stamps]):
            solid, table = self._solids[number], self._table[stamps[self._solid[stamps] == number]]
            if self.field.chart == "heights":
                off, height = _off_way(points, table), points[:, 2][:, None] - table[None, :, HEIGHT]
            else:
                across = (points[:, 1] + 1j * points[:, 2])[:, None] * np.exp(1j * table[None, :, PHI])
                away = np.maximum(np.maximum(table[None, :, FIRST_FROM] - points[:, :1], points[:, :1] - table[None, :, FIRST_TO]), 0.0)
                side = across.imag
                aside = np.maximum(np.maximum(table[None, :, SECOND_FROM] - side, side - table[None, :, SECOND_TO]), 0.0)
                off, height = np.hypot(away, aside), across.real - table[None, :, HEIGHT]
            inside = (off < solid.radius_mm) & (height >= solid.bottom_mm(off)) & (height <= solid.cutting_mm + table[None, :, RISE])
            gone |= inside.any(axis=1)
        return gone


def _spread(table: Floats, chosen: NDArray[np.int64], apart_mm: float) -> list[int]:
    """Of the chosen stamps, those at least so far from the one chosen before; the first and the last always."""
    kept: list[int] = []
    place = table[:, [FIRST_TO, SECOND_TO, HEIGHT]]
    for at in chosen.tolist():
        before = kept[-1] if kept else at
        near = at - before <= MOST_SKIPPED and np.abs(place[at] - place[before]).max() < apart_mm and table[at, PHI] == table[before, PHI]
        if not kept or not near or at == chosen[-1]:
            kept.append(at)
    return kept


def _cylinder(radius: float) -> ToolSolid:
    return ToolSolid(0, radius, radius)


def _off_way(points: Floats, table: Floats) -> Floats:
    """(p, k) distance of points from the level ways of stamps, over the chart of heights."""
    go = table[:, [FIRST_TO, SECOND_TO]] - table[:, [FIRST_FROM, SECOND_FROM]]
    square = np.maximum((go * go).sum(axis=1), 1e-30)
    x, y = points[:, :1] - table[None, :, FIRST_FROM], points[:, 1:2] - table[None, :, SECOND_FROM]
    share = np.clip((x * go[:, 0] + y * go[:, 1]) / square, 0.0, 1.0)
    return np.asarray(np.hypot(x - share * go[:, 0], y - share * go[:, 1]))


def _joined(near: Floats) -> Floats:
    """Spans (k, 2) in rising order, those that overlap made one."""
    out: list[list[float]] = []
    for low, high in near[np.argsort(near[:, 0])].tolist():
        if out and low <= out[-1][1]:
            out[-1][1] = max(out[-1][1], high)
        else:
            out.append([low, high])
    return np.array(out)
