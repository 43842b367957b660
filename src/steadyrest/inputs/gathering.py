"""What do the motions of an input add up to: stretches with one tool, one spindle speed, one coolant and one frame?

Readers hand over motion in columns, arcs, holes and events in the order of their file, each with the settings in force. A stretch
goes on as long as the settings stay the same; where they change with the tool down, the next stretch begins with a move to the
point where the tool stood, since between operations the tool goes up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.inputs.items import Before, Happening, Item, Settings, Stretch, cuts_last, entered, feed_after, is_note, tool_after

Floats = NDArray[np.float64]


class Gatherer:
    """Collects what a reader hands over, in order."""

    def __init__(self) -> None:
        self._stretches: list[Stretch] = []
        self._held: list[Happening] = []
        self._point: Floats | None = None
        self._axis: Floats | None = None
        self._placed = False
        self._down = False
        self._feed = float("nan")

    def place(self, point: Floats, axis: Floats | None) -> None:
        """The tool stands at a point without having moved there."""
        self._point, self._axis, self._placed = point, axis, True

    def stands_at(self, point: Floats, axis: Floats | None) -> None:
        """Where the tool stands, in the frame of what comes next."""
        self._point, self._axis = point, axis

    def lose_place(self) -> None:
        """Where the tool stands is not known any more; what comes next is an operation of its own."""
        self._point, self._axis, self._placed = None, None, False
        self._stretches.append(Stretch(Settings(0, None, "", "", ("end",))))

    def note(self, text: str, line: int, *, names: bool = True) -> None:
        """A text for the operator: the name of the operation it stands before, where it may name one, else a note in it."""
        self._held.append(Happening({"note": text}, line, names))

    def take_note_of(self, line: int) -> str | None:
        """The last text, taken out again, if it stands on this line and nothing has come after it."""
        if not self._held or not is_note(self._held[-1]) or self._held[-1].line != line:
            return None
        return str(self._held.pop().move["note"])

    def hold(self, item: Happening) -> None:
        """A dwell or stop before there is a tool: it comes before whatever is added next."""
        self._held.append(item)

    def add(self, settings: Settings, item: Item) -> None:
        """The next item."""
        stretch = self._stretch(settings)
        for held in self._held:
            if is_note(held) and held.names and not stretch.name and all(map(is_note, stretch.items)):
                stretch.name = held.move["note"]
            else:
                stretch.items.append(held)
        self._held = []
        stretch.items.append(item)
        if not isinstance(item, Happening):
            self._point, self._axis = tool_after(item)
            self._feed = feed_after(item, self._feed)
            self._placed, self._down = False, cuts_last(item)

    def _stretch(self, settings: Settings) -> Stretch:
        if self._stretches and self._stretches[-1].settings == settings:
            return self._stretches[-1]
        before = None
        if self._point is not None:
            before = Before(self._point, self._axis, self._placed, self._feed, self._down)
        self._stretches.append(Stretch(settings, before=before))
        return self._stretches[-1]

    def finish(self) -> list[Stretch]:
        """The stretches in order, those that only position joined to a neighbour, entries put in."""
        if self._held:
            last = next((stretch for stretch in reversed(self._stretches) if stretch.items), None)
            if last is not None:
                last.items += self._held
            self._held = []
        joined = _joined(self._stretches)
        return [entered(stretch) for stretch in joined]


def _alike(one: Settings, other: Settings) -> bool:
    return one.tool == other.tool and one.frame == other.frame


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Stretches that only position take spindle and coolant of the next one with their tool and frame, or else of the last one."""
    found: list[Stretch] = []
    for at, stretch in enumerate(stretches):
        if stretch.items and stretch.positions_only:
            following = stretches[at + 1] if at + 1 < len(stretches) else None
            if following is not None and following.items and _alike(stretch.settings, following.settings):
                following.items = stretch.items + following.items
                following.before, following.name = stretch.before, stretch.name or following.name
                continue
            beyond = stretches[at + 2] if following is not None and not following.items and at + 2 < len(stretches) else None
            if beyond is not None and beyond.items and not beyond.positions_only and _alike(stretch.settings, beyond.settings):
                # Where the tool stood is not known any more: the way to the next point is planned, and only texts and pauses go on.
                beyond.items = [item for item in stretch.items if isinstance(item, Happening)] + beyond.items
                beyond.name = stretch.name or beyond.name
                continue
            if found and found[-1].items and _alike(stretch.settings, found[-1].settings):
                found[-1].items += stretch.items
                continue
        same = bool(found and stretch.items and found[-1].items and found[-1].settings == stretch.settings)
        if same and stretch.name in ("", found[-1].name):
            found[-1].items += stretch.items
        else:
            found.append(stretch)
    return [_with_spindle(stretch) for stretch in found if stretch.items]


def _with_spindle(stretch: Stretch) -> Stretch:
    if stretch.settings.rpm is None:
        stretch.settings = replace(stretch.settings, rpm=0.0, turns=stretch.settings.turns or "clockwise")
    return stretch
