"""Which rules hold for every block, whatever it is for? Turning, clamp, travel, speed of rotation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.geometry import Floats
from steadyrest.proof.mismatch import Mismatch
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.proof.speed import PART_IN

_HAIR = 1e-6
"""mm or degrees: below every least increment, above the noise of the arithmetic."""


def first_broken_rule(rows: Rows, setting: Setting, clamped: bool | None) -> tuple[int, Mismatch] | None:
    """The first block that breaks a rule, with what it breaks; `clamped` is None before the first clamp code."""
    rotary = setting.rotary
    found: list[tuple[int, Mismatch]] = []

    def note(broken: NDArray[np.bool_], rule: str, sentence: str) -> None:
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


def _high_enough(rows: Rows, setting: Setting) -> NDArray[np.bool_]:
    height = heights(rows, setting)
    lowest = np.minimum(height[:-1], height[1:])  # NaN, an unknown height, is never high enough
    slack = setting.rounding.linear_mm + _HAIR
    return np.asarray(lowest >= setting.clear_mm - slack)


def _too_fast(rows: Rows, fastest: float, rounding_rad: float) -> NDArray[np.bool_]:
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
