"""Gathers rows of motion and events, in order, into the items that a reader of the program gets; how long a block takes by its F word."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints
from steadyrest.conventions import ARC_CLOCKWISE, INVERSE
from steadyrest.reading.dialect import Dialect
from steadyrest.reading.motion_read import ArcsRead, EventKind, EventRead, MotionRead, ProgramItem, join_motion
from steadyrest.reading.state import State

ROWS_PER_ITEM = 16_384
NAN = float("nan")
NO_ARC = (NAN, NAN, NAN, 0, NAN, 0, NAN)

Arc = tuple[float, float, float, int, float, int, float]
"""Centre X, Y, Z in mm, plane, sweep in radians, full turns, length of the path in mm."""


class Collector:
    """Takes rows one by one or in columns, and events; gives them back in order, rows in runs of some tens of thousands."""

    def __init__(self, dialect: Dialect) -> None:
        self.feed = dialect.profile.feed
        # Where a linear axis' drive turns the rotary, its way per degree: to the controller it is a linear axis.
        self.drive_mm_per_degree = sum(rotary.mm_per_degree for rotary in dialect.rotaries.values() if rotary.replaces)
        self.ready: deque[ProgramItem] = deque()
        self.moved = False  # whether anything has moved yet
        self._rows: list[tuple[float, ...]] = []
        self._start: tuple[float, ...] = ()
        self._mm_per_unit = 1.0
        self._runs: list[MotionRead] = []
        self._rows_in_runs = 0

    def event(self, line: int, kind: EventKind, number: float = NAN, text: str = "") -> None:
        """Something between motions: ends the run of rows before it."""
        self.close_run()
        self.ready.append(EventRead(line, kind, number, text))

    def row(
        self,
        state: State,
        line: int,
        motion: int,
        end_mm: tuple[float, float, float],
        rotary_deg: tuple[float, ...],
        *,
        feed_word: float = NAN,
        cycle: bool = False,
        arc: Arc = NO_ARC,
    ) -> None:
        """One motion from where the state stands; the state stands at its end afterwards."""
        self.moved = True
        if not self._rows:
            self._start = (*state.position_mm, *state.rotary_deg)
            self._mm_per_unit = state.mm_per_unit or 1.0
        self._rows.append((line, motion, feed_word, state.feed_mode or 0, state.clear, cycle, *arc, *end_mm, *rotary_deg))
        state.position_mm = end_mm
        state.rotary_deg = rotary_deg
        if len(self._rows) >= ROWS_PER_ITEM:
            self._take_rows()

    def columns(
        self,
        line: Ints,
        motion: Codes,
        axes: Floats,
        feed_word: Floats,
        feed_mode: Codes,
        clear: Bools,
        cycle: Bools,
        mm_per_unit: float,
        arcs: ArcsRead | None = None,
        arc_mm: Floats | None = None,
        events: Sequence[tuple[int, EventRead]] = (),
    ) -> None:
        """n motions at once, all in the unit of length of those before them since the last `close_run`.

        axes       (3 + r, n + 1) X, Y, Z in mm and the words of the r rotaries in degrees, before the first and after each
        feed_word  (n,) NaN in a rapid
        arc_mm     (n,) length of the path of an arc, along the helix; NaN in straight rows
        events     among them, each with the number of rows before it
        """
        steps = np.diff(axes)
        if math.isnan(steps.sum()):  # an axis that stays at an unknown place does not move
            steps[np.isnan(axes[:, :-1]) & np.isnan(axes[:, 1:])] = 0.0
        minutes = self._minutes(steps, feed_word, feed_mode, mm_per_unit, arc_mm)
        vertex_mm, vertex_deg = axes[:3].T.copy(), axes[3:].T.copy()
        self.run(MotionRead(line, motion, vertex_mm, vertex_deg, minutes, feed_word, feed_mode, clear, cycle, mm_per_unit, arcs), events)

    def run(self, rows: MotionRead, events: Sequence[tuple[int, EventRead]] = ()) -> None:
        """The same, complete."""
        self._take_rows()
        at = 0
        for before, event in [*events, (len(rows), None)]:
            if before > at:
                self._runs.append(rows.rows(at, before))
                self._rows_in_runs += before - at
                at = before
            if event is not None:
                self.close_run()
                self.ready.append(event)
        self.moved = self.moved or len(rows) > 0
        if self._rows_in_runs >= ROWS_PER_ITEM:
            self.close_run()

    def since_event(self) -> MotionRead | None:
        """The single rows since the last event, if that has not been handed out and none were given in columns."""
        self._take_rows()
        return self._runs[0] if len(self._runs) == 1 else None

    def close_run(self) -> None:
        """Hand out the rows gathered so far: before an event, and where the unit of length changes."""
        self._take_rows()
        if self._runs:
            self.ready.append(join_motion(self._runs))
            self._runs, self._rows_in_runs = [], 0

    def _take_rows(self) -> None:
        if not self._rows:
            return
        table = np.array(self._rows, dtype=np.float64).T.copy()
        self._rows = []
        axes = np.column_stack((self._start, table[13:]))
        motion, feed_mode = table[1].astype(np.uint8), table[3].astype(np.uint8)
        arcs = None
        if (motion >= ARC_CLOCKWISE).any():
            arcs = ArcsRead(table[6:9].T, table[9].astype(np.uint8), table[10], table[11].astype(np.int64))
        line, clear, cycle = table[0].astype(np.int64), table[4] != 0, table[5] != 0
        self.columns(line, motion, axes, table[2], feed_mode, clear, cycle, self._mm_per_unit, arcs, table[12])

    def _minutes(self, steps: Floats, feed_word: Floats, feed_mode: Codes, mm_per_unit: float, arc_mm: Floats | None) -> Floats:
        """(n,) minutes from the F word, before any limit of the machine.

        steps    (3 + r, n) how far X, Y, Z go in mm and the rotaries in degrees
        returns  NaN where the F word alone does not say: from an unknown place, or speed of the tip while the rotary turns
        source   NISTIR 6556, 2.1.2.5, 2.1.2.6, 3.5.19 for `linear_axes`; the other two are common practice, stated by the profile
        """
        inverse = feed_mode == INVERSE
        some_inverse = inverse.any()
        if some_inverse:
            unit = 60.0 if self.feed.inverse_is == "per_second" else 1.0
            timed = feed_word / 60.0 if self.feed.inverse_is == "seconds" else 1.0 / (feed_word * unit)
            if inverse.all():
                return timed
        dx, dy, dz, *turns = steps
        square = dx * dx + dy * dy + dz * dz
        turn = turned = turns[0] if len(turns) == 1 else np.sqrt(np.sum(steps[3:] ** 2, axis=0))
        if self.drive_mm_per_degree:
            drive = turned * self.drive_mm_per_degree
            square, turn = square + drive * drive, np.zeros_like(turned)
        way = np.sqrt(square)
        if arc_mm is not None:
            way = np.where(np.isnan(arc_mm), way, arc_mm)
        units = way / mm_per_unit
        if self.feed.per_minute_counts == "all_axes":
            length = np.sqrt(units * units + turn * turn)
        elif self.feed.per_minute_counts == "linear_axes":
            length = np.where(way == 0, np.abs(turn), units)
        else:
            length = np.where(turned == 0, units, np.nan)
        minutes = length / feed_word
        return np.where(inverse, timed, minutes) if some_inverse else minutes
