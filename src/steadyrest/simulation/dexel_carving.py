"""Dexels being carved: in whole arrays at first, with compiled loops from some hundred positions on where numba is installed."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from importlib.util import find_spec
from math import inf

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import AXES
from steadyrest.simulation import dexel_kernel as kernel
from steadyrest.simulation.carving import MOST_THREADS, Carving, nothing_taken, of_parts
from steadyrest.simulation.dexel import Billet, Dexels
from steadyrest.simulation.dexel_kernel import THIN, Bundle, Pose
from steadyrest.simulation.kernel import AXIAL, DEPTH, HOLDER, LABELLED_MM, SHANK, SIDE_HIGH, SIDE_LOW, VOLUME, span_of
from steadyrest.simulation.solid import Solids, ToolSolid

WORTH_COMPILING = 150
"""Positions; starting the compiler costs as much as some hundred positions in whole arrays."""
SQUARE = 1e-13
"""Of a unit vector: a component smaller than this is none."""
_VECTORS = 3
"""The first numbers of a pose are so many vectors."""


class DexelCarver:
    """Dexels being carved.

    dexels   what is left
    axis     of the toolpath: touches are told by it (`seen_about`)
    """

    def __init__(self, dexels: Dexels, axis: str, way: Carving = "auto") -> None:
        if way == "compiled" and find_spec("numba") is None:
            raise ValueError("compiled carving needs numba: install steadyrest[fast]")
        self.dexels = dexels
        self.done = 0
        self._axis, self._way = axis, way
        self._can_compile = find_spec("numba") is not None
        self._parts = min(os.cpu_count() or 1, MOST_THREADS)

    def carve(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """Take poses (k, 12) out, in the part frame from the centre; what each took and touched, (k, COLUMNS) of `kernel`.

        VOLUME is the mean of the three bundles. DEPTH, SHANK and HOLDER are the least that a bundle has met, of those that met any: where a
        tool grazes a surface, lines along it go through much of it. Of poses that follow each other closely, lines along the way meet next
        to nothing, for those before have taken it: there DEPTH is the second least. Their other numbers are the place (`seen_about`).
        """
        self.done += len(table)
        compiled = self._way == "compiled" or (self._way == "auto" and self._can_compile and self.done > WORTH_COMPILING)
        carved = self._compiled if compiled else self._in_arrays
        return self._together(carved(table, operation, solids, touch_mm), np.asarray((table[:, 9:11] > 0).any(axis=1)))

    def _in_arrays(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        """(3, k, COLUMNS) of `dexel_kernel.carve_bundle`."""
        outs = np.stack([nothing_taken(len(table))] * 3)
        bundles = list(self.dexels.bundles)
        for along, out in enumerate(outs):
            low, high = _box(self.dexels, along)
            for row, taken in zip(_as_seen(table, along), out, strict=True):
                pose = Pose(*row.tolist())
                for column, body in ((DEPTH, solids.rapid if pose.rapid else solids.cut), (SHANK, solids.shank), (HOLDER, solids.holder)):
                    if body.lift_mm < inf:
                        bundles[along] = _put(bundles[along], low, high, pose, body, column, operation, touch_mm, taken)
        self._keep(bundles)
        return outs

    def _compiled(self, table: Floats, operation: int, solids: Solids, touch_mm: float) -> Floats:
        loops, parts = kernel.compiled(), self._parts
        tables = [_as_seen(table, along) for along in range(3)]
        work = [(along, part, nothing_taken(len(table))) for along in range(3) for part in range(parts)]

        def carve(bundles: list[Bundle], number: int, start: int) -> int:
            along, part, out = work[number]
            box = _box(self.dexels, along)
            return loops(bundles[along], *box, tables[along], start, operation, solids, touch_mm, part, parts, out)

        begun = [0] * len(work)
        while any(start < len(table) for start in begun):
            bundles = list(self.dexels.bundles)
            with ThreadPoolExecutor(parts) as pool:  # the compiler lets one thread in at a time; the loops run without its lock
                begun = list(pool.map(partial(carve, bundles), range(len(work)), begun))
            full = {along for (along, _, _), start in zip(work, begun, strict=True) if start < len(table)}
            self._keep([_roomier(one) if along in full else one for along, one in enumerate(bundles)])
        return np.stack([of_parts(np.stack([out for along, _, out in work if along == which])) for which in range(3)])

    def _keep(self, bundles: list[Bundle]) -> None:
        first, second, third = bundles
        self.dexels = Dexels(self.dexels.low, self.dexels.high, (first, second, third))

    def _together(self, outs: Floats, swept: Bools) -> Floats:
        """What three bundles say (3, k, COLUMNS) as one; whether poses are moved (k,)."""
        out: Floats = outs.max(axis=0)
        out[:, VOLUME], out[:, SIDE_LOW] = outs[..., VOLUME].mean(axis=0), outs[..., SIDE_LOW].min(axis=0)
        for column in (DEPTH, SHANK, HOLDER):
            hit = np.flatnonzero(out[:, column] > 0)
            out[:, column + 1 : column + 3] = 0.0
            lengths = outs[:, hit, column]
            order = np.argsort(np.where(lengths > 0, lengths, inf), axis=0)
            second = ~swept[hit] & (np.count_nonzero(lengths > 0, axis=0) > 1) & (column == DEPTH)
            along = np.where(second, order[1], order[0])
            chosen = outs[along, hit, column : column + 3]
            out[hit, column] = chosen[:, 0]
            out[hit, column + 1 : column + 3] = seen_about(self._points(along, chosen[:, 1].astype(np.int64), chosen[:, 2]), self._axis)
        return out

    def _points(self, along: Ints, line: Ints, w: Floats) -> Floats:
        """(n, 3) in the part frame, from the centre: lines by their bundle and number, places along them."""
        points = np.empty((len(along), 3))
        for which, bundle in enumerate(self.dexels.bundles):
            i, j = np.divmod(line, len(bundle.v))
            here = along == which
            points[here] = np.roll(np.column_stack([bundle.u[i[here]], bundle.v[j[here]], w[here]]), which + 1, axis=1)
        return points


def seen_about(points: Floats, axis: str) -> Floats:
    """(n, 2) where points (n, 3) from the centre stand on the charts of `field`: along the axis, and the angle; about Z: x and y."""
    x, y, z = points.T
    if axis == "Z":
        return np.column_stack([x, y])
    return np.column_stack([x, np.arctan2(-y, z)] if axis == "X" else [y, np.arctan2(x, z)])


def around_place(billet: Billet, axis: str, place: tuple[float, float], reach_mm: float) -> tuple[Floats, Floats]:
    """The box, (3,) and (3,), that holds all points which `seen_about` tells by that place, and what is no farther from them."""
    first, second = place
    farthest = float(np.linalg.norm(np.maximum(np.abs(billet.low), np.abs(billet.high))))
    if axis == "Z":
        ends = np.array([[first, second, billet.low[2]], [first, second, billet.high[2]]])
    else:
        out = np.array([0.0, -np.sin(second), np.cos(second)] if axis == "X" else [np.sin(second), 0.0, np.cos(second)])
        ends = np.array([np.zeros(3), farthest * out])
        ends[:, AXES.index(axis)] = first
    return ends.min(axis=0) - reach_mm, ends.max(axis=0) + reach_mm


def _as_seen(table: Floats, along: int) -> Floats:
    """Poses with their vectors by u, v, w of a bundle; directions all but square to an axis are square to it, so that nothing is divided
    by next to nothing."""
    order = [3 * vector + (along + 1 + at) % 3 for vector in range(_VECTORS) for at in range(3)]
    seen = np.ascontiguousarray(table[:, [*order, *range(3 * _VECTORS, table.shape[1])]])
    directions = seen[:, 3 : 3 * _VECTORS]
    directions[np.abs(directions) < SQUARE] = 0.0
    return seen


def _box(dexels: Dexels, along: int) -> tuple[Floats, Floats]:
    return np.roll(dexels.low, -along - 1), np.roll(dexels.high, -along - 1)


def _roomier(bundle: Bundle) -> Bundle:
    """The same with room for twice as many pieces on a line."""
    ends, cut_by = (np.concatenate([one, np.zeros_like(one)], axis=2) for one in (bundle.ends, bundle.cut_by))
    return bundle._replace(ends=ends, cut_by=cut_by)


def _put(
    bundle: Bundle,
    low_box: Floats,
    high_box: Floats,
    pose: Pose,
    body: ToolSolid,
    column: int,
    operation: int,
    touch_mm: float,
    taken: Floats,
) -> Bundle:
    """`dexel_kernel.put` in whole arrays, for all lines that the body may reach: the same as the compiled loops do line by line."""
    upto = min(body.cutting_mm + pose.rise, kernel.height_in_box(pose, low_box, high_box))
    if upto <= body.lift_mm:
        return bundle
    spans = zip(pose[:3], pose[3:6], pose[6:9], strict=True)
    of_u, of_v, (lowest, highest) = (kernel.spread(body, upto, tip, axis, pose.long * feed) for tip, axis, feed in spans)
    i_first, i_last = span_of(*of_u, bundle.u[0], bundle.u_step, len(bundle.u))
    j_first, j_last = span_of(*of_v, bundle.v[0], bundle.v_step, len(bundle.v))
    if i_first > i_last or j_first > j_last:
        return bundle
    held = bundle.held[i_first : i_last + 1, j_first : j_last + 1]
    i, j = np.nonzero(held)
    ends = bundle.ends[i + i_first, j + j_first]
    near = (ends[:, 0, 0] < highest) & (ends[np.arange(len(i)), held[i, j] - 1, 1] > lowest)
    i, j = i[near] + i_first, j[near] + j_first
    low, high = kernel.reach(body, pose, upto, bundle.u[i], bundle.v[j])
    enters = high - low >= THIN
    i, j, low, high = i[enters], j[enters], low[enters], high[enters]
    if not len(i):
        return bundle
    if column == DEPTH:
        bundle, length, low, high = _taken_out(bundle, i, j, low, high, operation)
        taken[VOLUME] += float(length.sum()) * bundle.u_step * bundle.v_step
        deep = length > touch_mm
        i, j, low, high, length = i[deep], j[deep], low[deep], high[deep], length[deep]
        if len(i):
            axial, least, most = kernel.engagement(pose, bundle.u[i], bundle.v[j], low, high)
            taken[AXIAL] = max(taken[AXIAL], min(float(axial.max()), body.cutting_mm + pose.rise))
            taken[SIDE_LOW], taken[SIDE_HIGH] = min(taken[SIDE_LOW], float(least.min())), max(taken[SIDE_HIGH], float(most.max()))
    else:
        begin, end, there = _pieces(bundle, i, j)
        within = np.maximum(np.minimum(end, high[:, None]) - np.maximum(begin, low[:, None]), 0.0)
        length = np.sum(within, axis=1, where=there)
    if len(i) and length.max() > taken[column]:
        at = int(np.argmax(length))
        taken[column : column + 3] = length[at], i[at] * len(bundle.v) + j[at], (low[at] + high[at]) / 2
    return bundle


def _pieces(bundle: Bundle, i: Ints, j: Ints) -> tuple[Floats, Floats, Bools]:
    """Of lines (c,) where pieces begin and end, and which there are, (c, room) each."""
    ends = bundle.ends[i, j].astype(np.float64)
    return ends[..., 0], ends[..., 1], np.arange(ends.shape[1]) < bundle.held[i, j, None]


def _taken_out(bundle: Bundle, i: Ints, j: Ints, low: Floats, high: Floats, operation: int) -> tuple[Bundle, Floats, Floats, Floats]:
    """`dexel_kernel.take_out` for lines (c,): length taken, and between which places, (c,) each."""
    begin, end, there = _pieces(bundle, i, j)
    one, other = np.maximum(begin, low[:, None]), np.minimum(end, high[:, None])
    meets = there & (other - one >= THIN)
    begins, stops = meets & (one - begin >= THIN), meets & (end - other >= THIN)
    one, other = np.where(begins, one, begin), np.where(stops, other, end)
    length = np.sum(other - one, axis=1, where=meets)
    first, last = np.where(meets, one, inf).min(axis=1), np.where(meets, other, -inf).max(axis=1)
    cut_by = bundle.cut_by[i, j]
    new = np.where((other - one > LABELLED_MM)[..., None] | (begins & stops)[..., None], operation, cut_by)
    left = (
        np.stack([begin, np.where(meets, one, end)], axis=2),
        np.stack([cut_by[..., 0], np.where(begins, new[..., 1], cut_by[..., 1])], axis=2),
    )
    right = np.stack([other, end], axis=2), np.stack([new[..., 0], cut_by[..., 1]], axis=2)
    ends, by = (np.stack(pair, axis=2).reshape(len(i), -1, 2) for pair in zip(left, right, strict=True))
    valid = np.stack([there & (~meets | begins), stops], axis=2).reshape(len(i), -1)
    held = valid.sum(axis=1)
    while held.max() > bundle.ends.shape[2]:
        bundle = _roomier(bundle)
    order = np.argsort(~valid, axis=1, kind="stable")[:, : bundle.ends.shape[2], None]
    wide = order.shape[1]
    bundle.ends[i, j, :wide], bundle.cut_by[i, j, :wide] = np.take_along_axis(ends, order, 1), np.take_along_axis(by, order, 1)
    bundle.held[i, j] = held
    return bundle, length, first, last
