"""Carries out many plain lines of motion at once, in columns; the same rows as one block after the other would give.

Nothing is refused here: a run ends before the first line that cannot be carried out, and the full rules then say why.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import replace
from operator import itemgetter

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, take
from steadyrest.conventions import ARC_CLOCKWISE, AXES, INVERSE, LINE, PLANE_AXES, RAPID
from steadyrest.errors import ProgramError
from steadyrest.profile import Rotary
from steadyrest.reading.arcs import arc_shapes, arcs_are_spoken
from steadyrest.reading.collector import ROWS_PER_ITEM, Collector
from steadyrest.reading.dialect import CENTRES, RADIUS, Dialect
from steadyrest.reading.execution import carry_out
from steadyrest.reading.motion_read import BESIDE_WORDS, MOTIONS, ArcsRead, EventRead, no_arcs
from steadyrest.reading.moves import MACHINE_NEAR_MM, largest_feed, unwound
from steadyrest.reading.plain_lines import MACHINE, MODES, MOTION, PlainLines
from steadyrest.reading.state import UNKNOWN, State

MOTION_NAMES = {motion: name for name, motion in MOTIONS.items()}


class Run:
    """A stretch of plain lines met by a state, and of those left out among them; `carry_out` says how many of them it could take."""

    def __init__(self, dialect: Dialect, lines: PlainLines, start: int, stop: int, state: State) -> None:
        self.dialect = dialect
        self.state = state
        self.words = {name: column[start:stop] for name, column in lines.columns.items()}
        self.points = {name: column[start:stop] for name, column in lines.points.items()}
        self.moves = lines.moves[start:stop]
        self.worded = lines.worded[start:stop]
        first, last = (bisect_left(lines.comments, (line, "")) for line in (start, stop))
        self.comments = [(line - start, text) for line, text in lines.comments[first:last]]
        first, last = (bisect_left(lines.switches, line, key=itemgetter(0)) for line in (start, stop))
        self.switches = [(line - start, block) for line, block in lines.switches[first:last]]
        self.count = stop - start
        self.good = stop - start
        self.rolls_over = any(rotary.rolls_over for rotary in dialect.rotaries.values())

    def carry_out(self, first_line: int, out: Collector) -> int:
        """Give the rows and events of the run to `out` and change the state; how many lines that were, from the first.

        first_line   counts from 1
        """
        state, dialect = self.state, self.dialect
        if state.incremental is None or state.mm_per_unit is None or (state.incremental and self.rolls_over):
            return 0
        if not out.moved and dialect.lenient is None:  # the codes of the safe start are still told
            return 0
        self._stay_in_modes()
        motion = self._motion()
        machine = self._machine(motion)
        feed = self._feed(self.moves & (motion != RAPID))
        rotaries = [self._rotary(at, letter, rotary) for at, (letter, rotary) in enumerate(dialect.rotaries.items())]
        axes = [self._axis(axis, machine) for axis in range(3)]
        arcs, arc_mm = self._arcs(motion, axes)
        clear, retracts = self._clear(machine)
        switched = self._switched(first_line)
        lines = self.good
        if lines == 0:
            return 0
        places = np.array([axis[: lines + 1] for axis in (*axes, *(stands for stands, _ in rotaries))])
        at = np.flatnonzero(self.moves[:lines])
        rows: Ints | slice = at if len(at) < lines else slice(lines)
        rapid = motion == RAPID
        out.columns(
            first_line + at,
            motion[rows],
            places if len(at) == lines else places[:, np.concatenate(([0], at + 1))],
            (np.where(rapid, np.nan, feed) if rapid.any() else feed)[rows],
            np.full(len(at), state.feed_mode or 0, dtype=np.uint8),
            clear[rows],
            np.zeros(len(at), dtype=np.bool_),
            state.mm_per_unit,
            take(arcs, rows) if arcs is not None and (motion[rows] >= ARC_CLOCKWISE).any() else None,
            arc_mm[rows] if arc_mm is not None else None,
            self._events(first_line, retracts[retracts < lines], switched, at),
        )
        stated = self.words.get(MOTION)
        if stated is not None and (stated[:lines] == stated[:lines]).any():
            state.motion = MOTION_NAMES[int(motion[lines - 1])]
        x, y, z, *stands_at = places[:, -1].tolist()
        state.position_mm, state.rotary_deg = (x, y, z), tuple(stands_at)
        for number, (w_deg, (_, part_turn_deg)) in enumerate(zip(stands_at, rotaries, strict=True)):
            if part_turn_deg is not None:
                state.stand_within_a_turn(number, w_deg, float(part_turn_deg[lines]))
        state.clear = bool(clear[lines])
        if state.feed_mode != INVERSE and not math.isnan(feed[lines - 1]):
            state.feed = float(feed[lines - 1])
        return lines

    def carry_out_holes(self, first_line: int, out: Collector) -> int:
        """The same for lines that only give places to the cycle in force: each makes the rows of the hole on the line before it, elsewhere.

        So it is where that hole began over another place, at the height at which it ended: then nothing but the place tells holes apart.
        """
        state, hole = self.state, out.since_event()
        if hole is None or state.incremental is not False or self.dialect.lenient is not None:
            return 0
        ends, begin = hole.end_mm, hole.vertex_mm[0]
        over = bool((begin[:2] != ends[0, :2]).any()) and begin[2] == ends[0, 2] == ends[-1, 2]
        if not over or not hole.cycle.all() or (hole.line != first_line - 1).any() or (ends[:, :2] != ends[0, :2]).any():
            return 0
        self._cut(~self.moves)
        self.good = min([self.good, *(line for line, _ in self.comments[:1])])
        for letter, column in self.words.items():
            if letter not in (*AXES[:2], self.dialect.profile.program.block_numbers.letter):
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
        assert self.state.mm_per_unit is not None
        column = self._scaled(letter, "length")
        return column if self.state.mm_per_unit == 1.0 else column * self.state.mm_per_unit

    def _stay_in_modes(self) -> None:
        state = self.state
        in_force = (state.feed_mode, state.incremental, state.plane, state.mm_per_unit)
        for group, held in zip(MODES, in_force, strict=True):
            if group in self.words:
                column = self.words[group]
                self._cut((column == column) & (column != (math.nan if held is None else held)))

    def _motion(self) -> Codes:
        """RAPID, LINE, ARC_CLOCKWISE or ARC_COUNTERCLOCKWISE a line; the run cut before a row without one of them."""
        held = MOTIONS.get(self.state.motion or "", math.nan)
        column = _held(self.words[MOTION], held)[1:] if MOTION in self.words else np.full(self.count, held)
        unknown = column != column
        if unknown.any():
            self._cut(unknown & self.moves)
            column = np.where(unknown, RAPID, column)
        return column.astype(np.uint8)

    def _machine(self, motion: Codes) -> Bools | None:
        """Which lines go to places of the machine, if any does; the run cut before what is wrong with one (see `moves.machine_move`)."""
        if MACHINE not in self.words:
            return None
        machine: Bools = self.words[MACHINE] == self.words[MACHINE]
        if self.state.incremental:
            self._cut(machine)
        if self.state.incremental or not machine.any():
            return None
        wrong = motion >= ARC_CLOCKWISE
        for letter in self.dialect.rotaries:
            turned = self.words[letter]
            wrong = wrong | (turned == turned)
        low = self._mm("Z") < self.dialect.profile.retract.machine_z - MACHINE_NEAR_MM
        if self.dialect.lenient is not None:
            low &= motion == LINE
        self._cut(machine & (wrong | low))
        return machine

    def _feed(self, at_feed: Bools) -> Floats:
        """F a row, and the run cut before a row at feed whose F is missing, zero or too large."""
        state = self.state
        inverse = state.feed_mode == INVERSE
        column = self._scaled("F", "inverse_feed" if inverse else "feed")
        self._cut(column <= 0)
        if not inverse:
            column = _held(column, math.nan if state.feed is None else state.feed)[1:]
        self._cut(at_feed if state.feed_mode is None else at_feed & ~(column <= largest_feed(state, self.dialect)))
        return column

    def _axis(self, axis: int, machine: Bools | None = None) -> Floats:
        """(count + 1,) positions of a linear axis in mm, the one before the run first; not known after a place of the machine."""
        held = self.state.position_mm[axis]
        if axis == self.dialect.replaced:
            return np.full(self.count + 1, held)
        column = self._mm(AXES[axis])
        if machine is None:
            return self._followed(column, held)
        return _held(np.where(machine, np.nan, column), held, column == column)

    def _followed(self, column: Floats, held: float) -> Floats:
        """(count + 1,) positions from words that are positions, or steps where the program says so."""
        if not self.state.incremental:
            return _held(column, held)
        given = column == column
        if math.isnan(held):
            self._cut(given)
            return np.full(self.count + 1, held)
        return np.add.accumulate(np.concatenate(([held], np.where(given, column, 0.0))))

    def _rotary(self, at: int, letter: str, rotary: Rotary) -> tuple[Floats, Floats | None]:
        """(count + 1,) W of a rotary in degrees, the one before the run first, and positions within a turn if these roll over."""
        state = self.state
        if rotary.replaces:
            return self._followed(self._mm(letter) / rotary.mm_per_degree, state.rotary_deg[at]), None
        column = self._scaled(letter, "angle")
        if not rotary.rolls_over:
            return self._followed(column, state.rotary_deg[at]), None
        given, rule = np.flatnonzero(column == column), rotary.travel.rule
        stands, within, wrong = np.full(self.count, np.nan), np.full(self.count, np.nan), np.zeros(self.count, dtype=np.bool_)
        stands[given], within[given], wrong[given] = unwound(column[given], state.part_turn_deg[at], state.turns[at], rule)
        self._cut(wrong)
        return _held(stands, state.rotary_deg[at]), _held(within, state.part_turn_deg[at])

    def _arcs(self, motion: Codes, axes: list[Floats]) -> tuple[ArcsRead | None, Floats | None]:
        """The arcs and (n,) the length of their paths in mm; the run cut before what is wrong with one, or its words on another motion."""
        letters = [letter for letter in CENTRES + RADIUS if letter in self.words]
        at = np.flatnonzero((motion >= ARC_CLOCKWISE) & self.moves)
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

    def _clear(self, machine: Bools | None) -> tuple[Bools, Ints]:
        """(count + 1,) whether Z is clear in each line, and after the last: until the first word of Z; and the lines that make it so."""
        if self.dialect.replaced == 2 or (machine is None and not self.state.clear):
            return np.full(self.count + 1, self.state.clear), np.empty(0, dtype=np.int64)
        down = self.words["Z"] == self.words["Z"]
        up = down & machine if machine is not None else np.zeros(self.count, dtype=np.bool_)
        down = down & ~up
        held = _held(np.where(down, 0.0, 1.0), float(self.state.clear), down | up) != 0
        held[:-1] &= ~down
        return held, np.flatnonzero(up)

    def _switched(self, first_line: int) -> list[tuple[int, EventRead]]:
        """The events of the switches; the run cut before one that is refused."""
        told: list[tuple[int, EventRead]] = []
        aside = Collector(self.dialect)
        aside.moved = True
        for line, block in self.switches:
            if line < self.good:
                try:
                    carry_out(replace(block, line=first_line + line), self.state, self.dialect, aside)
                except ProgramError:
                    self.good = line
                told += [(line, event) for event in aside.ready if isinstance(event, EventRead)]
                aside.ready.clear()
        return [(line, event) for line, event in told if line < self.good]

    def _events(self, first_line: int, retracts: Ints, switched: list[tuple[int, EventRead]], rows: Ints) -> list[tuple[int, EventRead]]:
        """The comments, ways up and switches, each with the number of rows before it."""
        beside = self.worded if self.dialect.lenient is not None else np.zeros(self.count, dtype=np.bool_)
        told = [
            (line, EventRead(first_line + line, "comment", BESIDE_WORDS if beside[line] else UNKNOWN, text))
            for line, text in self.comments
            if line < self.good
        ]
        told += [(line, EventRead(first_line + line, "retract")) for line in retracts.tolist()]
        told = sorted([*told, *switched], key=itemgetter(0))
        before = np.searchsorted(rows, [line for line, _ in told]).tolist()
        return [(row, event) for row, (_, event) in zip(before, told, strict=True)]


def _held(column: Floats, held: float, given: Bools | None = None) -> Floats:
    """(count + 1,) what holds: the value from before first, then in each line its own number or, where none is given, the last one."""
    known = np.concatenate(([held], column))
    given = column == column if given is None else given
    if given.all():
        return known
    source = np.zeros(len(known), dtype=np.int64)
    np.multiply(given, np.arange(1, len(known)), out=source[1:])
    np.maximum.accumulate(source, out=source)
    return known[source]
