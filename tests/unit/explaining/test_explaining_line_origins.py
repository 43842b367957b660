"""Where the lines that are asked for come from, of what was told of the writing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from explaining_parts import line_with, written

from steadyrest.conventions import RAPID
from steadyrest.explaining import explain
from steadyrest.explaining.line_origins import Origins
from steadyrest.motion import Event, HoleRow, Motion, motion
from steadyrest.request import Request
from steadyrest.writing import Origin


def test_a_subdivided_move_says_which_of_its_lines_this_is_and_why(tmp_path: Path) -> None:
    file, toolpath = written("simultaneous", "rs274ngc", tmp_path)
    first = line_with(file, "G93")
    lines = explain(file, first, first + 3, Request(toolpath, "rs274ngc")).lines
    assert ["subdivision"] * 4 == [line.rule for line in lines]
    pieces = [line.why.partition("line ")[2].partition(" of this move")[0] for line in lines]
    total = pieces[0].partition(" of ")[2]
    assert [f"{piece} of {total}" for piece in (1, 2, 3, 4)] == pieces
    every = explain(file, first, len(file.read_text().splitlines()), Request(toolpath, "rs274ngc")).lines
    moves = [line for line in every if (line.operation, line.move) == (1, lines[0].move)]
    assert int(total) == len(moves)
    assert "moving evenly, the axes would take the tip off its line" in lines[0].why


NAN = float("nan")


def run(places: list[tuple[float, float, float, float]], moves: list[int], operation: int = 1) -> tuple[Motion, np.ndarray]:
    """A run that says every row."""
    table = np.array(places)
    return motion(RAPID, table[:, :3], table[:, 3:], move=np.array(moves), operation=operation, rule="rapid"), np.arange(len(moves))


def test_the_lines_of_a_move_are_counted_over_pieces_of_a_run_but_not_over_an_event() -> None:
    still = (0.0, 0.0, 0.0, 0.0)
    stop = Event("stop", 1, move=3, facts={"optional": False})
    told = [
        Origin(1, None, "", blocks=run([still] * 3, [1, 2, 2])),
        Origin(4, None, "", blocks=run([still] * 2, [2, 3])),
        Origin(6, stop, "stop.j2"),
        Origin(6, stop, "stop.j2", ("template", ())),
        Origin(7, None, "", blocks=run([still], [3])),
        Origin(8, None, "", blocks=run([still], [3], operation=2)),
    ]
    found = Origins(told).of(range(1, 9))
    pieces = [(one.row.piece, one.row.pieces) if one.row is not None else None for _, one in sorted(found.items())]
    assert [(1, 1), (1, 3), (2, 3), (3, 3), (1, 1), None, (1, 1), (1, 1)] == pieces
    assert [(1, 1), (1, 2), (1, 2), (1, 2), (1, 3), (1, 3), (1, 3), (2, 3)] == [(one.operation, one.move) for one in found.values()]


def test_a_row_begins_where_runs_cycles_and_retracts_before_it_have_left_the_axes() -> None:
    cycle = Event("cycle", 1, facts={"cycle": "drill"}, holes=HoleRow(np.array([[5.0, 6.0], [7.0, 8.0]]), np.array([4, 9])))
    up = Event("retract", 1, facts={"form": "machine_zero"})
    told = [
        Origin(1, None, "", blocks=run([(1.0, 2.0, 3.0, 90.0), (2.0, NAN, NAN, NAN)], [1, 2])),
        *(Origin(line, cycle, "cycle.j2", ("cycle", ())) for line in (3, 4, 5)),
        Origin(6, None, "", blocks=run([(NAN, NAN, 1.0, NAN)], [10])),
        Origin(7, up, "retract.j2", ("template", ())),
        Origin(8, None, "", blocks=run([(NAN, NAN, 9.0, NAN)], [11])),
    ]
    found = Origins(told).of({1, 2, 3, 4, 5, 6, 8})
    begins = [[*one.row.before_xyz, *one.row.before_deg] for line, one in sorted(found.items()) if one.row is not None]
    np.testing.assert_equal(begins, [[NAN] * 4, [1, 2, 3, 90], [7, 8, NAN, 90], [7, 8, NAN, 90]])
    assert [4, 9, 0] == [found[line].move for line in (3, 4, 5)]
