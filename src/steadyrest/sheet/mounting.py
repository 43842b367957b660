"""How does the rotary stand on the table, and which way does it turn?"""

from __future__ import annotations

from dataclasses import dataclass

from steadyrest.profile import Rotary
from steadyrest.sheet.drawing import Drawing, mounting_drawings
from steadyrest.sheet.numbers import of_part


@dataclass(frozen=True, slots=True)
class MountingFacts:
    """The rotary as the program takes it to stand."""

    letter: str
    along: str
    sentences: tuple[str, ...]
    drawings: tuple[Drawing, ...]


_STANDS = {
    "upright": {
        "+X": "at the left end of the table: its chuck faces to the right",
        "-X": "at the right end of the table: its chuck faces to the left",
        "+Y": "at the near end of the table: its chuck faces away from you",
        "-Y": "at the far end of the table: its chuck faces towards you",
        "+Z": "upright: its chuck faces up, towards the spindle",
        "-Z": "upside down: its chuck faces away from the spindle",
    },
    "horizontal": {
        "+X": "at the left end of the table: its chuck faces to the right",
        "-X": "at the right end of the table: its chuck faces to the left",
        "+Y": "upright: its chuck faces up",
        "-Y": "upside down: its chuck faces down",
        "+Z": "at the far end of the table: its chuck faces towards you and the spindle",
        "-Z": "at the near end of the table: its chuck faces away from the spindle",
    },
}
_GOES = {
    "upright": {
        "X": ("the top of the part towards you", "the top of the part away from you"),
        "Y": ("the top of the part to the right", "the top of the part to the left"),
        "Z": ("the side nearest to you to the right", "the side nearest to you to the left"),
    },
    "horizontal": {
        "X": ("the side nearest to you down", "the side nearest to you up"),
        "Y": ("the side nearest to you to the right", "the side nearest to you to the left"),
        "Z": ("the top of the part to the left", "the top of the part to the right"),
    },
}
"""By how the spindle stands and the axis of rotation: what a right-hand turn does, and what a left-hand turn does. With an upright spindle
+Z is up and -Y towards the operator, with a horizontal one +Y is up and +Z towards the operator; the rotation matrices say the rest."""


def mounting_facts(letter: str, rotary: Rotary, stands: str, units: str) -> MountingFacts:
    """The rotary in words and drawings, by the word that the display shows. `stands`: as the spindle does; `units`: the part's."""
    word = rotary.word_letter(letter)
    # A positive word turns the part right-hand about the + direction of its axis (design, frames and signs), or not.
    right_hand = rotary.chuck_faces.startswith("+") == (rotary.positive_word_turns_chuck == "counterclockwise")
    sense = 1 if right_hand else -1
    sentences = [
        f"rotary {letter} along {rotary.along}, {_STANDS[stands][rotary.chuck_faces]} ({rotary.chuck_faces})",
        f"{word}+ turns the chuck {rotary.positive_word_turns_chuck}, looking at its face",
        f"so {word}+ moves {_GOES[stands][rotary.along][0 if sense == 1 else 1]}",
    ]
    if rotary.replaces:
        turn = of_part(360 * abs(rotary.mm_per_degree), units)
        sentences.append(f"the {word} drive turns it: the display shows {word}, {turn} {units} for a full turn")
    if rotary.clamp.use == "indexing":
        sentences.append(f"clamped for indexed cuts: {rotary.clamp.on} on, {rotary.clamp.off} off")
    else:
        sentences.append("the program does not clamp it: only its drive holds the part")
    return MountingFacts(letter, rotary.along, tuple(sentences), mounting_drawings(word, rotary.chuck_faces, sense, stands))
