"""How far off are blocks on a chain of rotaries from the stretches they are paired with: tip, tool axis, length, evenness?

A block is held against its stretch as a whole first, both gone through together from end to end, with the bound of how far each strays
from the straight way. Where that is too coarse, closely set points are: there the tip may follow a straight line at its own pace, and the
tool axis is held against the one that is meant where the tip is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, Ints, or_zero
from steadyrest.conventions import LINE, RAPID
from steadyrest.proof.chain import bends, poses, sizes, tips_of
from steadyrest.proof.chain_frame import AXIS, TIP, ChainFrame, along_great_circle, nearest_share
from steadyrest.proof.drawn_on_chain import DrawnOnChain
from steadyrest.proof.geometry import FULL_TURN, curve_lengths
from steadyrest.proof.intended_path import Elements
from steadyrest.proof.matching import Pairs, project
from steadyrest.proof.measure import Measured, farthest_of, groups_of, in_groups, measure, points_for, stretches, whole_elements
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.reading import within_block

_TURNING = np.linspace(0.0, 1.0, 17)
"""Shares of a block that bends more than a little, for length and evenness of the tip's way."""
_LITTLE = 0.02
_NEAR_POLE_RAD = np.radians(12.0)
"""A pass over a pole may begin to give way as far from it as this."""
_COARSE, _FINE = np.linspace(0.0, 1.0, 9), np.linspace(0.0, 1.0, 33)
_COARSELY = 4.0
"""So many times what is allowed a block may bend to be looked at coarsely: what it runs back between two of nine points is then a sixteenth
of what is allowed at most.
"""
_LEAST_PARTS, _MOST_PARTS, _WIDEST_PART_RAD, _STRAY = 8, 4096, 0.1, 1 / 32
"""In how many parts a block of a drawing is looked at: none turns by more, or strays by more than that share of the tolerance."""


def measure_on_chain(rows: Rows, blocks: slice, elements: Elements, pairs: Pairs, frame: ChainFrame, setting: Setting) -> Measured:
    """As `measure`, of the operations of a chain; whole turns are no matter."""
    ends = slice(blocks.start, blocks.stop + 1)
    positions, words = rows.vertex[ends], rows.phi[ends]
    here = rows.posed(frame.lines, ends)
    points = frame.of_poses(here.tips_mm, here.axes)
    start, end = stretches(elements, pairs)
    intended_mm, swings = frame.apart(start, end)
    if (path := whole_elements(pairs)) is not None:
        off, lean = frame.apart(points, elements.points[path.start : path.stop + 1])
        offs, leans = (off[:-1], off[1:]), (lean[:-1], lean[1:])
    else:
        offs, leans = zip(frame.apart(points[:-1], start), frame.apart(points[1:], end), strict=True)
    bend = bends(frame.lines, positions, words, here.arms_mm)
    apart, axis = np.maximum(*offs) + bend.tip_mm, np.maximum(*leans) + bend.axis_rad + swings * swings / 8
    limit = setting.limit_mm(bend.radius_mm) + 1e-9
    program_mm, uneven = sizes(np.diff(here.tips_mm, axis=0)), np.zeros(len(apart))

    motion = rows.motion[blocks]
    rapid, programmed = motion == RAPID, motion > LINE
    row = np.arange(blocks.start, blocks.stop)
    turning = np.flatnonzero((bend.turn_rad != 0) & ~rapid)
    if len(turning):
        which = slice(None) if len(turning) == len(apart) else turning
        begin, finish = here.tips_mm[:-1][which], here.tips_mm[1:][which]
        middle = tips_of(frame.lines, *((of[:-1][which] + of[1:][which]) / 2 for of in (positions, words)))
        first, last = sizes(middle - begin), sizes(finish - middle)
        both = first + last
        program_mm[which] = both + (both - program_mm[which]) / 3
        # The speed rises or falls evenly along a block that bends little: at an end twice as much as from half to half.
        uneven[which] = 2 * np.abs(first - last) / np.maximum(both, 1e-12)
    for group in in_groups(turning[bend.tip_mm[turning] > _LITTLE * program_mm[turning]], len(_TURNING)):
        ways = _ways(rows, row[group], _TURNING, frame)
        program_mm[group] = curve_lengths(ways)
        steps = sizes(np.diff(ways, axis=1))
        uneven[group] = steps.max(axis=1) / np.maximum(steps.mean(axis=1), 1e-12) - 1.0
    arc = (programmed | (elements.kind[pairs.element] > LINE)) & ~rapid
    if arc.any():
        limit = limit + np.where(programmed, 2 * setting.rounding.linear_mm + 2 * setting.rounding.centre_mm, 0.0)
        for group, sweep in groups_of(np.flatnonzero(arc), elements, pairs, rows, row):
            u = np.linspace(0.0, 1.0, points_for(sweep) + 1)
            way = _ways(rows, row[group], u, frame)
            from_u, to_u = pairs.u0[group, None], pairs.u1[group, None]
            goal = frame.tips_of(elements.place(pairs.element[group, None], from_u + u * (to_u - from_u)))
            apart[group] = farthest_of(way - goal)
            intended_mm[group], program_mm[group] = curve_lengths(goal), curve_lengths(way)
    for share, most in (_COARSE, _COARSELY), (_FINE, np.inf):
        loose = ((apart > limit) | (axis > frame.axis_limit_rad)) & ~arc & ~rapid
        little = (bend.tip_mm <= most * limit) & (bend.axis_rad <= most * frame.axis_limit_rad)
        for group in in_groups(np.flatnonzero(loose & little), len(share)):
            apart[group], axis[group] = _closely(rows, row[group], share, frame, start[group], end[group])
    apart[rapid], axis[rapid] = offs[1][rapid], leans[1][rapid]  # in a rapid only the end counts
    at_pole = np.where(np.abs(here.axes[1:] @ frame.lines[0].about) > np.cos(_NEAR_POLE_RAD), axis, 0.0)
    return Measured(rows, blocks, elements, pairs, apart, limit, axis, axis, intended_mm, program_mm, bend.radius_mm, uneven, at_pole)


