"""Programs read: what is said about them, and what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest
from program_parts import START, TOOLS, moves_of, toolpath_of

from steadyrest.errors import InputError, ProgramError
from steadyrest.inputs import Input, PartOptions, take
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
