"""Runs of plain lines end before the first line that cannot be carried out, and the full rules then say why."""

from __future__ import annotations

import pytest
from reading_parts import HEAD, blocks, read, refusal

from steadyrest.reading import Lenient

START = "G0 X0 Y0 Z0 A0\n"
LINES = "".join(f"X{n}\n" for n in range(1, 9))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ("G1 X9", "F is not stated"),
        ("G1 X9 F0", "a feed must be above zero"),
        ("X9 I1", "uses I"),
        ("G2 X9 Y9 F10", "centre"),
        ("G2 I1 J1 F10", "without an axis word"),
        ("G2 Z1 I1 J1 F10", "without an end point"),
        ("G2 X9 Y0 R-0.1 F10", "too small"),
        ("G3 X9 Y5 I1 J0 F10", "at its start"),
    ],
)
def test_a_run_ends_where_a_line_is_refused_and_the_line_is_named(wrong: str, words: str) -> None:
    refused = refusal(START + LINES + wrong + "\n" + LINES)
    assert words in refused.wrong
    assert HEAD.count("\n") + 1 + 8 + 1 == refused.place.line


def test_lines_that_give_places_to_a_cycle_make_the_rows_of_the_hole_before() -> None:
    one_by_one = blocks(START + "G99 G83 X1 Y1 R2 Z-4 Q3 F60\nX2 (a)\nX3 Y2 (a)\nY4 (a)\nX5 (a)")
    at_once = blocks(START + "G99 G83 X1 Y1 R2 Z-4 Q3 F60\nX2 (a)\nX3 Y2\nY4\nX5\nX5\nX6 Y6")
    assert one_by_one.ends == at_once.ends[: len(one_by_one.ends)]
    assert (6.0, 6.0, 2.0, 0.0) == at_once.ends[-1]


def test_the_feed_and_the_clear_height_hold_through_a_run_and_after_it() -> None:
    got = blocks(START + "G53 G0 Z0\nX1\nX2\nX3\nX4\nG1 X5 Z1 F70\nX6\nX7\nX8 (after)")
    assert [False, False, True, True, True, True, False, False, False, False] == got.column("clear").tolist()
    assert [70.0] * 4 == got.column("feed_word")[-4:].tolist()


def test_in_steps_each_hole_has_its_own_r_level() -> None:
    hole = "G99 G91 G81 X1 Y1 R-1 Z-4 F60\n"
    one_by_one, at_once = blocks(START + hole + "X2 (a)\n" * 6), blocks(START + hole + "X2\n" * 6)
    assert one_by_one.ends == at_once.ends
    assert (13.0, 1.0, -7.0, 0.0) == at_once.ends[-1]


def test_a_program_from_elsewhere_tells_every_hole() -> None:
    got = read("G17 G21 G90 G94\nG98\nG0 X0 Y0 Z9\nG81 X1 Y1 Z-1 R2 F50\n" + LINES[3:] + "M30\n", lenient=Lenient())
    assert 8 == len(got.of("cycle"))
