"""Which stretch of the path is proposed for each block, by lengths and by projection."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np
import pytest

from steadyrest.columns import Floats
from steadyrest.proof.intended_path import Elements
from steadyrest.proof.matching import (
    Pairs,
    across_several,
    along_one,
    by_length,
    farthest,
    goes_back,
    head,
    one_to_one,
    project,
)
from steadyrest.reading import ArcsRead

REACH_MM = 0.1


def places(*x: float, y: float = 0.0) -> Floats:
    return np.array([(one, y, 0.0, 0.0) for one in x])


def path(*x: float) -> Elements:
    """Straight moves along X."""
    return Elements(1, places(*x), np.ones(len(x) - 1, dtype=np.uint8), np.full(len(x) - 1, 100.0))


def circle(turns: float) -> Elements:
    """One arc about 0, from X 10, counterclockwise."""
    angle = 2 * pi * turns
    points = np.array([(10.0, 0.0, 0.0, 0.0), (10 * np.cos(angle), 10 * np.sin(angle), 0.0, 0.0)])
    arcs = ArcsRead(np.zeros((1, 3)), np.zeros(1, dtype=np.uint8), np.array([angle]), np.zeros(1, dtype=np.int64))
    return Elements(1, points, np.full(1, 3, dtype=np.uint8), np.full(1, 100.0), arcs)


def matched(elements: Elements, vertices: Floats, u: float = 0.0) -> Pairs | None:
    lengths = np.linalg.norm(np.diff(vertices, axis=0), axis=1)
    return by_length(vertices, lengths, elements, 0, len(elements), u, REACH_MM)


def stretches(pairs: Pairs | None) -> list[tuple[int, float, float]]:
    assert pairs is not None
    return [(int(e), round(float(a), 6), round(float(b), 6)) for e, a, b in zip(pairs.element, pairs.u0, pairs.u1, strict=True)]


def test_blocks_that_end_where_moves_end_run_along_one_each() -> None:
    assert stretches(matched(path(0, 10, 30), places(0, 10, 30))) == [(0, 0, 1), (1, 0, 1)]


def test_a_block_that_ends_within_a_move_is_placed_by_its_length() -> None:
    pairs = matched(path(0, 10, 30), places(0, 10, 15, 30))
    assert stretches(pairs) == [(0, 0, 1), (1, 0, 0.25), (1, 0.25, 1)]
    assert (pairs.done, pairs.u) == (2, 0.0) if pairs else False


def test_a_move_that_has_been_gone_halfway_goes_on_from_there() -> None:
    assert stretches(matched(path(0, 10, 30), places(5, 7.5, 10, 30), u=0.5)) == [(0, 0.5, 0.75), (0, 0.75, 1), (1, 0, 1)]


def test_moves_without_a_block_are_skipped_before_the_block_that_comes_next() -> None:
    pairs = matched(path(0, 10, 10.05, 30), places(0, 10, 30))
    assert stretches(pairs) == [(0, 0, 1), (2, 0, 1)]
    assert pairs is not None
    assert (pairs.skipped.tolist(), pairs.skipped_at.tolist(), pairs.done) == ([1], [1], 3)


def test_only_what_is_reached_is_paired() -> None:
    pairs = matched(path(0, 10, 30), places(0, 10, 25))
    assert stretches(pairs) == [(0, 0, 1)]
    assert matched(path(0, 10, 30), places(0, 5)) is None
    assert matched(path(0, 10, 30), np.vstack([places(0), places(10, y=2 * REACH_MM)])) is None


@pytest.mark.parametrize(("aside", "found"), [(0.09, True), (0.11, False)])
def test_a_vertex_counts_as_the_end_of_a_move_within_what_is_allowed(aside: float, found: bool) -> None:
    assert (matched(path(0, 10), np.vstack([places(0), places(10, y=aside)])) is not None) is found


def test_the_nearest_vertex_is_the_end_though_another_is_nearer_by_length() -> None:
    zigzag = np.array([(0, 0, 0, 0), (0, 0.06, 0, 0), (9.94, 0.06, 0, 0), (10, 0, 0, 0), (20, 0, 0, 0)], dtype=np.float64)
    pairs = matched(path(0, 10, 20), zigzag)
    assert stretches(pairs)[2:] == [(0, 0.994, 1), (1, 0, 1)]


def test_the_first_of_the_pairs_leave_the_rest_of_a_move_open() -> None:
    pairs = matched(path(0, 10, 30), places(0, 10, 15, 30))
    assert pairs is not None
    assert stretches(head(pairs, 3)) == stretches(pairs)
    two = head(pairs, 2)
    assert (len(two), two.done, two.u) == (2, 1, 0.25)
    one = head(pairs, 1)
    assert (len(one), one.done, one.u) == (1, 1, 0.0)


def test_of_the_first_pairs_only_the_skipped_moves_before_them_count() -> None:
    pairs = matched(path(0, 10, 10.05, 30), places(0, 10, 30))
    assert pairs is not None
    assert head(pairs, 1).skipped.tolist() == []
    behind = matched(path(0, 10, 10.05), places(0, 10))
    assert behind is not None
    assert (behind.skipped.tolist(), behind.done) == ([1], 2)
    assert (head(behind, len(behind)).skipped.tolist(), head(behind, len(behind)).done) == ([], 1)


def pairs_on_one(*ends: float) -> Pairs:
    none = np.empty(0, dtype=np.int64)
    u1 = np.array(ends)
    return Pairs(np.zeros(len(ends), dtype=np.int64), np.concatenate(([0.0], u1[:-1])), u1, none, none, 0, float(u1[-1]))


def test_a_block_goes_back_when_it_ends_farther_behind_than_is_allowed() -> None:
    assert goes_back(pairs_on_one(0.5, 0.495, 0.48, 0.492), path(0, 10), REACH_MM).tolist() == [False, False, True, False]
    assert goes_back(pairs_on_one(0.5, 0.51), path(0, 10), REACH_MM).tolist() == [False, False]
    assert farthest(pairs_on_one(0.5, 0.495)) == 0.5
    assert farthest(one_to_one(3, 2, 0.5)) == 0.0


@pytest.mark.parametrize(("guess", "u"), [(0.1, 0.125), (0.45, 0.4583333), (0.8, 0.7916667)])
def test_on_an_arc_of_several_turns_the_guess_tells_which(guess: float, u: float) -> None:
    angle = 2 * pi * 3 * 0.125
    point = np.array([(10 * np.cos(angle), 10 * np.sin(angle), 0.0, 0.0)])
    assert project(point, circle(3), np.array([0]), np.array([guess]))[0] == pytest.approx(u)


def test_a_place_that_is_not_known_is_nowhere_on_an_arc_and_the_centre_at_its_begin() -> None:
    unknown = np.full((1, 4), np.nan)
    assert np.isnan(project(unknown, circle(0.5), np.array([0]), np.array([0.5])))[0]
    assert project(places(20), path(0, 10), np.array([0]), np.array([0.5])).tolist() == [1.0]
    assert project(places(5), path(0, 10), np.array([0]), np.array([0.5])).tolist() == [0.5]
    assert project(places(5), path(10, 10), np.array([0]), np.array([0.5])).tolist() == [0.0]


@pytest.mark.parametrize(
    ("ends", "gone"),
    [
        ((2, 4), [0.2, 0.4]),  # never at its end: as far as they go
        ((2, 10, 12), [0.2, 1.0]),  # not beyond its end
        ((2, 9.95, 12), [0.2, 1.0]),  # a hair before the end is the end
        ((2, 9.85, 8), [0.2, 0.985, 0.8]),  # back by more than is allowed
        ((4, 3.95), [0.4, 0.395]),  # back by less than is allowed
    ],
)
def test_blocks_along_one_move(ends: Sequence[float], gone: list[float]) -> None:
    vertices = places(0, *ends)
    pairs = along_one(vertices, np.abs(np.diff(vertices[:, 0])), path(0, 10, 30), 0, 0.0, REACH_MM)
    assert pairs.u1.tolist() == pytest.approx(gone)
    assert (pairs.done, pairs.u) == ((1, 0.0) if gone[-1] == 1.0 else (0, pytest.approx(gone[-1])))
    assert goes_back(pairs, path(0, 10, 30), REACH_MM).tolist() == [False, False, True][: len(gone)]


def test_blocks_are_along_a_move_of_no_length_while_they_stay_and_go_back_on_one_from_where_it_has_been_gone_to() -> None:
    assert along_one(places(0, 0.05), np.array([0.05]), path(0, 0), 0, 0.0, REACH_MM).u1.tolist() == [1.0]
    assert along_one(places(0, 5), np.array([5.0]), path(0, 0), 0, 0.0, REACH_MM).u1.tolist() == [0.0]
    pairs = along_one(places(5, 4), np.array([1.0]), path(0, 10), 0, 0.5, REACH_MM)
    assert goes_back(pairs, path(0, 10), REACH_MM).tolist() == [True]


@pytest.mark.parametrize(
    ("x", "end"),
    [
        ((0, 10, 20, 30), (2, 0.5)),
        ((0, 25, 30), (0, 1.0)),
        ((0, 10, 5, 30), None),  # the way back lies not on it
        ((0, 10, 20), None),  # the block goes beyond the last end
    ],
)
def test_one_block_over_several_ends(x: Sequence[float], end: tuple[int, float] | None) -> None:
    found = across_several(places(0, 25), path(*x), 0, len(x) - 1, 0.0, REACH_MM)
    assert found == (None if end is None else (end[0], pytest.approx(end[1])))


def test_a_block_over_several_ends_has_them_on_it_in_order() -> None:
    bent = Elements(1, np.vstack([places(0), places(10, y=0.2), places(20)]), np.ones(2, dtype=np.uint8), np.full(2, 100.0))
    assert across_several(places(0, 20), bent, 0, 2, 0.0, REACH_MM) is None
    assert across_several(places(5, 5), path(0, 10, 20), 0, 2, 0.5, REACH_MM) is None
    assert across_several(places(10, 20), circle(0.5), 0, 1, 0.0, REACH_MM) is None
    assert across_several(places(5, 4), path(0, 10, 20), 0, 2, 0.5, REACH_MM) is None
    # back by less than what is allowed, wherever the part lies
    assert across_several(places(105, 104.95), path(100, 110, 120), 0, 2, 0.5, REACH_MM) == (0, pytest.approx(0.495))


@pytest.mark.parametrize("before", [0.0, 5.0, -5.0])
def test_the_turns_of_a_small_arc_are_told_apart_by_the_length_gone(before: float) -> None:
    """Three turns at a radius of 0.1, in blocks of an eighth of a turn, after a straight way, after none, or after two of them."""
    ways, radius, turns = {0.0: 0, 5.0: 1, -5.0: 2}[before], 0.1, 3
    start = [(radius + abs(before) * (ways - at) / max(ways, 1), 0.0, 0.0, 0.0) for at in range(ways)]
    ends = np.array([*start, (radius, 0.0, 0.0, 0.0), (radius, 0.0, 0.0, 0.0)])
    sweep = np.append(np.zeros(ways), 2 * pi * turns)
    arcs = ArcsRead(np.zeros((ways + 1, 3)), np.zeros(ways + 1, np.uint8), sweep, np.zeros(ways + 1, np.int64))
    elements = Elements(1, ends, np.array([1] * ways + [3], np.uint8), np.full(ways + 1, 100.0), arcs)
    angle = np.arange(1, 8 * turns + 1) * pi / 4
    around = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), np.zeros((len(angle), 2))])
    vertices = np.vstack([ends[:-1], around])
    lengths = np.concatenate([np.linalg.norm(np.diff(ends[:-1], axis=0), axis=1), np.full(len(angle), radius * pi / 4)])
    pairs = by_length(vertices, lengths, elements, 0, ways + 1, 0.0, 0.002)
    assert pairs is not None
    assert pairs.u1[ways:] == pytest.approx(np.arange(1, 8 * turns + 1) / (8 * turns))


def test_the_turns_of_an_arc_that_has_been_gone_in_part_are_told_by_what_is_left_of_it() -> None:
    """One of three turns is done; after the arc comes a long straight way."""
    ends = np.array([(1.0, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 0.0), (201.0, 0.0, 0.0, 0.0)])
    arcs = ArcsRead(np.zeros((2, 3)), np.zeros(2, np.uint8), np.array([6 * pi, 0.0]), np.zeros(2, np.int64))
    elements = Elements(1, ends, np.array([3, 1], np.uint8), np.full(2, 100.0), arcs)
    angle = np.arange(17) * pi / 4
    vertices = np.column_stack([np.cos(angle), np.sin(angle), np.zeros((17, 2))])
    vertices, lengths = np.vstack([vertices, ends[2]]), np.append(np.full(16, pi / 4), 200.0)
    pairs = by_length(vertices, lengths, elements, 0, 2, 1 / 3, 0.01)
    assert pairs is not None
    assert pairs.u1[:16] == pytest.approx(1 / 3 + np.arange(1, 17) / 24)
