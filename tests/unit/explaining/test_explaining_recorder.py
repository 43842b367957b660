"""What is remembered of the writing, for the lines that are asked for."""

from __future__ import annotations

from pathlib import Path

from explaining_parts import line_with, written

from steadyrest.explaining import explain
from steadyrest.request import Request


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
