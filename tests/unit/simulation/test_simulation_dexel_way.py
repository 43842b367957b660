"""How a way of tip and tool axis is stepped through: exactly where one pose will do, so finely that little is missed where not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from posed import BLOCK, billet, cut_poses, great_circles, tool, unit
from steadyrest.columns import Floats, Ints
from steadyrest.reading import MotionRead
from steadyrest.simulation.dexel_kernel import Pose
from steadyrest.simulation.dexel_way import MOST_PARTS, UP, PoseChart, Steps, poses_of
from steadyrest.simulation.kernel import DEPTH

OFF = 0.01
UPRIGHT = [0.0, 0.0, 1.0]
FLAT = {"shape": "flat", "diameter": 6}


def poses(
    tips: Any, axes: Any, shape: dict[str, Any] = FLAT, rapid: bool = False, at_once: int = 10**6
) -> tuple[Pose, Ints, Floats, list[int]]:
    stock, way = billet(BLOCK), great_circles(tips, axes)
    blocks, fast = np.arange(len(way.straight)), np.full(len(way.straight), rapid)
    found = list(poses_of(way, blocks, fast, Steps(stock.low, stock.high, OFF, 0.01), tool(shape), at_once))
    table, block, share = (np.concatenate(each) for each in zip(*found, strict=True))
    return Pose(*table.T), block, share, [len(one) for one, *_ in found]


def test_a_plunge_is_one_pose_from_its_lower_end_up() -> None:
    leaning = unit([1, 2, 3])
    for tips in ([12 * leaning, 2 * leaning], [2 * leaning, 12 * leaning]):
        pose, _, share, _ = poses(tips, [leaning] * 2)
        assert 1 == len(share)
        np.testing.assert_allclose(np.concatenate([*pose[:3], pose.long, pose.rise]), [*(2 * leaning), 0, 10], atol=1e-12)


def test_a_rapid_across_the_axis_is_one_pose_and_a_cut_as_many_as_tell_where_it_cuts() -> None:
    tips = [[-15, 2, 5], [15, 2, 5]]
    rapid, cut = poses(tips, [UPRIGHT] * 2, rapid=True)[0], poses(tips, [UPRIGHT] * 2)[0]

    assert [30] == rapid.long.tolist()
    assert [(1, 0, 0)] == [(rapid.feed_u[0], rapid.feed_v[0], rapid.feed_w[0])]
    np.testing.assert_allclose(cut.long, 3.0)
    np.testing.assert_allclose(cut.tip_u, np.arange(-15, 15, 3.0))
    assert len(poses([[-19, 2, 5], [19, 2, 5]], [UPRIGHT] * 2, FLAT | {"diameter": 1})[1]) == MOST_PARTS


def test_a_ramp_is_stepped_by_what_its_edge_goes_down_and_a_ball_by_its_ridge() -> None:
    flat, ball = (poses([[-10, 0, 8], [10, 0, 5]], [UPRIGHT] * 2, FLAT | {"shape": shape}) for shape in ("flat", "ball"))

    assert 1 + int(np.ceil(3 / (UP * OFF))) == len(flat[1])
    assert 0.0 == flat[2][0]
    # Ridge of height h between circles of radius r a step d apart: d^2 = 8 r h.
    assert 1 + int(np.ceil(20 / np.sqrt(8 * 3 * OFF) - 1e-9)) == len(ball[1])
    assert not flat[0].long.any()
    assert not flat[0].rise.any()
    assert 1.0 == flat[2][-1]
    np.testing.assert_allclose(flat[0].feed_u, 1.0)


@pytest.mark.parametrize("shape", [FLAT, FLAT | {"shape": "ball"}, FLAT | {"shape": "bullnose", "corner_radius": 1}])
@pytest.mark.parametrize(
    ("tips", "axes"),
    [
        ([[-15, 0, 9], [15, 3, 6]], [UPRIGHT, UPRIGHT]),
        ([[-12, 0, 6], [10, 3, 7]], [[0.2, 0, 1], [-0.3, 0.4, 1]]),
        ([[0, 0, 5], [0, 0, 5]], [[0.5, 0, 1], [-0.5, 0.2, 1]]),
    ],
)
def test_no_more_is_missed_than_is_allowed(shape: dict[str, Any], tips: Any, axes: Any) -> None:
    """The same way once more at rapid, thirty times as close, by a tool that is smaller by what is allowed: nothing is left for it."""
    allowed = (UP + 1) * 0.03
    coarse, took, _ = cut_poses(billet(BLOCK), shape, tips, axes, cell_mm=0.4, off_mm=0.03)
    _, more, account = cut_poses(coarse, shape, tips, axes, rapid=np.array([True]), cell_mm=0.4, off_mm=0.001, touch_mm=allowed)
    _, finer, _ = cut_poses(coarse, shape, tips, axes, cell_mm=0.4, off_mm=0.001)

    assert took.removed_mm3 > 100
    assert 0 == more.removed_mm3
    assert 0 == len(account.touches(DEPTH))
    assert 0 < finer.removed_mm3 < 0.05 * took.removed_mm3


def test_a_turn_that_swings_the_shank_is_stepped_by_how_far_that_goes() -> None:
    """The tip stays; what stands in the stock's box above it, 15 mm up, goes sideways by that times the angle."""
    pose = poses([[0, 0, -5], [0, 0, -5]], [UPRIGHT, unit([0.2, 0, 1])])[0]
    swing, edge = 15 * np.arctan(0.2) / np.sqrt(8 * 3 * OFF), 3 * np.arctan(0.2) / (UP * OFF)

    assert max(swing, edge) < len(pose.long) < 1.6 * max(swing, edge) + 10
    angles = np.degrees(np.arctan2(pose.axis_u, pose.axis_w))
    assert np.degrees(np.arctan(0.2)) == pytest.approx(angles[-1])
    assert np.ptp(np.diff(angles)) < 1e-9


