"""Programs read: what is said about them, what is missing, and where their motion lies: still, at angles, wrapped."""

from __future__ import annotations

from pathlib import Path

import pytest
from program_parts import START, TOOLS, moves_of, toolpath_of

from steadyrest.errors import InputError, ProgramError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.notices import Notice
from steadyrest.posting import posted_text
from steadyrest.toolpath import Indexed, parse_toolpath

STOCK = {"shape": "round", "diameter": 40, "from": -90, "to": 0}


TOOL = {"number": 1, "shape": "flat", "diameter": 6}


def two_rotaries(folder: Path) -> str:
    profile = folder / "two"
    profile.mkdir()
    (profile / "controller.toml").write_text(
        'extends = "rs274ngc"\n[rotary.B]\nalong = "Y"\nchuck_faces = "-Y"\npositive_turns_chuck = "clockwise"\n'
    )
    return str(profile)


LINES = "G0 X1 Y2 Z5\nG1 Z-1 F100\nX10 F300\n"


@pytest.mark.parametrize("axis", ["X", "Y"])
@pytest.mark.parametrize("said", [True, False], ids=["axis said", "axis not said"])
def test_of_two_rotaries_the_one_that_the_program_turns_is_meant(axis: str, said: bool, tmp_path: Path) -> None:
    language = two_rotaries(tmp_path)

    def place(along: float, z: float) -> list[float]:
        return [along, 0, z] if axis == "X" else [0, along, z]

    toolpath = parse_toolpath(
        {
            "steadyrest_toolpath": 1,
            "name": "C90 (B90)",
            "units": "mm",
            "axis": axis,
            "stock": STOCK,
            "tools": [TOOL],
            "operations": [
                {
                    "name": "faces A B",
                    "tool": 1,
                    "spindle": {"rpm": 8000, "turns": "clockwise"},
                    "rotary": {"intent": "indexed", "angles": [0, 90]},
                    "moves": [{"rapid": place(-10, 30)}, {"cut": place(-10, 18), "feed": 300}, {"cut": place(-20, 18)}],
                }
            ],
        }
    )
    (tmp_path / "part.nc").write_text(posted_text(toolpath, language))
    part = PartOptions.model_validate({"tools": [TOOL], "stock": STOCK, "axis": axis if said else None})
    again = take([Input(file=tmp_path / "part.nc", language=language)], part)
    assert axis == again.axis
    angles = [angle for operation in again.operations if isinstance(operation.rotary, Indexed) for angle in operation.rotary.angles]
    assert [0, 90] == angles


def test_inches_stay_inches(tmp_path: Path) -> None:
    toolpath = toolpath_of(tmp_path, LINES, start=START.replace("G21", "G20"))
    assert "inch" == toolpath.units
    assert [{"rapid": (1, 2, 5)}, {"cut": (1, 2, -1), "feed": 100}, {"cut": (10, 2, -1), "feed": 300}] == moves_of(toolpath.operations[0])


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
    with pytest.raises(InputError, match="tool 9 is used, but its shape and size are not given"):
        toolpath_of(tmp_path, LINES, start=START.replace("T3", "T9"))


def test_a_program_is_still_unless_said_otherwise(tmp_path: Path) -> None:
    (operation,) = toolpath_of(tmp_path, LINES).operations
    assert "still" == operation.rotary.intent
    assert [{"rapid": (1, 2, 5)}, {"cut": (1, 2, -1), "feed": 100}, {"cut": (10, 2, -1), "feed": 300}] == moves_of(operation)
    assert (3, 3000, "clockwise", "off") == (operation.tool, operation.spindle.rpm, operation.spindle.turns, operation.coolant)


def test_a_program_is_cut_at_each_angle(tmp_path: Path) -> None:
    (operation,) = toolpath_of(tmp_path, LINES, indexed=(0, 90, 180)).operations
    assert {"intent": "indexed", "angles": (0, 90, 180)} == operation.rotary.model_dump(exclude_none=True)


def test_a_program_is_wrapped_with_all_that_was_said(tmp_path: Path) -> None:
    (operation,) = toolpath_of(tmp_path, LINES, wrap={"diameter": 40, "start_angle": 30, "z_from": "axis"}).operations
    assert {"intent": "wrapped", "diameter": 40, "start_angle": 30, "z_from": "axis"} == operation.rotary.model_dump(exclude_none=True)
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
    (wider,) = (notice for notice in notices if notice.kind == "WiderThanRound")
    told = "the developed path is 130 wide and the circumference is 125.664: it goes round 1.03 times"
    assert told == wider.sentence()


def test_a_program_cannot_be_wrapped_about_the_spindle(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="axis along the spindle"):
        toolpath_of(tmp_path, LINES, axis="Z", wrap={"diameter": 40})
