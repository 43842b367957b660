"""Motion read, in columns: rows taken and joined, places within a block, the sign of the rotary; small items put together and parted."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
from reading_parts import blocks

from steadyrest.errors import ProgramError
from steadyrest.profile import load_profile
from steadyrest.reading import EventRead, MotionRead, no_arcs, pieces, sigma, within_block
from steadyrest.reading.motion_read import MOST_ROWS, join_motion

ARCS_AND_LINES = "G0 X10 Y0 Z0 A0\nG3 X0 Y10 I-10 J0 F100\nG1 X5 A90\nG2 X5 Y10 I2 J0\nG18 G2 X9 Z4 R4"


def motion() -> MotionRead:
    (run,) = blocks(ARCS_AND_LINES).runs
    return run


def test_rotaries_are_columns_and_there_is_none_without_a_rotary() -> None:
    assert (6, 1) == motion().vertex_deg.shape
    without = load_profile("rs274ngc").model_copy(update={"rotary": {}})
    assert [(1, 0), (4, 0)] == [run.rotary_deg.shape for run in blocks("G0 X1\nM0\n" + "G0 X1 Y2\nX3\nX4\nX5", without).runs]


def test_sweeps_are_signed_and_hold_whole_turns() -> None:
    arcs = motion().arcs
    assert arcs is not None
    assert [np.nan, math.pi / 2, np.nan, -2 * math.pi, -math.pi / 2] == pytest.approx(arcs.sweep_rad.tolist(), nan_ok=True)
    assert [0, 0, 0, 1, 0] == arcs.full_turns.tolist()


@pytest.mark.parametrize("cut", range(6))
def test_rows_taken_and_joined_are_what_they_were(cut: int) -> None:
    whole = motion()
    again = join_motion([whole.rows(0, cut), whole.rows(cut, 5)])
    np.testing.assert_array_equal(whole.vertex_mm, again.vertex_mm)
    np.testing.assert_array_equal(whole.vertex_deg, again.vertex_deg)
    np.testing.assert_array_equal(whole.line, again.line)
    assert whole.arcs is not None
    assert again.arcs is not None
    np.testing.assert_array_equal(whole.arcs.sweep_rad, again.arcs.sweep_rad)


def test_a_run_without_arcs_joins_one_with_them() -> None:
    straight, arcs = blocks("G0 X1 Y0 Z0\nM0\nG2 X3 Y0 I1 J0 F10").runs
    both = join_motion([straight, arcs])
    assert both.arcs is not None
    assert [True, False] == np.isnan(both.arcs.sweep_rad).tolist()
    assert [[1.0, 0.0, 0.0], [3.0, 0.0, 0.0]] == both.end_mm.tolist()


def test_halfway_is_on_the_line_or_on_the_arc() -> None:
    run = motion()
    halfway = within_block(run.vertex_mm, np.arange(1, 5), np.full(4, 0.5), run.arcs)
    root = math.sqrt(0.5)
    expected = [[10 * root, 10 * root, 0], [2.5, 10, 0], [9, 10, 0], [5 + 4 * root, 10, 4 - 4 * root]]
    np.testing.assert_allclose(halfway, expected, atol=1e-9)
    assert [[0.0], [45.0], [90.0], [90.0]] == within_block(run.vertex_deg, np.arange(1, 5), np.full(4, 0.5)).tolist()


def test_shares_of_many_blocks_spread_as_a_table_and_end_where_the_blocks_end() -> None:
    run = motion()
    places = within_block(run.vertex_mm, np.arange(1, 5)[:, None], np.linspace(0, 1, 5)[None, :], run.arcs)
    assert (4, 5, 3) == places.shape
    np.testing.assert_allclose(places[:, 0], run.vertex_mm[1:5], atol=1e-12)
    np.testing.assert_allclose(places[:, 4], run.vertex_mm[2:6], atol=1e-12)
    np.testing.assert_allclose(np.hypot(*places[0, :, :2].T), 10)
    assert (4, 5) == within_block(run.vertex_deg[:, 0], np.arange(1, 5)[:, None], np.linspace(0, 1, 5)[None, :]).shape


def test_a_radius_that_differs_at_the_end_is_reached_gradually() -> None:
    run = blocks("G0 X10 Y0 Z0\nG3 X0 Y10.001 I-10 J0 F100").runs[-1]
    halfway = within_block(run.vertex_mm, np.array([1]), np.array([0.5]), run.arcs)
    assert 10.0005 == pytest.approx(float(np.hypot(halfway[0, 0], halfway[0, 1])))


def test_without_arcs_all_is_straight() -> None:
    vertex = np.array([[0.0, 0, 0], [2, 0, 4]])
    assert [[1.0, 0.0, 2.0]] == within_block(vertex, np.array([0]), np.array([0.5]), no_arcs(1)).tolist()


@pytest.mark.parametrize(("faces", "turns", "sign"), [("+X", "clockwise", -1), ("+X", "counterclockwise", 1), ("-Y", "clockwise", 1)])
def test_each_fact_of_the_mounting_flips_the_sign(faces: str, turns: str, sign: int) -> None:
    assert sign == sigma(faces, turns)


def run(*x: float, line: int = 1) -> MotionRead:
    """A run at rapid along X."""
    n = len(x) - 1
    places = np.column_stack([x, np.zeros(n + 1), np.full(n + 1, math.nan)])
    nothing, codes, no = np.full(n, math.nan), np.zeros(n, np.uint8), np.zeros(n, np.bool_)
    return MotionRead(np.arange(line, line + n), codes, places, np.zeros((n + 1, 1)), nothing, nothing, codes, no, no, 1.0)


def comment(line: int) -> EventRead:
    return EventRead(line, "comment")


def test_runs_that_follow_each_other_are_one_and_events_keep_their_place() -> None:
    items = [comment(1), run(0, 1, 2, line=2), comment(4), comment(5), run(2, 5, line=6), comment(7)]
    (piece,) = pieces(items)
    assert piece.motion is not None
    assert piece.motion.vertex_mm[:, 0].tolist() == [0, 1, 2, 5]
    assert [row for row, _ in piece.events] == [0, 2, 2, 3]
    again = list(piece.items())
    assert [type(item) for item in again] == [type(item) for item in items]
    assert [item.line.tolist() for item in again if isinstance(item, MotionRead)] == [[2, 3], [6]]


def test_a_piece_is_parted_after_each_event_of_a_kind_and_holds_the_same_items_in_the_same_order() -> None:
    change = EventRead(5, "tool_change")
    (piece,) = pieces(
        [EventRead(1, "tool_change"), comment(1), run(0, 1, 2, line=2), comment(4), change, change, run(2, 5, line=6), comment(7)]
    )
    parts = list(piece.parted("tool_change"))
    assert [len(part.motion or ()) for part in parts] == [0, 2, 0, 1]
    assert [[(row, event.kind) for row, event in part.events] for part in parts] == [
        [(0, "tool_change")],
        [(0, "comment"), (2, "comment"), (2, "tool_change")],
        [(0, "tool_change")],
        [(1, "comment")],
    ]
    assert [part.motion.vertex_mm[:, 0].tolist() for part in parts if part.motion is not None] == [[0, 1, 2], [2, 5]]


def test_a_run_that_begins_elsewhere_begins_another_piece() -> None:
    first, second = pieces([run(0, 1), comment(2), run(3, 4, line=3), comment(4)])
    assert [row for row, _ in first.events] == [1]
    assert [row for row, _ in second.events] == [1]


def test_long_runs_stay_as_they_are_and_pieces_stay_short() -> None:
    long = run(*range(MOST_ROWS + 1))
    short, alone, rest = pieces([run(-1, 0), long, run(MOST_ROWS, 0)])
    assert alone.motion is long
    assert [len(piece.motion or ()) for piece in (short, rest)] == [1, 1]
    assert [len(piece.events) for piece in pieces(comment(1) for _ in range(MOST_ROWS + 5))] == [MOST_ROWS, 5]


def test_what_reading_raises_comes_after_all_that_was_read_before() -> None:
    def broken() -> Iterator[MotionRead]:
        yield run(0, 1)
        raise ProgramError("no word")

    found = pieces(broken())
    assert len(next(found).motion or ()) == 1
    with pytest.raises(ProgramError, match="no word"):
        next(found)
