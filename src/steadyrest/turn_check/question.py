"""What is to be seen when a rotary turns, and which facts of the mounting follow from it?

The operator stands in front of the machine, X to the right: with an upright spindle Z is up and Y goes away from them, with a horizontal
one Y is up and Z comes towards them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import InputError, Place
from steadyrest.profile import Profile, Rotary, axis_in_words, chain_of, direction, has_one_in_table

Seen = Literal["towards-me", "away-from-me", "to-the-right", "to-the-left", "up", "down"]
Stands = Literal["upright", "horizontal"]
Faces = Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"]
Turns = Literal["clockwise", "counterclockwise"]

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
"""By how the spindle stands and the axis of rotation the directions in which a chuck's face can look, as the operator sees them."""

LEAST_LEAN = 1e-9
"""An axis that leans less from Z lies along it."""


@dataclass(frozen=True, slots=True)
class Mounting:
    """The two facts of a mounting, as a profile spells them."""

    chuck_faces: Faces
    positive_turns_chuck: Turns


@dataclass(frozen=True, slots=True)
class Watched:
    """What to watch when a rotary turns a little, also in so few words that a message of 60 characters holds them; and the two answers,
    of which the first is what a right-hand turn looks like.
    """

    what: str
    short: str
    seen: tuple[Seen, Seen]


def ways(stands: Stands) -> dict[Seen, str]:
    """Every answer that somebody at the machine can give, and the direction of the machine that it is; `watched` has the possible ones."""
    away, up = ("+Y", "+Z") if stands == "upright" else ("-Z", "+Y")
    near, down = (("-" if each[0] == "+" else "+") + each[1] for each in (away, up))
    return {"towards-me": near, "away-from-me": away, "to-the-right": "+X", "to-the-left": "-X", "up": up, "down": down}


def watched(profile: Profile, letter: str) -> Watched:
    """What to watch when a rotary turns, and what can be seen then.

    Of one alone in the table the side of the part that faces the spindle; with its axis along the spindle the side nearest to the operator,
    or with a horizontal spindle the top. It goes by d x (that side), d being the direction of the axis (the rotation matrices; design,
    frames and signs: the operator's view).
    Of one of a chain that carries the part the edge of what it carries: a small turn about d tips the upward direction u by d x u, so that
    the edge on that side goes down against the opposite one, however high or low the axis lies; about an upright axis the near edge goes by
    d x near. Of one that carries the tool the spindle's nose, which hangs below the axis and goes by d x (0, 0, -1); where the axis lies
    along the spindle the nose stays, and it is the near side of the head, or on a machine with a horizontal spindle its top.
    """
    rotary, chain, upright = _rotary(profile, letter), chain_of(profile), profile.spindle.stands == "upright"
    d, spindle = np.array(direction(rotary)), np.array([0.0, 0.0, 1.0])
    said = {
        seen: np.array([float(way[0] + "1") * (way[1] == axis) for axis in "XYZ"]) for seen, way in ways(profile.spindle.stands).items()
    }
    up, near, right = said["up"], said["towards-me"], said["to-the-right"]
    lies_along_spindle = bool(np.linalg.norm(np.cross(d, spindle)) < LEAST_LEAN)

    def moved(by: Floats, what: str, short: str) -> Watched:
        first = max(said, key=lambda seen: float(by @ said[seen]))
        return Watched(what, short, (first, next(each for each in said if np.array_equal(said[each], -said[first]))))

    if has_one_in_table(profile):
        if not lies_along_spindle:
            also = " (its top)" if upright else ""
            return moved(np.cross(d, spindle), f"the side of the part that faces the spindle{also}", "the side facing the spindle")
        if upright:
            return moved(np.cross(d, near), "the side of the part that is nearest to you", "the side nearest to you")
        return moved(np.cross(d, up), "the top of the part", "the top of the part")
    if chain is not None and letter in chain.tool:
        if not lies_along_spindle:
            return moved(np.cross(d, -spindle), "the nose of the spindle", "the spindle's nose")
        what = "the side of the head that is nearest to you" if upright else "the top of the head"
        return moved(np.cross(d, near if upright else up), what, "the head")
    tipped, edge = np.cross(d, up), f"edge of what {letter} carries"
    if np.linalg.norm(tipped) < LEAST_LEAN:
        return moved(np.cross(d, near), f"the {edge} that is nearest to you", "its near edge")
    if abs(tipped @ near) >= abs(tipped @ right):
        return moved(-(tipped @ near) * up, f"the {edge} that is nearest to you, against the far one,", "its near edge")
    return moved(-(tipped @ right) * up, f"the right-hand {edge}, against the left-hand one,", "its right edge")


