"""Indexed and still operations: the rotary stands, so their coordinates are the work coordinates and arcs stay arcs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadyrest.motion.arcs import Arc, RadiusRounding, flattened, length, spoken
from steadyrest.motion.model import LINE, Floats
from steadyrest.motion.rows import Rows, Stand, straight
from steadyrest.motion.setup import Setup
from steadyrest.motion.speed import decimals_of
from steadyrest.motion.turning import PLANES, arc_of
from steadyrest.toolpath import MoveColumns

RADIUS_FORM_COUNTS = 10
"""How many counts of R the middle of an arc said by its radius may stray: writing holds to that as well."""


def flat_rows(run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> tuple[Rows, Stand, int, int]:
    """Rows of a run with the rotary standing and not commanded: lines as they are, arcs as the controller speaks them, else cut up.

    returns   rows, the stand after them (point only), and how many arcs became how many straight blocks
    """
    scaled = setup.scale != 1.0
    end = run.end * setup.scale if scaled else run.end
    feed = run.feed * setup.scale if scaled else run.feed
    begin = np.vstack([stand.point[None, :], end[:-1]])
    move = run.first_move + np.arange(len(run))
    tip = np.sqrt(np.einsum("ij,ij->i", end - begin, end - begin))
    after = replace(stand, point=end[-1])
    still = np.full(len(end), np.nan)
    if run.arc_centre is None:
        return straight(run.kind, end, still, feed, tip, move), after, 0, 0
    parts: list[Rows] = []
    done = arcs = blocks = 0
    whole = straight(run.kind, end, still, feed, tip, move)
    rounding = _radius_rounding(setup)
    for row in np.flatnonzero(run.kind > LINE):
        parts.append(_lines(whole, done, int(row)))
        arc = arc_of(run, int(row), begin[row], end[row], setup.scale)
        said = spoken(arc, setup.profile.arcs, 1.0 / setup.mm, rounding=rounding)
        if said is None:
            points = flattened(arc, setup.tolerance, setup.place(operation, run.first_move + int(row)))
            parts.append(_chords(whole, int(row), begin[row], points))
            arcs, blocks = arcs + 1, blocks + len(points)
        else:
            parts.append(_arcs(whole, int(row), said))
        done = int(row) + 1
    parts.append(_lines(whole, done, len(end)))
    return joined(parts), after, arcs, blocks


def _radius_rounding(setup: Setup) -> RadiusRounding:
    """Two ends rounded in both axes of the plane, and R: half the chord is off by a root of half a count at most."""
    numbers = setup.profile.numbers
    axis = max(10.0 ** -decimals_of(numbers.by_letter.get(letter, numbers.length), setup) for letter in ("X", "Y", "Z"))
    radius = 10.0 ** -decimals_of(numbers.by_letter.get("R", numbers.length), setup)
    return RadiusRounding(axis * 0.5**0.5, radius / 2, min(RADIUS_FORM_COUNTS * radius, setup.tolerance))


def _lines(whole: Rows, start: int, stop: int) -> Rows:
    return whole.taken(slice(start, stop))


def _chords(whole: Rows, row: int, begin: Floats, points: Floats) -> Rows:
    count = len(points)
    before = np.vstack([begin[None, :], points[:-1]])
    way = np.sqrt(np.einsum("ij,ij->i", points - before, points - before))
    one = whole.taken(np.full(count, row))
    return replace(one, motion=np.full(count, LINE, dtype=np.uint8), xyz=points, tip=way)


def _arcs(whole: Rows, row: int, said: list[Arc]) -> Rows:
    count = len(said)
    one = whole.taken(np.full(count, row))
    return replace(
        one,
        motion=np.array([2 if arc.clockwise else 3 for arc in said], dtype=np.uint8),
        xyz=np.array([arc.end for arc in said]),
        tip=np.array([length(arc) for arc in said]),
        centre=np.array([arc.centre for arc in said]),
        plane=np.full(count, PLANES.index(said[0].plane), dtype=np.uint8),
    )


def joined(parts: list[Rows]) -> Rows:
    """Rows one after the other; the columns of arcs are filled up where one part has arcs and another has none."""
    parts = [part for part in parts if len(part)]
    if len(parts) == 1:
        return parts[0]
    centre = plane = None
    if any(part.centre is not None for part in parts):
        centre = np.vstack([part.centre if part.centre is not None else np.full((len(part), 3), np.nan) for part in parts])
        plane = np.concatenate([part.plane if part.plane is not None else np.zeros(len(part), np.uint8) for part in parts])
    return Rows(
        np.concatenate([part.motion for part in parts]),
        np.vstack([part.xyz for part in parts]),
        np.concatenate([part.w_deg for part in parts]),
        np.concatenate([part.asked for part in parts]),
        np.concatenate([part.tip for part in parts]),
        np.concatenate([part.move for part in parts]),
        centre,
        plane,
    )
