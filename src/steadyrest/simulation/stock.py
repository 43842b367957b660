"""Is there material where a rapid, a shank or a holder goes? Told for many stamps at once, without carving a field.

What stays clear of the whole stock stays clear of what is left of it. So only what would enter the uncut stock (`Uncut`) has to be looked
at once more, and most have nothing of the kind. That is told as where tools stand at any tilt (`Remaining`). Both stand in the place of the
carver in a `Simulation`.
"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.simulation.carving import nothing_taken
from steadyrest.simulation.dexel import Billet
from steadyrest.simulation.dexel_stock import RemainingBillet, bodies
from steadyrest.simulation.field import Field, Section, directions
from steadyrest.simulation.kernel import DEPTH, HOLDER, SHANK, Stamp
from steadyrest.simulation.solid import Solids, ToolSolid
from steadyrest.simulation.way import Chart, Way
from steadyrest.toolpath import Stock


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
        self._left = RemainingBillet(Billet.of(stock, axis, scale), axis, rapids_cut=True)

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
        could = super().carve(table, operation, solids, touch_mm)
        out = self._left.looked(poses_of_stamps(self.field, table), could, solids)
        for column in (DEPTH, SHANK, HOLDER):
            out[:, column + 1 : column + 3] = could[:, column + 1 : column + 3]
        return out


def poses_of_stamps(field: Field, table: Floats) -> Floats:
    """Stamps (k, 10) over a field as `dexel_kernel.Pose` (k, 12) in the part frame, from the centre."""
    stamp, rows = Stamp(*table.T), directions(field.chart, field.axis)
    turn = np.exp(-1j * stamp.phi)

    def place(first: Floats, second: Floats) -> Floats:
        if field.chart == "heights":
            return np.asarray(np.column_stack([first, second, stamp.height + field.base_mm]) @ rows)
        across = (stamp.height + 1j * second) * turn
        return np.asarray(np.column_stack([first, across.real, across.imag]) @ rows)

    tip = place(stamp.first_from, stamp.second_from)
    go = place(stamp.first_to, stamp.second_to) - tip
    long = np.linalg.norm(go, axis=1)
    feed = go / np.maximum(long, 1e-30)[:, None]
    upright = rows[2] if field.chart == "heights" else turn.real[:, None] * rows[1] + turn.imag[:, None] * rows[2]
    return np.column_stack([tip, np.broadcast_to(upright, tip.shape), feed, long, stamp.rise, stamp.rapid])


def _leaves(way: Way, blocks: Ints, rapid: Bools, plunges: Bools) -> Bools:
    """Whether in one of the blocks the tool goes straight up along itself: it leaves the place where it stood, and can touch nothing."""
    return np.asarray(rapid[blocks] & plunges & (way.vertex[blocks + 1, 2] >= way.vertex[blocks, 2]))
