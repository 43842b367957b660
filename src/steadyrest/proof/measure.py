"""How far off are blocks from the stretches they are paired with: distance, tool axis, time?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.chart import Chart
from steadyrest.proof.cursor import Cursor
from steadyrest.proof.geometry import Floats, Motions, tip_length
from steadyrest.proof.intended import Elements
from steadyrest.proof.leash import leash
from steadyrest.proof.matching import Pairs
from steadyrest.proof.sampling import curve_lengths, element_point, from_line, intended_tips, points_for, program_tips, together
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
    assert rows is not None
    at = slice(cursor.at, cursor.at + len(pairs))
    program = rows.motions(setting.frame.along, at.start, at.stop, turns_off)
    start, end = _stretch(elements, pairs)
    intended = chart.motions(start, end)
    apart = leash(program, intended)
    radius = np.maximum(np.abs(program.across0), np.abs(program.across1))
    rounding = setting.rounding
    limit = setting.tolerance_mm + rounding.linear_mm + rounding.angle_rad * radius + 1e-9
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
        finish = np.flatnonzero(rapid)
        apart[finish] = leash(_ends_of(program, finish), _ends_of(intended, finish))
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
    off = np.maximum(np.abs(program.phi0 - chart.turns_of(start)), np.abs(program.phi1 - chart.turns_of(end)))
    if elements.tilt is not None:
        return np.asarray(np.hypot(off, elements.tilt[pairs.element]), dtype=np.float64)
    return np.asarray(off, dtype=np.float64)


def _groups(which: NDArray[np.int64], elements: Elements, pairs: Pairs, cursor: Cursor) -> list[NDArray[np.int64]]:
    """Arcs in groups of like sweep, so that one with many turns does not make all of them dense."""
    if len(which) == 0:
        return []
    sweeps = np.array([_sweep_of(elements, pairs, cursor, k) for k in which])
    dense = which[sweeps > 7.0]
    usual = which[sweeps <= 7.0]
    return [usual[k : k + _GROUP] for k in range(0, len(usual), _GROUP)] + [dense[k : k + 1] for k in range(len(dense))]


def _sweep_of(elements: Elements, pairs: Pairs, cursor: Cursor, k: int) -> float:
    element, rows = int(pairs.element[k]), cursor.rows
    assert rows is not None
    sweep = 0.0
    if elements.sweep is not None and elements.kind[element] > 1:
        sweep = abs(float(elements.sweep[element])) * float(pairs.u1[k] - pairs.u0[k])
    if rows.sweep is not None and rows.motion[cursor.at + k] > 1:
        sweep = max(sweep, abs(float(rows.sweep[cursor.at + k])))
    return sweep


def _ends_of(motions: Motions, which: NDArray[np.int64]) -> Motions:
    phi = motions.phi1[which] if isinstance(motions.phi1, np.ndarray) else motions.phi1
    along, across = motions.along1[which], motions.across1[which]
    tip = motions.tip1[which] if motions.tip1 is not None else None
    return Motions(along, along, across, across, phi, phi, tip, tip)
