"""What does an operation's motion look like in columns, and what has to hold for every row of them?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, or_zero, take
from steadyrest.conventions import PLANE_AXES
from steadyrest.errors import Place, ToolpathError

RAPID, CUT, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE = 0, 1, 2, 3
PLANE_XY, PLANE_XZ, PLANE_YZ = 0, 1, 2
CYCLES = ("drill", "dwell-drill", "peck", "chip-break", "tap", "bore")
"""Drilling cycles, in the order of their numbers in columns."""

RUN_LENGTH = 25_000
"""Most rows in one MoveColumns: what is worked out of them stays small, and in the processor's cache."""
UNIT_TOLERANCE = 1e-4
"""How far from 1 the length of a tool axis may be (NISTIR 6556 has none; common practice for five written decimals)."""
RADIUS_TOLERANCE = {"mm": 0.002, "inch": 0.0002}
"""How far the radii at the two ends of an arc may differ, in file units: NISTIR 6556 3.5.3.2."""
SAME_POINT = 1e-6
"""Below this distance in its plane, in file units, an arc ends where it starts: finer than any least increment."""


@dataclass(frozen=True, slots=True, eq=False)
class ArcColumns:
    """What the arcs of a run of n rows have besides their ends; NaN and 0 where a row is no arc."""

    centre: Floats
    """(n, 3), its third coordinate that of the arc's start."""
    plane: Codes
    """(n,) PLANE_XY, PLANE_XZ or PLANE_YZ."""
    full_turns: Ints
    """(n,) full turns besides the part turn; at least 1 where an arc ends where it starts."""
    sweep_rad: Floats
    """(n,) the whole signed angle, full turns included, counterclockwise positive seen from the + side of the third axis."""


@dataclass(frozen=True, slots=True, eq=False)
class MoveColumns:
    """A run of consecutive motions (rapid, cut, arc) of one operation; n rows, at most RUN_LENGTH.

    Lengths are in the file's units and in the frame of the operation's intent (design: frames and signs).
    """

    first_move: int
    """Number of the first row's move in its operation, from 1; dwell, hole, stop and note count too."""
    kind: Codes
    """(n,) RAPID, CUT, ARC_CLOCKWISE or ARC_COUNTERCLOCKWISE (seen from the + side of the third axis)."""
    end: Floats
    """(n, 3) end point of the tip."""
    tool_axis: Floats | None
    """(n, 3) unit vectors from the tip towards the spindle, in simultaneous operations; else None."""
    feed: Floats
    """(n,) feed in force, per minute; NaN for rapids."""
    arcs: ArcColumns | None = None
    """None when the run has no arc."""
    of_move: Ints | None = None
    """(n,) the number of the move that each row is a part of, where moves are laid out in parts; else None."""

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def move(self) -> Ints:
        """(n,) the number of each row's move in its operation."""
        return self.first_move + np.arange(len(self)) if self.of_move is None else self.of_move

    def rows(self, start: int, stop: int) -> MoveColumns:
        """Rows start to stop (stop not included) as a run of their own, sharing memory."""
        at = slice(start, stop)
        return replace(take(self, at), first_move=self.first_move + start, arcs=None if self.arcs is None else take(self.arcs, at))


