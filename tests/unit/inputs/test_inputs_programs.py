"""Plain three-axis programs as still, indexed and wrapped toolpaths."""

from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import InputError, ProgramError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.inputs.changes import LeftOut, WiderThanRound
from steadyrest.notices import Notice
from steadyrest.toolpath import FlatTool, Operation, Toolpath

START = "G21 G17 G90 G94 G40 G49 G80 G54\nT3 M6\nS3000 M3\n"
TOOLS = (FlatTool(number=3, shape="flat", diameter=6.0), FlatTool(number=4, shape="flat", diameter=4.0))


def toolpath_of(
    tmp_path: Path, body: str, notices: list[Notice] | None = None, *, start: str = START, axis: Any = None, **options: Any
) -> Toolpath:
    file = tmp_path / "face.nc"
    file.write_text(f"{start}{body}M2\n")
    part = PartOptions(clearance=200.0, tools=TOOLS, axis=axis)
    return take([Input(file=file, **options)], part, notices)


def moves_of(operation: Operation) -> list[dict[str, Any]]:
    return [move.model_dump(exclude_defaults=True) for move in operation.moves or ()]


LINES = "G0 X1 Y2 Z5\nG1 Z-1 F100\nX10 F300\n"


def test_a_program_is_still_unless_said_otherwise(tmp_path: Path) -> None:
    (operation,) = toolpath_of(tmp_path, LINES).operations
    assert "still" == operation.rotary.intent
    assert [{"rapid": (1, 2, 5)}, {"cut": (1, 2, -1), "feed": 100}, {"cut": (10, 2, -1), "feed": 300}] == moves_of(operation)
    assert (3, 3000, "clockwise", "off") == (operation.tool, operation.spindle.rpm, operation.spindle.turns, operation.coolant)


def test_a_program_is_cut_at_each_angle(tmp_path: Path) -> None:
    (operation,) = toolpath_of(tmp_path, LINES, indexed=(0, 90, 180)).operations
    assert {"intent": "indexed", "angles": (0, 90, 180)} == operation.rotary.model_dump()


def test_a_program_is_wrapped_with_all_that_was_said(tmp_path: Path) -> None:
    (operation,) = toolpath_of(tmp_path, LINES, wrap={"diameter": 40, "start_angle": 30, "z_from": "axis"}).operations
    assert {"intent": "wrapped", "diameter": 40, "start_angle": 30, "z_from": "axis"} == operation.rotary.model_dump()
    assert (1, 2, 5) == moves_of(operation)[0]["rapid"]


@pytest.mark.parametrize(
    ("axis", "developed", "place"), [("X", "X", (-2, 1, 5)), ("X", "Y", (1, 2, 5)), ("Y", "X", (1, 2, 5)), ("Y", "Y", (2, -1, 5))]
)
def test_the_developed_axis_is_chosen_by_a_quarter_turn(tmp_path: Path, axis: str, developed: str, place: tuple[float, ...]) -> None:
    (operation,) = toolpath_of(tmp_path, LINES, axis=axis, wrap={"diameter": 40, "developed": developed}).operations
    assert place == moves_of(operation)[0]["rapid"]


def test_a_program_whose_zero_lies_on_the_face_is_shifted_to_the_axis(tmp_path: Path) -> None:
    body = "G0 X0 Y0 Z5\nG1 Z-1 F100\nG3 X10 Y10 I0 J10\nG0 Z5\nG99 G81 X20 Y0 Z-4 R2 F80\nG80\n"
    moves = moves_of(toolpath_of(tmp_path, body, indexed=(0, 90), shift=(1, 2, 20)).operations[0])
    assert (1, 2, 25) == moves[0]["rapid"]
    arc, hole = moves[2], moves[4]
    assert ((11, 12, 19), (1, 12)) == (arc["arc"], arc["centre"][:2])
    assert ((21, 2), 22, 16) == (hole["hole"], hole["retract"], hole["bottom"])


def test_arcs_turn_with_the_drawing(tmp_path: Path) -> None:
    body = "G0 X0 Y0 Z0\nG3 X10 Y10 I0 J10 F100\nG18 G2 X20 Z0 I5 K0\n"
    (operation,) = toolpath_of(tmp_path, body, wrap={"diameter": 400, "developed": "X"}).operations
    first, second = moves_of(operation)[1:]
    assert ((-10, 10, 0), (-10, 0, 0), "counterclockwise") == (first["arc"], first["centre"], first["turns"])
    # XZ, seen from +Y: its normal +Y lies along -X after the quarter turn, so seen from +X the sense is the other.
    assert ("YZ", (-10, 20, 0), "counterclockwise") == (second["plane"], second["arc"], second["turns"])


def test_a_drawing_wider_than_the_way_round_is_told(tmp_path: Path) -> None:
    notices: list[Notice] = []
    toolpath_of(tmp_path, "G0 X0 Y0 Z5\nG1 Z-1 F100\nY130\n", notices, wrap={"diameter": 40})
    (wider,) = (notice for notice in notices if isinstance(notice, WiderThanRound))
    told = "the developed path is 130 wide and the circumference is 125.664: it goes round 1.03 times"
    assert told == wider.sentence()


def test_inches_stay_inches(tmp_path: Path) -> None:
    toolpath = toolpath_of(tmp_path, LINES, start=START.replace("G21", "G20"))
    assert "inch" == toolpath.units
    assert [{"rapid": (1, 2, 5)}, {"cut": (1, 2, -1), "feed": 100}, {"cut": (10, 2, -1), "feed": 300}] == moves_of(toolpath.operations[0])


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
        ("G1 X5 Y5 Z5 F100\n", "a cut from or to a place that is not known"),
        ("M5\nG0 X0 Y0 Z5\nG1 X5 F100\n", "a cut while the spindle stands"),
        ("(nothing)\n", "no motion in the program"),
    ],
)
def test_what_cannot_be_taken_is_refused(tmp_path: Path, body: str, wrong: str) -> None:
    with pytest.raises(ProgramError, match=wrong) as caught:
        toolpath_of(tmp_path, body)
    assert caught.value.place.file is not None
    assert caught.value.cure


def test_a_program_without_its_end_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "face.nc"
    file.write_text(START + LINES)
    with pytest.raises(ProgramError, match="does not end"):
        take([Input(file=file)], PartOptions(clearance=200.0, tools=TOOLS))


def test_a_program_without_a_tool_change_takes_the_tool_that_is_said(tmp_path: Path) -> None:
    start = START.replace("T3 M6\n", "")
    with pytest.raises(ProgramError, match="before any tool change"):
        toolpath_of(tmp_path, LINES, start=start)
    assert 4 == toolpath_of(tmp_path, LINES, start=start, tool=4).operations[0].tool


def test_a_tool_that_nobody_describes_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="tool 9 is used, and what it is, is not known"):
        toolpath_of(tmp_path, LINES, start=START.replace("T3", "T9"))


def test_a_program_cannot_be_wrapped_about_the_spindle(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="axis along the spindle"):
        toolpath_of(tmp_path, LINES, axis="Z", wrap={"diameter": 40})


def test_offsets_of_length_leave_a_notice(tmp_path: Path) -> None:
    notices: list[Notice] = []
    toolpath_of(tmp_path, "G43 H3\n" + LINES, notices)
    assert ["the tool length offset"] == [notice.what for notice in notices if isinstance(notice, LeftOut)]
