"""Small items of a program put together, and taken apart again."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from steadyrest.errors import ProgramError
from steadyrest.reading import EventRead, MotionRead, pieces
from steadyrest.reading.piece import MOST_ROWS

NAN = float("nan")


def run(*x: float, line: int = 1) -> MotionRead:
    """A run at rapid along X."""
    n = len(x) - 1
    places = np.column_stack([x, np.zeros(n + 1), np.full(n + 1, NAN)])
    nothing, codes, no = np.full(n, NAN), np.zeros(n, np.uint8), np.zeros(n, np.bool_)
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


def test_pieces_pass_as_they_are_between_items() -> None:
    (made,) = pieces([run(1, 2), comment(2)])
    before, same, after = pieces([run(0, 1), made, run(2, 3)])
    assert same is made
    assert [len(piece.motion or ()) for piece in (before, after)] == [1, 1]


def test_what_reading_raises_comes_after_all_that_was_read_before() -> None:
    def broken() -> Iterator[MotionRead]:
        yield run(0, 1)
        raise ProgramError("no word")

    found = pieces(broken())
    assert len(next(found).motion or ()) == 1
    with pytest.raises(ProgramError, match="no word"):
        next(found)
