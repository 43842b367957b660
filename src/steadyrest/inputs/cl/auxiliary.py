"""Auxiliary words: units and tolerances, tools, spindle, coolant and feed, texts, pauses and stops, and what has to be off."""

from __future__ import annotations

import math
from typing import Any

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import ToolpathError
from steadyrest.inputs.cl.state import ClState
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.stretches import Happening, tool_named

SAME = 1e-3
"""How far two statements of a tool's size may differ, in file units."""
_LENGTHS = "length offsets are measured at the machine and chosen by the profile"
_CHANGER = "how the tool is changed is a matter of the machine and its profile"
_TOOL_WORDS = {
    **dict.fromkeys(("LENGTH", "ADJUST", "OSETNO", "SETOOL", "SETANG"), _LENGTHS),
    **dict.fromkeys(("IN", "OUT", "MANUAL", "AUTO", "TURRET", "HEAD", "SMALL", "MEDIUM", "LARGE", "CLW", "CCLW", "NEXT", "NOW"), _CHANGER),
    **dict.fromkeys(("RANGE", "LOW", "HIGH", "MAXRPM"), "the speed of the spindle is that of SPINDL"),
    **dict.fromkeys(("MILL", "DRILL", "TAP", "REAM", "BORE"), "the shape of a tool comes from CUTTER or --tool-shape"),
}
"""What LOADTL and TOOLNO may say besides the number (ISO 4343, from memory), and where that is said instead."""


def load_tool(state: ClState, statement: Statement) -> None:
    """LOADTL/n[,LENGTH,l][,ADJUST,h], TOOLNO/n[,kind][,length][,ADJUST,h]: the tool in the spindle from here on; UNLOAD: none."""
    if statement.word == "UNLOAD":
        state.tool, state.cutter, state.cutter_used = state.options.tool, None, False
        return
    couplets = statement.couplets
    if not couplets or couplets[0].word:
        raise statement.error(f"{statement.word} has no tool number", f"write {statement.word}/number")
    number = couplets[0].numbers[0]
    if number != int(number) or number < 1:
        raise statement.error(f"the tool number {number:g} is not a whole number from 1", "correct it", couplets[0].at)
    for more in couplets[0].numbers[1:]:
        state.leave_out(f"{statement.word} {more:g}", statement.line, "only the first number is the tool's")
    alone = f'[words.{statement.word}] means = "{statement.word}/{{1}}"'
    statement.allow(sorted(_TOOL_WORDS), f"take it out, or let a mapping file keep the number alone: {alone}")
    for couplet in couplets[1:]:
        state.leave_out(f"{statement.word} {couplet.word}", statement.line, _TOOL_WORDS[couplet.word])
    if int(number) != state.tool:
        if state.cutter_used:
            state.cutter = None  # it was the last tool's
        state.cutter_used = False
    state.tool = int(number)


def cutter(state: ClState, statement: Statement) -> None:
    """CUTTER/d[,r[,e,f,alpha,beta,h]]: the shape of the tool in the spindle, or of the one loaded next."""
    numbers = state.lengths(statement, 1, 2, 3, 4, 5, 6, 7)
    if not numbers[0] > 0:
        raise statement.error(f"the diameter {numbers[0]:g} is not more than 0", "correct it")
    lengths = [value * state.factor for value in numbers]
    if len(numbers) > 4:
        lengths[4:6] = numbers[4:6]  # two angles, in degrees
    lengths += [0.0] * (7 - len(lengths))
    state.cutter, state.cutter_used = (tuple(lengths), statement), False


def _shape(number: int, cutter: tuple[float, ...], statement: Statement) -> dict[str, Any]:
    """The tool of a CUTTER as the object of a toolpath's JSON (parameters d, r, e, f, alpha, beta, h of APT, from memory)."""
    d, r, e, f, alpha, beta, height = cutter
    tool: dict[str, Any] = {"number": number, "diameter": d}
    if height > 0:
        tool["cutting_length"] = height
    plain = abs(alpha) < 1e-9 and abs(beta) < 1e-9
    centred = (abs(e - (d / 2 - r)) < SAME and abs(f - r) < SAME) or (e == 0 and f == 0)  # left out: a corner at the rim
    if plain and r < 1e-9:
        return tool | {"shape": "flat"}
    if plain and centred and abs(r - d / 2) < SAME * d:
        return tool | {"shape": "ball"}
    if plain and centred and 0 < r < d / 2:
        return tool | {"shape": "bullnose", "corner_radius": r}
    if abs(beta) < 1e-9 and r < 1e-9 and 0 < alpha < 90:
        return tool | {"shape": "drill", "point_angle": 180 - 2 * alpha}
    raise statement.error(
        f"the shape of tool {number} is none that a toolpath has: flat, ball, bullnose, or drill with a point",
        f"give tool {number} in the job file under [[tools]]; it overrides CUTTER",
    )


