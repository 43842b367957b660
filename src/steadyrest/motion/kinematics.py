"""Kinematics of one rotary: its sign, where a point of the turned part stands, the angle of a tool axis, unwinding, wrapping.

All angles phi are those by which the part is turned, right-hand positive about the + direction of the axis of rotation.
The word W that a controller is given follows by `phi = sigma(rotary) * W`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.errors import PlanError
from steadyrest.profile import Rotary

Axis = Literal["X", "Y", "Z"]
Point = Sequence[float] | Floats

ACROSS: dict[str, tuple[int, int]] = {"X": (1, 2), "Y": (2, 0), "Z": (0, 1)}
"""The two columns across an axis, in the order in which a right-hand turn runs from the first to the second."""

HALF_TURN_DEG = 1e-6
"""A step this close to half a turn could be meant either way round."""


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

    points    (n, 3) float, part frame; phi_deg (n,) float, or one angle for all, degrees; centre (3,) on the axis, in one length unit
    returns   (n, 3) float, work coordinates
    source    the rotation matrix about a coordinate axis; checked against an independent library in tests/outside
    """
    phi_rad = np.deg2rad(phi_deg)
    cos, sin = np.cos(phi_rad), np.sin(phi_rad)
    u, v = ACROSS[axis]
    out = np.array(points, dtype=np.float64)
    first, second = out[:, u] - centre[u], out[:, v] - centre[v]
    out[:, u] = first * cos - second * sin + centre[u]
    out[:, v] = first * sin + second * cos + centre[v]
    return out


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


def unwound(phi_deg: Floats, before_deg: float) -> Floats:
    """Angles counted on past a full turn, each within half a turn of the one before.

    phi_deg     (n,) float, degrees, in whatever turn
    before_deg  the unwound angle before the first
    returns     (n,) float, degrees: next = before + ((next - before + 180) mod 360) - 180; half a turn goes down
    source      unwinding by the non-negative remainder. Whole turns are added up, exact below 2**53, and the sum of the steps
                is never formed, so ten million steps drift by nothing
    """
    turns = np.floor((np.diff(phi_deg, prepend=before_deg) + 180.0) / 360.0)
    return np.asarray(phi_deg - 360.0 * np.cumsum(turns))


def half_turns(phi_deg: Floats, before_deg: float) -> Bools:
    """Which unwound angles (n,) are half a turn from the one before, so that nobody can say which way round was meant."""
    return np.asarray(np.abs(np.abs(np.diff(phi_deg, prepend=before_deg)) - 180.0) <= HALF_TURN_DEG)


def wrapped_axes(
    points: Floats, diameter: float, start_angle_deg: float, z_from: Literal["surface", "axis"], axis: Axis, centre: Point
) -> tuple[Floats, Floats]:
    """Wrapped coordinates become work coordinates, the tool standing over the axis of rotation, and the part's angle.

    points            (n, 3) float, wrapped coordinates. Axis X: x along the axis, y the developed length, z the height;
                      axis Y: y along the axis, x the developed length, z the height
    diameter          of the cylinder at which developed lengths are true, the unit of the points
    start_angle_deg   where the developed length is 0, degrees round the part, right-hand about the axis
    returns           xyz (n, 3) float, work coordinates; phi_deg (n,) float, degrees, unwound, however many turns it takes
    raises            PlanError when the axis is Z: a tool along the axis of rotation reaches no surface around it
    source            DEVELOPERS.md, Frames and signs: alpha = start - y / r about X, start + x / r about Y; phi = -alpha
    """
    if axis == "Z":
        raise PlanError(
            "nothing can be wrapped around an axis of rotation along Z: the tool is parallel to it",
            cure="wrap around X or Y, or make the operation indexed or still",
        )
    along, developed, sign = (0, 1, 1.0) if axis == "X" else (1, 0, -1.0)
    radius = diameter / 2
    xyz = np.empty((len(points), 3))
    xyz[:, along], xyz[:, developed] = points[:, along], centre[developed]
    phi_deg = points[:, developed] * (sign * (180.0 / (np.pi * radius))) - start_angle_deg
    np.add(points[:, 2], centre[2] + (radius if z_from == "surface" else 0.0), out=xyz[:, 2])
    return xyz, phi_deg


def wrapped_length(d_along: Floats, d_angle_deg: Floats, height0: Floats, height1: Floats) -> Floats:
    """How far the tip travels over the part in straight wrapped moves: helices, spirals, and helices on a cone.

    d_along           (n,) float, way along the axis of rotation, and d_angle_deg, turn of the part
    height0, height1  (n,) float, heights of the tip over the axis of rotation at the start and the end
    source            integral of sqrt(a^2 + (k h)^2) over the move, a^2 = d_along^2 + dh^2, k the turn in radians, h linear
    """
    k = np.abs(d_angle_deg) * (np.pi / 180.0)
    dh = height1 - height0
    a2 = d_along * d_along + dh * dh
    mean = height0 + 0.5 * dh
    # Gauss, three points: with h nearly constant, or a small turn, the root is nearly a straight line, and nothing cancels
    spread = dh * np.sqrt(3.0 / 20.0)
    k2 = k * k
    length = np.sqrt(a2 + k2 * (mean * mean)) * (8.0 / 18.0)
    length += np.sqrt(a2 + k2 * (mean - spread) ** 2) * (5.0 / 18.0)
    length += np.sqrt(a2 + k2 * (mean + spread) ** 2) * (5.0 / 18.0)
    steep = np.flatnonzero((np.abs(dh) > np.maximum(1e-3 * np.abs(mean), 1e-9)) & (k > 1e-2))
    if steep.size:
        # heights that change, in closed form: [h/2 root + a^2/(2k) asinh(k h / a)] / dh
        a2, k, h = a2[steep], k[steep], np.stack([height0, height1])[:, steep]
        lower, upper = h * np.sqrt(a2 + (k * h) ** 2) + a2 / k * np.arcsinh(k * h / np.sqrt(a2))
        length[steep] = (upper - lower) / (2.0 * dh[steep])
    return length
