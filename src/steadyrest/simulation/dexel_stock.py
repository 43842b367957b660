"""Is there material where a rapid, a shank or a holder goes, the tool at any tilt? Told for many poses at once, without carving dexels.

What stays clear of the whole stock stays clear of what is left of it (`UncutBillet`); what does not is looked at once more at points within
the tool (`RemainingBillet`): a point of the stock is gone when an earlier pose of a tool has held it, exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.simulation.carving import nothing_taken
from steadyrest.simulation.dexel import Billet
from steadyrest.simulation.dexel_carving import seen_about
from steadyrest.simulation.dexel_kernel import Pose
from steadyrest.simulation.dexel_way import PoseChart, PoseWay
from steadyrest.simulation.kernel import DEPTH, HOLDER, SHANK, bottom
from steadyrest.simulation.solid import FLAT, Solids, ToolSolid

_TIP, _AXIS, _FEED = slice(0, 3), slice(3, 6), slice(6, 9)
_LONG, _RISE, _RAPID, _SOLID = 9, 10, 11, 12
"""Columns of a table of `Pose`, and of those that are kept."""
ALIKE = 0.02
"""Tool axes that differ by less than this are looked at as one."""
SLACK = 2e-3
"""Of the stock's diagonal: a tool that turns by two degrees reaches no higher over it between the ends of its way."""

RINGS = ((0.0, 1), (0.55, 6), (0.98, 16))
"""Share of the radius, and points on that circle."""
MOST_HEIGHTS, MOST_PLACES = 40, 64
CLEAR_MM = 0.02
APART, MOST_SKIPPED = 0.4, 64
"""Share of the radius by which two places that are looked at lie apart: nothing thicker than that hides between them; and how
many stamps are passed over at most."""
FIRST_TRIED = 48
"""Poses before a place that are tried first: mostly it was cut just before."""
AT_ONCE = 200_000
"""Pairs of point and pose: so many stay in the cache."""

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


