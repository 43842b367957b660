"""Job files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from cl_text import HEAD

import steadyrest.inputs
from steadyrest.errors import InputError
from steadyrest.inputs import Job, job_from, job_schema, load_input, load_job
from steadyrest.inputs.assembly import take
from steadyrest.inputs.options import read_arguments
from steadyrest.profile import load_profile
from steadyrest.toolpath import Held, RoundStock, Toolpath

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


FACE = "G21 G90 G17\nS1000 M3\nG0 X-10 Y0 Z30\nG1 Z15 F200\nX-40\nG0 Z30\nM2\n"


HELD_JOB = """steadyrest_job = 1
stock = { shape = "round", diameter = 40, from = -90, to = 0, held = { at = "from", length = 20 } }
tools = [{ number = 1, shape = "flat", diameter = 6 }]
[[inputs]]
file = "face.nc"
tool = 1
indexed = [0, 90]
"""


def held_of(toolpath: Toolpath) -> Held | None:
    assert toolpath.stock is not None
    return toolpath.stock.held


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
        ("wrap = {", "wrop = {", "unknown key 'wrop'; allowed are kind, units", 15),
        ("diameter = 40, start", "diameter = -4, start", "found -4; it has to be more than 0", 15),
        ("indexed = [0, 120, 240]", "indexed = []", r"found \[\]; it takes at least 1", 19),
        ("indexed = [0, 120, 240]", "indexed = [0]\nwrap = {diameter=40}", "both 'indexed' and 'wrap' are given", 17),
        ('shape = "flat"', 'shape = "blunt"', "shape 'blunt' is not known; allowed are", 5),
        ('name = "lantern spindle"', "name = lantern", "this is not TOML", 2),
        ("tolerance = 0.02", "tolerance = true", "found true; allowed is a number", 24),
        ('output = "lantern.nc"', "outputs = 1", "unknown key 'outputs'; allowed are controller, output", 23),
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
    assert json.dumps(job_schema(), indent=2, ensure_ascii=False) + "\n" == shipped
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


def test_a_job_is_an_input_like_any_other(job_file: Path) -> None:
    assert load_job(job_file).toolpath() == load_input(job_file)


def test_a_job_says_which_end_is_held(tmp_path: Path) -> None:
    (tmp_path / "face.nc").write_text(FACE, encoding="ascii")
    (tmp_path / "part.job.toml").write_text(HELD_JOB, encoding="utf-8")
    assert held_of(load_job(tmp_path / "part.job.toml").toolpath()) == Held(at="from", length=20)


def test_take_says_it_with_the_stock(tmp_path: Path) -> None:
    file = tmp_path / "face.nc"
    file.write_text(FACE, encoding="ascii")
    stock = "round,diameter=40,from=-90,to=0,held=to,held_length=12.5"
    inputs, part = read_arguments([str(file), "--tool", "1", "--indexed", "0,90", "--stock", stock, "--tool-shape", "1=flat,diameter=6"])
    assert held_of(take(inputs, part, [])) == Held(at="to", length=12.5)


def test_a_text_is_the_job_that_its_file_would_be(tmp_path: Path) -> None:
    text = 'steadyrest_job = 1\n[[inputs]]\nfile = "a.nc"\n'
    file = tmp_path / "a.job.toml"
    file.write_text(text)
    assert load_job(file) == job_from(text, file)
    assert tmp_path / "a.nc" == job_from(text, file).inputs[0].file
    with pytest.raises(InputError, match=r"(?s)a.job.toml:1, nmae: .*did you mean"):
        job_from("nmae = 1\n" + text, file)
    with pytest.raises(InputError, match="this is not TOML"):
        job_from("= 1", file)


TOOL = 'steadyrest_job = 1\n[[inputs]]\nfile = "part.toolpath.json"\n[[tools]]\n'


def test_a_gauge_length_stands_beside_a_tool_s_shape_or_alone_for_a_tool_of_an_input(tmp_path: Path) -> None:
    text = f'{TOOL}number = 4\nshape = "flat"\ndiameter = 6\ngauge_length = 128.35\n[[tools]]\nnumber = 5\ngauge_length = 90\n'
    job = job_from(text, tmp_path / "part.job.toml")
    assert {4: 128.35, 5: 90} == job.gauge_lengths
    assert [("flat", 4, 6)] == [(tool.shape, tool.number, tool.diameter) for tool in job.part.tools]
    assert not hasattr(job.part.tools[0], "gauge_length"), "a toolpath has none"


@pytest.mark.parametrize(
    ("entry", "key", "wrong"),
    [
        ("number = 4\ngauge_length = -1", "tools, entry 1, gauge_length", "found -1; it has to be more than 0"),
        ('number = 4\ngauge_length = "x"', "tools, entry 1, gauge_length", 'found "x"; allowed is a number'),
        ("number = 4", "tools, entry 1", "'shape' is missing"),
        ("number = 4\ngauge_length = 1\ndiameter = 6", "tools, entry 1, diameter", "unknown key 'diameter'"),
        ("number = 4\ngauge_length = 1\n[[tools]]\nnumber = 4\ngauge_length = 2", None, "two tools have the number 4"),
    ],
)
def test_what_is_no_gauge_length_is_refused_at_its_key(entry: str, key: str | None, wrong: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=wrong) as caught:
        job_from(TOOL + entry, tmp_path / "part.job.toml")
    assert key == caught.value.place.key
    assert caught.value.cure
