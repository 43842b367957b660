"""How is the part shown? From where it is looked at, unrolled as a map, and in which colours.

Directions are those of a person in front of the machine, as its spindle stands. The person's own frame: to the right, away from them, up.
With an upright spindle that is X, Y, Z; with a horizontal one X, -Z, Y.

The map is what one sees looking at the surface from outside, so that text on it reads as it does on the part: along +X to the right with
the angle rising downwards, or along +Y upwards with the angle rising to the right (a developed length y is at the angle -y/r about X, a
developed length x at x/r about Y). About Z it is the view from above. Lengths are coordinates of the part frame, angles are alpha.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.proof import Setting
from steadyrest.simulation import Field

OPERATION_COLOURS = ("#0072b2", "#e69f00", "#009e73", "#cc79a7", "#56b4e9", "#d55e00", "#f0e442")
"""Seven of the eight colours of M. Okabe and K. Ito, Color Universal Design, 2008, in an order in which neighbours differ in lightness;
black is left to the text. They are used again from the start for the eighth operation, and the operation's number always stands beside."""
SKIN_COLOUR = "#a7abb0"
"""What no tool has cut."""
RAPID_COLOUR = "#8a8f98"
CHUCK_COLOUR = "#4a4f57"
NOT_COMPARED_COLOUR = "#665f6e"
"""What the program does after the first difference: dark, so that nobody takes it for an operation."""
TURN_DEG = 360.0
PERSON: dict[str, Floats] = {"upright": np.eye(3), "horizontal": np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])}
"""Rows: what is to the right, away and up for the person, in X, Y, Z; by how the spindle stands."""
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


def channels(colours: Sequence[str]) -> Floats:
    """Colours `#rrggbb` as red, green and blue (c, 3) from 0 to 1."""
    return np.array([list(bytes.fromhex(one[1:])) for one in colours]) / 255


@dataclass(frozen=True, slots=True)
class Look:
    """One direction to look from: the button's name and title, its key, azimuth and elevation in radians."""

    name: str
    label: str
    title: str
    key: str
    azimuth: float
    elevation: float


def rows(azimuth: float, elevation: float, stands: str) -> Floats:
    """Rows: to the right on the picture, upwards, away from the eye, in X, Y, Z."""
    ahead = np.array([-sin(azimuth), cos(azimuth), 0.0])
    right = np.array([cos(azimuth), sin(azimuth), 0.0])
    up = sin(elevation) * ahead + np.array([0.0, 0.0, cos(elevation)])
    away = cos(elevation) * ahead - np.array([0.0, 0.0, sin(elevation)])
    return np.asarray(np.stack([right, up, away]) @ PERSON[stands])


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


def unrolled(part_mm: Floats, centre_mm: Floats, axis: str) -> Floats:
    """Points (k, 3) of the part frame to the map (k, 2), to the right and up or down as drawn: mm along, degrees from 0 to 360 around."""
    if axis == "Z":
        return part_mm[:, :2]
    rel = part_mm - centre_mm
    angle = np.arctan2(-rel[:, 1] if axis == "X" else rel[:, 0], rel[:, 2])
    around = np.degrees(np.mod(angle, 2 * np.pi))
    return np.column_stack([part_mm[:, 0], around] if axis == "X" else [around, part_mm[:, 1]])


def spans(field: Field, setting: Setting) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where the field's cells lie on the map: file units of the part frame along its first coordinate, and along the second
    too (heights) or degrees (radii), where the map goes on: the same cells lie a turn on and a turn back.

    Here alone a field's second coordinate becomes the angle of a drawing; page and picture both take it from here.
    """
    centre, scale, half = setting.frame.centre_mm, setting.scale, field.first_step_mm / 2
    along = float(centre[1 if field.axis == "Y" else 0])
    first = (field.first_mm[0] - half + along) / scale, (field.first_mm[-1] + half + along) / scale
    half = field.second_step / 2
    if field.chart == "radii":
        begin = float(np.degrees(field.second[0] - half))
        return first, (begin, begin + TURN_DEG)
    return first, ((field.second[0] - half + centre[1]) / scale, (field.second[-1] + half + centre[1]) / scale)


def lit_map(field: Field, last_cut: NDArray[np.uint16], colours: Floats, middle_mm: float) -> Floats:
    """The field as a picture (rows from above, columns, 4), each cell in the colour of its operation, lit from the upper left.

    colours     (c, 3) from 0 to 1, by number of operation
    middle_mm   the radius at which a step in angle counts as a length
    """
    outer = field.outer_mm.astype(np.float64)
    across = field.second_step * middle_mm if field.chart == "radii" else field.second_step
    along = np.gradient(outer, field.first_step_mm, axis=0)
    if field.chart == "radii":
        around = (np.roll(outer, -1, axis=1) - np.roll(outer, 1, axis=1)) / (2 * across)
    else:
        around = np.gradient(outer, across, axis=1)
    upright = field.axis == "Y"
    to_right, upwards = (around, along) if upright else (along, -around) if field.axis == "X" else (along, around)
    bright = 0.42 + 0.62 * np.maximum(0.0, (0.45 * to_right - 0.55 * upwards + 0.9) / np.sqrt(1 + to_right**2 + upwards**2))
    picture = np.empty((*outer.shape, 4))
    picture[..., :3] = np.clip(colours[last_cut] * bright[..., None], 0, 1)
    picture[..., 3] = outer > 0
    if upright:
        return picture[::-1]
    turned = picture.transpose(1, 0, 2)
    return turned if field.axis == "X" else turned[::-1]
