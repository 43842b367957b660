"""Is there material where a rapid, a shank or a holder goes, the tool at any tilt? `stock` for poses in place of stamps.

What stays clear of the whole stock stays clear of what is left of it (`UncutBillet`); what does not is looked at once more at points within
the tool (`RemainingBillet`): a point of the stock is gone when an earlier pose of a tool at feed has held it, exactly.
"""

from __future__ import annotations

from math import ceil

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.simulation.carving import nothing_taken
from steadyrest.simulation.dexel import Billet
from steadyrest.simulation.dexel_carving import seen_about
from steadyrest.simulation.dexel_kernel import Pose
from steadyrest.simulation.dexel_way import PoseChart, PoseWay
from steadyrest.simulation.kernel import DEPTH, bottom
from steadyrest.simulation.solid import Solids, ToolSolid
from steadyrest.simulation.stock import (
    APART,
    CLEAR_MM,
    MOST_HEIGHTS,
    MOST_PLACES,
    MOST_SKIPPED,
    UNIT_RINGS,
    bodies,
    still_there,
)  # fmt: skip

_TIP, _AXIS, _FEED = slice(0, 3), slice(3, 6), slice(6, 9)
_LONG, _RISE, _RAPID, _SOLID = 9, 10, 11, 12
"""Columns of a table of `Pose`, and of those that are kept."""
ALIKE = 0.02
"""Tool axes that differ by less than this are looked at as one."""
SLACK = 2e-3
"""Of the stock's diagonal: a tool that turns by two degrees reaches no higher over it between the ends of its way."""


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
    """What is left of the stock. Every pose is kept, and those that could touch are looked at."""

    def __init__(self, billet: Billet, axis: str) -> None:
        super().__init__(billet, axis)
        self._solids: list[ToolSolid] = []
        self._kept: list[Floats] = []  # of each pose the twelve numbers of `Pose`, and which of the solids it moves

    def reached(self, chart: PoseChart, way: PoseWay, rapid: Bools, solid: ToolSolid) -> Ints:
        """The blocks that have to be looked at: all but those that leave along the tool."""
        return chart.in_reach(way, solid, ~(rapid & (way.up_mm >= 0) & ~way.guessed))

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Keep the poses (k, 12), and look at those that could touch: (k, COLUMNS) of `kernel`, DEPTH, SHANK and HOLDER in mm."""
        if solids.cut not in self._solids:
            self._solids.append(solids.cut)
        self._kept.append(np.column_stack([table, np.full(len(table), self._solids.index(solids.cut))]))
        first, out = self.done, nothing_taken(len(table))
        could = super().carve(table, operation, solids, touch_mm)
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
        aside = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
        aside /= np.linalg.norm(aside)
        places = int(np.clip(ceil(pose.long / max(0.5 * body.radius_mm, 0.1)), 1, MOST_PLACES))
        share = np.linspace(0.0, 1.0, places + 1) if pose.long > 0 else np.zeros(1)
        ring = UNIT_RINGS * body.radius_mm
        foot = (share * pose.long)[:, None, None] * feed + ring[:, :1] * aside + ring[:, 1:2] * np.cross(axis, aside)
        foot = (tip + foot).reshape(-1, 3)
        lowest = np.tile(body.lift_mm + CLEAR_MM + np.broadcast_to(bottom(body, ring[:, 2]), len(ring)), len(share))
        highest = min(float(self._height(tip[None], axis[None])[0]), float(body.cutting_mm + pose.rise))
        if highest <= lowest.min():
            return np.zeros((0, 3)), np.zeros(0, dtype=np.int64), 0.0
        step = max((highest - float(lowest.min())) / MOST_HEIGHTS, min(0.5 * body.radius_mm, 1.0))
        height = lowest[:, None] + step * np.arange(max(ceil((highest - float(lowest.min())) / step), 1))
        points = (foot[:, None] + height[..., None] * axis).reshape(-1, 3)
        column = np.repeat(np.arange(len(foot)), height.shape[1])
        there = (height.ravel() < highest) & self.billet.holds(points)
        return points[there], column[there], step

    def _candidates(self, points: Floats, before: int) -> Ints:
        """Which of the first `before` poses come near the points at all, seen as a ball; none in a rapid, which must not cut."""
        widest = max(solid.radius_mm for solid in self._solids)
        if len(self._kept) > 1:
            self._kept = [np.concatenate(self._kept)]
        kept = self._kept[0][:before]
        middle = points.mean(axis=0)
        ball = widest + float(np.linalg.norm(points - middle, axis=1).max())
        off = middle - kept[:, _TIP]
        height = np.einsum("ij,ij->i", off, kept[:, _AXIS])
        away2 = np.einsum("ij,ij->i", off, off) - height**2
        return np.flatnonzero((kept[:, _RAPID] == 0) & (height > -ball) & (away2 < (ball + kept[:, _LONG]) ** 2))

    def _gone(self, points: Floats, poses: Ints) -> Bools:
        """Which points (p, 3) one of the poses (k,) has taken."""
        gone, kept = np.zeros(len(points), dtype=bool), self._kept[0][poses]
        for number in np.unique(kept[:, _SOLID]).tolist():
            gone |= held_by(points, kept[kept[:, _SOLID] == number], self._solids[int(number)]).any(axis=1)
        return gone


def held_by(points: Floats, table: Floats, solid: ToolSolid) -> Bools:
    """(p, k) which of the points (p, 3) a solid holds in which of its poses (k, 12 or more), exactly."""
    middle = points.mean(axis=0)
    near, axes, feeds = points - middle, table[:, _AXIS], table[:, _FEED]
    tips = table[:, _TIP] - middle
    height, along = (near @ which.T - (tips * which).sum(axis=1) for which in (axes, feeds))
    beyond = np.clip(along, 0.0, table[:, _LONG])
    off2 = (near**2).sum(axis=1)[:, None] - 2 * near @ tips.T + (tips**2).sum(axis=1)
    away2 = off2 - height**2 - 2 * along * beyond + beyond**2
    beside = np.sqrt(np.maximum(away2, 0.0))
    return np.asarray((beside < solid.radius_mm) & (height >= bottom(solid, beside)) & (height <= solid.cutting_mm + table[:, _RISE]))


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
