"""What the toolpath says at one of its moves."""

from __future__ import annotations

from pathlib import Path

from explaining_parts import one, written


def test_a_cut_names_its_operation_and_move_and_what_the_toolpath_says(tmp_path: Path) -> None:
    file, toolpath = written("indexed", "limited-clamped", tmp_path)
    line = one(file, "G94 G1 X-30 F900", toolpath)
    assert (1, "six flats", "indexed", 3) == (line.operation, line.operation_name, line.intent, line.move)
    assert "cut to X -30 Y -15 Z 17.5, feed 900" == line.asked
    assert "cut" == line.rule
    assert "for the angle 0 of the toolpath (number 1 of 6)" in line.why
