"""A toolpath, planned for a controller: the stream of motion and events from program start to program end."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES
from steadyrest.motion.chain_survey import surveyed_chain
from steadyrest.motion.end_for_end import held_in_words
from steadyrest.motion.feeds import with_feeds
from steadyrest.motion.holes import dwell_word
from steadyrest.motion.links import arriving_travel, rapids, retracted, to_clear_height, turn
from steadyrest.motion.model import NAN, STILL_DEG, Event, PlanItem, Quantity, Stand, Step, spot, standing, unknown
from steadyrest.motion.operations import carried_out, report
from steadyrest.motion.setup import Setup, check_abilities, set_up
from steadyrest.motion.survey import surveyed
from steadyrest.motion.winding import end_position
from steadyrest.notices import Notice
from steadyrest.profile import Profile, chain_in_words
from steadyrest.progress import Progress
from steadyrest.toolpath import Toolpath

FIRST_RUN = "first run above the part, single block, hand on feed hold"
"""What the head of every program says (common practice of the trade)."""


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan that is carried out while it is read, once.

    items      motion and events, in the order of the program
    notices    what was changed on the way; complete when the items are used up
    inch       the program is in inches
    letters    those of all rotaries that the program turns, counted from the part to the spindle
    """

    items: Iterator[PlanItem]
    notices: list[Notice]
    inch: bool
    letters: tuple[str, ...]


def plan(
    toolpath: Toolpath,
    profile: Profile,
    *,
    tolerance: float | None = None,
    gauge_lengths: Mapping[int, float] | None = None,
    accepted: Sequence[str] = (),
    head: str = "",
    progress: Progress | None = None,
) -> Plan:
    """Plan a toolpath for a controller.

    tolerance       how far subdivision may let the tip leave its path, file units, part frame; 0.01 mm unless given
    gauge_lengths   by the number of a tool: from its tip to the gauge line, file units; needed where a head turns
    accepted        findings that the user takes on themselves, for the program's head
    head            a line for the program's head that says what was proved
    progress        is told how many moves are planned, and surveyed before that where the turns are chosen for all of them together
    raises          PlanError, now or while the items are read: nothing may be put in place before they are used up
    """
    setup = set_up(toolpath, profile, tolerance=tolerance, gauge_lengths=gauge_lengths, progress=progress)
    check_abilities(setup)
    return Plan(_items(setup, head, accepted), setup.notices, setup.inch, tuple(setup.rotaries))


def _items(setup: Setup, head: str, accepted: Sequence[str]) -> Iterator[PlanItem]:
    yield from with_feeds(_steps(setup, head, accepted), setup)
    for number, seen in sorted(setup.seen.items()):
        report(seen, number, setup)
    setup.work.end()


def _steps(setup: Setup, head: str, accepted: Sequence[str]) -> Iterator[Step]:
    profile, stand = setup.profile, _start(setup)
    turns, unfit = surveyed(setup, float(np.nan_to_num(sum(stand.rotary_deg))))
    choices = surveyed_chain(setup, stand.rotary_deg) if setup.on_chain else {}
    yield _program_start(setup, head, accepted)
    if profile.retract.form != "height" or not profile.tool.length_offset:  # else no height counts before the first tool's length is on
        stand = yield from retracted(stand, 0, setup)
    tool = 0
    spindle: tuple[float, str] | None = None
    coolant = "off"
    for number, operation in enumerate(setup.toolpath.operations, 1):
        yield Event("operation_start", number, facts={"number": number, "name": operation.name, "intent": operation.rotary.intent})
        if operation.tool != tool:
            yield from _stopped(number, coolant, spindle)
            coolant, spindle = "off", None
            yield _tool_change(number, operation.tool, tool == 0, setup)
            tool = operation.tool
            # From a place of the machine's own a longer tool may reach into the stock; in steps every tool is set to the same tip.
            if setup.has_head and setup.clear is None:
                stand = yield from retracted(stand, number, setup)
            elif profile.words.distance != "incremental" and (setup.clear is not None or setup.rotaries):
                stand = yield from to_clear_height(stand, number, setup)
        # A speed of nothing is a spindle that stands: never a start with S0, whose meaning differs between controllers.
        wanted = (operation.spindle.rpm, operation.spindle.turns) if operation.spindle.rpm else None
        if spindle is not None and (wanted is None or spindle[1] != wanted[1]):
            yield Event("spindle_stop", number)
            spindle = None
        if wanted is not None and spindle != wanted:
            rpm, way = wanted
            yield Event("spindle_start", number, facts={"turns": way}, words={"speed": Quantity("S", rpm, "spindle")})
            if profile.spindle.dwell > 0:
                yield Event("dwell", number, "spindle", words={"time": dwell_word(profile.spindle.dwell, setup)})
            spindle = wanted
        if operation.coolant != coolant:
            if coolant != "off":
                yield Event("coolant_off", number)
            if operation.coolant != "off":
                yield Event("coolant_on", number, facts={"coolant": operation.coolant})
            coolant = operation.coolant
        stand = yield from carried_out(number, turns.get(number), number in unfit, stand, setup, choices.get(number))
        stand = yield from retracted(stand, number, setup)
    yield from _stopped(0, coolant, spindle)
    yield from _program_end(stand, setup)


