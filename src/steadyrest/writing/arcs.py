"""How arcs are said so that they are still the same arcs once every number is rounded.

A controller works an arc out from rounded numbers: the start and end as written, and the centre as written. Start and end radius
may then differ by 0.002 mm at most (NISTIR 6556 section 3.5.3.2), so the centre is rounded to whichever near count serves that
best; and an arc shorter than the rounding could turn into nearly a whole circle, or a whole circle into nothing, so both are looked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, distinct, take
from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, AXES, LINE, PLANE_AXES, PLANES
from steadyrest.errors import PlanError
from steadyrest.motion import Motion
from steadyrest.writing.state import Held
from steadyrest.writing.word_columns import AxisColumn, Breaks, WordColumn, code_column, scattered
from steadyrest.writing.word_formats import CENTRE_LETTERS, WordFormat

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
class ArcWords:
    """What to write for each arc.

    straight   (m,) bool: shorter or smaller than the rounding, to be written as a straight line
    closed     (m,) bool: a whole circle, whose end must be written exactly as its start
    centre     (m, 3) int64, counts of I, J, K
    has        (m, 3) bool: which of I, J, K are written
    radius     (m,) int64, counts of R, negative above 180 degrees; None unless arcs are said by their radius
    """

    straight: Bools
    closed: Bools
    centre: Ints
    has: Bools
    radius: Ints | None


def arc_columns(
    run: Motion, axes: Sequence[AxisColumn], breaks: Breaks, form: WordFormat, was: Held, held: Held
) -> tuple[Codes, list[WordColumn]]:
    """The words that arcs have besides their ends, planes first, and the kind of each row, arcs below the rounding made lines.

    In `axes` the ends of whole circles are set to their starts, and both ends of an arc's plane are said; `was` is what the controller
    held before the run, `held` what it holds after.
    raises    PlanError for an arc that rounding would spoil, or that the controller has no code for
    """
    if run.arcs is None:
        raise PlanError("a run with arcs has no centres or planes")
    rows = np.flatnonzero(run.kind >= ARC_CLOCKWISE)
    asked = take(run, rows)
    by_column = {column.axis.column: column for column in axes}
    places = filled(run.xyz, was.exact, breaks)
    first, last = np.zeros((len(rows), 3), np.int64), np.zeros((len(rows), 3), np.int64)
    while True:
        for i, letter in enumerate(AXES):
            column = by_column.get(i)
            first[:, i] = was.counts.get(letter, 0) if column is None else column.before[rows]
            last[:, i] = was.counts.get(letter, 0) if column is None else column.values[rows]
        words = arc_words(asked, places[rows], places[rows + 1], first, last, form)
        if not _closed(words, run.arcs.plane[rows], first, last, rows, by_column):
            break
    kind = run.kind.copy()
    kind[rows[words.straight]] = LINE
    drawn = ~words.straight
    rows, planes = rows[drawn], run.arcs.plane[rows[drawn]]
    if not len(rows):
        return kind, []
    for plane in distinct(planes):
        # Both end words of an arc's plane are always written: NISTIR 6556 section 3.5.3 needs one at least, and controllers differ.
        for i in PLANE_AXES[plane][:2]:
            if i not in by_column:
                raise PlanError(f"an arc does not state its end in {AXES[i]}", cure="state the position in every arc")
            by_column[i].said[rows[planes == plane]] = True
    columns: list[WordColumn] = []
    if any(form.plane_codes) or planes.any():
        names = [f"the plane {name}" for name in PLANES]
        of_planes, held.plane = code_column(
            form.plane_codes, planes, rows, len(run), was.plane, breaks.forgotten, names=names, cure="leave the plane out of arcs.planes"
        )
        columns.append(of_planes)
    if words.radius is not None:
        every = np.ones(len(rows), bool)
        columns.append(scattered("R", words.radius[drawn], every, form.spelling("length", "R"), rows, len(run)))
    for i, letter in enumerate(CENTRE_LETTERS):
        columns.append(scattered(letter, words.centre[drawn, i], words.has[drawn, i], form.spelling("length", letter), rows, len(run)))
    return kind, columns


def _closed(words: ArcWords, planes: Codes, first: Ints, last: Ints, rows: Ints, by_column: dict[int, AxisColumn]) -> bool:
    """Set the ends of whole circles to the counts of their starts; true where that changed anything."""
    changed = False
    for row in np.flatnonzero(words.closed):
        for i in PLANE_AXES[planes[row]][:2]:
            column, at = by_column.get(i), int(rows[row])
            if column is None or first[row, i] == last[row, i]:
                continue
            changed = True
            column.values[at] = first[row, i]
            if at + 1 < len(column.values):
                column.before[at + 1] = column.values[at]
                column.said[at + 1] |= column.values[at + 1] != column.values[at]
    return changed


def filled(xyz: Floats, exact: Floats, breaks: Breaks) -> Floats:
    """(n + 1, 3): the place before the first row and after each, axes that are not commanded staying where they are; NaN: not known."""
    places = np.vstack([exact, xyz])
    places[breaks.lost, 2] = np.nan
    stated = ~np.isnan(places)
    stated[breaks.lost, 2] = True
    latest = np.maximum.accumulate(np.where(stated, np.arange(len(places))[:, None], 0), axis=0)
    return np.asarray(np.take_along_axis(places, latest, axis=0))


def arc_words(asked: Motion, start: Floats, end: Floats, first: Ints, last: Ints, form: WordFormat) -> ArcWords:
    """The words of arcs, one row an arc. PlanError for an arc that rounding would spoil, naming its move.

    start, end    (m, 3) float64, as asked, program units
    first, last   (m, 3) int64, the same as written, in counts of the axis words
    """
    assert asked.arcs is not None
    m, axes = len(asked), np.array(PLANE_AXES)[asked.arcs.plane][:, :2]
    every = np.arange(m)[:, None], axes
    scale = np.zeros(3)
    for axis in form.axes:
        if axis.column < 3:
            scale[axis.column] = axis.spelled.scale
    scales = scale[axes]
    if not scales.all():
        raise PlanError("an arc needs the axis whose drive turns the rotary", cure="write the path without arcs in that plane")
    start, end, first, last, centre = start[every], end[every], first[every], last[every], asked.arcs.centre[every]
    if not (np.isfinite(start).all() and np.isfinite(end).all() and np.isfinite(centre).all()):
        raise PlanError("an arc starts from, ends at or turns about an unknown position", cure="state the position before the arc")
    turning = np.where(asked.kind == ARC_COUNTERCLOCKWISE, 1.0, -1.0)
    sweep = swept(start - centre, end - centre, turning)
    sweep[np.hypot(*(end - start).T) < SAME_PLACE] = 2 * np.pi
    together = (first == last).all(axis=1)
    closed = (sweep == 2 * np.pi) | (together & (sweep > np.pi))
    straight = together & ~closed
    start_written = first / scales
    end_written = np.where(closed[:, None], start_written, last / scales)
    words = ArcWords(straight, closed, np.zeros((m, 3), np.int64), np.zeros((m, 3), bool), None)
    if form.profile.arcs.form == "radius":
        if closed.any():
            raise PlanError("a full circle cannot be written with arcs given by radius", cure="set arcs.full_circles to false")
        counts = _radius_counts(start - centre, start_written, end_written, sweep, form, asked.move, straight)
        words.radius = np.where(sweep > np.pi, -counts, counts)
        return words
    words.centre[every], place = _centre_counts(centre, start_written, end_written, axes, form, asked.move)
    no_radius = (np.hypot(*(start_written - place).T) == 0) | (np.hypot(*(end_written - place).T) == 0)
    said = swept(start_written - place, end_written - place, turning)
    # Rounding put the end over the start as seen from the centre, or across it: a controller would take next to nothing for a
    # circle, or a circle for next to nothing.
    doubtful = ~(closed | straight) & ((np.minimum(said, 2 * np.pi - said) < SAME_DIRECTION) | (np.abs(said - sweep) > np.pi))
    words.straight = straight | no_radius | (doubtful & (sweep < np.pi))
    words.has[every] = ~words.straight[:, None]
    words.closed = (closed | doubtful) & ~words.straight
    return words


def swept(start: Floats, end: Floats, turning: Floats) -> Floats:
    """The angle in radians, 0 to 2 pi, from one vector to the other; (m, 2) each, turning (m,) +1 from the first axis to the second."""
    turned = np.arctan2(end[:, 1], end[:, 0]) - np.arctan2(start[:, 1], start[:, 0])
    return np.asarray(np.mod(turning * turned, 2 * np.pi))


def _centre_counts(centre: Floats, start: Floats, end: Floats, axes: Ints, form: WordFormat, move: Ints) -> tuple[Ints, Floats]:
    """Counts of the two centre words, and where they put the centre: (m, 2) int64 and (m, 2) float64 program units."""
    scales = np.array([form.spelling("length", letter).scale for letter in CENTRE_LETTERS], dtype=np.float64)[axes]
    origin = start if form.profile.arcs.centre_is == "incremental" else np.zeros_like(start)
    nearest = np.rint((centre - origin) * scales).astype(np.int64)
    tolerance = RADIUS_TOLERANCE_INCH if form.inch else RADIUS_TOLERANCE_MM

    def best(rows: Ints, near: Ints) -> tuple[Ints, Floats, Floats]:
        """Of the counts around the nearest ones, those closest to the centre whose radii agree within half the tolerance."""
        candidates = nearest[rows, None] + near
        places = origin[rows, None] + candidates / scales[rows, None]
        start_radius, end_radius, away = (np.hypot(*np.moveaxis(point[rows, None] - places, -1, 0)) for point in (start, end, centre))
        mismatches = np.abs(start_radius - end_radius)
        chosen = np.arange(len(rows)), np.argmin(away + 1e6 * np.maximum(mismatches - 0.5 * tolerance, 0), axis=1)
        return candidates[chosen], places[chosen], mismatches[chosen]

    counts, place, mismatch = best(np.arange(len(centre)), _NEAREST)
    bad = np.flatnonzero(mismatch > 0.5 * tolerance)
    counts[bad], place[bad], mismatch[bad] = best(bad, _NEAR)
    wrong = np.flatnonzero(mismatch > tolerance)
    if len(wrong):
        raise PlanError(
            f"an arc (move {move[wrong[0]]}) cannot be written: rounding makes its start and end radius differ by "
            f"{mismatch[wrong[0]]:.4f}, but only {tolerance:g} is allowed",
            cure="give the numbers of axes and centres more decimals, or set arcs.form to 'none'",
        )
    return counts, place


def _radius_counts(spoke: Floats, start: Floats, end: Floats, sweep: Floats, form: WordFormat, move: Ints, straight: Bools) -> Ints:
    """Counts of R: the radius, but never less than half the chord as written."""
    scale = form.spelling("length", "R").scale
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
            f"an arc (move {move[wrong[0]]}) of {np.degrees(sweep[wrong[0]]):.1f} degrees cannot be given by radius: "
            f"rounding moves its midpoint by {strayed[wrong[0]]:.4f}",
            cure="set arcs.largest_sweep to 165 or less, or arcs.form to 'centre' or 'none'",
        )
    return np.asarray(counts)
