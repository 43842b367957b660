"""Job files, and several inputs joined into one toolpath."""

import json
from pathlib import Path
from typing import Any

import pytest
from cl_text import HEAD

import steadyrest.inputs
from steadyrest.errors import InputError
from steadyrest.inputs import Input, InputOptions, Job, PartOptions, job_schema, load_input, load_job, take
from steadyrest.inputs.job import schema_text
from steadyrest.profile import load_profile
from steadyrest.toolpath import FlatTool, RoundStock, dump_toolpath, load_toolpath

PROGRAM = "G21 G17 G90 G94 G40 G80 G54\nT3 M6\nS3000 M3\n(GROOVE)\nG0 X1 Y2 Z5\nG1 Z-1 F100\nX10 F300\nM2\n"
CL = HEAD + "PPRINT flats\nROTABL/ATANGL,60\nRAPID\nGOTO/1,2,30\nGOTO/1,2,18\nFINI\n"
JOB = """steadyrest_job = 1
name = "lantern spindle"
stock = { shape = "round", diameter = 40, from = -90, to = 0 }

[[tools]]
number = 3
shape = "flat"
diameter = 6

[[inputs]]
file = "flats.cl"

[[inputs]]
file = "groove.nc"
wrap = { diameter = 40, start_angle = 15 }

[[inputs]]
file = "groove.nc"
indexed = [0, 120, 240]

[post]
controller = "rs274ngc"
output = "lantern.nc"
tolerance = 0.02
[post.set]
rotary.A.chuck_faces = "+X"
"""


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    (tmp_path / "flats.cl").write_text(CL)
    (tmp_path / "groove.nc").write_text(PROGRAM)
    (tmp_path / "part.job.toml").write_text(JOB)
    return tmp_path / "part.job.toml"


def test_a_job_joins_its_inputs_in_order(job_file: Path) -> None:
    toolpath = load_job(job_file).toolpath()
    assert ("lantern spindle", "mm", RoundStock) == (toolpath.name, toolpath.units, type(toolpath.stock))
    assert ["indexed", "wrapped", "indexed"] == [operation.rotary.intent for operation in toolpath.operations]
    assert ["flats", "GROOVE", "GROOVE"] == [operation.name for operation in toolpath.operations]


def test_a_job_keeps_how_it_is_posted(job_file: Path) -> None:
    post = load_job(job_file).post
    assert ("rs274ngc", job_file.parent / "lantern.nc", 0.02) == (post.controller, post.output, post.tolerance)
    assert ('rotary.A.chuck_faces="+X"',) == post.sets()


def test_the_rotary_at_the_other_end_of_the_table_is_one_word(job_file: Path) -> None:
    text = job_file.read_text()
    faces = [load_profile("rs274ngc", load_job(job_file).post.sets()).rotary["A"].chuck_faces]
    job_file.write_text(text.replace('"+X"', '"-X"'))
    faces.append(load_profile("rs274ngc", load_job(job_file).post.sets()).rotary["A"].chuck_faces)
    assert ["+X", "-X"] == faces


@pytest.mark.parametrize(
    ("chosen", "names"), [("[1]", ["flats"]), ('["GROOVE"]', ["GROOVE", "GROOVE"]), ('[3, "flats"]', ["flats", "GROOVE"])]
)
def test_a_job_may_post_some_operations_only(job_file: Path, chosen: str, names: list[str]) -> None:
    job_file.write_text(JOB.replace("tolerance = 0.02", f"operations = {chosen}"))
    assert names == [operation.name for operation in load_job(job_file).toolpath().operations]


def test_an_operation_that_is_not_there_is_told_with_those_that_are(job_file: Path) -> None:
    job_file.write_text(JOB.replace("tolerance = 0.02", 'operations = ["bevel"]'))
    with pytest.raises(InputError, match="there is no operation 'bevel'; there are 1 'flats', 2 'GROOVE', 3 'GROOVE'"):
        load_job(job_file).toolpath()


