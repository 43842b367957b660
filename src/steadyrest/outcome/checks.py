"""What simulation and set-up find: tools in material, cutters in the jaws, stock too short, wraps that do not fit, cuts without a clamp."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

import numpy as np

from steadyrest.columns import Bools, distinct
from steadyrest.conventions import AXES
from steadyrest.findings import Finding
from steadyrest.proof import OperationFigures, Setting, Verdict
from steadyrest.toolpath import RoundStock, Wrapped

if TYPE_CHECKING:
    from steadyrest.simulation import Hazards, Touches

WRAP_OFF = 0.25
"""A wrapped cylinder that differs from round stock by more than this part of its diameter is worth a look (common practice: a groove
is wrapped on the skin, or on a diameter turned down a little before)."""
_END = {"X-": "left end", "X+": "right end", "Y-": "- end", "Y+": "+ end", "Z-": "lower end", "Z+": "upper end"}
_WHAT = {"rapid": "a rapid goes", "shank": "the shank goes", "holder": "the holder goes"}


def material_findings(hazards: Hazards | str, verdict: Verdict, setting: Setting) -> list[Finding]:
    """Rapids, shanks and holders in material: the deepest place of each kind and operation. A text: why nothing was simulated."""
    if isinstance(hazards, str):
        return [Finding("not-simulated", "look", f"not simulated: {hazards}")]
    ends = [one.last_line for one in verdict.operations]
    found = []
    for name, touches in hazards.touches.items():
        number = np.array([min(bisect_left(ends, int(line)), max(len(ends) - 1, 0)) for line in touches.line], dtype=np.int64)
        for operation in distinct(number):
            found.append(_touching(name, touches, number == operation, verdict.operations[operation].number if ends else None, setting))
    if hazards.unknown_lines:
        lines = hazards.unknown_lines
        wrong = "the tool moves near the stock from a position that the program does not state: only the end of the move was simulated"
        found.append(Finding("unknown-place", "look", wrong, line=lines[0], count=len(lines)))
    if hazards.not_simulated:
        found += material_findings(hazards.not_simulated, verdict, setting)
    return found


def _touching(name: str, touches: Touches, which: Bools, operation: int | None, setting: Setting) -> Finding:
    depth, lines = touches.depth_mm[which], touches.line[which]
    deepest = int(np.argmax(depth))
    # How deep is known no better than the points or lines lie apart at which it was looked.
    wrong = f"{_WHAT[name]} into material, about {setting.length(float(f'{depth[deepest]:.2g}'))} deep"
    return Finding(name, "stop", wrong, line=int(lines[deepest]), operation=operation, count=len(lines))


def set_up_findings(setting: Setting) -> list[Finding]:
    """A wrapped cylinder that is not the stock's, indexed cuts without a clamp."""
    found, toolpath, rotary, stock = [], setting.toolpath, setting.rotary, setting.toolpath.stock
    for number, operation in enumerate(toolpath.operations, 1):
        wrap = operation.rotary
        if isinstance(wrap, Wrapped) and isinstance(stock, RoundStock) and abs(wrap.diameter - stock.diameter) > WRAP_OFF * stock.diameter:
            likely = ": the radius seems to be given instead" if abs(2 * wrap.diameter - stock.diameter) < 0.01 * stock.diameter else ""
            around, skin = (setting.length(diameter * setting.scale) for diameter in (wrap.diameter, stock.diameter))
            wrong = f"wrapped around a diameter of {around}, but the stock's diameter is {skin}{likely}"
            found.append(Finding("wrap", "look", wrong, operation=number))
    indexed = [number for number, one in enumerate(toolpath.operations, 1) if one.rotary.intent == "indexed"]
    if rotary is not None and rotary.clamp.use == "never" and indexed:
        wrong = f"{setting.profile.name} has no clamp code for the rotary: only its drive holds the part in indexed cuts"
        found.append(Finding("clamp", "look", wrong, operation=indexed[0], count=len(indexed)))
    return found


def jaws_findings(setting: Setting, verdict: Verdict) -> list[Finding]:
    """What the proof's figures say of the held end; nothing without stock or rotary.

    jaws        a place of the cutter, at feed or at rapid below the clear height, within the length that is held; past the held end where
                no length is said
    stick-out   the cutters reach farther from the free end than the stock is long
    held        the toolpath does not say which end is held: it is the one that the chuck's direction implies
    """
    stock, rotary, axis = setting.mounted.stock, setting.rotary, setting.toolpath.axis
    if rotary is None or stock is None:
        return []
    low, high = (end + setting.mounted.centre[AXES.index(axis)] for end in stock.along(axis))
    sign, held_end, free_end = (-1, low, high) if rotary.chuck_faces.startswith("+") else (1, high, low)
    held_length = stock.held.length or 0.0 if stock.held is not None else 0.0

    def into(place: float) -> float:
        """How far a place along the axis is from the jaws' face towards the held end; less than 0 outside them."""
        return sign * (place - held_end) + held_length

    def length(value: float) -> str:
        return setting.length(value * setting.scale)

    def at(place: float) -> str:
        return f"{axis} {length(place).split()[0]}"

    # The place of each operation's cutter that is nearest to the held end, its radius included; first how far it goes into the jaws.
    reached: list[tuple[float, OperationFigures, float, int]] = []
    for one in verdict.operations:
        if one.reach is not None and one.reach_lines is not None:
            aside = setting.toolpath.tool(one.tool).diameter / 2 if axis != "Z" else 0.0
            place = one.reach[max(sign, 0)] + sign * aside
            reached.append((into(place), one, place, one.reach_lines[max(sign, 0)]))
    found = []
    if reached:
        _, one, place, line = max(reached, key=lambda each: each[0])
        needed, whole = abs(place - free_end), abs(held_end - free_end)
        if needed > whole + one.rounding + 1e-6:
            wrong = (
                f"the cutters reach {length(needed)} from the free end of the stock, at "
                f"{at(free_end)}, but the stock is only {length(whole)} long; use longer stock, or state which end is held: "
                "'held' in the toolpath's stock"
            )
            found.append(Finding("stick-out", "stop", wrong, line=line, operation=one.number))
    for deep, one, place, line in reached:
        if deep > one.rounding + 1e-6:
            wrong = f"the cutter reaches {at(place)}, radius included: {length(deep)} "
            if held_length:
                face = at(held_end - sign * held_length).split()[1]
                wrong += f"into the jaws, which hold the stock from {at(held_end)} to {face}; clamp less of it, "
            else:
                wrong += f"past the held end, {at(held_end)}; "
            found.append(Finding("jaws", "stop", f"{wrong}use longer stock, or cut less far", line=line, operation=one.number))
    if stock.held is None:
        end, stays = _END[axis + ("-" if sign < 0 else "+")], ""
        if reached:
            deep = max(each[0] for each in reached)
            stays = f", and the cutter goes {length(deep)} past it" if deep > 0 else f", and the cutter stays {length(-deep)} from it"
        wrong = (
            f"the toolpath does not state which end of the stock is held: the chuck faces {rotary.chuck_faces}, so the {end} at "
            f"{at(held_end)} is assumed"
            f"{stays}; state it as 'held' in the toolpath's stock"
        )
        found.append(Finding("held", "look", wrong))
    return found
