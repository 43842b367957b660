"""How far off are blocks from the stretches they are paired with: distance, tool axis, length?

Where one of them is an arc, or the simple bound is too coarse, by closely set points. Between two of them smooth curves stay within an
eighth of their second difference of the straight line: that is added, so the result bounds what lies between the points too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.conventions import LINE, RAPID
from steadyrest.proof.geometry import apart_at, curve_lengths, frechet_bound, tip_length
from steadyrest.proof.intended_path import Elements, OperationFrame
from steadyrest.proof.matching import Pairs
from steadyrest.proof.rows import Rows, after
from steadyrest.proof.setting import Setting
from steadyrest.reading import within_block

_SAMPLES = 8448
"""Points of blocks that are looked at together, to keep the memory flat."""
_DENSE_RAD = 7.0
"""Arcs with a sweep beyond this are sampled one by one."""
_MARGIN = 1.25
"""Of the second difference, for its own change between two points."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Blocks (k,) of the program, the stretches that they are paired with, and of each: the farthest the two tips get apart and what is
    allowed there, mm; the largest angle between the tool axes, and what is left of it where the axis may lean out of reach, rad; the
    lengths of the tip's path over the part, intended and as programmed, mm; the largest distance of the tip from what it is turned about,
    mm; and with a chain by how much its speed over the part rises above the mean on the way, as a fraction, and the angle between the tool
    axes where a pole is near, else 0.
    """

    rows: Rows
    blocks: slice | Ints
    elements: Elements
    pairs: Pairs
    apart_mm: Floats
    limit_mm: Floats
    axis_rad: Floats
    axis_over_rad: Floats
    intended_mm: Floats
    program_mm: Floats
    radius_mm: Floats
    uneven: Floats | None = None
    at_pole_rad: Floats | None = None

    def feed(self, block: int) -> float:
        """The feed asked for in a block, mm per minute."""
        return float(self.elements.feed[self.pairs.element[block]])


def measure(
    rows: Rows,
    blocks: slice | Ints,
    elements: Elements,
    pairs: Pairs,
    frame: OperationFrame,
    setting: Setting,
    turns_off: Floats | float,
) -> Measured:
    """Measure blocks of the program against the elements they are paired with, `turns_off` rad taken off their turns."""
    motion = rows.motion[blocks]
    program = rows.motions(setting.frame.along, blocks, turns_off)
    start, end = stretches(elements, pairs)
    intended = frame.motions(start, end)
    apart = frechet_bound(program, intended)
    last = np.abs(program.across[1])
    limit = setting.limit_mm(np.maximum(np.abs(program.across[0]), last)) + 1e-9
    intended_mm, program_mm = tip_length(intended), tip_length(program)
    axis = np.maximum(np.abs(program.phi_at(0) - frame.turns_of(start)), np.abs(program.phi_at(1) - frame.turns_of(end)))
    over = axis
    if elements.tilt is not None:
        tilt = np.abs(elements.tilt[pairs.element])
        axis, over = np.hypot(axis, tilt), np.hypot(axis, np.maximum(tilt - frame.may_lean_rad, 0.0))

    rapid, programmed = motion == RAPID, motion > LINE
    arc = (programmed | (elements.kind[pairs.element] > LINE)) & ~rapid
    loose = (apart > limit) & ~arc & ~rapid if frame.kind == "part" else np.zeros(len(arc), np.bool_)
    if arc.any() or loose.any():
        row = np.arange(blocks.start, blocks.stop) if isinstance(blocks, slice) else blocks
        limit = limit + np.where(programmed, 2 * setting.rounding.linear_mm + 2 * setting.rounding.centre_mm, 0.0)
        for group, sweep in groups_of(np.flatnonzero(arc), elements, pairs, rows, row):
            u = np.linspace(0.0, 1.0, points_for(sweep) + 1)
            tips = _program_tips(rows, row[group], u, frame)
            from_u, to_u = pairs.u0[group, None], pairs.u1[group, None]
            goal = frame.of_blocks(group).tips_of(elements.place(pairs.element[group, None], from_u + u * (to_u - from_u)))
            apart[group] = farthest_of(tips - goal)
            intended_mm[group], program_mm[group] = curve_lengths(goal), curve_lengths(tips)
        for group in in_groups(np.flatnonzero(loose)):
            tips = _program_tips(rows, row[group], np.linspace(0.0, 1.0, 17), frame)
            apart[group] = np.minimum(apart[group], from_line(tips, start[group, :3], end[group, :3]))
    if rapid.any():
        # In a rapid only the end counts; how it gets there is a matter of safety.
        apart[rapid] = apart_at(program, intended, 1)[rapid]
    return Measured(rows, blocks, elements, pairs, apart, limit, axis, over, intended_mm, program_mm, last)


def stretches(elements: Elements, pairs: Pairs) -> tuple[Floats, Floats]:
    """Points (k, 4) where each block's stretch begins and ends."""
    whole = pairs.u1 == 1.0
    if not pairs.u0.any() and whole.all():
        at = whole_elements(pairs) or pairs.element
        return elements.points[at], elements.points[after(at)]
    stop = elements.place(pairs.element, pairs.u1)
    stop[whole] = elements.points[pairs.element[whole] + 1]
    return elements.place(pairs.element, pairs.u0), stop