@dataclass(frozen=True, slots=True)
class Hole:
    """A drilling cycle along Z; the tool ends at (x, y, retract). A row of `Holes`, whose columns say what each means."""

    move: int
    x: float
    y: float
    cycle: str
    retract: float
    bottom: float
    feed: float
    surface: float | None = None
    peck: float | None = None
    dwell: float = 0.0
    lead: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Holes:
    """A run of consecutive holes of one operation; n rows, at most RUN_LENGTH. Lengths and frame as in MoveColumns."""

    move: Ints
    """(n,) numbers of the moves in their operation, from 1."""
    xy: Floats
    """(n, 2) where the hole is; the tool ends there at `retract`."""
    cycle: Codes
    """(n,) its place in CYCLES."""
    retract: Floats
    """(n,) height from which the tool feeds."""
    bottom: Floats
    """(n,) height of the bottom."""
    feed: Floats
    """(n,) per minute, in force at this hole."""
    surface: Floats
    """(n,) height that the hole starts from, between bottom and retract; NaN where not given."""
    peck: Floats
    """(n,) depth of a step; NaN in a cycle without steps."""
    dwell: Floats
    """(n,) seconds at the bottom."""
    lead: Floats
    """(n,) of the thread: length per turn of the spindle, feed = rpm * lead; NaN unless it is tapped."""

    def __len__(self) -> int:
        return len(self.move)

    def __iter__(self) -> Iterator[Hole]:
        return (self.hole(row) for row in range(len(self)))

    def hole(self, row: int) -> Hole:
        """One of them."""
        move, (x, y), cycle = int(self.move[row]), self.xy[row].tolist(), CYCLES[self.cycle[row]]
        surface, peck, lead = (None if np.isnan(column[row]) else float(column[row]) for column in (self.surface, self.peck, self.lead))
        retract, bottom, feed, dwell = (float(column[row]) for column in (self.retract, self.bottom, self.feed, self.dwell))
        return Hole(move, x, y, cycle, retract, bottom, feed, surface, peck, dwell, lead)

    def alike(self, most: int = RUN_LENGTH) -> Iterator[Holes]:
        """The same rows in runs of at most `most` that differ in their places, surfaces and leads alone, sharing memory."""
        said = np.column_stack([self.cycle, self.retract, self.bottom, self.feed, or_zero(self.peck), self.dwell])
        begins = [0, *(np.flatnonzero((said[1:] != said[:-1]).any(axis=1)) + 1).tolist(), len(self)]
        for begin, end in pairwise(begins):
            for start in range(begin, end, most):
                yield take(self, slice(start, min(start + most, end)))


@dataclass(frozen=True, slots=True)
class Dwell:
    """The tool stands while the spindle turns."""

    move: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Stop:
    """The program stops until cycle start."""

    move: int
    optional: bool


@dataclass(frozen=True, slots=True)
class Note:
    """Text for the operator."""

    move: int
    text: str


Event = Dwell | Stop | Note

Item = MoveColumns | Holes | Event
"""What an operation streams."""


def moves_in(item: Item) -> int:
    """How many moves it is."""
    if isinstance(item, MoveColumns) and item.of_move is not None:
        return int(item.of_move[-1] - item.of_move[0]) + 1 if len(item) else 0
    return len(item) if isinstance(item, MoveColumns | Holes) else 1


def refuse(bad: Bools, place: Place, moves: Ints, key: str, wrong: str, cure: str, *found: Floats) -> None:
    """ToolpathError at the first bad row; `moves` (n,) are the numbers of all, `wrong` holds the row's values of `found`."""
    if bad.any():
        row = int(np.argmax(bad))
        here = replace(place, move=int(moves[row]), key=key)
        raise ToolpathError(wrong.format(*(column[row] for column in found)), place=here, cure=cure)


@dataclass(slots=True)
class Standing:
    """An operation that is gone through: where the tool stands, and the feed and tool axis that hold; NaN before the first."""

    simultaneous: bool
    place: Place
    units: str = "mm"
    point: Floats = field(default_factory=lambda: np.full(3, np.nan))
    feed: float = np.nan
    axis: Floats = field(default_factory=lambda: np.full(3, np.nan))

    def feeds(self, given: Floats) -> Floats:
        """The feeds in force (n,) where those are given that are not NaN."""
        feeds = _carried(given, self.feed)
        self.feed = float(feeds[-1])
        return feeds

    def run(self, first_move: int, kind: Codes, end: Floats, feed: Floats, axis: Floats | None, arcs: ArcColumns | None) -> MoveColumns:
        """The run of n motions; `feed` (n,) and `axis` (n, 3) are NaN where that of before holds, `arcs` without their sweeps."""
        moves = np.arange(first_move, first_move + len(kind))
        cut, feeds = kind != RAPID, self.feeds(feed)
        cure = "add 'feed', in units per minute; it holds until the next one in the operation"
        refuse(cut & np.isnan(feeds), self.place, moves, "feed", "a cut before any feed in this operation", cure)
        if self.simultaneous:
            wrong = "an arc is not possible while the rotary moves"
            refuse(kind > CUT, self.place, moves, "arc", wrong, "give the arc as short cuts, each with its tool_axis")
            axis = _carried(np.full((len(kind), 3), np.nan) if axis is None else axis, self.axis)
            wrong = "the first point of a simultaneous operation has no tool axis"
            cure = "add 'tool_axis' (a table: i, j, k), a unit vector from the tip towards the spindle; it holds until the next one"
            refuse(np.isnan(axis[:, 0]), self.place, moves, "tool_axis", wrong, cure)
            self.axis, axis = axis[-1].copy(), _unit(axis, self.place, moves)
        elif axis is not None:
            cure = "leave it out, or give the operation the rotary intent 'simultaneous'"
            wrong = "a tool axis is allowed in simultaneous operations only"
            refuse(~np.isnan(axis[:, 0]), self.place, moves, "tool_axis", wrong, cure)
            axis = None
        run = MoveColumns(first_move, kind, end, axis, np.where(cut, feeds, np.nan), arcs)
        start, self.point = self.point, end[-1]
        return run if arcs is None else with_sweeps(run, np.vstack([start, end[:-1]]), self.units, self.place)


