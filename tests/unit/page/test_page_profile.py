"""A setting is tried before it is saved: the lines it changes, the tour, and then the place where it belongs."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from page_client import JOB, ended, value_of, whole
from starlette.testclient import TestClient

from steadyrest.posting import post_to_memory
from steadyrest.profile import resolve
from steadyrest.profile_tools import tour
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
    rows = re.findall(r"<tr><td>(.*?)</td><td><code>(.*?)</code></td><td><code>(.*?)</code></td><td>(.*?)</td></tr>", text)
    assert rows
    assert all("A" in was and "A" in now and "positive_turns_chuck" in why for _, was, now, why in rows)
    assert any("operation 1" in where for where, _, _, _ in rows)
    assert "This part's program: LOOK" in text
    assert f"The tour: {len(tour())} of {len(tour())} good" in text
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
    told = re.search(r'role="alert"><h2>This cannot be</h2><pre>(.*?)</pre>', text, re.DOTALL)
    assert told is not None
    assert told[1].startswith("tried here, not saved, numbers.length.decimals: ")
    assert "\n  cure: " in told[1]
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


def test_with_a_tour_that_is_not_proved_it_is_saved_only_if_somebody_says_so(page: TestClient, parts: Path) -> None:
    change = "numbers.length.decimals=0"
    (parts / JOB).write_text((parts / JOB).read_text().replace("operations = [1]", ""))  # its letters need the decimals
    text = tried(page, change)
    assert 'class="bad"' in text
    assert "REFUSED:" in text
    assert "The tour: " in text.partition("This part's program: STOP, was LOOK")[2]
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
    made = {**said, "name": "corner-mill", "keep": "make"}
    assert "changed meanwhile" in page.post(f"profile/new?job={JOB}&from=rs274ngc", data=made).text
    assert "changed meanwhile" in page.post(f"profile/save?job={JOB}", data={**said, "keep": "part"}).text
    assert "changed meanwhile" in page.post(f"profile/use?job={JOB}", data={**said, "controller": "tip-feed"}).text
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


def test_what_the_job_states_falls_back_to_the_profile_and_what_the_profile_states_to_its_parent(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    file = parts / "controllers" / "own" / "controller.toml"
    file.parent.mkdir(parents=True)
    file.write_text('extends = "rs274ngc"\nspeaks = "Ours, in the corner."\nstops.end = "M30"  # on the label\n# the rest as it came\n')
    job.write_text(job.read_text().replace('"rs274ngc"', '"./controllers/own"') + "[post.set]\nwords.spaces = false\n")
    text = page.get(PROFILE).text
    assert "state it no more" in text
    assert re.search(r"then it is M2, as in rs274ngc</span>", text)
    assert re.search(r"then it is true, ", text)
    answer = page.post(f"profile/try?job={JOB}", data={"unset": ["stops.end", "words.spaces"]})
    assert answer.headers["location"].endswith("&unset=stops.end&unset=words.spaces")
    text = whole(page, answer.headers["location"])
    assert "<code>stops.end</code> is stated no more" in text
    assert re.search(r"<td><code>M30</code></td><td><code>M2</code></td><td>stops.end</td>", text)
    said = {"seen": value_of(text, "seen"), "unset": ["stops.end", "words.spaces"], "source": "asked again"}
    refused = page.post(f"profile/save?job={JOB}", data={**said, "keep": "part"})
    assert 422 == refused.status_code
    assert "states stops.end itself" in refused.text
    shown = page.post(f"profile/save?job={JOB}", data={**said, "keep": ""}).text
    assert "+# stops.end = &#34;M30&#34;  # on the label; not stated any more: asked again" in shown
    saved = page.post(f"profile/save?job={JOB}", data={**said, "keep": "machine", "shown": value_of(shown, "shown")})
    assert 303 == saved.status_code, saved.text
    assert "# the rest as it came\n" in file.read_text()
    assert ("M2", True) == (resolve(file.parent).profile.stops.end, resolve(file.parent).profile.words.spaces)
    assert () == Request(job).with_job().sets


def test_a_trial_that_was_cancelled_says_so_and_is_begun_anew_when_asked(page: TestClient, begun_anew: None) -> None:
    address = f"{PROFILE}&set={quote(TURN)}"
    for task in re.findall(r'data-task="([^"]+)"', page.get(address).text):
        page.post(f"task/{task}/cancel")
    text = page.get(address).text
    assert 2 == text.count("It was cancelled; nothing was changed.")
    assert "Lines of this part that change" not in text
    assert 303 == page.post(f"profile/again?job={JOB}", data={"set": TURN}).status_code
    for task in re.findall(r'data-task="([^"]+)"', page.get(address).text):
        ended(page.app.tasks, task)  # type: ignore[attr-defined]
    text = page.get(address).text
    assert "Lines of this part that change" in text
    assert f"The tour: {len(tour())} of {len(tour())} good" in text


def test_a_table_that_is_not_there_is_added_filled_in_and_saved(page: TestClient, parts: Path) -> None:
    text = page.get(f"{PROFILE}&add=numbers.by_letter.R").text
    assert 'name="f.numbers.by_letter.R.decimals" value=""' in text
    answer = page.post(f"profile/try?job={JOB}", data={"add": "numbers.by_letter.R", "f.numbers.by_letter.R.decimals": "5"})
    assert answer.headers["location"].endswith("&set=numbers.by_letter.R.decimals%3D5")
    text = whole(page, answer.headers["location"])
    assert 'name="f.numbers.by_letter.R.decimals" value="5"' in text
    page.post(f"profile/save?job={JOB}", data={"seen": value_of(text, "seen"), "set": "numbers.by_letter.R.decimals=5", "keep": "part"})
    assert ("numbers.by_letter.R.decimals=5",) == Request(parts / JOB).with_job().sets
    assert 'name="f.rotary.B.chuck_faces"' in page.get(f"{PROFILE}&add=rotary.B").text
    assert 'name="f.rotary.Q' not in page.get(f"{PROFILE}&add=rotary.Q").text


def test_another_machine_is_chosen_and_todays_mounting_stays(page: TestClient, parts: Path) -> None:
    job = parts / JOB
    job.write_text(job.read_text() + '[post.set]\nrotary.A.chuck_faces = "-X"\n')
    said = {"seen": value_of(page.get(PROFILE).text, "seen")}
    refused = page.post(f"profile/use?job={JOB}", data={**said, "controller": "upright-c"})
    assert 422 == refused.status_code, "upright-c has no rotary A along X that faces -X"
    assert "rotary.A" in refused.text
    assert 422 == page.post(f"profile/use?job={JOB}", data={**said, "controller": "/etc"}).status_code
    assert 303 == page.post(f"profile/use?job={JOB}", data={**said, "controller": "tip-feed"}).status_code
    request = Request(job).with_job()
    assert ("tip-feed", ('rotary.A.chuck_faces="-X"',)) == (request.controller, request.sets)


def tab_to(page: Any, wanted: str) -> None:
    """Press Tab until that element is reached, as somebody without a mouse does."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            return
    raise AssertionError(f"no Tab leads to {wanted}")


