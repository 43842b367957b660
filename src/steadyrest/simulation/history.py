"""How did the part come to be? When what can be seen of some lines of a field changed, and to what."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats, Ints
from steadyrest.simulation.carving import Carver
from steadyrest.simulation.field import Field
from steadyrest.simulation.solid import ToolSolid


@dataclass(frozen=True, slots=True)
class History:
    """Of a lines along by b lines across or around, e changes in the order in which they came.

    A line that one pass of a tool changes in many small steps has its change at the last of them: at any time a line stands as it was
    cut by then, or as it was before that pass, so that nothing is ever gone too early.

    rows, columns   (a,), (b,) which lines of the field these are, evenly apart
    before_mm       (a, b) float32, the outermost material before the first cut
    line            (e,) number of the changed line, row by row
    blocks          (e,) how many of the program's blocks that move are done by then, the last in part; rising
    outer_mm        (e,) float32, the outermost material from then on
    """

    rows: Ints
    columns: Ints
    before_mm: NDArray[np.float32]
    line: Ints
    blocks: Floats
    outer_mm: NDArray[np.float32]

    def __len__(self) -> int:
        return len(self.line)

    def at(self, blocks: float) -> NDArray[np.float32]:
        """The outermost material (a, b) when so many blocks are done."""
        out = self.before_mm.copy()
        done = int(np.searchsorted(self.blocks, blocks, side="right"))
        out.reshape(-1)[self.line[:done]] = self.outer_mm[:done]  # of what is said twice numpy takes the last
        return out

    def thinner(self, most: int) -> History:
        """At most so many changes: every other row or column is left out, in turn, while there are more."""
        found, by_rows = self, False
        while len(found) > most and min(found.before_mm.shape) > 2:
            found, by_rows = found.every_other(by_rows), not by_rows
        return found

    def every_other(self, by_rows: bool) -> History:
        """Half of its rows, or of its columns."""
        row, column = np.divmod(self.line, len(self.columns))
        rows, columns = (self.rows[::2], self.columns) if by_rows else (self.rows, self.columns[::2])
        kept = (row if by_rows else column) % 2 == 0
        line = (row // 2 * len(columns) + column if by_rows else row * len(columns) + column // 2)[kept]
        before = self.before_mm[::2] if by_rows else self.before_mm[:, ::2]
        return replace(
            self, rows=rows, columns=columns, before_mm=before, line=line, blocks=self.blocks[kept], outer_mm=self.outer_mm[kept]
        )


def every_so_many(field: Field, most: tuple[int, int]) -> tuple[int, int]:
    """Which rows and columns of a field are written of: every so-manieth, so that there are at most so many."""
    rows, columns = (-(-count // wanted) for count, wanted in zip(field.shape, most, strict=True))
    return rows, columns


class Recorder:
    """Gathers a history as the program goes on: what a carver writes down, and when its stamps come."""

    def __init__(self, carver: Carver, every: tuple[int, int]) -> None:
        """`every`: as of the carver, which has taken nothing out yet."""
        (rows, columns), (n, m) = every, carver.field.shape
        self._rows, self._columns = np.arange(rows // 2, n, rows), np.arange(columns // 2, m, columns)
        self._before = carver.field.outer_mm[np.ix_(self._rows, self._columns)].copy()
        self._carver = carver
        self._blocks: list[Floats] = []

    def add(self, blocks: Floats, table: Floats, solid: ToolSolid) -> None:
        """Stamps that were carved, and how many blocks are done with each (k,)."""
        self._blocks.append(blocks)

    def history(self) -> History:
        """All so far."""
        line, stamp, outer = self._carver.changes()
        blocks = np.concatenate([np.empty(0), *self._blocks])
        return History(self._rows, self._columns, self._before, line, blocks[stamp], outer)
