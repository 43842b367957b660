"""CL data read: its statements carried out one after the other, and what they add up to as a piece of a toolpath."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl import arcs_and_holes, auxiliary, motion
from steadyrest.inputs.cl.intents import by_intent
from steadyrest.inputs.cl.scan import Points, Scan, checked_text
from steadyrest.inputs.cl.state import ClState
from steadyrest.inputs.cl.statement import HARMLESS, REFUSED, Statement, load_mapping, resolved
from steadyrest.inputs.geometry import CHORD_MM
from steadyrest.inputs.operations import operations_of
from steadyrest.inputs.options import PROGRAMS_ONLY, InputOptions, PartOptions, check_unsaid
from steadyrest.inputs.readers import Piece, Reader, Told, bytes_of, first_lines, per, unheard
from steadyrest.notices import Notice, noticed

Handler = Callable[[ClState, Statement], None]

_FIRST = re.compile(
    rb"^[ \t]*(?:\$\$.*|(?:PARTNO|MACHIN|UNITS|LOADTL|CUTTER|FROM|MULTAX|SPINDL|FEDRAT|GOTO|PPRINT|TOOLNO|INTOL|OUTTOL|TOLER)\b.*|)\r?$",
    re.IGNORECASE,
)
_MAJOR = re.compile(rb"^[ \t]*(?:[A-Z]{3,6}[ \t]*/|PARTNO\b|FINI\b|MULTAX\b|RAPID\b|\$\$)", re.IGNORECASE | re.MULTILINE)
_MOTION = re.compile(rb"^[ \t]*(?:GOTO|FROM|GODLTA)[ \t]*/", re.IGNORECASE | re.MULTILINE)


TOLD_AT = 1000
"""Statements between two times of telling how far it is."""


def recognises(head: bytes) -> bool:
    """Whether these first bytes of a file are CL data: most lines begin with a major word of it."""
    lines = first_lines(head)
    major = sum(bool(_MAJOR.match(line)) for line in lines)
    if not lines or not _FIRST.match(lines[0].removeprefix(b"\xef\xbb\xbf")):
        return bool(_MOTION.search(head)) and major * 2 > len(lines)
    return major * 2 >= len(lines)


def read_cl(path: Path, options: InputOptions, part: PartOptions, told: Told = unheard) -> Piece:
    """A CL file as a piece of a toolpath; ToolpathError with line, column and statement for whatever cannot be taken."""
    return cl_piece(bytes_of(path), str(path), options, part, told)


def cl_piece(data: bytes, file: str | None, options: InputOptions, part: PartOptions, told: Told = unheard) -> Piece:
    """The same for the bytes of a file."""
    cure = "leave it out: CL data states by ORIGIN, MULTAX and ROTABL where it is cut and how the part turns"
    check_unsaid(options, PROGRAMS_ONLY, "is for plain three-axis programs, and this is CL data", file, cure)
    meanings = load_mapping(options.words) if options.words is not None else {}
    scan = Scan(checked_text(data, file, cards=options.cards), file, meanings)
    letter = part.axis or "X"
    centre = np.array(part.centre if part.centre is not None else (0.0, 0.0, 0.0))
    said = (centre, part.units)
    state = ClState(file=file, tool=options.tool, options=options, axis_letter=letter, centre_said=said, data=scan.data)
    for number, item in enumerate(scan):
        if number % TOLD_AT == 0 or isinstance(item, Points):
            told(scan.at, len(scan.data))
        if state.finished:
            cure = "FINI ends the file: take out what follows, or FINI"
            raise ToolpathError("there is something after FINI", place=state.at(item.line), cure=cure)
        _carry_out(state, item, meanings)
    if not state.finished:
        raise ToolpathError(
            "the file ends without FINI: it was cut off, and something may be missing",
            place=state.at(scan.data.count(b"\n")),
            cure="write the CL data again; put FINI at its end only if nothing is missing",
        )
    return _piece(state, part)


def _carry_out(state: ClState, item: Points | Statement, meanings: Mapping[str, str]) -> None:
    if isinstance(item, Points):
        return motion.points(state, item)
    means, words_file = meanings.get(item.word), state.options.words
    if means == "ignore":
        return state.leave_out(item.word, item.line, f"{words_file} has it ignored")
    if means == "note":
        return state.note(f"{item.word} {item.text}".strip(), item.line)
    statement = item if means is None or words_file is None else resolved(item, means, words_file)
    word = statement.word
    if state.circle is not None and word != "GOTO" and (state.circle.points or word not in _BEFORE_ARC):
        arcs_and_holes.flush(state)
    if word in HARMLESS:
        state.leave_out(word, statement.line, HARMLESS[word])
    elif word in REFUSED:
        why, cure = REFUSED[word]
        raise statement.error(f"{word} is refused: {why}", cure)
    else:
        for couplet in statement.couplets:
            if couplet.literal:
                raise statement.error(f"a literal is not allowed here: '{couplet.word}'", f"{word} takes words and numbers", couplet.at)
        HANDLERS[word](state, statement)


_BEFORE_ARC = frozenset(("FEDRAT", "PPRINT", "COOLNT", "SPINDL"))
"""What may stand between CIRCLE and its first point."""

_BY_WORDS: tuple[tuple[str, Handler], ...] = (
    ("CIRCLE", arcs_and_holes.circle),
    ("CLEARP CLRSRF", motion.clear_plane),
    ("COOLNT AIR", auxiliary.coolant),
    ("CUTCOM OPSKIP TRACUT", auxiliary.off_only),
    ("CUTTER", auxiliary.cutter),
    ("CYCLE", arcs_and_holes.cycle),
    ("DELAY DWELL STOP OPSTOP", auxiliary.pause),
    ("FEDRAT", auxiliary.feed_rate),
    ("FINI", auxiliary.finish),
    ("FROM", motion.from_point),
    ("GODLTA", motion.godlta),
    ("GOHOME END", motion.go_home),
    ("GOTO", motion.goto),
    ("INTOL OUTTOL TOLER LINTOL", auxiliary.tolerance),
    ("LOADTL TOOLNO UNLOAD", auxiliary.load_tool),
    ("MULTAX", motion.multax),
    ("ORIGIN", motion.origin),
    ("PARTNO PPRINT INSERT", auxiliary.text),
    ("RAPID", motion.rapid),
    ("RETRCT", motion.retract),
    ("ROTABL ROTATE ROTHED", motion.rotate),
    ("SPINDL", auxiliary.spindle),
    ("TLAXIS", motion.tool_axis),
    ("TRANS", motion.shift),
    ("UNITS", auxiliary.units),
)
HANDLERS = {word: handler for words, handler in _BY_WORDS for word in words.split()}


def _piece(state: ClState, part: PartOptions) -> Piece:
    units = state.units or state.options.units or "mm"
    motion.check_rotaries(state)
    beyond: dict[int, str] = {}
    stretches = [piece for whole in state.stretches() for piece in by_intent(whole, state.axis_letter, state.centre, beyond)]
    for before, stretch in pairwise(stretches):  # where nothing but a stop comes, the part stays as it stands
        if stretch.only_happens:
            stretch.conditions = replace(stretch.conditions, frame=before.conditions.frame)
    notices: list[Notice] = []
    for line, wrong in list(beyond.items())[:1]:
        text = f"{wrong}: it takes two rotary axes, or one along another axis"
        notices.append(noticed("Remark", state.at(line), text=text))
    operations = [each for stretch in stretches for each in operations_of(stretch, state.file, CHORD_MM * state.mm, notices)]
    if not operations:
        raise ToolpathError("no motion in the file: nothing is cut", place=Place(file=state.file), cure="a CL file has GOTO statements")
    # The part's own settings may be in the other unit; the input's coordinates are in its own until all are joined.
    given = {tool.number: tool.diameter * per(part.units or units, units) for tool in part.tools}
    return Piece(
        name=state.name,
        units=units,
        tools=auxiliary.tools_of(state, given),
        operations=tuple(operations),
        tool_names=state.tool_names,
        notices=(*state.notices, *state.left_out.values(), *notices),
    )


CL_TEXT = Reader(
    kind="cl",
    speaks="CL data in text form: ISO 4343 and ISO 3592, INCITS 37 (APT)",
    endings=(".cl", ".cld", ".apt"),
    recognises=recognises,
    read=read_cl,
    tells=True,
)
