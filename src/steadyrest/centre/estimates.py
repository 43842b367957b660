"""A coordinate with how sure it is: which follows from which touches, and how several touches of one place become one.

Uncertainties are standard uncertainties in the unit of the touches; independent ones add as squares (JCGM 100:2008, the guide to the
expression of uncertainty in measurement, 5.1.2; from memory). The formulas are plain geometry, as taught with centre finding and edge
finding (common practice); the worked values that the tests hold them to are the project's collected set-up arithmetic.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from statistics import fmean, stdev


@dataclass(frozen=True, slots=True)
class Touch:
    """One place, touched once or several times: mean, standard uncertainty of the mean, spread from lowest to highest, how often."""

    value: float
    uncertainty: float
    spread: float = 0.0
    count: int = 1


@dataclass(frozen=True, slots=True)
class Estimate:
    """One coordinate of the axis of rotation, and the way in which it was found."""

    axis: str
    value: float
    uncertainty: float
    how: str


def touched(values: Sequence[float], uncertainty: float) -> Touch:
    """The mean of touches of one place.

    uncertainty   standard uncertainty of one touch; of the mean of n it is the n-th part of the square, and never less than what the
                  touches themselves show (JCGM 100:2008, 4.2.3: the experimental standard deviation of the mean; from memory)
    """
    shown = stdev(values) if len(values) > 1 else 0.0
    return Touch(fmean(values), max(uncertainty, shown) / sqrt(len(values)), max(values) - min(values), len(values))


def top(touch: Touch, diameter: float, diameter_uncertainty: float) -> Estimate:
    """Height of the axis from the top of a bar of known diameter: z - D / 2."""
    return Estimate("Z", touch.value - diameter / 2, hypot(touch.uncertainty, diameter_uncertainty / 2), "top of the bar")


def sides(axis: str, first: Touch, second: Touch) -> Estimate:
    """Middle between two opposite sides touched with the same tool: neither its diameter nor the bar's matters."""
    middle = (first.value + second.value) / 2
    return Estimate(axis, middle, hypot(first.uncertainty, second.uncertainty) / 2, f"two sides in {axis}")


def bar_diameter(first: Touch, second: Touch, tool: float) -> tuple[float, float]:
    """Diameter of the bar from the same two sides, the tool's taken off, and its uncertainty."""
    return abs(second.value - first.value) - tool, hypot(first.uncertainty, second.uncertainty)


def faces(at_0: Touch, at_180: Touch, thickness: float, thickness_uncertainty: float) -> Estimate:
    """Height of the axis from two opposite parallel faces, each touched when on top, half a turn between: (z0 + z180 - T) / 2."""
    value = (at_0.value + at_180.value - thickness) / 2
    uncertainty = sqrt(at_0.uncertainty**2 + at_180.uncertainty**2 + thickness_uncertainty**2) / 2
    return Estimate("Z", value, uncertainty, "two faces, indexed by 180")


def flip(axis: str, at_0: Touch, at_180: Touch) -> Estimate:
    """A coordinate of the axis from one feature of the part, found at 0 and again at 180 degrees: (v0 + v180) / 2."""
    return Estimate(
        axis, (at_0.value + at_180.value) / 2, hypot(at_0.uncertainty, at_180.uncertainty) / 2, f"a feature in {axis}, indexed by 180"
    )
