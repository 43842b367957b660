"""Simultaneous paths on chains, carried out by SciPy's rotations and held against the toolpath's own lines and great circles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation, Slerp

from chain_paths import CHAINS, Z, planned, rotary, run_of
from steadyrest.motion.chain import Line, linear_axes

TOLERANCE, AXIS_DEG = 0.01, 0.1


def by_scipy(xyz: np.ndarray, alpha: np.ndarray, lines: tuple[Line, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Tip and tool axis in the part of X Y Z (n, 3) and angles (n, r): from the spindle to the part, each rotary in its turn."""
    tip, axis = np.zeros_like(xyz), np.tile(Z, (len(xyz), 1))
    for at in reversed(range(len(lines) + 1)):
        if at == sum(line.carries_part for line in lines):
            tip = tip + xyz  # the linear axes stand between what carries the part and what carries the tool
        if at:
            line = lines[at - 1]
            turn = Rotation.from_rotvec(alpha[:, at - 1 : at] * line.direction)
            tip, axis = turn.apply(tip - line.point) + line.point, turn.apply(axis)
    return tip, axis


def path_over(name: str) -> tuple[np.ndarray, np.ndarray]:
    """A winding path over a dome, the tool leaning up to 50 degrees from the first line, and beside and through its pole."""
    first = CHAINS[name][0].direction
    aside = np.linalg.svd(first[None])[2][1:]
    turn = np.linspace(0, 9, 60)
    lean = 0.85 * np.cos(turn * 1.1) + 0.02
    axes = np.cos(lean)[:, None] * first + np.sin(lean)[:, None] * (np.column_stack([np.cos(turn / 4), np.sin(turn / 4)]) @ aside)
    if len(CHAINS[name]) == 1:
        axes = np.column_stack([np.sin(lean), np.zeros(60), np.cos(lean)])
    axes[30] = first if len(CHAINS[name]) == 2 else axes[30]
    return axes * (30 + turn)[:, None] + [3.0, -4.0, 20.0], axes / np.linalg.norm(axes, axis=1)[:, None]


@pytest.mark.parametrize("name", [name for name in CHAINS if "A and B" not in name])
def test_carried_out_by_an_independent_library_tip_and_tool_axis_are_where_the_toolpath_says(name: str) -> None:
    lines, (tips, axes) = CHAINS[name], path_over(name)
    run = run_of(tips, axes)
    _, (made,) = planned([run], lines, [rotary()] * len(lines), AXIS_DEG, TOLERANCE)
    xyz, alpha, share = linear_axes(made.tip, made.alpha_rad, lines), made.alpha_rad, np.linspace(0, 1, 21)[:, None]
    worst_tip = worst_axis = 0.0
    for way in np.flatnonzero(made.row > 0):
        between = [values[way] + share * (values[way + 1] - values[way]) for values in (xyz, alpha)]
        tip, axis = by_scipy(*between, lines)
        begin, end = (int(made.row[way]) - 1, int(made.row[way]))
        line = tips[end] - tips[begin]
        foot = np.clip((tip - tips[begin]) @ line / (line @ line), 0, 1)
        worst_tip = max(worst_tip, float(np.linalg.norm(tip - tips[begin] - foot[:, None] * line, axis=1).max()))
        across = np.cross(axes[begin], axes[end])
        angle = np.arctan2(np.linalg.norm(across), axes[begin] @ axes[end])
        unit = across / np.linalg.norm(across)
        circle = Slerp([0, 1], Rotation.from_rotvec([0 * unit, angle * unit]))
        off = np.linalg.norm(axis - circle(foot).apply(axes[begin]), axis=1)
        worst_axis = max(worst_axis, float(np.degrees(off.max())))
    assert worst_tip <= TOLERANCE * 1.01
    assert worst_axis <= AXIS_DEG * 1.01
    assert worst_tip > TOLERANCE / 4  # blocks as long as they may be
