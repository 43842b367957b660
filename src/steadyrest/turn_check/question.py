"""What is to be seen when the rotary turns, and which two facts of the mounting follow from it?

The operator stands in front of the machine, X to the right: with an upright spindle Z is up and Y goes away from them, with a horizontal
one Y is up and Z comes towards them. What is watched is the side of the part that faces the spindle; with the axis of rotation along the
spindle, the side nearest to the operator, or with a horizontal spindle the top.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from steadyrest.errors import InputError, Place

Seen = Literal["towards-me", "away-from-me", "to-the-right", "to-the-left", "up", "down"]
Stands = Literal["upright", "horizontal"]
Faces = Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"]
Turns = Literal["clockwise", "counterclockwise"]

SEEN: dict[Stands, dict[str, tuple[Seen, Seen]]] = {
    "upright": {"X": ("towards-me", "away-from-me"), "Y": ("to-the-right", "to-the-left"), "Z": ("to-the-right", "to-the-left")},
    "horizontal": {"X": ("down", "up"), "Y": ("to-the-right", "to-the-left"), "Z": ("to-the-left", "to-the-right")},
}
"""By how the spindle stands and the axis of rotation the two answers. The first is what a right-hand turn about the axis' + direction looks
like: about X the side that faces the spindle, (0, 0, 1), goes to -Y; about Y it goes to +X; about Z the near side, (0, -1, 0), goes to +X,
and the top of a machine with a horizontal spindle, (0, 1, 0), to -X (the rotation matrices; design, frames and signs: the operator's view).
"""

_UPRIGHT: dict[str, tuple[tuple[Faces, str], tuple[Faces, str]]] = {
    "X": (("+X", "to the right"), ("-X", "to the left")),
    "Y": (("+Y", "away from you"), ("-Y", "towards you")),
    "Z": (("+Z", "up, towards the spindle"), ("-Z", "down, away from the spindle")),
}
FACES: dict[Stands, dict[str, tuple[tuple[Faces, str], tuple[Faces, str]]]] = {
    "upright": _UPRIGHT,
    "horizontal": {
        "X": _UPRIGHT["X"],
        "Y": (("+Y", "up"), ("-Y", "down")),
        "Z": (("+Z", "towards you and the spindle"), ("-Z", "away from you and the spindle")),
    },
}
"""Likewise the directions in which a chuck's face can look, with what that is for the operator."""

_SPINDLE: dict[Stands, str] = {"upright": "an upright spindle", "horizontal": "a horizontal spindle"}


@dataclass(frozen=True, slots=True)
class Mounting:
    """The two facts of a mounting, as a profile spells them."""

    chuck_faces: Faces
    positive_turns_chuck: Turns


def mounting(along: str, chuck_faces: str, seen: str, stands: Stands = "upright") -> Mounting:
    """The two facts that follow from which way the chuck faces and what was seen after a positive command.

    raises   InputError for an answer that a rotary along that axis cannot give
    source   design, frames and signs: facing + and counterclockwise is right-hand; each of the two, changed, flips it
    """
    allowed = [said for said, _ in FACES[stands][along]]
    faces = next((said for said in allowed if said == chuck_faces), None)
    if faces is None:
        wrong = f"the chuck of a rotary along {along} cannot face {chuck_faces}"
        raise InputError(wrong, place=Place(key="--chuck-faces"), cure=f"give {' or '.join(allowed)}")
    answers = SEEN[stands][along]
    if seen not in answers:
        raise InputError(
            f"'{seen}' is not possible for a rotary along {along} on a machine with {_SPINDLE[stands]}",
            place=Place(key="--seen"),
            cure=f"give {' or '.join(answers)}; if the spindle is not so, correct spindle.stands in the profile",
        )
    return Mounting(faces, "counterclockwise" if faces.startswith("+") == (seen == answers[0]) else "clockwise")


def face_question(along: str, stands: Stands) -> tuple[list[str], str]:
    """The two directions in which the chuck's face can look, and the question which one it is."""
    (plus, plus_words), (minus, minus_words) = FACES[stands][along]
    text = f"Standing in front of the machine: where does the face of the chuck point?\n{plus}: {plus_words}; {minus}: {minus_words}"
    return [plus, minus], text


def answers(along: str, stands: Stands) -> tuple[list[Seen], str]:
    """The two ways in which a small positive turn can be seen to move the part, and what has to be watched."""
    watched = "the side of the part that faces the spindle" + (" (its top)" if stands == "upright" else "")
    if along == "Z":
        watched = "the side of the part that is nearest to you" if stands == "upright" else "the top of the part"
    return list(SEEN[stands][along]), watched


def ways(stands: Stands) -> dict[Seen, str]:
    """Every answer that somebody at the machine can give, and the direction of the machine that it is; `SEEN` has the possible ones."""
    away, up = ("+Y", "+Z") if stands == "upright" else ("-Z", "+Y")
    near, down = (("-" if each[0] == "+" else "+") + each[1] for each in (away, up))
    return {"towards-me": near, "away-from-me": away, "to-the-right": "+X", "to-the-left": "-X", "up": up, "down": down}


def question(along: str, stands: Stands = "upright") -> str:
    """The two questions, as somebody at the machine reads them."""
    first, second = SEEN[stands][along]
    (plus, plus_words), (minus, minus_words) = FACES[stands][along]
    axis_words = ways(stands)
    watched = answers(along, stands)[1]
    return (
        "Stand in front of the machine, so that X goes to your right.\n"
        f"1. Which way does the face of the chuck point?  {plus}: {plus_words}.  {minus}: {minus_words}.\n"
        f"2. The program turned the rotary by a small positive angle. Which way did {watched} move?\n"
        f"   {first}: the {axis_words[first]} direction.  {second}: the {axis_words[second]} direction."
    )
