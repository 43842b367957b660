"""The arcs among many plain lines carried out at once: what `arcs` says of a single block, in columns."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from steadyrest.reading.arc_shapes import arc_shapes
from steadyrest.reading.arcs import AXES, PLANE_NAMES
from steadyrest.reading.dialect import CENTRES, LINEAR, Dialect
from steadyrest.reading.model import CLOCKWISE, ArcsRead, no_arcs
from steadyrest.reading.state import State

Float = NDArray[np.float64]
Bools = NDArray[np.bool_]


def run_arcs(
    motion: NDArray[np.uint8], axes: list[Float], lengths: Mapping[str, Float], given: Mapping[str, Bools], state: State, dialect: Dialect
) -> tuple[ArcsRead | None, Float | None, Bools | None]:
    """The arcs of a run and (n,) the length of their paths in mm, None without any; and which of its rows cannot be carried out here,
    None if all can.

    motion   (n,) of each row
    axes     X, Y, Z, each (n + 1,) mm, the place before the run first
    lengths  by letter of a centre or radius that stands in the run, (n,) mm, NaN where the row has none
    given    by letter, (n,) whether a row has a word of it
    """
    at = np.flatnonzero(motion >= CLOCKWISE)
    none = np.zeros(len(motion), dtype=np.bool_)
    stray = none.copy()
    for letter in lengths:
        stray |= given[letter]
    stray[at] = False
    if not len(at):
        return None, None, stray if stray.any() else None
    plane, arcs = state.plane, dialect.profile.arcs
    if plane is None or PLANE_NAMES[plane] not in arcs.planes or dialect.replaced in AXES[plane][:2]:
        stray[at] = True
        return None, None, stray
    first, second, third = AXES[plane]
    start = np.column_stack((axes[first][at], axes[second][at]))
    end = np.column_stack((axes[first][at + 1], axes[second][at + 1]))
    helical = given.get(LINEAR[third], none)[at]
    rise = np.where(helical, axes[third][at + 1] - axes[third][at], 0.0)
    nothing = np.full(len(at), np.nan)
    i, j = (lengths[CENTRES[axis]][at] if CENTRES[axis] in lengths else nothing for axis in (first, second))
    other = given.get(CENTRES[third], none)[at]
    radius_word = lengths["R"][at] if "R" in lengths else nothing
    no_i, no_j, by_radius = np.isnan(i), np.isnan(j), ~np.isnan(radius_word)
    some_centre = ~(no_i & no_j) | other
    if arcs.centre_is == "absolute":
        centre, missing = np.column_stack((i, j)), no_i | no_j
    else:
        centre, missing = start + np.column_stack((np.where(no_i, 0.0, i), np.where(no_j, 0.0, j))), no_i & no_j
    bad = np.isnan(start).any(axis=1) | ~(given.get(LINEAR[first], none)[at] | given.get(LINEAR[second], none)[at])
    bad |= np.where(by_radius, some_centre, other | missing)
    if arcs.form == "radius":
        bad |= some_centre
    shapes = arc_shapes(start, end, centre, radius_word, motion[at] == CLOCKWISE, helical & (rise != 0), arcs, inch=state.inch)
    for broken in shapes.wrong.values():
        bad |= broken
    stray[at] |= bad
    found, length = no_arcs(len(motion)), np.full(len(motion), np.nan)
    found.centre_mm[at, first], found.centre_mm[at, second] = shapes.centre.T
    found.centre_mm[at, third] = axes[third][at]
    found.plane[at] = plane
    found.sweep_rad[at] = shapes.sweep_rad
    found.full_turns[at] = shapes.full_turns
    length[at] = np.hypot(shapes.radius * shapes.sweep_rad, rise)
    return found, length, stray if stray.any() else None
