"""The turn check as a program: the tool clear, a stop, the rotary at its start, a stop, a small turn, a stop, back, the end.

It commands X, Y and Z nowhere but in the profile's own retract, starts no spindle, and names no tool. It is read back by the
independent reader, as the controller would, before it is handed over: it does nothing but turn a little with the tool clear.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, isnan, radians
from pathlib import Path

import numpy as np

from steadyrest.conventions import LINE, MM_PER_INCH, RAPID
from steadyrest.errors import Place, PlanError, ProfileError, Refused
from steadyrest.motion import Event, PlanItem, Quantity, motion, planned_feed
from steadyrest.profile import Profile, ResolvedProfile, Rotary, RotaryLetter, chain_of, has_one_in_table, rotaries_of, rotaries_text
from steadyrest.reading import EventRead, read_program
from steadyrest.turn_check.question import carried, question, watched
from steadyrest.writing import write_program

TURN_DEG = 15.0
"""How far it turns: a mark on a bar of 40 mm moves by 5 mm. A head with fixed steps turns by as many as it takes."""

SPEED_DEG_PER_MIN = 120.0
"""How fast, where the rotary turns at feed: some seconds to see it, and the turn of a hand wheel by hand."""

WIDEST_DEG = 120.0
"""A step wider than this is no small turn, and near half a turn nobody can say which way it went."""

TIP_RADIUS_MM = 50.0
"""Where F is the speed of the tip, how far from the axis the tip is taken to stand. It stands farther, and then it turns slower."""

CAUTION = "no tool, nothing in the chuck that can catch, hand on feed hold"
"""Said in its head, guards and all else beside the command that writes it (common practice of the trade)."""

FORBIDDEN = {
    "spindle": "it has a spindle word",
    "coolant": "it has a coolant word",
    "tool_change": "it changes a tool",
    "tool_selected": "it names a tool",
    "length_offset": "it turns a length offset on",
    "cycle": "it drills",
}
SAME_DEG = 1e-6
NAN = float("nan")


@dataclass(frozen=True, slots=True)
class TurnCheck:
    """The program and what it does.

    program      its bytes
    letter       the rotary of the profile that it turns; slowly, or at rapid where it turns in no other way
    others       those that stay where they are meanwhile, at zero, or where an incremental program starts
    start_deg    where the rotary stands before the turn, its own word
    turn_deg     by how much it turns then, positive
    """

    program: bytes
    profile: Profile
    letter: str
    rotary: Rotary
    start_deg: float
    turn_deg: float
    others: tuple[str, ...] = ()

    @property
    def does(self) -> tuple[str, ...]:
        """What it will do, in its order, and what has to be minded."""
        along, head = self.rotary.along, _in_head(self.profile, self.letter)
        resting = f", {' and '.join(self.others)} at zero" if self.others else ""
        speed = (
            "slowly, at feed" if self.rotary.turns_while_cutting else "at rapid, because this rotary turns only at rapid: keep well clear"
        )
        raising = "it retracts, as set in the profile, before anything turns"
        if _raised_by_hand(self.profile):
            raising = "raise the tool by hand at the first stop: this profile has no retract position that is clear of everything"
        return (
            f"turn check for {self.profile.name}, rotary {self.letter} along {along}",
            raising,
            f"{self.letter} goes to {self.start_deg:g} at rapid{resting}, then by +{self.turn_deg:g} degrees {speed}",
            *(["the head swings: keep clear of it all round, and above the table too"] if head else []),
            "then back to where it was; it stops before each of the three",
            "no tool, no spindle, nothing in the chuck that can catch; guards closed; hand on feed hold",
        )

    def text(self, output: Path, controller: str) -> str:
        """What it will do, what to look for and what to say then, once it lies in a file; `controller`: how the profile was named."""
        first, *others = self.does
        seen, more = "|".join(watched(self.profile, self.letter).seen), " --chuck-faces ..."
        which = "" if has_one_in_table(self.profile) else f" --rotary {self.letter}"
        if which:
            more = " --went-along yes|no" if carried(self.profile, self.letter) else ""
        return "\n".join(
            [
                f"{output}  {first}",
                *(f"  {each}" for each in others),
                "",
                question(self.profile, self.letter),
                "",
                "Then enter what you saw:",
                f"  steadyrest turn-check --controller {controller}{which} --seen {seen}{more}",
            ]
        )


def turn_check(resolved: ResolvedProfile, letter: str | None = None) -> TurnCheck:
    """The turn check for a controller. No toolpath is needed.

    letter   which rotary; None: the only one
    raises   ProfileError without a rotary, or with several and no letter; PlanError where the controller cannot stop, or the rotary
             cannot turn by a small angle; TemplateError and the like as in writing; Refused where reading back finds it unsafe
    """
    profile = resolved.profile
    letter, rotary = the_rotary(profile, letter)
    if not profile.stops.program:
        raise PlanError(
            f"{profile.name} has no code for a program stop, and the turn check has to stop while the operator watches",
            place=Place(key="stops.program"),
            cure='set it in the profile, for example stops.program = "M0"; or jog the rotary and set chuck_faces and positive_turns_chuck '
            "yourself",
        )
    turn = _turn(rotary, letter)
    letters = (letter,) if has_one_in_table(profile) else tuple(rotaries_of(profile))
    stand = _start(profile, rotary, letters, letters.index(letter), turn)
    inch = profile.units.program == "inch" or (profile.units.program == "as_toolpath" and not profile.units.mm)
    items = _items(profile, letters, letters.index(letter), stand, turn, inch)
    text = b"".join(write_program(items, profile, resolved.template_folders, inch=inch, rotary_letters=letters))
    check_read_back(text, profile, letter, stand[letters.index(letter)], turn)
    others = tuple(each for each in letters if each != letter)
    return TurnCheck(text, profile, letter, rotary, stand[letters.index(letter)], turn, others)


def _in_head(profile: Profile, letter: str) -> bool:
    chain = chain_of(profile)
    return chain is not None and letter in chain.tool


def _raised_by_hand(profile: Profile) -> bool:
    """It knows no retract that is safe without a toolpath: the operator raises the tool at the first stop."""
    return profile.retract.form == "height"


def the_rotary(profile: Profile, letter: str | None) -> tuple[RotaryLetter, Rotary]:
    """The rotary of that letter, or the only one. ProfileError when there is none, or more than one and no letter."""
    meant = rotaries_of(profile, letter=letter)
    if letter is not None:
        meant = {name: rotary for name, rotary in meant.items() if name == letter}
    if not meant:
        which = f"no rotary {letter}; it has {rotaries_text(profile)}" if letter is not None else "no rotary"
        cure = "choose one of those: --rotary LETTER" if letter is not None else "choose a controller with a table [rotary.A]"
        raise ProfileError(f"{profile.name} has {which}", place=Place(key="rotary"), cure=cure)
    if len(meant) > 1:
        raise ProfileError(
            f"{profile.name} has {len(meant)} rotaries: {rotaries_text(profile)}",
            place=Place(key="rotary"),
            cure="choose one: --rotary LETTER",
        )
    return next(iter(meant.items()))


def _turn(rotary: Rotary, letter: str) -> float:
    turn = rotary.steps * ceil(TURN_DEG / rotary.steps) if rotary.steps else TURN_DEG
    if turn > WIDEST_DEG:
        raise PlanError(
            f"the smallest turn of this rotary is {turn:g} degrees, too large to see which way it went",
            place=Place(key=f"rotary.{letter}.steps"),
            cure="jog it from its own panel, watch which way it goes, and set chuck_faces and positive_turns_chuck in the profile",
        )
    return turn


def _start(profile: Profile, rotary: Rotary, letters: Sequence[str], at: int, turn: float) -> tuple[float, ...]:
    """Where each rotary stands before the turn: at 0, or where an incremental program starts; the one that turns, the `at`th, as far below
    as its travel asks for.
    """
    position, letter = profile.program.start_position, letters[at]
    stand = tuple(map(float, position[3:])) if position is not None else (0.0,) * len(letters)
    start = stand[at]
    travel = rotary.travel
    if travel.kind != "limited" or start + turn <= travel.highest:
        return stand
    step = rotary.steps or 1.0
    lower = step * ((travel.highest - turn) // step)
    if position is not None or lower < travel.lowest:
        raise PlanError(
            f"between {travel.lowest:g} and {travel.highest:g} degrees there is no room for a turn of {turn:g} degrees",
            place=Place(key=f"rotary.{letter}.travel"),
            cure="check the travel in the profile",
        )
    return (*stand[:at], lower, *stand[at + 1 :])


def _items(profile: Profile, letters: Sequence[str], at: int, stand: Sequence[float], turn: float, inch: bool) -> Iterator[PlanItem]:
    by_hand, letter, start = _raised_by_hand(profile), letters[at], stand[at]
    rotary: Rotary = profile.rotary[letter]  # type: ignore[index]
    moved = [*stand[:at], start + turn, *stand[at + 1 :]]
    yield Event(
        "program_start",
        facts={
            "name": "turn check",
            "units": "inch" if inch else "mm",
            "toolpath": "none, it cuts nothing",
            **dict.fromkeys(("tools", "rotaries", "assumed"), ()),
            "caution": CAUTION,
            "axis": rotary.along,
            **dict.fromkeys(("digest", "mounting", "held", "turns", "accepted"), ""),
        },
    )
    if not by_hand:
        height = Quantity("Z", profile.retract.machine_z / (MM_PER_INCH if inch else 1.0), "length")
        words = {"machine_z": height} if profile.retract.form == "machine_zero" else {}
        yield Event("retract", 0, "retract", facts={"form": profile.retract.form}, words=words)
    places = " and ".join(dict.fromkeys(f"{each:g}" for each in stand))
    going = f"{' and '.join(letters)} go{'es' if len(letters) == 1 else ''} to {places}"
    yield from _stopped(f"{'raise the tool clear by hand.' if by_hand else 'is the tool clear?'} next {going} at rapid")
    clamped = [(each, clamp) for each in letters if (clamp := profile.rotary[each].clamp).use == "indexing"]  # type: ignore[index]
    for each, clamp in clamped:
        yield _switched("unclamp", each, clamp.dwell, profile)
    yield _index(stand, at)
    yield from _stopped(f"{letter} turns +{turn:g} next. look at {watched(profile, letter).short}")
    yield _turned(stand, moved, at, profile, rotary, inch)
    yield from _stopped("which way did it move? next it turns back")
    yield _turned(moved, stand, at, profile, rotary, inch)
    for each, clamp in clamped:
        yield _switched("clamp", each, clamp.dwell, profile)
    yield Event("program_end")


def _switched(what: str, letter: str, dwell: float, profile: Profile) -> Event:
    words = {"dwell": Quantity(profile.codes.dwell_letter, dwell, "dwell")} if dwell > 0 else {}
    return Event(what, 0, "turn", facts={"rotary": letter}, words=words)


def _stopped(text: str) -> Iterator[Event]:
    yield Event("note", facts={"text": text})
    yield Event("stop", facts={"optional": False})


def _index(target: Sequence[float], at: int) -> Event:
    turning = motion(RAPID, np.full((1, 3), NAN), np.array([target]), rule="turn")
    return Event("index", 0, "turn", words={"angle": Quantity("", target[at], "angle")}, motion=(turning,))


def _turned(begin: Sequence[float], end: Sequence[float], at: int, profile: Profile, rotary: Rotary, inch: bool) -> PlanItem:
    if not rotary.turns_while_cutting:
        return _index(end, at)
    radius, turn = TIP_RADIUS_MM / MM_PER_INCH if inch else TIP_RADIUS_MM, end[at] - begin[at]
    way, speed = radius * radians(abs(turn)), radius * radians(SPEED_DEG_PER_MIN)
    still, tip, asked = np.zeros((1, 3)), np.array([way]), np.array([speed])
    planned = planned_feed(still, np.array([[turn]]), tip, asked, [rotary], profile.linear, profile.feed, inch)
    mode, word = int(planned.mode[0]), float(planned.word[0])
    return motion(LINE, np.full((1, 3), NAN), np.array([end]), feed=word, feed_mode=mode, rule="turn")


def check_read_back(text: bytes, profile: Profile, letter: str, start_deg: float, turn_deg: float) -> None:
    """Read the program back and go through it.

    raises   Refused where it moves X, Y or Z (but for the profile's retract), turns otherwise than to `start_deg`, by `turn_deg` and
             back, turns without a stop before, with the clamp on, or before the tool is clear; ProgramError where it cannot be read
    """
    stands: list[float] = []
    stopped = retracted = False
    meant = rotaries_of(profile, letter=letter)
    column = list(meant).index(letter)  # type: ignore[arg-type]
    position = profile.program.start_position
    resting = [0.0] * len(meant) if position is None else list(map(float, position[3:]))
    known_at: list[float] = resting if position is not None else [NAN] * len(meant)
    clamped = {name for name, rotary in meant.items() if rotary.clamp.use == "indexing"}
    for item in read_program(text, profile, rotary_letter=letter):
        if isinstance(item, EventRead):
            if item.kind in FORBIDDEN and item.text not in ("stop", "off"):
                raise _refused(FORBIDDEN[item.kind], item.line)
            stopped = stopped or item.kind == "stop"
            retracted = retracted or item.kind == "retract"
            if item.kind in ("clamp", "unclamp"):
                whose = {name for name, rotary in meant.items() if item.text in (rotary.clamp.on, rotary.clamp.off)}
                clamped = clamped | whose if item.kind == "clamp" else clamped - whose
            continue
        # X, Y and Z stay where they are, or go where work coordinates do not reach: in the retract.
        before, after = item.vertex_mm[:-1], item.vertex_mm[1:]
        moves = (before != after) & ~np.isnan(after)
        if moves.any():
            raise _refused("it moves X, Y or Z", int(item.line[np.argmax(moves.any(axis=1))]))
        for (_, now), line in zip(pairwise(item.vertex_deg.tolist()), item.line.tolist(), strict=True):
            turned = [each for each in range(len(meant)) if not isnan(now[each]) and not abs(now[each] - known_at[each]) <= SAME_DEG]
            if not turned:
                continue
            if not stopped:
                raise _refused("it turns the rotary without waiting for the operator", line)
            if clamped & {list(meant)[each] for each in turned}:
                raise _refused("it turns the rotary with the clamp on", line)
            if not (retracted or _raised_by_hand(profile)):
                raise _refused("it turns the rotary before the tool is clear", line)
            for each in turned:
                if each != column and abs(now[each] - resting[each]) > SAME_DEG:
                    raise _refused(f"it turns {list(meant)[each]}, which has to stay at {resting[each]:g}", line)
            if column in turned:
                stands.append(now[column])
            known_at, stopped = now, False
    wanted = [start_deg, start_deg + turn_deg, start_deg]
    known = wanted[1:] if profile.program.start_position is not None else wanted
    if len(stands) != len(known) or not np.allclose(stands, known, rtol=0, atol=0.01):
        raise _refused(f"it turns the rotary to {stands} instead of {known}", None)


def _refused(wrong: str, line: int | None) -> Refused:
    return Refused(
        f"the turn check is not safe as written: {wrong}",
        place=Place(line=line),
        cure="check the profile's own templates: retract, index, stop, clamp and unclamp must do only what their names mean",
    )
