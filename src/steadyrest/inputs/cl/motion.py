"""Words of motion: FROM, GOTO, GODLTA, RAPID, MULTAX, TLAXIS, the planes that the tool goes up to, and ROTABL, ROTHED and ROTATE.

What a positive angle is: the standards name the arguments and leave their sense open. Here: ROTABL turns the work table and the part with
it. A positive ATANGL, and INCR with CLW, turn the part left-hand round the + direction of the axis (it looks clockwise from the + end), as
a positive A of ISO 841 (from memory) turns a work table; the tool then stands at alpha = + the angle round the part. The options
table_positive and table_clockwise say otherwise where a system means otherwise. ROTHED turns the tool instead: a positive ATANGL, and CCLW,
right-hand. Points after ROTABL are work coordinates of the part as it stands then; points after ROTHED are part coordinates, or those
of the table's turn if there is one.

Which of two rotaries carries the other is not said, and follows: a table turns the part and a head the tool, and of two in the one or the
other that along Z is the one farther from the spindle, for next to the spindle it would tilt nothing. About X and Y both it is open.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from steadyrest.columns import Floats, Ints, take
from steadyrest.errors import ToolpathError
from steadyrest.inputs.cl.arcs_and_holes import collect, flush, holes
from steadyrest.inputs.cl.scan import Points
from steadyrest.inputs.cl.state import SPINDLE_AXIS, TILTED, ClState, in_order
from steadyrest.inputs.cl.statement import Couplet, Statement
from steadyrest.inputs.geometry import angle_of, turned_by
from steadyrest.inputs.stretches import Moves
from steadyrest.toolpath import CUT, RAPID

UNIT = 1e-4
"""How far from 1 the length of a tool axis may be (common practice for five written decimals)."""
AGREE_DEG = 0.01
"""How far ROTABL and a tool axis may differ that say the same angle: four written decimals of a unit vector."""


def points(state: ClState, run: Points) -> None:
    """GOTO statements, plain, as columns."""
    lines = np.arange(run.line, run.line + len(run.values), dtype=np.int64)
    state.known_units(run.line)
    go(state, run.values[:, :3] * state.factor + state.shift, run.values[:, 3:] if run.values.shape[1] == 6 else None, lines)


def goto(state: ClState, statement: Statement) -> None:
    """GOTO/x,y,z or GOTO/x,y,z,i,j,k."""
    points(state, Points(statement.line, np.array([statement.numbers(3, 6)])))


def godlta(state: ClState, statement: Statement) -> None:
    """GODLTA/dx,dy,dz, or GODLTA/d along the tool axis, from where the tool stands."""
    numbers = state.lengths(statement, 1, 3)
    flush(state)
    state.carry_over(statement.line, cutting=state.rapid is None and state.cycle is None)
    if state.point is None:
        raise statement.error("GODLTA is a step from a point, but no point comes before it", "put FROM or GOTO before it")
    step = numbers[0] * state.axis if len(numbers) == 1 else np.array(numbers)
    go(state, (state.point + step * state.factor)[None, :], None, np.array([statement.line]))


def go(state: ClState, xyz: Floats, axis: Floats | None, lines: Ints) -> None:
    """Motion through points (n, 3) in the toolpath's units, with tool axes (n, 3) or None, one a line."""
    axis = _axes_in_force(state, None if axis is None else _unit(state, axis, lines), len(xyz), lines)
    if axis is not None:
        _check_claim(state, axis[:1])
    elif state.table_unsure is not None:
        raise state.table_unsure.error(
            "MULTAX/OFF while the tool axis is tilted: the angle of the part for the points after it is not given",
            "put ROTABL/ATANGL,angle, TLAXIS/i,j,k, or TLAXIS/0,0,1 after it",
        )
    moves = Moves(np.full(len(xyz), CUT, dtype=np.uint8), xyz, np.full(len(xyz), np.nan), lines, axis)
    if state.circle is not None:
        taken = collect(state, moves)
        if taken == len(moves):
            return
        flush(state)
        moves = take(moves, slice(taken, None))
    line = int(moves.line[0])
    state.carry_over(line, cutting=state.rapid is None and state.cycle is None)
    if state.cycle is not None:
        state.rapid, state.heading = None, None
        holes(state, moves)
        return
    cut_from = 0 if state.rapid is None else 1  # the first row that cuts
    cutting, state.rapid = cut_from < len(moves), None
    moves.motion[:cut_from] = RAPID
    if cutting:
        moves.feed[cut_from:] = state.feed_per_minute(int(moves.line[cut_from]))
    before = moves.end[-2] if len(moves) > 1 else state.point
    way = moves.end[-1] - before if before is not None and cutting else None
    if way is None or way.any():
        state.heading = None if way is None else way / np.linalg.norm(way)
    state.add(state.conditions(line, cutting=cutting), moves)


