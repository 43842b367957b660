"""The outside of dexels, as report and pictures take it: lines from the axis outward and along the axis from either end, as `Field`s.

What lies behind along all of these is not told, such as the end of a hole that leans under the rest. Volumes, engagement and touches are
those of the dexels.
"""

from __future__ import annotations

from math import ceil, pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import AXES
from steadyrest.simulation.cut import Side, outward
from steadyrest.simulation.dexel import Dexels
from steadyrest.simulation.dexel_kernel import Bundle
from steadyrest.simulation.field import Field, directions, middles, no_gaps
from steadyrest.simulation.history import History
from steadyrest.simulation.kernel import TINY

MOST_ALONG, MOST_AROUND = 512, 1024
CLOSE = 1.5
"""Lines whose ends are no farther apart than so many times their distance are of one surface."""
STILL = 0.05
"""Of the distance between lines: less than that is no change of what is seen."""
CutBy = NDArray[np.uint16]
Looking = Literal["outward", "from the high end", "from the low end"]


class Sight:
    """Lines along which dexels are looked at: from the axis outward, or along it from one of its ends, as the dexels' own lines lie.

    lines    (n, m) as a field of which nothing is left
    farthest_mm  no material is farther out
    rows, origin_mm  as of `Side`. About X and Y lines begin on the axis of rotation, about Z in the middle of the dexels' box
    """

    def __init__(self, dexels: Dexels, axis: str, looking: Looking, along: int | None = None, around: int | None = None) -> None:
        """Along, around: number of lines along the axis and around it; by default as close as the dexels, 512 and 1024 at most."""
        self._which, self._looking = AXES.index(axis), looking
        low, high = dexels.low[self._which], dexels.high[self._which]
        self._step, self.farthest_mm, self.origin_mm = dexels.cell_mm, float(high - low), np.zeros(3)
        if looking == "outward":
            if axis == "Z":
                self.origin_mm[:2] = ((dexels.low + dexels.high) / 2)[:2]
            self.farthest_mm = _farthest(dexels, self._which, self.origin_mm)
            n = along or min(max(ceil((high - low) / self._step), 2), MOST_ALONG)
            m = around or int(np.clip(ceil(2 * pi * self.farthest_mm / self._step), 256, MOST_AROUND))
            first, second = middles(float(low), float(high - low) / n, n), middles(-pi, 2 * pi / m, m)
            self.rows, steps = directions("radii", axis), (float(high - low) / n, 2 * pi / m)
        else:
            bundle, self.rows = dexels.bundles[self._which], directions("heights", axis)
            first, second, steps = bundle.u, bundle.v, (bundle.u_step, bundle.v_step)
            self.origin_mm[self._which] = low
            if looking == "from the low end":  # the other two change places, so that it stays right-handed
                first, second, steps = second, first, steps[::-1]
                self.rows, self.origin_mm[self._which] = self.rows[[1, 0, 2]] * [[1], [1], [-1]], high
        n, m = len(first), len(second)
        chart: Literal["radii", "heights"] = "radii" if looking == "outward" else "heights"
        none, base = np.zeros((n, m), dtype=np.float32), 0.0 if looking == "outward" else float(low)
        self.lines = Field(chart, axis, first, second, *steps, none, *no_gaps((n, m)), base_mm=base)

    def side(self, dexels: Dexels, history: History | None = None) -> Side:
        """What is seen."""
        n, m = self.lines.shape
        row, column = (each.ravel() for each in np.indices((n, m)))
        outer, last, _ = self.look(dexels, row, column, np.full(n * m, self.farthest_mm))
        seen = self.lines._replace(outer_mm=outer.reshape(n, m).astype(np.float32))
        return Side(seen, last.reshape(n, m), history, self.rows, self.origin_mm)

    def out(self, column: Ints) -> Floats:
        """(k, 3) where the lines of these columns go."""
        return np.asarray(outward(self.lines, self.rows)[column])

    def starts(self, row: Ints, column: Ints) -> Floats:
        """(k, 3) where lines begin."""
        start: Floats = self.origin_mm + self.lines.first_mm[row][:, None] * self.rows[0]
        return start if self._looking == "outward" else start + self.lines.second[column][:, None] * self.rows[1]

    def look(self, dexels: Dexels, row: Ints, column: Ints, upto: Floats) -> tuple[Floats, CutBy, Floats]:
        """Of lines (k,), on which no material is farther out than `upto` (k,): the outermost there is; which operation cut it, 0 for the
        skin of the stock; and a place just within it on the dexels' line that says so (k, 3)."""
        if self._looking == "outward":
            return self._outward(dexels, row, column, upto)
        bundle = dexels.bundles[self._which]
        high, (i, j) = self._looking == "from the high end", (row, column) if self._looking == "from the high end" else (column, row)
        held = bundle.held[i, j]
        piece, end = (np.maximum(held - 1, 0), 1) if high else (np.zeros_like(held), 0)
        outer = np.abs(bundle.ends[i, j, piece, end].astype(np.float64) - self.origin_mm[self._which])
        outer = np.where(held > 0, outer, 0.0)
        by = np.where(held > 0, bundle.cut_by[i, j, piece, end], 0).astype(np.uint16)
        return outer, by, self.starts(row, column) + (outer - STILL * self._step)[:, None] * self.rows[2]

    def _outward(self, dexels: Dexels, row: Ints, column: Ints, upto: Floats) -> tuple[Floats, CutBy, Floats]:
        """Inwards step by step to where there is material."""
        start, out, radius = self.starts(row, column), self.out(column), upto.copy()
        outer, last, within, along = np.zeros(len(row)), np.zeros(len(row), dtype=np.uint16), start.copy(), np.abs(out).argmax(axis=1)
        at = np.flatnonzero(radius > 0)
        while len(at):
            inner = np.maximum(radius[at] - self._step, 0.0)
            points = start[at] + inner[:, None] * out[at]
            inside, end, cut_by = _nearest_end(dexels, points, out[at])
            hit, slope = at[inside], out[at[inside], along[at[inside]]]
            near, last[hit] = np.clip(inner[inside] + end[inside], inner[inside], radius[hit]), cut_by[inside]
            outer[hit] = np.maximum(_between_lines(dexels, start[hit], out[hit], near), 0.0)
            within[hit] = points[inside]
            within[hit, along[hit]] += end[inside] * slope - STILL * self._step * np.sign(slope)
            radius[at] = inner
            at = at[~inside & (inner > 0)]
        return outer, last, within

    def stands(self, dexels: Dexels, column: Ints, within: Floats) -> Bools:
        """(k,) whether there still is material at places just within what `look` found on lines of these columns."""
        return _inside(dexels, within, self.out(column))[0]


