"""What the simulation says: the part as it comes out, and what the tools did on the way. All lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import nan

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.simulation.field import Field, directions
from steadyrest.simulation.history import History
from steadyrest.simulation.kernel import AXIAL, DEPTH, HOLDER, SHANK, SIDE_HIGH, SIDE_LOW, VOLUME


@dataclass(frozen=True, slots=True)
class Touches:
    """Blocks in which something touched material that must not, in the order of the program; arrays of one length.

    line        of the program
    depth_mm    the most material on any one line of the field that it went through
    first_mm    where: the field's first coordinate
    second      and its second (radii: radians)
    """

    line: Ints
    depth_mm: Floats
    first_mm: Floats
    second: Floats

    def __len__(self) -> int:
        return len(self.line)


@dataclass(slots=True)
class OperationCut:
    """What one operation cut, as far as it was simulated.

    number          from 1, as in `Cut.last_cut`
    removed_mm3     at feed and at rapid together; `rapid_mm3` of that at rapid
    axial_mm        axial engagement: the largest height over the tip at which a position at feed took material
    radial_mm       radial engagement: the largest width of material that a position at feed took across its feed and the tool's axis;
                    where the tool goes only up or down, the width it took around its axis
    rate_mm3_per_min  the largest volume rate: volume over the time in the material by the F words, averaged over stretches in which the tip
                    goes at least the tool's radius there; NaN where no time is known. Machine limits that slow it down are not counted.
    axial_line, radial_line, rate_line  where those were largest; 0 where there is none
    positions       how many positions were simulated
    """

    number: int
    removed_mm3: float = 0.0
    rapid_mm3: float = 0.0
    axial_mm: float = 0.0
    axial_line: int = 0
    radial_mm: float = 0.0
    radial_line: int = 0
    rate_mm3_per_min: float = nan
    rate_line: int = 0
    positions: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """The part as it is seen along the lines of a field.

    field      what is left
    last_cut   (n, m) uint16, number of the operation that last changed what can be seen of each line, 0 where the stock's skin is left
    history    how it came to be, if asked for
    rows       (3, 3) directions in the part frame, square to each other and right-handed: in which the first coordinate counts, then of
               heights the second and the height, of radii those at angle 0 and at 90 degrees
    origin_mm  (3,) from where they count, from the toolpath's `centre`
    """

    field: Field
    last_cut: NDArray[np.uint16]
    history: History | None
    rows: Floats
    origin_mm: Floats

    @classmethod
    def of(cls, seen: Field, last_cut: NDArray[np.uint16], history: History | None = None) -> Side:
        """That of a field about the toolpath's axis, or from above."""
        rows = directions(seen.chart, seen.axis)
        return cls(seen, last_cut, history, rows, seen.base_mm * rows[2] if seen.chart == "heights" else np.zeros(3))

    def points(self) -> Floats:
        """(n, m, 3) the outermost material, mm, part frame from the toolpath's `centre`."""
        field = self.field
        points = self.origin_mm + field.first_mm[:, None, None] * self.rows[0] + field.outer_mm[..., None] * outward(field, self.rows)
        return np.asarray(points if field.chart == "radii" else points + field.second[:, None] * self.rows[1])

    def over(self, places: Floats) -> tuple[Bools, Bools]:
        """(k,) whether places (k, 3) lie outside of what is seen here, by the highest of the four lines around each; and whether the
        surface goes evenly through them."""
        field, (n, m) = self.field, self.field.shape
        first, one, other = ((places - self.origin_mm) @ self.rows.T).T
        radii = field.chart == "radii"
        second, out = (np.arctan2(other, one), np.hypot(one, other)) if radii else (one, other)
        wide = np.maximum(field.first_step_mm, field.second_step * (out if radii else 1.0))
        i, j = np.floor((first - field.first_mm[0]) / field.first_step_mm), np.floor((second - field.second[0]) / field.second_step)
        ends = []
        for row, column in ((i, j), (i + 1, j), (i, j + 1), (i + 1, j + 1)):
            there = (row >= 0) & (row < n) & (radii | ((column >= 0) & (column < m)))
            at = np.clip(row, 0, n - 1).astype(np.int64), (column % m).astype(np.int64)
            ends.append(np.where(there, field.outer_mm[at], 0.0))
        low, high = np.min(ends, axis=0), np.max(ends, axis=0)
        outside = out > high + 0.5 * wide
        return outside, ~outside & (out > low - 1.5 * wide) & (high - low < 2 * wide)


