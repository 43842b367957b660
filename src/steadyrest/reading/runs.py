"""Carries out many plain lines of motion at once, in columns; the same rows as one block after the other would give.

Nothing is refused here: a run ends before the first line that cannot be carried out, and the full rules then say why.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, take
from steadyrest.conventions import AXES, PLANE_AXES
from steadyrest.reading.arcs import arc_shapes, arcs_are_spoken
from steadyrest.reading.collector import ROWS_PER_ITEM, Collector
from steadyrest.reading.dialect import CENTRES, RADIUS, Dialect
from steadyrest.reading.execution import MOTIONS
from steadyrest.reading.motion_read import CLOCKWISE, COUNTERCLOCKWISE, FEED_INVERSE, LINE, RAPID, ArcsRead, no_arcs
from steadyrest.reading.moves import largest_feed
from steadyrest.reading.plain_lines import Letters, PlainLines
from steadyrest.reading.rotary import unwound
from steadyrest.reading.state import State

MOTION_NAMES = {motion: name for name, motion in MOTIONS.items()}


def plain_letters(dialect: Dialect) -> Letters:
    """The letters of motion in a dialect."""
    codes, numbers = dialect.profile.codes, dialect.profile.program.block_numbers
    motion = codes.rapid[:1] if codes.rapid[:1] == codes.line[:1] else ""
    spelled = {codes.rapid: RAPID, codes.line: LINE}
    arcs = dialect.profile.arcs.form != "none" and motion != "" and motion == codes.arc_clockwise[:1] == codes.arc_counterclockwise[:1]
    if arcs:
        spelled |= {codes.arc_clockwise: CLOCKWISE, codes.arc_counterclockwise: COUNTERCLOCKWISE}
    return Letters(
        axes=AXES + (dialect.rotary_letter if dialect.replaced < 0 else ""),
        feed="F",
        motion=motion,
        codes={float(code[1:]): does for code, does in spelled.items() if code},
        arcs=CENTRES + RADIUS if arcs else "",
        number=numbers.letter,
        number_digits=dialect.block_number_digits,
    )


class Run:
    """A stretch of plain lines met by a state; `carry_out` says how many of them it could take."""

    def __init__(self, dialect: Dialect, letters: Letters, lines: PlainLines, start: int, stop: int, state: State) -> None:
        self.dialect = dialect
        self.letters = letters
        self.state = state
        self.words = {name: column[start:stop] for name, column in lines.columns.items()}
        self.points = {name: column[start:stop] for name, column in lines.points.items()}
        self.count = stop - start
        self.good = stop - start

    def carry_out(self, first_line: int, out: Collector) -> int:
        """Give the rows of the run to `out` and change the state; how many lines that were, from the first. `first_line` counts from 1."""
        state, dialect = self.state, self.dialect
        if state.incremental is None or state.mm_per_unit is None or (state.incremental and dialect.rolls_over):
            return 0
        motion = self._motion()
        if motion is None:
            return 0
        feed = self._feed(motion != RAPID)
        w_deg, part_turn_deg = self._rotary()
        axes = [self._axis(axis) for axis in range(3)]
        arcs, arc_mm = self._arcs(motion, axes)
        rows = self.good
        if rows == 0:
            return 0
        motion, feed = motion[:rows], feed[:rows]
        places = np.array([axis[: rows + 1] for axis in (*axes, w_deg)])
        clear = self._clear(rows)
        rapid = motion == RAPID
        out.columns(
            np.arange(first_line, first_line + rows),
            motion,
            places,
            np.where(rapid, np.nan, feed) if rapid.any() else feed,
            np.full(rows, state.feed_mode or 0, dtype=np.uint8),
            clear,
            np.zeros(rows, dtype=np.bool_),
            state.mm_per_unit,
            take(arcs, slice(rows)) if arcs is not None else None,
            arc_mm[:rows] if arc_mm is not None else None,
        )
        state.motion = MOTION_NAMES[int(motion[-1])]
        x, y, z, state.w_deg = places[:, -1].tolist()
        state.position_mm = (x, y, z)
        if part_turn_deg is not None:
            state.stand_within_a_turn(state.w_deg, float(part_turn_deg[rows]))
        state.clear = bool(clear[-1])
        if state.feed_mode != FEED_INVERSE and not math.isnan(feed[-1]):
            state.feed = float(feed[-1])
        return rows

    def carry_out_holes(self, first_line: int, out: Collector) -> int:
        """The same for lines that only give places to the cycle in force: each makes the rows of the hole on the line before it, elsewhere.

        So it is where that hole began over another place, at the height at which it ended: then nothing but the place tells holes apart.
        """
        state, hole = self.state, out.since_event()
        if hole is None or state.incremental is not False or self.dialect.lenient is not None:
            return 0
        ends, begin = hole.end_mm, hole.start_mm
        over = bool((begin[:2] != ends[0, :2]).any()) and begin[2] == ends[0, 2] == ends[-1, 2]
        if not over or not hole.cycle.all() or (hole.line != first_line - 1).any() or (ends[:, :2] != ends[0, :2]).any():
            return 0
        for letter, column in self.words.items():
            if letter not in (*AXES[:2], self.letters.number):
                self._cut(column == column)
        x, y = self._axis(0), self._axis(1)
        self._cut((x[1:] == x[:-1]) & (y[1:] == y[:-1]))
        moves = len(hole)
        count = min(self.good, max(1, ROWS_PER_ITEM // moves))
        if count == 0:
            return 0
        vertex = np.empty((1 + count * moves, 3))
        vertex[0] = state.position_mm
        vertex[1:] = np.column_stack((np.repeat(x[1 : count + 1], moves), np.repeat(y[1 : count + 1], moves), np.tile(ends[:, 2], count)))
        again = take(hole, np.tile(np.arange(moves), count))
        lines = np.repeat(np.arange(first_line, first_line + count), moves)
        out.run(replace(again, line=lines, vertex_mm=vertex, vertex_deg=np.tile(hole.vertex_deg[:1], (len(vertex), 1))))
        state.position_mm = (float(vertex[-1, 0]), float(vertex[-1, 1]), float(vertex[-1, 2]))
        return count

    def _cut(self, wrong: Bools) -> None:
        """End the run before the first line that is wrong."""
        if wrong.any():
            self.good = min(self.good, int(np.argmax(wrong)))

    def _scaled(self, letter: str, kind: str) -> Floats:
        """A letter's numbers in units of the program: whole counts of the least increment only without a point."""
        column = self.words[letter]
        scale = self.dialect.increment(letter, kind, self.state.inch)
        if scale == 1.0:
            return column
        return np.where(self.points[letter], column, column / scale)

    def _mm(self, letter: str) -> Floats:
        """A letter's lengths in mm."""
        assert self.state.mm_per_unit is not None
        column = self._scaled(letter, "length")
        return column if self.state.mm_per_unit == 1.0 else column * self.state.mm_per_unit

    def _motion(self) -> Codes | None:
        """RAPID, LINE, CLOCKWISE or COUNTERCLOCKWISE a row; None when the first row's motion is something else."""
        held = next((code for code, does in self.letters.codes.items() if MOTION_NAMES[does] == self.state.motion), math.nan)
        column = _held(self.words[self.letters.motion], held)[1:] if self.letters.motion else np.full(self.count, held)
        if math.isnan(column[0]):
            return None
        motion = np.full(self.count, RAPID, dtype=np.uint8)
        for code, does in self.letters.codes.items():
            if does != RAPID:
                motion[column == code] = does
        return motion

    def _feed(self, at_feed: Bools) -> Floats:
        """F a row, and the run cut before a row at feed whose F is missing, zero or too large."""
        state = self.state
        inverse = state.feed_mode == FEED_INVERSE
        column = self._scaled(self.letters.feed, "inverse_feed" if inverse else "feed")
        self._cut(column <= 0)
        if not inverse:
            column = _held(column, math.nan if state.feed is None else state.feed)[1:]
        self._cut(at_feed if state.feed_mode is None else at_feed & ~(column <= largest_feed(state, self.dialect)))
        return column

    def _axis(self, axis: int) -> Floats:
        """(count + 1,) positions of a linear axis in mm, the one before the run first."""
        held = self.state.position_mm[axis]
        if axis == self.dialect.replaced:
            return np.full(self.count + 1, held)
        return self._followed(self._mm(AXES[axis]), held)

    def _followed(self, column: Floats, held: float) -> Floats:
        """(count + 1,) positions from words that are positions, or steps where the program says so."""
        if not self.state.incremental:
            return _held(column, held)
        given = column == column
        if math.isnan(held):
            self._cut(given)
            return np.full(self.count + 1, held)
        return np.add.accumulate(np.concatenate(([held], np.where(given, column, 0.0))))

    def _rotary(self) -> tuple[Floats, Floats | None]:
        """(count + 1,) W in degrees, the one before the run first, and positions within a turn if these roll over."""
        state, rotary, letter = self.state, self.dialect.rotary, self.dialect.rotary_letter
        if rotary is None:
            return np.full(self.count + 1, state.w_deg), None
        if rotary.replaces:
            return self._followed(self._mm(letter) / rotary.mm_per_degree, state.w_deg), None
        column = self._scaled(letter, "angle")
        if not self.dialect.rolls_over:
            return self._followed(column, state.w_deg), None
        given = np.flatnonzero(column == column)
        stands, within, wrong = np.full(self.count, np.nan), np.full(self.count, np.nan), np.zeros(self.count, dtype=np.bool_)
        stands[given], within[given], wrong[given] = unwound(column[given], state.part_turn_deg, state.turns, rotary.travel.rule)
        self._cut(wrong)
        return _held(stands, state.w_deg), _held(within, state.part_turn_deg)

    def _arcs(self, motion: Codes, axes: list[Floats]) -> tuple[ArcsRead | None, Floats | None]:
        """The arcs and (n,) the length of their paths in mm; the run cut before what is wrong with one, or its words on another motion."""
        letters = [letter for letter in self.letters.arcs if letter in self.words]
        at = np.flatnonzero(motion >= CLOCKWISE)
        if not letters and not len(at):
            return None, None
        stray = np.zeros(self.count, dtype=np.bool_)
        for letter in letters:
            stray |= self.words[letter] == self.words[letter]
        stray[at] = False
        plane = self.state.plane
        if plane is None or not len(at) or not arcs_are_spoken(plane, self.dialect):
            stray[at] = True
            self._cut(stray)
            return None, None
        words = {letter: self._mm(letter)[at] if letter in letters else np.full(len(at), np.nan) for letter in CENTRES + RADIUS}
        named = [self.words[letter][at] == self.words[letter][at] for letter in AXES]
        places = [np.stack((axis[at], axis[at + 1])) for axis in axes]
        shapes = arc_shapes(motion[at], places, named, words, plane, self.dialect, inch=self.state.inch)
        stray[at] = np.logical_or.reduce(list(shapes.wrong.values()))
        self._cut(stray)
        first, second, third = PLANE_AXES[plane]
        arcs, length = no_arcs(self.count), np.full(self.count, np.nan)
        arcs.centre_mm[at, first], arcs.centre_mm[at, second] = shapes.centre.real, shapes.centre.imag
        arcs.centre_mm[at, third] = places[third][0]
        arcs.plane[at] = plane
        arcs.sweep_rad[at] = shapes.sweep_rad
        arcs.full_turns[at] = shapes.full_turns
        length[at] = shapes.length_mm
        return arcs, length

    def _clear(self, rows: int) -> Bools:
        """Clear until the first word of Z."""
        clear = np.full(rows, self.state.clear)
        if self.state.clear and self.dialect.replaced != 2:
            down = self.words["Z"][:rows]
            clear[np.logical_or.accumulate(down == down)] = False
        return clear


def _held(column: Floats, held: float) -> Floats:
    """(count + 1,) what holds: the value from before first, then in each line its own number or, where that is NaN, the last one."""
    known = np.concatenate(([held], column))
    given = column == column
    if given.all():
        return known
    source = np.zeros(len(known), dtype=np.int64)
    np.multiply(given, np.arange(1, len(known)), out=source[1:])
    np.maximum.accumulate(source, out=source)
    return known[source]
