"""Blocks that turn two rotaries, measured: the bound holds for every point of a block, and how even the tip's speed is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from chain_programs import C_ON_A, bowl, machine, part, verdict, written
from steadyrest.proof.chain import angles_between, posed, poses
from steadyrest.proof.chain_frame import along_great_circle, frame_on_chain
from steadyrest.proof.chain_measure import measure_on_chain
from steadyrest.proof.intended_path import elements_of
from steadyrest.proof.matching import one_to_one
from steadyrest.proof.measure import Measured
from steadyrest.proof.rows import Rows, rows_of
from steadyrest.proof.setting import setting_of
from steadyrest.reading import MotionRead, read_program


def measured(rows: int) -> tuple[Measured, Rows, Any, Any]:
    toolpath, profile = bowl(rows), machine()
    setting, operation = setting_of(toolpath, profile, None, None), toolpath.operations[0]
    frame = frame_on_chain(operation, None, None, setting)
    (run,) = operation.stream()
    elements = elements_of(run, frame, np.full(6, np.nan), setting)  # type: ignore[arg-type]
    items = read_program(written(toolpath, profile).program().encode(), profile)
    read = max((item for item in items if isinstance(item, MotionRead)), key=len)
    blocks = rows_of(read, setting)
    first = len(blocks) - rows - 1 if blocks.rapid[-1] else len(blocks) - rows
    found = measure_on_chain(blocks, slice(first, first + rows), elements, one_to_one(1, rows, 0.0), frame, setting)
    return found, blocks, elements, frame


@pytest.mark.parametrize("rows", [60, 400])
def test_no_point_of_any_block_is_farther_off_than_is_said(rows: int) -> None:
    found, blocks, elements, frame = measured(rows)
    share = np.linspace(0, 1, 41)
    for block in range(0, rows, 7):
        at = found.blocks.start + block  # type: ignore[union-attr]
        xyz, words = (column[at] + share[:, None] * (column[at + 1] - column[at]) for column in (blocks.vertex, blocks.phi))
        tips, axes = poses(frame.lines, xyz, words)
        start, end = elements.points[block + 1], elements.points[block + 2]
        way = end[:3] - start[:3]
        u = np.clip((tips - start[:3]) @ way / (way @ way), 0, 1)
        assert np.linalg.norm(tips - start[:3] - u[:, None] * way, axis=1).max() <= found.apart_mm[block] + 1e-9
        meant = along_great_circle(start[3:], end[3:], share) / frame.turn_radius_mm
        if found.apart_mm[block] <= found.limit_mm[block]:
            assert angles_between(axes, meant).max() <= found.axis_rad[block] + 1e-9 + np.abs(u - share).max() * 0.1
        assert found.program_mm[block] == pytest.approx(np.linalg.norm(np.diff(tips, axis=0), axis=1).sum(), rel=1e-4)


def test_where_the_tool_stands_is_told_of_the_places_and_the_lines_that_are_asked_for() -> None:
    _, blocks, _, frame = measured(60)
    raised = tuple(replace(line, point=line.point + np.array((0.0, 0.0, 1.0))) for line in frame.lines)
    for lines in (frame.lines, raised, frame.lines):
        for at in (slice(5, 40), slice(5, 20), slice(6, 20), slice(5, 40)):
            here, anew = blocks.posed(lines, at), posed(lines, blocks.vertex[at], blocks.phi[at])
            np.testing.assert_array_equal(here.tips_mm, anew.tips_mm)
            np.testing.assert_array_equal(here.axes, anew.axes)
            np.testing.assert_array_equal(here.arms_mm, anew.arms_mm)


def test_blocks_that_turn_too_far_at_once_leave_the_path() -> None:
    """The tip of a block that turns runs on a curve: a degree or so at 40 mm is little, eight are half a millimetre."""
    fine, coarse = bowl(400), bowl(25)
    assert verdict(written(fine).program(), fine).proved
    failure = verdict(written(coarse).program(), coarse).failure
    assert failure is not None
    assert failure.rule == "off-path"


def test_where_the_tip_is_not_evenly_fast_the_speed_on_the_way_is_told_beside_the_mean() -> None:
    found = measured(60)[0]
    assert found.uneven is not None
    assert 0.001 < found.uneven.max() < 0.5


def test_a_tool_that_turns_about_its_tip_is_followed_by_its_axis() -> None:
    lean = np.radians(np.linspace(10, 14, 41))
    moves = [{"cut": [5, 0, 35], "tool_axis": [np.sin(one), 0, np.cos(one)], "feed": 300} for one in lean]
    toolpath, profile = part([{"rotary": {"intent": "simultaneous"}, "moves": moves}]), machine(C_ON_A)
    found = verdict(written(toolpath, profile).program(), toolpath, profile)
    assert found.failure is None, found.text()
    assert found.operations[0].blocks == 40


@pytest.mark.parametrize(("lean", "near"), [(3.0, True), (40.0, False)])
def test_what_a_pole_takes_of_the_tool_axis_is_told_by_itself(lean: float, near: bool) -> None:
    """C turns about the pole: a word of it 0.1 degrees off leans the tool axis by 0.1 times the sine of how far it is from there."""

    def change(number: int, words: Any) -> Any:
        return words + np.array([0, 0, 0, 0.1 if number == 20 and near else 0, 0])

    axes = [np.array([np.sin(np.radians(lean)), 0.001 * k, np.cos(np.radians(lean))]) for k in range(41)]
    moves = [{"cut": [0, 0.05 * k, 3], "tool_axis": (one / np.linalg.norm(one)).tolist(), "feed": 300} for k, one in enumerate(axes)]
    toolpath = part([{"rotary": {"intent": "simultaneous"}, "moves": moves}])
    found = verdict(written(toolpath, change=change).program(), toolpath)
    assert found.failure is None, found.text()
    figures = found.operations[0]
    assert figures.axis_off_at_pole_deg == (figures.axis_off_deg if near else 0.0)
    least = 0.1 * np.sin(np.radians(3.0)) if near else 0.0
    assert least <= figures.axis_off_deg <= least + 0.003
