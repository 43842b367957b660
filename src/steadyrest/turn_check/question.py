"""What is to be seen when the rotary turns, and which two facts of the mounting follow from it?

The operator stands in front of the machine: X to the right, looking along +Y at a mill with an upright spindle. What is watched is the
side of the part that faces the spindle, its top; with the axis of rotation along the spindle, the side nearest to the operator.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from steadyrest.errors import InputError, Place

Seen = Literal["towards-me", "away-from-me", "to-the-right", "to-the-left"]
Faces = Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"]
Turns = Literal["clockwise", "counterclockwise"]

SEEN: dict[str, tuple[Seen, Seen]] = {
    "X": ("towards-me", "away-from-me"),
    "Y": ("to-the-right", "to-the-left"),
    "Z": ("to-the-right", "to-the-left"),
}
"""Per axis of rotation the two answers. The first is what a right-hand turn about the axis' + direction looks like: about X the top,
(0, 0, 1), goes to -Y, towards the operator; about Y it goes to +X; about Z the near side, (0, -1, 0), goes to +X (the rotation matrices;
design, frames and signs: the operator's view)."""

FACES: dict[str, tuple[tuple[Faces, str], tuple[Faces, str]]] = {
    "X": (("+X", "to the right"), ("-X", "to the left")),
    "Y": (("+Y", "away from you; with a horizontal spindle, up"), ("-Y", "towards you; with a horizontal spindle, down")),
    "Z": (("+Z", "up, towards the spindle"), ("-Z", "down, away from the spindle")),
}
"""Per axis of rotation the directions in which a chuck's face can look, with what that is for the operator."""

_TOP = {"X": " (its top)", "Y": " (its top, with an upright spindle)", "Z": ""}
_AXIS_WORDS = {
    "towards-me": "the -Y direction",
    "away-from-me": "the +Y direction",
    "to-the-right": "the +X direction",
    "to-the-left": "the -X direction",
}


@dataclass(frozen=True, slots=True)
class Mounting:
    """The two facts of a mounting, as a profile spells them."""

    chuck_faces: Faces
    positive_turns_chuck: Turns


def mounting(along: str, chuck_faces: str, seen: str) -> Mounting:
    """The two facts that follow from which way the chuck faces and what was seen after a positive command.

    raises   InputError for an answer that a rotary along that axis cannot give
    source   design, frames and signs: facing + and counterclockwise is right-hand; each of the two, changed, flips it
    """
    faces = next((said for said, _ in FACES[along] if said == chuck_faces), None)
    if faces is None:
        allowed = " or ".join(said for said, _ in FACES[along])
        raise InputError(
            f"the chuck of a rotary along {along} cannot face {chuck_faces}", place=Place(key="--chuck-faces"), cure=f"say {allowed}"
        )
    if seen not in SEEN[along]:
        raise InputError(
            f"'{seen}' is no answer for a rotary along {along}", place=Place(key="--seen"), cure=f"say {' or '.join(SEEN[along])}"
        )
    right_hand = seen == SEEN[along][0]
    faces_plus = faces.startswith("+")
    return Mounting(faces, "counterclockwise" if right_hand == faces_plus else "clockwise")


def sense_of_rotation(said: Mounting) -> int:
    """+1 where a positive command turns the part right-hand about the + direction of its axis, else -1."""
    return 1 if said.chuck_faces.startswith("+") == (said.positive_turns_chuck == "counterclockwise") else -1


def seen_with(along: str, said: Mounting) -> Seen:
    """What a positive command looks like with that mounting: the inverse of `mounting`."""
    first, second = SEEN[along]
    return first if sense_of_rotation(said) == 1 else second


def watched(along: str) -> str:
    """What to keep an eye on."""
    return "the side of the part that is nearest to you" if along == "Z" else "the side of the part that faces the spindle"


def question(along: str) -> str:
    """The two questions, as somebody at the machine reads them."""
    first, second = SEEN[along]
    (plus, plus_words), (minus, minus_words) = FACES[along]
    return "\n".join(
        [
            "Stand in front of the machine, so that X goes to your right.",
            f"1. Which way does the face of the chuck look?  {plus}: {plus_words}.  {minus}: {minus_words}.",
            f"2. The program turned the rotary by a small positive angle. Which way did {watched(along)}{_TOP[along]} move?",
            f"   {first}: {_AXIS_WORDS[first]}.  {second}: {_AXIS_WORDS[second]}.",
        ]
    )
