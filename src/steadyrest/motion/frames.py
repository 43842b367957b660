"""Where does a point of the part stand once the rotary has turned, and which angle brings a tool axis upright?

All angles phi are those by which the part is turned, right-hand positive about the + direction of the axis of rotation.
The word W that a controller is given follows by `phi = sigma(rotary) * W`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Floats
from steadyrest.profile.axes import Rotary

Axis = Literal["X", "Y", "Z"]
Point = Sequence[float] | NDArray[np.float64]

ALONG: dict[str, int] = {"X": 0, "Y": 1, "Z": 2}
"""The column of the axis of rotation."""

ACROSS: dict[str, tuple[int, int]] = {"X": (1, 2), "Y": (2, 0), "Z": (0, 1)}
"""The two columns across an axis, in the order in which a right-hand turn runs from the first to the second."""


def sigma(rotary: Rotary) -> int:
    """+1 where a positive command turns the part right-hand about the + direction of its axis, else -1.

    Two facts decide, and nothing else. Whoever looks at a chuck's face looks against the direction in which it faces, so
    a counterclockwise turn is right-hand about that direction; facing - makes it left-hand about the axis.

    source    DEVELOPERS.md, Frames and signs; ISO 841 (a positive A turns a work-carrying table left-hand) is +X, clockwise
    """
    faces_plus = rotary.chuck_faces.startswith("+")
    counterclockwise = rotary.positive_turns_chuck == "counterclockwise"
    return 1 if faces_plus == counterclockwise else -1


def turned(points: Floats, phi_deg: Floats | float, axis: Axis, centre: Point) -> Floats:
    """Where part points stand once the part has turned: c + R(phi) (p - c).

    points    (n, 3) float, any length unit, part frame
    phi_deg   (n,) float, or one angle for all; degrees, right-hand positive about the + direction of the axis
    centre    (3,) float, a point on the axis of rotation
    returns   (n, 3) float, work coordinates
    source    the rotation matrix about a coordinate axis; checked against an independent library in tests/outside
    """
    phi_rad = np.deg2rad(phi_deg)
    cos, sin = np.cos(phi_rad), np.sin(phi_rad)
    u, v = ACROSS[axis]
    out = np.array(points, dtype=np.float64)
    first, second = out[:, u] - centre[u], out[:, v] - centre[v]
    out[:, u] = first * cos
    out[:, u] -= second * sin
    out[:, u] += centre[u]
    first *= sin
    second *= cos
    first += second
    first += centre[v]
    out[:, v] = first
    return out


def turned_back(points: Floats, phi_deg: Floats | float, axis: Axis, centre: Point) -> Floats:
    """The part points that stand at these work coordinates while the part is turned by phi; the inverse of `turned`."""
    return turned(points, np.negative(phi_deg), axis, centre)


def phi_of_tool_axis(tool_axis: Floats, axis: Axis) -> tuple[Floats, Floats]:
    """The angle by which the part must turn so that a tool axis stands upright, and by how much it cannot.

    tool_axis  (n, 3) float, from the tip towards the spindle, part frame; its length does not matter
    returns    phi_deg (n,) float, in (-180, 180];
               miss_deg (n,) float: the angle between the tool axis and what the rotary can reach, 0 where it can.
               About Z nothing but (0, 0, 1) can be reached, and phi is 0.
    source     DEVELOPERS.md, Frames and signs: about X phi = atan2(t_y, t_z), about Y phi = atan2(-t_x, t_z)
    """
    x, y, z = tool_axis[:, 0], tool_axis[:, 1], tool_axis[:, 2]
    if axis == "Z":
        return np.zeros(len(z)), np.rad2deg(np.arctan2(np.sqrt(x * x + y * y), z))
    # adding to 0.0 turns a minus zero into zero, so that straight down is +180 about either axis
    side, off = (0.0 + y, x) if axis == "X" else (0.0 - x, y)
    phi_deg = np.arctan2(side, z)
    phi_deg *= 180.0 / np.pi
    miss_deg = np.zeros(len(z))
    outside = np.flatnonzero(off)
    if outside.size:
        in_plane = np.sqrt(side[outside] ** 2 + z[outside] ** 2)
        miss_deg[outside] = np.rad2deg(np.arctan2(np.abs(off[outside]), in_plane))
    return phi_deg, miss_deg
