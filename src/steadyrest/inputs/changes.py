"""What was changed, left to others or only noticed while an input was taken: one class per kind, with its place."""

from __future__ import annotations

from dataclasses import dataclass, replace

from steadyrest.errors import Place
from steadyrest.notices import Notice

HALF = 0.02
"""How close to one half the ratio of two diameters has to be to look like a radius taken for a diameter."""


@dataclass(frozen=True, slots=True)
class LeftOut(Notice):
    """Statements or blocks that say nothing about what is cut, and where what they ask for is said instead."""

    what: str
    times: int
    reason: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"{self.what}{'' if self.times == 1 else f' ({self.times} times)'} is not carried into the toolpath: {self.reason}"


def leave_out(found: dict[str, LeftOut], what: str, place: Place, reason: str) -> None:
    """One notice for all statements or blocks of one kind, at the place of the first."""
    old = found.get(what, LeftOut(place, what, 0, reason))
    found[what] = replace(old, times=old.times + 1, reason=reason)


@dataclass(frozen=True, slots=True)
class Remark(Notice):
    """Something that whoever runs the program has to know."""

    text: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return self.text


class Assumed(Remark):
    """Something that a program does not state and that is nearly always meant."""


class TurnedAs(Remark):
    """A program turns the rotary, and its words were read as a profile mounts it."""


class Chorded(Remark):
    """Arcs became straight cuts."""


class BrokenOff(Remark):
    """An operation ends and the next begins with the tool down, so the tool goes up and comes back between."""

    @classmethod
    def at(cls, place: Place, reason: str) -> BrokenOff:
        """The notice for the place at which the next operation begins."""
        return cls(
            place, f"a new operation begins in the middle of a cut ({reason}): the tool goes up, and at feed down again to the same point"
        )


class WiderThanRound(Remark):
    """A wrapped path is wider than the way round its cylinder, so it overlaps itself."""


class NotTheStocksCylinder(Remark):
    """An operation is wrapped round another diameter than the stock has."""

    @classmethod
    def of(cls, place: Place, name: str, diameter: float, stock: float, units: str) -> NotTheStocksCylinder:
        """The notice for an operation's diameter and the stock's, both in `units`."""
        where = "outside" if diameter > stock else "inside"
        asked = ""
        if abs(diameter / stock - 0.5) < HALF:
            asked = "; is that the radius for the diameter?"
        elif abs(stock / diameter - 0.5) < HALF:
            asked = "; is the stock's diameter its radius?"
        return cls(
            place,
            f"{repr(name) if name else 'an operation'} is wrapped around a diameter of {diameter:g} {units}, but the stock's is {stock:g} "
            f"{units}: the wrapped surface is {abs(diameter - stock) / 2:.4g} {units} {where} the stock's{asked}",
        )
