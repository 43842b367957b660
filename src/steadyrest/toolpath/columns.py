"""What does an operation's motion look like in columns, and what has to hold for every row of them?"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place, ToolpathError

Floats = NDArray[np.float64]
Small = NDArray[np.uint8]

RAPID, CUT, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE = 0, 1, 2, 3
PLANE_XY, PLANE_XZ, PLANE_YZ = 0, 1, 2
PLANES = {"XY": PLANE_XY, "XZ": PLANE_XZ, "YZ": PLANE_YZ}
PLANE_AXES = ((0, 1, 2), (2, 0, 1), (1, 2, 0))
"""Per plane: the two axes in the order that turns counterclockwise seen from + of the third, and the third."""

RUN_LENGTH = 50_000
"""Most rows in one MoveColumns."""
UNIT_TOLERANCE = 1e-4
"""How far from 1 the length of a tool axis may be (NISTIR 6556 has none; common practice for five written decimals)."""
RADIUS_TOLERANCE = {"mm": 0.002, "inch": 0.0002}
"""How far the radii at the two ends of an arc may differ, in file units: NISTIR 6556 3.5.3.2."""
SAME_POINT = 1e-6
"""Below this distance in its plane, in file units, an arc ends where it starts: finer than any least increment."""


@dataclass(frozen=True, slots=True, eq=False)
class MoveColumns:
    """A run of consecutive motions (rapid, cut, arc) of one operation; n rows, at most RUN_LENGTH.

    Lengths are in the file's units and in the frame of the operation's intent (design: frames and signs).
    """

    first_move: int
    """Number of the first row's move in its operation, from 1; dwell, hole, stop and note count too."""
    kind: Small
    """(n,) RAPID, CUT, ARC_CLOCKWISE or ARC_COUNTERCLOCKWISE (seen from the + side of the third axis)."""
    end: Floats
    """(n, 3) end point of the tip."""
    tool_axis: Floats | None
    """(n, 3) unit vectors from the tip towards the spindle, in simultaneous operations; else None."""
    feed: Floats
    """(n,) feed in force, per minute; NaN for rapids."""
    arc_centre: Floats | None = None
    """(n, 3), its third coordinate that of the arc's start; NaN where the row is no arc; None when the run has no arc."""
    arc_plane: Small | None = None
    """(n,) PLANE_XY, PLANE_XZ or PLANE_YZ; 0 where the row is no arc; None when the run has no arc."""
    full_turns: NDArray[np.int64] | None = None
    """(n,) full turns besides the part turn; at least 1 where an arc ends where it starts; 0 where the row is no arc."""
    arc_sweep_rad: Floats | None = None
    """(n,) the whole signed angle of the arc, full turns included, counterclockwise positive seen from the + side of the
    third axis; NaN where the row is no arc; None when the run has no arc."""

    def __len__(self) -> int:
        return len(self.kind)

    def rows(self, start: int, stop: int) -> MoveColumns:
        """Rows start to stop (stop not included) as a run of their own, sharing memory."""

        at = slice(start, stop)
        return MoveColumns(
            first_move=self.first_move + start,
            kind=self.kind[at],
            end=self.end[at],
            tool_axis=None if self.tool_axis is None else self.tool_axis[at],
            feed=self.feed[at],
            arc_centre=None if self.arc_centre is None else self.arc_centre[at],
            arc_plane=None if self.arc_plane is None else self.arc_plane[at],
            full_turns=None if self.full_turns is None else self.full_turns[at],
            arc_sweep_rad=None if self.arc_sweep_rad is None else self.arc_sweep_rad[at],
        )


@dataclass(frozen=True, slots=True)
class Dwell:
    """The tool stands while the spindle turns."""

    move: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Hole:
    """A drilling cycle along Z; the tool ends at (x, y, retract). Heights and point in the frame of the intent."""

    move: int
    x: float
    y: float
    cycle: str
    """drill, dwell-drill, peck, chip-break, tap or bore."""
    retract: float
    bottom: float
    feed: float
    """Per minute, in force at this hole."""
    surface: float | None = None
    """Height that the hole starts from, if given; between bottom and retract."""
    peck: float | None = None
    dwell: float = 0.0
    """Seconds at the bottom."""
    lead: float | None = None
    """Of the thread, for tap: length per turn of the spindle; feed = rpm * lead."""


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


