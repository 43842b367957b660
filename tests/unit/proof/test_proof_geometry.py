"""Points of an operation's frame and what they mean on the machine and on the part; whole turns; a tool axis upright."""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
import pytest

from steadyrest.proof import Frame
from steadyrest.proof.geometry import less_whole_turns
from steadyrest.proof.intended_path import OperationFrame

POINTS = np.array([[1.0, 2.0, 3.0, 0.5], [-4.0, 5.0, 6.0, -1.0]])
CENTRE = np.array([7.0, -3.0, 2.0])


def frames(axis: str) -> list[OperationFrame]:
    frame = Frame(axis, CENTRE)
    return [
        OperationFrame("work", frame, 20.0, phi_rad=0.7),
        OperationFrame("part", frame, 20.0),
        OperationFrame("wrapped", frame, 20.0, developed_mm=15.0 if axis == "X" else -15.0, start_rad=0.3, height_mm=15.0),
    ]


@pytest.mark.parametrize("axis", ["X", "Y"])
@pytest.mark.parametrize("kind", [0, 1, 2])
def test_what_a_point_means_on_the_machine_is_that_point_again(axis: str, kind: int) -> None:
    frame = frames(axis)[kind]
    goals = frame.goals_of(POINTS)
    back = frame.of_program(goals[:, :3], goals[:, 3])
    expected = POINTS.copy()
    if kind == 0:
        expected[:, 3] = 0.0  # it stands as it should
    assert back == pytest.approx(expected)
    assert frame.goals_of(POINTS, 2 * pi)[:, 3] == pytest.approx(goals[:, 3] + 2 * pi)


@pytest.mark.parametrize("axis", ["X", "Y"])
@pytest.mark.parametrize("kind", [0, 1, 2])
def test_tips_in_the_part_frame_are_the_work_places_turned_back(axis: str, kind: int) -> None:
    frame = frames(axis)[kind]
    goals = frame.goals_of(POINTS)
    assert frame.tips_of(POINTS) == pytest.approx(frame.frame.to_part(goals[:, :3], goals[:, 3]))
    assert frame.tips_of(POINTS[0]) == pytest.approx(frame.tips_of(POINTS)[0])
    begin, end = frame.motions(POINTS[:1], POINTS[1:]), frame.tips_of(POINTS)
    for at in (0, 1):
        assert begin.tips(at)[0] == pytest.approx(frame.frame.across(end[at]))
        assert begin.along[at][0] == pytest.approx(end[at, frame.frame.along])


@pytest.mark.parametrize(("axis", "z", "turn"), [("X", 0.0, -0.3), ("Y", 0.0, -0.3)])
def test_wrapped_the_developed_length_turns_the_part(axis: str, z: float, turn: float) -> None:
    frame = frames(axis)[2]
    point = np.zeros((1, 4))
    goal = frame.goals_of(point)[0]
    assert goal[3] == pytest.approx(turn)
    assert goal[2] == pytest.approx(CENTRE[2] + 15.0 + z)
    point[0, frame.frame.lateral] = 15.0
    assert frame.goals_of(point)[0, 3] == pytest.approx(turn + (1.0 if axis == "X" else -1.0))


def test_in_a_still_frame_a_turn_counts_as_a_length_at_the_swept_radius() -> None:
    found = frames("X")[0].of_program(POINTS[:, :3], np.array([0.7, 0.8]))
    assert found[:, 3] == pytest.approx([0.0, 2.0])
    assert found[:, :3] == pytest.approx(POINTS[:, :3])


@pytest.mark.parametrize(("angle", "least"), [(0.0, 0.0), (3.0, 3.0), (3.5, 3.5 - 2 * pi), (-7.0, 2 * pi - 7), (pi, -pi)])
def test_whole_turns_are_left_out(angle: float, least: float) -> None:
    assert less_whole_turns(angle) == pytest.approx(least)


@pytest.mark.parametrize(
    ("axis", "tool_axis", "phi", "tilt"),
    [
        ("X", (0, 1, 0), pi / 2, 0.0),
        ("X", (0, 0, 1), 0.0, 0.0),
        ("X", (0.6, 0, 0.8), 0.0, np.arctan2(0.6, 0.8)),
        ("Y", (1, 0, 0), -pi / 2, 0.0),
        ("Y", (0, 0.6, 0.8), 0.0, np.arctan2(0.6, 0.8)),
        ("Z", (0.6, 0, 0.8), 0.0, np.arctan2(0.6, 0.8)),
        ("Z", (0, 0, 1), 0.0, 0.0),
    ],
)
def test_the_turn_that_brings_a_tool_axis_upright_and_what_is_out_of_reach(axis: str, tool_axis: Any, phi: float, tilt: float) -> None:
    frame, axes = Frame(axis, CENTRE), np.array([tool_axis], dtype=np.float64)
    assert frame.phi_of_axis(axes)[0] == pytest.approx(phi)
    assert frame.tilt_of_axis(axes)[0] == pytest.approx(tilt)
