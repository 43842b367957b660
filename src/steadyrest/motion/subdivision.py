"""Rows cut into more rows: straight moves of the tip to tolerance while the part turns, equal parts, turns, lifted rapids.

Between two planned positions the machine moves its axes linearly, so the tip runs over the part on a curve. In the plane
across the axis of rotation, as complex numbers from the axis: a piece that turns by e from a to b is cut as
p(u) = exp(-i e u) m(u), with m(u) straight from a to exp(i e) b. It meets the line at both ends, so it strays from the
wanted point by at most max |p''| / 8, and |p''| = |e| |e m + 2 i m'| is greatest at an end. With e = D / n and b - a = d / n,

    |e m + 2 i m'|  <=  |2 i d - D z| / n  +  (D^2 |z| + 2 D |d|) / n^2,

z being the end of the whole move where it is greatest. This is the bound of the literature, (dA^2 r + 2 dA dq) / 8, before
its two terms are torn apart: where the turn and the way cancel, which is the usual case on a turned surface, it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from steadyrest.columns import Floats, Ints, or_zero, take
from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.chain import tip_in_part
from steadyrest.motion.kinematics import ACROSS, Axis, Point, wrapped_length
from steadyrest.motion.model import STILL_DEG, Motion, Stand, starts
from steadyrest.motion.setup import Setup

CHORDS = 16
"""Of a block on a chain that has to be cut: their sum is short of its way by a thousandth at half a turn, and of its parts alike."""
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
            cure="correct its length, its feed, its full turns, its radius or the diameter, or allow a wider tolerance",
        )
    return parts.astype(np.int64)


def pieces(tip0: Floats, tip1: Floats, dphi_deg: Floats, axis: Axis, centre: Point, tolerance: float) -> Floats:
    """How many equal parts each straight move of the tip needs to stay within tolerance of its line.

    tip0, tip1  (n, 3) float, start and end of the tip, part frame
    dphi_deg    (n,) float, turn of the part during the move, degrees
    tolerance   how far the tip may stray, the unit of the points, above 0
    returns     (n,) whole numbers, 1 or more
    source      the bound above; it holds for any turn and is some percent above the true deviation at usual tolerances
    """
    u, v = ACROSS[axis]
    turn = np.abs(dphi_deg) * (np.pi / 180.0)
    # only the rows for which the crude bound, 3 D (D r + 2 |d|) / 8 at any turn below a radian, is not enough
    u0, v0, u1, v1 = tip0[:, u] - centre[u], tip0[:, v] - centre[v], tip1[:, u] - centre[u], tip1[:, v] - centre[v]
    du, dv = u1 - u0, v1 - v0
    way = np.sqrt(du * du + dv * dv)
    reach = np.sqrt(u0 * u0 + v0 * v0) + way  # no end is farther out than this
    rows = np.flatnonzero((turn * reach + 2.0 * way) * (turn * (1.0 + turn)) > 8.0 * tolerance)
    answer = np.ones(len(turn))
    if rows.size == 0:
        return answer
    signed = np.asarray(dphi_deg)[rows] * (np.pi / 180.0)
    turn, way, du, dv = turn[rows], way[rows], du[rows], dv[rows]
    start2 = (2.0 * dv + signed * u0[rows]) ** 2 + (2.0 * du - signed * v0[rows]) ** 2
    end2 = (2.0 * dv + signed * u1[rows]) ** 2 + (2.0 * du - signed * v1[rows]) ** 2
    scale = turn / (8.0 * tolerance)
    main = scale * np.sqrt(np.maximum(start2, end2))
    radius = np.sqrt(np.maximum(u0[rows] ** 2 + v0[rows] ** 2, u1[rows] ** 2 + v1[rows] ** 2))
    rest = scale * turn * (turn * radius + 2.0 * way)
    # the least n with n^2 >= main + rest / n, from above: two rounds, each of which lands past it
    n = np.maximum(1.0, np.sqrt(main))
    n = np.sqrt(main + rest / n)
    n = np.maximum(1.0, np.sqrt(main + rest / np.maximum(n, 1.0)))
    n = np.sqrt(main + rest / n)
    answer[rows] = np.maximum(1.0, np.ceil(n))
    return answer


def parts_of(pieces: Ints) -> tuple[Ints, Ints]:
    """Of all parts (m,), m the sum of the pieces (n,): the row that each belongs to, and which of its parts it is, from 0."""
    source = np.repeat(np.arange(len(pieces), dtype=np.int64), pieces)
    return source, np.arange(len(source)) - np.repeat(np.cumsum(pieces) - pieces, pieces)


def _between(values0: Floats, values1: Floats, source: Ints, ends: Floats) -> Floats:
    """The columns (n,) or (n, k) of rows interpolated linearly at the ends (m,) of their parts; at 1 it is the row's own end, exactly."""
    before, after = values0[source], values1[source]
    ends = ends.reshape(-1, *(1,) * (values0.ndim - 1))
    return np.asarray(np.where(ends == 1.0, after, before + (after - before) * ends))


def expand(values0: Floats, values1: Floats, pieces: Ints) -> tuple[Floats, Ints]:
    """The ends of the equal pieces of each move, its columns interpolated linearly; the last is the move's own end, exactly.

    values0, values1  (n,) or (n, k) float, at the start and the end of each move
    pieces            (n,) int, 1 or more
    returns           rows (m,) or (m, k) float, m the sum of the pieces; source (m,) int64, the move each belongs to
    """
    source, number = parts_of(pieces)
    return _between(values0, values1, source, (number + 1) / pieces[source]), source


