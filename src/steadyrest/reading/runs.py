"""Carries out many plain lines of motion at once, in columns; the same rows as one block after the other would give.

Nothing is refused here: a run ends before the first line that cannot be carried out, and the full rules then say why.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import take
from steadyrest.reading.arc_runs import run_arcs
from steadyrest.reading.columns import ROWS_PER_ITEM, Collector
from steadyrest.reading.dialect import CENTRES, LINEAR, RADIUS, Dialect
from steadyrest.reading.minutes import block_minutes
from steadyrest.reading.model import CLOCKWISE, COUNTERCLOCKWISE, FEED_INVERSE, FEED_PER_MINUTE, LINE, RAPID, ArcsRead, MotionRead
from steadyrest.reading.plain_lines import Letters, PlainLines
from steadyrest.reading.rotary import HALF_TURN_NEAR_DEG
from steadyrest.reading.state import State

Float = NDArray[np.float64]
MOTION_NAMES = {RAPID: "rapid", LINE: "line", CLOCKWISE: "arc_clockwise", COUNTERCLOCKWISE: "arc_counterclockwise"}


def plain_letters(dialect: Dialect) -> Letters:
    """The letters of motion in a dialect."""
    codes, numbers = dialect.profile.codes, dialect.profile.program.block_numbers
    motion = codes.rapid[:1] if codes.rapid[:1] == codes.line[:1] else ""
    spelled = {codes.rapid: RAPID, codes.line: LINE}
    arcs = dialect.profile.arcs.form != "none" and motion != "" and motion == codes.arc_clockwise[:1] == codes.arc_counterclockwise[:1]
    if arcs:
        spelled |= {codes.arc_clockwise: CLOCKWISE, codes.arc_counterclockwise: COUNTERCLOCKWISE}
    rotary = dialect.rotary_letter if dialect.rotary_letter not in LINEAR else ""
    return Letters(
        axes=LINEAR + rotary,
        feed="F",
        motion=motion,
        codes={float(code[1:]): does for code, does in spelled.items() if code},
        arcs=CENTRES + RADIUS if arcs else "",
        number=numbers.letter,
        number_digits=max(5, numbers.digits, len(str(numbers.largest))),
    )


class Run:
    """A stretch of plain lines met by a state; `carry_out` says how many of them it could take."""

    def __init__(self, dialect: Dialect, letters: Letters, lines: PlainLines, start: int, stop: int, state: State) -> None:
        self.dialect = dialect
        self.letters = letters
        self.state = state
        self.columns = {name: column[start:stop] for name, column in lines.columns.items()}
        self.points = {name: column[start:stop] for name, column in lines.points.items()}
        self.present_arcs = [letter for letter in letters.arcs if letter in self.columns]
        self.count = stop - start
        self.good = stop - start

    def carry_out(self, first_line: int, out: Collector) -> int:
        """Give the rows of the run to `out` and change the state; how many lines that were, from the first. `first_line` counts from 1."""
        state = self.state
        rotary = self.dialect.rotary
        rolls_over = rotary is not None and rotary.travel.kind == "rollover" and not rotary.replaces
        if state.incremental is None or state.mm_per_unit is None or (state.incremental and rolls_over):
            return 0
        motion = self._motion()
        if motion is None:
            return 0
        feed = self._feed(motion != RAPID)
        turns = self._rotary()
        if turns is None:
            return 0
        w_deg, part_turn_deg = turns
        axes = [self._axis(axis) for axis in range(3)]
        arcs, arc_mm = self._arcs(motion, axes)
        rows = self.good
        if rows == 0:
            return 0
        motion, w_deg, feed = motion[:rows], w_deg[: rows + 1], feed[:rows]
        axes = [axis[: rows + 1] for axis in axes]
        clear = self._clear(rows)
        mode = state.feed_mode or 0
        rapid = motion == RAPID
        some_rapid = bool(rapid.any())
        if some_rapid:
            feed = np.where(rapid, np.nan, feed)
        steps = [_steps(column) for column in (*axes, w_deg)]
        drive = rotary.mm_per_degree if rotary is not None and rotary.replaces else 0.0
        arc_mm = arc_mm[:rows] if arc_mm is not None else None
        way = (steps[0], steps[1], steps[2])
        minutes = block_minutes(way, steps[3], feed, mode, state.mm_per_unit, self.dialect.profile.feed, drive, arc_mm)
        vertex = np.column_stack(axes)
        out.run(
            MotionRead(
                line=np.arange(first_line, first_line + rows),
                motion=motion,
                vertex_mm=vertex,
                vertex_deg=w_deg[:, None].copy() if rotary is not None else np.empty((rows + 1, 0)),
                minutes=minutes,
                feed_word=feed,
                feed_mode=np.full(rows, mode, dtype=np.uint8),
                clear=clear,
                cycle=np.zeros(rows, dtype=np.bool_),
                mm_per_unit=state.mm_per_unit,
                arcs=take(arcs, slice(rows)) if arcs is not None else None,
            )
        )
        self._leave(rows, motion, vertex, w_deg, part_turn_deg, bool(clear[-1]))
        return rows

    def carry_out_holes(self, first_line: int, out: Collector) -> int:
        """The same for lines that only give places to the cycle in force: each makes the rows of the hole on the line before it, elsewhere.

        So it is where that hole began over another place, at the height at which it ended: then nothing but the place tells holes apart.
        """
        state, hole = self.state, out.since_event()
        if hole is None or state.incremental is not False or self.dialect.replaced >= 0 or self.dialect.foreign is not None:
            return 0
        ends, begin = hole.end_mm, hole.start_mm
        over = bool((begin[:2] != ends[0, :2]).any()) and begin[2] == ends[0, 2] == ends[-1, 2]
        if not over or not hole.cycle.all() or (hole.line != first_line - 1).any() or (ends[:, :2] != ends[0, :2]).any():
            return 0
        for letter, column in self.columns.items():
            if letter not in (*LINEAR[:2], self.letters.number):
                self._cut(column == column)
        x, y = self._axis(0), self._axis(1)
        self._cut((x[1:] == x[:-1]) & (y[1:] == y[:-1]))
        moves = len(hole)
        count = min(self.good, max(1, ROWS_PER_ITEM // moves))
        if count == 0:
            return 0
        vertex = np.empty((1 + count * moves, 3))
        vertex[0], end = state.position_mm, vertex[1:]
        end[:, 0], end[:, 1] = np.repeat(x[1 : count + 1], moves), np.repeat(y[1 : count + 1], moves)
        end[:, 2] = np.tile(ends[:, 2], count)
        out.run(
            MotionRead(
                line=np.repeat(np.arange(first_line, first_line + count), moves),
                motion=np.tile(hole.motion, count),
                vertex_mm=vertex,
                vertex_deg=np.tile(hole.vertex_deg[:1], (len(vertex), 1)),
                minutes=np.tile(hole.minutes, count),
                feed_word=np.tile(hole.feed_word, count),
                feed_mode=np.tile(hole.feed_mode, count),
                clear=np.tile(hole.clear, count),
                cycle=np.tile(hole.cycle, count),
                mm_per_unit=hole.mm_per_unit,
            )
        )
        state.position_mm = (float(end[-1, 0]), float(end[-1, 1]), float(end[-1, 2]))
        return count

    def _leave(self, rows: int, motion: NDArray[np.uint8], vertex: Float, w_deg: Float, part_turn_deg: Float | None, clear: bool) -> None:
        """The state after the run's last row."""
        state = self.state
        state.motion = MOTION_NAMES[int(motion[-1])]
        state.position_mm = (float(vertex[-1, 0]), float(vertex[-1, 1]), float(vertex[-1, 2]))
        state.w_deg = float(w_deg[rows])
        if part_turn_deg is not None:
            state.part_turn_deg = float(part_turn_deg[rows])
            if not math.isnan(state.w_deg):
                state.turns = round((state.w_deg - state.part_turn_deg) / 360)
        state.clear = clear
        if state.feed_mode != FEED_INVERSE:
            feeds = self._scaled(self.letters.feed, "feed")[:rows]
            given = np.flatnonzero(feeds == feeds)
            state.feed = float(feeds[given[-1]]) if len(given) else state.feed

    def _cut(self, wrong: NDArray[np.bool_]) -> None:
        """End the run before the first line that is wrong."""
        first = np.flatnonzero(wrong)
        if len(first):
            self.good = min(self.good, int(first[0]))

    def _scaled(self, letter: str, kind: str) -> Float:
        """A letter's numbers in units of the program: whole counts of the least increment only without a point."""
        column = self.columns[letter]
        scale = self.dialect.increment(letter, kind, self.state.inch)
        if scale == 1.0:
            return column
        return np.where(self.points[letter], column, column / scale)

    def _motion(self) -> NDArray[np.uint8] | None:
        """RAPID, LINE, CLOCKWISE or COUNTERCLOCKWISE a row; None when the first row's motion is something else."""
        held = next((code for code, does in self.letters.codes.items() if MOTION_NAMES[does] == self.state.motion), math.nan)
        column = _held(self.columns[self.letters.motion], held)[1:] if self.letters.motion else np.full(self.count, held)
        if math.isnan(column[0]):
            return None
        motion = np.full(self.count, RAPID, dtype=np.uint8)
        for code, does in self.letters.codes.items():
            if does != RAPID:
                motion[column == code] = does
        return motion

    def _arcs(self, motion: NDArray[np.uint8], axes: list[Float]) -> tuple[ArcsRead | None, Float | None]:
        """The run's arcs, and the run cut before what is wrong with one, or before the words of an arc on another motion."""
        if not self.letters.arcs or (not self.present_arcs and not (motion >= CLOCKWISE).any()):
            return None, None
        assert self.state.mm_per_unit is not None
        lengths = {letter: self._scaled(letter, "length") * self.state.mm_per_unit for letter in self.present_arcs}
        given = {letter: self.columns[letter] == self.columns[letter] for letter in (*self.present_arcs, *LINEAR)}
        arcs, arc_mm, wrong = run_arcs(motion, axes, lengths, given, self.state, self.dialect)
        if wrong is not None:
            self._cut(wrong)
        return arcs, arc_mm

    def _feed(self, lines_at_feed: NDArray[np.bool_]) -> Float:
        """F a row, and the run cut before a row at feed whose F is missing, zero or too large."""
        state, feed = self.state, self.dialect.profile.feed
        inverse = state.feed_mode == FEED_INVERSE
        column = self._scaled(self.letters.feed, "inverse_feed" if inverse else "feed")
        self._cut(column <= 0)
        if inverse:
            largest = feed.largest_inverse
        else:
            column = _held(column, math.nan if state.feed is None else state.feed)[1:]
            largest = feed.largest_inch if state.inch else feed.largest_mm
            if state.feed_mode != FEED_PER_MINUTE:
                self._cut(lines_at_feed)
        self._cut(lines_at_feed & ~(column <= largest))
        return column

    def _axis(self, axis: int) -> Float:
        """(count + 1,) positions of a linear axis in mm, the one before the run first."""
        state = self.state
        held = state.position_mm[axis]
        if axis == self.dialect.replaced:
            return np.full(self.count + 1, held)
        assert state.mm_per_unit is not None
        column = self._scaled(LINEAR[axis], "length")
        return self._followed(column if state.mm_per_unit == 1.0 else column * state.mm_per_unit, held)

    def _followed(self, column: Float, held: float) -> Float:
        """(count + 1,) positions from words that are positions, or steps where the program says so."""
        if not self.state.incremental:
            return _held(column, held)
        given = column == column
        if math.isnan(held):
            self._cut(given)
            return np.full(self.count + 1, held)
        return np.add.accumulate(np.concatenate(([held], np.where(given, column, 0.0))))

    def _rotary(self) -> tuple[Float, Float | None] | None:
        """(count + 1,) W in degrees, the one before the run first, and positions within a turn if these roll over; None: not here."""
        state, rotary = self.state, self.dialect.rotary
        if rotary is None:
            return np.full(self.count + 1, state.w_deg), None
        letter = self.dialect.rotary_letter
        if rotary.replaces:
            assert state.mm_per_unit is not None
            return self._followed(self._scaled(letter, "length") * state.mm_per_unit / rotary.mm_per_degree, state.w_deg), None
        column = self._scaled(letter, "angle")
        if rotary.travel.kind != "rollover":
            return self._followed(column, state.w_deg), None
        given = np.flatnonzero(column == column)
        if not len(given):
            return np.full(self.count + 1, state.w_deg), np.full(self.count + 1, state.part_turn_deg)
        if math.isnan(state.part_turn_deg):
            return None
        degrees = column[given]
        parts = np.abs(degrees) % 360.0
        steps = np.diff(parts, prepend=state.part_turn_deg)
        wrong = np.zeros(self.count, dtype=np.bool_)
        if rotary.travel.rule == "shortest":
            wrong[given] = (degrees < 0) | (degrees > 360) | (np.abs(np.abs(steps) - 180.0) <= HALF_TURN_NEAR_DEG)
            turns = (steps < -180.0).astype(np.int64) - (steps > 180.0)
        else:
            negative = np.signbit(degrees)
            wrong[given] = negative & (degrees == 0)
            turns = (~negative & (steps < 0)).astype(np.int64) - (negative & (steps > 0))
        self._cut(wrong)
        unwound, within = np.full(self.count, np.nan), np.full(self.count, np.nan)
        unwound[given] = 360.0 * (state.turns + np.cumsum(turns)) + parts
        within[given] = parts
        return _held(unwound, state.w_deg), _held(within, state.part_turn_deg)

    def _clear(self, rows: int) -> NDArray[np.bool_]:
        """Clear until the first word of Z."""
        clear = np.full(rows, self.state.clear)
        if self.state.clear and self.dialect.replaced != 2:
            down = self.columns["Z"][:rows]
            clear[np.logical_or.accumulate(down == down)] = False
        return clear


def _held(column: Float, held: float) -> Float:
    """(count + 1,) what holds: the value from before first, then in each line its own number or, where that is NaN, the last one."""
    known = np.empty(len(column) + 1)
    known[0] = held
    known[1:] = column
    given = column == column
    if given.all():
        return known
    source = np.zeros(len(column) + 1, dtype=np.int64)
    np.multiply(given, np.arange(1, len(column) + 1), out=source[1:])
    np.maximum.accumulate(source, out=source)
    return known[source]


def _steps(column: Float) -> Float:
    """How far from row to row; an axis that stays at an unknown place does not move."""
    steps = np.diff(column)
    if math.isnan(column[0]):
        steps[np.isnan(column[:-1]) & np.isnan(column[1:])] = 0.0
    return steps
