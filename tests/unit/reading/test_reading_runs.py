"""Runs of plain lines end before the first line that cannot be carried out, and the full rules then say why."""

from __future__ import annotations

import numpy as np
import pytest
from reading_parts import HEAD, TAIL, blocks, read, refusal

from steadyrest.errors import ProgramError
from steadyrest.profile import load_profile
from steadyrest.reading import EventRead, Lenient, MotionRead, read_program

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
        ("G53 G0 Z-1", "below the clear height"),
        ("G53 G0 Z1 A5", "rotary's machine zero"),
        ("G53 G2 Z1", "needs a rapid or a line"),
        ("G53 G1 Z0", "F is not stated"),
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


def test_steps_are_steps_also_where_other_lines_go_to_places_of_the_machine() -> None:
    got = blocks(START + "G91\nX1\nX1\nX1\nX1\nX1\nX1\nG90\nG53 Z0\nX2\nG91 X1")
    assert [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 6.0, 2.0, 3.0] == [end[0] for end in got.ends[1:]]


def test_in_steps_each_hole_has_its_own_r_level() -> None:
    hole = "G99 G91 G81 X1 Y1 R-1 Z-4 F60\n"
    one_by_one, at_once = blocks(START + hole + "X2 (a)\n" * 6), blocks(START + hole + "X2\n" * 6)
    assert one_by_one.ends == at_once.ends
    assert (13.0, 1.0, -7.0, 0.0) == at_once.ends[-1]


def test_a_program_from_elsewhere_tells_every_hole() -> None:
    got = read("G17 G21 G90 G94\nG98\nG0 X0 Y0 Z9\nG81 X1 Y1 Z-1 R2 F50\n" + LINES[3:] + "M30\n", lenient=Lenient())
    assert 8 == len(got.of("cycle"))


def test_comments_and_ways_up_stand_among_the_rows_as_the_lines_say_them() -> None:
    lines = "X1\n(a)\n\nG53 G0 Z0 (b)\nX2\nG90 G0 Z3\nG53 Z0\n(c)"
    items = list(read_program((HEAD + START + "X0\n" + lines + TAIL).encode(), load_profile("rs274ngc")))
    told = [item.text or item.kind if isinstance(item, EventRead) else len(item) for item in items]
    assert [3, "a", "b", "retract", 3, "retract", 1, "c", "M2"] == told[2:]
    rows = [item for item in items if isinstance(item, MotionRead)]
    assert [False, False, False, False, True, False, False] == np.concatenate([run.clear for run in rows]).tolist()


def test_a_mode_that_changes_among_plain_lines_is_carried_out() -> None:
    got = blocks(START + LINES + "G91 X1 F100\nG91 X2\nX3\nX4\nX5\nG90 X1\nG93 G1 X2 F2\nX3 F2\nG93 X4 F2\nX5 F4")
    assert [9.0, 11.0, 14.0, 18.0, 23.0, 1.0, 2.0, 3.0, 4.0, 5.0] == [end[0] for end in got.ends[9:]]
    assert [0.5, 0.5, 0.5, 0.25] == got.minutes[-4:]


def test_a_plane_first_said_among_plain_lines_of_a_program_from_elsewhere_holds_from_there() -> None:
    got = read("G21 G90\nG0 X0 Y0 Z9\nX1\nX2\nX3\nG18 X4\nG2 X6 Z9 I1 K0 F50\nX8 I1\nM30\n", lenient=Lenient())
    assert [1.0, 2.0, 3.0, 4.0, 6.0, 8.0] == [end[0] for end in got.ends[1:]]


def test_switches_and_pauses_among_plain_lines_stand_where_they_are_said() -> None:
    lines = LINES + "M8\nN5 M9 (off)\nX1\nS500 M3\nG4 P2\nX2 Y1\nM0\n" + LINES
    items = iter(read_program((HEAD + START + lines + "S-1\n" + TAIL).encode(), load_profile("rs274ngc")))
    told: list[object] = []
    with pytest.raises(ProgramError, match="spindle speeds go from 0"):
        told.extend(len(item) if isinstance(item, MotionRead) else (item.line, item.text or item.number) for item in items)
    assert [9, (12, "flood"), (13, "off"), (13, "off"), 1, (15, "clockwise"), (16, 2.0), 1, (18, "M0")] == told[2:]