def _nearest_end(dexels: Dexels, points: Floats, out: Floats) -> tuple[Bools, Floats, CutBy]:
    """Of points (k, 3): whether they are in the material; how far it goes on from there along directions `out` (k, 3); and who cut its
    surface where that is nearest. By the lines that lie nearest to each, of the bundle that is most along `out`."""
    inside, goes_on = _inside(dexels, points, out)
    cut_by, nearest = np.zeros(len(points), dtype=np.uint16), np.full(len(points), np.inf)
    hit = np.flatnonzero(inside)
    for along, bundle in enumerate(dexels.bundles):
        held, ends, by = _pieces(bundle, np.roll(points[hit], -along - 1, axis=1))
        off = np.where(held[..., None], np.abs(ends - points[hit, along][:, None, None]), np.inf).reshape(len(hit), 2 * held.shape[1])
        at = off.argmin(axis=1)
        nearer = off[np.arange(len(hit)), at] < nearest[hit]
        cut_by[hit[nearer]] = by.reshape(off.shape)[np.arange(len(hit)), at][nearer]
        nearest[hit[nearer]] = off[np.arange(len(hit)), at][nearer]
    return inside, goes_on, cut_by


def _inside(dexels: Dexels, points: Floats, out: Floats) -> tuple[Bools, Floats]:
    """Of points (k, 3): whether they are in the material, and how far it goes on from there along `out`, as of `_nearest_end`."""
    chosen = np.abs(out).argmax(axis=1)
    inside, goes_on = np.zeros(len(points), dtype=np.bool_), np.zeros(len(points))
    for along, bundle in enumerate(dexels.bundles):
        here = np.flatnonzero(chosen == along)
        held, ends, _ = _pieces(bundle, np.roll(points[here], -along - 1, axis=1))
        w, slope = points[here, along], out[here, along]
        piece = held & (ends[..., 0] < w[:, None]) & (ends[..., 1] > w[:, None])
        inside[here] = piece.any(axis=1)
        at = piece.argmax(axis=1)
        goes_on[here] = np.where(slope > 0, ends[np.arange(len(here)), at, 1] - w, ends[np.arange(len(here)), at, 0] - w) / slope
    return inside, goes_on