@pytest.mark.browser
@pytest.mark.long
def test_by_keyboard_alone_the_profile_learns_another_code_and_it_is_saved_for_the_machine(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    (parts / JOB).write_text((parts / JOB).read_text().replace("operations = [1]", ""))  # its letters turn while they are cut
    with opened(1366, 768) as page:
        page.goto(f"{address}{PROFILE}")
        tab_to(page, "#filter")
        page.keyboard.type("inverse time")
        tab_to(page, "summary")
        tab_to(page, "[id='f.feed.inverse_code']")
        page.keyboard.press("Control+a")
        page.keyboard.type("G193")
        page.keyboard.press("Enter")
        page.locator("#part-name").wait_for(timeout=120_000)
        page.locator("#tour-name").wait_for(timeout=120_000)
        assert "G193" in page.locator(".lines").inner_text()
        assert page.locator("#part-name").inner_text().startswith("This part's program: LOOK")
        page.locator("main details").evaluate_all("all => all.forEach(one => { one.open = true; })")  # what is folded has no contrast
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            assert [] == accessible(page)
        page.locator("#child").focus()
        page.keyboard.type("corner-mill")
        tab_to(page, "#source")
        page.keyboard.type("manual, page 8")
        page.keyboard.press("Enter")
        page.locator("pre.difference").wait_for()
        assert '+feed.inverse_code = "G193"  # manual, page 8' in page.locator("pre.difference").inner_text()
        page.locator("#save-name").evaluate("one => one.scrollIntoView()")
        page.locator("#source").focus()
        tab_to(page, "button[value='machine']")
        page.keyboard.press("Enter")
        page.wait_for_url("**&saved=corner-mill")
        for width in (390, 1920):
            page.set_viewport_size({"width": width, "height": 844})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert "G193" == resolve("corner-mill").profile.feed.inverse_code
    assert b"G193" in post_to_memory(Request(parts / JOB).with_job())[1]


@pytest.mark.browser
@pytest.mark.long
def test_the_other_pages_of_the_profile_are_readable_at_all_widths_in_light_and_dark(address: str, parts: Path) -> None:
    from browser_page import accessible, opened

    program = parts / "runs.nc"
    program.write_bytes(post_to_memory(Request(parts / JOB, controller="limited-clamped").with_job())[1])
    with opened(1366, 768) as page:
        page.goto(f"{address}profile/new?job={JOB}")
        page.locator("#example").set_input_files(program)
        page.locator("#shows-name").wait_for(timeout=120_000)
        page.locator("#name").fill("corner-mill")
        page.get_by_role("radio", name="towards -;").check()
        page.get_by_role("button", name="Show what would be made").first.click()
        page.locator("#planned-name").wait_for(timeout=120_000)
        assert 'rotary.A.chuck_faces = "-X"' in page.locator("#planned-name ~ pre").inner_text()
        seen_at(page, accessible)
        page.get_by_role("button", name="Make it, and use it for this part").click()
        page.locator("#check-name").wait_for(timeout=120_000)
        page.locator("#since-name").wait_for(timeout=120_000)
        seen_at(page, accessible)
        page.get_by_role("link", name="Templates").click()
        page.locator("pre.code:visible").first.wait_for(timeout=120_000)
        seen_at(page, accessible)
    assert "-X" == resolve(parts / "controllers" / "corner-mill").profile.rotary["A"].chuck_faces


def seen_at(page: Any, accessible: Any) -> None:
    page.locator("main details").evaluate_all("all => all.forEach(one => { one.open = true; })")
    for width, scheme in ((1366, "light"), (390, "dark"), (1920, "light")):
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 844})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if width != 1920:
            assert [] == accessible(page)


def test_the_machines_to_choose_are_those_of_today_also_one_beside_the_parts(page: TestClient, parts: Path) -> None:
    (parts / "deep" / "mill").mkdir(parents=True)
    (parts / "deep" / "mill" / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "a mill of our own"\n', encoding="utf-8")
    for step in ("profile", "today"):
        assert 'value="./deep/mill"' in page.get(f"{step}?job={JOB}").text, step
