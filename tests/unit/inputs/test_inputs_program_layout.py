"""Where the motion of a program lies: still, at angles, wrapped."""

from pathlib import Path

import pytest
from program_parts import moves_of, toolpath_of

from steadyrest.errors import InputError
from steadyrest.inputs.changes import WiderThanRound
from steadyrest.notices import Notice

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


def test_a_program_cannot_be_wrapped_about_the_spindle(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="axis along the spindle"):
        toolpath_of(tmp_path, LINES, axis="Z", wrap={"diameter": 40})