def _farthest(dexels: Dexels, which: int, origin_mm: Floats) -> float:
    """How far the material comes from the line along an axis through a point."""
    farthest = 0.0
    for along in range(3):
        if along == which:
            continue
        bundle, other = dexels.bundles[along], 3 - which - along
        aside = (bundle.v[None] if which == (along + 1) % 3 else bundle.u[:, None]) - origin_mm[other]
        held = np.arange(bundle.ends.shape[2]) < bundle.held[..., None]
        ends = np.abs(bundle.ends - origin_mm[along]).max(axis=3, initial=0.0, where=held[..., None]).max(axis=2)
        found = float(np.hypot(aside, ends)[bundle.held > 0].max(initial=0.0)) + bundle.u_step + bundle.v_step
        farthest = max(farthest, found)
    return farthest


def _between_lines(dexels: Dexels, start: Floats, out: Floats, radius: Floats) -> Floats:
    """Radii (k,) at which directions `out` (k, 3) from `start` (k, 3) leave the material, near those given: by the four lines around each,
    where those end close to each other on one surface."""
    chosen, found = np.abs(out).argmax(axis=1), radius.copy()
    for along, bundle in enumerate(dexels.bundles):
        here = np.flatnonzero(chosen == along)
        if not len(here):
            continue
        near = CLOSE * (bundle.u_step + bundle.v_step)
        one, good = _level(bundle, along, start[here], out[here], radius[here], near)
        other, good_too = _level(bundle, along, start[here], out[here], one, near)
        # Where those lines end depends on the radius: what two looks give is carried on to where a third changes nothing (Aitken).
        bends = other - 2 * one + radius[here]
        straight = np.abs(bends) < TINY
        wanted = np.where(straight, other, radius[here] - (one - radius[here]) ** 2 / np.where(straight, 1.0, bends))
        good &= good_too & (np.abs(wanted - radius[here]) < near)
        found[here[good]] = wanted[good]
    return found


def _level(bundle: Bundle, along: int, start: Floats, out: Floats, radius: Floats, near: float) -> tuple[Floats, Bools]:
    """Radii (k,) at which the four lines around start + radius * out end, each counted by how near it is, seen that way; and whether all
    four end so near."""
    seen, slope = np.roll(start + radius[:, None] * out, -along - 1, axis=1), out[:, along]
    rows, level, good = np.arange(len(seen)), np.zeros(len(seen)), np.ones(len(seen), dtype=np.bool_)
    origin, step = np.array([bundle.u[0], bundle.v[0]]), np.array([bundle.u_step, bundle.v_step])
    share = (seen[:, :2] - origin) / step
    begin = np.floor(share)
    for corner in ((0, 0), (0, 1), (1, 0), (1, 1)):
        at = origin + (begin + corner) * step
        held, ends, _ = _pieces(bundle, np.column_stack([at, seen[:, 2]]))
        outer_end = np.where(slope[:, None] > 0, ends[..., 1], ends[..., 0])
        off = np.where(held, np.abs(outer_end - seen[:, 2:]), np.inf)
        piece = off.argmin(axis=1)
        good &= off[rows, piece] < near
        level += np.abs(1 - np.array(corner) - (share - begin)).prod(axis=1) * outer_end[rows, piece]
    return level / slope, good


def _pieces(bundle: Bundle, seen: Floats) -> tuple[Bools, Floats, CutBy]:
    """Of the lines nearest to points (k, 3) by u, v, w: which pieces there are (k, room), their ends and who cut those (k, room, 2)."""
    index = [np.rint((seen[:, at] - places[0]) / step) for at, places, step in ((0, bundle.u, bundle.u_step), (1, bundle.v, bundle.v_step))]
    there = np.ones(len(seen), dtype=np.bool_)
    lines: list[Ints] = []
    for at, places in zip(index, (bundle.u, bundle.v), strict=True):
        there &= (at >= 0) & (at < len(places))
        lines.append(np.clip(at, 0, len(places) - 1).astype(np.int64))
    i, j = lines
    held = (np.arange(bundle.ends.shape[2]) < bundle.held[i, j, None]) & there[:, None]
    return held, bundle.ends[i, j].astype(np.float64), bundle.cut_by[i, j]
