"""Which reader is meant by a file, and inputs in two units."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cl_text import HEAD

from steadyrest.errors import InputError
from steadyrest.inputs import Input, InputOptions, PartOptions, load_input, take
from steadyrest.toolpath import FlatTool, load_toolpath, toolpath_text

CL = HEAD + "PPRINT flats\nROTABL/ATANGL,60\nRAPID\nGOTO/1,2,30\nGOTO/1,2,18\nFINI\n"


PART = PartOptions(clearance=100.0)


PROGRAM = "G21 G17 G90 G94 G40 G80 G54\nT3 M6\nS3000 M3\n(GROOVE)\nG0 X1 Y2 Z5\nG1 Z-1 F100\nX10 F300\nM2\n"


def test_a_neutral_toolpath_alone_comes_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    (tmp_path / "a.json").write_text("".join(toolpath_text(load_input(tmp_path / "a.cl", part=PART))), encoding="utf-8")
    assert load_toolpath(tmp_path / "a.json") == load_input(tmp_path / "a.json")
    assert load_toolpath(tmp_path / "a.json").digest == load_input(tmp_path / "a.json").digest


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a", CL),
        ("a.txt", CL),
        ("a.nc", CL),
        ("a", PROGRAM),
        ("a.cl", PROGRAM),
        ("a.dat", "$$ made\n" + CL),
        ("a.x", "(MADE)\n" + PROGRAM),
        ("a", "%\nN1 " + PROGRAM + "%\n"),
    ],
)
def test_the_content_goes_before_the_ending(tmp_path: Path, name: str, text: str) -> None:
    (tmp_path / name).write_text(text)
    part = PartOptions(clearance=100.0, tools=(FlatTool(number=3, shape="flat", diameter=6.0),))
    assert 1 == len(load_input(tmp_path / name, part=part).operations)


@pytest.mark.parametrize("data", [b"hello world\n", b"\x00\x01\x02", b"\x89PNG\r\n", b"GIF89a", b"a,b,c\n1,2,3\n"])
def test_a_file_of_no_known_kind_is_refused(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "a.dat").write_bytes(data)
    with pytest.raises(InputError, match="shows what kind of file this is") as caught:
        load_input(tmp_path / "a.dat", part=PART)
    assert "--kind" in caught.value.cure


def test_an_unknown_kind_is_told_with_those_there_are(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    with pytest.raises(InputError, match="no kind of input called 'clay'; there are toolpath, job, cl, program"):
        load_input(tmp_path / "a.cl", InputOptions(kind="clay"), PART)


@pytest.mark.parametrize(
    "said", [{"indexed": (0.0,)}, {"wrap": {"diameter": 40}}, {"shift": (0, 0, 20)}, {"leave_out": ("M41",)}, {"language": "incremental"}]
)
def test_options_for_another_kind_are_refused(tmp_path: Path, said: dict[str, Any]) -> None:
    (tmp_path / "a.cl").write_text(CL)
    name = next(iter(said))
    with pytest.raises(InputError, match=f"'{name}' is for plain three-axis programs"):
        load_input(tmp_path / "a.cl", InputOptions.model_validate(said), PART)


def test_inputs_in_two_units_become_one(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    (tmp_path / "b.cl").write_text(CL.replace("UNITS/MM", "UNITS/INCHES").replace("CUTTER/6", "CUTTER/.25").replace("LOADTL/3", "LOADTL/4"))
    toolpath = take([Input(file=tmp_path / "a.cl"), Input(file=tmp_path / "b.cl")], PART)
    assert "mm" == toolpath.units
    first, second = ([move.model_dump(exclude_none=True) for move in operation.moves or ()] for operation in toolpath.operations)
    assert [(1, 2, 30), (25.4, 50.8, 762)] == [moves[0]["rapid"] for moves in (first, second)]
    assert [900, 22860] == [moves[1]["feed"] for moves in (first, second)]
    assert [6, 6.35] == [tool.diameter for tool in toolpath.tools]
