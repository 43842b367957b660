"""Rules of every block, whatever it is for: turning, clamp, travel, speed of rotation, offsets; and the space that the stock sweeps."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isnan

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting

PART_IN = 1e-3
"""How far a speed may be off, as a fraction, before the rounding of F has to explain it."""
_HAIR = 1e-6
"""mm or degrees: below every least increment, above the noise of the arithmetic."""


def first_broken_rule(rows: Rows, setting: Setting, clamped: bool | None) -> tuple[int, Mismatch] | None:
    """The first block that breaks a rule, with what it breaks; `clamped` is None before the first clamp code."""
    rotary = setting.rotary
    found: list[tuple[int, Mismatch]] = []

    def note(broken: Bools, rule: str, sentence: str) -> None:
        if broken.any():
            row = int(np.argmax(broken))
            found.append((row, Mismatch(rule, sentence, line=int(rows.line[row]))))

    if rotary is None:
        return None
    word = rows.word_deg
    if rotary.travel.kind == "limited":
        slack = np.degrees(setting.rounding.angle_rad) + _HAIR
        beyond = (word[1:] < rotary.travel.lowest - slack) | (word[1:] > rotary.travel.highest + slack)
        note(beyond, "rotary-travel", f"the rotary goes beyond its travel of {rotary.travel.lowest:g} to {rotary.travel.highest:g} degrees")
    if not rows.stands:
        turning = ~(np.abs(np.diff(word)) <= _HAIR * 1e-3)
        turning &= ~np.isnan(word[1:])
        rapid = rows.rapid
        low = turning & rapid & ~rows.clear & ~_high_enough(rows, setting)
        note(low, "turn-low", f"the rotary turns at rapid with the tool lower than {setting.clear_mm:g} mm over the axis of rotation")
        if rotary.clamp.use == "indexing" and clamped is not False:
            note(
                turning,
                "turn-clamped",
                "the rotary turns with its clamp on" if clamped else "the rotary turns before its clamp is released",
            )
        if not rotary.turns_while_cutting:
            note(turning & ~rapid, "turn-in-cut", "the rotary turns while cutting, which this rotary cannot do")
        note(
            _too_fast(rows, rotary.fastest, setting.rounding.angle_rad),
            "rotary-speed",
            f"F asks for more than the rotary's {rotary.fastest:g} degrees per minute",
        )
    return min(found, key=lambda one: one[0]) if found else None


def first_under_wrong_offset(rows: Rows, *, work_right: bool, length_right: bool) -> tuple[int, Mismatch] | None:
    """The first block that goes to a place in work coordinates while its work offset, or below machine zero its length offset, is wrong."""
    if work_right and length_right:
        return None
    ends = np.column_stack([rows.vertex, rows.word_deg])
    goes = ((ends[1:] != ends[:-1]) & ~np.isnan(ends[1:])).any(axis=1)
    for right, which, name in ((work_right, goes, "work offset"), (length_right, goes & ~rows.clear, "length offset")):
        if not right and which.any():
            row = int(np.argmax(which))
            sentence = f"the tool moves before the right {name} is on: that of the profile" if name == "work offset" else ""
            sentence = sentence or "the tool moves before the length offset of the tool in the spindle is on"
            return row, Mismatch(name.replace(" ", "-"), sentence, line=int(rows.line[row]))
    return None


def heights(rows: Rows, setting: Setting) -> Floats:
    """Height (n + 1,) of the tool at each vertex over the axis of rotation (axis Z: over the centre's height), mm."""
    return np.asarray(rows.vertex[:, 2] - setting.frame.centre_mm[2], dtype=np.float64)


def _high_enough(rows: Rows, setting: Setting) -> Bools:
    height = heights(rows, setting)
    lowest = np.minimum(height[:-1], height[1:])  # NaN, an unknown height, is never high enough
    slack = setting.rounding.linear_mm + _HAIR
    return np.asarray(lowest >= setting.clear_mm - slack)


def _too_fast(rows: Rows, fastest: float, rounding_rad: float) -> Bools:
    # The rounding of a block's two ends may lengthen its turn: that is not F's doing.
    turn = np.maximum(np.abs(np.diff(rows.word_deg)) - 2 * np.degrees(rounding_rad), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = turn / rows.minutes
    return np.asarray(~rows.rapid & (speed > fastest * (1 + PART_IN) + _HAIR))


def rotary_speed(rows: Rows) -> float:
    """The highest speed of rotation that F asks for, degrees per minute; 0 when nothing turns."""
    if rows.stands:
        return 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.abs(np.diff(rows.word_deg)) / rows.minutes
    speed = speed[np.isfinite(speed)]
    return float(speed.max()) if len(speed) else 0.0


@dataclass(frozen=True, slots=True)
class SweptSpace:
    """A box (3,) to (3,) over the axis of rotation, mm, open below, within which the tool's tip may touch the stock.

    About X and Y: the stock's span and its swept radius, both widened by the tool, up to the swept radius. About Z: the swept radius,
    widened by the tool, up to the stock's top.
    """

    low: Floats
    high: Floats
    centre: Floats

    def lowest(self, begin: Floats, end: Floats) -> float:
        """The lowest height, over the axis, of a straight way inside; infinite outside, minus infinite where a height is not known."""
        one, way = begin - self.centre, end - begin
        if isnan(float(begin[2])) or isnan(float(end[2])):
            return -inf
        enter, leave = 0.0, 1.0
        for axis in range(3):
            if isnan(float(way[axis])):
                continue  # where it is not known, it may be over the stock
            if abs(way[axis]) < 1e-12:
                if not self.low[axis] <= one[axis] < self.high[axis]:
                    return inf
                continue
            hits = sorted(((self.low[axis] - one[axis]) / way[axis], (self.high[axis] - one[axis]) / way[axis]))
            enter, leave = max(enter, float(hits[0])), min(leave, float(hits[1]))
        if enter >= leave:
            return inf
        return float(min(one[2] + enter * way[2], one[2] + leave * way[2]))

    def may_hold(self, place: Floats, slack_mm: float) -> bool:
        """Whether the tip may be inside; a coordinate that is not known may be any."""
        over = place - self.centre
        outside = (over < self.low - slack_mm - _HAIR) | (over >= self.high - slack_mm - _HAIR)
        return not outside.any()


def swept_space(setting: Setting, tool: float) -> SweptSpace:
    """The space for the tool of that number; for one that the toolpath does not have, or NaN, for the widest that it has."""
    tools = setting.toolpath.tools
    widths = [one.diameter for one in tools if one.number == tool] or [one.diameter for one in tools]
    wider = max(widths, default=0.0) * setting.scale / 2
    low, high = np.full(3, -inf), np.full(3, inf)
    frame, reach = setting.frame, setting.swept_mm + wider
    if frame.along != 2:
        low[frame.along], high[frame.along] = setting.span_mm[0] - wider, setting.span_mm[1] + wider
        low[frame.lateral], high[frame.lateral] = -reach, reach
    else:
        low[:2], high[:2] = -reach, reach
    high[2] = setting.top_mm
    return SweptSpace(low, high, frame.centre_mm)
