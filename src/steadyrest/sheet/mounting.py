"""How does the rotary stand on the table, and which way does it turn?"""

from __future__ import annotations

from dataclasses import dataclass

from steadyrest.profile import Rotary
from steadyrest.sheet.drawing import Drawing, mounting_drawings
from steadyrest.sheet.numbers import number


@dataclass(frozen=True, slots=True)
class MountingFacts:
    """The rotary as the program takes it to stand."""

    letter: str
    along: str
    sentences: tuple[str, ...]
    drawings: tuple[Drawing, ...]


_STANDS = {
    "+X": "at the left end of the table: its chuck looks to the right",
    "-X": "at the right end of the table: its chuck looks to the left",
    "+Y": "at the near end of the table: its chuck looks away from you; with a horizontal spindle, up",
    "-Y": "at the far end of the table: its chuck looks towards you; with a horizontal spindle, down",
    "+Z": "upright: its chuck looks up, towards the spindle",
    "-Z": "upside down: its chuck looks away from the spindle",
}
_GOES = {
    "X": ("the top of the part towards you", "the top of the part away from you"),
    "Y": ("the top of the part to the right", "the top of the part to the left"),
    "Z": ("the side nearest to you to the right", "the side nearest to you to the left"),
}


def _sense(rotary: Rotary) -> int:
    """+1: a positive command turns the part right-hand about the + direction of its axis (design, frames and signs)."""
    return 1 if rotary.chuck_faces.startswith("+") == (rotary.positive_turns_chuck == "counterclockwise") else -1


def mounting_facts(letter: str, rotary: Rotary) -> MountingFacts:
    """The rotary `letter` in words and drawings."""
    sense = _sense(rotary)
    sentences = [
        f"rotary {letter} along {rotary.along}, {_STANDS[rotary.chuck_faces]} ({rotary.chuck_faces})",
        f"a positive {letter} turns the chuck {rotary.positive_turns_chuck}, looking at its face",
        f"so a positive {letter} brings {_GOES[rotary.along][0 if sense == 1 else 1]}",
    ]
    if rotary.replaces:
        sentences.append(
            f"the drive of {rotary.replaces} turns it: {number(abs(rotary.mm_per_degree))} mm of {rotary.replaces} are one degree"
        )
    if rotary.clamp.use == "indexing":
        sentences.append(f"clamped for indexed cuts: {rotary.clamp.on} on, {rotary.clamp.off} off")
    else:
        sentences.append("the program does not clamp it: the drive alone holds the part")
    return MountingFacts(letter, rotary.along, tuple(sentences), mounting_drawings(letter, rotary.chuck_faces, sense))
