"""Where on the unrolled surface is a point of the part, and which way round is the map?

The map is what one sees looking at the surface from outside, so that text on it reads as it does on the part: along +X to the right with
the angle rising downwards, or along +Y upwards with the angle rising to the right (a developed length y is at the angle -y/r about X, a
developed length x at x/r about Y). About Z it is the view from above. Lengths are coordinates of the part frame, angles are alpha.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.simulation import Field

TURN_DEG = 360.0


def unrolled(part_mm: Floats, centre_mm: Floats, axis: str) -> Floats:
    """Points (k, 3) of the part frame to the map (k, 2), to the right and up or down as drawn: mm along, degrees from 0 to 360 around."""
    if axis == "Z":
        return part_mm[:, :2]
    rel = part_mm - centre_mm
    angle = np.arctan2(-rel[:, 1] if axis == "X" else rel[:, 0], rel[:, 2])
    around = np.degrees(np.mod(angle, 2 * np.pi))
    return np.column_stack([part_mm[:, 0], around] if axis == "X" else [around, part_mm[:, 1]])


def spans(field: Field, centre_mm: Floats) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where the field's cells lie on the map: mm of the part frame along its first coordinate, and along the second one mm
    too (heights) or degrees (radii), where the map goes on: the same cells lie a turn on and a turn back.

    Here alone a field's second coordinate becomes the angle of a drawing; page and picture both take it from here.
    """
    radii = field.chart == "radii"
    along, across = (float(centre_mm[1]), 0.0) if field.axis == "Y" else (float(centre_mm[0]), float(centre_mm[1]))
    half = field.first_step_mm / 2
    first = field.first_mm[0] - half + along, field.first_mm[-1] + half + along
    if radii:
        begin = float(np.degrees(field.second[0] - field.second_step / 2))
        return first, (begin, begin + TURN_DEG)
    half = field.second_step / 2
    return first, (field.second[0] - half + across, field.second[-1] + half + across)


def mm_per_degree(radius_mm: float) -> float:
    """How long a degree is on the surface, so that a map can be drawn with one scale along and around."""
    return float(np.radians(radius_mm))


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