def _carried(given: Floats, before: Floats | float) -> Floats:
    """Values (n, ...), each row of NaN that of the last before it."""
    known = ~np.isnan(given.reshape(len(given), -1)[:, 0])
    if known.all():
        return given
    last = np.maximum.accumulate(np.where(known, np.arange(1, len(given) + 1), 0))
    return np.asarray(np.concatenate([np.asarray(before)[None], given])[last])


def _unit(axes: Floats, place: Place, moves: Ints) -> Floats:
    """Tool axes (n, 3) brought to length 1; ToolpathError at the first that is not within UNIT_TOLERANCE of it."""
    length = np.sqrt(np.einsum("ij,ij->i", axes, axes))
    wrong, cure = "the tool axis [{:g}, {:g}, {:g}] has length ", "give a unit vector from the tip towards the spindle"
    refuse(length == 0.0, place, moves, "tool_axis", f"{wrong}zero and points nowhere", cure, *axes.T)
    wrong += f"{{:.6g}}; allowed is 1, within {UNIT_TOLERANCE:g}"
    bad = np.abs(length - 1.0) > UNIT_TOLERANCE
    refuse(bad, place, moves, "tool_axis", wrong, "divide its three numbers by its length", *axes.T, length)
    return np.asarray(axes / length[:, None], dtype=np.float64)


def with_sweeps(run: MoveColumns, start: Floats, units: str, place: Place) -> MoveColumns:
    """A run with arcs, the third coordinates of their centres, full turns and signed sweeps worked out; rows begin at `start` (n, 3).

    ToolpathError for an arc without a start, around its own start, or with two radii (NISTIR 6556 3.5.3.2).
    """
    arcs = run.arcs
    assert arcs is not None
    rows = np.flatnonzero(run.kind >= ARC_CLOCKWISE)
    moves, at, order = run.first_move + rows, rows[:, None], np.array(PLANE_AXES)[arcs.plane[rows]]
    centre, turns, sweep = arcs.centre.copy(), arcs.full_turns.copy(), np.full(len(run), np.nan)
    centre[rows, order[:, 2]] = start[rows, order[:, 2]]
    begin, end = (points[at, order[:, :2]] - centre[at, order[:, :2]] for points in (start, run.end))
    radii, limit = (np.hypot(*begin.T), np.hypot(*end.T)), RADIUS_TOLERANCE[units]
    wrong = "an arc cannot be the first move: it has no point to start from"
    refuse(np.isnan(start[rows, 0]), place, moves, "arc", wrong, "put a rapid or a cut to the arc's start before it")
    wrong = "the centre of the arc is the point it starts from: its radius is zero"
    refuse(radii[0] == 0.0, place, moves, "centre", wrong, "give the point around which the arc turns")
    wrong = f"the arc's radius is {{:.6g}} at its start and {{:.6g}} at its end; they may differ by {limit:g} {units}"
    cure = "correct the centre or the end point, or write them with more decimals"
    refuse(np.abs(radii[0] - radii[1]) > limit, place, moves, "centre", wrong, cure, *radii)
    counterclockwise = run.kind[rows] == ARC_COUNTERCLOCKWISE
    angle = np.arctan2(end[:, 1], end[:, 0]) - np.arctan2(begin[:, 1], begin[:, 0])
    part = np.mod(np.where(counterclockwise, angle, -angle), 2 * np.pi)
    whole = np.hypot(*(end - begin).T) < SAME_POINT
    turns[rows] = np.where(whole, np.maximum(turns[rows], 1), turns[rows])
    sweep[rows] = np.where(counterclockwise, 1.0, -1.0) * (np.where(whole, 0.0, part) + 2 * np.pi * turns[rows])
    return replace(run, arcs=ArcColumns(centre, arcs.plane, turns, sweep))
