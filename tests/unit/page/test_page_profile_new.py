"""A profile of one's own, from the questions and from a program that runs there: the same as `steadyrest controller new` makes."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from page_client import JOB, value_of, whole
from starlette.testclient import TestClient

from steadyrest.page.profile_new import answers_given, questions
from steadyrest.posting import post_to_memory
from steadyrest.profile import load_profile, resolve
from steadyrest.profile_tools import answered, create, questionnaire
from steadyrest.request import Request

NEW = f"profile/new?job={JOB}"


@pytest.fixture(autouse=True)
def own_configuration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def number_of(look: str) -> int:
    asked = [question["look"] for _, question in questionnaire(load_profile("rs274ngc"))]
    return next(at for at, each in enumerate(asked) if look in each)


def test_every_question_of_the_command_is_asked_with_its_answers(page: TestClient) -> None:
    text = html.unescape(page.get(NEW).text)
    for chapter, question in questionnaire(load_profile("rs274ngc")):
        assert f"<h3>{chapter}</h3>" in text
        assert question["look"].replace("`", "") in text
        assert all(words in text and (settings in text or not answered(settings)) for words, settings in question["answers"])


def test_what_is_typed_counts_before_the_answer_above_it_and_a_confirmed_value_is_stated_too() -> None:
    inverse, faces = number_of("inverse time feed"), number_of("face of the chuck point")
    typed = {f"a.{inverse}": "0", "f.feed.inverse_code": "G193", f"s.{inverse}": "manual, page 8", f"a.{faces}": "0"}
    sets, sources = answers_given(questions(resolve("rs274ngc"), typed))
    assert {'feed.inverse_code="G193"', 'feed.inverse_is="per_minute"', 'rotary.A.chuck_faces="+X"'} == set(sets)
    assert {"feed.inverse_code": "manual, page 8", "feed.inverse_is": "manual, page 8"} == sources
    assert ([], {}) == answers_given(questions(resolve("rs274ngc"), {}))


def test_it_is_shown_first_and_made_as_the_command_would(page: TestClient, parts: Path, tmp_path: Path) -> None:
    faces = number_of("face of the chuck point")
    said = {"name": "corner-mill", f"a.{faces}": "1", f"s.{faces}": "looked at it", "f.stops.end": "M30"}
    said["seen"] = value_of(page.get(NEW).text, "seen")
    shown = page.post(f"{NEW}&from=rs274ngc", data={**said, "keep": "show"})
    assert 'rotary.A.chuck_faces = "-X"  # looked at it' in html.unescape(shown.text)
    assert f'name="a.{faces}" value="1" checked' in shown.text
    assert not (parts / "controllers").exists()
    answer = page.post(f"{NEW}&from=rs274ngc", data={**said, "keep": "make"})
    assert (303, True) == (answer.status_code, answer.headers["location"].endswith("&made=corner-mill"))
    assert "A new profile, used by this part" in whole(page, answer.headers["location"])
    sets = ['rotary.A.chuck_faces="-X"', 'stops.end="M30"']
    alike = create("corner-mill", "rs274ngc", tmp_path, sets=sets, sources={"rotary.A.chuck_faces": "looked at it"})
    made = parts / "controllers" / "corner-mill"
    assert {each.name: each.read_text().replace(str(tmp_path), "") for each in alike.folder.iterdir()} == {
        each.name: each.read_text().replace(str(parts / "controllers"), "") for each in made.iterdir()
    }
    assert 'controller = "./controllers/corner-mill"' in (parts / JOB).read_text()


@pytest.mark.parametrize(
    ("name", "field", "value", "words"),
    [
        ("../up", "f.stops.end", "M30", "cannot be the name of a profile"),
        ("rs274ngc", "f.stops.end", "M30", "there is a bundled profile called rs274ngc"),
        ("mill", "f.numbers.length.decimals", "99", "numbers.length.decimals"),
        ("mill", "f.numbers.length.decimals", "three", "numbers.length.decimals"),
        ("mill", "f.stops.end", "M30 M30", "stops.end"),
    ],
)
def test_what_the_command_refuses_is_refused_in_its_words_and_nothing_typed_is_lost(
    page: TestClient, parts: Path, name: str, field: str, value: str, words: str
) -> None:
    said = {"name": name, field: value, "keep": "make", "seen": value_of(page.get(NEW).text, "seen")}
    answer = page.post(f"{NEW}&from=rs274ngc", data=said)
    assert 422 == answer.status_code
    assert words in re.search(r"<h2>Not done</h2><pre>(.*?)</pre>", html.unescape(answer.text), re.DOTALL)[1]  # type: ignore[index]
    assert f'value="{name}"' in answer.text
    assert f'name="{field}" value="{value}"' in answer.text
    assert not (parts / "controllers" / "mill").exists()
    assert 422 == page.post(f"{NEW}&from=nowhere", data=said).status_code


def test_an_example_tells_what_it_shows_how_sure_and_what_not_and_stands_in_the_profile(page: TestClient, parts: Path) -> None:
    request = Request(parts / JOB, controller="limited-clamped").with_job()
    program = post_to_memory(request)[1]
    job = parts / JOB
    job.write_text(job.read_text() + '[post.set]\nrotary.A.chuck_faces = "-X"\n')
    answer = page.post(f"profile/new/example?job={JOB}", data={"from": "rs274ngc"}, files={"example": ("runs.nc", program)})
    assert 303 == answer.status_code
    text = html.unescape(whole(page, answer.headers["location"]))
    assert "Sure, and other than in rs274ngc" in text
    assert re.search(r"<code>rotary.A.clamp.on</code></td>.*line \d+: <code>M10</code>", text)
    assert "how the rotary is mounted: along which axis" in text.partition("What it does not show")[2]
    path = answer.headers["location"].partition("profile/new?")[2]
    said = {"seen": value_of(text, "seen"), "name": "corner-mill", "take": re.findall(r'name="take" value="([^"]+)"', text)}
    made = page.post(f"profile/new?{path}", data={**said, "keep": "make"})
    assert 303 == made.status_code, made.text[-3000:]
    toml = (parts / "controllers" / "corner-mill" / "controller.toml").read_text()
    assert re.search(r'rotary.A.clamp.on = "M10"  # line \d+: M10', toml)
    assert all(f"\n{key} = " in toml for key in said["take"])
    assert ('rotary.A.chuck_faces="-X"',) == Request(job).with_job().sets, "how it stands today is not forgotten"


def test_what_is_no_program_is_told_and_may_be_read_once_more(page: TestClient, parts: Path) -> None:
    answer = page.post(f"profile/new/example?job={JOB}", data={"from": "rs274ngc"}, files={"example": ("photo.nc", b"\x89PNG\0\0")})
    text = whole(page, answer.headers["location"])
    assert "It could not be done" in text
    assert "photo.nc" in text
    again = page.post(f"profile/new/again?job={JOB}", data={"from": "rs274ngc", "example": "photo.nc"})
    assert 303 == again.status_code
    assert 422 == page.post(f"profile/new/example?job={JOB}", data={"from": "rs274ngc"}).status_code
    assert 422 == page.get(f"{NEW}&from=rs274ngc&example=../../etc/passwd").status_code or "is not in the folder" in html.unescape(
        page.get(f"{NEW}&from=rs274ngc&example=../../etc/passwd").text
    )
