"""How far apart are two motions when one of them is an arc, or when the simple bound is too coarse? By closely set points.

Between two points, smooth curves stay within an eighth of their second difference of the straight line: that is added, so
the result bounds what lies between the points too.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.chart import Chart
from steadyrest.proof.geometry import Floats, turned
from steadyrest.proof.intended import Elements
from steadyrest.proof.rows import PLANE_ORDER, Rows

Indices = NDArray[np.int64]
_MARGIN = 1.25
"""Of the second difference, for its own change between two points."""


def points_for(sweep_rad: float) -> int:
    """How many stretches: at most some 3 degrees of arc each."""
    return 2 * int(np.clip(np.ceil(abs(sweep_rad) / 0.1), 8, 10_000))


def program_tips(rows: Rows, row: Indices, along_curve: Floats, chart: Chart) -> tuple[Floats, Floats]:
    """Tips in the part frame (k, s, 3) and turns (k, s) of blocks `row` (k,) at `along_curve` (s,) from 0 to 1."""
    begin, end = rows.vertex[row], rows.vertex[row + 1]
    at = begin[:, None, :] + along_curve[None, :, None] * (end - begin)[:, None, :]
    if rows.sweep is not None and rows.centre is not None and rows.plane is not None:
        for k in np.flatnonzero(rows.motion[row] > 1):
            _bend(at[k], begin[k], rows.centre[row[k]], float(rows.sweep[row[k]]), int(rows.plane[row[k]]), along_curve, end[k])
    phi = rows.phi[row][:, None] + along_curve[None, :] * (rows.phi[row + 1] - rows.phi[row])[:, None]
    return chart.frame.to_part(at, phi), phi


def intended_tips(elements: Elements, element: Indices, from_u: Floats, to_u: Floats, along_curve: Floats, chart: Chart) -> Floats:
    """Tips in the part frame (k, s, 3) of elements (k,), each from `from_u` to `to_u` of it."""
    begin, end = elements.points[element], elements.points[element + 1]
    u = from_u[:, None] + along_curve[None, :] * (to_u - from_u)[:, None]
    at = begin[:, None, :] + u[..., None] * (end - begin)[:, None, :]
    if elements.sweep is not None and elements.centre is not None and elements.plane is not None:
        for k in np.flatnonzero(elements.kind[element] > 1):
            e = element[k]
            _bend(at[k], begin[k], elements.centre[e], float(elements.sweep[e]), int(elements.plane[e]), u[k], end[k])
    flat = at.reshape(-1, 4)
    work = chart.work_of(flat) if chart.kind != "part" else flat[:, :3]
    if chart.kind == "part":
        return np.asarray(work.reshape(*u.shape, 3), dtype=np.float64)
    return chart.frame.to_part(work, chart.turns_of(flat)).reshape(*u.shape, 3)


def element_point(elements: Elements, element: int, u: float) -> Floats:
    """The chart point (4,) at `u` of an element, straight or an arc."""
    return np.asarray(element_points(elements, element, np.array([u]))[0], dtype=np.float64)


def element_points(elements: Elements, element: int, u: Floats) -> Floats:
    """Chart points (n, 4) at `u` (n,) of an element, straight or an arc."""
    begin, end = elements.points[element], elements.points[element + 1]
    at = begin + u[:, None] * (end - begin)
    if elements.kind[element] > 1 and elements.sweep is not None and elements.centre is not None and elements.plane is not None:
        sweep, plane = float(elements.sweep[element]), int(elements.plane[element])
        _bend(at, begin, elements.centre[element], sweep, plane, u, end)
    return np.asarray(at, dtype=np.float64)


def _bend(at: Floats, begin: Floats, centre: Floats, sweep: float, plane: int, u: Floats, end: Floats) -> None:
    """Replace the two coordinates of the plane by those of the arc; a radius that differs at the end is reached gradually."""
    one, two, _ = PLANE_ORDER[plane]
    arm = complex(begin[one] - centre[one], begin[two] - centre[two])
    last = abs(complex(end[one] - centre[one], end[two] - centre[two]))
    size = 1.0 + u * (last / abs(arm) - 1.0) if arm != 0 else np.ones_like(u)
    place = arm * size * turned(u * sweep)
    at[:, one] = centre[one] + place.real
    at[:, two] = centre[two] + place.imag


def together(program: Floats, intended: Floats) -> Floats:
    """The farthest (k,) that two curves (k, s, 3) get apart when gone through together."""
    gap = program - intended
    apart = np.sqrt(np.einsum("ksc,ksc->ks", gap, gap)).max(axis=1)
    bend = gap[:, 2:] - 2 * gap[:, 1:-1] + gap[:, :-2]
    between = np.sqrt(np.einsum("ksc,ksc->ks", bend, bend)).max(axis=1) / 8
    return np.asarray(apart + _MARGIN * between, dtype=np.float64)


def from_line(program: Floats, start: Floats, end: Floats) -> Floats:
    """The farthest (k,) that curves (k, s, 3) get from straight lines (k, 3) to (k, 3), which they may follow at their own pace.

    Infinite where a curve runs back along its line, for then the pace does not excuse it.
    """
    way = end - start
    length = np.einsum("kc,kc->k", way, way)
    rel = program - start[:, None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.einsum("ksc,kc->ks", rel, way) / length[:, None]
    u = np.clip(np.where(np.isfinite(u), u, 0.0), 0.0, 1.0)
    gap = rel - u[..., None] * way[:, None, :]
    apart = np.sqrt(np.einsum("ksc,ksc->ks", gap, gap)).max(axis=1)
    bend = gap[:, 2:] - 2 * gap[:, 1:-1] + gap[:, :-2]
    between = np.sqrt(np.einsum("ksc,ksc->ks", bend, bend)).max(axis=1) / 8
    back = (np.diff(u, axis=1) < -1e-9).any(axis=1)
    return np.where(back, np.inf, apart + _MARGIN * between)


def curve_lengths(tips: Floats) -> Floats:
    """Lengths (k,) of curves given by an even number of stretches (k, s, 3): chords, and the half-as-many chords taken off (Richardson)."""

    def chords(points: Floats) -> Floats:
        step = np.diff(points, axis=1)
        return np.asarray(np.sqrt(np.einsum("ksc,ksc->ks", step, step)).sum(axis=1), dtype=np.float64)

    fine, coarse = chords(tips), chords(tips[:, ::2])
    return np.asarray(fine + (fine - coarse) / 3, dtype=np.float64)
