"""What planning works on and hands to writing: motion in columns, and the events between its runs.

A plan is a stream of `Motion` and `Event` in the order of the program. Positions are work coordinates in the units of the
program; a rotary is the commanded word W in degrees, unwound (it counts on past 360), whatever letter or scale it is written with.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np

from steadyrest.columns import Codes, Floats, Ints
from steadyrest.conventions import PER_MINUTE
from steadyrest.events import check_event
from steadyrest.notices import Notice

NAN = float("nan")
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
    tip         (n,) float64, way of the tip over the part, program units; while planned NaN where it is the straight way of X, Y and Z
    feed_mode   (n,) uint8: PER_MINUTE or INVERSE; of no meaning in a rapid
    arcs        None when no row is an arc
    operation   number of the operation, from 1; 0 outside any
    rule        why these blocks are there: "approach", "link", "turn", "rapid", "cut", "hole", "turn_back", "reorient", "retract", "end"
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
    feed: Floats | float = NAN,
    move: Ints | int = 0,
    tip: Floats | float = 0.0,
    feed_mode: int = PER_MINUTE,
    operation: int = 0,
    rule: str = "",
) -> Motion:
    """Blocks without arcs to xyz (n, 3) and rotary_deg (n, r); of the rest a single value, in a column to be read only, stands for all."""
    n = len(xyz)
    return Motion(
        _column(kind, n, np.uint8),
        xyz,
        rotary_deg,
        _column(feed, n, np.float64),
        _column(move, n, np.int64),
        _column(tip, n, np.float64),
        constant(feed_mode, n, np.uint8),
        operation=operation,
        rule=rule,
    )


def _column(value: Any, n: int, kind: type) -> Any:
    return value.astype(kind, copy=False) if isinstance(value, np.ndarray) else constant(value, n, kind)


@lru_cache(maxsize=1024)
def _short(value: float, shape: int | tuple[int, int], kind: type) -> Any:
    made: Any = np.full(shape, value, dtype=kind)
    made.flags.writeable = False
    return made


def constant(value: float, shape: int | tuple[int, int], kind: type = np.float64) -> Any:
    """An array of one value, to be read only: of the short ones, of which there are many, each is made once."""
    return np.full(shape, value, dtype=kind) if (shape if isinstance(shape, int) else shape[0]) > 64 else _short(value, shape, kind)


Spot = tuple[float, float, float]
NOWHERE: Spot = (NAN, NAN, NAN)


class Stand(NamedTuple):
    """Where the machine stands between two runs.

    xyz         work coordinates, program units; NaN where not known
    rotary_deg  commanded rotaries, unwound; NaN before they were ever stated
    point       where the tip stands in the operation's own coordinates, program units; NaN before its first point
    phi_deg     the part's unwound angle in a turning operation, before the operation's whole turns are added; NaN before its first
    clamped     of each rotary whether its clamp is on; None where not known
    arrived     of each whether it came there by a turn of its own, from the side that the profile asks for; not in a cut
    """

    xyz: Spot
    rotary_deg: tuple[float, ...]
    point: Spot = NOWHERE
    phi_deg: float = NAN
    clamped: tuple[bool | None, ...] = ()
    arrived: tuple[bool, ...] = ()


def unknown(rotaries: int) -> Stand:
    """Nothing is known of where the machine stands."""
    return standing(NOWHERE, (NAN,) * rotaries)


def standing(xyz: Spot, rotary_deg: tuple[float, ...]) -> Stand:
    """The machine stands there, nothing is known of its clamps, and it came from anywhere."""
    return Stand(xyz, rotary_deg, clamped=(None,) * len(rotary_deg), arrived=(False,) * len(rotary_deg))


def spot(place: Floats) -> Spot:
    """A place (3,) by itself."""
    x, y, z = place.tolist()
    return x, y, z


def starts(rows: Motion, stand: Stand) -> tuple[Floats, Floats]:
    """Where each row begins: xyz (n, 3) and rotary_deg (n, r)."""
    return np.vstack([stand.xyz, rows.xyz])[:-1], np.vstack([stand.rotary_deg, rows.rotary_deg])[:-1]


def after(rows: Motion, stand: Stand) -> Stand:
    """Where the machine stands after the rows: NaN in a row means that the axis was not commanded and stays."""
    x, y, z = _last_known(rows.xyz, stand.xyz)
    if np.isnan(rows.rotary_deg).all():
        return stand._replace(xyz=(x, y, z))
    turned = np.nanmax(np.abs(rows.rotary_deg - stand.rotary_deg), axis=0, initial=0.0) > STILL_DEG
    arrived = tuple(there and not turns for there, turns in zip(stand.arrived, turned.tolist(), strict=True))
    return stand._replace(xyz=(x, y, z), rotary_deg=_last_known(rows.rotary_deg, stand.rotary_deg), arrived=arrived)


def _last_known(places: Floats, before: tuple[float, ...]) -> tuple[float, ...]:
    """The last place of each axis that is no NaN, of rows (n, k) and what was before them."""
    if not len(places):
        return before
    last = places[-1].tolist()
    for axis, value in enumerate(last):
        if value != value:
            known = np.flatnonzero(~np.isnan(places[:, axis]))
            last[axis] = float(places[known[-1], axis]) if len(known) else before[axis]
    return tuple(last)


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


@dataclass(slots=True)
class Seen:
    """What is met in one operation, for its notices: blocks slowed, with the lowest feed made and what was asked, and others."""

    slowed: int = 0
    slowest: tuple[float, float] = (float("inf"), 0.0)
    limits: tuple[str, ...] = ()
    turned_back: list[Notice] = field(default_factory=list)
    lifted: int = 0
    cut_moves: int = 0
    cut_blocks: int = 0
    written_out: Counter[tuple[str, str]] = field(default_factory=Counter)

    def slow(self, blocks: int, asked: float, made: float, *limits: str) -> None:
        """So many blocks more are slowed, the slowest of which was made `made` of `asked`."""
        self.slowed += blocks
        self.limits = tuple(dict.fromkeys((*self.limits, *limits)))
        self.slowest = min(self.slowest, (made, asked))


class Asked(NamedTuple):
    """A planned run whose feeds are still the speeds of the tip that are asked, and where it starts."""

    rows: Motion
    stand: Stand


Step = PlanItem | Asked
"""What is planned before feeds are: an item, or a run that still needs them."""