def measure_drawn(rows: Rows, blocks: slice, elements: Elements, pairs: Pairs, frame: DrawnOnChain, turns_off: float) -> Measured:
    """As `measure`, of a wrapped drawing: by the machine with one rotary."""
    if frame.goes_round:
        return _measure_round(rows, blocks, elements, pairs, frame, turns_off)
    single, lean = frame.as_single(rows, blocks)
    found = measure(single, slice(0, len(pairs)), elements, pairs, frame.drawn, frame.setting, turns_off)
    another = frame.turns_another(rows.phi[blocks.start : blocks.stop + 1]) | (rows.motion[blocks] > LINE)
    apart = np.where(another & (rows.motion[blocks] != RAPID), np.inf, found.apart_mm)
    axis = np.hypot(found.axis_rad, lean)
    return replace(found, rows=rows, blocks=blocks, apart_mm=apart, axis_rad=axis, axis_over_rad=axis)


def _measure_round(rows: Rows, blocks: slice, elements: Elements, pairs: Pairs, frame: DrawnOnChain, turns_off: float) -> Measured:
    """Where all rotaries turn together: every block in parts, so short that neither it nor the machine with one rotary strays from the
    straight way between their ends by more than a small share of the tolerance, which is added.
    """
    setting, count = frame.setting, len(pairs)
    ends = slice(blocks.start, blocks.stop + 1)
    bend = bends(frame.lines, rows.vertex[ends], rows.phi[ends], rows.posed(frame.lines, ends).arms_mm)
    columns = np.empty((5, count))
    last_phi = np.nan
    strays = np.sqrt(or_zero(bend.tip_mm) / (_STRAY * setting.tolerance_mm))
    needed = np.clip(np.maximum(strays, or_zero(bend.turn_rad) / _WIDEST_PART_RAD), _LEAST_PARTS, _MOST_PARTS)
    alike = np.split(np.arange(count), np.flatnonzero(np.diff(np.ceil(np.log2(needed)))) + 1)
    for group in (group for blocks_alike in alike for group in in_groups(blocks_alike)):
        here = slice(blocks.start + int(group[0]), blocks.start + int(group[-1]) + 1)
        parts = int(needed[group].max()) + 1
        single, lean = frame.as_single(rows, here, parts)
        whole = FULL_TURN * np.round((last_phi - single.phi[0]) / FULL_TURN) if last_phi == last_phi else 0.0
        single = replace(single, phi=single.phi + whole)
        last_phi = float(single.phi[-1])
        element = np.repeat(pairs.element[group], parts)
        to_u = project(frame.drawn.of_program(single.vertex, single.phi - turns_off)[1:], elements, element, np.ones(len(element)))
        u = np.column_stack([pairs.u0[group], to_u.reshape(-1, parts)])
        u[:, -1] = pairs.u1[group]
        u = np.minimum(np.fmax.accumulate(u, axis=1), pairs.u1[group, None])
        nothing = np.empty(0, dtype=np.int64)
        fine = Pairs(element, u[:, :-1].ravel(), u[:, 1:].ravel(), nothing, nothing, pairs.done, pairs.u)
        found = measure(single, slice(0, len(fine)), elements, fine, frame.drawn, setting, turns_off)
        swing, out = np.abs(np.diff(single.phi)), np.abs(single.across)
        arc = swing * (swing * np.maximum(out[1:], out[:-1]) + 2 * np.abs(np.diff(single.across))) / 8
        tip, axis, ways, intended = (
            of.reshape(-1, parts) for of in (found.apart_mm + arc, np.hypot(found.axis_rad, lean), found.program_mm, found.intended_mm)
        )
        rapid = rows.motion[here] == RAPID
        columns[0, group] = np.where(rapid, found.apart_mm.reshape(-1, parts)[:, -1], tip.max(axis=1) + bend.tip_mm[group] / parts**2)
        columns[1, group] = np.where(rapid, axis[:, -1], axis.max(axis=1))
        columns[2, group], columns[3, group] = intended.sum(axis=1), ways.sum(axis=1)
        columns[4, group] = np.where(rapid, 0.0, ways.max(axis=1) / np.maximum(ways.mean(axis=1), 1e-12) - 1.0)
    apart, axis, intended, program, uneven = columns
    limit = setting.limit_mm(bend.radius_mm) + 1e-9
    apart = np.where(rows.motion[blocks] > LINE, np.inf, apart)
    return Measured(rows, blocks, elements, pairs, apart, limit, axis, axis, intended, program, bend.radius_mm, uneven, np.zeros(count))


