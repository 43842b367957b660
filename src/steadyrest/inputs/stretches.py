"""Stretches: what the motions of an input add up to under one tool, one spindle speed, one coolant and one frame.

Readers hand over motion in columns, arcs, holes and events in the order of their file, each with the conditions in force. A stretch
goes on as long as these stay the same; where they change with the tool down, the next stretch begins with a move to the
point where the tool stood, since between operations the tool goes up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from steadyrest.columns import Floats
from steadyrest.inputs.moves import Conditions, Happening, Item, Stand, Stretch, entered, is_note


class Stretches:
    """Collects what a reader hands over, in order."""

    def __init__(self) -> None:
        self._stretches: list[Stretch] = []
        self._held: list[Happening] = []
        self._stand = Stand()

    def place(self, point: Floats, axis: Floats | None) -> None:
        """The tool stands at a point without having moved there."""
        self._stand = replace(self._stand, point=point, axis=axis, placed=True)

    def stands_at(self, point: Floats, axis: Floats | None) -> None:
        """Where the tool stands, in the frame of what comes next."""
        self._stand = replace(self._stand, point=point, axis=axis)

    def lose_place(self) -> None:
        """Where the tool stands is not known any more; what comes next is an operation of its own."""
        self._stand = replace(self._stand, point=None, axis=None, placed=False)
        self._stretches.append(Stretch(Conditions(0, None, "", "", ("end",))))

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

    def finish(self) -> list[Stretch]:
        """The stretches in order, those that only position joined to a neighbour, entries put in."""
        last = next((stretch for stretch in reversed(self._stretches) if stretch.items), None)
        if last is not None:
            last.items += self._held
        return [entered(stretch) for stretch in _joined(self._stretches)]


def _alike(one: Stretch, other: Stretch) -> bool:
    return (one.conditions.tool, one.conditions.frame) == (other.conditions.tool, other.conditions.frame)


def _joined(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Stretches that only position take spindle and coolant of the next one with their tool and frame, or else of the last one."""
    found: list[Stretch] = []
    end = Stretch(Conditions(0, None, "", "", ("end",)))
    for stretch, following, beyond in zip(stretches, [*stretches[1:], end], [*stretches[2:], end, end], strict=False):
        last = found[-1] if found else end
        if not stretch.items:
            found.append(stretch)
            continue
        if stretch.positions_only:
            if following.items and _alike(stretch, following):
                following.items = stretch.items + following.items
                following.before, following.name = stretch.before, stretch.name or following.name
                continue
            if not following.items and beyond.items and not beyond.positions_only and _alike(stretch, beyond):
                # Where the tool stood is not known any more: the way to the next point is planned, and only texts and pauses go on.
                beyond.items = [item for item in stretch.items if isinstance(item, Happening)] + beyond.items
                beyond.name = stretch.name or beyond.name
                continue
            if last.items and _alike(stretch, last):
                last.items += stretch.items
                continue
        if last.items and last.conditions == stretch.conditions and stretch.name in ("", last.name):
            last.items += stretch.items
        else:
            found.append(stretch)
    for stretch in found:
        if stretch.conditions.rpm is None:
            stretch.conditions = replace(stretch.conditions, rpm=0.0, turns=stretch.conditions.turns or "clockwise")
    return [stretch for stretch in found if stretch.items]
