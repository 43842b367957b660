"""How it stands today: pictures, words, and what is posted agree; a direction that nobody knows is found by the turn check."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.centre import places
from steadyrest.posting import post_to_memory
from steadyrest.profile import resolve
from steadyrest.request import Request

TODAY = f"today?job={JOB}"


@pytest.fixture(autouse=True)
def own_configuration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def keep(page: TestClient, **said: str) -> int:
    seen = re.search(r'name="seen" value="([0-9a-f]{16})"', page.get(TODAY).text)
    assert seen is not None
    return page.post(TODAY, data={"seen": seen[1], "controller": "rs274ngc"} | said).status_code


@pytest.mark.parametrize(
    ("faces", "turns", "angle"),
    [
        # ISO 841 (from memory): a positive A turns a work table left-hand about +X. Facing +X that is clockwise at the chuck's face, and
        # the tool is at alpha = W; each of the two facts, changed, turns the sign of W.
        ("+X", "clockwise", 120),
        ("+X", "counterclockwise", -120),
    ],
)
def test_the_mounting_that_is_chosen_is_the_one_that_is_posted(page: TestClient, parts: Path, faces: str, turns: str, angle: int) -> None:
    assert 303 == keep(page, chuck_faces=faces, turns=turns)
    _, program = post_to_memory(Request(parts / JOB).with_job())
    words = {float(word) for word in re.findall(rb"A(-?[0-9.]+)", program)}
    assert float(angle) in words or float(angle) % 360 in words or float(angle) - 360 in words
    assert f"turns the chuck {turns}, looking at its face; the chuck faces {faces}" in page.get(TODAY).text
    assert f"A+ turns the chuck {turns}" in whole(page, f"look?job={JOB}")


def test_what_the_shop_s_own_profile_says_is_not_written_into_the_job(page: TestClient, parts: Path, tmp_path: Path) -> None:
    own = tmp_path / "config" / "steadyrest" / "controllers" / "own"
    own.mkdir(parents=True)
    (own / "controller.toml").write_text('extends = "rs274ngc"\n[rotary.A]\nchuck_faces = "+X"\npositive_turns_chuck = "clockwise"\n')
    job = parts / JOB
    job.write_text(re.sub(r'controller = "[^"]*"', 'controller = "own"', job.read_text()))
    assert "Nobody has said" not in page.get(TODAY).text
    before = job.read_text()
    assert 303 == keep(page, controller="own", chuck_faces="+X", turns="clockwise")
    assert before == job.read_text()
    assert 422 == keep(page, controller="own", chuck_faces="+Y", turns="clockwise")
    assert 422 == keep(page, controller="own", chuck_faces="+X", turns="")


def test_what_a_bundled_profile_assumes_is_not_told_as_a_fact_until_somebody_has_said_so(page: TestClient, parts: Path) -> None:
    assert "Nobody has said so yet" in page.get(TODAY).text
    assert 303 == keep(page, chuck_faces="+X", turns="clockwise")
    assert 'positive_turns_chuck = "clockwise"' in (parts / JOB).read_text()
    assert "Nobody has said" not in page.get(TODAY).text


def test_another_machine_takes_away_the_mounting_of_the_one_before_and_nothing_else(page: TestClient, parts: Path) -> None:
    keep(page, chuck_faces="-X", turns="clockwise")
    job = parts / JOB
    job.write_text(job.read_text() + '\n[post.set.program]\nextension = ".tap"\n')
    assert 303 == keep(page, controller="tip-feed")
    request = Request(job).with_job()
    assert ("tip-feed", ['program.extension=".tap"']) == (request.named_controller, list(request.sets))


def a_part(parts: Path, axis: str = "X", centre: tuple[float, ...] = (0, 0, 0), controller: str = "rs274ngc") -> str:
    """A job of its own beside the others; its address."""
    stock = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
    moves = [{"rapid": [-20, -20, 60]}, {"cut": [-20, 20, 17], "feed": 300}]
    cut = {"name": "f", "tool": 3, "spindle": {"rpm": 8000, "turns": "clockwise"}, "coolant": "off", "rotary": {"intent": "still"}}
    said = {"steadyrest_toolpath": 1, "name": "p", "units": "mm", "axis": axis, "centre": centre, "stock": stock}
    said |= {"tools": [{"number": 3, "shape": "flat", "diameter": 6}], "operations": [{**cut, "moves": moves}]}
    (parts / "p.toolpath.json").write_text(json.dumps(said))
    (parts / "p.job.toml").write_text(f'steadyrest_job = 1\n[[inputs]]\nfile = "p.toolpath.json"\n[post]\ncontroller = "{controller}"\n')
    return "today?job=p.job.toml"


def test_the_axis_of_rotation_is_that_of_the_part_also_where_the_job_does_not_name_it(page: TestClient, parts: Path) -> None:
    text = page.get(a_part(parts, "Y", controller="rs274ngc-b") + "&diameter=40&top=8").text
    assert "One side in X" in text
    assert "axis along Y" in text


def test_a_machine_without_a_rotary_along_the_axis_of_the_part_is_not_shown_as_if_it_had_one(page: TestClient, parts: Path) -> None:
    assert "rs274ngc has no rotary along Y" in page.get(a_part(parts, "Y")).text


def test_the_work_offset_allows_for_the_centre_of_the_toolpath(page: TestClient, parts: Path) -> None:
    """By hand: the top of a bar of 40 at 8 puts the axis at -12; it is at -20 in the part, so 0 of the part is at +8."""
    assert "enter into the work offset (G54): Z 8.0000" in page.get(a_part(parts, centre=(0, 0, -20)) + "&diameter=40&top=8").text


def test_a_borrowed_drive_that_counts_against_the_degrees_is_shown_as_its_display_counts(page: TestClient, parts: Path) -> None:
    against = parts / "against"
    against.mkdir()
    (against / "controller.toml").write_text(
        'extends = "y-drives-rotary"\nspeaks = "a drive that counts against"\n[rotary.A]\nmm_per_degree = -0.1\n'
        'chuck_faces = "+X"\npositive_turns_chuck = "clockwise"\n'
    )
    text = page.get(a_part(parts, controller="./against")).text
    assert "Y+ turns the chuck counterclockwise, looking at its face" in text
    assert "a positive Y turns the part right-hand about +X" in text
    assert re.search(r'value="clockwise" checked> <b>counterclockwise</b>', text)


def test_the_turn_check_is_written_and_what_was_seen_is_stored_under_a_name_of_the_shop(page: TestClient, parts: Path) -> None:
    answer = page.post(f"today/check?job={JOB}", data={})
    assert 303 == answer.status_code
    assert b"M30" in (parts / "turn-check-a.nc").read_bytes() or b"M2" in (parts / "turn-check-a.nc").read_bytes()
    digest = value_of(page.get(TODAY).text, "digest")
    said = {"digest": digest, "chuck_faces": "+X", "seen": "towards-me", "child": "big-mill", "keep": ""}
    text = page.post(f"today/seen?job={JOB}", data=said).text
    assert "positive_turns_chuck: clockwise -&gt; counterclockwise" in text
    assert "Store it for this machine" in text
    assert 303 == page.post(f"today/seen?job={JOB}", data={**said, "keep": "machine"}).status_code
    rotary = resolve("big-mill", ()).profile.rotary["A"]
    assert ("+X", "counterclockwise") == (rotary.chuck_faces, rotary.positive_turns_chuck)
    assert 'controller = "big-mill"' in (parts / JOB).read_text()
    assert 422 == page.post(f"today/seen?job={JOB}", data={**said, "seen": "up"}).status_code


def test_what_was_seen_can_hold_for_this_job_alone(page: TestClient, parts: Path) -> None:
    digest = value_of(page.get(TODAY).text, "digest")
    said = {"digest": digest, "chuck_faces": "-X", "seen": "towards-me", "keep": "today"}
    assert 303 == page.post(f"today/seen?job={JOB}", data=said).status_code
    request = Request(parts / JOB).with_job()
    rotary = resolve(request.named_controller, request.sets).profile.rotary["A"]
    assert ("-X", "clockwise") == (rotary.chuck_faces, rotary.positive_turns_chuck)
    assert "rs274ngc" == request.named_controller


def test_the_centre_is_worked_out_from_touches_and_remembered(page: TestClient) -> None:
    touched = {"units": "mm", "diameter": "40,018", "top": "8.25; 8.254", "side-one": "-37.482", "side-other": "12.536", "tool": "10"}
    text = page.get(TODAY, params={"job": JOB, **touched}).text
    assert "-12.473" in text
    assert "-11.757" in text
    answer = page.post(f"today/place?job={JOB}", data={**touched, "place": "left-end"})
    assert 303 == answer.status_code
    assert {"Y": pytest.approx(-12.473, abs=1e-3), "Z": pytest.approx(-11.757, abs=1e-3)} == places()["left-end"].way
    assert "left-end" in page.get(TODAY).text
    page.post(f"today/place?job={JOB}", data={"place": "left-end", "do": "forget"})
    assert {} == places()


def test_touches_that_do_not_agree_are_told_and_not_remembered(page: TestClient) -> None:
    touched = {"units": "mm", "diameter": "40", "top": "8.25; 9.25"}
    assert "again" in page.get(TODAY, params={"job": JOB, **touched}).text
    assert 422 == page.post(f"today/place?job={JOB}", data={**touched, "place": "x"}).status_code
    assert {} == places()
    assert "is not a length" in page.get(TODAY, params={"job": JOB, "diameter": "forty"}).text


@pytest.mark.browser
def test_in_a_browser_the_mounting_is_chosen_by_picture(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    with opened(1366, 768) as page:
        page.goto(f"{address}{TODAY}")
        page.locator("input[name=turns][value=counterclockwise]").check()
        page.get_by_role("button", name="Keep for this job").click()
        page.get_by_text("A+ turns the chuck counterclockwise").wait_for()
        assert [] == accessible(page)
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert 'positive_turns_chuck = "counterclockwise"' in (parts / JOB).read_text()
