"""Blocks of a program whose rotaries turn, as moves of tip and tool axis in the part."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.conventions import LINE, PER_MINUTE, RAPID
from steadyrest.inputs.program_in_part import in_part
from steadyrest.inputs.stretches import Moves
from steadyrest.motion import Line, tip_in_part, tool_axis
from steadyrest.reading import MotionRead

C_ON_A = (
    Line(np.array([0.0, 0.0, 1.0]), np.zeros(3), -1, carries_part=True),
    Line(np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 48.0]), -1, carries_part=True),
)


def block(begin: list[float], end: list[float], motion: int = LINE) -> tuple[Moves, MotionRead]:
    """One block from X Y Z C A to others."""
    vertex = np.array([begin, end], dtype=np.float64)
    codes, one = np.array([motion], dtype=np.uint8), np.ones(1)
    run = MotionRead(
        np.array([7]), codes, vertex[:, :3], vertex[:, 3:], one, 500 * one, np.array([PER_MINUTE], dtype=np.uint8), *[one < 0] * 2, 1.0
    )
    return Moves(np.array([int(motion != RAPID)], dtype=np.uint8), run.end_mm, 500 * one, run.line), run


def test_a_block_is_cut_up_so_that_tip_and_tool_axis_are_where_the_machine_takes_them_on_its_even_way() -> None:
    moves, run = block([30, 5, 20, 0, 0], [10, -5, 25, 80, -40])
    made, row, ways = in_part(moves, run, C_ON_A)
    assert row.tolist() == [0] * len(made)
    assert len(made) > 10
    assert made.axis is not None
    share = np.linspace(0, 1, 4001)[:, None]
    alpha = -np.radians(run.vertex_deg[0] + share * (run.vertex_deg[1] - run.vertex_deg[0]))
    tips = tip_in_part(run.vertex_mm[0] + share * (run.vertex_mm[1] - run.vertex_mm[0]), alpha, C_ON_A)
    axes = tool_axis(alpha, C_ON_A)
    np.testing.assert_allclose((made.end[-1], made.axis[-1]), (tips[-1], axes[-1]), atol=1e-12)
    begin, way = np.vstack([tips[:1], made.end[:-1]]), np.diff(np.vstack([tips[:1], made.end]), axis=0)
    along = np.clip(((tips[:, None] - begin) * way).sum(axis=2) / (way * way).sum(axis=1), 0, 1)
    off = np.linalg.norm(begin + along[..., None] * way - tips[:, None], axis=2).min(axis=1)
    assert off.max() < 0.011
    assert ways == pytest.approx([np.linalg.norm(np.diff(tips, axis=0), axis=1).sum()], rel=1e-3)


def test_what_turns_nothing_and_what_is_a_rapid_stays_one_move_and_an_unknown_beginning_does_no_harm() -> None:
    for begin, end, motion in (
        ([30, 5, 20, 90, -40], [10, -5, 25, 90, -40], LINE),
        ([30, 5, 90, 0, 0], [30, 5, 90, 180, -90], RAPID),
        ([np.nan, np.nan, 90, np.nan, 0], [30, 5, 90, 180, -90], RAPID),
    ):
        made, _, _ = in_part(*block(begin, end, motion), C_ON_A)
        alpha = -np.radians([end[3:]])
        np.testing.assert_allclose(made.end, tip_in_part(np.array([end[:3]]), alpha, C_ON_A), atol=1e-12)
        np.testing.assert_allclose(made.axis, tool_axis(alpha, C_ON_A), atol=1e-12)
