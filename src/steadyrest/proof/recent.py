"""What did the last few blocks before a place do? Kept for the diagnosis: an edit may show only some blocks after its line."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.geometry import Floats
from steadyrest.proof.rows import Rows

_KEPT = 32
"""Blocks kept of each run of motion; and so many runs. A link between two cuts has fewer."""
_STILL = 1e-9


@dataclass(frozen=True, slots=True)
class Blocks:
    """k blocks, the last of them the nearest. `begin` and `end` (k, 4): X, Y, Z in work coordinates, mm, and the turn, rad."""

    line: NDArray[np.int64]
    rapid: NDArray[np.bool_]
    begin: Floats
    end: Floats

    def setting(self, coordinate: int) -> int | None:
        """The last block that changed a coordinate; None when none of these did."""
        same = np.abs(self.end[:, coordinate] - self.begin[:, coordinate]) <= _STILL
        changed = np.flatnonzero(~same & ~np.isnan(self.end[:, coordinate]))
        return int(changed[-1]) if len(changed) else None

    def head(self, count: int) -> Blocks:
        """The first `count` of them."""
        return Blocks(self.line[:count], self.rapid[:count], self.begin[:count], self.end[:count])

    @property
    def link(self) -> int:
        """The first of the rapids at the end; their number where the last block is a cut."""
        cuts = np.flatnonzero(~self.rapid)
        return int(cuts[-1]) + 1 if len(cuts) else 0


def blocks_of(rows: Rows, first: int, stop: int) -> Blocks:
    """Blocks first to stop of a run, the last of them only where they are many."""
    first = max(first, stop - _KEPT)
    points = np.column_stack([rows.vertex[first : stop + 1], rows.phi[first : stop + 1]])
    return Blocks(rows.line[first:stop].copy(), rows.rapid[first:stop].copy(), points[:-1], points[1:])


@dataclass(slots=True)
class Recent:
    """The ends of the runs that have been gone through last."""

    _runs: deque[Blocks] = field(default_factory=lambda: deque(maxlen=_KEPT))

    def leave(self, rows: Rows | None) -> None:
        """A run has been gone through."""
        if rows is not None and len(rows):
            self._runs.append(blocks_of(rows, 0, len(rows)))

    def before(self, rows: Rows | None, at: int) -> Blocks:
        """The last blocks before block `at` of the run that is being gone through."""
        runs = [*self._runs, *([blocks_of(rows, 0, at)] if rows is not None else [])]
        if not runs:
            return Blocks(np.empty(0, np.int64), np.empty(0, np.bool_), np.empty((0, 4)), np.empty((0, 4)))
        return Blocks(
            np.concatenate([one.line for one in runs]),
            np.concatenate([one.rapid for one in runs]),
            np.concatenate([one.begin for one in runs]),
            np.concatenate([one.end for one in runs]),
        )
