"""What planning works on and hands to writing: motion in columns, and the events between its runs.

A plan is a stream of `Motion` and `Event` in the order of the program. Positions are work coordinates in the units of the
program; a rotary is the commanded word W in degrees, unwound (it counts on past 360), whatever letter or scale it is written with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from steadyrest.columns import Codes, Floats, Ints
from steadyrest.events import check_event

RAPID, LINE, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE = 0, 1, 2, 3
PER_MINUTE, INVERSE = 0, 1
XY, XZ, YZ = 0, 1, 2
STILL_DEG = 1e-9
"""Turns smaller than this are none: far below the least increment of any rotary."""


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """What the arcs of a motion have besides; of no meaning in rows that are no arc.

    centre      (n, 3) float64, arc centre, work coordinates
    plane       (n,) uint8: XY, XZ, YZ
    """

    centre: Floats
    plane: Codes


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Consecutive motion blocks, one row a block: `steadyrest.columns.take` and `join` work on them.

    kind        (n,) uint8: RAPID, LINE, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE (turning as seen from the + end of the third axis)
    xyz         (n, 3) float64, end position, work coordinates, program units; NaN: not commanded, and where it stands is not known
    rotary_deg  (n, r) float64, a column for each rotary that the program turns: commanded, degrees, unwound; NaN: not commanded
    feed        (n,) float64, NaN in a rapid; while planned the speed of the tip that is asked, program units per minute;
                as handed to writing the F word, exact, as the mode means it
    move        (n,) int64, number of the toolpath move that asked for the block, from 1; 0: none, a link
    tip         (n,) float64, way of the tip over the part, program units
    feed_mode   (n,) uint8: PER_MINUTE or INVERSE; of no meaning in a rapid
    arcs        None when no row is an arc
    operation   number of the operation, from 1; 0 outside any
    rule        why these blocks are there: "approach", "link", "turn", "rapid", "cut", "hole", "turn_back", "retract", "end"
    """

    kind: Codes
    xyz: Floats
    rotary_deg: Floats
    feed: Floats
    move: Ints
    tip: Floats
    feed_mode: Codes
    arcs: Arcs | None = None
    operation: int = 0
    rule: str = ""

    def __len__(self) -> int:
        return len(self.kind)


def motion(
    kind: Codes | int,
    xyz: Floats,
    rotary_deg: Floats,
    *,
    feed: Floats | float = float("nan"),
    move: Ints | int = 0,
    tip: Floats | float = 0.0,
    feed_mode: int = PER_MINUTE,
    operation: int = 0,
    rule: str = "",
) -> Motion:
    """Blocks without arcs to xyz (n, 3) and rotary_deg (n, r); of the rest a single value stands for all rows."""
    n = len(xyz)
    return Motion(
        np.full(n, kind, dtype=np.uint8),
        xyz,
        rotary_deg,
        np.full(n, feed),
        np.full(n, move, dtype=np.int64),
        np.full(n, tip),
        np.full(n, feed_mode, dtype=np.uint8),
        operation=operation,
        rule=rule,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """Where the machine stands between two runs.

    xyz         (3,) work coordinates, program units; NaN where not known
    rotary_deg  (r,) commanded rotaries, unwound; NaN before it was ever stated
    point       (3,) where the tip stands in the operation's own coordinates, program units; NaN before its first point
    phi_deg     the part's unwound angle in a turning operation, before the operation's whole turns are added; NaN before its first
    clamped     whether the rotary's clamp is on; None where not known
    arrived     whether the rotary came there by a turn of its own, from the side that the profile asks for; not in a cut
    """

    xyz: Floats
    rotary_deg: Floats
    point: Floats
    phi_deg: float = float("nan")
    clamped: bool | None = None
    arrived: bool = False

    def entering(self) -> Stand:
        """The same place, with nothing said yet in an operation's own coordinates."""
        return replace(self, point=np.full(3, np.nan), phi_deg=float("nan"))


def unknown(rotaries: int) -> Stand:
    """Nothing is known of where the machine stands."""
    return Stand(np.full(3, np.nan), np.full(rotaries, np.nan), np.full(3, np.nan))


def starts(rows: Motion, stand: Stand) -> tuple[Floats, Floats]:
    """Where each row begins: xyz (n, 3) and rotary_deg (n, r)."""
    return np.vstack([stand.xyz, rows.xyz])[:-1], np.vstack([stand.rotary_deg, rows.rotary_deg])[:-1]


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
    """Something that is not plain motion: one of `steadyrest.events`, or a plug-in's own; a template of the same name says how it looks.

    rule     why it is there; of what a plug-in adds, `added`, which plug-in that is
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
    motion: tuple[Motion, ...] = ()
    holes: HoleRow | None = None
    added: bool = False

    def __post_init__(self) -> None:
        """ValueError for an event that is not in the table of events, or not as it is there."""
        if not self.added:
            check_event(self.name, self.facts, self.words)


PlanItem = Motion | Event