def _unit(state: ClState, axis: Floats, lines: Ints) -> Floats:
    length = np.sqrt(np.einsum("ij,ij->i", axis, axis))
    wrong = np.abs(length - 1.0) > UNIT
    if wrong.any():
        row = int(np.argmax(wrong))
        shown = ",".join(f"{value:g}" for value in axis[row])
        raise state.error_at(
            int(lines[row]),
            f"the tool axis {shown} has length {length[row]:.6g}; allowed is 1, within {UNIT:g}",
            "divide i, j, k by their length",
        )
    return np.asarray(axis / length[:, None])


def _axes_in_force(state: ClState, axis: Floats | None, count: int, lines: Ints) -> Floats | None:
    """The tool axes of points; None where they are plain three-axis points."""
    if axis is not None and state.multax:
        state.tool_axis = axis[-1].copy()
        return axis
    if axis is not None and (off := np.linalg.norm(axis - state.axis, axis=1) > UNIT).any():
        raise state.error_at(
            int(lines[np.argmax(off)]), "a point with a tool axis while MULTAX is off", "put MULTAX/ON before it, or leave i,j,k out"
        )
    if state.multax and state.tool_axis is None:
        raise state.error_at(
            int(lines[0]),
            "a point without tool axis, and none before it since MULTAX/ON",
            "give the first point i,j,k, or put TLAXIS before it",
        )
    return None if state.tool_axis is None else np.repeat(state.tool_axis[None, :], count, axis=0)


def _check_claim(state: ClState, axis: Floats) -> None:
    """ToolpathError where ROTABL says another angle than the tool axis (1, 3) of the point after it."""
    if state.table_claim is None:
        return
    (claimed, statement), state.table_claim = state.table_claim, None
    if claimed.keys() == {state.axis_letter}:
        angle, found = claimed[state.axis_letter], float(angle_of(axis, state.axis_letter)[0][0])
        if abs((found - angle + 180.0) % 360.0 - 180.0) <= AGREE_DEG:
            return
        said, is_at = f"at {angle:g} degrees round the part", f"at {found:.6g} degrees"
    elif len(claimed) == 1:  # the other one's angle is not said: nothing to hold it against
        return
    else:
        wanted = turned_by(in_order(claimed), SPINDLE_AXIS)
        if np.linalg.norm(axis[0] - wanted) <= np.radians(AGREE_DEG):
            return
        said, is_at = f"along {_shown(wanted)} of the part", f"along {_shown(axis[0])}"
    raise statement.error(
        f"ROTABL puts the tool {said}, but the next point's tool axis is {is_at}",
        "take ROTABL out: with MULTAX/ON the tool axis gives the angle; or set how it turns (table_positive, table_clockwise)",
    )


def _shown(axis: Floats) -> str:
    return ", ".join(f"{value:.6g}" for value in np.round(axis, 9) + 0.0)


def from_point(state: ClState, statement: Statement) -> None:
    """FROM/x,y,z[,i,j,k]: the tool stands there; no motion."""
    numbers = state.lengths(statement, 3, 6)
    if len(numbers) == 6:
        axis = _unit(state, np.array([numbers[3:]]), np.array([statement.line]))[0]
        state.tool_axis = axis if state.multax else state.tool_axis
    state.point_frame, state.heading = state.frame(), None
    state.stands_at(np.array(numbers[:3]) * state.factor + state.shift, state.tool_axis, placed=True)


def rapid(state: ClState, statement: Statement) -> None:
    """RAPID: the next motion only is a rapid; the feed then goes on."""
    if statement.couplets:
        raise statement.error("RAPID takes no arguments", "write RAPID by itself; it holds for the next motion")
    state.rapid = statement


