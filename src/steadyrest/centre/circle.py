"""Least squares: the runout of a bar from indicator readings at several angles, and the centre of the circle on which a point turns.

Sources: the model m = a + p cos W + q sin W is the least squares reference circle of roundness measurement in its first order (the limacon;
ISO 12181-1 and its forerunner ISO 4291, from memory); with the bar's radius known the second order is put in as well. The circle through
points is fitted by Gauss-Newton on the distances, from the algebraic fit of Kasa (IEEE Trans. Instrum. Meas. 25, 1976; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot, sqrt

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import InputError

ROUNDS = 50
WORST_CONDITION = 200.0
"""Of the equations: beyond it angles or points lie so close together that touching errors become a hundred times larger."""


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
    if abs(angle % 180) > 0.5 and abs(angle % 180) < 179.5:
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
    spread, worst, rms, inverse = _left_over(reading - second - matrix @ solved, matrix, uncertainty)
    return Runout(
        mean=float(solved[0]),
        cos=float(solved[1]),
        sin=float(solved[2]),
        uncertainty=spread * sqrt(float(max(inverse[1, 1], inverse[2, 2]))),
        residual_rms=rms,
        largest=worst[1],
        largest_at=float(angles_deg[worst[0]]) if len(angle) > 3 else None,
        count=len(angle),
    )


def circle(points: Sequence[tuple[float, float]], uncertainty: float) -> Circle:
    """The circle nearest to points: where one feature of the part was found at three rotary angles or more.

    raises   InputError for points too few, or on a line, or so close together that they say nothing
    """
    where = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    mean = where.mean(axis=0) if len(where) else np.zeros(2)
    size = float(np.abs(where - mean).max()) if len(where) else 0.0
    too_few = InputError(
        "the points are too close together or on a straight line: they fix no circle",
        cure="find the feature at three rotary angles or more, spread over the turn, not near the axis",
    )
    if len(where) < 3 or size == 0:
        raise too_few
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
    spread, worst, rms, inverse = _left_over(size * left, slope, uncertainty)
    return Circle(
        centre=(float(mean[0] + size * solved[0]), float(mean[1] + size * solved[1])),
        radius=float(size * solved[2]),
        uncertainty=(spread * sqrt(float(inverse[0, 0])), spread * sqrt(float(inverse[1, 1]))),
        residual_rms=rms,
        largest=worst[1],
        largest_at=worst[0],
        count=len(local),
    )


def _circle_equations(points: Floats, solved: Floats) -> tuple[Floats, Floats]:
    """Slopes (n, 3) of the distances by centre and radius, and what is left (n,)."""
    away = points - solved[:2]
    distance = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-30)
    slope = np.column_stack([-away / distance[:, None], -np.ones(len(points))])
    return -slope, distance - solved[2]


def _left_over(left: Floats, matrix: Floats, uncertainty: float) -> tuple[float, tuple[int, float], float, Floats]:
    """What n residuals of a fit with the equations (n, 3) say.

    returns   standard uncertainty of one value, not less than what the residuals show; which fits worst, each residual by how much of its
              own error can show in it, and by how much (0 for three equations, which leave nothing over); their root mean square; and the
              inverse (3, 3) of the normal equations, by which uncertainties spread to what is solved for
    """
    inverse: Floats = np.asarray(np.linalg.inv(matrix.T @ matrix), dtype=np.float64)
    free = len(left) - 3
    square = float(left @ left)
    weight = 1.0 - np.einsum("ij,jk,ik->i", matrix, inverse, matrix)
    worst = int(np.argmax(np.abs(left) / np.sqrt(np.maximum(weight, 1e-12))))
    spread = max(uncertainty, sqrt(square / free) if free else 0.0)
    return spread, (worst, float(left[worst]) if free else 0.0), sqrt(square / len(left)), inverse
