"""What is to be seen when the rotary turns, and which two facts of the mounting follow from it?

The operator stands in front of the machine, X to the right: with an upright spindle Z is up and Y goes away from them, with a horizontal
one Y is up and Z comes towards them. What is watched is the side of the part that faces the spindle; with the axis of rotation along the
spindle, the side nearest to the operator, or with a horizontal spindle the top.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import InputError, Place
from steadyrest.profile import Profile, Rotary, axis_in_words, chain_of, direction

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

LEAST_LEAN = 1e-9
"""An axis that leans less from Z lies along it."""

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


def carried(profile: Profile, letter: str) -> str:
    """The rotary of a chain that this one carries, on its way to the part or to the spindle; empty where it carries none."""
    chain = chain_of(profile)
    if chain is None:
        return ""
    inwards = chain.part[::-1] if letter in chain.part else chain.tool
    return next((other for other, inner in zip(inwards[1:], inwards, strict=False) if inner == letter), "")


def watched_in_chain(profile: Profile, letter: str) -> tuple[str, tuple[Seen, Seen]]:
    """What to watch when a rotary of a stated chain turns, and the two answers; the first is what a right-hand turn looks like.

    Of one that carries the part the edge of what it carries: a small turn about d tips the upward direction u by d x u, so that the edge on
    that side goes down against the opposite one, however high or low the axis lies; about an upright axis the near edge goes by d x near.
    Of one that carries the tool the spindle's nose, which hangs below the axis and goes by d x (0, 0, -1); where the axis lies along the
    spindle the nose stays, and it is the near side of the head, or on a machine with a horizontal spindle its top.
    """
    rotary, stands = profile.rotary[letter], profile.spindle.stands  # type: ignore[index]
    d, chain = np.array(direction(rotary)), chain_of(profile)
    said = {seen: np.array([float(way[0] + "1") * (way[1] == axis) for axis in "XYZ"]) for seen, way in ways(stands).items()}

    def pair(moved: Floats, one: Seen, other: Seen) -> tuple[Seen, Seen]:
        return (one, other) if moved @ said[one] > 0 else (other, one)

    up, near, right = said["up"], said["towards-me"], said["to-the-right"]
    if chain is not None and letter in chain.tool:
        nose = np.cross(d, [0.0, 0.0, -1.0])
        if np.linalg.norm(nose) < LEAST_LEAN:
            side, words = (near, "the side of the head that is nearest to you") if stands == "upright" else (up, "the top of the head")
            return words, pair(np.cross(d, side), "to-the-right", "to-the-left")
        seen = max(said, key=lambda each: float(nose @ said[each]))
        back = next(each for each in said if np.array_equal(said[each], -said[seen]))
        return "the nose of the spindle", (seen, back)
    tipped = np.cross(d, up)
    if np.linalg.norm(tipped) < LEAST_LEAN:
        return f"the edge of what {letter} carries that is nearest to you", pair(np.cross(d, near), "to-the-right", "to-the-left")
    if abs(tipped @ near) >= abs(tipped @ right):
        edge, words = near, f"the edge of what {letter} carries that is nearest to you, against the far one,"
    else:
        edge, words = right, f"the right-hand edge of what {letter} carries, against the left-hand one,"
    return words, ("down", "up") if tipped @ edge > 0 else ("up", "down")


def mounting_in_chain(profile: Profile, letter: str, seen: str, seen_from: str | None = None) -> Mounting:
    """The two facts of a rotary of a stated chain, from what was seen after a positive command.

    seen_from   the end of its axis from which the turn is said; None: that which the profile states
    raises      InputError for an answer that it cannot give
    """
    rotary: Rotary = profile.rotary[letter]  # type: ignore[index]
    ends: list[Faces] = [said for said, _ in FACES["upright"][rotary.along]]
    end = next((said for said in ends if said == (seen_from or rotary.chuck_faces)), None)
    if end is None:
        wrong = f"{letter} along {rotary.along} has no end {seen_from}"
        raise InputError(wrong, place=Place(key="--chuck-faces"), cure=f"give {' or '.join(ends)}")
    what, seen_ways = watched_in_chain(profile, letter)
    if seen not in seen_ways:
        wrong = f"when {letter} turns about {axis_in_words(rotary)}, {what} cannot go '{seen}'"
        cure = f"give {' or '.join(seen_ways)}; if neither is what you saw, correct the chain or the axis in the profile"
        raise InputError(wrong, place=Place(key="--seen"), cure=cure)
    return Mounting(end, "counterclockwise" if end.startswith("+") == (seen == seen_ways[0]) else "clockwise")


def question_in_chain(profile: Profile, letter: str) -> str:
    """What has to be looked at when a rotary of a stated chain turns, as somebody at the machine reads it."""
    chain, stands = chain_of(profile), profile.spindle.stands
    what, (first, second) = watched_in_chain(profile, letter)
    axis_words, in_head = ways(stands), chain is not None and letter in chain.tool
    moves, rests = ("spindle", "part") if in_head else ("part", "spindle")
    lines = [
        "Stand in front of the machine, so that X goes to your right.",
        f"1. The program turned {letter} by a small positive angle. The {moves} has to move, and the {rests} to stay: else the chain in",
        "   the profile is wrong, and has to be corrected first.",
        f"2. Which way did {what} move?",
        f"   {first}: the {axis_words[first]} direction.  {second}: the {axis_words[second]} direction.",
    ]
    if inner := carried(profile, letter):
        lines += [
            f"3. Did the body of {inner} go along when {letter} turned?  yes: {letter} carries {inner}, as the chain says.",
            f"   no: {inner} carries {letter}, and the chain has them in the wrong order.",
        ]
    return "\n".join(lines)


def chain_seen(profile: Profile, letter: str, *, went_along: bool) -> str:
    """The chain as it is once it was seen whether the rotary that this one carries went along.

    raises   InputError where the rotary carries no other
    """
    inner = carried(profile, letter)
    if not inner:
        wrong = f"{letter} carries no other rotary in the chain {profile.chain!r}"
        raise InputError(wrong, place=Place(key="--went-along"), cure="leave it out, or turn the one that carries the other")
    swapped = {letter: inner, inner: letter}
    return profile.chain if went_along else " ".join(swapped.get(word, word) for word in profile.chain.split())


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
