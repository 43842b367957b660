"""What was changed on the way, as data: its kind, its place, and the facts of its sentence.

A notice is not an error: the program is right, but somebody should know. What cannot be written is refused instead.
Notices of one kind in one operation are gathered by whoever raises them: a thousand slowed blocks are one notice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Any

from steadyrest.errors import Place

KINDS: Mapping[str, tuple[str, str]] = {
    "FeedSlowed": (
        "The tip moves slower than asked, because an axis or the F word has a limit.",
        "{moves:block} slowed from {asked:g} to as little as {lowest:.6g} {units}/min: {limit}",
    ),
    "FeedRounded": (
        "The F word has too few decimals to hold the tip's speed within 0.1 percent.",
        "F has too few decimals in {moves:block}: the tip's speed is off by up to {worst_percent:.2g} percent",
    ),
    "Subdivided": (
        "Moves were cut into straight blocks to keep the tip within tolerance.",
        "{moves} {what} became {blocks} straight blocks: {reason}",
    ),
    "CycleSpelledOut": (
        "Drilling cycles were written as single moves.",
        "{holes:hole} of cycle {cycle} written out in single moves: {reason}",
    ),
    "TurnedBack": (
        "The rotary was turned back whole turns inside an operation, tool retracted.",
        "the rotary's travel ends here: the tool retracts, the rotary unwinds ({turns:+d} whole turns), and the cut goes on",
    ),
    "Reoriented": (
        "Rotaries were turned inside a cut that fits in no travel, the tool withdrawn along its axis.",
        "the rotaries' travel ends here: the tool withdraws along its axis, they turn to {angles}, and the cut goes on",
    ),
    "RapidRetracted": (
        "Rapids that turn the rotary low down go up, turn, and come down again.",
        "{moves:rapid} that would turn the part below the tool: retracted first, then turned, then down again",
    ),
    "CommentCleaned": (
        "A name or note held characters that the controller does not take in a comment.",
        "comment {text!r} written as {written!r}: the controller takes no other characters",
    ),
    "EndForEnd": (
        "The job was turned by half a turn about Z, for the chuck stands at the other end of the stock.",
        "turned end for end about Z (chuck faces {chuck_faces}): touch off the other end, with the tool's radius the other way; X and Y "
        "have changed their sign, the rotary's words have not",
    ),
    "PluginNotLoaded": (
        "A plug-in of an installed package is broken, and the program was made without it.",
        "{plugin} is broken and was left out: {error}",
    ),
    "LeftOut": (
        "Statements or blocks of an input say nothing about what is cut; where what they ask for is said instead.",
        "{what}{often} is not carried into the toolpath: {reason}",
    ),
    "Remark": ("Something in an input that whoever runs the program has to know.", "{text}"),
    "Assumed": ("Something that a program taken as an input does not state, and that is nearly always meant.", "assumed: {text}"),
    "TurnedAs": (
        "A program taken as an input turns the rotary, and its words were read as a profile mounts it.",
        "the rotary's words are read as {profile} mounts it (chuck faces {chuck_faces}, positive turns the chuck {positive_turns_chuck}): "
        "{letter}90 is the face at {face:g} degrees",
    ),
    "TurnedInPlanes": (
        "A program taken as an input turns the rotaries of a chain, and each place at which they stand became a plane.",
        "the words {letters} are read by the chain of {profile} ({chain}), whose reference point is taken to lie at {centre} mm of the "
        "program: each place at which they stand is a plane of its own",
    ),
    "TurnedInPart": (
        "A program taken as an input turns rotaries while it cuts, or a head, and became tip and tool axis in the part.",
        "the words {letters} are read by the chain of {profile} ({chain}), whose reference point is taken to lie at {centre} mm of the "
        "program: where tip and tool axis then are in the part is what the toolpath says",
    ),
    "Chorded": ("Arcs of an input became straight cuts.", "{arcs:arc} became straight cuts within {tolerance:g} of it: {reason}"),
    "BrokenOff": (
        "An operation ends and the next begins with the tool down, so the tool goes up and comes back between.",
        "a new operation begins in the middle of a cut ({reason}): the tool goes up, and at feed down again to the same point",
    ),
    "WiderThanRound": (
        "A wrapped path is wider than the way round its cylinder, so it overlaps itself.",
        "the developed path is {width:.6g} wide and the circumference is {way_round:.6g}: it goes round {times_round:.3g} times",
    ),
    "NotTheStocksCylinder": (
        "An operation is wrapped round another diameter than the stock has.",
        "{what} is wrapped around a diameter of {diameter:g} {units}, but the stock's is {stock:g} {units}: the wrapped surface is "
        "{apart:.4g} {units} {where} the stock's{asked}",
    ),
}
"""What each kind means, and what a notice of it says of its facts; `{blocks:block}` is a number with its noun."""


class _Sentence(Formatter):
    """Fills in a sentence; a number with its noun is in the plural where it has to be."""

    def format_field(self, value: Any, format_spec: str) -> Any:
        if len(format_spec) > 1 and format_spec.isalpha():
            return f"{value} {format_spec}{'' if value == 1 else 's'}"
        return super().format_field(value, format_spec)


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing changed, at the place that it belongs to."""

    place: Place
    kind: str
    facts: Mapping[str, Any]

    def sentence(self) -> str:
        """What happened, in one sentence without the place."""
        return _Sentence().format(KINDS[self.kind][1], **self.facts)


def noticed(kind: str, place: Place, **facts: Any) -> Notice:
    """A notice of one of KINDS, with all the facts of its sentence."""
    return Notice(place, kind, facts)
