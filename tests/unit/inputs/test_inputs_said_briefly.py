"""What is said about inputs and part: short forms, tools that are missing, a wrap beside the stock, one rotary of two."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import InputError
from steadyrest.inputs import Input, InputOptions, PartOptions, job_schema, load_job, read_arguments, take
from steadyrest.inputs.changes import NotTheStocksCylinder
from steadyrest.notices import Notice
from steadyrest.posting import posted_text
from steadyrest.toolpath import Indexed, Toolpath, Wrapped, parse_toolpath

NC = "G21 G17 G90 G94 G54\nT1 M6\nS3000 M3\nG0 X-10 Y0 Z5\nG1 Z-1 F100\nX-20\nG0 Z5\nM30\n"
STOCK = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
TOOL = {"number": 1, "shape": "flat", "diameter": 6}


def job_of(folder: Path, said: str) -> Toolpath:
    (folder / "part.nc").write_text(NC)
    (folder / "part.job.toml").write_text(
        "steadyrest_job = 1\nstock = { shape = 'round', diameter = 40, from = -90, to = 0 }\n"
        f"tools = [{{ number = 1, shape = 'flat', diameter = 6 }}]\n[[inputs]]\nfile = 'part.nc'\n{said}\n"
    )
    return load_job(folder / "part.job.toml").toolpath()


@pytest.mark.parametrize("said", ["wrap = 40", "wrap = 40.0", "wrap = { diameter = 40 }", "wrap.diameter = 40"])
def test_in_a_job_a_wrap_is_its_diameter(said: str, tmp_path: Path) -> None:
    rotary = job_of(tmp_path, said).operations[0].rotary
    assert isinstance(rotary, Wrapped)
    assert 40 == rotary.diameter


@pytest.mark.parametrize("said", ["wrap = 0", "wrap = -1.5", "wrap = true", 'wrap = "40"', "wrap = [40]", "wrap = nan"])
def test_a_wrap_that_is_no_diameter_is_told_with_its_key(said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        job_of(tmp_path, said)
    assert "wrap" in str(refused.value)
    assert 6 == refused.value.place.line
    assert refused.value.cure


@pytest.mark.parametrize(
    ("said", "angles"),
    [
        ("4 x 90", (0, 90, 180, 270)),
        ("6x60", (0, 60, 120, 180, 240, 300)),
        ("3 X -22.5", (0, -22.5, -45)),
        ("1 x 30", (0,)),
        ("7 x 51.4285714", tuple(51.4285714 * n for n in range(7))),
    ],
)
def test_angles_may_be_said_by_their_number_and_step(said: str, angles: tuple[float, ...], tmp_path: Path) -> None:
    rotary = job_of(tmp_path, f'indexed = "{said}"').operations[0].rotary
    assert isinstance(rotary, Indexed)
    assert angles == pytest.approx(rotary.angles)
    (inputs, _) = read_arguments(["part.nc", "--indexed", said])
    assert angles == pytest.approx(inputs[0].indexed)


@pytest.mark.parametrize("said", ["0 x 90", "4 x", "x 90", "4 x 0", "4 x 90 x 2", "1.5 x 90", "99999 x 1", "four", "4 x nan"])
def test_angles_that_are_not_said_so_are_told(said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        job_of(tmp_path, f'indexed = "{said}"')
    assert '"4 x 90"' in str(refused.value)
    with pytest.raises(InputError):
        read_arguments(["part.nc", "--indexed", said])


def test_the_schema_of_a_job_knows_the_short_forms() -> None:
    options = job_schema()["$defs"]["Input"]["properties"]
    assert {"number", "object", "null"} <= _kinds(options["wrap"])
    assert {"string", "array", "null"} <= _kinds(options["indexed"])
    assert "4 x 90" in options["indexed"]["description"]


def _kinds(schema: dict[str, Any]) -> set[str]:
    """The types that a value may have; a reference is to an object."""
    return {each.get("type", "object") for each in schema["anyOf"]}


def test_all_missing_tools_are_told_at_once_with_a_line_to_copy_for_each_shape(tmp_path: Path) -> None:
    body = "G0 X-10 Y0 Z5\nG1 Z-1 F100\nG0 Z5\n"
    (tmp_path / "a.nc").write_text(f"G21 G17 G90\nT1 M6\nS3000 M3\n{body}T12 M6\nM3\n{body}M30\n")
    (tmp_path / "b.cl").write_text("UNITS/MM\nLOADTL/7\nSPINDL/8000,CLW\nFEDRAT/900\nRAPID\nGOTO/0,0,9\nGOTO/0,0,5\nFINI\n")
    part = PartOptions.model_validate({"clearance": 60.0})
    with pytest.raises(InputError) as refused:
        take([Input(file=tmp_path / "a.nc"), Input(file=tmp_path / "b.cl")], part)
    assert "tools 1, 7 and 12 are used, and what they are, is not known" in refused.value.wrong
    lines = re.findall(r"--tool-shape (\S+)", refused.value.cure)
    assert {"flat", "ball", "bullnose", "drill", "chamfer"} == {line.split("=")[1].split(",")[0] for line in lines}
    for line in lines:  # each can be copied as it stands
        _, part = read_arguments(["a.nc", "--clearance", "60", "--tool-shape", line])
        assert 1 == part.tools[0].number


def test_the_lines_to_copy_are_in_the_unit_of_the_toolpath(tmp_path: Path) -> None:
    (tmp_path / "a.nc").write_text(NC.replace("G21", "G20"))
    with pytest.raises(InputError, match=r"1=flat,diameter=0\.25"):
        take([Input(file=tmp_path / "a.nc")], PartOptions.model_validate({"clearance": 6.0}))


def wrapped(folder: Path, diameter: float, stock: dict[str, Any] | None = None, text: str = NC) -> list[str]:
    """What is said about the wrap's diameter."""
    (folder / "a.nc").write_text(text)
    notices: list[Notice] = []
    part = PartOptions.model_validate({"tools": [TOOL], "stock": STOCK if stock is None else stock})
    take([Input.model_validate({"file": folder / "a.nc", "wrap": {"diameter": diameter}})], part, notices)
    return [notice.sentence() for notice in notices if isinstance(notice, NotTheStocksCylinder)]


