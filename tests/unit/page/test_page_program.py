"""The program line by line: explained, changed by hand and judged, saved as a copy, and never as anything but text."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from browser_page import accessible, opened
from page_client import JOB, serving, whole
from starlette.testclient import TestClient

PROGRAM = f"program?job={JOB}"


def lines_of(page: TestClient) -> list[str]:
    whole(page, PROGRAM)
    return page.get(f"program/file?job={JOB}").text.splitlines()


def change(line: int, *lines: str) -> str:
    return json.dumps([{"first": line, "last": line, "lines": lines}])


def test_a_line_is_explained_with_where_its_words_come_from(page: TestClient) -> None:
    lines = lines_of(page)
    line = next(number for number, each in enumerate(lines, 1) if "A120" in each)
    (found,) = page.get(f"program/line?job={JOB}&line={line}").json()["lines"]
    (word,) = [one for one in found["words"] if one["word"].startswith("A")]
    assert word["says"]
    assert 1 == found["operation"]
    sections = page.get(f"program/outline?job={JOB}").json()["sections"]
    assert ["head", "tool change"] == [one["kind"] for one in sections][:2] or "operation" in [one["kind"] for one in sections]


def test_a_line_that_is_not_there_is_told(page: TestClient) -> None:
    lines_of(page)
    for query in ("", "line=x", "line=0&last=1000000", "line=999999"):
        answer = page.get(f"program/line?job={JOB}&{query}", headers={"accept": "application/json"})
        assert answer.status_code in (200, 422), query
        assert 422 == answer.status_code or [] == answer.json()["lines"], query


def test_an_edit_is_judged_and_only_a_proved_copy_is_saved_beside_the_job(page: TestClient, parts: Path) -> None:
    lines = lines_of(page)
    line = next(number for number, each in enumerate(lines, 1) if "A120" in each)
    headers = {"accept": "application/json"}
    wrong = {"tab": "1", "changes": change(line, lines[line - 1].replace("A120", "A-120"))}
    judged = page.post(f"program/prove?job={JOB}", data=wrong, headers=headers).json()
    assert "stop" == judged["outcome"]
    assert 422 == page.post(f"program/save?job={JOB}", data=wrong, headers=headers).status_code
    right = {"tab": "1", "changes": change(line, lines[line - 1], "(SECOND FACE)")}
    assert "look" == page.post(f"program/prove?job={JOB}", data=right, headers=headers).json()["outcome"]
    assert "lantern_cap.edited.nc" == page.post(f"program/save?job={JOB}", data=right, headers=headers).json()["saved"]
    saved = (parts / "lantern_cap.edited.nc").read_text()
    assert "(SECOND FACE)" in saved
    assert not (parts / "lantern_cap.nc").exists()
    again = {"tab": "1", "changes": change(line, lines[line - 1], "(THIRD)")}
    assert "a copy of that name already" in page.post(f"program/save?job={JOB}", data=again, headers=headers).json()["text"]
    assert saved == (parts / "lantern_cap.edited.nc").read_text()
    assert 200 == page.post(f"program/save?job={JOB}", data={**again, "replace": "yes"}, headers=headers).status_code


def test_what_was_changed_is_kept_beside_the_job_and_a_second_window_is_told(page: TestClient, parts: Path) -> None:
    lines_of(page)
    draft, headers = f"program/draft?job={JOB}", {"accept": "application/json"}
    assert {"digest": "", "changes": [], "left": []} == page.get(draft).json()
    kept = page.post(draft, data={"seen": "", "changes": change(5, "(BY HAND)")}, headers=headers).json()
    assert json.loads(change(5, "(BY HAND)")) == kept["changes"] == page.get(draft).json()["changes"]
    told = page.post(draft, data={"seen": "", "changes": change(6, "(TOO)")}, headers=headers)
    assert (422, True) == (told.status_code, "another window" in told.json()["text"])
    assert kept == page.get(draft).json()


def test_a_program_is_given_as_text_to_be_saved_and_as_nothing_else(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text().replace('name = "lantern cap"', "name = '<script>alert(1)</script>'"))
    whole(page, PROGRAM)
    answer = page.get(f"program/file?job={JOB}")
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert "nosniff" == answer.headers["x-content-type-options"]
    assert "<script>alert" not in page.get(PROGRAM).text


@pytest.mark.browser
@pytest.mark.long
def test_in_a_browser_words_are_explained_and_a_sign_changed_by_hand_is_refused_as_it_is_typed(address: str) -> None:
    with opened(1366, 768) as page:
        asked: list[str] = []
        page.on("request", lambda one: asked.append(one.url) if "/program/line" in one.url else None)
        page.goto(f"{address}{PROGRAM}")
        with page.expect_response("**/program/line?*last=*", timeout=120_000):  # of the lines in sight, once the listing rests
            page.locator("#parts button").first.wait_for(timeout=120_000)
        page.locator("#row-3 .word").first.hover()
        page.locator("#explained[data-line='3']").wait_for()
        assert 1 == len(asked), "a word in sight is explained without asking anew"
        page.locator("#find-text").fill("A120")
        page.locator("#find-text").press("Enter")
        page.locator("#explained", has_text="A120").wait_for()
        page.locator("#listing").press("ArrowDown")
        page.locator("#listing").press("ArrowUp")
        page.locator("#listing").press("Enter")
        text = page.locator("#text")
        good = text.input_value()
        assert "A120" in good
        text.fill(good.replace("A120", "A-120"))
        page.locator("#judged.bad", has_text="A-120").wait_for(timeout=30_000)
        assert page.locator("#save").is_disabled()
        assert 2 == page.locator("#judged .sides svg.side-by-side .mark.asked").count(), (
            "the difference is drawn, what is asked for beside it"
        )
        assert [] == accessible(page)
        text.fill(good)
        page.locator("#judged.good").wait_for(timeout=30_000)
        box = {name: page.locator(name).bounding_box() for name in ("#change", ".listing-card")}
        apart = box["#change"]["y"] - box[".listing-card"]["y"] - box[".listing-card"]["height"]
        assert 0 < apart < 30, "what is changed stands below its lines, however long the list of parts is"
        assert [] == accessible(page)
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.browser
@pytest.mark.long
def test_in_a_browser_what_was_typed_outlives_a_killed_page_and_is_the_same_in_two_windows(parts: Path) -> None:
    with opened(1366, 768, refused=True) as page:
        with serving(parts) as (address, running):
            page.goto(f"{address}{PROGRAM}#line-5")
            page.locator("#program[data-ready]").wait_for(timeout=120_000)
            other = page.context.new_page()
            other.goto(f"{address}{PROGRAM}")
            other.locator("#program[data-ready]").wait_for()
            page.locator("#listing").press("Enter")
            page.locator("#text").fill("(TYPED BY HAND)")
            other.locator("#judged.good").wait_for(timeout=30_000)
            assert "(TYPED BY HAND)" in other.locator("#changes").inner_text()
            running.kill()
            page.locator("#ended").wait_for(timeout=30_000)
        with serving(parts) as (address, _):
            page.goto(f"{address}{PROGRAM}")
            page.locator("#judged.good").wait_for(timeout=120_000)
            assert "(TYPED BY HAND)" in page.locator("#changes").inner_text()
            page.locator("#undo-all").click()
            page.locator("#changes-box").wait_for(state="hidden")
            page.reload()
            page.locator("#program[data-ready]").wait_for(timeout=120_000)
            assert page.locator("#change").is_hidden()
