"""A setting is tried before it is saved: the lines it changes, the tour, and then the place where it belongs."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import quote

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.posting import post_to_memory
from steadyrest.profile import resolve
from steadyrest.request import Request

PROFILE = f"profile?job={JOB}"
TURN = 'rotary.A.positive_turns_chuck="counterclockwise"'


@pytest.fixture(autouse=True)
def own_configuration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def tried(page: TestClient, *sets: str) -> str:
    return whole(page, PROFILE + "".join(f"&set={quote(each)}" for each in sets))


def test_a_change_shows_just_the_lines_that_change_and_why_with_the_tour_beside_it(page: TestClient, parts: Path) -> None:
    text = tried(page, TURN)
    rows = re.findall(r"<tr><td><code>(.*?)</code></td><td><code>(.*?)</code></td><td>(.*?)</td></tr>", text)
    assert rows
    assert all("A" in was and "A" in now and "positive_turns_chuck" in why for was, now, why in rows)
    assert "The tour: " in text
    assert "proved" in text
    assert "post.set" not in (parts / JOB).read_text(), "tried is not saved"


def test_what_is_changed_in_the_form_becomes_part_of_the_address(page: TestClient) -> None:
    text = page.get(PROFILE).text
    said = {name: value for name, value in re.findall(r'<input id="[^"]+" name="(f\.[^"]+)" value="([^"]*)"', text) if "&" not in value}
    answer = page.post(f"profile/try?job={JOB}", data={**said, "f.rotary.A.positive_turns_chuck": "counterclockwise"})
    assert 303 == answer.status_code
    assert answer.headers["location"].endswith("&set=" + quote(TURN, safe="").replace("%2E", "."))


def test_a_value_that_may_not_be_is_told_at_its_field_and_nothing_is_tried(page: TestClient) -> None:
    text = page.get(f"{PROFILE}&set={quote('numbers.length.decimals=99')}").text
    assert 'id="f.numbers.length.decimals" name="f.numbers.length.decimals" value="99"' in text
    assert 'aria-invalid="true"' in text
    assert "Save it" not in text


def test_it_is_saved_for_this_part_or_in_a_profile_of_the_shop_and_the_command_line_posts_the_same(page: TestClient, parts: Path) -> None:
    text = tried(page, TURN)
    said = {"seen": value_of(text, "seen"), "set": TURN, "child": "big-mill"}
    shown = page.post(f"profile/save?job={JOB}", data={**said, "keep": ""}).text
    assert "positive_turns_chuck: " in shown
    assert "a new profile" in shown
    assert "Save for this machine" in shown
    said["shown"] = value_of(shown, "shown")
    assert 303 == page.post(f"profile/save?job={JOB}", data={**said, "keep": "machine"}).status_code
    assert "counterclockwise" == resolve("big-mill", ()).profile.rotary["A"].positive_turns_chuck
    job = parts / JOB
    assert 'controller = "big-mill"' in job.read_text()
    by_profile = post_to_memory(Request(job).with_job())[1]
    job.write_text(job.read_text().replace('"big-mill"', '"rs274ngc"'))
    said["seen"] = value_of(tried(page, TURN), "seen")
    assert 303 == page.post(f"profile/save?job={JOB}", data={**said, "keep": "part"}).status_code
    request = Request(job).with_job()
    assert ('rotary.A.positive_turns_chuck="counterclockwise"',) == request.sets
    words = [[line for line in text.splitlines() if not line.startswith(b"(")] for text in (by_profile, post_to_memory(request)[1])]
    assert words[0] == words[1]


def test_with_a_tour_that_is_not_proved_it_is_saved_only_if_somebody_says_so(page: TestClient) -> None:
    change = "numbers.length.decimals=0"
    text = tried(page, change)
    assert 'class="bad"' in text
    said = {"seen": value_of(text, "seen"), "set": change, "child": "coarse", "keep": "machine"}
    said["shown"] = shown_of(page, said)
    answer = page.post(f"profile/save?job={JOB}", data=said)
    assert 422 == answer.status_code
    assert "the tour is not proved" in answer.text
    assert 303 == page.post(f"profile/save?job={JOB}", data={**said, "anyway": "yes"}).status_code


def shown_of(page: TestClient, said: dict[str, str]) -> str:
    return value_of(page.post(f"profile/save?job={JOB}", data={**said, "keep": ""}).text, "shown")


def test_where_the_job_was_changed_meanwhile_no_profile_is_written(page: TestClient, parts: Path, tmp_path: Path) -> None:
    said = {"seen": value_of(tried(page, TURN), "seen"), "set": TURN, "child": "big-mill", "keep": "machine"}
    said["shown"] = shown_of(page, said)
    (parts / JOB).write_text((parts / JOB).read_text() + "# by hand\n")
    assert "changed meanwhile" in page.post(f"profile/save?job={JOB}", data=said).text
    assert "changed meanwhile" in page.post(f"profile/new?job={JOB}", data={**said, "name": "corner-mill"}).text
    seen = {"digest": said["seen"], "chuck_faces": "+X", "seen": "towards-me", "child": "big-mill", "keep": "machine"}
    assert "changed meanwhile" in page.post(f"today/seen?job={JOB}", data=seen).text
    assert not (tmp_path / "config").exists()
    assert not (parts / "controllers").exists()


def test_a_profile_that_is_another_one_than_was_shown_is_not_written_to(page: TestClient, parts: Path, tmp_path: Path) -> None:
    said = {"seen": value_of(tried(page, TURN), "seen"), "set": TURN, "child": "big-mill", "keep": "machine"}
    said["shown"] = shown_of(page, said)
    file = tmp_path / "config" / "steadyrest" / "controllers" / "big-mill" / "controller.toml"
    file.parent.mkdir(parents=True)
    file.write_text('extends = "rs274ngc"\n')
    assert "changed since this was shown" in page.post(f"profile/save?job={JOB}", data=said).text
    assert 'extends = "rs274ngc"\n' == file.read_text()


def test_a_profile_elsewhere_that_a_job_names_is_not_written_to(page: TestClient, parts: Path, tmp_path: Path) -> None:
    file = tmp_path / "elsewhere" / "mill" / "controller.toml"
    file.parent.mkdir(parents=True)
    file.write_text('extends = "rs274ngc"\n')
    job = parts / JOB
    job.write_text(job.read_text().replace('"rs274ngc"', f'"{file.parent}"'))
    said = {"seen": value_of(tried(page, TURN), "seen"), "set": TURN, "keep": ""}
    answer = page.post(f"profile/save?job={JOB}", data=said)
    assert "neither in the folder of this page" in answer.text
    seen = {"digest": said["seen"], "chuck_faces": "+X", "seen": "towards-me", "keep": "machine"}
    assert "neither in the folder of this page" in page.post(f"today/seen?job={JOB}", data=seen).text
    assert 'extends = "rs274ngc"\n' == file.read_text()
    assert "a new profile" in page.post(f"profile/save?job={JOB}", data={**said, "child": "own-mill"}).text


def test_the_tour_is_proved_with_what_is_saved_and_not_with_the_jobs_own_settings(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text() + "[post.set]\nnumbers.length.decimals = 0\n")
    assert 'class="bad"' not in tried(page, TURN).partition("The tour: ")[2]


def test_a_new_profile_comes_from_a_program_that_runs_on_the_machine(page: TestClient, parts: Path) -> None:
    program = post_to_memory(Request(parts / JOB).with_job())[1]
    job = parts / JOB
    job.write_text(job.read_text() + '[post.set]\nrotary.A.chuck_faces = "-X"\n')
    said = {"seen": value_of(page.get(PROFILE).text, "seen"), "name": "corner-mill"}
    answer = page.post(f"profile/new?job={JOB}", data=said, files={"example": ("runs.nc", program)})
    assert 200 == answer.status_code, answer.text[-2000:]
    assert "created, extends rs274ngc" in answer.text
    assert (parts / "controllers" / "corner-mill" / "controller.toml").is_file()
    assert 'controller = "./controllers/corner-mill"' in (parts / JOB).read_text()
    assert ('rotary.A.chuck_faces="-X"',) == Request(job).with_job().sets, "how it stands today is not forgotten"
    assert 422 == page.post(f"profile/new?job={JOB}", data={**said, "name": "../up"}).status_code


@pytest.mark.browser
def test_in_a_browser_a_setting_is_found_tried_and_saved(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    with opened(1366, 768) as page:
        page.goto(f"{address}{PROFILE}&key=rotary.A.positive_turns_chuck")
        page.locator("[id='f.rotary.A.positive_turns_chuck']").select_option("counterclockwise")
        page.get_by_role("button", name="Try the changes").click()
        page.get_by_text("This part's program:").wait_for()
        page.get_by_text("The tour:", exact=False).first.wait_for(timeout=120_000)
        page.locator("#tour-name").wait_for(timeout=120_000)
        page.get_by_text("One by one").click()  # what is folded lies under what follows, and its contrast cannot be told
        assert [] == accessible(page)
        page.get_by_role("button", name="For this part only").click()
        page.wait_for_url("**/profile?job=*")
        page.set_viewport_size({"width": 390, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert 'positive_turns_chuck = "counterclockwise"' in (parts / JOB).read_text()
