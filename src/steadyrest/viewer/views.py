"""From where is the part looked at? Directions as a person in front of the machine has them, as its spindle stands.

The person's own frame: to the right, away from them, up. With an upright spindle that is X, Y, Z; with a horizontal one X, -Z, Y.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from steadyrest.columns import Floats

_PERSON: dict[str, Floats] = {"upright": np.eye(3), "horizontal": np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])}
_LOOKS = {
    "front": ("Front", "F", "As you stand in front of the machine", 0.0, 0.0),
    "top": ("Top", "T", "From above", 0.0, pi / 2),
    "right": ("Right", "R", "From your right", pi / 2, 0.0),
    "left": ("Left", "L", "From your left", -pi / 2, 0.0),
    "back": ("Back", "B", "From behind the machine", pi, 0.0),
    "below": ("Below", "U", "From below", 0.0, -pi / 2),
}
CORNER = (-0.6, 0.5)
"""Azimuth and elevation, radians: from the left, somewhat above."""


@dataclass(frozen=True, slots=True)
class Look:
    """One direction to look from: the button's name and title, its key, azimuth and elevation in radians."""

    name: str
    label: str
    title: str
    key: str
    azimuth: float
    elevation: float


def person(stands: str) -> Floats:
    """Rows: what is to the right, away and up for the person, in X, Y, Z. `stands`: how the spindle does."""
    return _PERSON[stands]


def rows(azimuth: float, elevation: float, stands: str) -> Floats:
    """Rows: to the right on the picture, upwards, away from the eye, in X, Y, Z."""
    ahead = np.array([-sin(azimuth), cos(azimuth), 0.0])
    right = np.array([cos(azimuth), sin(azimuth), 0.0])
    up = sin(elevation) * ahead + np.array([0.0, 0.0, cos(elevation)])
    away = cos(elevation) * ahead - np.array([0.0, 0.0, sin(elevation)])
    return np.asarray(np.stack([right, up, away]) @ person(stands))


def looks(axis: str, stands: str) -> tuple[Look, ...]:
    """The buttons: front, top and right, and the ends of the axis of rotation, which are named for it; the corner last."""
    found = []
    for name, (label, key, title, azimuth, elevation) in _LOOKS.items():
        from_there = -rows(azimuth, elevation, stands)[2]
        end = from_there["XYZ".index(axis)]
        if abs(end) > 0.5:
            sign = "+" if end > 0 else "\N{MINUS SIGN}"
            label = f"{label}, {sign}{axis} end" if name in ("front", "top") else f"{sign}{axis} end"
            title += f", from the {'+' if end > 0 else '-'} end of {axis}, the axis of rotation"
        elif name not in ("front", "top", "right"):
            continue
        found.append(Look(name, label, f"{title} ({key})", key.lower(), azimuth, elevation))
    return *found, Look("corner", "Corner", "From the corner (I)", "i", *CORNER)
