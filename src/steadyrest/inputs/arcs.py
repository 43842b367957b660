"""How far do arcs turn, which planes are they in, and how are they cut into chords?"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from steadyrest.inputs.items import ARC, Arcs, Moves
from steadyrest.toolpath import CUT

Floats = NDArray[np.float64]

CHORD_MM = 0.002
"""How far a chord may leave its arc where nothing else is asked: a fifth of the tolerance that planning works with."""
ALONG = 1e-6
"""How far a normal may be off an axis, as the sine of the angle: seven written decimals of a unit vector (common practice)."""
PLANES = ("YZ", "XZ", "XY")
"""By the axis across it: the plane."""
MOST_CHORDS = 200_000
"""So many chords are made at once: what lies between them and their arcs stays some tens of megabytes."""


def flat(vectors: Floats, normals: Floats) -> Floats:
    """Vectors (..., 3) without their part along `normals` (..., 3), unit vectors."""
    return np.asarray(vectors - normals * (vectors * normals).sum(axis=-1, keepdims=True), dtype=np.float64)


def sweeps_rad(arcs: Arcs, end: Floats) -> Floats:
    """The whole angles (m,) that arcs to `end` (m, 3) turn, right-hand round their normals, full turns included."""
    u, v = flat(arcs.start - arcs.centre, arcs.normal), flat(end - arcs.centre, arcs.normal)
    part = np.arctan2((arcs.normal * np.cross(u, v)).sum(axis=1), (u * v).sum(axis=1)) % (2 * np.pi)
    closed = (arcs.full_turns > 0) & (np.linalg.norm(u - v, axis=1) < 1e-6)
    return np.asarray(np.where(closed, 0.0, part) + 2 * np.pi * arcs.full_turns, dtype=np.float64)


def lengths(arcs: Arcs, end: Floats) -> Floats:
    """(m,) of the paths: sqrt((r h)^2 + rise^2) of a helix of radius r over the angle h."""
    radius = np.linalg.norm(flat(arcs.start - arcs.centre, arcs.normal), axis=1)
    rise = ((end - arcs.start) * arcs.normal).sum(axis=1)
    return np.asarray(np.hypot(radius * sweeps_rad(arcs, end), rise), dtype=np.float64)


def axes_across(arcs: Arcs) -> NDArray[np.int64]:
    """(m,) the axis across the plane of each arc, 0 to 2 for X to Z; -1 where it lies in none of the planes of PLANES."""
    third = np.abs(arcs.normal).argmax(axis=1)
    rest = arcs.normal.copy()
    rest[np.arange(len(rest)), third] = 0.0
    return np.where(np.linalg.norm(rest, axis=1) > ALONG, -1, third)


def chorded(moves: Moves, tolerance: float, which: NDArray[np.bool_]) -> Moves:
    """The moves with arcs as cuts whose ends lie on them, none farther from its arc than `tolerance`.

    which     (m,) of its arcs
    source    sagitta s = 2 r sin^2(h / 4) of a chord over the angle h (plane geometry)
    """
    arcs = moves.arcs
    assert arcs is not None
    rows = np.flatnonzero(moves.motion == ARC)
    chosen, taken = arcs.at(which), rows[which]
    sweeps = sweeps_rad(chosen, moves.end[taken])
    counts = _counts(chosen, moves.end[taken], sweeps, tolerance)
    times = np.ones(len(moves.motion), dtype=np.int64)
    times[taken] = counts
    source = np.repeat(np.arange(len(times)), times)
    motion, end = moves.motion[source], moves.end[source]
    of_arc = np.zeros(len(times), dtype=np.bool_)
    of_arc[taken] = True
    chords = np.flatnonzero(of_arc[source])
    motion[chords] = CUT
    first, done = 0, 0
    while first < len(counts):
        last = first + max(1, int(np.searchsorted(np.cumsum(counts[first:]), MOST_CHORDS, side="right")))
        some, many = slice(first, last), int(counts[first:last].sum())
        end[chords[done : done + many]] = _points(chosen.at(some), moves.end[taken[some]], sweeps[some], counts[some])
        first, done = last, done + many
    axis = None if moves.axis is None else moves.axis[source]
    left = arcs.at(~which) if not which.all() else None
    return replace(moves, motion=motion, end=end, feed=moves.feed[source], line=moves.line[source], axis=axis, arcs=left)


def _counts(arcs: Arcs, end: Floats, sweeps: Floats, tolerance: float) -> NDArray[np.int64]:
    """(m,) how many chords keep within the tolerance of the larger of an arc's two radii."""
    ends = (np.linalg.norm(flat(point - arcs.centre, arcs.normal), axis=1) for point in (arcs.start, end))
    radius = np.maximum(np.maximum(*ends), 1e-300)
    step = np.minimum(4 * np.arcsin(np.minimum(1.0, np.sqrt(tolerance / (2 * radius)))), math.pi / 2)
    return np.asarray(np.maximum(1, np.ceil(sweeps / step - 1e-9)), dtype=np.int64)


def _points(arcs: Arcs, end: Floats, sweeps: Floats, counts: NDArray[np.int64]) -> Floats:
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
