"""What was changed on the way, as data: one small class per kind of notice, with its place.

A notice is not an error: the program is right, but somebody should know. What cannot be written is refused instead.
Notices of one kind in one operation are gathered by whoever raises them: a thousand slowed blocks are one notice.
"""

from __future__ import annotations

from dataclasses import dataclass

from steadyrest.errors import Place


@dataclass(frozen=True, slots=True)
class Notice:
    """Base of all notices: the place it belongs to."""

    place: Place

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class FeedSlowed(Notice):
    """The tip moves slower than asked, because an axis or the F word has a limit."""

    moves: int
    asked: float
    lowest: float
    limit: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        many = "1 block" if self.moves == 1 else f"{self.moves} blocks"
        return f"{many} slowed from {self.asked:g} per minute, down to {self.lowest:g} at the slowest: {self.limit}"


@dataclass(frozen=True, slots=True)
class FeedRounded(Notice):
    """The F word has too few decimals to hold the tip's speed within 0.1 percent."""

    moves: int
    worst_percent: float

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"F is too coarse for {self.moves} block(s): tip speed off by up to {self.worst_percent:.2g} percent"


@dataclass(frozen=True, slots=True)
class Subdivided(Notice):
    """Moves were cut into straight blocks to keep the tip within tolerance."""

    what: str
    moves: int
    blocks: int
    reason: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"{self.moves} {self.what} became {self.blocks} straight blocks: {self.reason}"


@dataclass(frozen=True, slots=True)
class CycleSpelledOut(Notice):
    """Drilling cycles were written as single moves."""

    cycle: str
    holes: int
    reason: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"{self.holes} hole(s), cycle {self.cycle}, written out in single moves: {self.reason}"


@dataclass(frozen=True, slots=True)
class TurnedBack(Notice):
    """The rotary was turned back whole turns inside an operation, tool retracted."""

    turns: int

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"the rotary's travel ends here: tool retracted, {self.turns:+d} whole turn(s), tool back, cut goes on"


@dataclass(frozen=True, slots=True)
class RapidRetracted(Notice):
    """Rapids that turn the rotary low down go up, turn, and come down again."""

    moves: int

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"{self.moves} rapid(s) that turn the part inside the swept radius: retracted, turned, came down again"


@dataclass(frozen=True, slots=True)
class CommentCleaned(Notice):
    """A name or note held characters that the controller does not take in a comment."""

    text: str
    written: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"comment {self.text!r} written as {self.written!r}: the controller takes no other characters"


@dataclass(frozen=True, slots=True)
class EndForEnd(Notice):
    """The job was turned by half a turn about Z, for the chuck stands at the other end of the stock."""

    chuck_faces: str

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return (
            f"turned end for end about Z (chuck faces {self.chuck_faces}): touch the other end, with the tool's radius the other way; X "
            "and Y have changed their sign, the rotary's words have not"
        )


@dataclass(frozen=True, slots=True)
class PluginNotLoaded(Notice):
    """A plug-in of an installed package is broken, and the program was made without it."""

    plugin: str
    error: str

    @classmethod
    def of(cls, plugin: str, error: BaseException) -> PluginNotLoaded:
        """The notice for an error of the plug-in's own."""
        return cls(Place(), plugin, " ".join(f"{type(error).__name__}: {error}".split()))

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return f"{self.plugin} is broken and was left out: {self.error}"