Event = Dwell | Hole | Stop | Note


def unit_axes(axes: Floats, place: Place, first_move: int) -> Floats:
    """Tool axes (n, 3) brought to length 1; ToolpathError at the first that is not within UNIT_TOLERANCE of it."""
    length = np.sqrt(np.einsum("ij,ij->i", axes, axes))
    wrong = np.abs(length - 1.0) > UNIT_TOLERANCE
    if wrong.any():
        row = int(np.argmax(wrong))
        here = replace(place, move=first_move + row, key="tool_axis")
        found = "[" + ", ".join(f"{value:g}" for value in axes[row]) + "]"
        if length[row] == 0.0:
            raise ToolpathError(
                f"the tool axis {found} has length zero and points nowhere",
                place=here,
                cure="give a unit vector from the tip towards the spindle",
            )
        raise ToolpathError(
            f"the tool axis {found} has length {length[row]:.6g}; allowed is 1, within {UNIT_TOLERANCE:g}",
            place=here,
            cure="divide its three numbers by its length",
        )
    return np.asarray(axes / length[:, None], dtype=np.float64)


def arc_sweeps(columns: MoveColumns, start: Floats, units: str, place: Place) -> tuple[NDArray[np.int64], Floats]:
    """Full turns (n,) and signed sweeps (n,) in radians of the run's arcs; `start` (n, 3) is where each row begins.

    ToolpathError for an arc without a start, around its own start, or with two radii (NISTIR 6556 3.5.3.2).
    """
    assert columns.arc_centre is not None
    assert columns.arc_plane is not None
    assert columns.full_turns is not None
    is_arc = columns.kind >= ARC_CLOCKWISE
    rows = np.flatnonzero(is_arc)
    plane = columns.arc_plane[rows]
    order = np.array(PLANE_AXES)[plane][:, :2]
    at = rows[:, None]
    centre = columns.arc_centre[at, order]
    begin, end = start[at, order] - centre, columns.end[at, order] - centre

    first = np.flatnonzero(np.isnan(start[rows, 0]))
    if len(first):
        raise ToolpathError(
            "an arc cannot be the first move: it has no point to start from",
            place=replace(place, move=columns.first_move + int(rows[first[0]]), key="arc"),
            cure="put a rapid or a cut to the arc's start before it",
        )
    radii = np.hypot(begin[:, 0], begin[:, 1]), np.hypot(end[:, 0], end[:, 1])
    for row in np.flatnonzero(radii[0] == 0.0)[:1]:
        raise ToolpathError(
            "the centre of the arc is the point it starts from: its radius is zero",
            place=replace(place, move=columns.first_move + int(rows[row]), key="centre"),
            cure="give the point around which the arc turns",
        )
    limit = RADIUS_TOLERANCE[units]
    for row in np.flatnonzero(np.abs(radii[0] - radii[1]) > limit)[:1]:
        raise ToolpathError(
            f"the arc's radius is {radii[0][row]:.6g} at its start and {radii[1][row]:.6g} at its end; "
            f"they may differ by {limit:g} {units}",
            place=replace(place, move=columns.first_move + int(rows[row]), key="centre"),
            cure="correct the centre or the end point, or write them with more decimals",
        )
    counterclockwise = columns.kind[rows] == ARC_COUNTERCLOCKWISE
    angle = np.arctan2(end[:, 1], end[:, 0]) - np.arctan2(begin[:, 1], begin[:, 0])
    part = np.mod(np.where(counterclockwise, angle, -angle), 2 * np.pi)
    whole = np.hypot(*(end - begin).T) < SAME_POINT
    turns = columns.full_turns.copy()
    turns[rows] = np.where(whole, np.maximum(turns[rows], 1), turns[rows])
    sweep = np.full(len(columns), np.nan)
    sweep[rows] = np.where(counterclockwise, 1.0, -1.0) * (np.where(whole, 0.0, part) + 2 * np.pi * turns[rows])
    return turns, sweep
