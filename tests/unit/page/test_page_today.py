"""How it stands today: pictures, words, and what is posted agree; a direction that nobody knows is found by the turn check."""

from __future__ import annotations

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
    return page.post(TODAY, data={"seen": seen[1], "controller": "rs274ngc", **said}).status_code


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


def test_what_the_profile_says_itself_is_not_written_into_the_job(page: TestClient, parts: Path) -> None:
    before = (parts / JOB).read_text()
    assert 303 == keep(page, chuck_faces="+X", turns="clockwise")
    assert before == (parts / JOB).read_text()
    assert 422 == keep(page, chuck_faces="+Y", turns="clockwise")
    assert 422 == keep(page, chuck_faces="+X", turns="")


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
