"""Passes of a few moves each, many of them measured and timed at once: their columns by themselves would take longer to ask than to answer.

Their cuts are paired with the program's blocks at feed one by one, in order. As with any pairing (see `matching`) that is a proposal,
judged by the same measures: a pass that is not wholly right by it is gone through by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import chain, islice

import numpy as np

from steadyrest.columns import Ints, join
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.figures import StretchFigures
from steadyrest.proof.geometry import FULL_TURN
from steadyrest.proof.intended_path import OperationFrame, Pass, elements_of
from steadyrest.proof.matching import leading, near, one_to_one
from steadyrest.proof.measure import measure
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.proof.speed import figures_of, time_of
from steadyrest.toolpath import RAPID, Item, MoveColumns

MOST_PASSES = 512
_FEW = 8
"""Passes that are tried at first."""
_SHORT = 32
"""Moves of a pass that is worth it."""


def grouped(passes: Iterable[Pass]) -> Iterator[tuple[list[tuple[Pass, Iterable[Item]]], list[MoveColumns]]]:
    """The passes, each with its moves: those short ones that follow each other together, with their columns, the others one by one."""
    group: list[tuple[Pass, Iterable[Item]]] = []
    columns: list[MoveColumns] = []
    for this in passes:
        items = this.operation.stream()
        begin = list(islice(items, 2))
        still = isinstance(this.frame, OperationFrame) and this.frame.kind == "work" and this.plane is None
        run = begin[0] if len(begin) == 1 and still else None
        short = isinstance(run, MoveColumns) and len(run) <= _SHORT
        if group and (not short or len(group) >= MOST_PASSES):
            yield group, columns
            group, columns = [], []
        if isinstance(run, MoveColumns) and short:
            group.append((this, begin))
            columns.append(run)
        else:
            yield [(this, chain(begin, items))], []
    if group:
        yield group, columns


class ShortPasses:
    """Passes of which each is one run of moves of an operation that stands still, in order."""

    def __init__(self, passes: list[Pass], columns: list[MoveColumns], setting: Setting) -> None:
        self._setting = setting
        self._number = {id(this): number for number, this in enumerate(passes)}
        frames = [this.frame for this in passes if isinstance(this.frame, OperationFrame)]
        self._frame = frames[0]
        self._phi = np.array([frame.phi_rad for frame in frames])
        self._size = np.array([len(run) for run in columns])
        self._first = np.cumsum(self._size + 1) - self._size - 1
        # Between one pass and the next a move that goes from nowhere to nowhere.
        gap = MoveColumns(0, np.full(1, RAPID, np.uint8), np.full((1, 3), np.nan), None, np.full(1, np.nan))
        apart = join([each for run in columns for each in (run, gap)])
        self._elements = elements_of(apart, self._frame, np.full(4, np.nan), setting)
        cut = self._elements.kind != RAPID
        self._cuts = np.add.reduceat(cut, self._first, dtype=np.int64)
        self._lead = np.append(np.flatnonzero(cut), -1)[np.searchsorted(np.flatnonzero(cut), self._first)] - self._first
        self._rows: Rows | None = None
        self._found: dict[int, tuple[int, float, StretchFigures]] = {}
        self._many, self._passed_over, self._pass_over = _FEW, 0, 1

    def figures(self, this: Pass, cursor: Cursor, turns_off: float) -> StretchFigures | None:
        """Of all blocks of a pass after its first move, which come next; None where they are not one to one, not right, or interrupted."""
        if cursor.ahead() != "rows":
            return None
        number = self._number[id(this)]
        if not (self._lead[number] > 0 and self._cuts[number] > 0):
            return None
        if (number not in self._found or self._rows is not cursor.rows) and not self._look_ahead(number, cursor):
            return None
        at, turns, figures = self._found[number]
        if at == cursor.at and at + figures.blocks <= cursor.stop and abs(turns - turns_off) < 1e-6:
            return figures
        self._found = {}  # nor are those after it where they were looked for
        return None

    def _look_ahead(self, number: int, cursor: Cursor) -> bool:
        """Judge this pass and some after it; whether it is right itself."""
        if self._passed_over > 0:
            self._passed_over -= 1
            return False
        self._rows = cursor.rows
        self._found = self._judged(slice(number, number + self._many), cursor)
        right = number in self._found
        # Where nothing goes one to one, trying costs less and less.
        self._passed_over, self._pass_over = (0, 1) if right else (self._pass_over, min(2 * self._pass_over, MOST_PASSES))
        self._many = 8 * self._many if len(self._found) == self._many else _FEW
        return right

    def _judged(self, which: slice, cursor: Cursor) -> dict[int, tuple[int, float, StretchFigures]]:
        """For each of the passes up to the first that is not right: where its blocks begin, whole turns, and figures."""
        rows, setting, elements = cursor.rows, self._setting, self._elements
        size, first, cuts, lead, phi = (column[which] for column in (self._size, self._first, self._cuts, self._lead, self._phi))
        at_feed = cursor.at + np.flatnonzero(rows.motion[cursor.at :] != RAPID)
        before = np.cumsum(cuts) - cuts
        # One that begins with a cut, or has none, is told by more than its blocks at feed.
        count = leading((before + cuts <= len(at_feed)) & (cuts > 0) & (lead > 0))
        begin = at_feed[before[:count]] - lead[:count] + 1
        stop = begin + size[:count] - 1
        count = leading((stop <= len(rows)) & (begin >= np.append(cursor.at, stop[:-1])))
        if count == 0 or begin[0] != cursor.at:
            return {}
        turns = FULL_TURN * np.round((rows.phi[begin[:count]] - phi[:count]) / FULL_TURN)

        def columns(count: int) -> tuple[Ints, Ints, Ints, Ints]:
            """Of the blocks (k,): the pass, block and element; and the first block of each pass among them (count,)."""
            many = size[:count] - 1
            starts = np.cumsum(many) - many
            own = np.repeat(np.arange(count), many)
            within = np.arange(len(own)) - starts[own]
            return own, begin[own] + within, first[own] + 1 + within, starts

        own, block, element, starts = columns(count)
        frame = replace(self._frame, phi_rad=phi[own])
        points = frame.of_program(rows.vertex[block + 1], rows.phi[block + 1] - turns[own])
        alike = (rows.motion[block] == RAPID) == (elements.kind[element] == RAPID)
        reach = setting.reach_mm(self._frame.turn_radius_mm)
        count = leading(np.logical_and.reduceat(alike & near(points - elements.points[element + 1], reach), starts))
        if count == 0:
            return {}
        own, block, element, starts = columns(count)
        frame = replace(self._frame, phi_rad=phi[own])
        pairs = replace(one_to_one(0, len(block), 0.0), element=element)
        found = measure(rows, block, elements, pairs, frame, setting, turns[own])
        good = (found.apart_mm <= found.limit_mm) & (found.axis_over_rad <= setting.axis_limit_rad)
        cut = rows.motion[block] != RAPID
        # Which feed is meant for a block that is shorter than what is allowed is told by its neighbours.
        good &= ~cut | (np.minimum(found.intended_mm, found.program_mm) > 2 * reach)
        cutting = np.flatnonzero(cut)
        firsts = np.searchsorted(cutting, starts)
        timing = time_of(found, cutting, setting, reach, firsts)
        good[cutting[timing.lowered]] = False
        if timing.wrong is not None:
            good[cutting[timing.wrong[0]]] = False
        count = leading(np.logical_and.reduceat(good, starts))
        figures = figures_of(found, timing, cutting, firsts, size[: len(starts)] - 1, starts)
        told = zip(begin.tolist(), turns.tolist(), figures, strict=False)
        return dict(zip(range(which.start, which.start + count), told, strict=False))
