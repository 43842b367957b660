"""How does a CL file become a piece of a toolpath?"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from steadyrest.errors import Place, SteadyrestError, ToolpathError
from steadyrest.inputs.arcs import CHORD_MM
from steadyrest.inputs.cl import circles, cycles, motion, pauses, rotary, texts, tools
from steadyrest.inputs.cl.intents import told_apart
from steadyrest.inputs.cl.mapping import NO_MAPPING, Mapping, load_mapping
from steadyrest.inputs.cl.scanning import Points, Scan, checked_text
from steadyrest.inputs.cl.state import MM_PER_INCH, State
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.cl.vocabulary import HARMLESS, REFUSED
from steadyrest.inputs.items import Happening
from steadyrest.inputs.model import Piece, Reader
from steadyrest.inputs.operations import Making, operations_of
from steadyrest.inputs.options import PROGRAMS_ONLY, InputOptions, PartOptions, first_said

Handler = Callable[[State, Statement], None]

_FIRST = re.compile(
    rb"^[ \t]*(?:\$\$.*|(?:PARTNO|MACHIN|UNITS|LOADTL|CUTTER|FROM|MULTAX|SPINDL|FEDRAT|GOTO|PPRINT|TOOLNO|INTOL|OUTTOL|TOLER)\b.*|)\r?$",
    re.IGNORECASE,
)
_MAJOR = re.compile(rb"^[ \t]*(?:[A-Z]{3,6}[ \t]*/|PARTNO\b|FINI\b|MULTAX\b|RAPID\b|\$\$)", re.IGNORECASE | re.MULTILINE)
_MOTION = re.compile(rb"^[ \t]*(?:GOTO|FROM|GODLTA)[ \t]*/", re.IGNORECASE | re.MULTILINE)


def recognises(head: bytes) -> bool:
    """Whether these first bytes of a file are CL data: most lines begin with a major word of it."""
    lines = [line for line in head.split(b"\n") if line.strip()][:200]
    if len(head) >= 1 << 16 and len(lines) > 1:
        lines = lines[:-1]
    if not lines or not _FIRST.match(lines[0].removeprefix(b"\xef\xbb\xbf")):
        return bool(_MOTION.search(head)) and sum(bool(_MAJOR.match(line)) for line in lines) * 2 > len(lines)
    return sum(bool(_MAJOR.match(line)) for line in lines) * 2 >= len(lines)


def read_cl(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    """A CL file as a piece of a toolpath; ToolpathError with line, column and statement for whatever cannot be taken."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise ToolpathError(
            f"cannot be read: {error.strerror}", place=Place(file=str(path)), cure="check the name and the permissions"
        ) from None
    return cl_piece(data, str(path), options, part)


def cl_piece(data: bytes, file: str | None, options: InputOptions, part: PartOptions) -> Piece:
    """The same for the bytes of a file."""
    _check_options(options, file)
    mapping = load_mapping(options.words) if options.words is not None else NO_MAPPING
    scan = Scan(
        checked_text(data, file, cards=options.cards),
        file,
        literals=frozenset(word for word, means in mapping.means.items() if means == "note"),
        unread=frozenset(word for word, means in mapping.means.items() if means == "ignore"),
        words=frozenset(mapping.means),
    )
    letter = part.axis or "X"
    centre = np.array(part.centre if part.centre is not None else (0.0, 0.0, 0.0))
    state = State(file=file, options=options, axis_letter=letter, centre_said=(centre, part.units), data=scan.data)
    for item in scan:
        if state.finished is not None:
            line = item.first_line if isinstance(item, Points) else item.line
            raise ToolpathError(
                "something after FINI", place=Place(file=file, line=line), cure="FINI ends the file: take out what follows, or FINI"
            )
        try:
            _carry_out(state, item, mapping)
        except SteadyrestError as error:
            error.place = error.place.within(file) if file is not None else error.place
            raise
    if state.finished is None:
        raise ToolpathError(
            "the file ends without FINI: it was cut off, and what is missing is not known",
            place=Place(file=file, line=scan.data.count(b"\n") + (not scan.data.endswith(b"\n"))),
            cure="write the CL data again; put FINI at its end only if nothing is missing",
        )
    return _piece(state, part)


def _carry_out(state: State, item: Points | Statement, mapping: Mapping) -> None:
    if isinstance(item, Points):
        motion.points(state, item)
        return
    means = mapping.means.get(item.word)
    if means == "ignore":
        state.leave_out(item, f"{mapping.file} says so")
        return
    if means == "note":
        state.gatherer.note(f"{item.word} {item.text}".strip(), item.line)
        return
    statement = mapping.resolved(item)
    word = statement.word
    if state.circle is not None and word != "GOTO" and (state.circle.points or word not in _BEFORE_ARC):
        circles.flush(state)
    if word in HARMLESS:
        state.leave_out(statement, HARMLESS[word])
    elif word in REFUSED:
        why, cure = REFUSED[word]
        raise statement.error(f"{word} is refused: {why}", cure)
    else:
        HANDLERS[word](state, statement)


def _units(state: State, statement: Statement) -> None:
    word = statement.only_word("MM", "CM", "INCHES")
    units = "inch" if word == "INCHES" else "mm"
    factor = 10.0 if word == "CM" else 1.0
    if state.units_used and (units, factor) != (state.units, state.factor):
        raise statement.error("the unit changes after lengths have been given", "put UNITS at the head of the file")
    if state.options.units is not None and state.options.units != units:
        raise statement.error(f"UNITS/{word}, and the input was said to be in {state.options.units}", "correct one of the two")
    state.units, state.factor = units, factor


