"""Who cut what, and who touched what: the figures of all stamps, gathered per operation and per line of the program."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation.cut import OperationCut, Touches
from steadyrest.simulation.field import Field
from steadyrest.simulation.kernel import AXIAL, DEPTH, HOLDER, LOST, SHANK, SIDE_HIGH, SIDE_LOW, VOLUME


@dataclass(slots=True)
class Account:
    """Gathers as the program goes on."""

    grid: Field
    operations: dict[int, OperationCut] = field(default_factory=dict)
    lost_mm3: float = 0.0
    _touches: dict[int, list[NDArray[np.float64]]] = field(default_factory=lambda: {DEPTH: [], SHANK: [], HOLDER: []})

    def seen(self, operation: int, lines: NDArray[np.int64], tool: int) -> None:
        """Motion of an operation, cut or not."""
        here = self.operations.setdefault(operation, OperationCut(operation, int(lines[0]), int(lines[-1]), tool))
        here.first_line, here.last_line = min(here.first_line, int(lines.min())), max(here.last_line, int(lines.max()))
        here.tool = tool

    def add(self, operation: int, lines: NDArray[np.int64], rapid: NDArray[np.bool_], taken: Floats) -> None:
        """What k stamps of one operation took and touched; their lines and whether they were rapid."""
        here = self.operations[operation]
        here.positions += len(lines)
        self.lost_mm3 += float(taken[:, LOST].sum())
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
                found = taken[hit, column : column + 3]
                self._touches[column].append(_deepest_per_line(np.column_stack([lines[hit], np.full(len(hit), operation), found])))

    def rate(self, operation: int, stretch_mm: float, lines: NDArray[np.int64], mm3: Floats, minutes: Floats, way_mm: Floats) -> None:
        """Parts of blocks at feed that cut, in their order (k,): what each took, how long it takes by F and how far the tip goes."""
        if len(lines) == 0 or not np.isfinite(minutes).any():
            return
        stretch = np.floor((np.cumsum(way_mm) - 0.5 * way_mm) / stretch_mm).astype(np.int64)
        stretch = np.unique(stretch, return_inverse=True)[1]
        length = np.bincount(stretch, way_mm)
        if len(length) > 1 and length[-1] < 0.5 * stretch_mm:  # a short rest says nothing on its own
            stretch = np.minimum(stretch, len(length) - 2)
        volume, time = np.bincount(stretch, mm3), np.bincount(stretch, minutes)
        known = np.isfinite(time) & (time > 0)
        if not known.any():
            return
        rates = np.where(known, volume / np.where(known, time, 1.0), 0.0)
        most = int(np.argmax(rates))
        here = self.operations[operation]
        if not here.rate_mm3_per_min >= rates[most]:
            here.rate_mm3_per_min, here.rate_line = float(rates[most]), int(lines[np.flatnonzero(stretch == most)[0]])

    def fold_last(self) -> None:
        """Count the last operation, which is nothing but rapids, to the one before it."""
        number, last = self.operations.popitem()
        before = self.operations[number - 1]
        before.last_line = max(before.last_line, last.last_line)
        before.removed_mm3 += last.removed_mm3
        before.rapid_mm3 += last.rapid_mm3
        before.positions += last.positions
        for found in self._touches.values():
            for rows in found:
                rows[rows[:, 1] == number, 1] = number - 1

    def cut(self) -> tuple[OperationCut, ...]:
        """All operations in order."""
        return tuple(one for _, one in sorted(self.operations.items()))

    def touches(self, column: int) -> Touches:
        """DEPTH: of rapids; SHANK, HOLDER: of those."""
        found = self._touches[column]
        rows = _deepest_per_line(np.concatenate(found)) if found else np.empty((0, 5))
        i, j = rows[:, 3].astype(np.int64), rows[:, 4].astype(np.int64)
        return Touches(
            rows[:, 0].astype(np.int64), rows[:, 1].astype(np.uint16), rows[:, 2].copy(), self.grid.first_mm[i], self.grid.second[j]
        )


def _deepest_per_line(rows: Floats) -> Floats:
    """Of rows (line, operation, depth, i, j) the deepest of each line, lines in rising order."""
    order = np.lexsort((-rows[:, 2], rows[:, 0]))
    rows = rows[order]
    return np.asarray(rows[np.concatenate([[True], np.diff(rows[:, 0]) > 0])])
