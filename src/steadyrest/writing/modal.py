"""What the controller holds between blocks, as far as the program has told it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from steadyrest.columns import Floats
from steadyrest.writing.dialect import AxisWord, Dialect
from steadyrest.writing.numbers import to_count


@dataclass(slots=True)
class Modal:
    """The state that decides which words a block can leave out, carried from block to block.

    counts   where each axis stands, by letter, in counts of its word's least increment; an axis not in it is not known
    said     letters of the axes that a motion block has stated since the last `forget`
    exact    (3,) float64, where X, Y, Z were asked to stand, program units, before rounding; NaN: not known
    motion, plane, mode, feed   code numbers and F count last stated; None: not stated since the last `forget`
    mode_now                    the feed mode in force, whether it has to be stated again or not
    """

    counts: dict[str, int] = field(default_factory=dict)
    said: set[str] = field(default_factory=set)
    exact: Floats = field(default_factory=lambda: np.full(3, np.nan))
    motion: int | None = None
    plane: int | None = None
    mode: int | None = None
    feed: int | None = None
    mode_now: int | None = None

    def forget(self) -> None:
        """After a stop, a tool change and the like everything is stated again; where the axes stand is still known."""
        self.said.clear()
        self.motion = self.plane = self.mode = self.feed = None

    def lose(self, letter: str) -> None:
        """An axis was moved in a way that leaves its place in work coordinates unknown."""
        self.counts.pop(letter, None)
        self.said.discard(letter)
        if letter in "XYZ":
            self.exact["XYZ".index(letter)] = np.nan


def at_start(dialect: Dialect) -> Modal:
    """The state before the first block: nothing is known but the start position, where the profile has one."""
    modal = Modal()
    start = dialect.profile.program.start_position
    if start is not None:
        places = np.array([dialect.from_mm(v) for v in start[:3]] + [start[3]])
        modal.exact = places[:3].copy()
        for axis in dialect.axes:
            modal.counts[axis.letter] = place_count(axis, float(places[axis.column]))
    return modal


def place_count(axis: AxisWord, value: float) -> int:
    """The count of one axis' place: a column of `xyz` in program units, or the rotary in degrees."""
    return to_count(value * axis.scale, axis.spelled)
