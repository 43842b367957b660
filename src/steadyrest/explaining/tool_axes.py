"""What do the angles of a chain's rotaries mean: where the tool points in the part, by which of two solutions, in which plane?"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.explaining.model import Settings
from steadyrest.motion import solutions, tool_axis
from steadyrest.profile import axis_in_words
from steadyrest.toolpath import Indexed

SAME_DEG = 1e-4
"""Angles and tool axes that differ by less are the same: about what a rotary word shows."""


def turn_in_words(letter: str, settings: Settings, w_deg: float) -> str:
    """Which way a word turns what the rotary carries, and by how much."""
    line = settings.lines[settings.form.rotary_letters.index(letter)]
    turned_deg = -line.sign * w_deg if line.carries_part else line.sign * w_deg
    rotary = settings.rotaries[letter]
    about = f"+{rotary.along}" if rotary.leans is None else f"+ of {axis_in_words(rotary)}"
    hand = "right-hand" if turned_deg >= 0 else "left-hand"
    return f"the {'part' if line.carries_part else 'tool'} is turned {trimmed(abs(turned_deg))} degrees {hand} about {about}"


def tool_axis_in_words(stands_deg: Floats, settings: Settings) -> str:
    """Where the tool points in the part, all rotaries standing at (r,) degrees, and how else it could; empty where one is not known."""
    axis = _tool_axis(stands_deg, settings)
    if axis is None:
        return ""
    letters = settings.form.rotary_letters
    found = solutions(axis[None], settings.lines)
    says = f"the tool axis in the part is ({', '.join(trimmed(value) for value in axis)})"
    if found.free[0] and len(letters) > 1:
        return f"{says}, along the line of {letters[0]}: at this pole {letters[0]} is free"
    for alpha in found.alpha_rad[:, 0]:
        other = np.rad2deg(alpha) * [line.sign for line in settings.lines]
        off = (other - stands_deg + 180.0) % 360.0 - 180.0
        if np.abs(off).max() > SAME_DEG:
            at = ", ".join(f"{letter} {trimmed((w + 180.0) % 360.0 - 180.0)}" for letter, w in zip(letters, other, strict=True))
            says += f", by one of two solutions; the other is {at}"
    return says


def head_turned(stands_deg: Floats, settings: Settings) -> list[str]:
    """The rotaries that carry the tool and stand elsewhere than at 0, by their letters; one that is not known does not count."""
    stand = zip(settings.form.rotary_letters, settings.lines, stands_deg.tolist(), strict=False)
    return [letter for letter, line, w_deg in stand if not line.carries_part and abs(w_deg) > SAME_DEG]


def place_in_words(stands_deg: Floats, rotary: Indexed, settings: Settings) -> str:
    """Which of an operation's angles or planes have the tool axis at which the rotaries stand; empty where none has."""
    axis = _tool_axis(stands_deg, settings)
    angles, planes = rotary.angles or (), rotary.planes or ()
    z = [_at_angle(np.deg2rad(angle), settings.axis) for angle in angles] + [plane.axes[:, 2] for plane in planes]
    found = [at for at, each in enumerate(z) if axis is not None and np.linalg.norm(each - axis) < np.deg2rad(SAME_DEG)]
    if not found:
        return ""
    if angles:
        numbers = " or ".join(f"{angles[at]:g} (number {at + 1} of {len(angles)})" for at in found)
        return f", for the angle {numbers} of the toolpath"
    return f", in plane {' or '.join(str(at + 1) for at in found)} of {len(planes)}"


def _at_angle(alpha_rad: float, axis: str) -> Floats:
    """The tool axis (3,) at an angle about X, Y or Z of the part."""
    sin, cos = np.sin(alpha_rad), np.cos(alpha_rad)
    return np.array({"X": (0.0, -sin, cos), "Y": (sin, 0.0, cos), "Z": (0.0, 0.0, 1.0)}[axis])


def _tool_axis(stands_deg: Floats, settings: Settings) -> Floats | None:
    if np.isnan(stands_deg).any() or not settings.lines:
        return None
    alpha = np.deg2rad(stands_deg) * [line.sign for line in settings.lines]
    return np.asarray(tool_axis(alpha[None], settings.lines)[0])


def trimmed(value: float) -> str:
    """Six decimals at most: what was asked before it was rounded."""
    return f"{round(float(value), 6) + 0.0:.6f}".rstrip("0").rstrip(".")
