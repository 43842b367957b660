"""The motion and events of a program."""

from pathlib import Path

import pytest
from program_parts import moves_of, toolpath_of

from steadyrest.errors import ProgramError
from steadyrest.notices import Notice

LINES = "G0 X1 Y2 Z5\nG1 Z-1 F100\nX10 F300\n"


def test_cycles_become_holes(tmp_path: Path) -> None:
    body = "G0 X0 Y0 Z20\nG98 G82 X5 Y6 Z-10 R2 P.5 F80\nG99 G83 X7 Z-10 R2 Q4\nG84 X8 Z-10 R2 F1500\nG80\n"
    moves = moves_of(toolpath_of(tmp_path, body).operations[0])
    assert [
        {"rapid": (0, 0, 20)},
        {"hole": (5, 6), "cycle": "dwell-drill", "retract": 2, "bottom": -10, "dwell": 0.5, "feed": 80},
        {"rapid": (5, 6, 20)},
        {"hole": (7, 6), "cycle": "peck", "retract": 2, "bottom": -10, "peck": 4},
        {"hole": (8, 6), "cycle": "tap", "retract": 2, "bottom": -10, "feed": 1500},
    ] == moves


def test_tools_spindle_coolant_pauses_and_texts(tmp_path: Path) -> None:
    body = f"(FACE)\nM8\n{LINES}G4 P.5\n(MSG, look)\nM1\nM9\nG0 Z50\nT4 M6\nS500 M4\n{LINES}"
    first, second = toolpath_of(tmp_path, body).operations
    assert ("FACE", 3, "flood") == (first.name, first.tool, first.coolant)
    assert [{"dwell": 0.5}, {"note": "look"}, {"stop": {"optional": True}}, {"rapid": (10, 2, 50)}] == moves_of(first)[3:]
    assert (4, 500, "counterclockwise", "off") == (second.tool, second.spindle.rpm, second.spindle.turns, second.coolant)


def test_a_retract_in_machine_coordinates_ends_the_operation(tmp_path: Path) -> None:
    first, second = toolpath_of(tmp_path, f"{LINES}G53 G0 Z0\nG0 X50 Y60\nZ5\nG1 Z-1\n").operations
    assert [{"rapid": (50, 60, 5)}, {"cut": (50, 60, -1), "feed": 300}] == moves_of(second)
    assert 3 == len(moves_of(first))


def test_a_length_offset_in_between_never_makes_a_slanting_rapid(tmp_path: Path) -> None:
    """Where the tool stands after G43 is not known, so what comes next is an operation of its own, approached from above."""
    first, second = toolpath_of(tmp_path, f"{LINES}G43 H3\nG0 X50\nG0 Z10\nG1 Z-1\n").operations
    assert [{"rapid": (50, 2, 10)}, {"cut": (50, 2, -1), "feed": 300}] == moves_of(second)
    assert 3 == len(moves_of(first))


def test_inverse_time_becomes_a_feed_of_the_tip(tmp_path: Path) -> None:
    assert 60.0 == pytest.approx(moves_of(toolpath_of(tmp_path, "G0 X0 Y0 Z0\nG93 G1 X30 F2\n").operations[0])[1]["feed"])


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ("G0 X0 Y0 Z5\nG41 D3\nG1 X5 F100\n", "cutter radius compensation moves the tool"),
        ("G0 X0 Y0 Z5\nG92 X5\n", "shifting the coordinates"),
        ("G0 X0 Y0 Z5\nG55\nG0 X1 Y1 Z1\n", "a second work offset, G55 after G54"),
        ("G0 X0 Y0 Z5 A0\nG1 X5 A10 F100\n", "the program turns the rotary"),
        ("G0 A90\nG0 X0 Y0 Z5\n", "the program turns the rotary"),
        ("G1 X5 Y5 Z5 F100\n", "a cut from or to a position that is not stated"),
        ("M5\nG0 X0 Y0 Z5\nG1 X5 F100\n", "a cut while the spindle is stopped"),
        ("(nothing)\n", "no motion in the program"),
    ],
)
def test_what_cannot_be_taken_is_refused(tmp_path: Path, body: str, wrong: str) -> None:
    with pytest.raises(ProgramError, match=wrong) as caught:
        toolpath_of(tmp_path, body)
    assert caught.value.place.file is not None
    assert caught.value.cure


def test_offsets_of_length_leave_a_notice(tmp_path: Path) -> None:
    notices: list[Notice] = []
    toolpath_of(tmp_path, "G43 H3\n" + LINES, notices)
    assert ["the tool length offset"] == [notice.facts["what"] for notice in notices if notice.kind == "LeftOut"]
