"""Rows cut into more rows on the same way, each with its own share of the tip's way over the part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, Ints, take
from steadyrest.errors import PlanError
from steadyrest.motion.model import RAPID, STILL_DEG, Motion, Stand, starts
from steadyrest.motion.setup import Setup
from steadyrest.motion.wrap import wrapped_length

MOST_PARTS = 2_000_000
"""Blocks that the moves of one run may become: a hundred for each of its moves, or all of them for one."""


def countable(parts: Floats, move: Ints, operation: int, setup: Setup) -> Ints:
    """Into how many blocks (n,) the moves of a run are cut, once it is known that they are not too many.

    parts, move   (n,) the blocks of each, finite; its number in the toolpath
    raises        PlanError at the move that becomes most, before anything is made of it
    """
    total = float(parts.sum())
    if total > MOST_PARTS:
        worst = int(np.argmax(parts))
        raise PlanError(
            f"the move would become {float(parts[worst]):.4g} blocks, and with those beside it {total:.4g}; {MOST_PARTS:,} are allowed",
            place=setup.place(operation, int(move[worst])),
            cure="correct its length, its feed or the diameter, or allow a wider tolerance",
        )
    return parts.astype(np.int64)


def split(rows: Motion, stand: Stand, pieces: Ints, setup: Setup) -> Motion:
    """Straight rows cut into equal parts, pieces (n,) each, as the machine's axes move: linearly. Arcs are never cut here."""
    if not len(rows) or int(pieces.max()) <= 1:
        return rows
    source = np.repeat(np.arange(len(rows)), pieces)
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    ends = (np.arange(len(source)) - first + 1) / pieces[source]
    return _parted(rows, stand, source, ends, setup)


def split_turns(rows: Motion, stand: Stand, widest_deg: float, operation: int, setup: Setup) -> Motion:
    """Rows cut so that none turns the rotary by more than widest_deg."""
    turn = np.nan_to_num(np.abs(rows.rotary_deg - starts(rows, stand)[1])).max(axis=1, initial=0.0)
    parts = np.maximum(1.0, np.ceil(turn / widest_deg - 1e-9))
    return split(rows, stand, countable(parts, rows.move, operation, setup), setup)


def cut_at(rows: Motion, stand: Stand, at: Ints, fractions: Floats, setup: Setup) -> Motion:
    """Straight rows with more points on them: at (m,) names the row, fractions (m,) how far along it, both in order."""
    if not len(at):
        return rows
    pieces = np.ones(len(rows), dtype=np.int64)
    np.add.at(pieces, at, 1)
    source = np.repeat(np.arange(len(rows)), pieces)
    ends = np.ones(len(source))
    first = np.cumsum(pieces) - pieces
    rank = np.arange(len(at)) - np.searchsorted(at, at)
    ends[first[at] + rank] = fractions
    return _parted(rows, stand, source, ends, setup)


def lifted(rows: Motion, stand: Stand, clear: float | None) -> tuple[Motion, int]:
    """Rapids that turn the rotary below the clear height go up first, turn there, and come down: three rows for one.

    returns   the rows, and how many rapids were changed
    source    design, rules of motion: never turn at rapid inside the swept radius and clearance
    """
    xyz0, w0 = starts(rows, stand)
    turning = (rows.kind == RAPID) & (np.abs(rows.rotary_deg - w0) > STILL_DEG).any(axis=1)
    if clear is None:
        low = turning
        top = np.maximum(xyz0[:, 2], rows.xyz[:, 2])
    else:
        # A hair below the clear height is the height itself, come through a scale or a rotation.
        low = turning & (np.minimum(xyz0[:, 2], rows.xyz[:, 2]) < clear - 1e-9)
        top = np.maximum(clear, np.maximum(xyz0[:, 2], rows.xyz[:, 2]))
    count = int(np.count_nonzero(low))
    if not count:
        return rows, 0
    pieces = np.where(low, 3, 1)
    source = np.repeat(np.arange(len(rows)), pieces)
    which = np.arange(len(source)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    out = take(rows, source)
    xyz, w_deg = out.xyz.copy(), out.rotary_deg.copy()
    up = low[source] & (which == 0)
    over = low[source] & (which == 1)
    xyz[up] = xyz0[source[up]]
    w_deg[up] = w0[source[up]]
    xyz[up, 2] = top[source[up]]
    xyz[over, 2] = top[source[over]]
    return replace(out, xyz=xyz, rotary_deg=w_deg), count


def _parted(rows: Motion, stand: Stand, source: Ints, ends: Floats, setup: Setup) -> Motion:
    """Rows from parts: source (m,) names the row of each, ends (m,) how far along it the part ends; the last of a row ends at 1.

    The tip's way is shared by the ways of the parts over the part: where the radius changes, equal turns are not equal ways.
    """
    xyz0, w0 = starts(rows, stand)
    out = take(rows, source)
    xyz = xyz0[source] + (out.xyz - xyz0[source]) * ends[:, None]
    w_deg = w0[source] + (out.rotary_deg - w0[source]) * ends[:, None]
    # The last part ends exactly at the given point, whatever the division did.
    last = ends == 1.0
    xyz[last], w_deg[last] = out.xyz[last], out.rotary_deg[last]
    first = np.concatenate([[True], source[1:] != source[:-1]])
    begin = np.vstack([xyz[:1], xyz[:-1]])
    begin[first] = xyz0[source[first]]
    begin_w = np.vstack([w_deg[:1], w_deg[:-1]])
    begin_w[first] = w0[source[first]]
    way = _way(begin, begin_w, xyz, w_deg, setup)
    whole = np.bincount(source, weights=way, minlength=len(rows))[source]
    share = np.divide(way, whole, out=np.diff(ends, prepend=0.0) + first * 1.0, where=whole > 0)
    return replace(out, xyz=xyz, rotary_deg=w_deg, tip=out.tip * share)


def _way(xyz0: Floats, w0: Floats, xyz1: Floats, w1: Floats, setup: Setup) -> Floats:
    """Ways (n,) over the part of axes moving linearly, the tip at its distance from the axis of rotation."""
    across = [axis for axis in range(3) if axis != setup.axis]
    radius0, radius1 = (np.hypot(*(xyz[:, axis] - setup.centre[axis] for axis in across)) for xyz in (xyz0, xyz1))
    step = xyz1 - xyz0
    turn = np.nan_to_num(w1 - w0).sum(axis=1)  # of one rotary, or none
    way = np.sqrt(np.einsum("ij,ij->i", step, step))
    turns = np.abs(turn) > STILL_DEG
    if turns.any():
        way[turns] = wrapped_length(step[turns, setup.axis], turn[turns], radius0[turns], radius1[turns])
    out: Floats = np.nan_to_num(way)
    return out
