"""Words of motion: FROM, GOTO, GODLTA, RAPID, MULTAX, TLAXIS, and the planes that the tool goes up to."""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.inputs.cl.circles import collect, flush
from steadyrest.inputs.cl.cycles import holes
from steadyrest.inputs.cl.scan import Points
from steadyrest.inputs.cl.state import SPINDLE_AXIS, ClState
from steadyrest.inputs.cl.statement import Statement
from steadyrest.inputs.geometry import angle_of
from steadyrest.inputs.moves import Moves
from steadyrest.toolpath import CUT, RAPID

UNIT = 1e-4
"""How far from 1 the length of a tool axis may be (common practice for five written decimals)."""
AGREE_DEG = 0.01
"""How far ROTABL and a tool axis may differ that say the same angle: four written decimals of a unit vector."""


def points(state: ClState, run: Points) -> None:
    """GOTO statements, plain, as columns."""
    lines = np.arange(run.first_line, run.first_line + len(run.values), dtype=np.int64)
    state.known_units(run.first_line)
    go(state, run.values[:, :3] * state.factor + state.shift, run.values[:, 3:] if run.values.shape[1] == 6 else None, lines)


def goto(state: ClState, statement: Statement) -> None:
    """GOTO/x,y,z or GOTO/x,y,z,i,j,k."""
    values = np.array([statement.numbers(3, 6)])
    points(state, Points(statement.line, values))


def godlta(state: ClState, statement: Statement) -> None:
    """GODLTA/dx,dy,dz, or GODLTA/d along the tool axis, from where the tool stands."""
    numbers = statement.numbers(1, 3)
    state.known_units(statement.line)
    flush(state)
    state.carry_over(statement.line, cutting=_cuts_next(state))
    if state.point is None:
        raise statement.error("GODLTA is a step from a point, but no point comes before it", "put FROM or GOTO before it")
    step = numbers[0] * state.axis if len(numbers) == 1 else np.array(numbers)
    go(state, (state.point + step * state.factor)[None, :], None, np.array([statement.line]))


def go(state: ClState, xyz: Floats, axis: Floats | None, lines: Ints) -> None:
    """Motion through points (n, 3) in the toolpath's units, with tool axes (n, 3) or None, one a line."""
    if axis is not None:
        axis = _unit(state, axis, lines)
    axis = _axes_in_force(state, axis, len(xyz), lines)
    _check_table(state, axis, lines)
    if state.circle is not None:
        taken = collect(state, xyz, axis, lines)
        if taken == len(xyz):
            return
        flush(state)
        xyz, lines = xyz[taken:], lines[taken:]
        axis = None if axis is None else axis[taken:]
    line = int(lines[0])
    state.carry_over(line, cutting=_cuts_next(state))
    if state.cycle is not None:
        state.rapid, state.heading = None, None
        holes(state, xyz, axis, lines)
        return
    cut_from = 0 if state.rapid is None else 1  # the first row that cuts
    state.rapid = None
    motion = np.full(len(xyz), CUT, dtype=np.uint8)
    feed = np.full(len(xyz), np.nan)
    motion[:cut_from] = RAPID
    if cut_from < len(xyz):
        feed[cut_from:] = state.feed_per_minute(int(lines[cut_from]))
    conditions = state.conditions(line, cutting=cut_from < len(xyz))
    state.stretches.add(conditions, Moves(motion, xyz, feed, lines, axis))
    before = xyz[-2] if len(xyz) > 1 else state.point
    way = xyz[-1] - before if before is not None and motion[-1] == CUT else None
    if way is None or way.any():
        state.heading = None if way is None else way / np.linalg.norm(way)
    state.stand(xyz[-1])


def _cuts_next(state: ClState) -> bool:
    """The next point is reached at feed."""
    return state.rapid is None and state.cycle is None


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
    if state.multax:
        if axis is None:
            if state.tool_axis is None:
                raise state.error_at(
                    int(lines[0]),
                    "a point without tool axis, and none before it since MULTAX/ON",
                    "give the first point i,j,k, or put TLAXIS before it",
                )
            return np.repeat(state.tool_axis[None, :], count, axis=0)
        state.tool_axis = axis[-1].copy()
        return axis
    if axis is not None:
        off = np.linalg.norm(axis - state.axis, axis=1) > UNIT
        if off.any():
            raise state.error_at(
                int(lines[np.argmax(off)]), "a point with a tool axis while MULTAX is off", "put MULTAX/ON before it, or leave i,j,k out"
            )
    return None if state.tool_axis is None else np.repeat(state.tool_axis[None, :], count, axis=0)


