"""Which numbers differ at the first difference, and which belong to them: both sides in words, each with its unit."""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, isfinite, isnan, nan

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES
from steadyrest.proof.following import Follower
from steadyrest.proof.laid_out import tool_axes_apart
from steadyrest.proof.rows import tip_ways
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import coordinate_said, feed_word, length, speed


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of both sides, in words with its unit; `asked` is empty where the toolpath says nothing of it. `off`: how far apart."""

    name: str
    asked: str
    found: str
    off: str = ""


def figures_of(
    mismatch: Mismatch, follower: Follower, asked_at: Floats | None, found_at: Floats | None, needed_mm: float | None,
    where: str = "",
) -> tuple[Figure, ...]:  # fmt: skip
    """What is switched, how fast the tool goes, and where it is, as far as that differs or belongs to what does.

    asked_at, found_at, needed_mm, where   as of a `Difference`
    """
    positions = _positions(follower, asked_at, found_at, needed_mm, where)
    return (*_switches(mismatch, follower), *_speeds(mismatch, follower), *positions)


def _positions(follower: Follower, asked_at: Floats | None, found_at: Floats | None, needed_mm: float | None, where: str) -> list[Figure]:
    """X, Y, Z and the rotary's word on both sides, as the program says them."""
    setting = follower.setting
    if found_at is None:
        return []
    rows = []
    for coordinate in range(3 if setting.rotary is None else 4):
        letter = AXES[coordinate] if coordinate < 3 else str(setting.letter)
        sides = [None if side is None or isnan(side[coordinate]) else float(side[coordinate]) for side in (asked_at, found_at)]
        said = ["" if side is None else _said(follower, coordinate, side) for side in sides]
        off = ""
        if sides[0] is not None and sides[1] is not None:
            apart = sides[1] - sides[0]
            if abs(apart) > 1e-9:
                off = angle_text(abs(apart)) if coordinate == 3 else length(setting, abs(apart))
        if coordinate == 2 and needed_mm is not None and sides[1] is not None:
            said[0], off = f"at least {length(setting, needed_mm)}", length(setting, needed_mm - sides[1])
        rows.append(Figure(letter, said[0], said[1] or "not known", off))
    axes = [
        "" if side is None or np.isnan(side[4:]).any() else " ".join(f"{one:.4f}" for one in side[4:].round(4) + 0.0)
        for side in (asked_at, found_at)
    ]
    if len(found_at) > 4 and axes[1]:
        turned = tool_axes_apart(asked_at, found_at) if asked_at is not None else 0.0
        rows.append(Figure("tool axis", axes[0], axes[1], angle_text(turned) if turned > 1e-6 else ""))
    return [Figure("coordinates", where, where), *rows] if where else rows


def angle_text(rad: float) -> str:
    """An angle for people, to ten-thousandths of a degree at the finest."""
    return f"{round(degrees(rad), 4) + 0.0:.10g}°"


def _said(follower: Follower, coordinate: int, value: float) -> str:
    setting, place = follower.setting, np.zeros(4)
    place[coordinate] = value
    if coordinate == 3:
        turns_off = follower.links.turns_off
        return angle_text((value + turns_off) * setting.sigma)
    return (
        length(setting, value)
        if follower.setting.rotary is None or AXES[coordinate] != follower.setting.rotary.replaces
        else coordinate_said(setting, coordinate, place)
    )


def _speeds(mismatch: Mismatch, follower: Follower) -> list[Figure]:
    """The speed of the tip, and what F says, where that is what differs."""
    cursor, setting = follower.cursor, follower.setting
    if mismatch.kind != "feed" or not cursor.at_block:
        return []
    rows, row = cursor.rows, follower.wrong_row if follower.wrong_row is not None else cursor.at
    asked = follower.wrong_feed
    if isnan(asked) and follower.hole is not None:
        asked = follower.hole.feed * setting.scale
    elif isnan(asked) and follower.moves_left is not None and follower.next_move < len(follower.moves_left):
        asked = float(follower.moves_left.feed[follower.next_move])
    ends = slice(row, row + 2)
    way = float(tip_ways(rows.vertex[ends], rows.phi[ends], setting, follower.this.operation.tool)[0])
    minutes = float(rows.minutes[row])
    tip = way / minutes if minutes > 0 else nan
    if not (tip > 0 and isfinite(tip) and asked > 0):
        return []
    off = f"{tip / asked:.3g} times as fast"
    return [
        Figure("speed of the tip", speed(setting, asked), speed(setting, tip), off),
        Figure("F in the program", "", feed_word(rows, row, setting, tip)),
        Figure("length of the block", "", length(setting, way)),
    ]


def _switches(mismatch: Mismatch, follower: Follower) -> list[Figure]:
    """What is switched and what should be, where that is what differs."""
    operation, state, kind = follower.this.operation, follower.cursor.state, mismatch.kind
    off, spindle = "not the same", operation.spindle
    if kind == "tool" and mismatch.rule in ("tool", "tool-stop"):
        return [Figure("tool in the spindle", f"T{operation.tool}", "none" if isnan(state.tool) else f"T{state.tool:g}", off)]
    if kind == "spindle" and mismatch.rule != "spindle-stop-low":
        speeds = f"{spindle.rpm:g} rpm", "not stated" if isnan(state.rpm) else f"{state.rpm:g} rpm"
        ways = spindle.turns if spindle.rpm else "off", "off" if state.spindle == "stop" else state.spindle
        return [
            Figure(name, *sides, off if sides[0] != sides[1] else "")
            for name, sides in (("spindle speed", speeds), ("spindle turns", ways))
        ]
    if kind == "coolant":
        return [Figure("coolant", operation.coolant, " and ".join(sorted(state.coolant)) or "off", off)]
    if mismatch.rule in ("clamp-on", "clamp-off"):
        asked, found = ("on", "off") if mismatch.rule == "clamp-off" else ("off", "on")
        return [Figure("clamp of the rotary", asked, found if state.clamped else "not stated", off)]
    return []