def whole_elements(pairs: Pairs) -> slice | None:
    """The elements, if each block runs along one of them, from its begin to its end, and none is left out."""
    first, stop = int(pairs.element[0]), int(pairs.element[-1]) + 1
    one_each = stop - first == len(pairs) and not pairs.u0.any() and bool((pairs.u1 == 1.0).all())
    return slice(first, stop) if one_each else None


def in_groups(which: Ints, points: int = 33) -> list[Ints]:
    """Numbers of blocks in groups that are sampled together, each at so many points."""
    size = max(1, _SAMPLES // points)
    return [which[k : k + size] for k in range(0, len(which), size)]


def groups_of(which: Ints, elements: Elements, pairs: Pairs, rows: Rows, row: Ints) -> list[tuple[Ints, float]]:
    """Arcs in groups of like sweep, each with its largest, so that one with many turns does not make all of them dense."""
    sweeps = np.zeros(len(which))
    if elements.arcs is not None:
        sweeps = np.fmax(sweeps, np.abs(elements.arcs.sweep_rad[pairs.element[which]]) * (pairs.u1 - pairs.u0)[which])
    if rows.arcs is not None:
        sweeps = np.fmax(sweeps, np.abs(rows.arcs.sweep_rad[row[which]]))
    usual, dense = np.flatnonzero(sweeps <= _DENSE_RAD), np.flatnonzero(sweeps > _DENSE_RAD)
    groups = [*in_groups(usual), *dense[:, None]]
    return [(which[group], float(sweeps[group].max())) for group in groups]


def points_for(sweep_rad: float) -> int:
    """How many stretches: at most some 3 degrees of arc each."""
    return 2 * int(np.clip(np.ceil(abs(sweep_rad) / 0.1), 8, 10_000))


def _program_tips(rows: Rows, row: Ints, along: Floats, frame: OperationFrame) -> Floats:
    """Tips in the part frame (k, s, 3) of blocks `row` (k,) at `along` (s,) from 0 to 1."""
    return frame.frame.to_part(within_block(rows.vertex, row[:, None], along, rows.arcs), within_block(rows.phi, row[:, None], along))


def farthest_of(gap: Floats) -> Floats:
    """The largest (k,) of gaps (k, s, 3) at closely set places, and in between."""
    bend = gap[:, 2:] - 2 * gap[:, 1:-1] + gap[:, :-2]
    at, between = (np.sqrt(np.einsum("ksc,ksc->ks", part, part)).max(axis=1) for part in (gap, bend))
    return np.asarray(at + _MARGIN * between / 8, dtype=np.float64)


def from_line(program: Floats, start: Floats, end: Floats) -> Floats:
    """The farthest (k,) that curves (k, s, 3) get from straight lines (k, 3) to (k, 3), which they may follow at their own pace.

    Infinite where a curve runs back along its line, for then the pace does not excuse it.
    """
    way = end - start
    rel = program - start[:, None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        u = np.einsum("ksc,kc->ks", rel, way) / np.einsum("kc,kc->k", way, way)[:, None]
    u = np.clip(np.where(np.isfinite(u), u, 0.0), 0.0, 1.0)
    back = (np.diff(u, axis=1) < -1e-9).any(axis=1)
    return np.where(back, np.inf, farthest_of(rel - u[..., None] * way[:, None, :]))