def _check_table(state: ClState, axis: Floats | None, lines: Ints) -> None:
    """ToolpathError where the table's angle is in doubt, or is said twice and differently."""
    if state.table_unsure is not None and axis is None:
        raise state.table_unsure.error(
            "MULTAX/OFF while the tool axis is tilted: the angle of the part for the points after it is not given",
            "put ROTABL/ATANGL,angle, TLAXIS/i,j,k, or TLAXIS/0,0,1 after it",
        )
    if state.table_claim is None or axis is None:
        return
    angle, statement = state.table_claim
    state.table_claim = None
    found, _ = angle_of(axis[:1], state.axis_letter)
    apart = (float(found[0]) - angle + 180.0) % 360.0 - 180.0
    if abs(apart) > AGREE_DEG:
        raise statement.error(
            f"ROTABL puts the tool at {angle:g} degrees round the part, but the next point's tool axis is at {found[0]:.6g} degrees",
            "take ROTABL out: with MULTAX/ON the tool axis gives the angle; or set how it turns (table_positive, table_clockwise)",
        )


def from_point(state: ClState, statement: Statement) -> None:
    """FROM/x,y,z[,i,j,k]: the tool stands there; no motion."""
    numbers = statement.numbers(3, 6)
    state.known_units(statement.line)
    axis = _unit(state, np.array([numbers[3:]]), np.array([statement.line])) if len(numbers) == 6 else None
    if axis is not None and state.multax:
        state.tool_axis = axis[0]
    point = np.array(numbers[:3]) * state.factor + state.shift
    state.stand(point)
    state.heading = None
    state.stretches.place(point, state.tool_axis)


def rapid(state: ClState, statement: Statement) -> None:
    """RAPID: the next motion only is a rapid; the feed then goes on."""
    if statement.arguments:
        raise statement.error("RAPID takes no arguments", "write RAPID by itself; it holds for the next motion")
    state.rapid = statement


def multax(state: ClState, statement: Statement) -> None:
    """MULTAX/ON, MULTAX/OFF: points carry a tool axis, or not."""
    on = statement.only_word("ON", "OFF", unless_given="ON") == "ON"
    if on == state.multax:
        return
    if on:
        state.table_deg, state.table_unsure = None, None
    else:
        tilted = state.tool_axis is not None and float(np.linalg.norm(state.tool_axis - SPINDLE_AXIS)) > UNIT
        state.table_unsure = statement if tilted else None
        state.tool_axis, state.table_claim = None, None
    state.multax = on


def tool_axis(state: ClState, statement: Statement) -> None:
    """TLAXIS/i,j,k: a fixed tool axis in the part frame; with MULTAX/ON the axis until the next point that has one."""
    axis = _unit(state, np.array([statement.numbers(3)]), np.array([statement.line]))[0]
    upright = float(np.linalg.norm(axis - SPINDLE_AXIS)) <= UNIT
    if not upright and state.table_deg:
        raise statement.error(
            f"TLAXIS tilts the tool while ROTABL has turned the part to {state.table_deg:g} degrees",
            "use one of the two: they mean the same",
        )
    state.table_unsure = None
    state.head_deg = 0.0
    state.tool_axis = axis if state.multax or not upright else None


def shift(state: ClState, statement: Statement) -> None:
    """TRANS/x,y,z: added to all points after it, until the next TRANS."""
    numbers = statement.numbers(3)
    state.known_units(statement.line)
    state.shift = np.array(numbers) * state.factor


def origin(state: ClState, statement: Statement) -> None:
    """ORIGIN/x,y,z: where the part's origin stands at the machine, which is a matter of the work offset."""
    numbers = statement.numbers(3)
    if any(numbers):
        shown = ", ".join(f"{value:g}" for value in numbers)
        text = f"ORIGIN {shown}: the part's origin is there at the machine"
        state.stretches.note(text, statement.line)
        state.remark(statement, f"{text}; the points stay as they are, set the work offset to it")


def clear_plane(state: ClState, statement: Statement) -> None:
    """CLEARP/XYPLAN,z: the height that RETRCT goes to. CLRSRF/XYPLAN,z, CLRSRF/z and CLRSRF/0,0,1,z are the same (from memory).

    Any other CLRSRF leaves RETRCT without a height.
    """
    couplets = statement.couplets()
    word, numbers = (couplets[0].word, couplets[0].numbers) if len(couplets) == 1 else ("", ())
    surface = statement.word == "CLRSRF"
    level = len(numbers) == 1 and (word == "XYPLAN" or (surface and not word))
    if level or (surface and not word and numbers[:-1] == (0.0, 0.0, 1.0)):
        state.known_units(statement.line)
        state.clear_z = numbers[-1] * state.factor + float(state.shift[2])
    elif surface:
        state.clear_z = None
        state.leave_out(
            statement, "only a height across the spindle is understood; between operations the tool retracts as the profile sets it"
        )
    else:
        raise statement.error("the clearance plane has to be one across the spindle", "write CLEARP/XYPLAN,z")


def retract(state: ClState, statement: Statement) -> None:
    """RETRCT: at rapid along the tool axis to the clearance plane; it uses RAPID up, also where the tool stands there already."""
    if statement.arguments:
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
    state.leave_out(statement, "between operations the tool retracts as the profile sets it")
    state.stretches.lose_place()
    state.stand(None)
    state.rapid = state.heading = None
