"""How did a part of dexels come to be? Looked at from all sides now and then; when a line changed in between, the poses since then say."""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.simulation.dexel import Dexels
from steadyrest.simulation.dexel_carving import DexelCarver
from steadyrest.simulation.dexel_stock import AT_ONCE, held_by
from steadyrest.simulation.dexel_view import STILL, Sight
from steadyrest.simulation.history import History, every_so_many
from steadyrest.simulation.solid import ToolSolid

POSES_BETWEEN, MOST_LOOKS = 256, 256
"""So many poses are carved between two looks; twice as many each time when so many looks were had."""
COARSER = 2
"""Of so many times fewer rows and columns than of a field that writes down its own changes: to look costs more."""
MOST_PAIRS = 4_000_000
"""Of changed lines and poses: where there are more, a line has changed at the last of the poses."""


class _Seen:
    """Some of the lines of a sight, as they were when they were looked at last.

    outer   (k,) as of `Sight.look`
    """

    def __init__(self, sight: Sight, dexels: Dexels, most: tuple[int, int]) -> None:
        self.sight = sight
        (rows, columns), (n, m) = every_so_many(sight.lines, (max(most[0] // COARSER, 1), max(most[1] // COARSER, 1))), sight.lines.shape
        self.rows, self.columns = np.arange(rows // 2, n, rows), np.arange(columns // 2, m, columns)
        self._row, self._column = (each.ravel() for each in np.meshgrid(self.rows, self.columns, indexing="ij"))
        self._before, _, self._within = sight.look(dexels, self._row, self._column, np.full(len(self._row), sight.farthest_mm))
        self.outer = self._before.copy()
        self.written: list[tuple[Ints, Floats, Floats]] = []

    def changed(self, dexels: Dexels) -> tuple[Ints, Floats]:
        """Which lines (c,) have less material than at the last look, and a place on each that was taken since (c, 3)."""
        sight, there = self.sight, np.flatnonzero(self.outer > 0)
        gone = there[~sight.stands(dexels, self._column[there], self._within[there])]
        was = self.outer[gone]
        now, _, self._within[gone] = sight.look(dexels, self._row[gone], self._column[gone], was + dexels.cell_mm)
        less = now < was - STILL * dexels.cell_mm
        line, now, was = gone[less], now[less], was[less]
        self.outer[line] = now
        row, column = self._row[line], self._column[line]
        taken = now + np.minimum(0.5 * (was - now), dexels.cell_mm)
        return line, sight.starts(row, column) + taken[:, None] * sight.out(column)

    def history(self) -> History:
        """All that was written: changed lines, how many blocks were done, and what was left."""
        none = np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0)
        line, blocks, outer = (np.concatenate(each) for each in zip(*(self.written or [none]), strict=True))
        order = np.argsort(blocks, kind="stable")
        before = self._before.reshape(len(self.rows), len(self.columns)).astype(np.float32)
        return History(self.rows, self.columns, before, line[order], blocks[order], outer[order].astype(np.float32))


class DexelRecorder:
    """Gathers histories of all that is seen of dexels, as the program goes on."""

    def __init__(self, carver: DexelCarver, sights: tuple[Sight, ...], most: tuple[int, int]) -> None:
        """`most`: rows and columns of each sight of which is told."""
        self._carver, self._between, self._looks, self._count = carver, POSES_BETWEEN, 0, 0
        self._seen = [_Seen(sight, carver.dexels, most) for sight in sights]
        self._waiting: list[tuple[Floats, Floats, ToolSolid]] = []

    def add(self, blocks: Floats, table: Floats, solid: ToolSolid) -> None:
        """Poses (k, 12) that were carved, and how many blocks are done with each (k,)."""
        self._waiting.append((blocks, table, solid))
        self._count += len(blocks)
        if self._count >= self._between:
            self._look()

    def histories(self) -> tuple[History, ...]:
        """Of each sight, all so far."""
        if self._waiting:
            self._look()
        return tuple(one.history() for one in self._seen)

    def _look(self) -> None:
        for seen in self._seen:
            line, places = seen.changed(self._carver.dexels)
            if len(line):
                seen.written.append((line, self._when(places), seen.outer[line]))
        self._waiting.clear()
        self._count, self._looks = 0, self._looks + 1
        if self._looks == MOST_LOOKS:
            self._looks, self._between = self._looks // 2, 2 * self._between

    def _when(self, places: Floats) -> Floats:
        """(c,) how many blocks were done when the last pose that held a place was carved; the last of all poses where none is found."""
        when, left = np.full(len(places), self._waiting[-1][0][-1]), np.arange(len(places))
        if len(places) * self._count > MOST_PAIRS:
            return when
        many = max(AT_ONCE // len(places), 1)
        for blocks, table, solid in reversed(self._waiting):
            for end in range(len(table), 0, -many):
                if not len(left):
                    return when
                some = slice(max(end - many, 0), end)
                held = held_by(places[left], table[some], solid)
                found = held.any(axis=1)
                when[left[found]] = blocks[some][::-1][held[found, ::-1].argmax(axis=1)]
                left = left[~found]
        return when
