"""The axis of rotation in the page: touches kept in the job and worked out, places of before with today's reference, the usual."""

from __future__ import annotations

import json
import os
from math import cos, radians, sin
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from page_client import JOB, value_of
from starlette.testclient import TestClient
from test_page_today import TODAY, a_part, keep, own_configuration, upright_b

from steadyrest.centre import RotaryPlace, places, remember, usual
from steadyrest.cli import main
from steadyrest.inputs import load_job
from steadyrest.profile import resolve
from steadyrest.request import Request

__all__ = ["own_configuration"]
TOUCHED = {
    "units": "mm",
    "diameter": "40.018",
    "top_1": "8.25",
    "top_2": "8.254",
    "side_Y_1": "-37.482",
    "side_Y_2": "12.536",
    "tool": "10",
}


def touch(page: TestClient, address: str = TODAY, **typed: str) -> Any:
    """Keep touches, as the page's script does."""
    seen = value_of(page.get(address).text, "seen")
    place = address.replace("today", "today/touches", 1)
    return page.post(place, data={"seen": seen, "units": "mm"} | typed, headers={"accept": "application/json"})


def place(page: TestClient, address: str = TODAY, **said: str) -> Any:
    seen = value_of(page.get(address).text, "seen")
    return page.post(address.replace("today", "today/place", 1), data={"seen": seen, **said})


def rows(answer: Any) -> dict[str, tuple[str, str]]:
    return {one["axis"]: (one["value"], one["within"]) for one in answer.json()["found"]["rows"]}


def test_touches_are_kept_in_the_job_and_worked_out_as_on_the_command_line(page: TestClient, parts: Path) -> None:
    """By hand: sides -37.482 and 12.536 have their middle at -12.473. Tops 8.25 and 8.254, less half of 40.018: -11.757."""
    answer = touch(page, **TOUCHED)
    assert ("-12.4730", "-11.7570") == (rows(answer)["Y"][0], rows(answer)["Z"][0])
    kept = load_job(parts / JOB).setup.touches
    assert kept is not None
    assert (40.018, (8.25, 8.254), (("Y", -37.482, 12.536),)) == (kept.diameter, kept.top, kept.sides)
    told = CliRunner().invoke(main, ["centre", "find", "--job", str(parts / JOB)])
    assert told.output.strip() == answer.json()["found"]["text"]
    text = page.get(TODAY).text
    assert 'name="side_Y_2" inputmode="decimal" autocomplete="off" value="12.536"' in text
    assert "-12.4730 mm" in text
    digest = answer.json()["digest"]
    assert digest == value_of(text, "seen")


def test_uncertainty_and_residuals_are_shown(page: TestClient) -> None:
    """Two sides touched within 0.01 each: their middle within 2 * 0.01 / sqrt 2 = 0.0141, about 95 percent. Indicator 0.1 cos W and 0.01 at
    45 degrees more than that: it does not fit."""
    assert "0.0141" == rows(touch(page, side_Y_1="-30", side_Y_2="10"))["Y"][1]
    keep(page, chuck_faces="+X", turns="clockwise")
    said = {"side_Y_1": "-30", "side_Y_2": "10", "read_0": "0.1", "read_90": "0", "read_180": "-0.1", "read_270": "0"}
    assert "residual 0.0000" in touch(page, **said).json()["found"]["text"]
    found = touch(page, **said, more_1_at="45", more_1="0.12").json()["found"]
    assert found["bad"]
    assert "repeat" in found["text"]
    assert not found["rows"]


def test_nothing_is_lost_where_one_entry_is_wrong_and_nothing_is_kept(page: TestClient, parts: Path) -> None:
    before = (parts / JOB).read_bytes()
    wrongs: list[tuple[dict[str, str], str]] = [
        ({"diameter": "forty"}, "is not a number"),
        ({"side_Y_1": "3"}, "Bar in the chuck, the other side, Y"),
        ({"diameter": "0"}, "more than 0"),
        ({"end_1": "3"}, "say where it looks"),
        ({"top_1": "1e99"}, "is not a number"),
    ]
    for wrong, words in wrongs:
        answer = touch(page, tool="6", **wrong)
        assert 422 == answer.status_code
        assert words in answer.json()["text"]
        assert before == (parts / JOB).read_bytes()
    said = {"seen": value_of(page.get(TODAY).text, "seen"), "units": "mm", "diameter": "forty", "tool": "6"}
    answer = page.post(f"today/touches?job={JOB}", data=said)
    assert 422 == answer.status_code
    assert 'value="forty"' in answer.text
    assert 'name="tool" inputmode="decimal" autocomplete="off" value="6"' in answer.text


