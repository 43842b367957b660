"""How far does an arc turn, how long is it, in which arcs does the controller speak it, and by which chords is it replaced?

Turning is seen from the + end of the axis across the plane: of XY from +Z, of XZ from +Y, of YZ from +X (NISTIR 6556 3.5.3).
Seen so a counterclockwise arc runs from X to Y, from Z to X, and from Y to Z. Where the start and the end are not equally
far from the centre, within the rounding of a file, the radius changes linearly between them.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import PLANE_AXES, PLANES
from steadyrest.errors import Place, PlanError
from steadyrest.profile import Arcs

Spot = tuple[float, float, float]

IN_PLANE = dict(zip(PLANES, PLANE_AXES, strict=True))
"""The two columns of a plane, in the order of a counterclockwise turn, and the column across it."""

CLOSED = 1e-9
"""An arc whose ends are this close, as a part of its radius, goes all the way round."""

SHORTEST_CHORD_MM = 0.01
"""Ends of an arc nearer than this may be the same point once rounded to a coarse controller's decimals, or change places:
a short arc would be read as a full circle, an almost full one as nothing. Ten increments of 0.001 mm."""

WIDEST_BY_RADIUS_DEG = 165.0
NEARLY_ROUND_BY_RADIUS_DEG = (195.0, 345.0)
"""Sweeps that are safe in the radius form: up to 165 and from 195 to 345 degrees (NISTIR 6556 3.5.3.1)."""

WIDEST_CHORD_DEG = 90.0
"""No chord spans more, however wide the tolerance: a circle stays a ring of four at least."""

MOST_CHORDS = 1_000_000
"""Into which an arc is cut: a thousand circles of a thousand chords each."""


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc or helix.

    start, end, centre  x, y, z, any one length unit; the centre's coordinate across the plane does not matter
    plane               "XY", "XZ" or "YZ"
    clockwise           as seen from the + end of the axis across the plane
    full_turns          full turns besides the part turn; an arc that ends where it starts is this many circles, one at least
    """

    start: Spot
    end: Spot
    centre: Spot
    plane: str = "XY"
    clockwise: bool = False
    full_turns: int = 0


def _from_centre(arc: Arc) -> tuple[complex, complex]:
    """Start and end as seen from the centre, in the plane: counterclockwise is the turn of the complex numbers."""
    u, v, _ = IN_PLANE[arc.plane]
    start, end = (complex(place[u] - arc.centre[u], place[v] - arc.centre[v]) for place in (arc.start, arc.end))
    return start, end


def radii(arc: Arc) -> tuple[float, float]:
    """Distances of the start and of the end from the axis of the arc."""
    start, end = _from_centre(arc)
    return abs(start), abs(end)


def sweep(arc: Arc) -> float:
    """The turn from start to end in degrees, full turns included: counterclockwise positive, clockwise negative, never 0."""
    start, end = _from_centre(arc)
    direction = -1.0 if arc.clockwise else 1.0
    if abs(end - start) <= CLOSED * abs(start):
        return direction * 360.0 * max(1, arc.full_turns)
    part = math.degrees(cmath.phase(start.conjugate() * end))
    return direction * ((direction * part) % 360.0 + 360.0 * arc.full_turns)


def length(arc: Arc) -> float:
    """The way along the arc or helix (NISTIR 6556 2.1.2.5: along the helix, not its projection)."""
    across = IN_PLANE[arc.plane][2]
    return math.hypot(math.radians(sweep(arc)) * sum(radii(arc)) / 2, arc.end[across] - arc.start[across])


def points_on(arc: Arc, parts: int) -> Floats:
    """Points that divide an arc into equal parts: (parts, 3) float, without the start; the last is the end itself."""
    u, v, across = IN_PLANE[arc.plane]
    start, end = _from_centre(arc)
    done = np.arange(1, parts + 1) / parts
    angle = cmath.phase(start) + math.radians(sweep(arc)) * done
    radius = abs(start) + (abs(end) - abs(start)) * done
    points = np.empty((parts, 3))
    points[:, u] = arc.centre[u] + radius * np.cos(angle)
    points[:, v] = arc.centre[v] + radius * np.sin(angle)
    points[:, across] = arc.start[across] + (arc.end[across] - arc.start[across]) * done
    points[-1] = arc.end
    return points


def chords(arc: Arc, tolerance: float) -> int:
    """How many equal chords stay within tolerance of the arc.

    tolerance  greatest distance of a chord from the arc, the unit of the arc, above 0
    source     sagitta s = r (1 - cos(step / 2)), so step = 4 atan2(sqrt(s), sqrt(2 r - s)); handbook formula of the chord
    """
    radius = max(radii(arc))
    step_deg = math.degrees(4.0 * math.atan2(math.sqrt(tolerance), math.sqrt(max(0.0, 2.0 * radius - tolerance))))
    return max(1, math.ceil(abs(sweep(arc)) / min(step_deg, WIDEST_CHORD_DEG) - 1e-9))


