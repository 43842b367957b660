"""What lies between the text of an input and the operations of a toolpath: moves in columns, holes and happenings, and their stretches.

Readers hand over motion in columns, arcs, holes and events in the order of their file, each with the conditions in force. A stretch
goes on as long as these stay the same; where they change with the tool down, the next stretch begins with a move to the
point where the tool stood, since between operations the tool goes up.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

import numpy as np

from steadyrest.columns import Codes, Floats, Ints, join
from steadyrest.errors import Place
from steadyrest.notices import Notice, noticed
from steadyrest.toolpath import CUT, RAPID

Frame = tuple[Any, ...]
"""("still",), ("indexed", angle, ...), ("plane", origin, z, x), ("wrapped", diameter, start_angle, z_from), ("simultaneous",).

And ("part",): part frame, a tool axis on every row, not yet told apart into indexed and simultaneous; ("laid", origin, z, x): the same,
with points and tool axes in the coordinates of a plane."""


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
    axis     (n, 3) tool axes in the part frame, or as it is laid, or None
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


def mapped(
    item: Item,
    points: Callable[[Floats], Floats],
    normals: Callable[[Floats], Floats] = lambda normals: normals,
    axes: Callable[[Floats | None], Floats | None] = lambda axes: None,
) -> Item:
    """An item in another frame: each of its points, and each normal of its arcs, through a function of (..., 3), without tool axes unless
    there is one for them.
    """
    if isinstance(item, Happening):
        return item
    if isinstance(item, Hole):
        return replace(item, point=points(item.point), axis=axes(item.axis))
    arcs = item.arcs
    if arcs is not None:
        arcs = replace(arcs, start=points(arcs.start), centre=points(arcs.centre), normal=normals(arcs.normal))
    return replace(item, end=points(item.end), axis=axes(item.axis), arcs=arcs)


def coalesced(items: Sequence[Item]) -> list[Item]:
    """The items, neighbouring moves joined."""
    found: list[Item] = []
    for moves, group in groupby(items, lambda item: isinstance(item, Moves)):
        alike = list(group)
        found += [join(alike)] if moves else alike
    return found


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
        cut = np.flatnonzero(item.motion != RAPID)
        feed = float(item.feed[cut[-1]]) if len(cut) else self.feed
        axis = None if item.axis is None else item.axis[-1]
        return Stand(item.end[-1], axis, feed=feed, down=bool(item.motion[-1] != RAPID))


@dataclass(slots=True)
class Stretch:
    """Items under the same conditions. `comes_back`: it begins in the middle of a cut, with a move back to where the tool stood."""

    conditions: Conditions
    name: str = ""
    before: Stand = Stand()
    items: list[Item] = field(default_factory=list)
    comes_back: bool = False

    @property
    def only_happens(self) -> bool:
        """It holds nothing but texts, dwells and stops."""
        return all(isinstance(item, Happening) for item in self.items)

    @property
    def positions_only(self) -> bool:
        """It holds nothing but rapids, notes and dwells."""
        return not any(cuts(item) or is_stop(item) for item in self.items)


END = Stretch(Conditions(0, None, "", "", ("end",)))
"""Stands where there is no stretch, and where the next one cannot go on with the last."""


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
    items.insert(at, Moves.one(RAPID if at_rapid else CUT, before.point, np.nan if at_rapid else feed, line_of(first), axis))
    stretch.comes_back = not at_rapid
    return stretch


@dataclass(slots=True, kw_only=True)
class Gathered:
    """What is in force while an input is read, and what has been handed over so far, in the order of its file.

    tool    None: none is loaded. rpm None: the spindle has not been started yet
    """

    file: str | None
    tool: int | None = None
    rpm: float | None = None
    turns: str = "clockwise"
    coolant: str = "off"
    left_out: dict[str, Notice] = field(default_factory=dict)
    _stretches: list[Stretch] = field(default_factory=list)
    _held: list[Happening] = field(default_factory=list)
    _stand: Stand = Stand()

    def at(self, line: int) -> Place:
        """A line of the file."""
        return Place(file=self.file, line=line)

    def leave_out(self, what: str, line: int, reason: str) -> None:
        """One notice for all statements or blocks of one kind that say nothing about what is cut, at the place of the first."""
        old = self.left_out.get(what)
        place, times = (self.at(line), 1) if old is None else (old.place, old.facts["times"] + 1)
        often = "" if times == 1 else f" ({times} times)"
        self.left_out[what] = noticed("LeftOut", place, what=what, times=times, often=often, reason=reason)

    def stands_at(self, point: Floats | None, axis: Floats | None, *, placed: bool | None = None) -> None:
        """Where the tool stands, in the frame of what comes next. `placed`: without having moved there."""
        self._stand = replace(self._stand, point=point, axis=axis, placed=self._stand.placed if placed is None else placed)

    def lose_place(self) -> None:
        """Where the tool stands is not known any more; what comes next is an operation of its own."""
        self.stands_at(None, None, placed=False)
        self._stretches.append(replace(END, items=[]))

    def note(self, text: str, line: int, *, names: bool = True) -> None:
        """A text for the operator: the name of the operation it stands before, where it may name one, else a note in it."""
        self.hold(Happening({"note": text}, line, names))

    def take_note_of(self, line: int) -> str | None:
        """The last text, taken out again, if it stands on this line and nothing has come after it."""
        if not self._held or not is_note(self._held[-1]) or self._held[-1].line != line:
            return None
        return str(self._held.pop().move["note"])

    def hold(self, item: Happening) -> None:
        """It comes before whatever is added next: a text, or a dwell or stop before there is a tool."""
        self._held.append(item)

    def add(self, conditions: Conditions, item: Item) -> None:
        """The next item."""
        if not self._stretches or self._stretches[-1].conditions != conditions:
            self._stretches.append(Stretch(conditions, before=self._stand))
        stretch = self._stretches[-1]
        for held in self._held:
            if is_note(held) and held.names and not stretch.name and all(map(is_note, stretch.items)):
                stretch.name = held.move["note"]
            else:
                stretch.items.append(held)
        self._held = []
        stretch.items.append(item)
        self._stand = self._stand.after(item)

    def stretches(self) -> list[Stretch]:
        """All of it in order, what only positions joined to a neighbour, entries put in."""
        last = next((stretch for stretch in reversed(self._stretches) if stretch.items), None)
        if last is not None:
            last.items += self._held
        return [entered(stretch) for stretch in _joined(self._stretches)]


def _alike(one: Stretch, other: Stretch) -> bool:
    return bool(other.items) and (one.conditions.tool, one.conditions.frame) == (other.conditions.tool, other.conditions.frame)


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Stretches that only position take spindle and coolant of the next one with their tool and frame, or else of the last one."""
    found: list[Stretch] = []
    for stretch, following, beyond in zip(stretches, [*stretches[1:], END], [*stretches[2:], END, END], strict=False):
        last = found[-1] if found else END
        if stretch.items and stretch.positions_only:
            if _alike(stretch, following):
                following.items = stretch.items + following.items
                following.before, following.name = stretch.before, stretch.name or following.name
                continue
            if not following.items and _alike(stretch, beyond) and not beyond.positions_only:
                # Where the tool stood is not known any more: the way to the next point is planned, and only texts and pauses go on.
                beyond.items = [item for item in stretch.items if isinstance(item, Happening)] + beyond.items
                beyond.name = stretch.name or beyond.name
                continue
            if _alike(stretch, last):
                last.items += stretch.items
                continue
        if stretch.items and last.items and last.conditions == stretch.conditions and stretch.name in ("", last.name):
            last.items += stretch.items
        else:
            found.append(stretch)
    for stretch in found:
        if stretch.conditions.rpm is None:
            stretch.conditions = replace(stretch.conditions, rpm=0.0, turns=stretch.conditions.turns or "clockwise")
    return [stretch for stretch in found if stretch.items]


_NAMED = re.compile(
    r"(?:TOOL(?:\s*(?:NO\.?|NUMBER))?|T)\s*[=:#]?\s*0*([1-9][0-9]{0,8})(?:\s*[-:|=,]+|\s)\s*(?!(?:MM|IN|INCH)\b)([^\s|].*)", re.IGNORECASE
)
_OFFSET = re.compile(r"\s*[HD]\s*[0-9]+\s*", re.IGNORECASE)


def tool_named(text: str) -> tuple[int, str] | None:
    """The number of the tool and its name, of texts such as `T3 - 6 MM END MILL`, `TOOL 3: SPOT DRILL` (common practice).

    None where the text names none, such as `TOOL 6 MM BALL`, whose 6 is a size.
    """
    found = _NAMED.fullmatch(text.strip())
    if found is None:
        return None
    parts = [" ".join(part.split()) for part in found[2].split("|") if not _OFFSET.fullmatch(part)]
    return int(found[1]), ", ".join(part for part in parts if part)