def test_without_script_the_form_keeps_and_leads_back(page: TestClient) -> None:
    seen = value_of(page.get(TODAY).text, "seen")
    answer = page.post(f"today/touches?job={JOB}", data={"seen": seen, **TOUCHED})
    assert 303 == answer.status_code
    assert answer.headers["location"].endswith("#axis")
    empty = page.post(f"today/touches?job={JOB}", data={"seen": value_of(page.get(TODAY).text, "seen"), "units": "mm"})
    assert 303 == empty.status_code
    assert "To enter into" in page.get(TODAY).text


def test_touches_that_somebody_wrote_by_hand_and_the_form_cannot_hold_are_not_overwritten(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text() + '\n[setup.touches]\nunits = "mm"\ndiameter = 40\ntop = [1, 1, 1, 1, 1, 1, 1]\n')
    before = job.read_bytes()
    text = page.get(TODAY).text
    assert "The job file holds more touches than this form can show" in text
    assert "-19.0000 mm" in text, "what comes of them is shown all the same"
    assert 422 == touch(page, top_1="2", diameter="40").status_code
    assert before == job.read_bytes()


def test_runout_to_the_side_is_not_worked_out_from_a_mounting_that_nobody_has_seen(page: TestClient) -> None:
    """By hand: the indicator on top reads 0.05 more at 90 degrees. Facing +X and clockwise, 90 turns the part left-hand about +X: what was
    at -Y comes up. So the bar stands 0.05 towards -Y at 0, where its sides give -10, and the axis is at -9.95. Facing -X it is at -10.05.
    """
    readings = {"read_0": "0", "read_90": "0.05", "read_180": "0", "read_270": "-0.05"}
    said = {"side_Y_1": "-30", "side_Y_2": "10", **readings}
    found = touch(page, **said).json()["found"]
    assert found["bad"]
    assert not found["rows"]
    assert "assumed, not seen" in found["doubt"]
    keep(page, chuck_faces="+X", turns="not-known")
    assert "assumed, not seen" in touch(page, **said).json()["found"]["doubt"]
    keep(page, chuck_faces="+X", turns="clockwise")
    answer = touch(page, **said)
    assert "" == answer.json()["found"]["doubt"]
    assert "-9.9500" == rows(answer)["Y"][0]
    keep(page, chuck_faces="-X", turns="clockwise")
    assert "-10.0500" == rows(touch(page, **said))["Y"][0]


def test_the_axis_of_rotation_is_that_of_the_part_also_where_the_job_does_not_name_it(page: TestClient, parts: Path) -> None:
    today = a_part(parts, "Y", controller=upright_b(parts))
    text = page.get(today).text
    assert "One side, X" in text
    assert "One side, Y" not in text
    assert "axis along Y" in touch(page, today, diameter="40", top_1="8").json()["found"]["text"]


def test_the_work_offset_allows_for_the_centre_of_the_toolpath(page: TestClient, parts: Path) -> None:
    """By hand: the top of a bar of 40 at 8 puts the axis at -12; it is at -20 in the part, so 0 of the part is at +8."""
    answer = touch(page, a_part(parts, centre=(0, 0, -20)), diameter="40", top_1="8")
    assert "8.0000" == rows(answer)["Z"][0]
    assert "enter into the work offset (G54): Z 8.0000" in answer.json()["found"]["text"]