def flattened(arc: Arc, tolerance: float, place: Place | None = None) -> Floats:
    """The end points of the chords that replace an arc: (m, 3) float; the last is exactly the arc's end.

    raises    PlanError at `place` for an arc of more than MOST_CHORDS, before they are made
    """
    count = chords(arc, tolerance)
    if count > MOST_CHORDS:
        raise PlanError(
            f"the arc would become {count:.4g} chords; {MOST_CHORDS:,} are allowed",
            place=place,
            cure="correct its radius and its full_turns, or allow a wider tolerance",
        )
    return points_on(arc, count)


def flattened_wrapped(
    arc: Arc, tolerance: float, diameter: float, z_from: Literal["surface", "axis"], place: Place | None = None
) -> Floats:
    """The end points, in wrapped coordinates, of the chords that replace an arc drawn in wrapped coordinates.

    tolerance  greatest distance of the cut from the asked path in space, measured at the height at which the tip is
    diameter   at which developed lengths are true
    source     at a height h over the axis the developed length is stretched by h / r, the two others are true; the greatest
               h of the arc counts, so the distance in space is never more than the tolerance
    """
    radius = diameter / 2
    heights = [arc.start[2], arc.end[2]]
    if IN_PLANE[arc.plane][2] != 2:
        heights = [arc.centre[2] + sign * max(radii(arc)) for sign in (-1.0, 1.0)]
    base = radius if z_from == "surface" else 0.0
    return flattened(arc, tolerance / max(1.0, *(abs(height + base) / radius for height in heights)), place)


@dataclass(frozen=True, slots=True)
class RadiusRounding:
    """What rounding does to an arc that is said by its radius, in the unit of the arc.

    half_chord, radius   by how much half its chord, and its radius word, may be off
    allowed              how far its middle may stray by that
    """

    half_chord: float = 0.0
    radius: float = 0.0
    allowed: float = math.inf

    def holds(self, turn_deg: float) -> bool:
        """Whether the middle of an arc of that sweep stays where it belongs.

        source   the middle stands r - sqrt(r^2 - c^2) over the chord, c being half of it: differentiated by r and by c
        """
        half = math.radians(turn_deg) / 2.0
        return (self.radius + abs(math.sin(half)) * self.half_chord) <= (self.allowed - self.radius) * abs(math.cos(half))


EXACT = RadiusRounding()


def spoken(arc: Arc, settings: Arcs, unit_mm: float, rounding: RadiusRounding = EXACT) -> list[Arc] | None:
    """The arcs in which the controller speaks this one, in order; None when it must be cut into chords.

    arc         in units of unit_mm mm (1 or 25.4)
    settings    the profile's arcs: form, planes, radii, full circles, helices, the widest sweep of a block
    rounding    of arcs in the radius form
    source      NISTIR 6556 3.5.3: one turn at most in a block; in the radius form no full circle, and sweeps up to
                165 or from 195 to 345 degrees only
    """
    across = IN_PLANE[arc.plane][2]
    first, last = radii(arc)
    turn = abs(sweep(arc))
    parts = max(1, math.ceil(turn / settings.largest_sweep - 1e-9))
    if (
        settings.form == "none"
        or arc.plane not in settings.planes
        or (arc.start[across] != arc.end[across] and not settings.helical)
        or max(first, last) * unit_mm > settings.largest_radius
        or min(first, last) * unit_mm < settings.smallest_radius
        or parts > MOST_CHORDS
    ):
        return None

    def chord(turn_deg: float) -> float:
        return 2.0 * first * abs(math.sin(math.radians(turn_deg) / 2.0))

    def in_one_block(turn_deg: float) -> bool:
        if abs(turn_deg - 360.0) < 1e-9:
            return settings.full_circles and settings.form == "centre"
        if turn_deg > 360.0 or chord(turn_deg) < shortest:
            return False
        low, high = NEARLY_ROUND_BY_RADIUS_DEG
        by_radius = turn_deg <= WIDEST_BY_RADIUS_DEG or low <= turn_deg <= high
        return settings.form == "centre" or (by_radius and rounding.holds(turn_deg))

    shortest = SHORTEST_CHORD_MM / unit_mm
    while not in_one_block(turn / parts):
        if turn / parts <= 180.0 and chord(turn / parts) < shortest:
            return None
        parts += 1
    if parts == 1:
        return [replace(arc, full_turns=0)]
    points = points_on(arc, parts)
    if abs(turn / parts - 360.0) < 1e-9:  # whole circles: each ends exactly where it starts
        plane = IN_PLANE[arc.plane][:2]
        points[:-1, plane] = np.array(arc.start)[[*plane]]
    spots: list[Spot] = [arc.start, *((float(x), float(y), float(z)) for x, y, z in points[:-1]), arc.end]
    return [replace(arc, start=a, end=b, full_turns=0) for a, b in pairwise(spots)]
