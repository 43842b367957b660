"""The geometry of inputs: how far arcs turn, their planes and chords; and how a part stands when a tool axis or an angle is given.

About X the tool stands at alpha where t = R(alpha) (0, 0, 1) = (0, -sin alpha, cos alpha); about Y t = (sin alpha, 0, cos alpha).
A point p of the part frame has the indexed coordinates q = c + R(-alpha) (p - c): the work coordinates once the part has turned
(design: frames and signs).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from steadyrest.columns import Bools, Floats, Ints, take
from steadyrest.conventions import AXES, PLANE_AXES
from steadyrest.inputs.stretches import ARC, ArcColumns, Moves
from steadyrest.toolpath import CUT

CHORD_MM = 0.002
"""How far a chord may leave its arc where nothing else is asked: a fifth of the tolerance that planning works with."""
ALONG = 1e-6
"""How far a normal may be off an axis, as the sine of the angle: seven written decimals of a unit vector (common practice)."""
MOST_CHORDS = 200_000
"""So many chords are made at once: what lies between them and their arcs stays some tens of megabytes."""


def angle_of(axes: Floats, letter: str) -> tuple[Floats, Floats]:
    """alpha and the miss of tool axes (n, 3), both (n,) in degrees: the miss is the angle out of the plane the rotary reaches.

    About Z nothing but (0, 0, 1) can be reached, and alpha is 0.
    """
    x, y, z = axes.T
    if letter == "Z":
        return np.zeros(len(axes)), np.degrees(np.arctan2(np.hypot(x, y), z))
    aside, off = (-y, x) if letter == "X" else (x, y)
    return np.degrees(np.arctan2(aside, z)), np.degrees(np.arctan2(np.abs(off), np.hypot(aside, z)))


def turned(vectors: Floats, alpha_deg: float, letter: str) -> Floats:
    """R(alpha) applied to vectors (..., 3): right-hand round + of the axis of rotation. Quarter turns are exact."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}.get(alpha_deg % 360.0)
    cosine, sine = quarter or (math.cos(math.radians(alpha_deg)), math.sin(math.radians(alpha_deg)))
    first, second, _ = PLANE_AXES[2 - AXES.index(letter)]
    found = np.array(vectors, dtype=np.float64)
    found[..., first] = cosine * vectors[..., first] - sine * vectors[..., second]
    found[..., second] = sine * vectors[..., first] + cosine * vectors[..., second]
    return found


def indexed_points(points: Floats, alpha_deg: float, letter: str, centre: Floats) -> Floats:
    """Points (..., 3) of the part frame in indexed coordinates at alpha: c + R(-alpha) (p - c)."""
    return centre + turned(points - centre, -alpha_deg, letter)


Directions = tuple[float, float, float]
Turn = tuple[str, float]
"""X, Y or Z, and by how much the tool is turned about it relative to the part, degrees, right-hand."""


def turned_by(turns: Sequence[Turn], vectors: Floats) -> Floats:
    """R1 R2 .. applied to vectors (..., 3): by turns counted from the part to the spindle (design, two rotary axes: frames and signs)."""
    for letter, alpha_deg in reversed(turns):
        vectors = turned(vectors, alpha_deg, letter)
    return vectors


def laid_by(turns: Sequence[Turn], centre: Floats) -> tuple[Directions, Directions, Directions]:
    """Origin, z and x of the plane in which work coordinates lie once a table has turned about lines through a centre (3,).

    part = c + R (q - c), so the plane's directions are R's columns and its origin c - R c
    """
    x, _, z = turned_by(turns, np.eye(3))
    return _three(centre - turned_by(turns, centre)), _three(z), _three(x)


def _three(vector: Floats) -> Directions:
    x, y, z = (np.round(vector, 12) + 0.0).tolist()
    return x, y, z


def flat(vectors: Floats, normals: Floats) -> Floats:
    """Vectors (..., 3) without their part along `normals` (..., 3), unit vectors."""
    return np.asarray(vectors - normals * (vectors * normals).sum(axis=-1, keepdims=True), dtype=np.float64)


