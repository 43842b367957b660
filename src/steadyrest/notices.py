"""What was changed on the way, as data: one small class per kind of notice, with its place.

A notice is not an error: the program is right, but somebody should know. What cannot be written is refused instead.
Notices of one kind in one operation are gathered by whoever raises them: a thousand slowed blocks are one notice.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from string import Formatter
from typing import Any, ClassVar

from steadyrest.errors import Place


class _Sentence(Formatter):
    """Fills in a sentence; `{blocks:block}` is a number with its noun, in the plural where it has to be."""

    def format_field(self, value: Any, format_spec: str) -> Any:
        if len(format_spec) > 1 and format_spec.isalpha():
            return f"{value} {format_spec}{'' if value == 1 else 's'}"
        return super().format_field(value, format_spec)


@dataclass(frozen=True, slots=True)
class Notice:
    """Base of all notices: the place it belongs to, and what it says of its fields."""

    SAYS: ClassVar[str] = ""
    place: Place

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return _Sentence().format(self.SAYS, **{field.name: getattr(self, field.name) for field in fields(self)})


@dataclass(frozen=True, slots=True)
class FeedSlowed(Notice):
    """The tip moves slower than asked, because an axis or the F word has a limit."""

    SAYS = "{moves:block} slowed from {asked:g} to as little as {lowest:.6g} {units}/min: {limit}"
    moves: int
    asked: float
    lowest: float
    limit: str
    units: str = "mm"


@dataclass(frozen=True, slots=True)
class FeedRounded(Notice):
    """The F word has too few decimals to hold the tip's speed within 0.1 percent."""

    SAYS = "F has too few decimals in {moves:block}: the tip's speed is off by up to {worst_percent:.2g} percent"
    moves: int
    worst_percent: float


@dataclass(frozen=True, slots=True)
class Subdivided(Notice):
    """Moves were cut into straight blocks to keep the tip within tolerance."""

    SAYS = "{moves} {what} became {blocks} straight blocks: {reason}"
    what: str
    moves: int
    blocks: int
    reason: str


@dataclass(frozen=True, slots=True)
class CycleSpelledOut(Notice):
    """Drilling cycles were written as single moves."""

    SAYS = "{holes:hole} of cycle {cycle} written out in single moves: {reason}"
    cycle: str
    holes: int
    reason: str


@dataclass(frozen=True, slots=True)
class TurnedBack(Notice):
    """The rotary was turned back whole turns inside an operation, tool retracted."""

    SAYS = "the rotary's travel ends here: the tool retracts, the rotary unwinds ({turns:+d} whole turns), and the cut goes on"
    turns: int


@dataclass(frozen=True, slots=True)
class RapidRetracted(Notice):
    """Rapids that turn the rotary low down go up, turn, and come down again."""

    SAYS = "{moves:rapid} that would turn the part below the tool: retracted first, then turned, then down again"
    moves: int


@dataclass(frozen=True, slots=True)
class CommentCleaned(Notice):
    """A name or note held characters that the controller does not take in a comment."""

    SAYS = "comment {text!r} written as {written!r}: the controller takes no other characters"
    text: str
    written: str


@dataclass(frozen=True, slots=True)
class EndForEnd(Notice):
    """The job was turned by half a turn about Z, for the chuck stands at the other end of the stock."""

    SAYS = (
        "turned end for end about Z (chuck faces {chuck_faces}): touch off the other end, with the tool's radius the other way; X and Y "
        "have changed their sign, the rotary's words have not"
    )
    chuck_faces: str


@dataclass(frozen=True, slots=True)
class PluginNotLoaded(Notice):
    """A plug-in of an installed package is broken, and the program was made without it."""

    SAYS = "{plugin} is broken and was left out: {error}"
    plugin: str
    error: str

    @classmethod
    def of(cls, plugin: str, error: BaseException) -> PluginNotLoaded:
        """The notice for an error of the plug-in's own."""
        return cls(Place(), plugin, " ".join(f"{type(error).__name__}: {error}".split()))