def tools_of(state: ClState, given: dict[int, float]) -> dict[int, dict[str, Any]]:
    """The tools of the input by number, as far as CUTTER says them.

    given    number and diameter, in the input's units, of tools the user gives himself
    """
    found: dict[int, dict[str, Any]] = {}
    for number, (shape, statement) in state.cutters.items():
        if number not in given:
            try:
                found[number] = _shape(number, shape, statement)
            except ToolpathError as error:
                error.tool = number, shape[0], state.units or state.options.units or "mm"
                raise
        elif abs(shape[0] - given[number]) > SAME:
            raise statement.error(
                f"tool {number} has the diameter {shape[0]:g} here and {given[number]:g} in the settings of the part",
                "correct one of the two",
            )
    return found


_SPEED_WORDS = ("RPM", "SFM", "SMM", "CLW", "CCLW", "RANGE", "MAXRPM", "ON", "OFF")
_SPEED_REFUSED = {
    word: (f"SPINDL/{word} has no place in a toolpath", "let the profile do it at a tool change") for word in ("ORIENT", "LOCK")
}


def spindle(state: ClState, statement: Statement) -> None:
    """SPINDL/speed,RPM|SFM|SMM,CLW|CCLW,RANGE,n, or SPINDL/ON, OFF."""
    statement.allow(_SPEED_WORDS, refused=_SPEED_REFUSED)
    words = [couplet.word for couplet in statement.couplets]
    speed = statement.only_number("speed", "speed,RPM,CLW", beside=("RANGE", "MAXRPM"))
    if {"CLW", "CCLW"}.issubset(words) or {"ON", "OFF"}.issubset(words):
        raise statement.error("SPINDL asks for two opposite things", "keep one of the two")
    if speed is not None and speed < 0:
        raise statement.error(f"the speed {speed:g} is less than 0", "write the sense as CLW or CCLW")
    if "OFF" in words:
        state.rpm = 0.0
        return
    if "CLW" in words or "CCLW" in words:
        state.turns = "clockwise" if "CLW" in words else "counterclockwise"
    surface = next((word for word in reversed(words) if word in ("SFM", "SMM")), "")
    if speed is not None and surface:
        if state.cutter is None:
            raise statement.error(
                f"a speed in {surface} needs the diameter of the tool, which is not given here", "put CUTTER before it, or give RPM"
            )
        m_per_min = speed * 12 * MM_PER_INCH / 1000 if surface == "SFM" else speed
        speed = 1000 * m_per_min / (math.pi * state.cutter[0][0] / state.mm)  # n = 1000 v / (pi d), m/min and mm (machinery handbooks)
    state.speed = speed if speed is not None else state.speed
    if state.speed is None:
        raise statement.error("SPINDL turns the spindle on before any speed", "write SPINDL/speed,RPM,CLW")
    state.rpm = state.speed


def coolant(state: ClState, statement: Statement) -> None:
    """COOLNT/ON, OFF, FLOOD, MIST, THRU; AIR/ON, OFF.

    COOLNT/TAPKUL is tapping fluid, of which a toolpath knows nothing: the operator is told.
    """
    air = statement.word == "AIR"
    words = ("ON", "OFF") if air else ("ON", "OFF", "FLOOD", "MIST", "THRU", "TAPKUL")
    word = statement.only_word(*words, unless_given="ON")
    if word == "TAPKUL":
        text = "COOLNT/TAPKUL asks for tapping fluid"
        state.note(text, statement.line, names=False)
        state.remark(statement, f"{text}, which a toolpath does not have: coolant is off there, and a note tells the operator")
    if word in ("OFF", "TAPKUL"):
        state.coolant = "off" if air == (state.coolant == "air") else state.coolant
        return
    if word != "ON":
        state.last_coolant = {"FLOOD": "flood", "MIST": "mist", "THRU": "through"}[word]
    wanted = "air" if air else state.last_coolant
    if "air" in (state.coolant, wanted) and state.coolant not in ("off", wanted):
        raise statement.error(
            f"{wanted} is asked for while {state.coolant} is on; a toolpath has one at a time", "turn the other off first"
        )
    state.coolant = wanted


def feed_rate(state: ClState, statement: Statement) -> None:
    """FEDRAT/value[,PERMIN|PERREV|MMPM|IPM|MMPR|IPR]: holds until the next one."""
    state.known_units(statement.line)
    statement.allow(FEED_WORDS, "correct it, or translate it in a mapping file", _FEED_REFUSED)
    for couplet in statement.couplets:
        state.feed_per = couplet.word or state.feed_per
    value = statement.only_number("number", "value,PERMIN")
    if value is not None:
        if not value > 0:
            raise statement.error(f"the feed {value:g} is not more than 0", "correct it")
        state.feed = feed_of(state, value, state.feed_per)
    elif state.feed is None:
        raise statement.error("FEDRAT has no number", "write FEDRAT/value,PERMIN")


_FEED_REFUSED = dict.fromkeys(("INVERS", "INVERSE"), ("inverse time is a matter of the controller", "give the feed of the tip, PERMIN"))
FEED_WORDS = ("PERMIN", "PERREV", "MMPM", "IPM", "MMPR", "IPR")


