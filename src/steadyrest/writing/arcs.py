"""How arcs are said so that they are still the same arcs once every number is rounded.

A controller works an arc out from rounded numbers: the start and end as written, and the centre as written. Start and end radius
may then differ by 0.002 mm at most (NISTIR 6556 section 3.5.3.2), so the centre is rounded to whichever near count serves that
best; and an arc shorter than the rounding could turn into nearly a whole circle, or a whole circle into nothing, so both are looked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Codes, Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion import ARC_COUNTERCLOCKWISE, LINE, XZ
from steadyrest.writing.dialect import PLANE_AXES, Dialect

RADIUS_TOLERANCE_MM, RADIUS_TOLERANCE_INCH = 0.002, 0.0002
"""Largest difference between start and end radius: NISTIR 6556 section 3.5.3.2."""

SAME_PLACE = 1e-7
"""Start and end closer than this, in program units, are one place: the arc is a full circle. Far below any least increment."""

SAME_DIRECTION = 1e-6
"""Start and end closer than this angle, in radians, as seen from the centre as written: nobody can tell a whole turn from none."""

RADIUS_FORM_COUNTS = 10
"""How many counts the middle of an arc said by its radius may stray. Up to 165 degrees, the safe range of NISTIR 6556
section 3.5.3.1, rounding alone stays below; close to 180 degrees it does not, and the arc is refused."""

_NEAR = np.stack(np.meshgrid(np.arange(-2, 3), np.arange(-2, 3)), axis=-1).reshape(-1, 2)
_NEAR = _NEAR[np.argsort(np.abs(_NEAR).max(axis=1), kind="stable")]
_NEAREST = _NEAR[:9]


@dataclass(slots=True)
class Arcs:
    """Arcs on their way to become words, one row an arc.

    motion       (m,) uint8, as asked
    plane        (m,) uint8
    start, end   (m, 3) float64, as asked, program units
    centre       (m, 3) float64, as asked, program units
    start_counts, end_counts   (m, 3) int64, as written, in counts of the axis words
    move         (m,) int64, for messages
    """

    motion: Codes
    plane: Codes
    start: Floats
    end: Floats
    centre: Floats
    start_counts: Ints
    end_counts: Ints
    move: Ints


@dataclass(slots=True)
class ArcWords:
    """What to write for each arc.

    straight   (m,) bool: shorter or smaller than the rounding, to be written as a straight line
    closed     (m,) bool: a whole circle, whose end must be written exactly as its start
    centre     (m, 3) int64, counts of I, J, K
    has        (m, 3) bool: which of I, J, K are written
    radius     (m,) int64, counts of R, negative above 180 degrees; None unless arcs are said by their radius
    """

    straight: NDArray[np.bool_]
    closed: NDArray[np.bool_]
    centre: Ints
    has: NDArray[np.bool_]
    radius: Ints | None


def arc_words(arcs: Arcs, dialect: Dialect) -> ArcWords:
    """The words of arcs. PlanError for an arc that rounding would spoil, naming its move."""
    m = len(arcs.motion)
    by_radius = dialect.profile.arcs.form == "radius"
    words = ArcWords(
        np.zeros(m, bool),
        np.zeros(m, bool),
        np.zeros((m, 3), np.int64),
        np.zeros((m, 3), bool),
        np.zeros(m, np.int64) if by_radius else None,
    )
    for plane in range(3):
        rows = np.flatnonzero(arcs.plane == plane)
        if len(rows):
            _in_plane(arcs, rows, plane, dialect, words)
    return words


def _in_plane(arcs: Arcs, rows: Ints, plane: int, dialect: Dialect, words: ArcWords) -> None:
    axes = np.array(PLANE_AXES[plane])
    spelled = {axis.column: axis.spelled for axis in dialect.axes if axis.column < 3}
    if not set(PLANE_AXES[plane]) <= spelled.keys():
        raise PlanError("an arc needs the axis whose drive turns the rotary", cure="write the path without arcs in that plane")
    scales = np.array([spelled[axis].scale for axis in axes], dtype=np.float64)
    start, end, centre = (values[np.ix_(rows, axes)] for values in (arcs.start, arcs.end, arcs.centre))
    if not (np.isfinite(start).all() and np.isfinite(end).all() and np.isfinite(centre).all()):
        raise PlanError("an arc starts, ends or turns where the position is not known", cure="state the position before the arc")
    # Counterclockwise as seen from the + end of the third axis runs from the first to the second axis in XY and YZ, but from Z to X in XZ.
    turning = np.where(arcs.motion[rows] == ARC_COUNTERCLOCKWISE, 1.0, -1.0) * (-1.0 if plane == XZ else 1.0)
    sweep = swept(start - centre, end - centre, turning)
    sweep[np.hypot(*(end - start).T) < SAME_PLACE] = 2 * np.pi
    first, last = arcs.start_counts[np.ix_(rows, axes)], arcs.end_counts[np.ix_(rows, axes)]
    together = (first == last).all(axis=1)
    closed = (sweep == 2 * np.pi) | (together & (sweep > np.pi))
    straight = together & ~closed
    start_written = first / scales
    end_written = np.where(closed[:, None], start_written, last / scales)
    open_rows = ~(closed | straight)
    if words.radius is not None:
        if closed.any():
            raise PlanError("a full circle has no centre when arcs are said by their radius", cure="set arcs.full_circles to false")
        counts = _radius_counts(start - centre, start_written, end_written, sweep, dialect, arcs.move[rows], straight)
        words.radius[rows] = np.where(sweep > np.pi, -counts, counts)
    else:
        counts, place = _centre_counts(centre, start_written, end_written, axes, dialect, arcs.move[rows])
        no_radius = (np.hypot(*(start_written - place).T) == 0) | (np.hypot(*(end_written - place).T) == 0)
        said = swept(start_written - place, end_written - place, turning)
        # Rounding put the end over the start as seen from the centre, or across it: a controller would take next to nothing for a
        # circle, or a circle for next to nothing.
        doubtful = open_rows & ((np.minimum(said, 2 * np.pi - said) < SAME_DIRECTION) | (np.abs(said - sweep) > np.pi))
        straight |= no_radius | (doubtful & (sweep < np.pi))
        closed |= doubtful & ~straight
        words.centre[np.ix_(rows, axes)] = counts
        words.has[np.ix_(rows, axes)] = ~straight[:, None]
    words.closed[rows] = closed & ~straight
    words.straight[rows] = straight


def swept(start: Floats, end: Floats, turning: Floats) -> Floats:
    """The angle in radians, 0 to 2 pi, from one vector to the other; (m, 2) each, turning (m,) +1 from the first axis to the second."""
    turned = np.arctan2(end[:, 1], end[:, 0]) - np.arctan2(start[:, 1], start[:, 0])
    return np.asarray(np.mod(turning * turned, 2 * np.pi))


def radius_tolerance(dialect: Dialect) -> float:
    """How much start and end radius may differ, program units."""
    return RADIUS_TOLERANCE_INCH if dialect.inch else RADIUS_TOLERANCE_MM


def _centre_counts(centre: Floats, start: Floats, end: Floats, axes: Ints, dialect: Dialect, move: Ints) -> tuple[Ints, Floats]:
    """Counts of the two centre words, and where they put the centre: (m, 2) int64 and (m, 2) float64 program units."""
    scales = np.array([dialect.centre[axis].scale for axis in axes], dtype=np.float64)
    origin = start if dialect.profile.arcs.centre_is == "incremental" else np.zeros_like(start)
    nearest = np.rint((centre - origin) * scales).astype(np.int64)
    tolerance = radius_tolerance(dialect)
    counts, place, mismatch = _best(nearest, _NEAREST, centre, origin, start, end, scales, tolerance)
    bad = np.flatnonzero(mismatch > 0.5 * tolerance)
    if len(bad):
        counts[bad], place[bad], mismatch[bad] = _best(
            nearest[bad], _NEAR, centre[bad], origin[bad], start[bad], end[bad], scales, tolerance
        )
    wrong = np.flatnonzero(mismatch > tolerance)
    if len(wrong):
        raise PlanError(
            f"an arc (move {move[wrong[0]]}) cannot be said: rounding makes its start and end radius differ by "
            f"{mismatch[wrong[0]]:.4f}, and {tolerance:g} is allowed",
            cure="give the numbers of axes and centres more decimals, or set arcs.form to 'none'",
        )
    return counts, place


def _best(
    nearest: Ints, near: Ints, centre: Floats, origin: Floats, start: Floats, end: Floats, scales: Floats, tolerance: float
) -> tuple[Ints, Floats, Floats]:
    """Of the counts around the nearest ones, those closest to the centre whose radii agree within half the tolerance."""
    candidates = nearest[:, None, :] + near[None, :, :]
    places = origin[:, None, :] + candidates / scales
    mismatches = np.abs(np.hypot(*np.moveaxis(start[:, None, :] - places, -1, 0)) - np.hypot(*np.moveaxis(end[:, None, :] - places, -1, 0)))
    away = np.hypot(*np.moveaxis(places - centre[:, None, :], -1, 0))
    best = np.argmin(away + 1e6 * np.maximum(mismatches - 0.5 * tolerance, 0), axis=1)
    row = np.arange(len(best))
    return candidates[row, best], places[row, best], mismatches[row, best]


def _radius_counts(
    spoke: Floats, start: Floats, end: Floats, sweep: Floats, dialect: Dialect, move: Ints, straight: NDArray[np.bool_]
) -> Ints:
    """Counts of R: the radius, but never less than half the chord as written."""
    scale = dialect.radius.scale
    radius = np.hypot(*spoke.T)
    half_chord = np.hypot(*(end - start).T) / 2
    counts = np.maximum(np.rint(radius * scale), np.ceil(half_chord * scale - 1e-6)).astype(np.int64)
    said = counts / scale
    depth = np.sqrt(np.maximum(said**2 - half_chord**2, 0))
    rise = np.where(sweep > np.pi, said + depth, said - depth)
    strayed = np.abs(rise - radius * (1 - np.cos(sweep / 2)))
    wrong = np.flatnonzero((strayed > RADIUS_FORM_COUNTS / scale) & ~straight)
    if len(wrong):
        raise PlanError(
            f"an arc (move {move[wrong[0]]}) of {np.degrees(sweep[wrong[0]]):.1f} degrees cannot be said by its radius: "
            f"rounding moves its middle by {strayed[wrong[0]]:.4f}",
            cure="set arcs.largest_sweep to 165 or less, or arcs.form to 'centre' or 'none'",
        )
    return np.asarray(counts)


def as_lines(motion: Codes, rows: Ints, straight: NDArray[np.bool_]) -> Codes:
    """The motion column with the arcs that are to be straight made lines."""
    if not straight.any():
        return motion
    changed = motion.copy()
    changed[rows[straight]] = LINE
    return changed
