"""Which rotary carries what: the order of things from the part to the spindle, and whether a machine can be built so.

Directions are those that the rotaries' axes have with every rotary at zero, in the axes X Y Z of the machine: the pose in which the spindle
points along +Z (ISO 230-1 and ISO 10791-6 write machines as such chains, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from math import asin, cos, degrees, dist, hypot, radians, sin
from typing import TYPE_CHECKING, NamedTuple

from steadyrest.profile.base import impossible

if TYPE_CHECKING:
    from steadyrest.profile.axes import Rotary
    from steadyrest.profile.model import Profile

Direction = tuple[float, float, float]
MOST_ROTARIES = 2
PARALLEL_DEG = 0.5
"""Lines that lean less against each other are one line, measured badly."""
SUCH_AS = 'for example chain = "part C A bed spindle", or "part C bed B spindle" where B turns the head'


class Chain(NamedTuple):
    """The letters of the rotaries that carry the part and of those that carry the tool, each counted from the part to the spindle."""

    part: tuple[str, ...] = ()
    tool: tuple[str, ...] = ()

    @property
    def letters(self) -> tuple[str, ...]:
        """All of them, counted from the part to the spindle."""
        return self.part + self.tool


def chain_of(profile: Profile) -> Chain | None:
    """The chain that a profile states; None where it states none: each of its rotaries is then one that stands in the table by itself."""
    if not profile.chain:
        return None
    words = profile.chain.split()
    bed = words.index("bed")
    return Chain(tuple(words[1:bed]), tuple(words[bed + 1 : -1]))


def has_one_in_table(profile: Profile) -> bool:
    """Whether a part is turned by one rotary in the table, or by none: no second one carries it, and no head is turned."""
    chain = chain_of(profile)
    return chain is None or not (chain.tool or len(chain.part) > 1)


def direction(rotary: Rotary) -> Direction:
    """The + direction of a rotary's axis, a unit vector."""
    x, y, z = (float(rotary.along == axis) for axis in "XYZ")
    if rotary.leans is None:
        return x, y, z
    lean, sign = radians(rotary.leans.by), 1.0 if rotary.leans.towards[0] == "+" else -1.0
    aside = (sign * sin(lean) * (rotary.leans.towards[1] == axis) for axis in "XYZ")
    x, y, z = (along * cos(lean) + to for along, to in zip((x, y, z), aside, strict=True))
    return x, y, z


def chain_in_words(profile: Profile) -> list[str]:
    """The chain, a sentence for each rotary, to be read aloud at the machine; nothing where none is stated."""
    chain = chain_of(profile)
    if chain is None:
        return []
    told = []
    for letters, end, ground in ((chain.part, "the part", "the bed"), (chain.tool[::-1], "the spindle", "the machine")):
        for at, letter in enumerate(letters):
            carried = end if at == 0 else f"{letters[at - 1]} with {end}"
            stands = f"carried by {letters[at + 1]}" if at + 1 < len(letters) else f"on {ground}"
            told.append(f"{letter}, {stands}, turns {carried} about {axis_in_words(profile.rotary[letter])}")  # type: ignore[index]
    return told


def axis_in_words(rotary: Rotary) -> str:
    """Where a rotary's axis points."""
    if rotary.leans is None:
        return rotary.along
    return f"an axis along {rotary.along} that leans by {rotary.leans.by:g} degrees towards {rotary.leans.towards}"


def check_chain(profile: Profile) -> None:
    """Raise the error of the first thing that no machine can have: in the chain, and in what its rotaries say of their lines."""
    words = profile.chain.split()
    if words:
        _check_words(profile, words)
    chain = chain_of(profile)
    for letter, key, wrong, cure in _impossible(profile, chain):
        raise impossible(wrong, key=f"rotary.{letter}.{key}", cure=cure)
    two = chain is not None and len(chain.letters) == MOST_ROTARIES
    if chain is not None and two:
        _check_lines(profile, chain)
    if profile.poles.past == "slow" and not two:
        raise impossible("only a chain of two rotaries has poles", key="poles.past", cure='past = "refuse", or state the chain')
    if profile.reorient.inside_a_cut == "withdraw":
        _check_withdrawing(profile)


