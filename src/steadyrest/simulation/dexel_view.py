"""The outside of dexels, as pictures and the report take it: seen from the axis of rotation outward, or from above, as a `Field`.

Undercuts are behind what is seen and are not told; volumes, engagement and touches are those of the dexels.
"""

from __future__ import annotations

from math import ceil, pi

import numpy as np
from numpy.typing import NDArray

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import AXES
from steadyrest.simulation.dexel import Dexels
from steadyrest.simulation.dexel_kernel import Bundle
from steadyrest.simulation.field import Field, middles, no_gaps
from steadyrest.simulation.kernel import TINY

MOST_ALONG, MOST_AROUND = 512, 1024
CLOSE = 1.5
"""Lines whose ends are no farther apart than so many times their distance are of one surface."""
CutBy = NDArray[np.uint16]


def outside_of(dexels: Dexels, axis: str, along: int | None = None, around: int | None = None) -> tuple[Field, CutBy]:
    """The outermost material along each line of a field, and which operation cut what is seen of it, 0 the stock's skin.

    axis           of the toolpath. Z: the lines are those of the dexels along Z
    along, around  number of lines along the axis and around it; by default as close as the dexels, 512 and 1024 at most
    """
    if axis == "Z":
        return _from_above(dexels)
    which, step = AXES.index(axis), dexels.cell_mm
    low, high = dexels.low[which], dexels.high[which]
    farthest = max(_farthest(dexels.bundles[along_it], which == (along_it + 1) % 3) for along_it in range(3) if along_it != which)
    n = along or min(max(ceil((high - low) / step), 2), MOST_ALONG)
    m = around or int(np.clip(ceil(2 * pi * farthest / step), 256, MOST_AROUND))
    first_step, turn = float(high - low) / n, 2 * pi / m
    first, angle = middles(float(low), first_step, n), middles(-pi, turn, m)
    # About X a line at angle 0 points along +Z and one at 90 degrees along -Y; about Y along +Z and +X.
    out = np.zeros((m, 3))
    out[:, 2], out[:, 1 if axis == "X" else 0] = np.cos(angle), np.sin(angle) * (-1 if axis == "X" else 1)
    outer, last = np.zeros((n, m), dtype=np.float32), np.zeros((n, m), dtype=np.uint16)
    row, column = (each.ravel() for each in np.indices((n, m)))
    radius = farthest
    while radius > 0 and len(row):
        inner = max(radius - step, 0.0)
        points = inner * out[column]
        points[:, which] = first[row]
        inside, end, cut_by = _nearest_end(dexels, points, out[column])
        hit = np.flatnonzero(inside)
        reached = np.clip(inner + end[hit], inner, radius)
        outer[row[hit], column[hit]] = _between_lines(dexels, first[row[hit]], which, out[column[hit]], reached)
        last[row[hit], column[hit]] = cut_by[hit]
        row, column, radius = row[~inside], column[~inside], inner
    gaps, held = no_gaps((n, m))
    return Field("radii", axis, first, angle, first_step, turn, np.maximum(outer, 0.0), gaps, held), last


def _from_above(dexels: Dexels) -> tuple[Field, CutBy]:
    bundle = dexels.bundles[2]
    highest = np.maximum(bundle.held - 1, 0)[..., None]
    top, by = (np.take_along_axis(each[..., 1], highest, axis=2)[..., 0] for each in (bundle.ends, bundle.cut_by))
    base = float(dexels.low[2])
    outer = np.where(bundle.held > 0, top - base, 0.0).astype(np.float32)
    field = Field("heights", "Z", bundle.u, bundle.v, bundle.u_step, bundle.v_step, outer, *no_gaps(bundle.held.shape), base_mm=base)
    return field, np.where(bundle.held > 0, by, 0).astype(np.uint16)


def _nearest_end(dexels: Dexels, points: Floats, out: Floats) -> tuple[Bools, Floats, CutBy]:
    """Of points (k, 3): whether they are in the material; how far it goes on from there along directions `out` (k, 3); and who cut its
    surface where that is nearest. By the lines that lie nearest to each, of the bundle that is most along `out`."""
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


def _farthest(bundle: Bundle, u_is_axis: bool) -> float:
    """How far from the axis of rotation the material of lines across it comes; whether u counts along that axis."""
    aside = bundle.v[None] if u_is_axis else bundle.u[:, None]
    held = np.arange(bundle.ends.shape[2]) < bundle.held[..., None]
    ends = np.abs(bundle.ends).max(axis=3, initial=0.0, where=held[..., None]).max(axis=2)
    return float(np.hypot(aside, ends)[bundle.held > 0].max(initial=0.0)) + bundle.u_step + bundle.v_step


def _between_lines(dexels: Dexels, first: Floats, which: int, out: Floats, radius: Floats) -> Floats:
    """Radii (k,) at which directions `out` (k, 3) leave the material, near those given: by the four lines around each, where those end
    close to each other on one surface. `first` (k,) is where they start along the axis `which`."""
    chosen, found = np.abs(out).argmax(axis=1), radius.copy()
    for along, bundle in enumerate(dexels.bundles):
        here = np.flatnonzero(chosen == along)
        if not len(here):
            continue
        near = CLOSE * (bundle.u_step + bundle.v_step)
        start = np.zeros((len(here), 3))
        start[:, which] = first[here]
        one, good = _level(bundle, along, start, out[here], radius[here], near)
        other, good_too = _level(bundle, along, start, out[here], one, near)
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