class UncutBillet:
    """The stock before the first cut, asked and never changed; in the place of a carver.

    axis   of the toolpath
    """

    def __init__(self, billet: Billet, axis: str) -> None:
        self.billet = billet
        self.done = 0
        self._axis = axis

    def reached(self, chart: PoseChart, way: PoseWay, rapid: Bools, solid: ToolSolid) -> Ints:
        """The blocks that have to be looked at: those in which something may touch."""
        bare = min(solid.cutting_mm, solid.length_mm)
        if not rapid.any() and bare == np.inf:
            return np.zeros(0, dtype=np.int64)
        plunges = np.isfinite(way.up_mm) & ~way.guessed
        # Along itself a tool leaves the place where it stood, and a shank no thicker than the edges goes where they have been.
        wanted = np.where(rapid, ~plunges | (way.up_mm < 0), ~plunges)
        if bare < np.inf:
            height = self._height(*way.ends)  # what does not cut stands over all of the stock; where much turns it is not asked here
            over = np.maximum(height[:-1], height[1:]) < bare - SLACK * float(np.linalg.norm(self.billet.high - self.billet.low))
            wanted &= rapid | ~over | (way.parts > 1)
        else:
            wanted &= rapid
        return chart.in_reach(way, solid, wanted)

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Which of the poses (k, 12) would touch: (k, COLUMNS) of `kernel`, with DEPTH, SHANK and HOLDER the depth at most, mm."""
        self.done += len(table)
        out = nothing_taken(len(table))
        height = self._height(table[:, _TIP], table[:, _AXIS])
        for column, body in bodies(solids).items():
            asked = np.flatnonzero((height > body.lift_mm) & ((column != DEPTH) | (table[:, _RAPID] > 0)))
            if len(asked):
                rows = table[asked]
                out[asked, column] = self._deep(rows, body, height[asked])
                out[asked, column + 1 : column + 3] = seen_about(rows[:, _TIP] + body.lift_mm * rows[:, _AXIS], self._axis)
        return out

    def _deep(self, table: Floats, body: ToolSolid, height: Floats) -> Floats:
        """(k,) how far a body may be inside the box of the stock at most, by the least way out along some directions; 0: clear. The box
        comes up to `height` (k,) over the tips."""
        tip, axis, feed = table[:, _TIP], table[:, _AXIS], table[:, _FEED]
        top = np.minimum(body.cutting_mm + table[:, _RISE], height)
        ends = [tip + body.lift_mm * axis, tip + np.maximum(top, body.lift_mm)[:, None] * axis]
        ends += [end + table[:, _LONG, None] * feed for end in ends]
        places, half = np.stack(ends, axis=1) - self.billet.middle, (self.billet.high - self.billet.low) / 2
        deep = np.where(top > body.lift_mm, np.inf, 0.0)
        for direction in (*np.eye(3), axis, *(np.cross(axis, one) for one in np.eye(3))):
            unit = np.broadcast_to(direction, axis.shape)
            length = np.linalg.norm(unit, axis=1)
            unit = unit / np.maximum(length, 1e-9)[:, None]
            wide = body.radius_mm * np.sqrt(np.maximum(1.0 - np.einsum("ij,ij->i", unit, axis) ** 2, 0.0))
            reach, at = np.abs(unit) @ half, np.einsum("kpj,kj->kp", places, unit)
            out = np.minimum(reach + wide - at.min(axis=1), reach + wide + at.max(axis=1))
            deep = np.where(length > 1e-6, np.minimum(deep, out), deep)
        return np.maximum(deep, 0.0)

    def _height(self, tip: Floats, axis: Floats) -> Floats:
        return np.asarray(np.maximum((self.billet.low - tip) * axis, (self.billet.high - tip) * axis).sum(axis=1))


class RemainingBillet(UncutBillet):
    """What is left of the stock. Every pose is kept, and those that could touch are looked at.

    rapids_cut   whether what a rapid held before is gone as well: not where a tool that turns goes on little by little
    """

    def __init__(self, billet: Billet, axis: str, *, rapids_cut: bool = False) -> None:
        super().__init__(billet, axis)
        self._rapids_cut = rapids_cut
        self._solids: list[ToolSolid] = []
        self._poses = 0
        self._kept: list[Floats] = []  # of each pose the twelve numbers of `Pose`, and which of the solids it moves

    def reached(self, chart: PoseChart, way: PoseWay, rapid: Bools, solid: ToolSolid) -> Ints:
        """The blocks that have to be looked at: all but those that leave along the tool."""
        return chart.in_reach(way, solid, ~(rapid & (way.up_mm >= 0) & ~way.guessed))

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Keep the poses (k, 12), and look at those that could touch: (k, COLUMNS) of `kernel`, DEPTH, SHANK and HOLDER in mm."""
        return self.looked(table, super().carve(table, operation, solids, touch_mm), solids)

    def looked(self, table: Floats, could: Floats, solids: Solids) -> Floats:
        """What `carve` gives, by what would touch the uncut stock, alike."""
        if solids.cut not in self._solids:
            self._solids.append(solids.cut)
        self._kept.append(np.column_stack([table, np.full(len(table), self._solids.index(solids.cut))]))
        first, out = self._poses, nothing_taken(len(table))
        self._poses += len(table)
        for column, body in bodies(solids).items():
            for at in _spread(table, np.flatnonzero(could[:, column] > 0), APART * body.radius_mm):
                deep, place = self._left(Pose(*table[at].tolist()), body, first + int(at))
                if deep > 0:
                    out[at, column], out[at, column + 1 : column + 3] = deep, seen_about(place[None], self._axis)[0]
        return out

    def _left(self, pose: Pose, body: ToolSolid, before: int) -> tuple[float, Floats]:
        """The most material over one point of the tool's rings, mm, that none of the first `before` poses has taken away; and where."""
        points, column, step = self._points(pose, body)
        if not len(points):
            return 0.0, np.zeros(3)
        left = still_there(points, self._candidates(points, before), self._gone)
        if not left.any():
            return 0.0, np.zeros(3)
        found = np.bincount(column[left])
        return float((found.max() - 0.5) * step), points[left & (column == found.argmax())].mean(axis=0)

    def _points(self, pose: Pose, body: ToolSolid) -> tuple[Floats, Ints, float]:
        """Points of the stock within the tool (k, 3), the number of their column (k,), and the distance between two of a column, mm."""
        tip, axis, feed = (np.array(pose[at]) for at in (_TIP, _AXIS, _FEED))
        least = int(np.argmin(np.abs(axis)))
        aside, other = np.zeros(3), np.roll(axis, -least - 1)[:2]
        aside[[(least + 1) % 3, (least + 2) % 3]] = (other[1], -other[0]) / np.hypot(*other)
        places = int(np.clip(ceil(pose.long / max(0.5 * body.radius_mm, 0.1)), 1, MOST_PLACES))
        share = np.linspace(0.0, 1.0, places + 1) if pose.long > 0 else np.zeros(1)
        ring = UNIT_RINGS * body.radius_mm
        beside = axis[[1, 2, 0]] * aside[[2, 0, 1]] - axis[[2, 0, 1]] * aside[[1, 2, 0]]
        foot = (share * pose.long)[:, None, None] * feed + ring[:, :1] * aside + ring[:, 1:2] * beside
        foot = (tip + foot).reshape(-1, 3)
        lowest = np.tile(body.lift_mm + CLEAR_MM + np.broadcast_to(bottom(body, ring[:, 2]), len(ring)), len(share))
        highest = min(float(self._height(tip[None], axis[None])[0]), float(body.cutting_mm + pose.rise))
        if highest <= lowest.min():
            return np.zeros((0, 3)), np.zeros(0, dtype=np.int64), 0.0
        step = max((highest - float(lowest.min())) / MOST_HEIGHTS, min(0.5 * body.radius_mm, 1.0))
        height = lowest[:, None] + step * np.arange(max(ceil((highest - float(lowest.min())) / step), 1))
        column, row = np.nonzero(height < highest)
        points = foot[column] + height[column, row, None] * axis
        there = self.billet.holds(points)
        return points[there], column[there], step

    def _candidates(self, points: Floats, before: int) -> Ints:
        """Which of the first `before` poses come near the points at all, seen as a ball, and then as a box."""
        widest = max(solid.radius_mm for solid in self._solids)
        if len(self._kept) > 1:
            self._kept = [np.concatenate(self._kept)]
        kept = self._kept[0][:before]
        low, high = points.min(axis=0), points.max(axis=0)
        middle = (low + high) / 2
        ball = widest + float(np.sqrt(((points - middle) ** 2).sum(axis=1).max()))
        off = middle - kept[:, _TIP]
        height = np.einsum("ij,ij->i", off, kept[:, _AXIS])
        away2 = np.einsum("ij,ij->i", off, off) - height**2
        counts = self._rapids_cut | (kept[:, _RAPID] == 0)
        found = np.flatnonzero(counts & (height > -ball) & (away2 < (ball + kept[:, _LONG]) ** 2))
        kept, low, high = kept[found], low - widest, high + widest
        tip, up, go = kept[:, _TIP], (height[found] + ball)[:, None] * kept[:, _AXIS], kept[:, _LONG, None] * kept[:, _FEED]
        near = (tip + np.minimum(up, 0.0) + np.minimum(go, 0.0) < high) & (tip + np.maximum(up, 0.0) + np.maximum(go, 0.0) > low)
        return np.asarray(found[near.all(axis=1)])

    def _gone(self, points: Floats, poses: Ints) -> Bools:
        """Which points (p, 3) one of the poses (k,) has taken."""
        gone, kept = np.zeros(len(points), dtype=bool), self._kept[0][poses]
        for number in np.unique(kept[:, _SOLID]).tolist():
            gone |= held_by(points, kept[kept[:, _SOLID] == number], self._solids[int(number)]).any(axis=1)
        return gone


