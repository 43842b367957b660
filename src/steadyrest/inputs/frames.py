"""How does a part stand when a tool axis, or an angle, says where the tool is? Design: frames and signs.

About X the tool stands at alpha where t = R(alpha) (0, 0, 1) = (0, -sin alpha, cos alpha); about Y t = (sin alpha, 0, cos alpha).
A point p of the part frame has the indexed coordinates q = c + R(-alpha) (p - c): the work coordinates once the part has turned.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def angle_of(axes: Floats, letter: str) -> tuple[Floats, Floats]:
    """alpha and the miss of tool axes (n, 3), both (n,) in degrees: the miss is the angle out of the plane the rotary reaches.

    About Z nothing but (0, 0, 1) can be reached, and alpha is 0.
    """
    x, y, z = axes[:, 0], axes[:, 1], axes[:, 2]
    if letter == "X":
        return np.degrees(np.arctan2(-y, z)), np.degrees(np.arctan2(np.abs(x), np.hypot(y, z)))
    if letter == "Y":
        return np.degrees(np.arctan2(x, z)), np.degrees(np.arctan2(np.abs(y), np.hypot(x, z)))
    return np.zeros(len(axes)), np.degrees(np.arctan2(np.hypot(x, y), z))


def turned(vectors: Floats, alpha_deg: float, letter: str) -> Floats:
    """R(alpha) applied to vectors (n, 3): right-hand round + of the axis of rotation. Quarter turns are exact."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}.get(alpha_deg % 360.0)
    cosine, sine = quarter or (math.cos(math.radians(alpha_deg)), math.sin(math.radians(alpha_deg)))
    first, second = {"X": (1, 2), "Y": (2, 0), "Z": (0, 1)}[letter]
    found = np.array(vectors, dtype=np.float64)
    found[..., first] = cosine * vectors[..., first] - sine * vectors[..., second]
    found[..., second] = sine * vectors[..., first] + cosine * vectors[..., second]
    return found


def indexed_points(points: Floats, alpha_deg: float, letter: str, centre: Floats) -> Floats:
    """Points (n, 3) of the part frame in indexed coordinates at alpha: c + R(-alpha) (p - c)."""
    return centre + turned(points - centre, -alpha_deg, letter)