def multax(state: ClState, statement: Statement) -> None:
    """MULTAX/ON, MULTAX/OFF: points carry a tool axis, or not."""
    on = statement.only_word("ON", "OFF", unless_given="ON") == "ON"
    if on == state.multax:
        return
    if on:
        if state.tool_axis is not None:
            state.tool_axis = state.in_part(state.tool_axis)
        state.table, state.head, state.table_unsure = {}, {}, None
    else:
        tilted = state.tool_axis is not None and float(np.linalg.norm(state.tool_axis - SPINDLE_AXIS)) > UNIT
        state.table_unsure = statement if tilted else None
        state.tool_axis, state.table_claim, state.head = None, None, {}
    state.multax = on


def tool_axis(state: ClState, statement: Statement) -> None:
    """TLAXIS/i,j,k: a fixed tool axis in the part frame; with MULTAX/ON the axis until the next point that has one."""
    axis = _unit(state, np.array([statement.numbers(3)]), np.array([statement.line]))[0]
    upright = float(np.linalg.norm(axis - SPINDLE_AXIS)) <= UNIT
    if not upright and any(state.table.values()):
        raise statement.error(
            f"TLAXIS tilts the tool while ROTABL has turned the part to {_degrees(state.table)}",
            "use one of the two: they mean the same",
        )
    state.table_unsure = None
    state.head = {}
    state.tool_axis = axis if state.multax or not upright else None


def shift(state: ClState, statement: Statement) -> None:
    """TRANS/x,y,z: added to all points after it, until the next TRANS."""
    state.shift = np.array(state.lengths(statement, 3)) * state.factor


def origin(state: ClState, statement: Statement) -> None:
    """ORIGIN/x,y,z: where the part's origin stands at the machine, which is a matter of the work offset."""
    numbers = statement.numbers(3)
    if any(numbers):
        shown = ", ".join(f"{value:g}" for value in numbers)
        text = f"ORIGIN {shown}: the part's origin is there at the machine"
        state.note(text, statement.line)
        state.remark(statement, f"{text}; the points stay as they are, set the work offset to it")


def clear_plane(state: ClState, statement: Statement) -> None:
    """CLEARP/XYPLAN,z: the height that RETRCT goes to. CLRSRF/XYPLAN,z, CLRSRF/z and CLRSRF/0,0,1,z are the same (from memory).

    Any other CLRSRF leaves RETRCT without a height.
    """
    couplets = statement.couplets
    word, numbers = (couplets[0].word, couplets[0].numbers) if len(couplets) == 1 else ("", ())
    surface = statement.word == "CLRSRF"
    level = len(numbers) == 1 and (word == "XYPLAN" or (surface and not word))
    if level or (surface and not word and numbers[:-1] == (0.0, 0.0, 1.0)):
        state.known_units(statement.line)
        state.clear_z = numbers[-1] * state.factor + float(state.shift[2])
    elif surface:
        state.clear_z = None
        reason = "only a height across the spindle is understood; between operations the tool retracts as the profile sets it"
        state.leave_out(statement.word, statement.line, reason)
    else:
        raise statement.error("the clearance plane has to be one across the spindle", "write CLEARP/XYPLAN,z")


def retract(state: ClState, statement: Statement) -> None:
    """RETRCT: at rapid along the tool axis to the clearance plane; it uses RAPID up, also where the tool stands there already."""
    if statement.couplets:
        statement.only_word("ZAXIS", "TOOL")
    if state.clear_z is None:
        raise statement.error("RETRCT before any CLEARP: no height is given", "put CLEARP/XYPLAN,z before it")
    state.rapid = None
    state.carry_over(statement.line, cutting=False)
    if state.point is None:
        raise statement.error("RETRCT before any point", "put FROM or GOTO before it")
    axis = state.axis
    rise = state.clear_z - float(state.point[2])
    if rise <= 0:
        return
    if axis[2] <= 0.01:
        raise statement.error("the clearance plane cannot be reached along the tool axis", "write RAPID and GOTO")
    kept, state.cycle = state.cycle, None
    state.rapid = statement
    go(state, (state.point + axis * (rise / axis[2]))[None, :], None, np.array([statement.line]))
    state.cycle = kept