def split(rows: Motion, stand: Stand, parts: Floats, setup: Setup) -> Motion:
    """Straight rows cut into equal parts, (n,) whole numbers, as the machine's axes move: linearly. Arcs are never cut here.

    raises    PlanError where they are too many
    """
    if not len(rows) or float(parts.max()) <= 1:
        return rows
    pieces = countable(parts, rows.move, rows.operation, setup)
    source, number = parts_of(pieces)
    return _parted(rows, stand, source, (number + 1) / pieces[source], setup)


def split_turns(rows: Motion, stand: Stand, widest_deg: Sequence[float], setup: Setup) -> Motion:
    """Rows cut so that none turns a rotary by more than its widest_deg (r,)."""
    turn = (or_zero(np.abs(rows.rotary_deg - starts(rows, stand)[1])) / np.array(widest_deg)).max(axis=1, initial=0.0)
    return split(rows, stand, np.maximum(1.0, np.ceil(turn - 1e-9)), setup)


def cut_at(rows: Motion, stand: Stand, at: Ints, fractions: Floats, setup: Setup) -> Motion:
    """Straight rows with more points on them: at (m,) names the row, fractions (m,) how far along it, both in order."""
    if not len(at):
        return rows
    source = np.sort(np.concatenate([np.arange(len(rows)), at]))
    ends = np.ones(len(source))
    ends[np.arange(len(at)) + at] = fractions
    return _parted(rows, stand, source, ends, setup)


def _parted(rows: Motion, stand: Stand, source: Ints, ends: Floats, setup: Setup) -> Motion:
    """Rows from parts: source (m,) names the row of each, ends (m,) how far along it the part ends; the last of a row ends at 1.

    The tip's way is shared by the ways of the parts over the part: where the radius changes, equal turns are not equal ways.
    """
    xyz0, w0 = starts(rows, stand)
    xyz, w_deg = _between(xyz0, rows.xyz, source, ends), _between(w0, rows.rotary_deg, source, ends)
    first = np.diff(source, prepend=-1) > 0
    begin, begin_w = np.vstack([xyz[:1], xyz[:-1]]), np.vstack([w_deg[:1], w_deg[:-1]])
    begin[first], begin_w[first] = xyz0, w0
    way = _way(begin, begin_w, xyz, w_deg, rows.operation, setup)
    whole = np.bincount(source, weights=way, minlength=len(rows))[source]
    share = np.divide(way, whole, out=np.diff(ends, prepend=0.0) + first * 1.0, where=whole > 0)
    out = take(rows, source)
    return replace(out, xyz=xyz, rotary_deg=w_deg, tip=out.tip * share)


def _way(xyz0: Floats, w0: Floats, xyz1: Floats, w1: Floats, operation: int, setup: Setup) -> Floats:
    """Ways (n,) over the part of axes moving linearly: with one rotary in the table along the curve, on a chain along chords."""
    if setup.on_chain:
        lines = setup.lines_with(operation)
        signs = [line.sign for line in lines]
        shares = np.linspace(0.0, 1.0, CHORDS + 1)
        tips = [tip_in_part(xyz0 + u * (xyz1 - xyz0), np.deg2rad((w0 + u * (w1 - w0)) * signs), lines) for u in shares]
        return or_zero(np.sum([np.linalg.norm(two - one, axis=1) for one, two in pairwise(tips)], axis=0))
    across = [axis for axis in range(3) if axis != setup.axis]
    radius0, radius1 = (np.hypot(*(xyz[:, axis] - setup.centre[axis] for axis in across)) for xyz in (xyz0, xyz1))
    step = xyz1 - xyz0
    turn = or_zero(w1 - w0).sum(axis=1)  # of one rotary, or none
    way = np.sqrt(np.einsum("ij,ij->i", step, step))
    turns = np.abs(turn) > STILL_DEG
    if turns.any():
        way[turns] = wrapped_length(step[turns, setup.axis], turn[turns], radius0[turns], radius1[turns])
    out: Floats = or_zero(way)
    return out


def lifted(rows: Motion, stand: Stand, clear: float | None) -> tuple[Motion, int]:
    """Rapids that turn the rotary below the clear height go up first, turn there, and come down: three rows for one.

    returns   the rows, and how many rapids were changed
    source    design, rules of motion: never turn at rapid inside the swept radius and clearance
    """
    rapid = rows.kind == RAPID
    if not rapid.any() or np.isnan(rows.rotary_deg).all():
        return rows, 0
    xyz0, w0 = starts(rows, stand)
    low = rapid & (np.abs(rows.rotary_deg - w0) > STILL_DEG).any(axis=1)
    top = np.maximum(xyz0[:, 2], rows.xyz[:, 2])
    if clear is not None:
        # A hair below the clear height is the height itself, come through a scale or a rotation.
        low &= np.minimum(xyz0[:, 2], rows.xyz[:, 2]) < clear - 1e-9
        top = np.maximum(clear, top)
    if not low.any():
        return rows, 0
    source, which = parts_of(np.where(low, 3, 1))
    out = take(rows, source)
    up, over = (low[source] & (which == step) for step in (0, 1))
    out.xyz[up], out.rotary_deg[up] = xyz0[source[up]], w0[source[up]]
    out.xyz[up | over, 2] = top[source[up | over]]
    return out, int(np.count_nonzero(low))
