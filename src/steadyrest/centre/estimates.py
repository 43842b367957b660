"""From touches to coordinates with their uncertainties, and least squares: a bar's runout from indicator readings, and the centre of the
circle on which a point turns.

Uncertainties are standard uncertainties in the unit of the touches; independent ones add as squares (JCGM 100:2008, the guide to the
expression of uncertainty in measurement, 5.1.2; from memory). The formulas are plain geometry, as taught with centre finding and edge
finding (common practice); the worked values that the tests hold them to are the project's collected set-up arithmetic.
The model m = a + p cos W + q sin W is the least squares reference circle of roundness measurement in its first order (the limacon;
ISO 12181-1 and its forerunner ISO 4291, from memory); with the bar's radius known the second order is put in as well. The circle through
points is fitted by Gauss-Newton on the distances, from the algebraic fit of Kasa (IEEE Trans. Instrum. Meas. 25, 1976; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot, sqrt
from statistics import fmean, stdev

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import InputError

ROUNDS = 50
"""Of Gauss-Newton; a good fit needs five."""
WORST_CONDITION = 200.0
"""Of the equations: beyond it angles or points lie so close together that touching errors become a hundred times larger."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """One coordinate of the axis of rotation, and the way in which it was found; of a mean, the estimates that went into it."""

    axis: str
    value: float
    uncertainty: float
    how: str = ""
    parts: tuple[Estimate, ...] = ()


def touched(values: Sequence[float], uncertainty: float) -> tuple[float, float]:
    """The mean of touches of one place, and its standard uncertainty.

    uncertainty   standard uncertainty of one touch; of the mean of n it is the n-th part of the square, and never less than what the
                  touches themselves show (JCGM 100:2008, 4.2.3: the experimental standard deviation of the mean; from memory)
    """
    shown = stdev(values) if len(values) > 1 else 0.0
    return fmean(values), max(uncertainty, shown) / sqrt(len(values))


def middle(axis: str, first: float, second: float, uncertainty: float, how: str) -> Estimate:
    """Half way between two touches: opposite sides touched with the same tool, or one feature at 0 and again at 180 degrees.

    Neither the tool's diameter nor the bar's matters
    """
    return Estimate(axis, (first + second) / 2, uncertainty / sqrt(2), how)


@dataclass(frozen=True, slots=True)
class Fit:
    """What n readings or points say, by least squares, of the values that were solved for.

    values          of a circle x, y and its radius; of a runout mean, p and q, where two readings alone leave q open
    uncertainties   of the values, standard
    largest         the largest residual by how much of its own error can show in it, with its sign: that of the reading or point `worst`,
                    from 0; 0 where there is nothing left over
    count           n
    """

    values: tuple[float, ...]
    uncertainties: tuple[float, ...]
    residual_rms: float
    largest: float
    worst: int
    count: int


def eccentricity(runout: Fit) -> tuple[float, float] | tuple[None, None]:
    """How far the bar stands off the axis of rotation, and the commanded angle, degrees, at which it stands highest under the indicator.

    None where only one direction of it is known: where there are two readings
    """
    if runout.count == 2:
        return None, None
    _, p, q = runout.values
    return hypot(p, q), degrees(atan2(q, p)) % 360


def runout(angles_deg: Sequence[float], readings: Sequence[float], uncertainty: float, radius: float | None = None) -> Fit:
    """m = mean + p cos W + q sin W, from indicator readings at three angles W or more, or at two that are half a turn apart.

    angles_deg    commanded angles; readings grow as the surface rises towards the indicator
    uncertainty   of one reading, standard; where the residuals show more, that counts
    radius        of the bar, for the second order; None: the first order alone, which is off by the square of the runout by the diameter
    raises        InputError for angles too few or too close together
    """
    angle, reading = np.radians(np.asarray(angles_deg, dtype=np.float64)), np.asarray(readings, dtype=np.float64)
    slopes = np.column_stack([np.ones_like(angle), np.cos(angle), np.sin(angle)])
    if len(angle) == 2:
        first, other = angles_deg
        if abs((other - first) % 360 - 180) > 0.5:
            raise InputError(
                f"two readings at {first:g} and {other:g} degrees do not give the runout: they have to be half a turn apart",
                cure="read at 0 and 180, or at three angles and more, spread over the whole turn",
            )
        if 0.5 < abs(first % 180) < 179.5:
            raise InputError(
                "two readings alone have to be at 0 and 180 degrees, where the bar was touched", cure="read at 0 and 180, or at four angles"
            )
        slopes = slopes[:, :2]
    elif len(angle) < 3 or np.linalg.cond(slopes) > WORST_CONDITION:
        raise InputError(
            "the angles of the readings are too close together to find the runout",
            cure="read at three angles or more, spread over the whole turn: 0, 90, 180, 270",
        )
    across = np.column_stack([np.zeros_like(angle), -np.sin(angle), np.cos(angle)])[:, : slopes.shape[1]]

    def equations(solved: Floats) -> tuple[Floats, Floats]:
        sideways, second = across @ solved, np.zeros_like(reading)
        if radius is not None:
            if float(np.abs(sideways).max()) >= radius:
                raise InputError("the readings differ by more than the bar's radius", cure="check the readings and the diameter")
            second = np.sqrt(radius**2 - sideways**2) - radius
        return slopes, reading - second - slopes @ solved

    return fitted(equations, np.zeros(slopes.shape[1]), uncertainty)


def circle(points: Sequence[tuple[float, float]], uncertainty: float) -> Fit:
    """The circle nearest to points, its centre's coordinates and its radius: where one feature was found at three angles or more.

    raises   InputError for points too few, or on a line, or so close together that they say nothing
    """
    where = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    mean = where.mean(axis=0)
    size = float(np.abs(where - mean).max())
    local = (where - mean) / (size or 1.0)
    matrix = np.column_stack([2 * local, np.ones(len(local))])
    if len(where) < 3 or np.linalg.cond(matrix) > WORST_CONDITION:
        raise InputError(
            "the points are too close together or on a straight line: they fix no circle",
            cure="find the feature at three rotary angles or more, spread over the turn, not near the axis",
        )
    a, b, c = np.linalg.lstsq(matrix, (local**2).sum(axis=1), rcond=None)[0]
    start = np.array([*mean, 0.0]) + size * np.array([a, b, sqrt(max(float(c + a * a + b * b), 1e-30))])

    def equations(solved: Floats) -> tuple[Floats, Floats]:
        away = where - solved[:2]
        distance = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-30)
        return np.column_stack([away / distance[:, None], np.ones(len(where))]), distance - solved[2]

    return fitted(equations, start, uncertainty)


def fitted(equations: Callable[[Floats], tuple[Floats, Floats]], solved: Floats, uncertainty: float) -> Fit:
    """The fit by Gauss-Newton.

    equations     slopes (n, k) and residuals (n,) at the values (k,)
    solved        the values to begin with
    uncertainty   of one reading or point, standard: taken for not less than what the residuals show
    """
    for _ in range(ROUNDS):
        slopes, left = equations(solved)
        solved = solved + np.linalg.lstsq(slopes, left, rcond=None)[0]
    slopes, left = equations(solved)
    inverse: Floats = np.asarray(np.linalg.inv(slopes.T @ slopes), dtype=np.float64)
    free = len(left) - len(solved)
    square = float(left @ left)
    weight = 1.0 - np.einsum("ij,jk,ik->i", slopes, inverse, slopes)
    worst = int(np.argmax(np.abs(left) / np.sqrt(np.maximum(weight, 1e-12))))
    spread = max(uncertainty, sqrt(square / free) if free else 0.0)
    uncertainties = (spread * np.sqrt(np.diag(inverse))).tolist()
    largest = float(left[worst]) if free else 0.0
    return Fit(tuple(solved.tolist()), tuple(uncertainties), sqrt(square / len(left)), largest, worst, len(left))
