"""Several inputs as one toolpath."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from cl_text import HEAD

from steadyrest.errors import InputError
from steadyrest.inputs import Input, PartOptions, read_arguments, take
from steadyrest.notices import Notice
from steadyrest.toolpath import Indexed, RoundStock, load_toolpath, toolpath_text

CL = HEAD + "PPRINT flats\nROTABL/ATANGL,60\nRAPID\nGOTO/1,2,30\nGOTO/1,2,18\nFINI\n"


PART = PartOptions(clearance=100.0)


NC = "G21 G17 G90 G94 G54\nT1 M6\nS3000 M3\nG0 X-10 Y0 Z5\nG1 Z-1 F100\nX-20\nG0 Z5\nM30\n"


STOCK = {"shape": "round", "diameter": 40, "from": -90, "to": 0}


TOOL = {"number": 1, "shape": "flat", "diameter": 6}


def wrapped(folder: Path, diameter: float, stock: dict[str, Any] | None = None, text: str = NC) -> list[str]:
    """What is said about the wrap's diameter."""
    (folder / "a.nc").write_text(text)
    notices: list[Notice] = []
    part = PartOptions.model_validate({"tools": [TOOL], "stock": STOCK if stock is None else stock})
    take([Input.model_validate({"file": folder / "a.nc", "wrap": {"diameter": diameter}})], part, notices)
    return [notice.sentence() for notice in notices if notice.kind == "NotTheStocksCylinder"]


def test_a_neutral_toolpath_joins_with_its_stock_and_axis(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    part = PartOptions(stock=RoundStock.model_validate({"shape": "round", "diameter": 40, "from": -90, "to": 0}), centre=(0.0, 1.0, 0.0))
    (tmp_path / "a.toolpath.json").write_text("".join(toolpath_text(take([Input(file=tmp_path / "a.cl")], part))), encoding="utf-8")
    toolpath = take([Input(file=tmp_path / "a.toolpath.json"), Input(file=tmp_path / "a.cl")])
    assert (2, (0.0, 1.0, 0.0), 20.0) == (len(toolpath.operations), toolpath.centre, toolpath.swept_radius)


@pytest.mark.parametrize(("units", "per_mm"), [(None, 1.0), ("inch", 1 / 25.4)])
def test_planes_of_a_neutral_toolpath_pass_through_in_the_units_of_the_part(units: str | None, per_mm: float) -> None:
    file = Path(__file__).parents[2] / "golden" / "tour" / "planes.toolpath.json"
    toolpath = take([Input(file=file)], PartOptions.model_validate({"units": units}))
    for before, after in zip(load_toolpath(file).operations, toolpath.operations, strict=True):
        assert isinstance(before.rotary, Indexed)
        assert isinstance(after.rotary, Indexed)
        for was, now in zip(before.rotary.planes or (), after.rotary.planes or (), strict=True):
            assert (was.z, was.x) == (now.z, now.x)
            assert pytest.approx([value * per_mm for value in was.origin], abs=1e-9) == list(now.origin)


def test_two_tools_of_one_number_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    (tmp_path / "b.cl").write_text(CL.replace("CUTTER/6", "CUTTER/8"))
    with pytest.raises(InputError, match=r"tool 3 here differs from tool 3 in .*a\.cl"):
        take([Input(file=tmp_path / "a.cl"), Input(file=tmp_path / "b.cl")], PART)


def test_without_stock_or_clearance_the_input_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    with pytest.raises(InputError, match="no stock is given, in none of the inputs") as caught:
        take([Input(file=tmp_path / "a.cl")])
    assert "--stock" in caught.value.cure


def test_all_missing_tools_are_told_at_once_with_a_line_to_copy_for_each_shape(tmp_path: Path) -> None:
    body = "G0 X-10 Y0 Z5\nG1 Z-1 F100\nG0 Z5\n"
    (tmp_path / "a.nc").write_text(f"G21 G17 G90\nT1 M6\nS3000 M3\n{body}T12 M6\nM3\n{body}M30\n")
    (tmp_path / "b.cl").write_text("UNITS/MM\nLOADTL/7\nSPINDL/8000,CLW\nFEDRAT/900\nRAPID\nGOTO/0,0,9\nGOTO/0,0,5\nFINI\n")
    part = PartOptions.model_validate({"clearance": 60.0})
    with pytest.raises(InputError) as refused:
        take([Input(file=tmp_path / "a.nc"), Input(file=tmp_path / "b.cl")], part)
    assert "tools 1, 7 and 12 are used, but their shape and size are not given" in refused.value.wrong
    lines = re.findall(r"--tool-shape (\S+)", refused.value.cure)
    assert {"flat", "ball", "bullnose", "drill", "chamfer"} == {line.split("=")[1].split(",")[0] for line in lines}
    for line in lines:  # each can be copied as it stands
        _, part = read_arguments(["a.nc", "--clearance", "60", "--tool-shape", line])
        assert 1 == part.tools[0].number


def test_the_lines_to_copy_are_in_the_unit_of_the_toolpath(tmp_path: Path) -> None:
    (tmp_path / "a.nc").write_text(NC.replace("G21", "G20"))
    with pytest.raises(InputError, match=r"1=flat,diameter=0\.25"):
        take([Input(file=tmp_path / "a.nc")], PartOptions.model_validate({"clearance": 6.0}))


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


def test_a_file_that_is_there_twice_tells_its_notices_once(tmp_path: Path) -> None:
    (tmp_path / "a.nc").write_text(NC.replace(" G94", ""))
    notices: list[Notice] = []
    part = PartOptions.model_validate({"tools": [TOOL], "stock": STOCK})
    take([Input(file=tmp_path / "a.nc", indexed=(0.0,)), Input(file=tmp_path / "a.nc", indexed=(90.0,))], part, notices)
    assert ["assumed: F per minute (no feed mode in the program)"] == [notice.sentence() for notice in notices]
