"""Look: the report's own views, what has to be checked, and the run record; in the browser as the person at the machine."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.record import runs_of

LOOK = f"look?job={JOB}"


def test_the_outcome_comes_first_with_the_reports_own_views_and_the_boxes_of_the_sheet(page: TestClient) -> None:
    text = whole(page, LOOK)
    assert text.index('class="verdict look"') < text.index('id="findings"') < text.index('id="run-record"')
    for part in ('id="space"', 'id="over-time"', 'id="setup-sheet"', 'id="listing"', "Guards closed"):
        assert part in text
    assert not re.search(r"<script(?![^>]*(src=|type=\"application))", text), "the policy lets no script run that stands in the page"
    assert " style=" not in text
    key = re.findall(r'name="seen" value="(made-[^"]+)"', text)[0]
    assert page.get(f"look/columns?job={JOB}&key={key}").content[:1] == b"\x78"  # deflated, RFC 1950
    assert 422 == page.get(f"look/columns?job={JOB}&key=older").status_code
    assert "makeSpace" in page.get("look/viewer/5_space.js").text
    assert page.get("look/viewer/..%2f..%2fpage.py").status_code in (404, 422)


def slip(parts: Path) -> None:
    """A dialect of the shop's with a cut in a template, where nobody asks for one."""
    templates = parts / "mill" / "templates"
    templates.mkdir(parents=True)
    (templates.parent / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "with a slip in a template"\n')
    (templates / "index.j2").write_text("{{ motion }}\nG1 X-40 Y3 F300\n")
    job = parts / JOB
    job.write_text(job.read_text().replace('controller = "rs274ngc"', f'controller = "{parts / "mill"}"'))


def test_a_program_that_is_refused_is_shown_beside_what_is_asked_for(page: TestClient, parts: Path) -> None:
    slip(parts)
    text = whole(page, LOOK)
    assert text.index('class="verdict stop"') < text.index('id="difference"') < text.index('id="picture"') < text.index('id="findings"')
    assert 2 == text.count('<svg class="side-by-side"')
    assert " style=" not in text


@pytest.mark.browser
@pytest.mark.long  # the report shows the same, and is always tried
@pytest.mark.parametrize(("width", "height"), [(1366, 768), (390, 844)])
def test_both_sides_of_a_refused_program_are_seen_in_the_browser(address: str, parts: Path, width: int, height: int) -> None:
    from browser_page import accessible, opened

    slip(parts)
    with opened(width, height) as seen:
        seen.goto(f"{address}{LOOK}")
        seen.wait_for_selector('html[data-charts="yes"]', state="attached", timeout=60_000)
        asked, found = (one.bounding_box() for one in seen.locator(".side-by-side").all())
        assert asked["width"] == pytest.approx(found["width"], abs=1)
        assert (asked["y"] == pytest.approx(found["y"], abs=1)) == (width > 700)
        assert width >= seen.evaluate("document.documentElement.scrollWidth")
        assert [] == accessible(seen)


def test_what_is_ticked_and_filled_in_is_kept_beside_the_job(page: TestClient, parts: Path) -> None:
    text = whole(page, LOOK)
    (box,) = re.findall(r'value="(sheet:Guards[^"]*)"', text)
    said = {"seen": value_of(text, "seen"), "checked": [box, "not a box"], "tool-1": "118.2", "origin": "G54", "remarks": "<b>slow</b>"}
    assert 303 == page.post(f"look/run?job={JOB}", data=said).status_code
    (kept,) = runs_of(parts / JOB)
    assert ((box,), {"1": "118.2"}, "G54", False) == (kept.checked, kept.tools, kept.origin, kept.run)
    text = whole(page, LOOK)
    assert f'value="{box}" checked' in text
    assert "&lt;b&gt;slow&lt;/b&gt;" in text
    page.post(f"look/run?job={JOB}", data={**said, "run": "yes"})
    job = parts / JOB
    job.write_text(job.read_text() + '[post.set]\nrotary.A.chuck_faces = "-X"\n')
    text = whole(page, LOOK)
    assert "Different from the last run" in text
    assert "the rotary stands differently" in text
    assert 'value="118.2"' in text, "the next run starts from the last"
    assert f'value="{box}" checked' not in text


def test_what_is_filled_in_on_an_older_page_is_not_kept_for_another_program(page: TestClient, parts: Path) -> None:
    seen = value_of(whole(page, LOOK), "seen")
    job = parts / JOB
    job.write_text(job.read_text().replace("diameter = 40", "diameter = 41"))
    whole(page, LOOK)
    answer = page.post(f"look/run?job={JOB}", data={"seen": seen, "run": "yes"})
    assert 422 == answer.status_code
    assert "changed since this page was shown" in answer.text
    assert [] == runs_of(job)


def test_a_finding_that_stops_can_be_taken_on_for_this_job_and_a_failed_proof_never(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text().replace("length = 20", "length = 85"))
    text = whole(page, LOOK)
    assert 'class="verdict stop"' in text
    (name,) = set(re.findall(r"accept “([a-z-]+)” for this job", text))
    data = {"seen": re.search(r'name="seen" value="([0-9a-f]{16})"', text)[1], "name": name}  # type: ignore[index]
    assert 422 == page.post(f"look/accept?job={JOB}", data={**data, "name": "proof"}).status_code
    assert 303 == page.post(f"look/accept?job={JOB}", data=data).status_code
    assert f'accept = ["{name}"]' in job.read_text()
    text = whole(page, LOOK)
    assert "Accepted for this job" in text
    assert 'class="verdict stop"' not in text


def test_a_job_of_which_no_program_can_be_made_says_why(page: TestClient, parts: Path) -> None:
    (parts / "face.nc").unlink()
    text = whole(page, LOOK)
    assert "face.nc" in text
    assert "there is no such file" in text
    assert 303 == page.post(f"look/again?job={JOB}", data={}).status_code


@pytest.mark.browser
@pytest.mark.long
def test_in_a_browser_the_picture_is_drawn_a_finding_is_shown_and_boxes_outlive_a_reload(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    with opened(1366, 768) as page:
        page.goto(f"{address}{LOOK}")
        page.wait_for_selector("html[data-charts]", timeout=120_000)
        assert int(page.locator("#space").get_attribute("data-drawn") or 0) > 0
        page.get_by_label("Guards closed").check()
        page.get_by_label("T1").fill("118.2")
        page.locator("#kept", has_text="kept").wait_for()
        page.reload()
        page.wait_for_selector("html[data-ready]", timeout=120_000)
        assert page.get_by_label("Guards closed").is_checked()
        assert "118.2" == page.get_by_label("T1").input_value()
        assert [] == accessible(page)
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert {"1": "118.2"} == runs_of(parts / JOB)[-1].tools