def test_poses_clear_of_the_stock_are_left_out() -> None:
    block = poses([[0, 0, 60], [0, 0, 30], [0, 0, 5], [60, 0, 5], [60, 0, 60], [-60, 0, 60]], [UPRIGHT] * 5 + [[0, 0.1, 1]])[1]

    assert {1, 2} == set(block.tolist())


def test_so_many_come_at_once_and_all_in_order() -> None:
    way = [[-15, 0, 9], [15, 3, 6], [15, -3, 4]], [UPRIGHT] * 3
    whole, parted = poses(*way), poses(*way, at_once=7)

    assert max(parted[3]) <= 7
    np.testing.assert_array_equal(np.stack(whole[0]), np.stack(parted[0]))
    assert (np.diff(whole[1]) >= 0).all()


def test_a_chart_tells_how_far_the_tip_goes_and_what_goes_up_along_the_tool() -> None:
    """Two rotaries, here by words that lay the tool axis along X: the tip goes on a circle about the centre, or straight."""
    low, high = np.full(3, -10.0), np.full(3, 10.0)

    def turned_about_y(xyz: Floats, words: Floats) -> tuple[Floats, Floats]:
        c, s = np.cos(words[:, 0]), np.sin(words[:, 0])
        place = np.column_stack([c * xyz[:, 0] + s * xyz[:, 2], xyz[:, 1], c * xyz[:, 2] - s * xyz[:, 0]])
        return place + 3.0, np.column_stack([s, 0 * s, c])

    chart = PoseChart(Steps(low, high, OFF, 0.01), np.full(3, 3.0), 10.0, lambda tool: turned_about_y).with_tool(4)
    vertex = np.array([[0.0, 0, 30], [0, 0, 5], [0, 0, 5], [0, 0, 9], [4, 0, 9], [0, 50, 9]])
    words = np.array([[0.0, 0], [0, 0], [90, 0], [90, 0], [90, 0], [90, 0]])
    count = np.zeros(5)
    feeding = np.ones(5, dtype=np.uint8)
    read = MotionRead(np.arange(1, 6), feeding, vertex, words, count, count, feeding, count > 1, count > 1, 1.0)
    way, beside = chart.way(read, 50.0), chart.way(replace(read, vertex_mm=vertex + np.array([0.0, 40, 0])), 50.0)

    np.testing.assert_allclose(chart.tip_mm(way), [25, 5 * np.pi / 2, 4, 4, np.hypot(4, 50)], rtol=1e-3)
    np.testing.assert_allclose(way.up_mm, [-25, np.nan, 4, np.nan, np.nan], atol=1e-9)
    assert [True, False, True, False, False] == chart.plunges(way).tolist()
    assert [0, 1, 2, 3, 4] == chart.in_reach(way, tool(FLAT)).tolist()
    assert [2, 4] == chart.in_reach(way, tool(FLAT), np.array([False, False, True, False, True])).tolist()
    assert [] == chart.in_reach(beside, tool(FLAT)).tolist()
    table, _, _ = next(iter(chart.stamps(way, np.array([1]), feeding == 0, tool(FLAT))))
    np.testing.assert_allclose(np.linalg.norm(table[:, :3], axis=1), 5.0)
    np.testing.assert_allclose(table[:, :3], 5 * table[:, 3:6], atol=1e-9)
