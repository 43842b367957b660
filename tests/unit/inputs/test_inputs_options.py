"""Options that are said briefly, in a file and on a command line."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

import steadyrest.inputs
from steadyrest.errors import InputError
from steadyrest.inputs import ABOUT_INPUT, ABOUT_PART, Input, InputOptions, PartOptions, job_schema, load_job, read_arguments
from steadyrest.inputs.options import Wrap
from steadyrest.toolpath import FlatTool, Indexed, Toolpath, Wrapped

NC = "G21 G17 G90 G94 G54\nT1 M6\nS3000 M3\nG0 X-10 Y0 Z5\nG1 Z-1 F100\nX-20\nG0 Z5\nM30\n"


def job_of(folder: Path, said: str) -> Toolpath:
    (folder / "part.nc").write_text(NC)
    (folder / "part.job.toml").write_text(
        "steadyrest_job = 1\nstock = { shape = 'round', diameter = 40, from = -90, to = 0 }\n"
        f"tools = [{{ number = 1, shape = 'flat', diameter = 6 }}]\n[[inputs]]\nfile = 'part.nc'\n{said}\n"
    )
    return load_job(folder / "part.job.toml").toolpath()


def _kinds(schema: dict[str, Any]) -> set[str]:
    """The types that a value may have; a reference is to an object."""
    return {each.get("type", "object") for each in schema["anyOf"]}


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


def test_options_keep_their_plain_forms() -> None:
    assert (0.0, 90.0) == InputOptions(indexed=(0.0, 90.0)).indexed
    assert 40 == InputOptions.model_validate({"wrap": {"diameter": 40}}).wrap.diameter  # type: ignore[union-attr]


def test_options_belong_to_the_input_before_them() -> None:
    inputs, _ = read_arguments(["a.cl", "b.nc", "--indexed", "0,60,-120", "c.nc", "--wrap", "40", "--start-angle=-15", "--developed", "X"])
    assert (
        Input(file=Path("a.cl")),
        Input(file=Path("b.nc"), indexed=(0.0, 60.0, -120.0)),
        Input(file=Path("c.nc"), wrap=Wrap(diameter=40.0, start_angle=-15.0, developed="X")),
    ) == inputs


def test_what_is_said_about_the_part_may_stand_anywhere() -> None:
    about = "round,diameter=40,from=-90,to=0"
    words = ["--axis", "Y", "a.cl", "--stock", about, "--tool-shape", "3=flat,diameter=6,flutes=3", "--in", "mm", "--centre", "0,0,-5"]
    _, part = read_arguments(words)
    assert ("Y", (0.0, 0.0, -5.0), "mm", 20.0) == (part.axis, part.centre, part.units, part.stock and part.stock.swept_radius("Y"))
    assert (FlatTool(number=3, shape="flat", diameter=6.0, flutes=3),) == part.tools


def test_rectangular_stock_has_two_sizes() -> None:
    _, part = read_arguments(["--stock", "rectangular,across=30x40,from=-90,to=0"])
    assert part.stock is not None
    assert 25.0 == part.stock.swept_radius("X")


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        ("--indexed 0 a.nc", "--indexed comes before any input"),
        ("a.nc --indexed", "--indexed has no value"),
        ("a.nc --index 0", "there is no option --index"),
        ("a.nc --indexed 0,x", "--indexed: 'x' is not a number"),
        ("a.nc --indexed 0 --indexed 90", "--indexed is given twice"),
        ("a.nc --indexed 0 --wrap 40", "both 'indexed' and 'wrap' are given"),
        ("a.nc --wrap -4", "found -4.0; it has to be more than 0"),
        ("a.nc --start-angle 5", "--start-angle without --wrap"),
        ("a.cl --stock round", "'diameter' is missing|'from' is missing"),
        ("a.cl --stock round,diameter", "'diameter' is not name=number"),
        ("a.cl --tool-shape flat", "'flat' does not describe a tool"),
        ("a.cl --axis W", 'found "W"; allowed are X, Y, Z'),
    ],
)
def test_what_is_not_allowed_is_told_with_its_cure(words: str, wrong: str) -> None:
    with pytest.raises(InputError, match=wrong) as caught:
        read_arguments(words.split())
    assert caught.value.cure


def test_every_option_has_a_setting_and_every_setting_an_option() -> None:
    keys = {(said.key or name[2:].replace("-", "_")).split(".")[0] for name, said in (ABOUT_INPUT | ABOUT_PART).items()}
    assert InputOptions.model_fields.keys() | PartOptions.model_fields.keys() == keys


def test_options_that_errors_speak_of_exist() -> None:
    room = Path(steadyrest.inputs.__file__).parent
    spoken = {word for file in room.rglob("*.py") for word in re.findall(r"--[a-z][a-z-]+", file.read_text(encoding="utf-8"))}
    assert spoken - {"--tolerance", "--help", "--name"} <= ABOUT_INPUT.keys() | ABOUT_PART.keys()
