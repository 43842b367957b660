"""How long are arcs, in which blocks does the controller speak them, and by how many chords are they replaced?

Turning is seen from the + end of the axis across the plane: of XY from +Z, of XZ from +Y, of YZ from +X (NISTIR 6556 3.5.3).
Seen so a counterclockwise arc runs from X to Y, from Z to X, and from Y to Z. Where the start and the end are not equally
far from the centre, within the rounding of a file, the radius changes linearly between them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np

from steadyrest.columns import Bools, Codes, Complexes, Floats, Ints, take
from steadyrest.conventions import PLANE_AXES, PLANES, XY
from steadyrest.motion.subdivision import parts_of
from steadyrest.profile import Arcs

SHORTEST_CHORD_MM = 0.01
"""Ends of an arc nearer than this may be the same point once rounded to a coarse controller's decimals, or change places:
a short arc would be read as a full circle, an almost full one as nothing. Ten increments of 0.001 mm."""

WIDEST_BY_RADIUS_DEG = 165.0
NEARLY_ROUND_BY_RADIUS_DEG = (195.0, 345.0)
"""Sweeps that are safe in the radius form: up to 165 and from 195 to 345 degrees (NISTIR 6556 3.5.3.1)."""

WIDEST_CHORD_DEG = 90.0
"""No chord spans more, however wide the tolerance: a circle stays a ring of four at least."""

SAME_DEG = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class ArcRows:
    """Arcs and helices, one a row, in any one length unit.

    start, end, centre  (n, 3) float; the centre's coordinate across the plane does not matter
    plane               (n,) uint8: XY, XZ, YZ
    sweep_rad           (n,) float, from start to end, full turns included: counterclockwise positive, never 0
    """

    start: Floats
    end: Floats
    centre: Floats
    plane: Codes
    sweep_rad: Floats

    def __len__(self) -> int:
        return len(self.plane)

    def axes(self) -> tuple[Ints, Ints, Ints, Ints]:
        """Each row, the two columns of its plane, in the order of a counterclockwise turn, and the column across it."""
        u, v, across = np.array(PLANE_AXES)[self.plane].T
        return np.arange(len(self)), u, v, across

    def from_centre(self) -> tuple[Complexes, Complexes]:
        """Starts and ends (n,) as seen from the centre, in the plane: counterclockwise is the turn of the complex numbers."""
        row, u, v, _ = self.axes()
        start, end = self.start - self.centre, self.end - self.centre
        return start[row, u] + 1j * start[row, v], end[row, u] + 1j * end[row, v]

    def rise(self) -> Floats:
        """The ways (n,) across the plane."""
        row, _, _, across = self.axes()
        return np.asarray((self.end - self.start)[row, across])


def radii(arcs: ArcRows) -> tuple[Floats, Floats]:
    """Distances (n,) of the starts and of the ends from the axes of the arcs."""
    start, end = arcs.from_centre()
    return np.abs(start), np.abs(end)


def lengths(arcs: ArcRows) -> Floats:
    """The ways (n,) along arcs or helices (NISTIR 6556 2.1.2.5: along the helix, not its projection)."""
    first, last = radii(arcs)
    return np.hypot(arcs.sweep_rad * (first + last) / 2, arcs.rise())


def parted(arcs: ArcRows, parts: Ints) -> ArcRows:
    """Each arc in so many equal ones, (n,) 1 or more; the last ends exactly where the arc does, and each whole circle where it starts."""
    source, number = parts_of(parts)
    start, end = (place[source] for place in arcs.from_centre())
    each = take(arcs, source)
    done = (number + 1) / parts[source]
    angle = np.angle(start) + each.sweep_rad * done
    radius = np.abs(start) + (np.abs(end) - np.abs(start)) * done
    row, u, v, across = each.axes()
    points = np.empty((len(each), 3))
    points[row, u] = each.centre[row, u] + radius * np.cos(angle)
    points[row, v] = each.centre[row, v] + radius * np.sin(angle)
    points[row, across] = each.start[row, across] + each.rise() * done
    points[done == 1.0] = arcs.end
    sweep_rad = each.sweep_rad / parts[source]
    round_ = np.flatnonzero(np.abs(np.abs(np.degrees(sweep_rad)) - 360.0) < SAME_DEG)
    for axis in (u[round_], v[round_]):
        points[round_, axis] = each.start[round_, axis]
    begin = np.vstack([arcs.start[:1], points[:-1]])
    begin[number == 0] = arcs.start
    return replace(each, start=begin, end=points, sweep_rad=sweep_rad)


def chords(arcs: ArcRows, tolerance: Floats | float) -> Floats:
    """How many equal chords, (n,) whole numbers, stay within tolerance of each arc.

    tolerance  greatest distance of a chord from the arc, one for all or (n,), the unit of the arcs, above 0
    source     sagitta s = r (1 - cos(step / 2)), so step = 4 atan2(sqrt(s), sqrt(2 r - s)); handbook formula of the chord
    """
    radius = np.maximum(*radii(arcs))
    step_deg = np.degrees(4.0 * np.arctan2(np.sqrt(tolerance), np.sqrt(np.maximum(0.0, 2.0 * radius - tolerance))))
    turn_deg = np.degrees(np.abs(arcs.sweep_rad))
    return np.maximum(1.0, np.ceil(turn_deg / np.minimum(step_deg, WIDEST_CHORD_DEG) - 1e-9))


def wrapped_chords(arcs: ArcRows, tolerance: float, diameter: float, z_from: Literal["surface", "axis"]) -> Floats:
    """How many chords (n,), straight in wrapped coordinates, replace each arc that is drawn in wrapped coordinates.

    tolerance  greatest distance of the cut from the asked path in space, measured at the height at which the tip is
    diameter   at which developed lengths are true
    source     at a height h over the axis the developed length is stretched by h / r, the two others are true; the greatest
               h of the arc counts, so the distance in space is never more than the tolerance
    """
    base = diameter / 2 if z_from == "surface" else 0.0
    start, end, centre = (np.abs(place[:, 2] + base) for place in (arcs.start, arcs.end, arcs.centre))
    height = np.where(arcs.plane == XY, np.maximum(start, end), centre + np.maximum(*radii(arcs)))
    return chords(arcs, tolerance / np.maximum(1.0, height / (diameter / 2)))


class RadiusRounding(NamedTuple):
    """What rounding does to an arc that is said by its radius, in the unit of the arc.

    half_chord, radius   by how much half its chord, and its radius word, may be off
    allowed              how far its middle may stray by that
    """

    half_chord: float = 0.0
    radius: float = 0.0
    allowed: float = math.inf

    def holds(self, turn_deg: Floats) -> Bools:
        """Whether the middle of arcs of these sweeps stays where it belongs.

        source   the middle stands r - sqrt(r^2 - c^2) over the chord, c being half of it: differentiated by r and by c
        """
        half = np.radians(turn_deg) / 2.0
        return np.asarray(self.radius + np.abs(np.sin(half)) * self.half_chord <= (self.allowed - self.radius) * np.abs(np.cos(half)))


EXACT = RadiusRounding()


def spoken(arcs: ArcRows, settings: Arcs, unit_mm: float, rounding: RadiusRounding = EXACT) -> Floats:
    """In how many equal blocks, (n,) whole numbers, the controller speaks each arc; 0 where it must be cut into chords.

    arcs        in units of unit_mm mm (1 or 25.4)
    settings    the profile's arcs: form, planes, radii, full circles, helices, the widest sweep of a block
    rounding    of arcs in the radius form
    source      NISTIR 6556 3.5.3: one turn at most in a block; in the radius form no full circle, and sweeps up to
                165 or from 195 to 345 degrees only
    """
    first, last = radii(arcs)
    turn_deg, shortest = np.degrees(np.abs(arcs.sweep_rad)), SHORTEST_CHORD_MM / unit_mm
    able = np.array([plane in settings.planes for plane in PLANES])[arcs.plane] & (settings.form != "none")
    able &= (arcs.rise() == 0.0) | settings.helical
    able &= (np.maximum(first, last) * unit_mm <= settings.largest_radius) & (np.minimum(first, last) * unit_mm >= settings.smallest_radius)
    able &= (settings.form != "radius") | rounding.holds(np.zeros(1))
    parts = np.where(able, np.maximum(1.0, np.ceil(turn_deg / settings.largest_sweep - 1e-9)), 0.0)
    left = np.flatnonzero(able)
    while left.size:
        each = turn_deg[left] / parts[left]
        near = 2.0 * first[left] * np.abs(np.sin(np.radians(each) / 2.0)) < shortest
        fits = (each <= 360.0) & ~near
        if settings.form == "radius":
            low, high = NEARLY_ROUND_BY_RADIUS_DEG
            fits &= ((each <= WIDEST_BY_RADIUS_DEG) | ((low <= each) & (each <= high))) & rounding.holds(each)
        circle = np.abs(each - 360.0) < SAME_DEG
        fits[circle] = settings.full_circles
        parts[left[~fits & near & (each <= 180.0)]] = 0
        left = left[~fits & (parts[left] > 0)]
        parts[left] += 1
    return parts
