"""What are the motions of an input, between its text and the operations of a toolpath: moves in columns, holes, happenings?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyrest.toolpath import CUT, RAPID

Floats = NDArray[np.float64]
Frame = tuple[Any, ...]
"""("still",), ("indexed", angle, ...), ("wrapped", diameter, start_angle, z_from), ("simultaneous",), or ("part",): part frame
with a tool axis on every row, not yet told apart into indexed and simultaneous."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What an operation fixes. rpm None: the spindle has not been started yet."""

    tool: int
    rpm: float | None
    turns: str
    coolant: str
    frame: Frame


ARC = 2
"""The motion of a row that is an arc, beside RAPID and CUT of the toolpath."""


@dataclass(frozen=True, slots=True)
class Arcs:
    """Circular or helical cuts, m of them; their ends, feeds and lines are those of their rows.

    start, centre   (m, 3); the centre's height along the normal does not matter
    normal          (m, 3) unit vectors: each arc turns right-hand round its own
    full_turns      (m,) int64, whole turns besides the part turn; a full circle ends where it starts and has 1
    """

    start: Floats
    centre: Floats
    normal: Floats
    full_turns: NDArray[np.int64]

    def at(self, which: slice | NDArray[Any]) -> Arcs:
        """Some of them."""
        return Arcs(self.start[which], self.centre[which], self.normal[which], self.full_turns[which])


@dataclass(frozen=True, slots=True)
class Moves:
    """Rapids, cuts and arcs, n rows.

    motion   (n,) uint8: RAPID, CUT, ARC
    end      (n, 3)
    feed     (n,) per minute, NaN in a rapid
    line     (n,) of the input
    axis     (n, 3) tool axes in the part frame, or None
    arcs     of the m rows that are one, in their order, or None
    """

    motion: NDArray[np.uint8]
    end: Floats
    feed: Floats
    line: NDArray[np.int64]
    axis: Floats | None = None
    arcs: Arcs | None = None

    def rows(self, start: int, stop: int) -> Moves:
        """Rows start to stop, stop not included."""
        at = slice(start, stop)
        arcs = None
        if self.arcs is not None:
            first, count = (int(np.count_nonzero(self.motion[part] == ARC)) for part in (slice(start), at))
            arcs = self.arcs.at(slice(first, first + count)) if count else None
        axis = None if self.axis is None else self.axis[at]
        return Moves(self.motion[at], self.end[at], self.feed[at], self.line[at], axis, arcs)


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
class Before:
    """Where the tool stood before a stretch: point and axis in the stretch's frame, and whether it was only said to stand there, or cut."""

    point: Floats
    axis: Floats | None
    placed: bool
    feed: float
    down: bool = False


@dataclass(slots=True)
class Stretch:
    """Items with the same settings. `comes_back`: it begins in the middle of a cut, with a move back to where the tool stood."""

    settings: Settings
    name: str = ""
    before: Before | None = None
    items: list[Item] = field(default_factory=list)
    comes_back: bool = False

    @property
    def positions_only(self) -> bool:
        """It holds nothing but rapids, notes and dwells."""
        return all(
            bool((item.motion == RAPID).all()) if isinstance(item, Moves) else isinstance(item, Happening) and "stop" not in item.move
            for item in self.items
        )


def entered(stretch: Stretch) -> Stretch:
    """The stretch with a move to where the tool stood, before its first motion if that is a cut, or before a dwell in a cut."""
    before = stretch.before
    if before is None:
        return stretch
    dwells = before.down  # a pause with the tool up needs no place
    at = next((at for at, item in enumerate(stretch.items) if not isinstance(item, Happening) or (dwells and "dwell" in item.move)), None)
    if at is None:
        return stretch
    first = stretch.items[at]
    if isinstance(first, Hole) or (isinstance(first, Moves) and first.motion[0] == RAPID):
        return stretch
    feed, axis = before.feed, before.axis
    if isinstance(first, Moves):
        feed, axis = float(first.feed[0]), first.axis[0] if axis is None and first.axis is not None else axis
    at_rapid = before.placed or bool(np.isnan(feed))
    entry = Moves(
        np.array([RAPID if at_rapid else CUT], dtype=np.uint8),
        before.point[None, :],
        np.array([np.nan if at_rapid else feed]),
        np.array([line_of(first)], dtype=np.int64),
        None if axis is None else axis[None, :],
    )
    stretch.items.insert(at, entry)
    stretch.comes_back = not at_rapid
    return stretch


def cuts_last(item: Item) -> bool:
    """It ends with a cut."""
    return isinstance(item, Moves) and bool(item.motion[-1] != RAPID)


def is_note(item: Item) -> bool:
    """It is a text for the operator, and no motion, dwell or stop."""
    return isinstance(item, Happening) and "note" in item.move


def line_of(item: Item) -> int:
    """The line on which an item begins."""
    return int(item.line[0]) if isinstance(item, Moves) else item.line


def tool_after(item: Moves | Hole) -> tuple[Floats, Floats | None]:
    """Where the tool stands after an item, and its axis in the part frame if there is one."""
    if isinstance(item, Moves):
        return item.end[-1], None if item.axis is None else item.axis[-1]
    up = np.array([0.0, 0.0, 1.0]) if item.axis is None else item.axis
    return item.point + item.clearance * up, item.axis


def feed_after(item: Item, before: float) -> float:
    """The feed of the last cut, per minute; what it was before where there is none."""
    if isinstance(item, Moves):
        if item.motion[-1] != RAPID:
            return float(item.feed[-1])
        cuts = np.flatnonzero(item.motion != RAPID)
        return float(item.feed[cuts[-1]]) if len(cuts) else before
    return before


def coalesced(items: Sequence[Item]) -> list[Item]:
    """The items, neighbouring moves joined."""
    found: list[Item] = []
    for moves, group in groupby(items, lambda item: isinstance(item, Moves)):
        alike = list(group)
        found += [concatenated([item for item in alike if isinstance(item, Moves)])] if moves else alike
    return found


def concatenated(run: Sequence[Moves]) -> Moves:
    """Moves one after the other as one; a single one as it is."""
    if len(run) == 1:
        return run[0]
    axes = [moves.axis for moves in run if moves.axis is not None]
    arcs = [moves.arcs for moves in run if moves.arcs is not None]
    return Moves(
        np.concatenate([moves.motion for moves in run]),
        np.concatenate([moves.end for moves in run]),
        np.concatenate([moves.feed for moves in run]),
        np.concatenate([moves.line for moves in run]),
        np.concatenate(axes) if axes else None,
        _joined_arcs(arcs) if arcs else None,
    )


def _joined_arcs(run: Sequence[Arcs]) -> Arcs:
    return Arcs(
        np.concatenate([arcs.start for arcs in run]),
        np.concatenate([arcs.centre for arcs in run]),
        np.concatenate([arcs.normal for arcs in run]),
        np.concatenate([arcs.full_turns for arcs in run]),
    )
