"""What was changed, left to others or only noticed while an input was taken: one small class per kind, with its place."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True)
class Assumed(Notice):
    """Something that a program does not state and that is nearly always meant."""

    text: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"taken for granted: {self.text}"


@dataclass(frozen=True, slots=True)
class TurnedAs(Notice):
    """A program turns the rotary, and its words were read as a profile mounts it."""

    letter: str
    profile: str
    chuck_faces: str
    positive_turns_chuck: str
    angle_of_90: float

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return (
            f"the rotary's words are read as {self.profile} mounts it (chuck faces {self.chuck_faces}, positive turns the chuck "
            f"{self.positive_turns_chuck}): {self.letter}90 is the face at {self.angle_of_90:g} degrees"
        )


@dataclass(frozen=True, slots=True)
class Chorded(Notice):
    """Arcs became straight cuts."""

    arcs: int
    tolerance: float
    reason: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        many = "1 arc" if self.arcs == 1 else f"{self.arcs} arcs"
        return f"{many} became straight cuts within {self.tolerance:g} of it: {self.reason}"


@dataclass(frozen=True, slots=True)
class BrokenOff(Notice):
    """An operation ends and the next begins with the tool down, so the tool goes up and comes back between."""

    reason: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"a new operation begins in the middle of a cut ({self.reason}): the tool goes up, and at feed down again to the same point"


@dataclass(frozen=True, slots=True)
class WiderThanRound(Notice):
    """A wrapped path is wider than the way round its cylinder, so it overlaps itself."""

    width: float
    circumference: float

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return (
            f"the developed path is {self.width:.6g} wide and the circumference is {self.circumference:.6g}: "
            f"it goes round {self.width / self.circumference:.3g} times"
        )


@dataclass(frozen=True, slots=True)
class NotTheStocksCylinder(Notice):
    """An operation is wrapped round another diameter than the stock has."""

    name: str
    diameter: float
    stock: float
    units: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        apart = abs(self.diameter - self.stock) / 2
        where = "outside" if self.diameter > self.stock else "inside"
        asked = ""
        if abs(self.diameter / self.stock - 0.5) < HALF:
            asked = "; is that the radius for the diameter?"
        elif abs(self.stock / self.diameter - 0.5) < HALF:
            asked = "; is the stock's diameter its radius?"
        what, units = repr(self.name) if self.name else "an operation", self.units
        return (
            f"{what} is wrapped round a diameter of {self.diameter:g} {units}, and the stock's is {self.stock:g} {units}: "
            f"the surface that it is laid on lies {apart:.4g} {units} {where} the stock's{asked}"
        )


@dataclass(frozen=True, slots=True)
class Remark(Notice):
    """Something that whoever runs the program has to know."""

    text: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return self.text