def _check_words(profile: Profile, words: list[str]) -> None:
    def wrong(sentence: str, cure: str = SUCH_AS) -> None:
        raise impossible(sentence, key="chain", cure=cure)

    named = [word for word in words if word not in ("part", "bed", "spindle")]
    if words[0] != "part" or words[-1] != "spindle" or words.count("bed") != 1 or len(words) != len(named) + 3:
        wrong(f"{profile.chain!r} does not go from the part over the bed to the spindle")
    for linear in (word for word in named if word in "XYZ"):
        wrong(f"the linear axis {linear} is no part of the chain: none may be carried by a rotary", f"leave {linear} out")
    for letter in named:
        if letter not in profile.rotary:
            cure = f"add [rotary.{letter}], or take {letter} out of the chain"
            wrong(f"the chain names {letter}, and there is no table [rotary.{letter}]", cure)
        if named.count(letter) > 1:
            wrong(f"the chain names {letter} twice", "name every rotary once")
    for letter in profile.rotary:
        if letter not in named:
            wrong(f"the chain leaves out {letter}", f'name it where it stands, or drop = ["rotary.{letter}"] in a profile with a parent')
    if len(named) > MOST_ROTARIES:
        wrong(f"the chain has {len(named)} rotaries; {MOST_ROTARIES} are the most", "leave out those that never turn in a program")


def _impossible(profile: Profile, chain: Chain | None) -> Iterator[tuple[str, str, str, str]]:
    """What a rotary cannot say, standing where it does: letter, key, sentence, cure."""
    for letter, rotary in profile.rotary.items():
        in_head = chain is not None and letter in chain.tool
        two = chain is not None and len(chain.letters) == MOST_ROTARIES
        alone = chain is None or chain.part == chain.letters == (letter,)
        rules = (
            (rotary.pivot and not in_head, "pivot", "carries the part; a pivot is of a rotary that carries the tool", "give its point"),
            (rotary.point and in_head, "point", "carries the tool; a point is of a rotary that carries the part", "give its pivot"),
            (rotary.point and alone, "point", "is alone in the table: its axis goes through `centre` of the toolpath", "leave it out"),
            (
                rotary.prefer != "either" and not two,
                "prefer",
                "is no one of two rotaries: a tool axis is reached in one way only",
                "leave it out",
            ),
            (rotary.leans and alone, "leans", "is alone in the table and stands along X, Y or Z", "leave it out"),
            (rotary.replaces and not alone, "replaces", "needs a drive of its own beside another rotary, or in the head", "leave it out"),
        )
        for broken, key, wrong, cure in rules:
            if broken:
                yield letter, key, f"{letter} {wrong}", cure
        if in_head and chain is not None and letter == chain.tool[-1] and hypot(*direction(rotary)[:2]) < 1e-9:
            yield letter, "along", f"{letter} lies along the spindle that it carries: it tilts nothing", "correct `along`, or say `leans`"


def _check_lines(profile: Profile, chain: Chain) -> None:
    first, last = chain.letters
    one, other = (direction(profile.rotary[letter]) for letter in (first, last))  # type: ignore[index]
    apart = degrees(2 * asin(min(1.0, min(dist(one, other), dist(one, [-each for each in other])) / 2)))
    if apart < PARALLEL_DEG:
        raise impossible(
            f"the axes of {first} and {last} are parallel: together they tilt no more than one of them",
            key=f"rotary.{last}.along",
            cure="correct `along` or `leans` of one of them",
        )
    if hypot(*other[:2]) < 1e-9:
        raise impossible(
            f"{last} is nearest to the spindle and lies along it: it tilts nothing",
            key=f"rotary.{last}.along",
            cure=f"correct the order in the chain, or `along` of {last}",
        )


def _check_withdrawing(profile: Profile) -> None:
    key = "reorient.inside_a_cut"
    if has_one_in_table(profile):
        raise impossible(
            "a cut is withdrawn from along the tool axis with two rotaries or a head; one rotary in the table turns back above the part",
            key=key,
            cure='inside_a_cut = "refuse", and when_exceeded in the rotary\'s travel says what happens there',
        )
    for letter, rotary in profile.rotary.items():
        if rotary.travel.when_exceeded == "refuse":
            wrong = f"the travel of {letter} says that a toolpath is refused which needs more of it, and a cut is to be withdrawn from"
            raise impossible(wrong, key=key, cure=f'inside_a_cut = "refuse", or rotary.{letter}.travel.when_exceeded = "turn_back"')
