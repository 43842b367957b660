"""Indexed and still operations: the rotary stands, so their coordinates are the work coordinates and arcs stay arcs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, join, take
from steadyrest.motion.arcs import Arc, RadiusRounding, flattened, length, spoken
from steadyrest.motion.model import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, LINE, Arcs, Motion, Stand, motion
from steadyrest.motion.setup import Setup
from steadyrest.motion.speed import decimals_of
from steadyrest.motion.turning import PLANES, arc_of
from steadyrest.toolpath import MoveColumns

RADIUS_FORM_COUNTS = 10
"""How many counts of R the middle of an arc said by its radius may stray: writing holds to that as well."""


def flat_rows(run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> tuple[Motion, Stand, int, int]:
    """Motion of a run with the rotary standing and not commanded: lines as they are, arcs as the controller speaks them, else cut up.

    returns   rows, the stand after them (point only), and how many arcs became how many straight blocks
    """
    scaled = setup.scale != 1.0
    end = run.end * setup.scale if scaled else run.end
    feed = run.feed * setup.scale if scaled else run.feed
    begin = np.vstack([stand.point[None, :], end[:-1]])
    move = run.first_move + np.arange(len(run))
    tip = np.sqrt(np.einsum("ij,ij->i", end - begin, end - begin))
    after = replace(stand, point=end[-1])
    still = np.full((len(end), len(stand.rotary_deg)), np.nan)
    whole = motion(np.minimum(run.kind, LINE), end, still, feed=feed, move=move, tip=tip)
    if run.arc_centre is None:
        return whole, after, 0, 0
    parts: list[Motion] = []
    done = arcs = blocks = 0
    rounding = _radius_rounding(setup)
    for row in np.flatnonzero(run.kind > LINE):
        parts.append(take(whole, slice(done, row)))
        arc = arc_of(run, int(row), begin[row], end[row], setup.scale)
        said = spoken(arc, setup.profile.arcs, 1.0 / setup.mm, rounding=rounding)
        if said is None:
            points = flattened(arc, setup.tolerance, setup.place(operation, run.first_move + int(row)))
            parts.append(_chords(whole, int(row), begin[row], points))
            arcs, blocks = arcs + 1, blocks + len(points)
        else:
            parts.append(_arcs(whole, int(row), said))
        done = int(row) + 1
    parts.append(take(whole, slice(done, None)))
    return join(parts), after, arcs, blocks


def _radius_rounding(setup: Setup) -> RadiusRounding:
    """Two ends rounded in both axes of the plane, and R: half the chord is off by a root of half a count at most."""
    numbers = setup.profile.numbers
    axis = max(10.0 ** -decimals_of(numbers.by_letter.get(letter, numbers.length), setup) for letter in ("X", "Y", "Z"))
    radius = 10.0 ** -decimals_of(numbers.by_letter.get("R", numbers.length), setup)
    return RadiusRounding(axis * 0.5**0.5, radius / 2, min(RADIUS_FORM_COUNTS * radius, setup.tolerance))


def _chords(whole: Motion, row: int, begin: Floats, points: Floats) -> Motion:
    count = len(points)
    before = np.vstack([begin[None, :], points[:-1]])
    way = np.sqrt(np.einsum("ij,ij->i", points - before, points - before))
    one = take(whole, np.full(count, row))
    return replace(one, xyz=points, tip=way)


def _arcs(whole: Motion, row: int, said: list[Arc]) -> Motion:
    count = len(said)
    return replace(
        take(whole, np.full(count, row)),
        kind=np.full(count, ARC_CLOCKWISE if said[0].clockwise else ARC_COUNTERCLOCKWISE, dtype=np.uint8),
        xyz=np.array([arc.end for arc in said]),
        tip=np.array([length(arc) for arc in said]),
        arcs=Arcs(np.array([arc.centre for arc in said]), np.full(count, PLANES.index(said[0].plane), dtype=np.uint8)),
    )
