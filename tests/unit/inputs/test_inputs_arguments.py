"""What a command line says about inputs."""

import re
from pathlib import Path

import pytest

import steadyrest.inputs
from steadyrest.errors import InputError
from steadyrest.inputs import ABOUT_INPUT, ABOUT_PART, Input, InputOptions, PartOptions, read_arguments
from steadyrest.inputs.options import Wrap
from steadyrest.toolpath import FlatTool


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
