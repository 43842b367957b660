"""Subdivision: enough pieces, not many more than needed, and columns cut into them."""

from __future__ import annotations

import numpy as np
import pytest

from steadyrest.conventions import RAPID
from steadyrest.motion.model import Stand, motion
from steadyrest.motion.subdivision import expand, lifted, pieces
from strayed import measured_deviation

CENTRE = (0.0, 0.0, 0.0)


def test_a_move_that_does_not_turn_stays_whole() -> None:
    assert pieces(np.zeros((1, 3)), np.full((1, 3), 90.0), np.zeros(1), "X", CENTRE, 0.001).tolist() == [1]


def test_on_the_axis_a_turn_needs_no_pieces() -> None:
    assert pieces(np.zeros((1, 3)), np.array([[50.0, 0.0, 0.0]]), np.array([170.0]), "X", CENTRE, 0.001).tolist() == [1]


def test_the_count_is_within_a_piece_of_the_least_at_usual_tolerances() -> None:
    tip0, tip1 = np.array([[0.0, 0.0, 30.0]]), np.array([[10.0, 0.0, 30.0]])
    n = int(pieces(tip0, tip1, np.array([20.0]), "X", CENTRE, 0.01)[0])
    least = next(m for m in range(1, 99) if 30.0 * (1.0 - np.cos(np.deg2rad(20.0) / (2 * m))) <= 0.01)
    assert least <= n <= least + 1


def test_no_moves_are_no_pieces() -> None:
    assert len(pieces(np.empty((0, 3)), np.empty((0, 3)), np.empty(0), "X", CENTRE, 0.01)) == 0


def test_columns_are_cut_evenly_and_end_exactly() -> None:
    rows, source = expand(np.array([0.0, 0.3]), np.array([0.3, 0.7]), np.array([3, 1]))
    np.testing.assert_allclose(rows, [0.1, 0.2, 0.3, 0.7])
    assert (rows[2], rows[3]) == (0.3, 0.7)
    assert source.tolist() == [0, 0, 0, 1]


def test_points_are_cut_evenly() -> None:
    rows, _ = expand(np.zeros((1, 3)), np.array([[2.0, 4.0, 6.0]]), np.array([2]))
    np.testing.assert_array_equal(rows, [[1.0, 2.0, 3.0], [2.0, 4.0, 6.0]])


def test_whole_moves_come_back_as_their_ends() -> None:
    rows, source = expand(np.zeros(3), np.arange(3.0), np.ones(3, dtype=np.int64))
    np.testing.assert_array_equal(rows, [0.0, 1.0, 2.0])
    assert source.tolist() == [0, 1, 2]


def test_a_still_part_is_cut_without_deviation() -> None:
    deviation = measured_deviation(np.zeros((1, 3)), np.ones((1, 3)), np.array([40.0]), np.array([40.0]), "X", CENTRE)
    np.testing.assert_allclose(deviation, [0.0], atol=1e-15)


@pytest.mark.parametrize(("below", "height"), [([40.0, 5.0], 40.0), ([5.0, 40.0], 40.0), ([5.0, 8.0], 30.0), ([35.0, 40.0], None)])
def test_a_rapid_that_turns_is_lifted_where_either_of_its_ends_is_too_low(below: list[float], height: float | None) -> None:
    start, end = below
    stand = Stand((0.0, 0.0, start), (0.0,))
    rows, count = lifted(motion(RAPID, np.array([[1.0, 0.0, end]]), np.array([[90.0]])), stand, 30.0)
    assert count == (height is not None)
    expected = [[1.0, 0.0, end, 90.0]]
    if height is not None:
        expected = [[0.0, 0.0, height, 0.0], [1.0, 0.0, height, 90.0], *expected]
    np.testing.assert_array_equal(np.column_stack([rows.xyz, rows.rotary_deg]), expected)


def test_a_rapid_that_leaves_the_rotary_alone_stays_as_it_is_however_low() -> None:
    rows = motion(RAPID, np.array([[1.0, 0.0, 5.0]]), np.array([[np.nan]]))
    assert (rows, 0) == lifted(rows, Stand((0.0, 0.0, 5.0), (0.0,)), 30.0)


def test_only_the_rapid_that_is_too_low_becomes_three() -> None:
    rows = motion(RAPID, np.array([[1.0, 0.0, 5.0], [1.0, 0.0, 40.0], [2.0, 0.0, 40.0]]), np.array([[90.0], [90.0], [80.0]]))
    found, count = lifted(rows, Stand((0.0, 0.0, 40.0), (0.0,)), 30.0)
    assert count == 1
    assert [40.0, 40.0, 5.0, 40.0, 40.0] == found.xyz[:, 2].tolist()