@pytest.mark.parametrize(
    ("old", "new", "wrong", "line"),
    [
        ("steadyrest_job = 1\n", "", "'steadyrest_job' is missing", None),
        ("wrap = {", "wrop = {", "there is no setting 'wrop' here; allowed are kind, units", 15),
        ("diameter = 40, start", "diameter = -4, start", "found -4; it has to be more than 0", 15),
        ("indexed = [0, 120, 240]", "indexed = []", r"found \[\]; it takes at least 1", 19),
        ("indexed = [0, 120, 240]", "indexed = [0]\nwrap = {diameter=40}", "both 'indexed' and 'wrap' are given", 17),
        ('shape = "flat"', 'shape = "blunt"', "shape 'blunt' is not known; allowed are", 5),
        ('name = "lantern spindle"', "name = lantern", "this is not TOML", 2),
        ("tolerance = 0.02", "tolerance = true", "found true; allowed is a number", 24),
        ('output = "lantern.nc"', "outputs = 1", "there is no setting 'outputs' here; allowed are controller, output", 23),
    ],
)
def test_wrong_job_files_are_refused_with_file_line_and_cure(job_file: Path, old: str, new: str, wrong: str, line: int | None) -> None:
    assert old in JOB
    job_file.write_text(JOB.replace(old, new))
    with pytest.raises(InputError, match=wrong) as caught:
        load_job(job_file)
    assert (str(job_file), line) == (caught.value.place.file, caught.value.place.line)
    assert caught.value.cure


def test_a_missing_input_names_its_file(job_file: Path) -> None:
    (job_file.parent / "groove.nc").unlink()
    with pytest.raises(InputError, match="there is no such file") as caught:
        load_job(job_file).toolpath()
    assert str(job_file.parent / "groove.nc") == caught.value.place.file


def test_the_schema_that_ships_is_that_of_the_model() -> None:
    shipped = Path(steadyrest.inputs.__file__).with_name("job.schema.json").read_text(encoding="utf-8")
    assert schema_text() == shipped
    assert job_schema() == json.loads(shipped)


def test_every_setting_of_a_job_is_described() -> None:
    def bare(schema: Any, at: str) -> list[str]:
        if not isinstance(schema, dict):
            return []
        found = [
            f"{at}.{name}" for name, each in schema.get("properties", {}).items() if not each.get("description") and "$ref" not in each
        ]
        return found + [each for name, inner in schema.get("$defs", {}).items() for each in bare(inner, name)]

    assert [] == bare(Job.model_json_schema(by_alias=True), "Job")


PART = PartOptions(clearance=100.0)


def test_inputs_in_two_units_become_one(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    (tmp_path / "b.cl").write_text(CL.replace("UNITS/MM", "UNITS/INCHES").replace("CUTTER/6", "CUTTER/.25").replace("LOADTL/3", "LOADTL/4"))
    toolpath = take([Input(file=tmp_path / "a.cl"), Input(file=tmp_path / "b.cl")], PART)
    assert "mm" == toolpath.units
    first, second = ([move.model_dump(exclude_none=True) for move in operation.moves or ()] for operation in toolpath.operations)
    assert [(1, 2, 30), (25.4, 50.8, 762)] == [moves[0]["rapid"] for moves in (first, second)]
    assert [900, 22860] == [moves[1]["feed"] for moves in (first, second)]
    assert [6, 6.35] == [tool.diameter for tool in toolpath.tools]


def test_a_neutral_toolpath_joins_with_its_stock_and_axis(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    part = PartOptions(stock=RoundStock.model_validate({"shape": "round", "diameter": 40, "from": -90, "to": 0}), centre=(0.0, 1.0, 0.0))
    dump_toolpath(take([Input(file=tmp_path / "a.cl")], part), tmp_path / "a.toolpath.json")
    toolpath = take([Input(file=tmp_path / "a.toolpath.json"), Input(file=tmp_path / "a.cl")])
    assert (2, (0.0, 1.0, 0.0), 20.0) == (len(toolpath.operations), toolpath.centre, toolpath.swept_radius)


def test_two_tools_of_one_number_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    (tmp_path / "b.cl").write_text(CL.replace("CUTTER/6", "CUTTER/8"))
    with pytest.raises(InputError, match=r"tool 3 is another one here than in .*a\.cl"):
        take([Input(file=tmp_path / "a.cl"), Input(file=tmp_path / "b.cl")], PART)


def test_without_stock_or_clearance_the_input_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    with pytest.raises(InputError, match="how large the stock is, is not known") as caught:
        take([Input(file=tmp_path / "a.cl")])
    assert "--stock" in caught.value.cure


def test_a_neutral_toolpath_alone_comes_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "a.cl").write_text(CL)
    dump_toolpath(load_input(tmp_path / "a.cl", part=PART), tmp_path / "a.json")
    assert load_toolpath(tmp_path / "a.json") == load_input(tmp_path / "a.json")
    assert load_toolpath(tmp_path / "a.json").digest == load_input(tmp_path / "a.json").digest


def test_a_job_is_an_input_like_any_other(job_file: Path) -> None:
    assert load_job(job_file).toolpath() == load_input(job_file)


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
    with pytest.raises(InputError, match="what kind of file this is cannot be told") as caught:
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