def held_by(points: Floats, table: Floats, solid: ToolSolid) -> Bools:
    """(p, k) which of the points (p, 3) a solid holds in which of its poses (k, 12 or more), exactly."""
    near, tips = points - points[0], table[:, _TIP] - points[0]
    height = near @ table[:, _AXIS].T - np.einsum("ij,ij->i", tips, table[:, _AXIS])
    away2 = np.einsum("ij,ij->i", near, near)[:, None] - 2 * near @ tips.T + np.einsum("ij,ij->i", tips, tips) - height * height
    if table[:, _LONG].any():
        along = near @ table[:, _FEED].T - np.einsum("ij,ij->i", tips, table[:, _FEED])
        beyond = np.clip(along, 0.0, table[:, _LONG])
        away2 -= beyond * (2 * along - beyond)
    held = (away2 < solid.radius_mm**2) & (height >= 0.0) & (height <= solid.cutting_mm + table[:, _RISE])
    if solid.kind != FLAT:
        some = np.nonzero(held)
        held[some] = height[some] >= bottom(solid, np.sqrt(np.maximum(away2[some], 0.0)))
    return np.asarray(held)


def _spread(table: Floats, chosen: Ints, apart_mm: float) -> list[int]:
    """Of the chosen poses, those at least so far from the one chosen before, or tilted another way; the first and the last always."""
    kept: list[int] = []
    for at in chosen.tolist():
        before = kept[-1] if kept else at
        near = at - before <= MOST_SKIPPED and np.abs(table[at, _TIP] - table[before, _TIP]).max() < apart_mm
        alike = np.abs(table[at, _AXIS] - table[before, _AXIS]).max() < ALIKE and table[at, _LONG] == 0
        if not kept or not (near and alike) or at == chosen[-1]:
            kept.append(at)
    return kept
