"""Where a point of the turned part belongs, and how far the tip of a turning move strays; for the tests of planning."""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.motion.kinematics import Axis, Point, turned


def turned_back(points: Floats, phi_deg: Floats | float, axis: Axis, centre: Point) -> Floats:
    """The part points that stand at these work coordinates while the part is turned by phi."""
    return turned(points, np.negative(phi_deg), axis, centre)


def measured_deviation(
    tip0: Floats, tip1: Floats, phi0_deg: Floats, phi1_deg: Floats, axis: Axis, centre: Point, samples: int = 33
) -> Floats:
    """How far the tip really strays from its line when the axes move linearly, measured at evenly spaced points.

    tip0, tip1            (n, 3) float, part frame, ends of each block
    phi0_deg, phi1_deg    (n,) float, the part's angle at both ends, degrees, unwound
    samples               points looked at within each block
    returns               (n,) float: the greatest distance of the tip from the straight segment
    """
    start, end = turned(tip0, phi0_deg, axis, centre), turned(tip1, phi1_deg, axis, centre)
    line = tip1 - tip0
    square = np.einsum("ij,ij->i", line, line)
    square = np.where(square > 0.0, square, 1.0)
    worst = np.zeros(len(tip0))
    for u in np.linspace(0.0, 1.0, samples + 2)[1:-1]:
        tip = turned_back(start + u * (end - start), phi0_deg + u * (phi1_deg - phi0_deg), axis, centre)
        off = tip - tip0
        foot = np.clip(np.einsum("ij,ij->i", off, line) / square, 0.0, 1.0)
        off -= foot[:, np.newaxis] * line
        np.maximum(worst, np.sqrt(np.einsum("ij,ij->i", off, off)), out=worst)
    return worst