def test_each_kind_of_touch_that_the_command_line_knows_is_taken(page: TestClient) -> None:
    """By hand. Faces 12 and 8, 20 apart: (12 + 8 - 20) / 2 = 0. A feature at Y 5 and -1: 2. Points of a circle round (1, 2). The end
    touched at 35 from + with a tool of 10: 30, which is X 0 of the part. A flat level within atan(0.3 / 24).
    """
    keep(page, chuck_faces="+X", turns="clockwise")
    assert "0.0000" == rows(touch(page, face_1_0="12", face_1_180="8", thickness="20"))["Z"][0]
    assert "2.0000" == rows(touch(page, flip_Y_0="5", flip_Y_180="-1"))["Y"][0]
    points = {"point_1_1": "6", "point_1_2": "2", "point_2_1": "1", "point_2_2": "7", "point_3_1": "-4", "point_3_2": "2"}
    found = rows(touch(page, **points))
    assert ("1.0000", "2.0000") == (found["Y"][0], found["Z"][0])
    assert "30.0000" == rows(touch(page, end_side="+X", end_1="35", tool="10"))["X"][0]
    face = touch(page, chuck_side="+X", chuck_1="35", tool="10").json()["found"]
    assert "face of the chuck that looks to +X, which is no place of the part" in face["text"]
    assert (
        "tilted by +0.7162 degrees" in touch(page, flat_1_1="-12", flat_1_2="18.1", flat_2_1="12", flat_2_2="18.4").json()["found"]["text"]
    )


def test_in_inches_the_offset_is_in_inches(page: TestClient) -> None:
    answer = touch(page, units="inch", side_Y_1="-1", side_Y_2="2")
    assert "0.5000" == rows(answer)["Y"][0]
    assert "inch" == answer.json()["found"]["rows"][0]["units"]
    assert "0.5000 inch" in page.get(TODAY).text


def test_what_was_found_is_remembered_from_its_reference_and_used_again_with_that_of_today(page: TestClient, parts: Path) -> None:
    """By hand: the axis at Y -12.473 is 87.527 from a hole at -100; with the hole at -99.5 today it is at -11.973."""
    touch(page, **TOUCHED)
    said = {"place": "left-end", "note": "dowel hole", "touched-with": "edge finder", "reference-Y": "-100"}
    assert 303 == page.post(f"today/remember?job={JOB}", data=said).status_code
    assert {"Y": pytest.approx(87.527), "Z": pytest.approx(-11.757)} == places()["left-end"].way
    text = page.get(TODAY).text
    assert "Touch its reference again: Y today, mm" in text
    assert "was -100" in text
    answer = place(page, place="left-end", do="use")
    assert 422 == answer.status_code
    assert "its Y of today is not given" in answer.text
    assert 303 == place(page, place="left-end", do="use", **{"reference-Y": "-99,5"}).status_code
    assert ("left-end", (("Y", -99.5),)) == (load_job(parts / JOB).setup.place, load_job(parts / JOB).setup.reference)
    text = page.get(TODAY).text
    assert "Used for this job." in text
    assert "Y -11.9730 mm" in text
    assert "check it with one touch" in text
    assert 303 == place(page, place="left-end", do="leave").status_code
    assert load_job(parts / JOB).setup.place is None
    assert 303 == place(page, place="left-end", do="forget").status_code
    assert {} == places()


def test_a_place_is_only_replaced_when_somebody_says_so(page: TestClient) -> None:
    touch(page, **TOUCHED)
    assert 303 == page.post(f"today/remember?job={JOB}", data={"place": "here"}).status_code
    assert 422 == page.post(f"today/remember?job={JOB}", data={"place": "here"}).status_code
    assert 422 == page.post(f"today/remember?job={JOB}", data={"place": "no name"}).status_code
    assert 422 == page.post(f"today/remember?job={JOB}", data={"place": "a", "reference-Y": "far"}).status_code
    assert ["here"] == list(places())
    assert 303 == page.post(f"today/remember?job={JOB}", data={"place": "here", "replace": "yes"}).status_code


def test_touches_that_do_not_agree_are_told_and_not_remembered(page: TestClient) -> None:
    found = touch(page, diameter="40", top_1="8.25", top_2="9.25").json()["found"]
    assert found["bad"]
    assert "touch again" in found["text"]
    assert not found["rows"]
    assert 422 == page.post(f"today/remember?job={JOB}", data={"place": "x"}).status_code
    assert {} == places()


