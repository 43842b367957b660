"""What planning hands to writing: axis motion in columns, and the events between its runs.

A plan is a stream of `AxisRun` and `Event` in the order of the program. Positions are work coordinates in the units of the
program; the rotary is the commanded word W in degrees, unwound (it counts on past 360), whatever letter or scale it is written with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

RAPID, LINE, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE = 0, 1, 2, 3
PER_MINUTE, INVERSE = 0, 1
XY, XZ, YZ = 0, 1, 2

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class AxisRun:
    """Consecutive motion blocks, one row a block.

    operation   number of the operation, from 1; 0 outside any
    rule        why these blocks are there: "approach", "link", "turn", "rapid", "cut", "hole", "turn_back", "retract", "end"
    motion      (n,) uint8: RAPID, LINE, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE (turning as seen from the + end of the third axis)
    xyz         (n, 3) float64, end position, work coordinates, program units; NaN: not commanded, and where it stands is not known
    w_deg       (n,) float64, commanded rotary, degrees, unwound; NaN: not commanded
    feed_mode   (n,) uint8: PER_MINUTE or INVERSE; of no meaning in a rapid
    feed        (n,) float64, the F word as the mode means it, exact; NaN in a rapid
    move        (n,) int64, number of the toolpath move that asked for the block, from 1; 0: none, a link
    centre      (n, 3) float64, arc centre, work coordinates; None when the run has no arc
    plane       (n,) uint8: XY, XZ, YZ; None when the run has no arc
    """

    operation: int
    rule: str
    motion: Bytes
    xyz: Floats
    w_deg: Floats
    feed_mode: Bytes
    feed: Floats
    move: Ints
    centre: Floats | None = None
    plane: Bytes | None = None

    def __len__(self) -> int:
        return len(self.motion)


Kind = Literal["length", "angle", "feed", "inverse_feed", "dwell", "spindle", "count"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number on its way to become a word: its letter, its value, and what it measures (program units, degrees, seconds).

    digits    of a count: filled up with leading zeros to so many
    """

    letter: str
    value: float
    kind: Kind
    digits: int = 1


@dataclass(frozen=True, slots=True)
class HoleRow:
    """Holes of one cycle with the same depths: centres (n, 2) in program units, and the numbers (n,) of their moves."""

    xy: Floats
    move: Ints


@dataclass(frozen=True, slots=True)
class Event:
    """Something that is not plain motion; a template of the same name says how it looks.

    facts    what the template may say or decide by: text, whole numbers, truth values; text is not yet cleaned
    words    numbers that become words, by the name under which the template finds them
    motion   motion that belongs to the event (the turn of an index); rendered like all motion and handed over as text
    holes    the holes of a `cycle`
    """

    name: str
    operation: int = 0
    rule: str = ""
    move: int = 0
    facts: Mapping[str, str | int | bool | tuple[str, ...]] = field(default_factory=dict)
    words: Mapping[str, Quantity] = field(default_factory=dict)
    motion: tuple[AxisRun, ...] = ()
    holes: HoleRow | None = None


PlanItem = AxisRun | Event
