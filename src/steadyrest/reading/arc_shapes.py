"""The geometry of arcs in their plane, many at once: centres from radius words, radii, sweeps, and which rules an arc breaks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.profile.axes import Arcs
from steadyrest.reading.dialect import MM_PER_INCH

Float = NDArray[np.float64]
Bools = NDArray[np.bool_]

RADIUS_MISMATCH_MM = 0.002  # NISTIR 6556, 3.5.3.2
RADIUS_MISMATCH_INCH = 0.0002
SAME_PLACE_MM = 1e-9  # positions are decimals: what differs by less is the same number
SWEEP_NEAR_DEG = 1e-3  # of the profile's widest arc: rounded end points may show this much more


@dataclass(frozen=True, slots=True)
class ArcShapes:
    """n arcs in their plane.

    centre      (n, 2) mm
    radius, other_radius   (n,) mm, from the centre to the start and to the end
    half_chord  (n,) mm
    full_turns  (n,) int64, whole turns in the sweep
    sweep_rad   (n,) from start to end, counterclockwise positive seen from the + end of the third axis
    wrong       by rule, in the order in which they are asked, which arcs break it; what stands above is meaningless there
    """

    centre: Float
    radius: Float
    other_radius: Float
    half_chord: Float
    full_turns: NDArray[np.int64]
    sweep_rad: Float
    wrong: dict[str, Bools]


def radius_mismatch_mm(*, inch: bool) -> float:
    """How far the radii at the two ends of an arc may differ (NISTIR 6556, 3.5.3.2)."""
    return RADIUS_MISMATCH_INCH * MM_PER_INCH if inch else RADIUS_MISMATCH_MM


def arc_shapes(
    start: Float, end: Float, centre: Float, radius_word: Float, clockwise: Bools, helical: Bools, arcs: Arcs, *, inch: bool
) -> ArcShapes:
    """What arcs from `start` to `end` are.

    start, end   (n, 2) mm, first and second axis of the plane
    centre       (n, 2) mm, meaningless where a radius is given
    radius_word  (n,) mm, NaN where the centre is given: up to half a turn for a positive one, more for a negative one
                 (NISTIR 6556, 3.5.3.1)
    clockwise    (n,) seen from the + end of the third axis
    helical      (n,) the third axis moves
    arcs         what the controller speaks
    """
    wrong: dict[str, Bools] = {}
    across, up = (end - start).T
    chord = np.hypot(across, up)
    by_radius = ~np.isnan(radius_word)
    if by_radius.any():
        wrong["anywhere"] = by_radius & (chord <= SAME_PLACE_MM)
        wrong["too small"] = by_radius & (chord / 2 > np.abs(radius_word) + SAME_PLACE_MM)
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.sqrt(np.maximum(radius_word * radius_word - chord * chord / 4, 0.0)) / chord
            off = np.where(clockwise == (radius_word > 0), -off, off)
            from_radius = (start + end) / 2 + np.column_stack((-off * up, off * across))
        centre = np.where(by_radius[:, None], from_radius, centre)
    x1, y1 = (start - centre).T
    x2, y2 = (end - centre).T
    radius, other = np.hypot(x1, y1), np.hypot(x2, y2)
    closed = chord <= SAME_PLACE_MM
    sweep = np.arctan2(x1 * y2 - y1 * x2, x1 * x2 + y1 * y2)
    sweep = np.where(clockwise, -sweep, sweep)
    sweep = np.where(sweep <= 0, sweep + 2 * np.pi, sweep)
    wrong["mismatch"] = np.abs(radius - other) > radius_mismatch_mm(inch=inch) + SAME_PLACE_MM
    wrong["no radius"] = np.minimum(radius, other) <= SAME_PLACE_MM
    wrong["almost closed"] = ~closed & (sweep > 1.5 * np.pi) & (chord <= RADIUS_MISMATCH_MM)
    sweep = np.where(closed, 2 * np.pi, sweep)
    if not arcs.full_circles:
        wrong["full circle"] = closed
    if not arcs.helical:
        wrong["helical"] = helical
    wrong["radius"] = ~((arcs.smallest_radius - RADIUS_MISMATCH_MM <= radius) & (radius <= arcs.largest_radius + RADIUS_MISMATCH_MM))
    wrong["sweep"] = sweep > math.radians(arcs.largest_sweep + SWEEP_NEAR_DEG)
    return ArcShapes(centre, radius, other, chord / 2, closed.astype(np.int64), np.where(clockwise, -sweep, sweep), wrong)
