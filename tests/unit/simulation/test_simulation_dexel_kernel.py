"""Where lines meet a tool at any tilt, held against what the tool is: distance from its axis and height over its tip of points."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from posed import tool, unit
from simulated import SHAPES
from steadyrest.columns import Bools, Floats
from steadyrest.simulation.dexel_kernel import THIN, Bundle, Pose, columns_of, height_in_box, met, reach, spread, take_out
from steadyrest.simulation.kernel import bottom
from steadyrest.simulation.solid import ToolSolid

UPTO = 11.0
HALF = 6.0


def inside(solid: ToolSolid, pose: Pose, points: Floats) -> Bools:
    """Whether points (n, 3) are in the moved tool below UPTO, by its definition."""
    tip, axis, feed = (np.array(pose[at : at + 3]) for at in (0, 3, 6))
    off = points - tip
    height = off @ axis
    across = off - height[:, None] * axis
    along = np.clip(across @ feed, 0, pose.long)
    beside = np.linalg.norm(across - along[:, None] * feed, axis=1)
    return np.asarray((beside <= solid.radius_mm) & (height >= bottom(solid, beside) + solid.lift_mm) & (height <= UPTO))


def poses(kind: str, count: int = 60) -> list[Pose]:
    """Places and tilts by lot; every third tool stands along one of the axes."""
    rng, found = np.random.default_rng(7), []
    for number in range(count):
        axis = unit(rng.normal(size=3)) if number % 3 else np.roll([0.0, 0.0, (-1.0) ** number], number // 3)
        feed = unit(np.cross(axis, rng.normal(size=3)))
        found.append(Pose(*rng.uniform(-4, 4, 3), *axis, *feed, 5.0 if kind == "moved across" else 0.0, 0.0, 0.0))
    return found


@pytest.mark.parametrize("by", [0.0, 0.4], ids=["as it is", "smaller"])
@pytest.mark.parametrize("kind", ["standing", "moved across"])
@pytest.mark.parametrize("shape", SHAPES)
def test_a_line_is_in_the_tool_just_where_its_points_are(shape: str, kind: str, by: float) -> None:
    solid, rng = tool(SHAPES[shape]), np.random.default_rng(3)
    solid = solid.smaller(by) if by else solid
    met_any = 0
    for pose in poses(kind):
        u, v, w = rng.uniform(-HALF, HALF, (3, 400))
        low, high = reach(solid, pose, UPTO, u, v)
        clear = (np.abs(w - low) > 1e-5) & (np.abs(w - high) > 1e-5)
        told = (w > low) & (w < high)
        np.testing.assert_array_equal(told[clear], inside(solid, pose, np.column_stack([u, v, w]))[clear])
        met_any += int(told.sum())
    assert met_any > 500


@pytest.mark.parametrize("shape", SHAPES)
def test_a_tool_lies_within_the_lines_that_are_asked(shape: str) -> None:
    solid, rng = tool(SHAPES[shape]), np.random.default_rng(4)
    for pose in [*poses("standing", 20), *poses("moved across", 20)]:
        u, v = rng.uniform(-HALF, HALF, (2, 400))
        low, high = reach(solid, pose, UPTO, u, v)
        hit = low <= high
        spans = [spread(solid, UPTO, pose[at], pose[3 + at], pose.long * pose[6 + at]) for at in range(3)]
        assert (u[hit] >= spans[0][0]).all()
        assert (u[hit] <= spans[0][1]).all()
        assert (low[hit] >= spans[2][0] - 1e-9).all()
        assert (high[hit] <= spans[2][1] + 1e-9).all()
        for one, other in zip(u[hit], v[hit], strict=True):
            least, most = columns_of(solid, pose, UPTO, one)
            assert least <= other <= most
            assert spans[1][0] <= other <= spans[1][1]


def test_the_height_over_the_tip_in_a_box_is_that_of_its_farthest_corner() -> None:
    low, high = np.array([-1.0, -2, -3]), np.array([4.0, 5, 6])
    corners = np.array(np.meshgrid(*zip(low, high, strict=True))).reshape(3, -1).T
    for pose in poses("standing", 12):
        far = ((corners - pose[:3]) @ np.array(pose[3:6])).max()
        assert far == pytest.approx(height_in_box(pose, low, high))


def line(*pieces: tuple[float, float], room: int = 3) -> Bundle:
    """One line with these pieces of material."""
    ends = np.zeros((1, 1, room, 2), dtype=np.float32)
    ends[0, 0, : len(pieces)] = pieces
    step = np.zeros(1)
    return Bundle(step, step, 1.0, 1.0, ends, np.zeros(ends.shape, np.uint16), np.array([[len(pieces)]], np.int16))


def held(bundle: Bundle) -> list[tuple[float, float]]:
    return [tuple(one) for one in bundle.ends[0, 0, : bundle.held[0, 0]].tolist()]


@pytest.mark.parametrize(
    ("low", "high", "left", "length"),
    [
        (2.0, 3.0, [(0, 2), (3, 4), (6, 9)], 1.0),
        (-5.0, 1.0, [(1, 4), (6, 9)], 1.0),
        (8.0, 20.0, [(0, 4), (6, 8)], 1.0),
        (3.0, 7.0, [(0, 3), (7, 9)], 2.0),
        (-1.0, 5.0, [(6, 9)], 4.0),
        (-1.0, 10.0, [], 7.0),
        (4.5, 5.5, [(0, 4), (6, 9)], 0.0),
        (THIN / 2, 4.0, [(6, 9)], 4.0),
        (4.0 - THIN / 2, 5.0, [(0, 4), (6, 9)], 0.0),
    ],
)
def test_what_a_void_leaves_of_a_line(low: float, high: float, left: list[tuple[float, float]], length: float) -> None:
    bundle = line((0, 4), (6, 9))
    taken, first, last = take_out(bundle, 0, 0, low, high, 5)

    assert left == held(bundle)
    assert length == pytest.approx(taken)
    assert (inf, -inf) == (first, last) if length == 0 else (max(low, 0) - 1e-4 <= first < last <= min(high, 9))


def test_the_new_ends_bear_the_number_of_the_operation_and_the_old_ones_keep_theirs() -> None:
    bundle = line((0, 4), (6, 9))
    for low, high, operation in ((1.0, 2.0, 3), (8.0, 9.5, 4), (-1.0, 0.5, 5)):
        take_out(bundle, 0, 0, low, high, operation)

    assert [(0.5, 1), (2, 4), (6, 8)] == held(bundle)
    assert [[5, 3], [3, 0], [0, 4]] == bundle.cut_by[0, 0].tolist()


def test_a_line_without_room_stays_as_it_is_and_says_so() -> None:
    bundle = line((0, 4), (6, 9), room=2)

    assert -1 == take_out(bundle, 0, 0, 1.0, 2.0, 1)[0]
    assert [(0, 4), (6, 9)] == held(bundle)


def test_only_what_is_there_is_met() -> None:
    assert 3 == pytest.approx(met(line((0, 4), (6, 9)), 0, 0, 2.0, 7.0))
    assert 0 == met(line((0, 4), (6, 9)), 0, 0, 4.5, 5.5)
