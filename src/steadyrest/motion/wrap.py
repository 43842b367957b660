"""Where does the machine stand for a flat path laid around a cylinder, and how far does the tip travel over the part?"""

from __future__ import annotations

from typing import Literal

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import PlanError
from steadyrest.motion.frames import Axis, Point

ZFrom = Literal["surface", "axis"]


def wrapped_axes(
    points: Floats, diameter: float, start_angle_deg: float, z_from: ZFrom, axis: Axis, centre: Point
) -> tuple[Floats, Floats]:
    """Wrapped coordinates become work coordinates, the tool standing over the axis of rotation, and the part's angle.

    points            (n, 3) float, wrapped coordinates. Axis X: x along the axis, y the developed length, z the height;
                      axis Y: y along the axis, x the developed length, z the height
    diameter          of the cylinder at which developed lengths are true, the unit of the points
    start_angle_deg   where the developed length is 0, degrees round the part, right-hand about the axis
    z_from            what z is measured from: the wrapped "surface" or the "axis" of rotation
    centre            (3,) float, a point on the axis of rotation
    returns           xyz (n, 3) float, work coordinates; phi_deg (n,) float, degrees, unwound, however many turns it takes
    raises            PlanError when the axis is Z: a tool along the axis of rotation reaches no surface around it
    source            DEVELOPERS.md, Frames and signs: alpha = start - y / r about X, start + x / r about Y; phi = -alpha
    """
    radius = diameter / 2
    degrees_per_length = 180.0 / (np.pi * radius)
    xyz = np.empty((len(points), 3))
    if axis == "X":
        xyz[:, 0], xyz[:, 1] = points[:, 0], centre[1]
        phi_deg = points[:, 1] * degrees_per_length - start_angle_deg
    elif axis == "Y":
        xyz[:, 0], xyz[:, 1] = centre[0], points[:, 1]
        phi_deg = points[:, 0] * -degrees_per_length - start_angle_deg
    else:
        raise PlanError(
            "nothing can be wrapped around an axis of rotation along Z: the tool is parallel to it",
            cure="wrap around X or Y, or make the operation indexed or still",
        )
    np.add(points[:, 2], centre[2] + (radius if z_from == "surface" else 0.0), out=xyz[:, 2])
    return xyz, phi_deg


def wrapped_length(d_along: Floats, d_angle_deg: Floats, height0: Floats, height1: Floats) -> Floats:
    """How far the tip travels over the part in straight wrapped moves: helices, spirals, and helices on a cone.

    d_along       (n,) float, way along the axis of rotation
    d_angle_deg   (n,) float, turn of the part, degrees
    height0, height1  (n,) float, heights of the tip over the axis of rotation at the start and the end
    returns       (n,) float, the unit of the lengths
    source        integral of sqrt(a^2 + (k h)^2) over the move, a^2 = d_along^2 + dh^2, k the turn in radians, h linear
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
        length[steep] = _cone_length(a2[steep], k[steep], height0[steep], height1[steep])
    return length


def _cone_length(a2: Floats, k: Floats, h0: Floats, h1: Floats) -> Floats:
    """The same integral in closed form, for heights that change: [h/2 root + a^2/(2k) asinh(k h / a)] / dh."""
    a = np.sqrt(a2)
    upper = h1 * np.sqrt(a2 + (k * h1) ** 2) + a2 / k * np.arcsinh(k * h1 / a)
    lower = h0 * np.sqrt(a2 + (k * h0) ** 2) + a2 / k * np.arcsinh(k * h0 / a)
    return np.asarray((upper - lower) / (2.0 * (h1 - h0)))