def test_a_place_of_another_axis_or_another_machine_is_not_used(page: TestClient, parts: Path) -> None:
    remember("along-y", RotaryPlace("Y", "mm", {"X": 1.0}, reference={}))
    remember("other-mill", RotaryPlace("X", "mm", {"Y": 1.0}, reference={}, machine="other-mill"))
    before = (parts / JOB).read_bytes()
    assert "Along another axis than this part." in page.get(TODAY).text
    for name, words in (("along-y", "is along Y"), ("other-mill", "machine zero of other-mill"), ("nowhere", "no place is remembered")):
        answer = place(page, place=name, do="use")
        assert 422 == answer.status_code
        assert words in answer.text
    assert before == (parts / JOB).read_bytes()


def test_a_place_that_the_job_uses_and_nobody_remembers_any_more_is_told(page: TestClient) -> None:
    remember("gone", RotaryPlace("X", "mm", {"Y": 1.0}, reference={}))
    assert 303 == place(page, place="gone", do="use").status_code
    place(page, place="gone", do="forget")
    assert "gone, which this job uses, is not remembered any more" in page.get(TODAY).text
    assert 303 == place(page, place="gone", do="leave").status_code


def test_a_damaged_file_of_places_is_told_and_the_step_still_works(page: TestClient, tmp_path: Path) -> None:
    own = Path(os.environ["XDG_CONFIG_HOME"]) / "steadyrest"
    own.mkdir(parents=True)
    (own / "places.toml").write_text("left = 3\n")
    (own / "centre.toml").write_text('units = "cm"\n')
    answer = page.get(TODAY)
    assert 200 == answer.status_code
    assert "places.toml" in answer.text
    assert "centre.toml" in answer.text


def test_what_is_usual_is_said_once_and_offered_to_the_next_job(page: TestClient, parts: Path) -> None:
    assert "no machine said" in page.get(TODAY).text
    assert 303 == page.post(f"today/usual?job={JOB}", data={"units": "inch", "machine": "this"}).status_code
    assert ("inch", "rs274ngc") == (usual().units, usual().machine)
    assert 422 == page.post(f"today/usual?job={JOB}", data={"units": "cm"}).status_code
    other = a_part(parts, controller="tip-feed")
    text = page.get(other).text
    assert "<option selected>inch</option>" in text
    assert "Take rs274ngc, the usual one in this shop" in text


def test_touches_change_neither_the_program_nor_what_was_looked_at(page: TestClient, parts: Path) -> None:
    from steadyrest.page.inputs_seen import key_of as inputs_key
    from steadyrest.page.job_file import read_job_file
    from steadyrest.page.made import key_of

    before = read_job_file(parts / JOB)
    touch(page, **TOUCHED)
    after = read_job_file(parts / JOB)
    assert before.text != after.text
    assert (key_of(before), inputs_key(before)) == (key_of(after), inputs_key(after))
    keep(page, chuck_faces="-X", turns="clockwise")
    assert key_of(after) != key_of(read_job_file(parts / JOB))


def test_the_form_answers_plain_data(page: TestClient) -> None:
    assert {"digest", "found"} == set(json.loads(touch(page, **TOUCHED).text))


# A ball on two-in-table with A turned, worked by hand: it stands 40 in Y and 2 in Z from the line, which runs through Y 0.12 Z 48 from the
# reference point; a positive A turns the part left-hand about +X, so at 90 the way (40, 2) has become (2, -40), and at -90 (-2, 40).
BALLS = ((0, 5, 40.12, 50), (90, 5, 2.12, 8), (-90, 5, -1.88, 88))


def found_with(letter: str, balls: tuple[tuple[float, ...], ...], **more: str) -> dict[str, str]:
    """What is typed where a ball was found so."""
    named = {f"ball_{n}_{name}": f"{each:g}" for n, one in enumerate(balls, 1) for name, each in zip(("at", *"XYZ"), one, strict=False)}
    return {"letter": letter, **named, **more}


def store(page: TestClient, address: str, letter: str, keep: str, child: str = "") -> Any:
    digest = value_of(page.get(address).text, "digest")
    data = {"digest": digest, "letter": letter, "keep": keep, "child": child}
    return page.post(address.replace("today", "today/line", 1), data=data)