def _rotary(profile: Profile, letter: str) -> Rotary:
    return profile.rotary[letter]  # type: ignore[index]


def face_question(along: str, stands: Stands) -> tuple[list[str], str]:
    """The two directions in which the chuck's face can look, and the question which one it is."""
    (plus, plus_words), (minus, minus_words) = FACES[stands][along]
    text = f"Standing in front of the machine: where does the face of the chuck point?\n{plus}: {plus_words}; {minus}: {minus_words}"
    return [plus, minus], text


def carried(profile: Profile, letter: str) -> str:
    """The rotary of a chain that this one carries, on its way to the part or to the spindle; empty where it carries none."""
    chain = chain_of(profile)
    if chain is None:
        return ""
    inwards = chain.part[::-1] if letter in chain.part else chain.tool
    return next((other for other, inner in zip(inwards[1:], inwards, strict=False) if inner == letter), "")


def mounting(profile: Profile, letter: str, seen: str, faces: str | None = None) -> Mounting:
    """The two facts of a rotary, from what was seen after a positive command.

    faces    where its chuck looks; of a chain the end of its axis from which the turn is said. None: as the profile states
    raises   InputError for an answer that it cannot give
    source   design, frames and signs: facing + and counterclockwise is right-hand; each of the two, changed, flips it
    """
    rotary = _rotary(profile, letter)
    ends: list[Faces] = [each for each, _ in FACES["upright"][rotary.along]]
    end = next((each for each in ends if each == (rotary.chuck_faces if faces is None else faces)), None)
    if end is None:
        wrong = f"{letter}, which is along {rotary.along}, cannot face {faces}"
        raise InputError(wrong, place=Place(key="--chuck-faces"), cure=f"give {' or '.join(ends)}")
    look = watched(profile, letter)
    if seen not in look.seen:
        wrong = (
            f"when {letter} turns about {axis_in_words(rotary)} on a machine with {profile.spindle.stands} spindle, {look.what} cannot go"
        )
        cure = f"give {' or '.join(look.seen)}; if neither is what you saw, correct spindle.stands, the axis or the chain in the profile"
        raise InputError(f"{wrong} '{seen}'", place=Place(key="--seen"), cure=cure)
    return Mounting(end, "counterclockwise" if end.startswith("+") == (seen == look.seen[0]) else "clockwise")


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


def question(profile: Profile, letter: str) -> str:
    """What has to be looked at when a rotary turns, as somebody at the machine reads it."""
    stands, chain, look = profile.spindle.stands, chain_of(profile), watched(profile, letter)
    first, second = look.seen
    turned, which = f"The program turned {letter} by a small positive angle.", f"Which way did {look.what} move?"
    if has_one_in_table(profile):
        (plus, plus_words), (minus, minus_words) = FACES[stands][_rotary(profile, letter).along]
        asked = [f"1. Which way does the face of the chuck point?  {plus}: {plus_words}.  {minus}: {minus_words}.", f"2. {turned} {which}"]
    else:
        moves, rests = ("spindle", "part") if chain is not None and letter in chain.tool else ("part", "spindle")
        wrong = "else the chain in\n   the profile is wrong, and has to be corrected first."
        asked = [f"1. {turned} The {moves} has to move, and the {rests} to stay: {wrong}", f"2. {which}"]
    lines = [
        "Stand in front of the machine, so that X goes to your right.",
        *asked,
        f"   {first}: the {ways(stands)[first]} direction.  {second}: the {ways(stands)[second]} direction.",
    ]
    if inner := carried(profile, letter):
        lines += [
            f"3. Did the body of {inner} go along when {letter} turned?  yes: {letter} carries {inner}, as the chain says.",
            f"   no: {inner} carries {letter}, and the chain has them in the wrong order.",
        ]
    return "\n".join(lines)
