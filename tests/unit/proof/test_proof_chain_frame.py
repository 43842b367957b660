"""The frame of an operation on a chain: planes in their own coordinates, angles as planes, the tool axis along the great circle."""

from __future__ import annotations

import numpy as np
import pytest

from chain_programs import MOVES, bowl, machine, part, planes
from steadyrest.proof.chain_frame import ChainFrame, along_great_circle, frame_on_chain, lengths, nearest_share
from steadyrest.proof.intended_path import elements_of, passes
from steadyrest.proof.setting import setting_of
from steadyrest.toolpath import MoveColumns, Toolpath


def frames(toolpath: Toolpath) -> list[ChainFrame]:
    found = [one.frame for one in passes(setting_of(toolpath, machine(), None, None))]
    assert all(isinstance(frame, ChainFrame) for frame in found)
    return found  # type: ignore[return-value]


def test_the_points_of_a_plane_are_its_own_coordinates_and_its_tool_axis_is_its_z() -> None:
    frame = frames(planes())[0]
    tip, axis = np.array([10, 4, 30 + 2 * 2**0.5]), np.array([1, 0, 1]) / 2**0.5
    point = frame.of_poses(tip, axis)
    np.testing.assert_allclose(point, [-2, 4, 2, 0, 0, frame.turn_radius_mm], atol=1e-12)  # x leans down, as X laid into the plane does
    np.testing.assert_allclose(frame.goal_of(point), [*tip, *axis], atol=1e-12)


def test_an_angle_is_the_plane_that_the_contract_says() -> None:
    """Design, two rotary axes, section 4: E = R(alpha), origin = c - R(alpha) c; about Z by 90 degrees X goes to Y."""
    turned = part([{"rotary": {"intent": "indexed", "angles": [90]}, "moves": MOVES}])
    frame = frames(turned)[0]
    np.testing.assert_allclose(frame.axes @ [1, 0, 0], [0, 1, 0], atol=1e-12)
    np.testing.assert_allclose(frame.origin_mm, [1 + 2, 2 - 1, 0], atol=1e-12)  # the centre, 1 2 3, stays where it is
    np.testing.assert_allclose(frame.tips_of(frame.raised(np.array([1.0, 2, 3]))), [1, 2, 3], atol=1e-12)


def test_by_default_the_tool_axis_may_move_the_flank_by_the_tolerance() -> None:
    """0.01 mm on a cutting length of 14 mm: 0.041 degrees; the operation's own axis tolerance goes before it. Rounding comes on top."""
    setting = setting_of(bowl(3), machine(), None, None)
    rounded = setting.rounding.angle_rad
    assert rounded == pytest.approx(np.radians(0.0001), rel=1e-6)  # half a count of each of two words
    assert frames(bowl(3))[0].axis_limit_rad == pytest.approx(0.01 / 14 + rounded, rel=1e-5)
    assert frames(bowl(3, axis_tolerance=0.5))[0].axis_limit_rad == pytest.approx(np.radians(0.5) + rounded, rel=1e-5)


def test_moves_of_a_simultaneous_operation_have_tip_and_tool_axis_as_points() -> None:
    toolpath = bowl(3)
    setting, operation = setting_of(toolpath, machine(), None, None), toolpath.operations[0]
    frame = frame_on_chain(operation, None, None, setting)
    (run,) = operation.stream()
    assert isinstance(run, MoveColumns)
    elements = elements_of(run, frame, np.full(6, np.nan), setting)
    np.testing.assert_allclose(frame.tips_of(elements.points[1:]), run.end)
    np.testing.assert_allclose(frame.axes_of(elements.points[1:]), run.tool_axis, atol=1e-9)
    halfway = elements.place(np.array([1]), np.array([0.5]))
    angles = [np.arccos(frame.axes_of(halfway)[0] @ run.tool_axis[at]) for at in (0, 1)]  # type: ignore[index]
    assert angles[0] == pytest.approx(angles[1])
    assert elements.lengths(1, 2)[0] == pytest.approx(
        np.hypot(np.linalg.norm(run.end[1] - run.end[0]), 2 * angles[0] * frame.turn_radius_mm)
    )


@pytest.mark.parametrize("share", [0.0, 0.25, 0.7, 1.0])
def test_a_tool_axis_goes_the_shortest_way_evenly(share: float) -> None:
    one, other = np.array([0, 0, 5.0]), np.array([5.0, 0, 0])
    np.testing.assert_allclose(
        along_great_circle(one, other, np.asarray(share)),
        5 * np.array([np.sin(share * np.pi / 2), 0, np.cos(share * np.pi / 2)]),
        atol=1e-12,
    )
    np.testing.assert_allclose(along_great_circle(one, one, np.asarray(share)), one)


def test_the_way_of_a_tool_axis_counts_along_the_circle() -> None:
    points = np.array([[0, 0, 0, 0, 0, 5.0], [3, 4, 0, 0, 0, 5.0], [3, 4, 0, 5.0, 0, 0]])
    np.testing.assert_allclose(lengths(points), [5, 5 * np.pi / 2])


@pytest.mark.parametrize("angle", [0.0, 0.02, np.pi / 2, 2.5])
def test_points_of_a_stretch_are_found_where_they_lie_however_far_its_tool_axis_swings(angle: float) -> None:
    start = np.array([0, 0, 0, 0, 0, 12.0])
    end = np.array([25, -3, 4, 12 * np.sin(angle), 0, 12 * np.cos(angle)])
    share = np.linspace(0, 1, 11)
    points = np.empty((11, 6))
    points[:, :3] = share[:, None] * end[:3]
    points[:, 3:] = along_great_circle(start[3:], end[3:], share)
    np.testing.assert_allclose(nearest_share(points, start, end), share, atol=1e-6)
    assert np.isnan(nearest_share(np.full(6, np.nan), start, end))


def test_a_tool_that_turns_about_its_tip_lies_where_its_axis_does() -> None:
    start, end = np.array([1, 2, 3, 0, 0, 12.0]), np.array([1, 2, 3, 12.0, 0, 0])
    point = np.array([1, 2, 3, 12 * np.sin(0.3), 0, 12 * np.cos(0.3)])
    assert nearest_share(point, start, end) == pytest.approx(0.3 / (np.pi / 2), abs=1e-6)


@pytest.mark.parametrize("turn", [0.01, 0.09, 0.45, 1.5])
@pytest.mark.parametrize("way", [0.0, 1.0, 20.0])
def test_the_share_of_a_point_beside_a_stretch_is_that_of_the_nearest_place_on_it(turn: float, way: float) -> None:
    start, end = np.array([0, 0, 0, 0, 0, 12.0]), np.array([way, 0, 0, 12 * np.sin(turn), 0, 12 * np.cos(turn)])
    share = np.linspace(0, 1, 2001)
    places = np.hstack([share[:, None] * end[:3], along_great_circle(start[3:], end[3:], share)])
    aside = np.hypot(way, 12 * turn) / 100 * np.array([[1, 2, -1, 1, 2, -2], [-2, 1, 1, -1, -1, 2], [2, -1, 0, 2, 0, 1]])
    points = places[[300, 1000, 1900]] + aside
    nearest = np.linalg.norm(points[:, None] - places, axis=2).argmin(axis=1)
    np.testing.assert_allclose(nearest_share(points, start, end), share[nearest], atol=3e-4)
