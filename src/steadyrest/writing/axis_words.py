"""Axis words: where an axis stands after each row in counts, where its word has to be written, and what the word says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import Motion
from steadyrest.writing.dialect import AxisWord, Dialect
from steadyrest.writing.modal import Modal
from steadyrest.writing.numbers import to_counts
from steadyrest.writing.slots import Flags, Slot, number_slot


@dataclass(slots=True)
class AxisColumn:
    """One axis in a chunk: where it stands after each row, and what its word would say.

    counts   (n,) int64, the place after each row
    before   (n,) int64, the place before each row
    known    (n,) bool or None for all: whether the place before is known
    said     (n,) bool, the word has to be written
    """

    axis: AxisWord
    counts: Ints
    before: Ints
    known: Flags | None
    said: Flags


def _places(axis: AxisWord, run: Motion) -> Floats:
    return run.xyz[:, axis.column] if axis.column < 3 else run.rotary_deg[:, axis.column - 3]


def commanded(axis: AxisWord, run: Motion) -> Flags:
    """The rows (n,) that command an axis."""
    return ~np.isnan(_places(axis, run))


def axis_column(axis: AxisWord, run: Motion, modal: Modal) -> AxisColumn | None:
    """An axis in counts, and where its word has to be written; None where the run does not command it at all."""
    values = _places(axis, run) if axis.scale == 1.0 else _places(axis, run) * axis.scale
    last = modal.counts.get(axis.letter)
    stated = axis.letter in modal.said and last is not None
    n = len(values)
    before = np.empty(n, np.int64)
    if not np.isnan(values.min()):
        counts = to_counts(values, axis.spelled)
        before[0] = counts[0] if last is None else last
        before[1:] = counts[:-1]
        said = counts != before
        said[0] |= not stated
        known = None
        if last is None:
            known = np.ones(n, bool)
            known[0] = False
        return AxisColumn(axis, counts, before, known, said)
    rows = np.flatnonzero(~np.isnan(values))
    if not len(rows):
        return None
    some = to_counts(values[rows], axis.spelled)
    # Where the axis is not commanded it stays where the last row with a command has left it.
    latest = np.cumsum(~np.isnan(values)) - 1
    unknown = some[0] if last is None else last
    counts = np.where(latest >= 0, some[np.maximum(latest, 0)], unknown)
    before[0] = unknown
    before[1:] = counts[:-1]
    said = counts != before
    said[rows[0]] |= not stated
    known = None
    if last is None:
        known = np.arange(n) > rows[0]
    return AxisColumn(axis, counts, before, known, said)


def axis_slot(column: AxisColumn, dialect: Dialect) -> Slot:
    """The words of one axis: positions, steps, or positions within a turn. PlanError for a step from an unknown place."""
    axis = column.axis
    counts = column.counts
    if dialect.incremental:
        if column.known is not None and (column.said & ~column.known).any():
            raise PlanError(
                f"a step of {axis.letter} starts where the position is not known",
                cure="a controller of steps only needs program.start_position, and a retract in work coordinates (retract.form 'height')",
            )
        counts = counts - column.before
    elif axis.turn:
        counts = _within_a_turn(column)
    return number_slot(axis.letter, counts, axis.spelled, None if column.said.all() else column.said)


def _within_a_turn(column: AxisColumn) -> Ints:
    """Rotary counts as a controller that rolls over at 360 degrees wants them: positions within a turn, from 0 up to 360 not included.

    With the sign as the direction, a position reached by turning down is written negative, and 0 reached so as -360.
    PlanError where a single word cannot say how far to turn.
    """
    axis, turn = column.axis, column.axis.turn
    step = column.counts - column.before
    place = column.counts % turn
    reach = np.abs(step).max()
    if axis.turning == "shortest":
        if 2 * reach >= turn:
            raise PlanError(
                f"a block turns {axis.letter} by half a turn or more, and the controller takes the shortest way",
                cure="split the turn into smaller ones",
            )
        return place
    if reach >= turn:
        raise PlanError(f"a block turns {axis.letter} by a whole turn or more, which no position can say", cure="split the turn")
    return np.where(step < 0, np.where(place == 0, -turn, -place), place)
