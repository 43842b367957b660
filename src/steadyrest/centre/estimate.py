"""A coordinate with how sure it is, and how several touches of one place become one.

Uncertainties are standard uncertainties in the unit of the touches; independent ones add as squares (JCGM 100:2008, the guide to the
expression of uncertainty in measurement, 5.1.2; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
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