def feed_of(state: ClState, value: float, word: str) -> tuple[float, str]:
    """A feed in the toolpath's units, per "minute" or per "turn"; a word of FEED_WORDS, or "minute" before any."""
    factor = {"MM": state.mm, "IP": state.mm * MM_PER_INCH}.get(word[:2], state.factor)
    return value * factor, "turn" if word in ("PERREV", "MMPR", "IPR") else "minute"


def units(state: ClState, statement: Statement) -> None:
    """UNITS/MM, CM, INCHES."""
    word = statement.only_word("MM", "CM", "INCHES")
    unit, factor = {"MM": ("mm", 1.0), "CM": ("mm", 10.0), "INCHES": ("inch", 1.0)}[word]
    if state.units_used and (unit, factor) != (state.units, state.factor):
        raise statement.error("the unit changes after lengths have been given", "put UNITS at the head of the file")
    if state.options.units is not None and state.options.units != unit:
        raise statement.error(f"UNITS/{word}, but the units given for this input are {state.options.units}", "correct one of the two")
    state.units, state.factor = unit, factor


def tolerance(state: ClState, statement: Statement) -> None:
    """INTOL, OUTTOL, TOLER: how far the points may lie off what they stand for; the largest counts. LINTOL is a matter of posting."""
    if statement.word == "LINTOL":
        first = [f"/{value:g}" for couplet in statement.couplets for value in couplet.numbers][:1]
        state.leave_out("".join(["LINTOL", *first]), statement.line, "the tolerance is given when posting, with --tolerance")
        return
    numbers = state.lengths(statement, 1, 2, 3)
    if min(numbers) < 0:
        raise statement.error("a tolerance is less than 0", "correct it")
    state.tolerance = max(max(numbers) * state.factor, state.tolerance or 0.0) or None


_OFF = {
    "CUTCOM": (
        "OFF",
        "the controller would move the tool by an amount that only it knows",
        "let the CAM give the path of the tool's centre",
    ),
    "OPSKIP": ("OFF", "blocks that may be skipped leave open what is cut", "make two toolpaths, one with and one without"),
    "TRACUT": ("NOMORE", "it transforms all points after it", "let the system that wrote the file resolve it into points"),
}


def off_only(state: ClState, statement: Statement) -> None:
    """CUTCOM/OFF, OPSKIP/OFF, TRACUT/NOMORE: that is how things are; anything else cannot be carried."""
    couplets = statement.couplets
    off, why, cure = _OFF[statement.word]
    if statement.word == "CUTCOM" and couplets and couplets[0].word in ("LENGTH", "ADJUST"):
        state.leave_out("CUTCOM LENGTH", statement.line, _LENGTHS)
    elif [(couplet.word, couplet.numbers) for couplet in couplets] != [(off, ())]:
        raise statement.error(f"{statement.word} is refused: {why}", cure)


def pause(state: ClState, statement: Statement) -> None:
    """STOP, OPSTOP; DELAY/seconds, or DELAY/n,REV; DWELL is the same."""
    move: dict[str, Any] = {"stop": {"optional": statement.word == "OPSTOP"}}
    if statement.word in ("DELAY", "DWELL"):
        couplets = statement.couplets
        form = [(couplet.word, len(couplet.numbers)) for couplet in couplets]
        if form not in ([("", 1)], [("", 1), ("REV", 0)], [("REV", 1)]):
            word = statement.word
            raise statement.error(f"{word} takes seconds, or a number of revolutions and REV", f"write {word}/0.5 or {word}/3,REV")
        move = {"dwell": couplets[0].numbers[0] * (state.seconds_a_turn(statement) if form[-1][0] == "REV" else 1.0)}
        if move["dwell"] < 0:
            raise statement.error(f"a dwell of {move['dwell']:g} seconds", "give at least 0")
    happening = Happening(move, statement.line)
    state.carry_over(statement.line, cutting=False)
    if state.tool is None or (state.frame()[0] == "part" and state.point is None):
        state.hold(happening)
    else:
        state.add(state.conditions(statement.line, cutting=False), happening)


def text(state: ClState, statement: Statement) -> None:
    """PARTNO text: the name of the part, further ones are notes; INSERT text: refused, or a note that shows it.

    PPRINT text: the name of a tool whose number it says, else for the operator
    """
    said = statement.text
    if statement.word == "INSERT":
        if state.options.insert != "note":
            raise statement.error(
                "INSERT puts text into the program unchanged, past every check",
                "put it into the profile; or allow it as a note that shows its text, with --insert note",
            )
        state.leave_out("INSERT", statement.line, "its text is in a note and is not carried out")
        said = f"INSERT {said}"
    named = tool_named(said) if statement.word == "PPRINT" else None
    if named is not None:
        state.tool_names.setdefault(*named)
    elif statement.word == "PARTNO" and not state.name:
        state.name = said
    elif said or statement.word == "PARTNO":
        state.note(said, statement.line)


def finish(state: ClState, statement: Statement) -> None:
    """FINI: the end of the file."""
    if statement.couplets:
        raise statement.error("FINI takes no arguments", "write FINI by itself")
    if state.rapid is not None:
        raise state.rapid.error("RAPID without a motion after it: the file was cut off", "write the CL data again")
    state.finished = True
