"""The turn check as a program: the tool clear, a stop, the rotary at its start, a stop, a small turn, a stop, back, the end.

It commands X, Y and Z nowhere but in the profile's own retract, starts no spindle, and names no tool. It is read back by the
independent reader, as the controller would, before it is handed over: it does nothing but turn a little with the tool clear.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, isnan, radians
from pathlib import Path

import numpy as np

from steadyrest.conventions import LINE, MM_PER_INCH, RAPID
from steadyrest.errors import Place, PlanError, ProfileError, Refused
from steadyrest.motion import Event, PlanItem, Quantity, motion, planned_feed
from steadyrest.profile import Profile, ResolvedProfile, Rotary, RotaryLetter, rotaries_of, rotaries_text
from steadyrest.reading import EventRead, read_program
from steadyrest.turn_check.question import SEEN, question
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
    start_deg    where the rotary stands before the turn, its own word
    turn_deg     by how much it turns then, positive
    """

    program: bytes
    profile: Profile
    letter: str
    rotary: Rotary
    start_deg: float
    turn_deg: float

    @property
    def does(self) -> tuple[str, ...]:
        """What it will do, in its order, and what has to be minded."""
        along = self.rotary.along
        speed = (
            "slowly, at feed" if self.rotary.turns_while_cutting else "at rapid, because this rotary turns only at rapid: keep well clear"
        )
        raising = "it retracts, as set in the profile, before anything turns"
        if _raised_by_hand(self.profile):
            raising = "raise the tool by hand at the first stop: this profile has no retract position that is clear of everything"
        return (
            f"turn check for {self.profile.name}, rotary {self.letter} along {along}",
            raising,
            f"{self.letter} goes to {self.start_deg:g} at rapid, then by +{self.turn_deg:g} degrees {speed}",
            "then back to where it was; it stops before each of the three",
            "no tool, no spindle, nothing in the chuck that can catch; guards closed; hand on feed hold",
        )

    def text(self, output: Path, controller: str) -> str:
        """What it will do, what to look for and what to say then, once it lies in a file; `controller`: how the profile was named."""
        along, stands = self.rotary.along, self.profile.spindle.stands
        first, *others = self.does
        seen = "|".join(SEEN[stands][along])
        return "\n".join(
            [
                f"{output}  {first}",
                *(f"  {each}" for each in others),
                "",
                question(along, stands),
                "",
                "Then enter what you saw:",
                f"  steadyrest turn-check --controller {controller} --seen {seen} --chuck-faces ...",
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
    start = _start(profile, rotary, letter, turn)
    inch = profile.units.program == "inch" or (profile.units.program == "as_toolpath" and not profile.units.mm)
    items = _items(profile, rotary, letter, start, turn, inch)
    text = b"".join(write_program(items, profile, resolved.template_folders, inch=inch, rotary_letters=[letter]))
    check_read_back(text, profile, letter, start, turn)
    return TurnCheck(text, profile, letter, rotary, start, turn)


def _raised_by_hand(profile: Profile) -> bool:
    """It knows no retract that is safe without a toolpath: the operator raises the tool at the first stop."""
    return profile.retract.form == "height"


def the_rotary(profile: Profile, letter: str | None) -> tuple[RotaryLetter, Rotary]:
    """The rotary of that letter, or the only one. ProfileError when there is none, or more than one and no letter."""
    meant = rotaries_of(profile, letter=letter)
    if not meant:
        raise ProfileError(f"{profile.name} has no rotary", place=Place(key="rotary"), cure="choose a controller with a table [rotary.A]")
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


def _start(profile: Profile, rotary: Rotary, letter: str, turn: float) -> float:
    """Where the turn begins: 0, or where an incremental program starts, or as far below as the travel asks for."""
    position = profile.program.start_position
    start = float(position[3]) if position is not None else 0.0
    travel = rotary.travel
    if travel.kind != "limited" or start + turn <= travel.highest:
        return start
    step = rotary.steps or 1.0
    lower = step * ((travel.highest - turn) // step)
    if position is not None or lower < travel.lowest:
        raise PlanError(
            f"between {travel.lowest:g} and {travel.highest:g} degrees there is no room for a turn of {turn:g} degrees",
            place=Place(key=f"rotary.{letter}.travel"),
            cure="check the travel in the profile",
        )
    return lower


def _items(profile: Profile, rotary: Rotary, letter: str, start: float, turn: float, inch: bool) -> Iterator[PlanItem]:
    by_hand = _raised_by_hand(profile)
    side = "the side facing the spindle"  # short, so that a message of 60 characters holds it
    if rotary.along == "Z":
        side = "the side nearest to you" if profile.spindle.stands == "upright" else "the top of the part"
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
    yield from _stopped(f"{'raise the tool clear by hand.' if by_hand else 'is the tool clear?'} next {letter} goes to {start:g} at rapid")
    clamps, dwell = rotary.clamp.use == "indexing", rotary.clamp.dwell
    pause = {"dwell": Quantity(profile.codes.dwell_letter, dwell, "dwell")} if dwell > 0 else {}
    if clamps:
        yield Event("unclamp", 0, "turn", words=pause)
    yield _index(start)
    yield from _stopped(f"{letter} turns +{turn:g} next. look at {side}")
    yield _turned(start, start + turn, profile, rotary, inch)
    yield from _stopped("which way did it move? next it turns back")
    yield _turned(start + turn, start, profile, rotary, inch)
    if clamps:
        yield Event("clamp", 0, "turn", words=pause)
    yield Event("program_end")


def _stopped(text: str) -> Iterator[Event]:
    yield Event("note", facts={"text": text})
    yield Event("stop", facts={"optional": False})


def _index(target: float) -> Event:
    turning = motion(RAPID, np.full((1, 3), NAN), np.array([[target]]), rule="turn")
    return Event("index", 0, "turn", words={"angle": Quantity("", target, "angle")}, motion=(turning,))


def _turned(begin: float, end: float, profile: Profile, rotary: Rotary, inch: bool) -> PlanItem:
    if not rotary.turns_while_cutting:
        return _index(end)
    radius = TIP_RADIUS_MM / MM_PER_INCH if inch else TIP_RADIUS_MM
    turn, way, speed = end - begin, radius * radians(abs(end - begin)), radius * radians(SPEED_DEG_PER_MIN)
    still, tip, asked = np.zeros((1, 3)), np.array([way]), np.array([speed])
    planned = planned_feed(still, np.array([[turn]]), tip, asked, [rotary], profile.linear, profile.feed, inch)
    mode, word = int(planned.mode[0]), float(planned.word[0])
    return motion(LINE, np.full((1, 3), NAN), np.array([[end]]), feed=word, feed_mode=mode, rule="turn")


def check_read_back(text: bytes, profile: Profile, letter: str, start_deg: float, turn_deg: float) -> None:
    """Read the program back and go through it.

    raises   Refused where it moves X, Y or Z (but for the profile's retract), turns otherwise than to `start_deg`, by `turn_deg` and
             back, turns without a stop before, with the clamp on, or before the tool is clear; ProgramError where it cannot be read
    """
    stands: list[float] = []
    stopped = retracted = False
    (rotary,) = rotaries_of(profile, letter=letter).values()
    clamped = rotary.clamp.use == "indexing"
    for item in read_program(text, profile, rotary_letter=letter):
        if isinstance(item, EventRead):
            if item.kind in FORBIDDEN and item.text not in ("stop", "off"):
                raise _refused(FORBIDDEN[item.kind], item.line)
            stopped = stopped or item.kind == "stop"
            retracted = retracted or item.kind == "retract"
            clamped = {"clamp": True, "unclamp": False}.get(item.kind, clamped)
            continue
        # X, Y and Z stay where they are, or go where work coordinates do not reach: in the retract.
        before, after = item.vertex_mm[:-1], item.vertex_mm[1:]
        moves = (before != after) & ~np.isnan(after)
        if moves.any():
            raise _refused("it moves X, Y or Z", int(item.line[np.argmax(moves.any(axis=1))]))
        for (was, now), line in zip(pairwise(item.vertex_deg[:, 0].tolist()), item.line.tolist(), strict=True):
            if isnan(now) or abs(now - was) <= SAME_DEG:
                continue
            if not stopped:
                raise _refused("it turns the rotary without waiting for the operator", line)
            if clamped:
                raise _refused("it turns the rotary with the clamp on", line)
            if not (retracted or _raised_by_hand(profile)):
                raise _refused("it turns the rotary before the tool is clear", line)
            stands.append(now)
            stopped = False
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
