"""How far off are blocks from the stretches they are paired with: distance, tool axis, length?

Where one of them is an arc, or the simple bound is too coarse, by closely set points. Between two of them smooth curves stay within an
eighth of their second difference of the straight line: that is added, so the result bounds what lies between the points too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.conventions import PLANE_AXES
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import Motions, apart_at, frechet_bound, tip_length, turned
from steadyrest.proof.intended_path import Chart, Elements
from steadyrest.proof.matching import Pairs
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting

_GROUP = 256
"""Blocks sampled at a time, to keep the memory flat."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Per block (k,): the farthest the two tips get apart and what is allowed there, mm; the largest angle between the tool axes,
    rad; the lengths of the tip's path over the part, intended and as programmed, mm.
    """

    apart_mm: Floats
    limit_mm: Floats
    axis_rad: Floats
    intended_mm: Floats
    program_mm: Floats


def measure(cursor: Cursor, elements: Elements, pairs: Pairs, chart: Chart, setting: Setting, turns_off: float) -> Measured:
    """Measure the next len(pairs) blocks of the program against the elements they are paired with."""
    rows = cursor.rows
    at = slice(cursor.at, cursor.at + len(pairs))
    program = rows.motions(setting.frame.along, at.start, at.stop, turns_off)
    start, end = _stretch(elements, pairs)
    intended = chart.motions(start, end)
    apart = frechet_bound(program, intended)
    rounding = setting.rounding
    limit = setting.limit_mm(np.maximum(np.abs(program.across[0]), np.abs(program.across[1]))) + 1e-9
    intended_mm, program_mm = tip_length(intended), tip_length(program)
    axis = _axes_apart(program, chart, start, end, elements, pairs)

    arc = elements.is_arc(pairs.element) if elements.sweep is not None else np.zeros(len(pairs), dtype=np.bool_)
    if rows.sweep is not None:
        programmed = rows.motion[at] > 1
        limit = limit + np.where(programmed, 2 * rounding.linear_mm + 2 * rounding.centre_mm, 0.0)
        arc = arc | programmed
    rapid = rows.motion[at] == 0
    arc &= ~rapid
    for group in _groups(np.flatnonzero(arc), elements, pairs, cursor):
        sweep = max(_sweep_of(elements, pairs, cursor, k) for k in group)
        u = np.linspace(0.0, 1.0, points_for(sweep) + 1)
        tips, _ = program_tips(rows, cursor.at + group, u, chart)
        goal = intended_tips(elements, pairs.element[group], pairs.u0[group], pairs.u1[group], u, chart)
        apart[group] = together(tips, goal)
        intended_mm[group], program_mm[group] = curve_lengths(goal), curve_lengths(tips)

    loose = np.flatnonzero((apart > limit) & ~arc & ~rapid)
    if len(loose) and chart.kind == "part":
        u = np.linspace(0.0, 1.0, 17)
        for k in range(0, len(loose), _GROUP):
            group = loose[k : k + _GROUP]
            tips, _ = program_tips(rows, cursor.at + group, u, chart)
            apart[group] = np.minimum(apart[group], from_line(tips, start[group, :3], end[group, :3]))
    if rapid.any():
        # In a rapid only the end counts; how it gets there is a matter of safety.
        apart[rapid] = apart_at(program, intended, 1)[rapid]
    return Measured(apart, limit, axis, intended_mm, program_mm)


def _stretch(elements: Elements, pairs: Pairs) -> tuple[Floats, Floats]:
    """Chart points (k, 4) where each block's stretch begins and ends."""
    first = int(pairs.element[0])
    if not pairs.u0.any() and (pairs.u1 == 1.0).all() and int(pairs.element[-1]) - first + 1 == len(pairs):
        return elements.points[first : first + len(pairs)], elements.points[first + 1 : first + len(pairs) + 1]
    begin, end = elements.points.take(pairs.element, axis=0), elements.points.take(pairs.element + 1, axis=0)
    way = end - begin
    start, stop = begin + pairs.u0[:, None] * way, begin + pairs.u1[:, None] * way
    whole = np.flatnonzero(pairs.u1 == 1.0)
    stop[whole] = end[whole]
    if elements.sweep is not None:
        for k in np.flatnonzero(elements.is_arc(pairs.element)):
            start[k] = element_point(elements, int(pairs.element[k]), float(pairs.u0[k]))
            stop[k] = element_point(elements, int(pairs.element[k]), float(pairs.u1[k]))
    return start, stop


def _axes_apart(program: Motions, chart: Chart, start: Floats, end: Floats, elements: Elements, pairs: Pairs) -> Floats:
    off = np.maximum(np.abs(program.phi_at(0) - chart.turns_of(start)), np.abs(program.phi_at(1) - chart.turns_of(end)))
    if elements.tilt is not None:
        return np.asarray(np.hypot(off, elements.tilt[pairs.element]), dtype=np.float64)
    return np.asarray(off, dtype=np.float64)


def _groups(which: Ints, elements: Elements, pairs: Pairs, cursor: Cursor) -> list[Ints]:
    """Arcs in groups of like sweep, so that one with many turns does not make all of them dense."""
    if len(which) == 0:
        return []
    sweeps = np.array([_sweep_of(elements, pairs, cursor, k) for k in which])
    dense = which[sweeps > 7.0]
    usual = which[sweeps <= 7.0]
    return [usual[k : k + _GROUP] for k in range(0, len(usual), _GROUP)] + [dense[k : k + 1] for k in range(len(dense))]


def _sweep_of(elements: Elements, pairs: Pairs, cursor: Cursor, k: int) -> float:
    element, rows = int(pairs.element[k]), cursor.rows
    sweep = 0.0
    if elements.sweep is not None and elements.kind[element] > 1:
        sweep = abs(float(elements.sweep[element])) * float(pairs.u1[k] - pairs.u0[k])
    if rows.sweep is not None and rows.motion[cursor.at + k] > 1:
        sweep = max(sweep, abs(float(rows.sweep[cursor.at + k])))
    return sweep


_MARGIN = 1.25
"""Of the second difference, for its own change between two points."""


def points_for(sweep_rad: float) -> int:
    """How many stretches: at most some 3 degrees of arc each."""
    return 2 * int(np.clip(np.ceil(abs(sweep_rad) / 0.1), 8, 10_000))


def program_tips(rows: Rows, row: Ints, along_curve: Floats, chart: Chart) -> tuple[Floats, Floats]:
    """Tips in the part frame (k, s, 3) and turns (k, s) of blocks `row` (k,) at `along_curve` (s,) from 0 to 1."""
    begin, end = rows.vertex[row], rows.vertex[row + 1]
    at = begin[:, None, :] + along_curve[None, :, None] * (end - begin)[:, None, :]
    if rows.sweep is not None and rows.centre is not None and rows.plane is not None:
        for k in np.flatnonzero(rows.motion[row] > 1):
            _bend(at[k], begin[k], rows.centre[row[k]], float(rows.sweep[row[k]]), int(rows.plane[row[k]]), along_curve, end[k])
    phi = rows.phi[row][:, None] + along_curve[None, :] * (rows.phi[row + 1] - rows.phi[row])[:, None]
    return chart.frame.to_part(at, phi), phi


def intended_tips(elements: Elements, element: Ints, from_u: Floats, to_u: Floats, along_curve: Floats, chart: Chart) -> Floats:
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
    one, two, _ = PLANE_AXES[plane]
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
