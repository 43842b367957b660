"""Which stretch of the intended path does each block run along? Found in order, forward, never back; proved afterwards.

Any assignment found here is only a proposal: what it is worth is measured block by block, and a poor one can refuse a good
program but never pass a bad one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import LINE, RAPID
from steadyrest.proof.chain_frame import nearest_share
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import FULL_TURN
from steadyrest.proof.intended_path import Elements, PassFrame
from steadyrest.proof.rows import arc_ways, arms

MOST_BLOCKS = 4096
"""Blocks paired by length at a time, and moves that one block may stand for."""
_MOST_MOVES = 8192
"""Blocks compared at a time when each is one move; a power of two that stays in the cache."""
_FEW = 32
"""With fewer blocks than these that are one move each, pairing by length gets further."""
_CERTAIN = 1 / 16
"""Of what is allowed: a vertex as near as this to the end of an element is the one, and no other needs to be looked at."""
REACH = 16
"""How many vertices to either side of where the lengths say a vertex is looked for; only the ones that are not found at once go so far."""


@dataclass(frozen=True, slots=True)
class Pairs:
    """k blocks in order, each along element[k] from u0 to u1 of it; `skipped` elements have no block, `skipped_at` blocks come before.

    done   elements finished after the last block; `u` how far the next one has been gone
    """

    element: Ints
    u0: Floats
    u1: Floats
    skipped: Ints
    skipped_at: Ints
    done: int
    u: float

    def __len__(self) -> int:
        return len(self.element)


_NONE = np.empty(0, dtype=np.int64)


def one_to_one(first: int, count: int, u: float) -> Pairs:
    """`count` blocks, each along one element, the first of which has been gone to `u` already."""
    u0 = np.zeros(count)
    u0[0] = u
    return Pairs(np.arange(first, first + count), u0, np.ones(count), _NONE, _NONE, first + count, 0.0)


def head(pairs: Pairs, count: int) -> Pairs:
    """The first `count` of the blocks, without the elements after the last of them that have no block."""
    keep = pairs.skipped_at < count
    element, u = int(pairs.element[count - 1]), float(pairs.u1[count - 1])
    done, u = (element + 1, 0.0) if u >= 1.0 else (element, u)
    return Pairs(pairs.element[:count], pairs.u0[:count], pairs.u1[:count], pairs.skipped[keep], pairs.skipped_at[keep], done, u)


def goes_back(pairs: Pairs, elements: Elements, reach_mm: float) -> Bools:
    """Which blocks end more than `reach_mm` behind the farthest place reached before on the same element."""
    if not (pairs.u1 < pairs.u0).any():
        return np.zeros(len(pairs), dtype=np.bool_)
    place = pairs.element + pairs.u1
    start = float(pairs.element[0] + pairs.u0[0])
    behind = np.maximum.accumulate(np.concatenate(([start], place[:-1]))) - place
    back = behind > 0
    for k in np.flatnonzero(back):
        element = int(pairs.element[k])
        back[k] = behind[k] * float(elements.lengths(element, element + 1)[0]) > reach_mm
    return np.asarray(back)


def farthest(pairs: Pairs) -> float:
    """How far the element after the last finished one has been gone at most."""
    here = pairs.element == pairs.done
    return max(pairs.u, float(np.maximum(pairs.u0, pairs.u1)[here].max(initial=0.0)))


def by_length(points: Floats, lengths: Floats, elements: Elements, first: int, stop: int, u: float, reach_mm: float) -> Pairs | None:
    """Blocks with end points `points` (n + 1, 4), the first the present one, and `lengths` (n,), along elements first to stop.

    Each end of an element is looked for among the vertices near the same length along the program's path. Blocks in between run along
    one element and are placed on it by projection. None when not even the first element's end is found.
    """
    span = elements.lengths(first, stop)
    reached = np.cumsum(span) - u * span[0]
    gone = np.concatenate(([0.0], np.cumsum(lengths)))
    targets = elements.points[first + 1 : stop + 1]
    near = int(np.searchsorted(reached, gone[-1] + 4 * reach_mm, side="right"))
    if near == 0:
        return None
    after = np.clip(np.searchsorted(gone, reached[:near]), 1, len(lengths))
    guess = np.where(reached[:near] - gone[after - 1] < gone[after] - reached[:near], after - 1, after)
    best = np.full(near, np.inf)
    vertex = np.zeros(near, dtype=np.int64)
    open_still = np.arange(near)
    for offset in sorted(range(-REACH, REACH + 1), key=abs):
        candidate = np.clip(guess[open_still] + offset, 0, len(lengths))
        gap = points.take(candidate, axis=0) - targets.take(open_still, axis=0)
        squares = np.einsum("ij,ij->i", gap, gap)
        better = squares < best[open_still]
        best[open_still[better]] = squares[better]
        vertex[open_still[better]] = candidate[better]
        open_still = open_still[best[open_still] > (_CERTAIN * reach_mm) ** 2]
        if len(open_still) == 0:
            break
    found = best <= reach_mm**2
    if not found[0]:
        return None
    vertex = vertex[: leading(found)]
    back = np.flatnonzero(np.diff(vertex) < 0)
    if len(back):
        vertex = vertex[: back[0] + 1]
    return _placed(points, gone, reached, vertex, elements, first, u)


def _placed(points: Floats, gone: Floats, reached: Floats, vertex: Ints, elements: Elements, first: int, u: float) -> Pairs:
    """Blocks up to vertex[-1], where vertex[j] is the one at the end of element first + j."""
    n = int(vertex[-1])
    blocks = np.arange(1, n + 1)
    local = np.searchsorted(vertex, blocks, side="left")
    at_end = vertex[local] == blocks
    u1 = np.ones(n)
    inner = np.flatnonzero(~at_end)
    if len(inner):
        where = local[inner]
        size = reached[where] - np.where(where > 0, reached[where - 1], -u * reached[0] / max(1 - u, 1e-12) if u else 0.0)
        guess = 1 - (reached[where] - gone[inner + 1]) / np.where(size > 0, size, 1.0)
        u1[inner] = project(points[inner + 1], elements, first + where, guess)
    u0 = np.empty(n)
    if n:
        u0[0] = u if local[0] == 0 else 0.0
        u0[1:] = np.where(at_end[:-1], 0.0, u1[:-1])
    ends = np.concatenate(([0], vertex))
    skipped = np.flatnonzero(np.diff(ends) == 0)
    return Pairs(first + local, u0, u1, first + skipped, ends[skipped], first + len(vertex), 0.0)


def project(points: Floats, elements: Elements, element: Ints, guess: Floats) -> Floats:
    """How far along its element (k,) each point (k, 4) lies, 0 to 1; `guess` (k,) tells the turns of an arc apart.

    NaN for a point that is not known.
    """
    begin = elements.points.take(element, axis=0)
    if elements.on_chain:
        u = nearest_share(points, begin, elements.points.take(element + 1, axis=0))
    else:
        way = elements.points.take(element + 1, axis=0) - begin
        rel = points - begin
        square = np.einsum("ij,ij->i", way, way)
        u = np.einsum("ij,ij->i", rel, way) / np.where(square > 0, square, 1.0)
    arc = np.flatnonzero(elements.kind[element] > LINE)
    if elements.arcs is not None and len(arc):
        row = element[arc]
        sweep, (arm, here) = elements.arcs.sweep_rad[row], (arms(places[arc], elements.arcs, row) for places in (begin, points))
        angle = np.where(arm != 0, np.angle(here / np.where(arm != 0, arm, 1.0)), 0.0)
        u[arc] = (angle + FULL_TURN * np.round((guess[arc] * sweep - angle) / FULL_TURN)) / sweep
    return np.asarray(np.clip(u, 0.0, 1.0), dtype=np.float64)


def near(gaps: Floats, reach_mm: float) -> Bools:
    """Which gaps (k, 4) are no longer than that."""
    return np.asarray(np.einsum("ij,ij->i", gaps, gaps) <= reach_mm**2)


def leading(good: Bools) -> int:
    """How many are good before the first that is not."""
    return len(good) if good.all() else int(np.argmin(good))


def along_one(points: Floats, lengths: Floats, elements: Elements, element: int, u: float, reach_mm: float) -> Pairs:
    """Blocks along the rest of one element, up to the first that reaches its end; points and lengths as in `by_length`."""
    length = max(float(elements.lengths(element, element + 1)[0]), 1e-9)
    which = np.full(len(lengths), element)
    at = project(points[1:], elements, which, u + np.cumsum(lengths) / length)
    # The end of an element as the program's words say it may lie a hair before the end itself.
    at[((1.0 - at) * length <= reach_mm) & near(points[1:] - elements.points[element + 1], reach_mm)] = 1.0
    before = np.concatenate(([u], at[:-1]))
    ended = np.flatnonzero(at >= 1.0)
    done, last, count = (element + 1, 0.0, int(ended[0]) + 1) if len(ended) else (element, float(at[-1]), len(at))
    return Pairs(which[:count], before[:count], at[:count], _NONE, _NONE, done, last)


def across_several(points: Floats, elements: Elements, first: int, stop: int, u: float, reach_mm: float) -> tuple[int, float] | None:
    """The element and place on it where one straight block from points[0] to points[1] ends, when it runs over several elements' ends.

    Elements' ends passed on the way have to lie on the block, in order. None when they do not.
    """
    begin, way = points[0], points[1] - points[0]
    square = float(way @ way)
    if square <= 0:
        return None
    last = 0.0
    for element in range(first, min(stop, first + MOST_BLOCKS)):
        if elements.kind[element] > LINE:
            return None
        start, end = elements.points[element], elements.points[element + 1]
        at = float(project(points[1:2], elements, np.array([element]), np.array([1.0]))[0])
        here = np.linalg.norm(points[1] - (start + at * (end - start))) <= reach_mm
        onward = element > first or (at - u) * np.linalg.norm(end - start) >= -reach_mm
        if here and onward:
            return element, at
        place = float((end - begin) @ way) / square
        if place < last - reach_mm / square**0.5 or np.linalg.norm(begin + place * way - end) > reach_mm:
            return None
        last = max(last, place)
    return None


def one_by_one(cursor: Cursor, frame: PassFrame, elements: Elements, at: int, u: float, turns_off: float, reach_mm: float) -> Pairs | None:
    """As many of the next blocks as end where one move each ends, from element `at` on; None when too few do to be worth it."""
    rows = cursor.rows
    first = cursor.at
    n = min(cursor.stop - first, len(elements) - at, _MOST_MOVES)
    same = (rows.motion[first : first + n] == RAPID) == (elements.kind[at : at + n] == RAPID)
    n = leading(same)

    def ends_near(count: int) -> Bools:
        points = frame.of_rows(rows, slice(first, first + count + 1), turns_off)[1:]
        return near(points - elements.points[at + 1 : at + count + 1], reach_mm)

    if n == 0 or not ends_near(min(n, 2)).any():
        return None
    found = ends_near(n)
    if not found.all():
        n = int(np.argmin(found))
        if n < _FEW and elements.kind[at] != RAPID:
            return None
    return one_to_one(at, n, u) if n else None


def blocks_at_feed(cursor: Cursor, frame: PassFrame, turns_off: float) -> tuple[Floats, Floats]:
    """Points (n + 1, 4) and lengths (n,) of the blocks at feed that come next without a break; the first point is the present one."""
    rows, first = cursor.rows, cursor.at
    motion = rows.motion[first : min(first + MOST_BLOCKS, cursor.stop)]
    rapids = np.flatnonzero(motion == RAPID)
    if len(rapids):
        motion = motion[: int(rapids[0])]
    points = frame.of_rows(rows, slice(first, first + len(motion) + 1), turns_off)
    way = np.diff(points, axis=0)
    lengths = np.sqrt(np.einsum("ij,ij->i", way, way))
    if rows.arcs is not None:
        arcs = np.flatnonzero(motion > LINE)
        lengths[arcs] = np.hypot(*arc_ways(rows.vertex, rows.arcs, first + arcs))
    return points, lengths
