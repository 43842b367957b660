"""Is everything switched as the operation asks before the tool cuts? Tool, spindle, coolant, clamp, pauses (offsets: safety)."""

from __future__ import annotations

from math import degrees, isnan

from steadyrest.proof.cursor import Cursor
from steadyrest.proof.findings import LEAST_KEPT
from steadyrest.proof.intended_path import Pass
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.setting import Setting, count_of

_STEP_DEG = 1e-6


def check_switches(cursor: Cursor, this: Pass, setting: Setting) -> None:
    """Raise the Mismatch of the first thing that is not as the operation says. Asked once after each change."""
    state = cursor.state
    if cursor.checked is not None and cursor.checked[0] is state and cursor.checked[1] is this:
        return
    line, operation, profile = cursor.line, this.operation, setting.profile
    if state.tool != operation.tool:
        if not profile.tool.change:
            raise Mismatch("tool-stop", f"there is no stop for changing to tool {operation.tool}", line=line)
        held = "no tool is called" if isnan(state.tool) else f"tool {state.tool:g} is in the spindle"
        raise Mismatch(
            "tool", f"{held}; the operation cuts with tool {operation.tool}", line=cursor.said_on("tool_change", "tool_selected")
        )
    _check_spindle(cursor, this, setting)
    wanted = frozenset() if operation.coolant == "off" else frozenset({operation.coolant})
    if state.coolant != wanted:
        on = " and ".join(sorted(state.coolant)) or "off"
        raise Mismatch("coolant", f"coolant is {on}; the operation asks for {operation.coolant}", line=cursor.said_on("coolant"))
    rotary = setting.rotary
    if rotary is not None and rotary.clamp.use == "indexing":
        if this.wants_clamp and state.clamped is not True:
            raise Mismatch("clamp-off", "the rotary's clamp is off in an operation that needs it on", line=line)
        if not this.wants_clamp and state.clamped is not False:
            raise Mismatch("clamp-on", "the rotary's clamp is on in an operation that turns the part", line=line)
    if state.owed_spindle:
        pause, line = cursor.pause_said(state.owed_spindle, "after the spindle starts", "spindle")
        raise Mismatch("spindle-pause", pause, line=line)
    if rotary is not None and rotary.steps and this.wants_clamp:
        word = float(cursor.rows.word_deg[cursor.at])
        if abs(word - round(word / rotary.steps) * rotary.steps) > _STEP_DEG:
            raise Mismatch(
                "between-steps", f"{word:g} degrees is not a multiple of the indexing head's step, {rotary.steps:g} degrees", line=line
            )
    if rotary is not None and rotary.unwinding.between == "one_side" and this.wants_clamp:
        side = 1.0 if rotary.unwinding.arrive_from == "below" else -1.0
        least = rotary.unwinding.overshoot - 2 * degrees(setting.rounding.angle_rad) - _STEP_DEG
        if not side * cursor.arrival_deg >= least:
            way = f"the last {rotary.unwinding.overshoot:g} degrees from {rotary.unwinding.arrive_from}"
            raise Mismatch("backlash", f"the rotary does not turn {way}, which takes up its backlash", line=line)
    cursor.checked = (state, this)


def _check_spindle(cursor: Cursor, this: Pass, setting: Setting) -> None:
    state, spindle = cursor.state, this.operation.spindle
    if spindle.rpm == 0 and (state.spindle == "stop" or state.rpm == 0):
        return
    if state.spindle != spindle.turns:
        turns = "is off" if state.spindle == "stop" else f"turns {state.spindle}"
        raise Mismatch("spindle-way", f"the spindle {turns}; the operation asks for {spindle.turns}", line=cursor.said_on("spindle"))
    numbers = setting.profile.numbers
    slack = 0.5 * count_of(numbers.by_letter.get("S", numbers.spindle), in_inch=False) + 1e-9
    if slack < spindle.rpm - state.rpm and state.rpm >= LEAST_KEPT * spindle.rpm and not this.taps:
        said, asked = f"S{state.rpm:g}", f"a spindle speed of {spindle.rpm:g} rpm"
        cursor.lowered.note(this.number, cursor.said_on("spindle"), said, asked, state.rpm / spindle.rpm)
        return
    if not abs(state.rpm - spindle.rpm) <= slack:
        turning = "has no speed" if isnan(state.rpm) else f"turns at {state.rpm:g} rpm"
        raise Mismatch(
            "spindle-speed", f"the spindle {turning}; the operation asks for {spindle.rpm:g} rpm", line=cursor.said_on("spindle")
        )