def _start(setup: Setup) -> Stand:
    """Where the machine stands at the start: not known, unless the profile says it."""
    position, rotaries = setup.profile.program.start_position, len(setup.rotaries)
    if position is None:
        return unknown(rotaries)
    return standing(spot(np.array(position[:3]) * setup.mm), tuple(map(float, position[3 : 3 + rotaries])))


def _program_start(setup: Setup, head: str, accepted: Sequence[str]) -> Event:
    toolpath, rotary = setup.toolpath, setup.rotary
    tools = tuple(
        f"T{tool.number} {tool.name}".strip()
        for tool in toolpath.tools
        if any(operation.tool == tool.number for operation in toolpath.operations)
    )
    mounting = turns = ""
    if rotary is not None and setup.letter is not None:
        drive = f", on the drive of {rotary.replaces}" if rotary.replaces else ""
        mounting = f"rotary {setup.letter} along {rotary.along}{drive}, chuck faces {rotary.chuck_faces}"
        turns = f"{rotary.word_letter(setup.letter)}+ turns the chuck {rotary.positive_word_turns_chuck}, looking at its face"
    return Event(
        "program_start",
        facts={
            "name": toolpath.name,
            "units": "inch" if setup.inch else "mm",
            "toolpath": Path(toolpath.file).name if toolpath.file else "",
            "tools": tools,
            "digest": head,
            "accepted": f"accepted by the user: {', '.join(accepted)}" if accepted else "",
            "mounting": mounting,
            "rotaries": _mounted(setup) if setup.on_chain else (),
            "assumed": _assumed(setup) if setup.on_chain else (),
            "held": held_in_words(setup.toolpath, setup.end_for_end, setup.scale) if rotary is not None else "",
            "turns": turns,
            "caution": FIRST_RUN,
            "axis": toolpath.axis,
        },
    )


def _mounted(setup: Setup) -> tuple[str, ...]:
    """Which rotary of a chain carries what, and which way each turns, for the head of a program."""
    turns = (
        f"{letter}+ turns what it carries {rotary.positive_turns_chuck}, seen from {rotary.chuck_faces}"
        for letter, rotary in setup.rotaries.items()
    )
    return (*chain_in_words(setup.profile), *turns)


def _assumed(setup: Setup) -> tuple[str, ...]:
    """What the numbers of a program hold of the machine, for its head: it is right for these lines alone."""
    named = zip(setup.rotaries, setup.lines, strict=True)
    lines = [
        f"axis of {letter} through {_place_in_words(line.point)}"
        if line.carries_part
        else f"pivot of {letter} at {_place_in_words(line.point)}"
        for letter, line in named
    ]
    used = sorted({operation.tool for operation in setup.toolpath.operations}) if setup.has_head else []
    return (*lines, *(f"T{tool} gauge length {_number_in_words(setup.gauge[tool])}" for tool in used if tool in setup.gauge))


def _place_in_words(place: Floats) -> str:
    """A place in words, such as "X0 Y0.12 Z48"."""
    return " ".join(f"{axis}{_number_in_words(value)}" for axis, value in zip(AXES, place.tolist(), strict=True))


def _number_in_words(value: float) -> str:
    """A length in words: at most four decimals, and no zeros behind."""
    return f"{round(value, 4) + 0.0:.4f}".rstrip("0").rstrip(".")


def _tool_change(number: int, tool: int, first: bool, setup: Setup) -> Event:
    said = setup.profile.tool
    return Event(
        "tool_change",
        number,
        facts={"number": tool, "name": setup.toolpath.tool(tool).name, "first": first},
        words={
            "tool": Quantity(said.letter, tool, "count", said.digits),
            "offset": Quantity(said.offset_letter, tool, "count", said.offset_digits),
        },
    )


def _stopped(number: int, coolant: str, spindle: tuple[float, str] | None) -> Iterator[Event]:
    if coolant != "off":
        yield Event("coolant_off", number)
    if spindle is not None:
        yield Event("spindle_stop", number)


def _program_end(stand: Stand, setup: Setup) -> Iterator[Step]:
    """The rotaries left as the profile says, the machine brought back where an incremental program began, the end."""
    position = setup.profile.program.start_position
    each = zip(setup.rotaries.values(), stand.rotary_deg, strict=True)
    if position is None:
        target = [end_position(w_deg, arriving_travel(rotary), rotary.unwinding) for rotary, w_deg in each]
    else:
        target = [float(angle) for angle in position[3 : 3 + len(stand.rotary_deg)]]
    if any(abs(to - w_deg) > STILL_DEG for to, w_deg in zip(target, stand.rotary_deg, strict=True)):
        stand = yield from turn(target, stand, 0, setup, clamp=False, rule="end")
    if position is not None:
        x, y, z = (value * setup.mm for value in position[:3])
        yield rapids([(x, y, NAN), (NAN, NAN, z)], stand, 0, "end")[0]
    yield Event("program_end")