def _ways(rows: Rows, row: Ints, share: Floats, frame: ChainFrame) -> Floats:
    """Tips in the part frame (k, s, 3) of blocks `row` (k,) at shares (s,)."""
    if rows.arcs is None:
        return tips_of(frame.lines, *_straight(rows, row, share))
    stands = (within_block(of, row[:, None], share, arcs) for of, arcs in ((rows.vertex, rows.arcs), (rows.phi, None)))
    return tips_of(frame.lines, *stands)


def _straight(rows: Rows, row: Ints, share: Floats) -> Iterator[Floats]:
    """X Y Z (k, s, 3) and the rotaries' words (k, s, r) at shares (s,) of blocks that are no arcs, each number a column by itself."""
    return ((of[row].T[:, None] + share[:, None] * (of[row + 1] - of[row]).T[:, None]).T for of in (rows.vertex, rows.phi))


def _closely(rows: Rows, row: Ints, share: Floats, frame: ChainFrame, start: Floats, end: Floats) -> tuple[Floats, Floats]:
    """The farthest that blocks (k,) get from straight stretches (k, 6): of the tip, mm, and of the tool axis from that meant there, rad.

    Told at shares (s,) of the blocks, none of them an arc, and in between. Where along its stretch a point lies is told by tip and tool
    axis together. Infinite where it runs back.
    """
    points = frame.of_poses(*poses(frame.lines, *_straight(rows, row, share)))
    way = end - start
    u = nearest_share(points, start[:, None], end[:, None])
    back = (np.diff(u, axis=1) < -1e-9).any(axis=1)
    meant = along_great_circle(start[:, None, AXIS], end[:, None, AXIS], u)
    off = farthest_of(points[..., TIP] - start[:, None, TIP] - u[..., None] * way[:, None, TIP])
    lean = farthest_of((points[..., AXIS] - meant) / frame.turn_radius_mm)
    return np.where(back, np.inf, off), np.where(back, np.inf, lean)
