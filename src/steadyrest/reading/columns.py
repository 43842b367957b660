"""Gathers rows of motion and events, in order, into the items that a reader of the program gets."""

from __future__ import annotations

from collections import deque

import numpy as np

from steadyrest.reading.dialect import Dialect
from steadyrest.reading.minutes import block_minutes
from steadyrest.reading.model import CLOCKWISE, RAPID, ArcsRead, EventKind, EventRead, MotionRead, ProgramItem, join_motion
from steadyrest.reading.state import State

ROWS_PER_ITEM = 16_384
NO_ARC = (float("nan"), float("nan"), float("nan"), 0, float("nan"), 0, float("nan"))

Arc = tuple[float, float, float, int, float, int, float]
"""Centre X, Y, Z in mm, plane, sweep in radians, full turns, length of the path in mm."""


class Collector:
    """Takes rows one by one or in columns, and events; gives them back in order, rows in runs of some tens of thousands."""

    def __init__(self, dialect: Dialect) -> None:
        rotary = dialect.rotary
        self.feed = dialect.profile.feed
        self.drive_mm_per_degree = rotary.mm_per_degree if rotary is not None and rotary.replaces else 0.0
        self.rotaries = int(rotary is not None)
        self.ready: deque[ProgramItem] = deque()
        self._rows: list[tuple[float, ...]] = []
        self._start: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
        self._runs: list[MotionRead] = []
        self._waiting = 0
        self.moved = False  # whether anything has moved yet

    def event(self, line: int, kind: EventKind, number: float = float("nan"), text: str = "") -> None:
        """Something between motions: ends the run of rows before it."""
        self.close_run()
        self.ready.append(EventRead(line, kind, number, text))

    def row(
        self,
        state: State,
        line: int,
        motion: int,
        end_mm: tuple[float, float, float],
        w_deg: float,
        *,
        feed_word: float = float("nan"),
        clear: bool = False,
        cycle: bool = False,
        arc: Arc = NO_ARC,
    ) -> None:
        """One motion from where the state stands; the state stands at its end afterwards."""
        self.moved = True
        if not self._rows:
            self._start = (*state.position_mm, state.w_deg)
        self._rows.append(
            (line, motion, *end_mm, w_deg, feed_word, state.feed_mode or 0, clear, cycle, state.mm_per_unit or 1.0, *arc),
        )
        state.position_mm = end_mm
        state.w_deg = w_deg
        if len(self._rows) >= ROWS_PER_ITEM:
            self._take_rows()

    def run(self, rows: MotionRead) -> None:
        """Many motions at once, all in the unit of length of those before them since the last `close_run`."""
        self.moved = True
        self._take_rows()
        self._add(rows)

    def since_event(self) -> MotionRead | None:
        """The single rows since the last event, if that has not been handed out and none were given in columns."""
        self._take_rows()
        return self._runs[0] if len(self._runs) == 1 else None

    def close_run(self) -> None:
        """Hand out the rows gathered so far: before an event, and where the unit of length changes."""
        self._take_rows()
        if self._runs:
            self.ready.append(join_motion(self._runs))
            self._runs = []
            self._waiting = 0

    def _add(self, rows: MotionRead) -> None:
        self._runs.append(rows)
        self._waiting += len(rows)
        if self._waiting >= ROWS_PER_ITEM:
            self.close_run()

    def _take_rows(self) -> None:
        """Turn the single rows into columns."""
        if not self._rows:
            return
        table = np.array(self._rows, dtype=np.float64)
        self._rows = []
        motion = table[:, 1].astype(np.uint8)
        vertex = np.vstack((self._start, table[:, 2:6]))
        steps = np.diff(vertex, axis=0)
        steps[np.isnan(vertex[:-1]) & np.isnan(vertex[1:])] = 0.0  # an axis that stays at an unknown place does not move
        feed_mode = table[:, 7].astype(np.uint8)
        minutes = block_minutes(
            (steps[:, 0], steps[:, 1], steps[:, 2]),
            steps[:, 3],
            table[:, 6],
            feed_mode,
            table[:, 10],
            self.feed,
            self.drive_mm_per_degree,
            table[:, 17],
        )
        minutes[motion == RAPID] = np.nan
        arcs = None
        if (motion >= CLOCKWISE).any():
            plane, full_turns = table[:, 14].astype(np.uint8), table[:, 16].astype(np.int64)
            arcs = ArcsRead(table[:, 11:14].copy(), plane, table[:, 15].copy(), full_turns)
        run = MotionRead(
            line=table[:, 0].astype(np.int64),
            motion=motion,
            vertex_mm=vertex[:, :3].copy(),
            vertex_deg=vertex[:, 3 : 3 + self.rotaries].copy(),
            minutes=minutes,
            feed_word=table[:, 6].copy(),
            feed_mode=feed_mode,
            clear=table[:, 8] != 0,
            cycle=table[:, 9] != 0,
            mm_per_unit=float(table[0, 10]),
            arcs=arcs,
        )
        self._add(run)