def go_home(state: ClState, statement: Statement) -> None:
    """GOHOME, END: the tool goes away, which uses RAPID up; planning retracts it, and where it stands then is not known here."""
    state.leave_out(statement.word, statement.line, "between operations the tool retracts as the profile sets it")
    state.lose_place()
    state.rapid = state.heading = None


AXIS_WORDS = {"AAXIS": "X", "BAXIS": "Y", "CAXIS": "Z", "XAXIS": "X", "YAXIS": "Y", "ZAXIS": "Z"}
_WHAT = ("TABLE", "HEAD")
_KNOWN = ("ATANGL", "ABSOL", "INCR", "CLW", "CCLW", *AXIS_WORDS, "NEXT", "NOW")


def rotate(state: ClState, statement: Statement) -> None:
    """ROTABL or ROTATE/TABLE, ROTHED or ROTATE/HEAD: ATANGL or ABSOL,a, or INCR,a, with CLW, CCLW, an axis word, NEXT or NOW.

    Two axes may be turned by two statements, or by one: ROTABL/CAXIS,ATANGL,30,AAXIS,ATANGL,45 (ISO 4343, from memory).
    """
    words = [couplet.word for couplet in statement.couplets]
    what = [statement.word] if statement.word != "ROTATE" else [word for word in words if word in _WHAT]
    if len(what) != 1:
        raise statement.error("ROTATE names neither TABLE nor HEAD", "write ROTATE/TABLE,AAXIS,ABSOL,angle")
    statement.allow((*_KNOWN, *_WHAT) if statement.word == "ROTATE" else _KNOWN)
    if not words or not words[0]:
        raise _no_angle(statement)
    carrier = "table" if what[0] in ("ROTABL", "TABLE") else "head"
    for couplets in _by_axis([couplet for couplet in statement.couplets if couplet.word not in _WHAT]):
        letter, angle, absolute, sense = _turn_asked(state, statement, couplets)
        state.turners.setdefault((carrier, letter), statement)
        (_table if carrier == "table" else _head)(state, statement, letter, angle, absolute, sense)


def _by_axis(couplets: list[Couplet]) -> list[list[Couplet]]:
    """The couplets about each axis: those from its word on, or those up to it where the statement does not begin with one."""
    named = [at for at, couplet in enumerate(couplets) if couplet.word in AXIS_WORDS]
    if len(named) < 2:
        return [couplets]
    cuts = named[1:] if named[0] == 0 else [at + 1 for at in named[:-1]]
    return [couplets[start:stop] for start, stop in pairwise([0, *cuts, len(couplets)])]


def _turn_asked(state: ClState, statement: Statement, couplets: list[Couplet]) -> tuple[str, float, bool, str]:
    """Letter, angle, whether that is absolute, and CLW, CCLW or nothing."""
    words = [couplet.word for couplet in couplets]
    letter = next((AXIS_WORDS[word] for word in words if word in AXIS_WORDS), state.axis_letter)
    numbers = [(value, couplet.at) for couplet in couplets for value in couplet.numbers]
    if len(numbers) > 1:
        raise statement.error(f"{statement.word} has more than one angle", f"write {statement.word}/ATANGL,angle", numbers[1][1])
    if not numbers:
        raise _no_angle(statement)
    angle, absolute = numbers[0][0], "INCR" not in words
    if not absolute and ("ATANGL" in words or "ABSOL" in words):
        raise statement.error("two kinds of angle in one statement", "write one of ATANGL and INCR")
    senses = [word for word in words if word in ("CLW", "CCLW")]
    if len(senses) > 1:
        raise statement.error("two senses in one statement", "write one of CLW and CCLW")
    if not absolute and not senses:
        raise statement.error("INCR without a sense", "add CLW or CCLW")
    if not absolute and angle < 0:
        raise statement.error(f"INCR {angle:g} is less than 0", "give the direction with CLW or CCLW, and the angle without a sign")
    return letter, angle, absolute, "".join(senses)


def _no_angle(statement: Statement) -> ToolpathError:
    return statement.error(f"{statement.word} has no angle", f"write {statement.word}/ATANGL,angle or {statement.word}/INCR,angle,CLW")


