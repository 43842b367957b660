"""How long are arcs, in which blocks does the controller speak them, and by how many chords are they replaced?

Turning is seen from the + end of the axis across the plane: of XY from +Z, of XZ from +Y, of YZ from +X (NISTIR 6556 3.5.3).
Seen so a counterclockwise arc runs from X to Y, from Z to X, and from Y to Z. Where the start and the end are not equally
far from the centre, within the rounding of a file, the radius changes linearly between them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, take
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


_PLANE_AXES = np.array(PLANE_AXES)


@dataclass(frozen=True, slots=True, eq=False)
class ArcRows:
    """Arcs and helices, one a row, in any one length unit.

    start, end, centre  (n, 3) float; the centre's coordinate across the plane does not matter
    plane               (n,) uint8: XY, XZ, YZ
    sweep_rad           (n,) float, from start to end, full turns included: counterclockwise positive, never 0
    first, last         (n,) float, radii at the start and at the end
    rise                (n,) float, way across the plane
    """

    start: Floats
    end: Floats
    centre: Floats
    plane: Codes
    sweep_rad: Floats
    first: Floats
    last: Floats
    rise: Floats

    def __len__(self) -> int:
        return len(self.plane)


def arc_rows(start: Floats, end: Floats, centre: Floats, plane: Codes, sweep_rad: Floats) -> ArcRows:
    """Arcs of which these columns are known; see `ArcRows`."""
    row, (u, v, across) = np.arange(len(plane)), _PLANE_AXES[plane].T
    first, last = (np.hypot(arm[row, u], arm[row, v]) for arm in (start - centre, end - centre))
    return ArcRows(start, end, centre, plane, sweep_rad, first, last, end[row, across] - start[row, across])


def parted(arcs: ArcRows, parts: Ints) -> tuple[Floats, Floats]:
    """Each arc in so many equal ones, (n,) 1 or more: their ends (m, 3), and the ways (m,) along them.

    The last ends exactly where the arc does, and each whole circle exactly where it starts.
    source    NISTIR 6556 2.1.2.5: the way is that along the helix, not its projection
    """
    source, number = parts_of(parts)
    each, count, done = take(arcs, source), parts[source], (number + 1) / parts[source]
    row, (u, v, across) = np.arange(len(each)), _PLANE_AXES[each.plane].T
    arm = each.start - each.centre
    angle = np.arctan2(arm[row, v], arm[row, u]) + each.sweep_rad * done
    radius = each.first + (each.last - each.first) * done
    ends = np.empty((len(each), 3))
    ends[row, u] = each.centre[row, u] + radius * np.cos(angle)
    ends[row, v] = each.centre[row, v] + radius * np.sin(angle)
    ends[row, across] = each.start[row, across] + each.rise * done
    ends[number + 1 == count] = arcs.end
    circles = np.flatnonzero(np.abs(np.degrees(np.abs(each.sweep_rad)) / count - 360.0) < SAME_DEG)
    for axis in (u[circles], v[circles]):
        ends[circles, axis] = each.start[circles, axis]
    mean = radius - (each.last - each.first) / (2 * count)
    return ends, np.hypot(each.sweep_rad * mean, each.rise) / count


def chords(arcs: ArcRows, tolerance: Floats | float) -> Floats:
    """How many equal chords, (n,) whole numbers, stay within tolerance of each arc.

    tolerance  greatest distance of a chord from the arc, one for all or (n,), the unit of the arcs, above 0
    source     sagitta s = r (1 - cos(step / 2)), so step = 4 atan2(sqrt(s), sqrt(2 r - s)); handbook formula of the chord
    """
    radius = np.maximum(arcs.first, arcs.last)
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
    height = np.where(arcs.plane == XY, np.maximum(start, end), centre + np.maximum(arcs.first, arcs.last))
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
        strays = self.radius + np.abs(np.sin(half)) * self.half_chord
        return np.asarray(strays <= (self.allowed - self.radius) * np.abs(np.cos(half)))


EXACT = RadiusRounding()


def spoken(arcs: ArcRows, settings: Arcs, unit_mm: float, rounding: RadiusRounding = EXACT) -> Floats:
    """In how many equal blocks, (n,) whole numbers, the controller speaks each arc; 0 where it must be cut into chords.

    arcs        in units of unit_mm mm (1 or 25.4)
    settings    the profile's arcs: form, planes, radii, full circles, helices, the widest sweep of a block
    rounding    of arcs in the radius form
    source      NISTIR 6556 3.5.3: one turn at most in a block; in the radius form no full circle, and sweeps up to
                165 or from 195 to 345 degrees only
    """
    turn_deg, shortest = np.degrees(np.abs(arcs.sweep_rad)), SHORTEST_CHORD_MM / unit_mm
    able = np.array([plane in settings.planes for plane in PLANES])[arcs.plane] & (settings.form != "none")
    able &= (arcs.rise == 0.0) | settings.helical
    able &= np.maximum(arcs.first, arcs.last) * unit_mm <= settings.largest_radius
    able &= np.minimum(arcs.first, arcs.last) * unit_mm >= settings.smallest_radius
    able &= (settings.form != "radius") | rounding.holds(np.zeros(1))
    parts = np.where(able, np.maximum(1.0, np.ceil(turn_deg / settings.largest_sweep - 1e-9)), 0.0)
    left = np.flatnonzero(able)
    while left.size:
        each = turn_deg[left] / parts[left]
        near = 2.0 * arcs.first[left] * np.abs(np.sin(np.radians(each) / 2.0)) < shortest
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