def test_the_line_of_a_rotary_comes_from_a_ball_as_on_the_command_line(page: TestClient, parts: Path) -> None:
    address, job = a_part(parts, controller="two-in-table"), parts / "p.job.toml"
    assert "Where the axis of A is: from a ball" in page.get(address).text
    answer = touch(page, address, **found_with("A", BALLS))
    assert {"X": "0.0000", "Y": "0.1200", "Z": "48.0000"} == {axis: value for axis, (value, _) in rows(answer).items()}
    assert BALLS == load_job(job).setup.lines["A"].balls
    balls = [word for one in BALLS for word in ("--ball", *map(str, one))]
    told = CliRunner().invoke(main, ["centre", "line", "--controller", "two-in-table", "--rotary", "A", *balls])
    assert told.stderr.strip() == answer.json()["found"]["text"]
    assert "Which way A turns is assumed, not seen" in answer.json()["found"]["doubt"]
    assert 'name="ball_2_Y" inputmode="decimal" autocomplete="off" value="2.12"' in page.get(address).text
    assert answer.json()["digest"] == value_of(page.get(address).text, "seen")


def test_the_line_is_stored_for_the_job_or_for_the_machine(page: TestClient, parts: Path) -> None:
    address = a_part(parts, controller="two-in-table")
    assert 422 == store(page, address, "A", "today").status_code, "nothing was found yet"
    touch(page, address, **found_with("A", tuple((at, x, y + 0.38, z) for at, x, y, z in BALLS)))
    assert "assumed, not found at this machine" in page.get(address).text
    assert 303 == store(page, address, "A", "today").status_code
    assert ("rotary.A.point=[0.0, 0.5, 48.0]",) == tuple(Request(parts / "p.job.toml").with_job().sets)
    assert "X 0 Y 0.5 Z 48 mm from the reference point, centre of the toolpath: said for this job." in page.get(address).text
    assert "rotary.A.point = [0, 0.5, 48]  # ball at 3 angles, " in store(page, address, "A", "", "our-table").text
    assert 303 == store(page, address, "A", "machine", "our-table").status_code
    assert (0.0, 0.5, 48.0) == resolve("our-table").profile.rotary["A"].point
    assert (("our-table"), ()) == ((now := Request(parts / "p.job.toml").with_job()).named_controller, tuple(now.sets))


def test_of_a_head_the_pivot_is_found_with_the_length_of_the_probe(page: TestClient, parts: Path) -> None:
    """By hand: with a probe of 100 the pivot is 250 above the middle of its ball. A turn of 30 right-hand about Y takes that by 125 to the
    left and 33.494 up, so X and Z have to go as far to the right and down, to come to a ball that stands still.
    """
    address = a_part(parts, controller="head-and-table")
    away, up = 250 * sin(radians(30)), 250 * (1 - cos(radians(30)))
    balls = ((0.0, 0.0, 0.0, 0.0), (30.0, away, 0.0, -up), (-30.0, -away, 0.0, -up))
    refused = touch(page, address, **found_with("B", balls))
    assert "measure the probe" in refused.json()["found"]["text"]
    answer = touch(page, address, **found_with("B", balls, gauge_length="100"))
    assert {"X": "0.0000", "Y": "0.0000", "Z": "150.0000"} == {axis: value for axis, (value, _) in rows(answer).items()}
    assert 303 == store(page, address, "B", "machine", "our-head").status_code
    assert (0.0, 0.0, 150.0) == resolve("our-head").profile.rotary["B"].pivot


def test_places_of_a_ball_that_do_not_agree_are_told_and_not_stored(page: TestClient, parts: Path) -> None:
    address = a_part(parts, controller="two-in-table")
    off = ((*BALLS[0][:3], 50.5), *BALLS[1:])
    found = touch(page, address, **found_with("A", off)).json()["found"]
    assert (True, []) == (found["bad"], found["rows"])
    assert "do not fit" in found["text"]
    for how in ("today", "", "machine"):
        assert 422 == store(page, address, "A", how).status_code
    assert () == tuple(Request(parts / "p.job.toml").with_job().sets)


def test_a_ball_of_a_rotary_that_the_machine_has_not_is_refused(page: TestClient, parts: Path) -> None:
    address = a_part(parts, controller="two-in-table")
    assert 422 == touch(page, address, **found_with("B", BALLS)).status_code
    assert 422 == store(page, address, "B", "today").status_code
    half = touch(page, address, **found_with("A", (BALLS[0][:3],)))
    assert "A ball at several angles, Z: is missing" in half.json()["text"]
    assert 422 == half.status_code
