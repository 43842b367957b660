"""The motions of an input, between its text and the operations of a toolpath: moves in columns, holes, happenings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

import numpy as np

from steadyrest.columns import Codes, Floats, Ints, join
from steadyrest.toolpath import CUT, RAPID

Frame = tuple[Any, ...]
"""("still",), ("indexed", angle, ...), ("wrapped", diameter, start_angle, z_from), ("simultaneous",), or ("part",): part frame
with a tool axis on every row, not yet told apart into indexed and simultaneous."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What an operation fixes. rpm None: the spindle has not been started yet."""

    tool: int
    rpm: float | None
    turns: str
    coolant: str
    frame: Frame


ARC = 2
"""The motion of a row that is an arc, beside RAPID and CUT of the toolpath."""


@dataclass(frozen=True, slots=True)
class ArcColumns:
    """Circular or helical cuts, a row a move: it means something where the move is an arc.

    start, centre   (n, 3); the centre's height along the normal does not matter
    normal          (n, 3) unit vectors: each arc turns right-hand round its own
    full_turns      (n,) whole turns besides the part turn; a full circle ends where it starts and has 1
    """

    start: Floats
    centre: Floats
    normal: Floats
    full_turns: Ints


@dataclass(frozen=True, slots=True)
class Moves:
    """Rapids, cuts and arcs, n rows.

    motion   (n,) RAPID, CUT, ARC
    end      (n, 3)
    feed     (n,) per minute, NaN in a rapid
    line     (n,) of the input
    axis     (n, 3) tool axes in the part frame, or None
    arcs     of the n rows, or None where none is an arc
    """

    motion: Codes
    end: Floats
    feed: Floats
    line: Ints
    axis: Floats | None = None
    arcs: ArcColumns | None = None

    @classmethod
    def one(cls, motion: int, end: Floats, feed: float, line: int, axis: Floats | None = None, arcs: ArcColumns | None = None) -> Moves:
        """A single move to `end` (3,), along `axis` (3,) if there is one."""
        ends, axes = end[None, :], None if axis is None else axis[None, :]
        return cls(np.array([motion], dtype=np.uint8), ends, np.array([feed]), np.array([line]), axes, arcs)

    def __len__(self) -> int:
        return len(self.motion)


@dataclass(frozen=True, slots=True)
class Hole:
    """A drilling cycle: `point` (3,) the surface, heights measured from it along the tool axis; `says` the rest of the move."""

    point: Floats
    clearance: float
    depth: float
    says: dict[str, Any]
    line: int
    axis: Floats | None = None


@dataclass(frozen=True, slots=True)
class Happening:
    """A dwell, stop or note, as its move in the toolpath. `names`: a note that may become the name of its operation."""

    move: dict[str, Any]
    line: int
    names: bool = True


Item = Moves | Hole | Happening


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the tool stands, None: not known: its point and axis (3,), in the frame of what comes next.

    placed   it was only said to stand there
    feed     of the last cut, per minute; NaN before any
    down     the last motion was a cut
    """

    point: Floats | None = None
    axis: Floats | None = None
    placed: bool = False
    feed: float = float("nan")
    down: bool = False

    def after(self, item: Item) -> Stand:
        """Where it stands after an item."""
        if isinstance(item, Happening):
            return self
        if isinstance(item, Hole):
            up = np.array([0.0, 0.0, 1.0]) if item.axis is None else item.axis
            return Stand(item.point + item.clearance * up, item.axis, feed=self.feed)
        feed, down = self.feed, bool(item.motion[-1] != RAPID)
        if down:
            feed = float(item.feed[-1])
        elif len(item) > 1 and len(cut_rows := np.flatnonzero(item.motion != RAPID)):
            feed = float(item.feed[cut_rows[-1]])
        return Stand(item.end[-1], None if item.axis is None else item.axis[-1], False, feed, down)


@dataclass(slots=True)
class Stretch:
    """Items under the same conditions. `comes_back`: it begins in the middle of a cut, with a move back to where the tool stood."""

    conditions: Conditions
    name: str = ""
    before: Stand = Stand()
    items: list[Item] = field(default_factory=list)
    comes_back: bool = False

    @property
    def positions_only(self) -> bool:
        """It holds nothing but rapids, notes and dwells."""
        return not any(map(cuts, self.items)) and not any(map(is_stop, self.items))


def entered(stretch: Stretch) -> Stretch:
    """The stretch with a move to where the tool stood, before its first motion if that is a cut, or before a dwell in a cut."""
    before, items = stretch.before, stretch.items
    if before.point is None:
        return stretch
    dwells = before.down  # a pause with the tool up needs no place
    at = next((at for at, item in enumerate(items) if not isinstance(item, Happening) or (dwells and "dwell" in item.move)), None)
    if at is None or isinstance(first := items[at], Hole) or (isinstance(first, Moves) and first.motion[0] == RAPID):
        return stretch
    feed, axis = before.feed, before.axis
    if isinstance(first, Moves):
        feed, axis = float(first.feed[0]), first.axis[0] if axis is None and first.axis is not None else axis
    at_rapid = before.placed or bool(np.isnan(feed))
    entry = Moves.one(RAPID if at_rapid else CUT, before.point, np.nan if at_rapid else feed, line_of(first), axis)
    items.insert(at, entry)
    stretch.comes_back = not at_rapid
    return stretch


def cuts(item: Item) -> bool:
    """It takes material off, or is a hole."""
    return bool((item.motion != RAPID).any()) if isinstance(item, Moves) else isinstance(item, Hole)


def is_note(item: Item) -> bool:
    """It is a text for the operator, and no motion, dwell or stop."""
    return isinstance(item, Happening) and "note" in item.move


def is_stop(item: Item) -> bool:
    """The program stops there."""
    return isinstance(item, Happening) and "stop" in item.move


def line_of(item: Item) -> int:
    """The line on which an item begins."""
    return int(item.line[0]) if isinstance(item, Moves) else item.line


def mapped(item: Item, points: Callable[[Floats], Floats], normals: Callable[[Floats], Floats] = lambda normals: normals) -> Item:
    """An item in another frame, without tool axis: each of its points, and each normal of its arcs, through a function of (..., 3)."""
    if isinstance(item, Happening):
        return item
    if isinstance(item, Hole):
        return replace(item, point=points(item.point), axis=None)
    arcs = item.arcs
    if arcs is not None:
        arcs = replace(arcs, start=points(arcs.start), centre=points(arcs.centre), normal=normals(arcs.normal))
    return replace(item, end=points(item.end), axis=None, arcs=arcs)


def coalesced(items: Sequence[Item]) -> list[Item]:
    """The items, neighbouring moves joined."""
    found: list[Item] = []
    for moves, group in groupby(items, lambda item: isinstance(item, Moves)):
        alike = list(group)
        found += [join(alike)] if moves else alike
    return found
