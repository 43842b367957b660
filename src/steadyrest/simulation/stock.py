"""Is there material where a rapid, a shank or a holder goes? Told for many stamps at once, without carving a field.

What stays clear of the whole stock stays clear of what is left of it. So only what would enter the uncut stock (`Uncut`) has to be looked
at once more, and most have nothing of the kind. That is told at points within the tool (`Remaining`): a point of the stock is
gone when an earlier position of a tool has held it, exactly. Both stand in the place of the carver in a `Simulation`.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.simulation.carving import nothing_taken
from steadyrest.simulation.field import Field, Section
from steadyrest.simulation.kernel import DEPTH, HOLDER, SHANK, Stamp, beyond, bottom, off_way
from steadyrest.simulation.solid import Solids, ToolSolid
from steadyrest.simulation.way import Chart, Way
from steadyrest.toolpath import Stock

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

UNIT_RINGS = np.array(
    [(share * np.cos(angle), share * np.sin(angle), share) for share, count in RINGS for angle in 2 * np.pi * np.arange(count) / count]
)
"""First, second, and distance from the tool's axis, for a radius of 1."""


def still_there(points: Floats, candidates: Ints, gone: Callable[[Floats, Ints], Bools]) -> Bools:
    """Which points (p, ...) none of the candidates (k,) has taken; `gone` says which of some points some of them have.

    The latest are asked first, a few: they are the likeliest. Then as many at once as there is room for.
    """
    left, many, candidates = np.ones(len(points), dtype=bool), FIRST_TRIED, candidates[::-1]
    while len(candidates) and left.any():
        some, candidates = candidates[:many], candidates[many:]
        where = np.flatnonzero(left)
        left[where[gone(points[where], some)]] = False
        many = max(AT_ONCE // max(int(left.sum()), 1), FIRST_TRIED)
    return left


def bodies(solids: Solids) -> dict[int, ToolSolid]:
    """What must not touch material, by the column that says so: the tool in a rapid, its shank and its holder at all times."""
    return {DEPTH: solids.rapid._replace(cutting_mm=np.inf), SHANK: solids.shank, HOLDER: solids.holder}


class Uncut:
    """The stock before the first cut, asked and never changed.

    stock, axis, scale   of the toolpath; mm per file unit
    field                its lines: where it begins and ends along the axis, and how high it stands
    """

    def __init__(self, field: Field, stock: Stock, axis: str, scale: float) -> None:
        self.field = field
        self.done = 0
        self.top_mm = float(field.outer_mm.max(initial=0.0))
        half = field.first_step_mm / 2
        self._span = float(field.first_mm[0]) - half, float(field.first_mm[-1]) + half
        self._section = Section.of(stock, axis, scale)

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Which of the stamps (k, 10) would touch: (k, COLUMNS) of `kernel`, with DEPTH, SHANK and HOLDER the height that is inside, mm."""
        self.done += len(table)
        out = nothing_taken(len(table))
        stamp = Stamp(*table.T)
        row = np.clip((stamp.first_from - self.field.first_mm[0]) / self.field.first_step_mm, 0, len(self.field.first_mm) - 1)
        for column, body in bodies(solids).items():
            out[:, column], out[:, column + 1] = self._inside(stamp, body), np.round(row)
        out[:, DEPTH] *= stamp.rapid
        return out

    def reached(self, chart: Chart, way: Way, rapid: Bools, solid: ToolSolid) -> Ints:
        """The blocks that have to be looked at: those in which something may touch."""
        blocks = chart.in_reach(way, solid)
        plunges = chart.plunges(way)[blocks] & ~way.guessed[blocks]
        _, _, height, _ = chart.seen(way.vertex, way.phi)
        low = np.minimum(height[blocks], height[blocks + 1]) - way.bulge_mm[blocks]
        deep = low + min(solid.cutting_mm, solid.length_mm) < self.top_mm
        # Straight up and down a shank no thicker than the edges goes where they have been.
        return np.asarray(blocks[~_leaves(way, blocks, rapid, plunges) & (rapid[blocks] | (deep & ~plunges))])

    def holds(self, points: Floats) -> Bools:
        """Whether the points (k, 3) lie in the stock: radii: along the axis, and across it at the part's turn 0; heights: x, y, z."""
        if self.field.chart == "heights":
            return self._section.holds(points[:, 0] + 1j * points[:, 1]) & (points[:, 2] >= 0) & (points[:, 2] < self.top_mm)
        return self._section.holds(points[:, 1] + 1j * points[:, 2]) & (points[:, 0] > self._span[0]) & (points[:, 0] < self._span[1])

    def _inside(self, stamp: Stamp, body: ToolSolid) -> Floats:
        """(k,) how far the lowest point of a body may lie below the highest material within its width; 0: clear."""
        if body.lift_mm == np.inf:
            return np.zeros(len(stamp.height))
        low, high = stamp.height + body.lift_mm, stamp.height + stamp.rise + body.cutting_mm
        near = np.maximum(stamp.first_from, stamp.first_to) + body.radius_mm > self._span[0]
        near &= np.minimum(stamp.first_from, stamp.first_to) - body.radius_mm < self._span[1]
        if self.field.chart == "heights":
            top, bottom = np.full(len(low), self.top_mm), np.zeros(len(low))
        else:
            top, bottom = self._section.heights(stamp.second_from - body.radius_mm, stamp.second_to + body.radius_mm, stamp.phi)
        return np.where(near & (low < top) & (high > bottom), np.minimum(top, high) - low, 0.0)


class Remaining(Uncut):
    """What is left of the stock near some places along the axis.

    near    (k, 2) from and to along the axis, mm: where something could touch
    """

    def __init__(self, field: Field, stock: Stock, axis: str, scale: float, near: Floats) -> None:
        super().__init__(field, stock, axis, scale)
        low, high = near[np.argsort(near[:, 0])].T
        high = np.maximum.accumulate(high)
        begins = np.concatenate([[True], low[1:] > high[:-1]])
        self._near = np.column_stack([low[begins], high[np.roll(begins, -1)]])  # those that overlap made one
        self._solids: list[ToolSolid] = []
        self._kept: list[Floats] = []  # of each stamp the ten numbers of `kernel.Stamp`, and which of the solids it moves

    def reached(self, chart: Chart, way: Way, rapid: Bools, solid: ToolSolid) -> Ints:
        """The blocks that have to be looked at: those that come near one of the places."""
        blocks = chart.in_reach(way, solid)
        plunges = chart.plunges(way)[blocks] & ~way.guessed[blocks]
        first, *_ = chart.seen(way.vertex, way.phi)
        wide = solid.radius_mm + way.bulge_mm[blocks]
        low, high = np.minimum(first[blocks], first[blocks + 1]) - wide, np.maximum(first[blocks], first[blocks + 1]) + wide
        return np.asarray(blocks[~_leaves(way, blocks, rapid, plunges) & self.near(low, high)])

    def near(self, low: Floats, high: Floats) -> Bools:
        """(n,) whether what reaches from low to high along the axis comes near one of the places."""
        at = np.searchsorted(self._near[:, 1], low)
        return np.asarray((at < len(self._near)) & (self._near[np.minimum(at, len(self._near) - 1), 0] <= high))

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Keep the stamps (k, 10), and look at those that could touch: (k, COLUMNS) of `kernel`, DEPTH, SHANK and HOLDER in mm."""
        if solids.cut not in self._solids:
            self._solids.append(solids.cut)
        self._kept.append(np.column_stack([table, np.full(len(table), self._solids.index(solids.cut))]))
        first, out = self.done, nothing_taken(len(table))
        could = super().carve(table, operation, solids, touch_mm)
        for column, body in bodies(solids).items():
            for at in _spread(table, np.flatnonzero(could[:, column] > 0), APART * body.radius_mm):
                out[at, column] = self._left_mm(Stamp(*table[at].tolist()), body, first + int(at))
                out[at, column + 1 : column + 3] = could[at, column + 1 : column + 3]
        return out

    def _left_mm(self, stamp: Stamp, body: ToolSolid, before: int) -> float:
        """The most material over one point of the tool's rings, mm, that none of the first `before` stamps has taken away."""
        points, step = self._points(stamp, body)
        if not len(points):
            return 0.0
        left = still_there(points, self._candidates(points, before), self._gone)
        if not left.any():
            return 0.0
        column = points[left, 3].astype(np.int64)
        return float((np.bincount(column).max() - 0.5) * step)

    def _candidates(self, points: Floats, before: int) -> Ints:
        """Which of the first `before` stamps come near the points at all, seen as a ball."""
        widest = max(solid.radius_mm for solid in self._solids)
        if len(self._kept) > 1:
            self._kept = [np.concatenate(self._kept)]
        kept = Stamp(*self._kept[0][:before, :10].T)
        low, high = points[:, 0].min() - widest, points[:, 0].max() + widest
        near = (np.minimum(kept.first_from, kept.first_to) < high) & (np.maximum(kept.first_from, kept.first_to) > low)
        found = np.flatnonzero(near)
        if self.field.chart == "heights":
            return found
        across = points[:, 1] + 1j * points[:, 2]
        middle = across.mean()
        ball = float(np.abs(across - middle).max())
        stands = middle * np.exp(1j * kept.phi[found])
        beside = np.maximum(kept.second_from[found] - stands.imag, stands.imag - kept.second_to[found])
        return np.asarray(found[(beside < widest + ball) & (stands.real + ball > kept.height[found])])

    def _points(self, stamp: Stamp, body: ToolSolid) -> tuple[Floats, float]:
        """Points of the stock within the tool: (k, 4) first, and across (real, imaginary) in the part; the number of their column.

        Heights chart: first, second, height. And the distance between two of a column, mm.
        """
        long = float(np.hypot(stamp.first_to - stamp.first_from, stamp.second_to - stamp.second_from))
        places = int(np.clip(ceil(long / max(0.5 * body.radius_mm, 0.1)), 1, MOST_PLACES))
        share = np.linspace(0.0, 1.0, places + 1) if long > 0 else np.zeros(1)
        ring = UNIT_RINGS * body.radius_mm
        first = (stamp.first_from + share * (stamp.first_to - stamp.first_from))[:, None] + ring[None, :, 0]
        second = (stamp.second_from + share * (stamp.second_to - stamp.second_from))[:, None] + ring[None, :, 1]
        lowest = stamp.height + body.lift_mm + CLEAR_MM + np.broadcast_to(bottom(body, ring[:, 2]), first.shape)
        highest = min(self.top_mm, float(stamp.height + stamp.rise + body.cutting_mm))
        step = max((highest - float(lowest.min())) / MOST_HEIGHTS, min(0.5 * body.radius_mm, 1.0))
        count = max(ceil((highest - float(lowest.min())) / step), 1)
        height = lowest[..., None] + step * np.arange(count)
        first, second = (np.broadcast_to(each[..., None], height.shape) for each in (first, second))
        column = np.broadcast_to(np.arange(lowest.size).reshape(lowest.shape)[..., None], height.shape)
        if self.field.chart == "heights":
            flat = np.column_stack([first.ravel(), second.ravel(), height.ravel(), column.ravel()])
        else:
            across = (height + 1j * second) * np.exp(-1j * stamp.phi)
            flat = np.column_stack([first.ravel(), across.real.ravel(), across.imag.ravel(), column.ravel()])
        return flat[(height.ravel() < highest) & self.holds(flat[:, :3])], step

    def _gone(self, points: Floats, stamps: Ints) -> Bools:
        """Which points (p,) one of the stamps (k,) has taken."""
        gone = np.zeros(len(points), dtype=bool)
        kept = self._kept[0][stamps]
        for number in np.unique(kept[:, 10]).tolist():
            solid, stamp = self._solids[int(number)], Stamp(*kept[kept[:, 10] == number, :10].T[:, None])
            if self.field.chart == "heights":
                off, height = off_way(stamp, points[:, :1], points[:, 1:2]), points[:, 2:3] - stamp.height
            else:
                across = (points[:, 1:2] + 1j * points[:, 2:3]) * np.exp(1j * stamp.phi)
                aside = beyond(stamp.second_from, stamp.second_to, across.imag)
                off = np.hypot(beyond(stamp.first_from, stamp.first_to, points[:, :1]), aside)
                height = across.real - stamp.height
            inside = (off < solid.radius_mm) & (height >= bottom(solid, off)) & (height <= solid.cutting_mm + stamp.rise)
            gone |= inside.any(axis=1)
        return gone


def _leaves(way: Way, blocks: Ints, rapid: Bools, plunges: Bools) -> Bools:
    """Whether in one of the blocks the tool goes straight up along itself: it leaves the place where it stood, and can touch nothing."""
    return np.asarray(rapid[blocks] & plunges & (way.vertex[blocks + 1, 2] >= way.vertex[blocks, 2]))


def _spread(table: Floats, chosen: Ints, apart_mm: float) -> list[int]:
    """Of the chosen stamps, those at least so far from the one chosen before; the first and the last always."""
    kept: list[int] = []
    stamp = Stamp(*table.T)
    place = np.column_stack([stamp.first_to, stamp.second_to, stamp.height])
    for at in chosen.tolist():
        before = kept[-1] if kept else at
        near = at - before <= MOST_SKIPPED and np.abs(place[at] - place[before]).max() < apart_mm and stamp.phi[at] == stamp.phi[before]
        if not kept or not near or at == chosen[-1]:
            kept.append(at)
    return kept
