"""Into how many straight blocks must a move be cut so that the tip stays on its line while the part turns?

Between two planned positions the machine moves its axes linearly, so the tip runs over the part on a curve. In the plane
across the axis of rotation, as complex numbers from the axis: a piece that turns by e from a to b is cut as
p(u) = exp(-i e u) m(u), with m(u) straight from a to exp(i e) b. It meets the line at both ends, so it strays from the
wanted point by at most max |p''| / 8, and |p''| = |e| |e m + 2 i m'| is greatest at an end. With e = D / n and b - a = d / n,

    |e m + 2 i m'|  <=  |2 i d - D z| / n  +  (D^2 |z| + 2 D |d|) / n^2,

z being the end of the whole move where it is greatest. This is the bound of the literature, (dA^2 r + 2 dA dq) / 8, before
its two terms are torn apart: where the turn and the way cancel, which is the usual case on a turned surface, it says so.
"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion.frames import ACROSS, Axis, Point, turned, turned_back


def pieces(tip0: Floats, tip1: Floats, dphi_deg: Floats, axis: Axis, centre: Point, tolerance: float) -> Floats:
    """How many equal parts each straight move of the tip needs to stay within tolerance of its line.

    tip0, tip1  (n, 3) float, start and end of the tip, part frame
    dphi_deg    (n,) float, turn of the part during the move, degrees
    tolerance   how far the tip may stray, the unit of the points, above 0
    returns     (n,) whole numbers, 1 or more
    raises      PlanError when the tolerance is not above 0
    source      the bound above; it holds for any turn and is some percent above the true deviation at usual tolerances
    """
    if not tolerance > 0.0:
        raise PlanError(f"the tolerance is {tolerance:g}", cure="give a tolerance above 0, 0.01 mm for instance")
    if len(dphi_deg) == 0:
        return np.empty(0)
    u, v = ACROSS[axis]
    turn = np.abs(dphi_deg) * (np.pi / 180.0)
    # only the rows for which the crude bound, 3 D (D r + 2 |d|) / 8 at any turn below a radian, is not enough
    u0, v0, u1, v1 = tip0[:, u] - centre[u], tip0[:, v] - centre[v], tip1[:, u] - centre[u], tip1[:, v] - centre[v]
    du, dv = u1 - u0, v1 - v0
    way = np.sqrt(du * du + dv * dv)
    reach = np.sqrt(u0 * u0 + v0 * v0)
    reach += way  # no end is farther out than this
    rough = turn * reach
    rough += way
    rough += way
    rough *= turn * (1.0 + turn)
    answer = np.ones(len(turn))
    rows = np.flatnonzero(rough > 8.0 * tolerance)
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


def expand(values0: Floats, values1: Floats, pieces: Ints) -> tuple[Floats, Ints]:
    """The ends of the pieces of each move, its columns interpolated linearly; the last is the move's own end, exactly.

    values0, values1  (n,) or (n, k) float, at the start and the end of each move
    pieces            (n,) int, 1 or more
    returns           rows (m,) or (m, k) float, m the sum of the pieces; source (m,) int64, the move each belongs to
    """
    last = np.cumsum(pieces)
    total = int(last[-1]) if len(last) else 0
    if total == len(pieces):
        return values1.copy(), np.arange(total, dtype=np.int64)
    source = np.repeat(np.arange(len(pieces), dtype=np.int64), pieces)
    number = np.arange(1, total + 1) - np.repeat(last - pieces, pieces)
    part = number / pieces[source]
    if values0.ndim == 2:
        part = part[:, np.newaxis]
    rows = (values1 - values0)[source]
    rows *= part
    rows += values0[source]
    rows[last - 1] = values1
    return rows, source


def measured_deviation(
    tip0: Floats, tip1: Floats, phi0_deg: Floats, phi1_deg: Floats, axis: Axis, centre: Point, samples: int = 33
) -> Floats:
    """How far the tip really strays from its line when the axes move linearly, measured at evenly spaced points.

    tip0, tip1            (n, 3) float, part frame, ends of each block
    phi0_deg, phi1_deg    (n,) float, the part's angle at both ends, degrees, unwound
    samples               points looked at within each block
    returns               (n,) float: the greatest distance of the tip from the straight segment
    """
    start, end = turned(tip0, phi0_deg, axis, centre), turned(tip1, phi1_deg, axis, centre)
    line = tip1 - tip0
    square = np.einsum("ij,ij->i", line, line)
    square = np.where(square > 0.0, square, 1.0)
    worst = np.zeros(len(tip0))
    for u in np.linspace(0.0, 1.0, samples + 2)[1:-1]:
        tip = turned_back(start + u * (end - start), phi0_deg + u * (phi1_deg - phi0_deg), axis, centre)
        off = tip - tip0
        foot = np.clip(np.einsum("ij,ij->i", off, line) / square, 0.0, 1.0)
        off -= foot[:, np.newaxis] * line
        np.maximum(worst, np.sqrt(np.einsum("ij,ij->i", off, off)), out=worst)
    return worst