def _tolerance(state: State, statement: Statement) -> None:
    numbers = statement.numbers(1, 2, 3)
    state.known_units(statement.line)
    if min(numbers) < 0:
        raise statement.error("a tolerance is less than 0", "correct it")
    state.tolerance = max(max(numbers) * state.factor, state.tolerance or 0.0) or None


def _lintol(state: State, statement: Statement) -> None:
    numbers = [value for couplet in statement.couplets() for value in couplet.numbers]
    text = f"LINTOL/{numbers[0]:g}" if numbers else "LINTOL"
    state.leave_out(statement, "how far the tip may leave its path is said when posting, with --tolerance", text)


def _off_only(state: State, statement: Statement) -> None:
    """CUTCOM and OPSKIP: off is how things are; anything else cannot be carried."""
    couplets = statement.couplets()
    if statement.word == "CUTCOM" and couplets and couplets[0].word in ("LENGTH", "ADJUST"):
        state.leave_out(statement, "length offsets are measured at the machine and chosen by the profile", "CUTCOM LENGTH")
        return
    if len(couplets) == 1 and couplets[0].word == "OFF" and not couplets[0].numbers:
        return
    why = {
        "CUTCOM": ("the controller would move the tool by an amount that only it knows", "let the CAM give the path of the tool's centre"),
        "OPSKIP": ("blocks that may be skipped leave open what is cut", "make two toolpaths, one with and one without"),
    }[statement.word]
    raise statement.error(f"{statement.word} is refused: {why[0]}", why[1])


def _tracut(state: State, statement: Statement) -> None:
    if [argument.value for argument in statement.arguments] != ["NOMORE"]:
        raise statement.error(
            "TRACUT is refused: it transforms all points after it", "let the system that wrote the file resolve it into points"
        )


def _fini(state: State, statement: Statement) -> None:
    if statement.arguments:
        raise statement.error("FINI takes no arguments", "write FINI by itself")
    if state.rapid is not None:
        raise state.rapid.error("RAPID without a motion after it: the file was cut off", "write the CL data again")
    state.finished = statement


_BEFORE_ARC = frozenset(("FEDRAT", "PPRINT", "COOLNT", "SPINDL"))
"""What may stand between CIRCLE and its first point."""

HANDLERS: dict[str, Handler] = {
    "AIR": tools.air,
    "CIRCLE": circles.circle,
    "CLEARP": motion.clear_plane,
    "CLRSRF": motion.clear_surface,
    "COOLNT": tools.coolant,
    "CUTCOM": _off_only,
    "CUTTER": tools.cutter,
    "CYCLE": cycles.cycle,
    "DELAY": pauses.delay,
    "DWELL": pauses.delay,
    "END": motion.go_home,
    "FEDRAT": tools.feed_rate,
    "FINI": _fini,
    "FROM": motion.from_point,
    "GODLTA": motion.godlta,
    "GOHOME": motion.go_home,
    "GOTO": motion.goto,
    "INSERT": texts.insert,
    "INTOL": _tolerance,
    "LINTOL": _lintol,
    "LOADTL": tools.load_tool,
    "MULTAX": motion.multax,
    "OPSKIP": _off_only,
    "OPSTOP": pauses.stop,
    "ORIGIN": motion.origin,
    "OUTTOL": _tolerance,
    "PARTNO": texts.partno,
    "PPRINT": texts.pprint,
    "RAPID": motion.rapid,
    "RETRCT": motion.retract,
    "ROTABL": rotary.rotate_table,
    "ROTATE": rotary.rotate,
    "ROTHED": rotary.rotate_head,
    "SPINDL": tools.spindle,
    "STOP": pauses.stop,
    "TLAXIS": motion.tool_axis,
    "TOLER": _tolerance,
    "TOOLNO": tools.load_tool,
    "TRACUT": _tracut,
    "TRANS": motion.shift,
    "UNITS": _units,
    "UNLOAD": tools.unload,
}


def _piece(state: State, part: PartOptions) -> Piece:
    """What was gathered, as operations and tools."""
    units = state.units or state.options.units or "mm"
    # The part's own settings may be in the other unit; the input's coordinates are in its own until all are joined.
    scale = {("inch", "mm"): MM_PER_INCH, ("mm", "inch"): 1 / MM_PER_INCH}.get((part.units or units, units), 1.0)
    making = Making(state.file, CHORD_MM * state.mm)
    stretches = [piece for stretch in state.gatherer.finish() for piece in told_apart(stretch, state.axis_letter, state.centre, state.file)]
    for before, stretch in pairwise(stretches):  # where nothing but a stop comes, the part stays as it stands
        if all(isinstance(item, Happening) for item in stretch.items):
            stretch.settings = replace(stretch.settings, frame=before.settings.frame)
    operations = [operation for stretch in stretches for operation in operations_of(stretch, making)]
    if not operations:
        raise ToolpathError("no motion in the file: nothing is cut", place=Place(file=state.file), cure="a CL file has GOTO statements")
    given = {tool.number: tool.diameter * scale for tool in part.tools}
    return Piece(
        name=state.name,
        units=units,
        tools=tools.tools_of(state, given),
        operations=tuple(operations),
        tool_names=state.tool_names,
        notices=(*state.notices, *state.left_out.values(), *making.notices),
    )


def _check_options(options: InputOptions, file: str | None) -> None:
    what = first_said(options, PROGRAMS_ONLY)
    if what is not None:
        raise ToolpathError(
            f"'{what}' is for plain three-axis programs, and this is CL data",
            place=Place(file=file),
            cure="CL data says itself where it is cut and how the part turns: ORIGIN, MULTAX and ROTABL; leave it out",
        )


CL_TEXT = Reader(
    kind="cl",
    speaks="CL data in text form: ISO 4343 and ISO 3592, INCITS 37 (APT)",
    endings=(".cl", ".cld", ".apt"),
    recognises=recognises,
    read=read_cl,
)
