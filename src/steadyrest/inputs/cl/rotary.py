"""ROTABL, ROTHED and ROTATE, and what a positive angle is.

The standards name the arguments and leave their sense open. Here: ROTABL turns the work table and the part with it. A positive
ATANGL, and INCR with CLW, turn the part left-hand round the + direction of the axis (it looks clockwise from the + end), as a
positive A of ISO 841 (from memory) turns a work table; the tool then stands at alpha = + the angle round the part. The options
table_positive and table_clockwise say otherwise where a system means otherwise. ROTHED turns the tool instead: a positive ATANGL,
and CCLW, right-hand.
Points after ROTABL are work coordinates of the part as it stands then; points after ROTHED are part coordinates.
"""

from __future__ import annotations

import numpy as np

from steadyrest.inputs.cl.state import SPINDLE_AXIS, TILTED, ClState
from steadyrest.inputs.cl.statement import Couplet, Statement
from steadyrest.inputs.geometry import turned

AXIS_WORDS = {"AAXIS": "X", "BAXIS": "Y", "CAXIS": "Z", "XAXIS": "X", "YAXIS": "Y", "ZAXIS": "Z"}
_KNOWN = ("ATANGL", "ABSOL", "INCR", "CLW", "CCLW", *AXIS_WORDS, "NEXT", "NOW")


def rotate(state: ClState, statement: Statement) -> None:
    """ROTABL or ROTATE/TABLE, ROTHED or ROTATE/HEAD: ATANGL or ABSOL,a, or INCR,a, with CLW, CCLW, an axis word, NEXT or NOW."""
    couplets = statement.couplets()
    what = [statement.word] if statement.word != "ROTATE" else [each.word for each in couplets if each.word in ("TABLE", "HEAD")]
    if len(what) != 1:
        raise statement.error("ROTATE names neither TABLE nor HEAD", "write ROTATE/TABLE,AAXIS,ABSOL,angle")
    rest = tuple(each for each in couplets if each.word not in what)
    (_table if what[0] in ("ROTABL", "TABLE") else _head)(state, statement, *_angle(state, statement, rest))


def _table(state: ClState, statement: Statement, angle: float, absolute: bool, sense: str) -> None:
    before = state.table_deg or 0.0
    if absolute:
        alpha = angle if state.options.table_positive == "left-hand" else -angle
        if sense:
            state.leave_out(
                statement, "the way round to an angle is chosen in planning, with the tool clear", f"{statement.word} {sense} with ATANGL"
            )
    else:
        clockwise = (sense == "CLW") == (state.options.table_clockwise == "left-hand")
        alpha = before + (angle if clockwise else -angle)
    if state.multax:
        if not absolute:
            raise statement.error("INCR while MULTAX is on: the tool axes give the angle", "take it out, or write ATANGL")
        state.table_claim = (alpha, statement)
        return
    if state.tool_axis is not None:
        raise statement.error(
            "ROTABL turns the part while TLAXIS or ROTHED tilts the tool", "use one of the two, or put TLAXIS/0,0,1 before it"
        )
    state.table_deg, state.table_unsure = alpha, None
    if state.point_frame[0] != "part":
        state.point_frame = state.frame()  # the tool stays where it is at the machine
    elif float(np.linalg.norm(turned(SPINDLE_AXIS, alpha, state.axis_letter) - state.point_frame[1])) <= TILTED:
        state.carry_over(statement.line, cutting=False)


def _head(state: ClState, statement: Statement, angle: float, absolute: bool, sense: str) -> None:
    if state.multax:
        raise statement.error("ROTHED while MULTAX is on: the tool axes give the angle", "take it out")
    if state.table_deg:
        raise statement.error(
            f"ROTHED tilts the tool while ROTABL has turned the part to {state.table_deg:g} degrees", "use one of the two"
        )
    state.head_deg = angle if absolute else state.head_deg + (angle if sense == "CCLW" else -angle)
    state.table_unsure = state.table_deg = None
    state.tool_axis = turned(SPINDLE_AXIS, state.head_deg, state.axis_letter)
    if state.axis_letter == "Z":
        raise statement.error("the axis of rotation runs along the spindle: a head cannot tilt the tool about it", "use axis X or Y")


def _angle(state: ClState, statement: Statement, couplets: tuple[Couplet, ...]) -> tuple[float, bool, str]:
    """The angle in degrees, whether it is absolute, and CLW, CCLW or nothing."""
    angle: float | None = None
    absolute, sense = True, ""
    for couplet in couplets:
        word = couplet.word
        if word in AXIS_WORDS:
            if AXIS_WORDS[word] != state.axis_letter:
                raise statement.error(
                    f"{word} turns about {AXIS_WORDS[word]}, and the part's axis of rotation is {state.axis_letter}",
                    f"set axis = {AXIS_WORDS[word]!r} if the rotary is mounted along it",
                    couplet.at,
                )
        elif word in ("ATANGL", "ABSOL", "INCR"):
            if angle is not None:
                raise statement.error("two angles in one statement", "write one of ATANGL and INCR", couplet.at)
            absolute = word != "INCR"
        elif word in ("CLW", "CCLW"):
            if sense:
                raise statement.error("two senses in one statement", "write one of CLW and CCLW", couplet.at)
            sense = word
        elif word not in _KNOWN:
            found = word or "a number alone"
            raise statement.error(f"{statement.word} does not know {found}; allowed are {', '.join(_KNOWN)}", "correct it", couplet.at)
        for value in couplet.numbers:
            if angle is not None:
                raise statement.error("two angles in one statement", f"write {statement.word}/ATANGL,angle", couplet.at)
            angle = value
    if angle is None:
        raise statement.error(f"{statement.word} has no angle", f"write {statement.word}/ATANGL,angle or {statement.word}/INCR,angle,CLW")
    if not absolute:
        if not sense:
            raise statement.error("INCR without a sense", "add CLW or CCLW")
        if angle < 0:
            raise statement.error(f"INCR {angle:g} is less than 0", "give the direction with CLW or CCLW, and the angle without a sign")
    return angle, absolute, sense
