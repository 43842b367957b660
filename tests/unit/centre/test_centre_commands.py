"""Finding the centre from the command line, and remembering where a rotary stands on its plate."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from centre_parts import BAR, centre
from scipy.spatial.transform import Rotation

from steadyrest.centre import RotaryPlace, forget, places, places_file, recalled, remember
from steadyrest.errors import InputError
from steadyrest.motion import sigma
from steadyrest.profile import load_profile


def test_a_decimal_comma_is_understood() -> None:
    assert "Y -12.5250" in centre("find", "--sides", "Y", "-37,45", "12,4").output


def test_what_may_be_a_thousand_is_not_taken_as_one() -> None:
    refused = centre("find", "--top", "1,000").output
    assert "1,000 is not a number" in refused
    assert "three decimals with a point" in refused


def test_the_sense_of_the_rotary_comes_from_the_profile() -> None:
    readings = [part for angle, value in ((0, 0.0), (90, 0.05), (180, 0.0), (270, -0.05)) for part in ("--reading", str(angle), str(value))]
    here = json.loads(centre("find", *BAR, *readings, "-c", "rs274ngc", "--json").stdout)
    there = json.loads(centre("find", *BAR, *readings, "-c", "rs274ngc-right-end", "--json").stdout)
    assert pytest.approx([-12.473 + 0.05, -12.473 - 0.05], abs=1e-3) == [each["centre"]["Y"]["value"] for each in (here, there)]


@pytest.mark.parametrize("error", ["1e-300", "1e6"])
def test_however_sure_a_touch_is_said_to_be_the_mean_is_a_number(error: str) -> None:
    found = json.loads(centre("find", *BAR, "--flip", "Y", "10", "-34.946", "--touch-error", error, "--json").stdout)
    assert pytest.approx(-12.473) == found["centre"]["Y"]["value"]
    assert pytest.approx(float(error) / 2, rel=1e-9) == found["centre"]["Y"]["uncertainty"]


@pytest.mark.parametrize(
    ("former", "now"), [("--sure-to", "--touch-error"), ("--reading-sure-to", "--reading-error"), ("--size-sure-to", "--size-error")]
)
def test_a_former_name_of_an_option_is_taken_and_not_listed(former: str, now: str) -> None:
    touches = ("find", *BAR, "--reading", "0", "0.046", "--reading", "180", "-0.018")
    plain, before, after = (centre(*touches, *error, "--json").stdout for error in ((), (former, "0.4"), (now, "0.4")))
    assert plain != after
    assert before == after
    listed = centre("find", "--help").output
    assert now in listed
    assert former not in listed


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
    listed = centre("places").output
    assert "left-end  along X, from the reference Y +87.5270, Z +18.2410 mm, " in listed
    assert listed.splitlines()[0].endswith("  (dowel hole)")


def test_a_place_without_a_reference_is_in_machine_coordinates() -> None:
    centre("find", *BAR, "--remember", "bolted")
    assert {"Y": pytest.approx(-12.473), "Z": pytest.approx(-11.759)} == {
        axis: value for axis, (value, _) in recalled("bolted", {}).items()
    }


def test_a_place_of_the_same_name_is_replaced_and_the_others_stay_with_their_comments() -> None:
    places_file().parent.mkdir(parents=True)
    places_file().write_text('# ours\n[right]\nalong = "X" # bolted\nunits = "mm"\nway = {Y = 1, Z = 2}\n')
    remember("left", RotaryPlace("X", "mm", {"Y": 1.0}))
    with pytest.raises(InputError, match="left is remembered already"):
        remember("left", RotaryPlace("X", "mm", {"Y": 3.0}))
    remember("left", RotaryPlace("X", "mm", {"Y": 3.0}), replace=True)
    assert places_file().read_text().startswith('# ours\n[right]\nalong = "X" # bolted\n')
    assert ["left", "right"] == sorted(places())
    assert {"Y": 3.0} == places()["left"].way


def test_a_forgotten_place_is_gone_and_the_others_stay() -> None:
    remember("left", RotaryPlace("X", "mm", {"Y": 1.0}))
    remember("right", RotaryPlace("Y", "inch", {"X": 1.0, "Z": 2.0}))
    forget("left")
    assert ["right"] == list(places())


@pytest.mark.parametrize("name", ["", "two words", "a.b", "../x", "x" * 50])
def test_a_name_that_would_not_be_one_word_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="cannot be the name of a place"):
        remember(name, RotaryPlace("X", "mm", {"Y": 1.0}))


def test_an_axis_that_the_place_does_not_have_is_refused() -> None:
    remember("left", RotaryPlace("X", "mm", {"Y": 1.0}))
    with pytest.raises(InputError, match="left has no coordinate X"):
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
        remember("left", RotaryPlace("X", "mm", {"Y": 1.0}))
    assert text == places_file().read_text()


REFERENCE = ["--reference", "Y", "-100", "--reference", "Z", "-30"]


def test_a_place_keeps_its_reference_what_touched_and_the_day() -> None:
    centre("find", *BAR, "--remember", "left", *REFERENCE, "--touched-with", "edge finder", "-c", "rs274ngc")
    kept = places()["left"]
    assert {"Y": -100.0, "Z": -30.0} == kept.reference
    assert ("edge finder", "rs274ngc") == (kept.touched_with, kept.machine)
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", kept.date)
    shown = centre("place", "left", *REFERENCE).output
    assert f"touched with edge finder, on rs274ngc, found {kept.date}" in shown
    assert "Z is for edge finder" in shown
    assert "spindle stopped" in shown


@pytest.mark.parametrize("asked", [[], ["--reference", "Y", "-99"]])
def test_a_place_that_was_found_from_a_reference_is_refused_without_it(asked: list[str]) -> None:
    centre("find", *BAR, "--remember", "left", *REFERENCE, "--note", "dowel hole")
    result = centre("place", "left", *asked, "--json")
    assert 1 == result.exit_code
    assert "left was found from a reference (dowel hole), then at Y -100, Z -30 mm" in result.output
    assert "give --reference Y LENGTH --reference Z LENGTH" in result.output


def test_a_place_that_was_found_without_a_reference_is_refused_with_one() -> None:
    centre("find", *BAR, "--remember", "bolted")
    result = centre("place", "bolted", "--reference", "Y", "-99")
    assert 1 == result.exit_code
    assert "from the machine's zero, without a reference" in result.output
    assert "leave it out" in result.output


def test_a_place_that_does_not_say_how_it_was_found_is_refused() -> None:
    remember("old", RotaryPlace("X", "mm", {"Y": 1.0}))
    assert "it is not stored whether old was found from a reference" in centre("place", "old").output


def test_a_place_is_not_given_in_other_units_or_on_another_machine() -> None:
    centre("find", *BAR, "--remember", "bolted", "-c", "rs274ngc")
    other_units, other_machine = centre("place", "bolted", "--units", "inch"), centre("place", "bolted", "-c", "tip-feed")
    assert "bolted is stored in mm, but you work in inch" in other_units.output
    assert "is measured from the machine zero of rs274ngc, but this machine is tip-feed" in other_machine.output
    assert [1, 1, 0] == [other_units.exit_code, other_machine.exit_code, centre("place", "bolted").exit_code]


def test_a_place_is_written_over_only_when_somebody_says_so() -> None:
    centre("find", *BAR, "--remember", "left")
    again = centre("find", "--sides", "Y", "0", "10", "--remember", "left")
    assert 1 == again.exit_code
    assert "left is remembered already" in again.output
    assert "--yes" in again.output
    assert pytest.approx(-12.473) == places()["left"].way["Y"]
    assert 0 == centre("find", "--sides", "Y", "0", "10", "--remember", "left", "--yes").exit_code
    assert {"Y": 5.0} == places()["left"].way


def test_units_and_machine_are_said_once() -> None:
    assert 0 == centre("usual", "--units", "inch", "--controller", "tip-feed").exit_code
    assert "units inch, machine tip-feed" in centre("usual").output
    found = centre("find", "--sides", "Y", "0", "1", "--json")
    assert "inch" == json.loads(found.stdout)["units"]
    assert "the work offset (G55)" in found.stderr
    assert "mm" == json.loads(centre("find", "--sides", "Y", "0", "1", "--units", "mm", "--json").stdout)["units"]
    assert 1 == centre("usual", "--controller", "nowhere").exit_code


@pytest.mark.parametrize(
    ("option", "side", "along", "expected"),
    [("--end", "+X", "X", 30.0), ("--end", "-X", "X", 40.0), ("--chuck-face", "+Y", "Y", 30.0), ("--end", "+Z", "Z", 35.0)],
)
def test_the_end_of_the_bar_or_the_face_of_the_chuck_is_found_and_remembered(option: str, side: str, along: str, expected: float) -> None:
    # The side of a 10 mm tool touches what looks to +: the surface lies 5 mm short of what is read. Along Z the tool's end touches.
    result = centre("find", "--along", along, option, side, "35", "--tool", "10", "--remember", "end", "--json")
    assert 0 == result.exit_code, result.output
    assert pytest.approx(expected) == json.loads(result.stdout)["centre"][along]["value"]
    assert pytest.approx(expected) == recalled("end", {})[along][0]
    assert f"that looks to {side}" in places()["end"].end


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (["--end", "+X", "35"], "the tool's diameter is not given"),
        (["--end", "+Y", "35", "--tool", "10"], "but the axis of rotation is along X"),
        (["--end", "+X", "35", "--chuck-face", "+X", "5", "--tool", "10"], "both the bar's end and the chuck's face are given"),
        (["--end", "+X", "35", "--end", "-X", "5", "--tool", "10"], "points to +X and -X"),
        (["--flat", "0", "5"], "exactly two touches"),
        (["--flat", "0", "5", "--flat", "0", "6"], "are not two touches of one nearly level flat"),
        (["--flat", "0", "5", "--flat", "10", "6"], "--controller"),
    ],
)
def test_touches_that_say_nothing_are_refused_with_the_cure(arguments: list[str], wrong: str) -> None:
    result = centre("find", *arguments)
    assert 1 == result.exit_code
    assert wrong in result.output


@pytest.mark.parametrize(("along", "controller"), [("X", "rs274ngc"), ("X", "rs274ngc-right-end"), ("Y", "rs274ngc-b"), ("Z", "upright-c")])
def test_turned_to_where_it_says_the_flat_is_level(along: str, controller: str) -> None:
    # A flat is two points of the part; turned by the command, both have the same height (along Z: the same distance from the operator).
    level, tilt = 17.0, 2.5
    rotary = next(iter(load_profile(controller).rotary.values()))
    axis = np.eye(3)["XYZ".index(along)]
    across, height = {"X": (1, 2), "Y": (0, 2), "Z": (0, 1)}[along]
    points = np.zeros((2, 3))
    points[:, across], points[:, height] = (-12, 15), -18 if along == "Z" else 18
    turned = Rotation.from_rotvec(np.radians(sigma(rotary) * tilt) * axis).apply(points)
    touches = [part for point in turned for part in ("--flat", f"{point[across]:.9f}", f"{point[height]:.9f}")]
    found = json.loads(centre("find", "--along", along, *touches, "--at", str(level + tilt), "-c", controller, "--json").stdout)["flat"]
    assert pytest.approx(level, abs=1e-6) == found["level_at_deg"]
    assert pytest.approx(sigma(rotary) * tilt, abs=1e-6) == found["tilt_deg"]
    assert 0 < found["uncertainty_deg"] < 0.1
