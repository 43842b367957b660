"""Could a rapid, a shank or a holder touch material even if nothing had been cut yet? Told for many stamps at once, without carving.

What stays clear of the whole stock stays clear of what is left of it. So only what would enter the uncut stock has to be looked at with
the cut simulated, and most programs have nothing of the kind. `Uncut` stands in the place of the carver in a `Simulation`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation.carving import nothing_taken
from steadyrest.simulation.field import Field, height_and_side
from steadyrest.simulation.kernel import DEPTH, HOLDER, SHANK, Stamp
from steadyrest.simulation.solid import Solids, ToolSolid
from steadyrest.toolpath import RoundStock, Stock


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
        self.last: NDArray[np.uint16] = np.zeros((0, 0), dtype=np.uint16)
        self.done = 0
        self.top_mm = float(field.outer_mm.max(initial=0.0))
        half = field.first_step_mm / 2
        self._span = float(field.first_mm[0]) - half, float(field.first_mm[-1]) + half
        height, side = height_and_side(axis, *(scale * value for value in stock.offset_across(axis)))
        self._middle, self._bar_mm = complex(height, side), stock.diameter * scale / 2 if isinstance(stock, RoundStock) else 0.0
        self._corners, self._half = np.empty(0, dtype=np.complex128), (0.0, 0.0)
        if not isinstance(stock, RoundStock):
            wide, high = (scale * size / 2 for size in stock.across)
            self._half = high, wide
            self._corners = self._middle + np.array(
                [complex(high, wide), complex(high, -wide), complex(-high, -wide), complex(-high, wide)]
            )

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

    def holds(self, points: Floats) -> NDArray[np.bool_]:
        """Whether the points (k, 3) lie in the stock: radii: along the axis, and across it at the part's turn 0; heights: x, y, z."""
        along = (points[:, 0] > self._span[0]) & (points[:, 0] < self._span[1])
        if self.field.chart == "heights":
            column = np.round((points[:, 1] - self.field.second[0]) / self.field.second_step)
            row = np.round((points[:, 0] - self.field.first_mm[0]) / self.field.first_step_mm)
            n, m = self.field.shape
            there = along & (column >= 0) & (column < m) & (row >= 0) & (row < n)
            row, column = np.where(there, row, 0).astype(np.int64), np.where(there, column, 0).astype(np.int64)
            return np.asarray(there & (points[:, 2] >= 0) & (points[:, 2] < self.field.outer_mm[row, column]))
        across = points[:, 1] + 1j * points[:, 2]
        off = across - self._middle
        if self._bar_mm:
            return np.asarray(along & (np.abs(off) < self._bar_mm))
        return np.asarray(along & (np.abs(off.real) < self._half[0]) & (np.abs(off.imag) < self._half[1]))

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
            top, bottom = self._upper_and_lower(stamp.second_from - body.radius_mm, stamp.second_to + body.radius_mm, stamp.phi)
        return np.where(near & (low < top) & (high > bottom), np.minimum(top, high) - low, 0.0)

    def _upper_and_lower(self, left: Floats, right: Floats, phi: Floats) -> tuple[Floats, Floats]:
        """The highest and the lowest of the turned stock's section between the sides left and right (k,), heights; -inf, inf if none.

        Radii: a point of the part at height h and side s stands, the part turned by phi, at (h + i s) exp(i phi).
        """
        turn = np.exp(1j * phi)
        if self._bar_mm:
            middle = self._middle * turn
            nearest = np.clip(middle.imag, left, right) - middle.imag
            inside = self._bar_mm**2 - nearest**2
            half = np.sqrt(np.maximum(inside, 0.0))
            hit = inside > 0
            return np.where(hit, middle.real + half, -np.inf), np.where(hit, middle.real - half, np.inf)
        corners = self._corners[None, :] * turn[:, None]
        within = (corners.imag >= left[:, None]) & (corners.imag <= right[:, None])
        top = np.where(within, corners.real, -np.inf).max(axis=1)
        bottom = np.where(within, corners.real, np.inf).min(axis=1)
        for at in range(4):
            one, other = corners[:, at], corners[:, (at + 1) % 4]
            for edge in (left, right):
                run = other.imag - one.imag
                share = (edge - one.imag) / np.where(run == 0, 1.0, run)
                crosses = (run != 0) & (share >= 0) & (share <= 1)
                height = one.real + share * (other.real - one.real)
                top = np.maximum(top, np.where(crosses, height, -np.inf))
                bottom = np.minimum(bottom, np.where(crosses, height, np.inf))
        return top, bottom
