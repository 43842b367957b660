"""Auxiliary words: units and tolerances, texts, pauses and stops, and what has to be off."""

from __future__ import annotations

from steadyrest.inputs.cl.state import ClState
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.moves import Happening
from steadyrest.inputs.texts import tool_named


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
    """INTOL, OUTTOL, TOLER: how far the points may lie off what they stand for; the largest counts."""
    numbers = statement.numbers(1, 2, 3)
    state.known_units(statement.line)
    if min(numbers) < 0:
        raise statement.error("a tolerance is less than 0", "correct it")
    state.tolerance = max(max(numbers) * state.factor, state.tolerance or 0.0) or None


def line_tolerance(state: ClState, statement: Statement) -> None:
    """LINTOL: a matter of posting."""
    numbers = [value for couplet in statement.couplets() for value in couplet.numbers]
    text = f"LINTOL/{numbers[0]:g}" if numbers else "LINTOL"
    state.leave_out(statement, "the tolerance is given when posting, with --tolerance", text)


def off_only(state: ClState, statement: Statement) -> None:
    """CUTCOM and OPSKIP: off is how things are; anything else cannot be carried."""
    couplets = statement.couplets()
    if statement.word == "CUTCOM" and couplets and couplets[0].word in ("LENGTH", "ADJUST"):
        state.leave_out(statement, "length offsets are measured at the machine and chosen by the profile", "CUTCOM LENGTH")
    elif [(couplet.word, couplet.numbers) for couplet in couplets] != [("OFF", ())]:
        why, cure = {
            "CUTCOM": (
                "the controller would move the tool by an amount that only it knows",
                "let the CAM give the path of the tool's centre",
            ),
            "OPSKIP": ("blocks that may be skipped leave open what is cut", "make two toolpaths, one with and one without"),
        }[statement.word]
        raise statement.error(f"{statement.word} is refused: {why}", cure)


def transform(state: ClState, statement: Statement) -> None:
    """TRACUT/NOMORE: nothing is transformed."""
    if [argument.value for argument in statement.arguments] != ["NOMORE"]:
        raise statement.error(
            "TRACUT is refused: it transforms all points after it", "let the system that wrote the file resolve it into points"
        )


def delay(state: ClState, statement: Statement) -> None:
    """DELAY/seconds, or DELAY/n,REV; DWELL is the same."""
    couplets = statement.couplets()
    form = [(couplet.word, len(couplet.numbers)) for couplet in couplets]
    if form not in ([("", 1)], [("", 1), ("REV", 0)], [("REV", 1)]):
        raise statement.error(
            f"{statement.word} takes seconds, or a number of revolutions and REV", f"write {statement.word}/0.5 or {statement.word}/3,REV"
        )
    seconds = couplets[0].numbers[0]
    if form[-1][0] == "REV":
        seconds *= 60 / state.turning_rpm(statement)
    if seconds < 0:
        raise statement.error(f"a dwell of {seconds:g} seconds", "give at least 0")
    _happens(state, Happening({"dwell": seconds}, statement.line))


def stop(state: ClState, statement: Statement) -> None:
    """STOP, OPSTOP."""
    _happens(state, Happening({"stop": {"optional": statement.word == "OPSTOP"}}, statement.line))


def _happens(state: ClState, happening: Happening) -> None:
    state.carry_over(happening.line, cutting=False)
    if (state.tool is None and state.options.tool is None) or (state.frame()[0] == "part" and state.point is None):
        state.stretches.hold(happening)
    else:
        state.stretches.add(state.conditions(happening.line, cutting=False), happening)


def part_name(state: ClState, statement: Statement) -> None:
    """PARTNO text: the name of the part; further ones are notes."""
    if state.name:
        state.stretches.note(statement.text, statement.line)
    state.name = state.name or statement.text


def print_text(state: ClState, statement: Statement) -> None:
    """PPRINT text: the name of a tool whose number it says, else for the operator."""
    named = tool_named(statement.text)
    if named is not None:
        state.tool_names.setdefault(*named)
    elif statement.text:
        state.stretches.note(statement.text, statement.line)


def insert(state: ClState, statement: Statement) -> None:
    """INSERT text: refused, or a note that shows it."""
    if state.options.insert != "note":
        raise statement.error(
            "INSERT puts text into the program unchanged, past every check",
            "put it into the profile; or allow it as a note that shows its text, with --insert note",
        )
    state.stretches.note(f"INSERT {statement.text}", statement.line)
    state.leave_out(statement, "its text is in a note and is not carried out", "INSERT")


def finish(state: ClState, statement: Statement) -> None:
    """FINI: the end of the file."""
    if statement.arguments:
        raise statement.error("FINI takes no arguments", "write FINI by itself")
    if state.rapid is not None:
        raise state.rapid.error("RAPID without a motion after it: the file was cut off", "write the CL data again")
    state.finished = statement