def _degrees(turns: Mapping[str, float]) -> str:
    """Angles for people: where there are several, each with its axis."""
    if len(turns) == 1:
        return f"{next(iter(turns.values())):g} degrees"
    return " and ".join(f"{alpha:g} degrees about {letter}" for letter, alpha in in_order(turns))


def _table(state: ClState, statement: Statement, letter: str, angle: float, absolute: bool, sense: str) -> None:
    if absolute:
        alpha = angle if state.options.table_positive == "left-hand" else -angle
        if sense:
            reason = "the way round to an angle is chosen in planning, with the tool clear"
            state.leave_out(f"{statement.word} {sense} with ATANGL", statement.line, reason)
    else:
        clockwise = (sense == "CLW") == (state.options.table_clockwise == "left-hand")
        alpha = state.table.get(letter, 0.0) + (angle if clockwise else -angle)
    if state.multax:
        if not absolute:
            raise statement.error("INCR while MULTAX is on: the tool axes give the angle", "take it out, or write ATANGL")
        claimed = state.table_claim[0] if state.table_claim is not None else {}
        state.table_claim = (claimed | {letter: alpha}, statement)
        return
    if state.tool_axis is not None and (not state.head or letter in state.head):
        raise statement.error(
            "ROTABL turns the part while TLAXIS or ROTHED tilts the tool", "use one of the two, or put TLAXIS/0,0,1 before it"
        )
    state.table = state.table | {letter: alpha}
    state.table_unsure = None
    if state.point_frame[0] != "part":
        state.point_frame = state.frame()  # the tool stays where it is at the machine
    elif float(np.linalg.norm(turned_by(in_order(state.table), state.axis) - state.point_axis)) <= TILTED:
        state.carry_over(statement.line, cutting=False)


def _head(state: ClState, statement: Statement, letter: str, angle: float, absolute: bool, sense: str) -> None:
    if state.multax:
        raise statement.error("ROTHED while MULTAX is on: the tool axes give the angle", "take it out")
    if state.table.get(letter):
        raise statement.error(f"ROTHED tilts the tool while ROTABL has turned the part to {_degrees(state.table)}", "use one of the two")
    alpha = angle if absolute else state.head.get(letter, 0.0) + (angle if sense == "CCLW" else -angle)
    state.head = state.head | {letter: alpha}
    state.table_unsure = None
    if not any(state.table.values()):
        state.table = {}
    state.tool_axis = turned_by(in_order(state.head), SPINDLE_AXIS)


def check_rotaries(state: ClState) -> None:
    """ToolpathError where the axes about which a file turns table and head are none of the part's, or leave their order open."""
    turners = state.turners
    letters = {letter for _, letter in turners}
    for carrier, word in (("table", "ROTABL"), ("head", "ROTHED")):
        about = {letter: statement for (what, letter), statement in turners.items() if what == carrier}
        if {"X", "Y"} <= about.keys():
            raise about["Y"].error(
                f"{word} turns about X and about Y: which of the two carries the other is not said",
                "give the tool axes instead: MULTAX/ON, and i,j,k with each point",
            )
        if carrier == "head" and about.keys() == {"Z"}:
            raise about["Z"].error("the axis of rotation runs along the spindle: a head cannot tilt the tool about it", "use axis X or Y")
    if len(turners) > 2:
        named = " and ".join(f"{what} about {letter}" for what, letter in turners)
        raise list(turners.values())[2].error(f"more than two rotary axes: {named}", "write the file for the machine that it runs on")
    if len(letters) == 1 and state.axis_letter not in letters:
        (letter,), statement = letters, next(iter(turners.values()))
        word = next(each.word for each in statement.couplets if each.word in AXIS_WORDS)
        raise statement.error(
            f"{word} turns about {letter}, and the part's axis of rotation is {state.axis_letter}",
            f"set axis = {letter!r} if the rotary is mounted along it",
        )
    tables = [statement for (what, _), statement in turners.items() if what == "table"]
    if len(tables) == 2:
        text = "ROTABL turns about two axes: points after it are taken as if both went through the part's centre"
        state.remark(tables[1], text)
