"""Gathers rows of motion and events, in order, into the items that a reader of the program gets."""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray

from steadyrest.reading.dialect import Dialect
from steadyrest.reading.minutes import block_minutes
from steadyrest.reading.model import CLOCKWISE, RAPID, EventKind, EventRead, MotionRead, ProgramItem
from steadyrest.reading.state import State

ROWS_PER_ITEM = 16_384
NO_ARC = (float("nan"), float("nan"), float("nan"), 0, 0, float("nan"))

Float = NDArray[np.float64]
Arc = tuple[float, float, float, int, int, float]
"""Centre X, Y, Z in mm (NaN along the third axis), plane, full turns, length of the path in mm."""


class Collector:
    """Takes rows one by one or in columns, and events; gives them back in order, rows in runs of some tens of thousands."""

    def __init__(self, dialect: Dialect) -> None:
        rotary = dialect.rotary
        self.feed = dialect.profile.feed
        self.drive_mm_per_degree = rotary.mm_per_degree if rotary is not None and rotary.replaces else 0.0
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
            self.ready.append(_joined(self._runs) if len(self._runs) > 1 else self._runs[0])
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
        steps = change(table[:, 2:6], self._start)
        feed_mode = table[:, 7].astype(np.uint8)
        minutes = block_minutes(
            (steps[:, 0], steps[:, 1], steps[:, 2]),
            steps[:, 3],
            table[:, 6],
            feed_mode,
            table[:, 10],
            self.feed,
            self.drive_mm_per_degree,
            table[:, 16],
        )
        minutes[motion == RAPID] = np.nan
        arcs = bool((motion >= CLOCKWISE).any())
        run = MotionRead(
            line=table[:, 0].astype(np.int64),
            motion=motion,
            start_mm=np.array(self._start[:3]),
            start_w_deg=self._start[3],
            end_mm=table[:, 2:5].copy(),
            w_deg=table[:, 5].copy(),
            minutes=minutes,
            feed_word=table[:, 6].copy(),
            feed_mode=feed_mode,
            clear=table[:, 8] != 0,
            cycle=table[:, 9] != 0,
            mm_per_unit=float(table[0, 10]),
            centre_mm=table[:, 11:14].copy() if arcs else None,
            plane=table[:, 14].astype(np.uint8) if arcs else None,
            full_turns=table[:, 15].astype(np.int64) if arcs else None,
        )
        self._add(run)


def change(ends: Float, start: tuple[float, ...]) -> Float:
    """How far each column goes in each row, (n, k), from (n, k) ends and k starts; an axis that stays at an unknown place does not move."""
    before = np.vstack((np.array(start), ends[:-1]))
    steps: Float = ends - before
    steps[np.isnan(before) & np.isnan(ends)] = 0.0
    return steps


def _joined(runs: list[MotionRead]) -> MotionRead:
    """Runs that follow each other, as one."""
    arcs = any(run.plane is not None for run in runs)

    def centres(run: MotionRead) -> Float:
        return run.centre_mm if run.centre_mm is not None else np.full((len(run), 3), np.nan)

    def planes(run: MotionRead) -> NDArray[np.uint8]:
        return run.plane if run.plane is not None else np.zeros(len(run), np.uint8)

    def full_turns(run: MotionRead) -> NDArray[np.int64]:
        return run.full_turns if run.full_turns is not None else np.zeros(len(run), np.int64)

    return MotionRead(
        line=np.concatenate([run.line for run in runs]),
        motion=np.concatenate([run.motion for run in runs]),
        start_mm=runs[0].start_mm,
        start_w_deg=runs[0].start_w_deg,
        end_mm=np.concatenate([run.end_mm for run in runs]),
        w_deg=np.concatenate([run.w_deg for run in runs]),
        minutes=np.concatenate([run.minutes for run in runs]),
        feed_word=np.concatenate([run.feed_word for run in runs]),
        feed_mode=np.concatenate([run.feed_mode for run in runs]),
        clear=np.concatenate([run.clear for run in runs]),
        cycle=np.concatenate([run.cycle for run in runs]),
        mm_per_unit=runs[0].mm_per_unit,
        centre_mm=np.concatenate([centres(run) for run in runs]) if arcs else None,
        plane=np.concatenate([planes(run) for run in runs]) if arcs else None,
        full_turns=np.concatenate([full_turns(run) for run in runs]) if arcs else None,
    )
