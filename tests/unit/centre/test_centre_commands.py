"""Finding the centre from the command line, and remembering where a rotary stands on its plate."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from steadyrest.centre import Place, forget, places, places_file, recalled, remember
from steadyrest.cli import main
from steadyrest.errors import InputError

BAR = ["--diameter", "40.018", "--top", "8.25", "--sides", "Y", "-37.482", "12.536"]


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def centre(*arguments: str) -> Result:
    result = CliRunner().invoke(main, ["centre", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result


def test_the_offsets_to_enter_are_said_in_one_line() -> None:
    result = centre("find", *BAR)
    assert 0 == result.exit_code
    assert "enter into the work offset: Y -12.4730, Z -11.7590" in result.output


def test_the_work_offset_of_the_controller_is_named() -> None:
    assert "the work offset (G55): Y -12.4730" in centre("find", *BAR, "-c", "tip-feed").output


def test_a_decimal_comma_is_understood() -> None:
    assert "Y -12.4730" in centre("find", "--sides", "Y", "-37,482", "12,536").output


def test_the_result_as_json_has_values_uncertainties_and_where_they_came_from() -> None:
    found = json.loads(centre("find", *BAR, "--json").stdout)
    assert pytest.approx(-12.473) == found["centre"]["Y"]["value"]
    assert ["top of the bar"] == [each["how"] for each in found["centre"]["Z"]["from"]]
    assert found["agrees"] is True


def test_the_sense_of_the_rotary_comes_from_the_profile() -> None:
    readings = [part for angle, value in ((0, 0.0), (90, 0.05), (180, 0.0), (270, -0.05)) for part in ("--reading", str(angle), str(value))]
    here = json.loads(centre("find", *BAR, *readings, "-c", "rs274ngc", "--json").stdout)
    there = json.loads(centre("find", *BAR, *readings, "-c", "rs274ngc-right-end", "--json").stdout)
    assert pytest.approx([-12.473 + 0.05, -12.473 - 0.05], abs=1e-3) == [each["centre"]["Y"]["value"] for each in (here, there)]


@pytest.mark.parametrize("sure_to", ["1e-300", "1e6"])
def test_however_sure_a_touch_is_said_to_be_the_mean_is_a_number(sure_to: str) -> None:
    found = json.loads(centre("find", *BAR, "--flip", "Y", "10", "-34.946", "--sure-to", sure_to, "--json").stdout)
    assert pytest.approx(-12.473) == found["centre"]["Y"]["value"]
    assert pytest.approx(float(sure_to) / 2, rel=1e-9) == found["centre"]["Y"]["uncertainty"]


def test_touches_that_do_not_agree_are_exit_code_3_and_not_remembered() -> None:
    result = centre("find", "--diameter", "40.018", "--tool", "10", "--sides", "Y", "-37.6", "12.536", "--remember", "left")
    assert 3 == result.exit_code
    assert "do not use these numbers yet" in result.output
    assert {} == places()


@pytest.mark.parametrize("arguments", [("find", "--top", "8"), ("find",), ("place", "nowhere"), ("forget", "nowhere")])
def test_wrong_input_is_exit_code_1(arguments: tuple[str, ...]) -> None:
    assert 1 == centre(*arguments).exit_code


@pytest.mark.parametrize(
    "arguments", [("find", "--top", "high"), ("find", "--top", "inf"), ("find", "--sides", "Y", "1e308", "1e308"), ("find", "--along", "Q")]
)
def test_wrong_use_is_exit_code_2(arguments: tuple[str, ...]) -> None:
    assert 2 == centre(*arguments).exit_code


def test_a_remembered_place_follows_the_plate_to_its_next_mounting() -> None:
    centre("find", *BAR, "--remember", "left-end", "--reference", "Y", "-100", "--reference", "Z", "-30", "--note", "dowel hole")
    found = json.loads(centre("place", "left-end", "--reference", "Y", "-99.5", "--reference", "Z", "-29", "--json").stdout)
    assert pytest.approx([-11.973, -10.759]) == [found["centre"][axis]["value"] for axis in "YZ"]
    assert "left-end  along X, from the reference Y +87.5270, Z +18.2410 mm  (dowel hole)" in centre("places").output


def test_a_place_without_a_reference_is_in_machine_coordinates() -> None:
    centre("find", *BAR, "--remember", "bolted")
    assert {"Y": pytest.approx(-12.473), "Z": pytest.approx(-11.759)} == {
        axis: value for axis, (value, _) in recalled("bolted", {}).items()
    }


def test_a_place_of_the_same_name_is_replaced_and_the_others_stay_with_their_comments() -> None:
    places_file().parent.mkdir(parents=True)
    places_file().write_text('# ours\n[right]\nalong = "X" # bolted\nunits = "mm"\nway = {Y = 1, Z = 2}\n')
    remember("left", Place("X", "mm", {"Y": 1.0}))
    remember("left", Place("X", "mm", {"Y": 3.0}))
    assert places_file().read_text().startswith('# ours\n[right]\nalong = "X" # bolted\n')
    assert ["left", "right"] == sorted(places())
    assert {"Y": 3.0} == places()["left"].way


def test_a_forgotten_place_is_gone_and_the_others_stay() -> None:
    remember("left", Place("X", "mm", {"Y": 1.0}))
    remember("right", Place("Y", "inch", {"X": 1.0, "Z": 2.0}))
    forget("left")
    assert ["right"] == list(places())


@pytest.mark.parametrize("name", ["", "two words", "a.b", "../x", "x" * 50])
def test_a_name_that_would_not_be_one_word_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="cannot be the name of a place"):
        remember(name, Place("X", "mm", {"Y": 1.0}))


def test_an_axis_that_the_place_does_not_have_is_refused() -> None:
    remember("left", Place("X", "mm", {"Y": 1.0}))
    with pytest.raises(InputError, match="left has no X"):
        recalled("left", {"X": 1.0})


@pytest.mark.parametrize(
    "text",
    [
        "[a",
        "a = 1",
        '[a]\nalong = "Q"\nunits = "mm"\nway = {Y = 1}',
        '[a]\nalong = "X"\nunits = "mm"\nway = {X = 1}',
        '[a]\nalong = "X"',
        '[a]\nalong = "X"\nunits = "mm"\nway = {Y = nan}',
        '[a]\nalong = "X"\nunits = "mm"\nway = {Y = 1}\nuncertainty = {Y = inf}',
    ],
)
def test_a_damaged_file_is_said_to_be_one_and_never_written_over(text: str) -> None:
    places_file().parent.mkdir(parents=True)
    places_file().write_text(text)
    with pytest.raises(InputError, match=r"places\.toml"):
        remember("left", Place("X", "mm", {"Y": 1.0}))
    assert text == places_file().read_text()