def test_a_radius_for_the_diameter_is_told_when_it_is_taken(tmp_path: Path) -> None:
    (told,) = wrapped(tmp_path, 20)
    assert "20 mm" in told
    assert "40 mm" in told
    assert "radius" in told


def test_a_cylinder_in_the_air_or_in_the_stock_is_told_without_guessing(tmp_path: Path) -> None:
    assert ["1 mm outside" in told for told in wrapped(tmp_path, 42)] == [True]
    assert ["1 mm inside" in told for told in wrapped(tmp_path, 38)] == [True]
    assert not any("radius for" in told for told in wrapped(tmp_path, 38) + wrapped(tmp_path, 42))


def test_the_stocks_own_diameter_is_nothing_to_tell(tmp_path: Path) -> None:
    assert [] == wrapped(tmp_path, 40)
    assert [] == wrapped(tmp_path, 40.0004)
    inches = {**STOCK, "diameter": 1.5, "from": -3}
    assert [] == wrapped(tmp_path, 1.5, inches, NC.replace("G21", "G20"))
    (told,) = wrapped(tmp_path, 0.75, inches, NC.replace("G21", "G20"))
    assert "0.75 inch" in told


def two_rotaries(folder: Path) -> str:
    profile = folder / "two"
    profile.mkdir()
    (profile / "controller.toml").write_text(
        'extends = "rs274ngc"\n[rotary.B]\nalong = "Y"\nchuck_faces = "-Y"\npositive_turns_chuck = "clockwise"\n'
    )
    return str(profile)


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


def test_options_keep_their_plain_forms() -> None:
    assert (0.0, 90.0) == InputOptions(indexed=(0.0, 90.0)).indexed
    assert 40 == InputOptions.model_validate({"wrap": {"diameter": 40}}).wrap.diameter  # type: ignore[union-attr]


def test_a_file_that_is_there_twice_tells_its_notices_once(tmp_path: Path) -> None:
    (tmp_path / "a.nc").write_text(NC.replace(" G94", ""))
    notices: list[Notice] = []
    part = PartOptions.model_validate({"tools": [TOOL], "stock": STOCK})
    take([Input(file=tmp_path / "a.nc", indexed=(0.0,)), Input(file=tmp_path / "a.nc", indexed=(90.0,))], part, notices)
    assert ["taken for granted: F is per minute, no unit of it is stated"] == [notice.sentence() for notice in notices]