def outward(lines: Field, rows: Floats) -> Floats:
    """(m, 3) where the lines of each column of a field go; `rows` as of `Side`."""
    if lines.chart == "heights":
        return np.broadcast_to(rows[2], (len(lines.second), 3))
    return np.asarray(np.cos(lines.second)[:, None] * rows[1] + np.sin(lines.second)[:, None] * rows[2])


@dataclass(frozen=True, slots=True)
class Cut:
    """The part as cut by a program.

    sides           what is left, as it is seen: together all of it that can be seen; the first is that of the map. One of a field that was
                    cut; of dexels more, if a history was asked for
    stock_mm3, removed_mm3  volumes; what is removed and drawn as if still there, because a line had more voids than a field holds, is
                    what they and `field.volume_mm3()` differ by
    operations      in order
    touches         "rapid": rapids that went through material; "shank", "holder": the part of the tool that does not cut did, and nothing
                    is taken out by it
    unknown_lines   motion near the stock from a place that the program does not say, of which only the end is simulated, or to such a
                    place, which is not simulated
    touch_mm        what enters material by less than that does not count as touching
    dexel_mm        how far the lines of dexels lie apart where those were cut; None: a field was cut
    """

    sides: tuple[Side, ...]
    stock_mm3: float
    removed_mm3: float
    operations: tuple[OperationCut, ...]
    touches: dict[str, Touches]
    unknown_lines: tuple[int, ...]
    touch_mm: float
    dexel_mm: float | None = None

    @property
    def field(self) -> Field:
        """The field of the first side."""
        return self.sides[0].field

    @property
    def last_cut(self) -> NDArray[np.uint16]:
        """(n, m) who last cut what the first side shows."""
        return self.sides[0].last_cut

    @property
    def history(self) -> History | None:
        """How the first side came to be."""
        return self.sides[0].history


@dataclass(slots=True)
class Account:
    """Gathers as the program goes on.

    grid    the field of whose lines touches are told; None: they come with the coordinates of their places
    """

    grid: Field | None = None
    operations: dict[int, OperationCut] = field(default_factory=dict)
    _touches: dict[int, list[Floats]] = field(default_factory=lambda: {DEPTH: [], SHANK: [], HOLDER: []})

    def add(self, operation: int, lines: Ints, rapid: Bools, taken: Floats) -> None:
        """What k stamps of one operation took and touched; their lines and whether they were rapid."""
        here = self.operations[operation]
        here.positions += len(lines)
        here.removed_mm3 += float(taken[:, VOLUME].sum())
        here.rapid_mm3 += float(taken[rapid, VOLUME].sum())
        width = np.where(rapid | (taken[:, SIDE_HIGH] < taken[:, SIDE_LOW]), 0.0, taken[:, SIDE_HIGH] - taken[:, SIDE_LOW])
        height = np.where(rapid, 0.0, taken[:, AXIAL])
        most = int(np.argmax(height))
        if height[most] > here.axial_mm:
            here.axial_mm, here.axial_line = float(height[most]), int(lines[most])
        most = int(np.argmax(width))
        if width[most] > here.radial_mm:
            here.radial_mm, here.radial_line = float(width[most]), int(lines[most])
        for column in (DEPTH, SHANK, HOLDER):
            hit = np.flatnonzero((taken[:, column] > 0) & (rapid if column == DEPTH else True))
            if len(hit):
                self._touches[column].append(np.column_stack([lines[hit], taken[hit, column : column + 3]]))

    def touches(self, column: int) -> Touches:
        """DEPTH: of rapids; SHANK, HOLDER: of those. The deepest of each line, lines in rising order."""
        rows = np.concatenate([np.empty((0, 4)), *self._touches[column]])
        rows = rows[np.lexsort((-rows[:, 1], rows[:, 0]))]
        rows = rows[np.diff(rows[:, 0], prepend=-1.0) > 0]
        line, depth, first, second = rows.T.copy()
        if self.grid is not None:
            first, second = self.grid.first_mm[first.astype(np.int64)], self.grid.second[second.astype(np.int64)]
        return Touches(line.astype(np.int64), depth, first, second)
