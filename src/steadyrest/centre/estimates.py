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

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot, sqrt
from statistics import fmean, stdev

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import InputError

ROUNDS = 50
WORST_CONDITION = 200.0
"""Of the equations: beyond it angles or points lie so close together that touching errors become a hundred times larger."""


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


def middle(axis: str, first: float, second: float, uncertainty: float, how: str) -> Estimate:
    """Half way between two touches: opposite sides touched with the same tool, or one feature at 0 and again at 180 degrees.

    Neither the tool's diameter nor the bar's matters
    """
    return Estimate(axis, (first + second) / 2, uncertainty / sqrt(2), how)


@dataclass(frozen=True, slots=True)
class Runout:
    """What the indicator says: m = mean + cos * cos W + sin * sin W, W the commanded angle.

    mean          the part of the readings that does not turn
    cos, sin      what turns; sin is None where two readings half a turn apart leave it open
    uncertainty   of cos and of sin, standard
    largest       the largest residual, with its sign, and the angle of its reading; 0 and None where there is none left over
    """

    mean: float
    cos: float
    sin: float | None
    uncertainty: float
    residual_rms: float
    largest: float
    largest_at: float | None
    count: int

    @property
    def eccentricity(self) -> float | None:
        """How far the bar stands off the axis of rotation; None where only one direction of it is known."""
        return None if self.sin is None else hypot(self.cos, self.sin)

    @property
    def highest_at_deg(self) -> float | None:
        """The commanded angle at which the bar stands highest under the indicator."""
        return None if self.sin is None else degrees(atan2(self.sin, self.cos)) % 360


@dataclass(frozen=True, slots=True)
class Circle:
    """centre (2,), radius, standard uncertainties of the centre's two coordinates, and what is left over."""

    centre: tuple[float, float]
    radius: float
    uncertainty: tuple[float, float]
    residual_rms: float
    largest: float
    largest_at: int
    count: int


def two_readings(first: tuple[float, float], second: tuple[float, float], uncertainty: float) -> Runout:
    """Indicator readings at two angles half a turn apart: (m0 - m180) / 2 turns, (m0 + m180) / 2 does not.

    raises   InputError for angles that are not half a turn apart
    """
    (angle, m0), (other, m180) = first, second
    if abs((other - angle) % 360 - 180) > 0.5:
        raise InputError(
            f"two readings at {angle:g} and {other:g} degrees do not give the runout: they have to be half a turn apart",
            cure="read at 0 and 180, or at three angles and more, spread over the whole turn",
        )
    if 0.5 < abs(angle % 180) < 179.5:
        raise InputError(
            "two readings alone have to be at 0 and 180 degrees, where the bar was touched", cure="read at 0 and 180, or at four angles"
        )
    if round(angle / 180) % 2:
        m0, m180 = m180, m0
    return Runout((m0 + m180) / 2, (m0 - m180) / 2, None, uncertainty / sqrt(2), 0.0, 0.0, None, 2)


def runout(angles_deg: Sequence[float], readings: Sequence[float], uncertainty: float, radius: float | None = None) -> Runout:
    """Indicator readings at three angles or more.

    angles_deg    commanded angles; readings grow as the surface rises towards the indicator
    uncertainty   of one reading, standard; where the residuals show more, that counts
    radius        of the bar, for the second order; None: the first order alone, which is off by the square of the runout by the diameter
    raises        InputError for angles too few or too close together
    """
    angle, reading = np.radians(np.asarray(angles_deg, dtype=np.float64)), np.asarray(readings, dtype=np.float64)
    matrix = np.column_stack([np.ones_like(angle), np.cos(angle), np.sin(angle)])
    if len(angle) < 3 or np.linalg.cond(matrix) > WORST_CONDITION:
        raise InputError(
            "the angles of the readings are too close together to find the runout",
            cure="read at three angles or more, spread over the whole turn: 0, 90, 180, 270",
        )
    second = np.zeros_like(reading)
    solved = np.zeros(3)
    for _ in range(ROUNDS if radius is not None else 1):
        before = solved
        solved = np.linalg.lstsq(matrix, reading - second, rcond=None)[0]
        if radius is None or float(np.abs(solved - before).max()) < 1e-15:
            break
        sideways = -solved[1] * np.sin(angle) + solved[2] * np.cos(angle)
        if float(np.abs(sideways).max()) >= radius:
            raise InputError("the readings differ by more than the bar's radius", cure="check the readings and the diameter")
        second = np.sqrt(radius**2 - sideways**2) - radius
    at, largest, rms, each = _left_over(reading - second - matrix @ solved, matrix, uncertainty)
    mean, cos, sin = map(float, solved)
    return Runout(mean, cos, sin, max(each[1:]), rms, largest, float(angles_deg[at]) if len(angle) > 3 else None, len(angle))


def circle(points: Sequence[tuple[float, float]], uncertainty: float) -> Circle:
    """The circle nearest to points: where one feature of the part was found at three rotary angles or more.

    raises   InputError for points too few, or on a line, or so close together that they say nothing
    """
    too_few = InputError(
        "the points are too close together or on a straight line: they fix no circle",
        cure="find the feature at three rotary angles or more, spread over the turn, not near the axis",
    )
    where = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    if len(where) < 3 or not np.ptp(where, axis=0).any():
        raise too_few
    mean = where.mean(axis=0)
    size = float(np.abs(where - mean).max())
    local = (where - mean) / size
    matrix = np.column_stack([2 * local, np.ones(len(local))])
    if np.linalg.cond(matrix) > WORST_CONDITION:
        raise too_few
    a, b, c = np.linalg.lstsq(matrix, (local**2).sum(axis=1), rcond=None)[0]
    solved = np.array([a, b, sqrt(max(float(c + a * a + b * b), 1e-30))])
    for _ in range(ROUNDS):
        slope, left = _circle_equations(local, solved)
        step = np.linalg.lstsq(slope, left, rcond=None)[0]
        solved = solved + step
        if float(np.abs(step).max()) < 1e-14:
            break
    slope, left = _circle_equations(local, solved)
    at, largest, rms, each = _left_over(size * left, slope, uncertainty)
    x, y = map(float, mean + size * solved[:2])
    return Circle((x, y), float(size * solved[2]), (each[0], each[1]), rms, largest, at, len(local))


def _circle_equations(points: Floats, solved: Floats) -> tuple[Floats, Floats]:
    """Slopes (n, 3) of the distances by centre and radius, and what is left (n,)."""
    away = points - solved[:2]
    distance = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-30)
    return np.column_stack([away / distance[:, None], np.ones(len(points))]), distance - solved[2]


def _left_over(left: Floats, matrix: Floats, uncertainty: float) -> tuple[int, float, float, list[float]]:
    """What n residuals of a fit with the equations (n, 3) say.

    returns   which fits worst, each residual by how much of its own error can show in it, and by how much (0 for three equations, which
              leave nothing over); their root mean square; and the standard uncertainty of each of the three that were solved for, where
              that of one value is not less than what the residuals show
    """
    inverse: Floats = np.asarray(np.linalg.inv(matrix.T @ matrix), dtype=np.float64)
    free = len(left) - 3
    square = float(left @ left)
    weight = 1.0 - np.einsum("ij,jk,ik->i", matrix, inverse, matrix)
    worst = int(np.argmax(np.abs(left) / np.sqrt(np.maximum(weight, 1e-12))))
    spread = max(uncertainty, sqrt(square / free) if free else 0.0)
    return worst, float(left[worst]) if free else 0.0, sqrt(square / len(left)), (spread * np.sqrt(np.diag(inverse))).tolist()
