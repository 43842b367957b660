"""Where on the unrolled surface is a point of the part, and which way round is the map?

The map is what one sees looking at the surface from outside, so that text on it reads as it does on the part: along +X to the right with
the angle rising downwards, or along +Y upwards with the angle rising to the right (a developed length y is at the angle -y/r about X, a
developed length x at x/r about Y). About Z it is the view from above.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.geometry import Floats
from steadyrest.simulation import Field


def unrolled(part_mm: Floats, centre_mm: Floats, axis: str) -> Floats:
    """Points (k, 3) of the part frame to the map (k, 2), to the right and up or down as drawn: mm along, degrees from 0 to 360 around."""
    rel = part_mm - centre_mm
    if axis == "Z":
        return rel[:, :2]
    angle = np.arctan2(-rel[:, 1] if axis == "X" else rel[:, 0], rel[:, 2])
    around = np.degrees(np.mod(angle, 2 * np.pi))
    return np.column_stack([rel[:, 0], around] if axis == "X" else [around, rel[:, 1]])


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