def sweeps_rad(arcs: ArcColumns, end: Floats) -> Floats:
    """The whole angles (m,) that arcs to `end` (m, 3) turn, right-hand round their normals, full turns included."""
    u, v = flat(arcs.start - arcs.centre, arcs.normal), flat(end - arcs.centre, arcs.normal)
    part = np.arctan2((arcs.normal * np.cross(u, v)).sum(axis=1), (u * v).sum(axis=1)) % (2 * np.pi)
    closed = (arcs.full_turns > 0) & (np.linalg.norm(u - v, axis=1) < 1e-6)
    return np.asarray(np.where(closed, 0.0, part) + 2 * np.pi * arcs.full_turns, dtype=np.float64)


def lengths(arcs: ArcColumns, end: Floats) -> Floats:
    """(m,) of the paths: sqrt((r h)^2 + rise^2) of a helix of radius r over the angle h."""
    radius = np.linalg.norm(flat(arcs.start - arcs.centre, arcs.normal), axis=1)
    rise = ((end - arcs.start) * arcs.normal).sum(axis=1)
    return np.asarray(np.hypot(radius * sweeps_rad(arcs, end), rise), dtype=np.float64)


def axes_across(arcs: ArcColumns) -> Ints:
    """(m,) the axis across the plane of each arc, 0 to 2 for X to Z; -1 where it lies in none of the planes of PLANES."""
    third = np.abs(arcs.normal).argmax(axis=1)
    rest = arcs.normal.copy()
    rest[np.arange(len(rest)), third] = 0.0
    return np.where(np.linalg.norm(rest, axis=1) > ALONG, -1, third)


def chorded(moves: Moves, tolerance: float, which: Bools) -> Moves:
    """The moves with arcs as cuts whose ends lie on them, none farther from its arc than `tolerance`.

    which     (n,) of the rows: those arcs
    source    sagitta s = 2 r sin^2(h / 4) of a chord over the angle h (plane geometry)
    """
    chosen = take(moves, which)
    arcs = chosen.arcs
    assert arcs is not None
    sweeps = sweeps_rad(arcs, chosen.end)
    radii = [np.linalg.norm(flat(point - arcs.centre, arcs.normal), axis=1) for point in (arcs.start, chosen.end)]
    larger = np.maximum(np.maximum(*radii), 1e-300)
    step = np.minimum(4 * np.arcsin(np.minimum(1.0, np.sqrt(tolerance / (2 * larger)))), math.pi / 2)
    counts = np.maximum(1, np.ceil(sweeps / step - 1e-9)).astype(np.int64)
    times = np.ones(len(moves), dtype=np.int64)
    times[which] = counts
    source = np.repeat(np.arange(len(times)), times)
    found = take(moves, source)
    chords = np.flatnonzero(which[source])
    found.motion[chords] = CUT
    made = np.concatenate([[0], np.cumsum(counts)])
    edges = np.searchsorted(made, np.arange(0, made[-1], MOST_CHORDS)).tolist()
    for first, last in pairwise([*edges, len(counts)]):
        some = slice(first, last)
        found.end[chords[made[first] : made[last]]] = _points(take(arcs, some), chosen.end[some], sweeps[some], counts[some])
    return found if (found.motion == ARC).any() else replace(found, arcs=None)


def _points(arcs: ArcColumns, end: Floats, sweeps: Floats, counts: Ints) -> Floats:
    """The ends (sum of counts, 3) of the chords of arcs, each to its own `end`."""
    u = flat(arcs.start - arcs.centre, arcs.normal)
    radius, last = np.linalg.norm(u, axis=1), np.linalg.norm(flat(end - arcs.centre, arcs.normal), axis=1)
    growth = np.divide(last, radius, out=np.ones(len(u)), where=radius > 0) - 1.0
    low = ((arcs.start - arcs.centre) * arcs.normal).sum(axis=1)
    rise = ((end - arcs.start) * arcs.normal).sum(axis=1)
    of = np.repeat(np.arange(len(counts)), counts)
    done = np.cumsum(counts)
    share = (np.arange(len(of)) - (done - counts)[of] + 1) / counts[of]
    angle = share * sweeps[of]
    points = np.cos(angle)[:, None] * u[of] + np.sin(angle)[:, None] * np.cross(arcs.normal, u)[of]
    points *= (1.0 + share * growth[of])[:, None]
    points += arcs.centre[of] + (low[of] + share * rise[of])[:, None] * arcs.normal[of]
    points[done - 1] = end
    return np.asarray(points, dtype=np.float64)
