"""Templates with their lines, the check and what changed since the last commit: the same as the commands say."""

from __future__ import annotations

import html
import re
import subprocess
from pathlib import Path

import pytest
from page_client import JOB, whole
from starlette.testclient import TestClient

from steadyrest.events import EVENTS
from steadyrest.page.profile_state import changed_since
from steadyrest.posting import post_to_memory
from steadyrest.profile_tools import check
from steadyrest.request import Request


@pytest.fixture(autouse=True)
def own_configuration(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture
def own(parts: Path) -> Path:
    """A profile in the folder of the parts, which the job uses; with a template of its own."""
    folder = parts / "controllers" / "own"
    (folder / "templates").mkdir(parents=True)
    (folder / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "Ours, in the corner."\nstops.end = "M30"  # on the label\n')
    (folder / "templates" / "coolant_off.j2").write_text('{{ comment("air off") }}\n{{ words.coolant }}\n')
    job = parts / JOB
    job.write_text(job.read_text().replace('"rs274ngc"', '"./controllers/own"'))
    return folder


def git(folder: Path, *arguments: str) -> None:
    who = ["-c", "user.name=A Machinist", "-c", "user.email=machinist@shop.example", "-c", "commit.gpgsign=false"]
    subprocess.run(["git", "-C", str(folder), *who, *arguments], check=True, capture_output=True)


def test_each_template_is_listed_with_its_text_and_the_lines_that_come_from_it(page: TestClient, parts: Path, own: Path) -> None:
    text = html.unescape(whole(page, f"profile/templates?job={JOB}"))
    assert set() == {name for name in EVENTS if f"{name}.j2" not in text}
    first = text.partition('id="event-1"')[2].partition('id="event-2"')[0]
    assert first.startswith('>coolant off <span class="small">this profile')
    shown = {int(number): line for number, line in re.findall(r"^ *(\d+)  (.*)$", re.sub("<[^>]+>", "", text), re.MULTILINE)}
    lines = post_to_memory(Request(parts / JOB).with_job())[1].decode().splitlines()
    assert "(air off)" in shown.values()
    assert all(lines[number - 1] == line for number, line in shown.items())
    index = text.partition(">index <")[2].partition("</section>")[0]
    assert "A120" in index, "the motion that a template prints comes from it"


@pytest.mark.long
def test_the_check_is_that_of_the_command_with_the_wrong_first(page: TestClient, own: Path) -> None:
    (own / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "Ours, in the corner."\nstops.end = "M30"\n')
    text = html.unescape(whole(page, f"profile/state?job={JOB}"))
    for one in check(str(own)).results:
        assert f"{one.check}, <b>{one.what}</b>: {one.words}</li>" in text
    assert text.index(">REMARK<") < text.index(">good<")
    assert "add a comment after a # with the source" in text


@pytest.mark.long
def test_what_changed_since_the_last_commit_is_said_in_plain_words(page: TestClient, parts: Path, own: Path) -> None:
    text = whole(page, f"profile/state?job={JOB}")
    assert "is in no git repository, so nothing says what it was before" in text
    git(parts, "init", "-q")
    git(parts, "add", "-A")
    git(parts, "commit", "-q", "-m", "as it stood in March")
    text = whole(page, f"profile/state?job={JOB}")
    assert "as it stood in March" in text
    assert "Nothing has changed since" in text
    text = 'extends = "rs274ngc"\nspeaks = "Ours, in the corner."\nstops.end = "M2"  # asked\nwords.spaces = false\n'
    (own / "controller.toml").write_text(text)
    (own / "templates" / "coolant_off.j2").unlink()
    text = html.unescape(whole(page, f"profile/state?job={JOB}"))
    assert '<code>stops.end</code> was "M30", is "M2"' in text
    assert "<code>words.spaces</code> was true, is false" in text
    assert "The template coolant_off.j2 is no longer this profile's own: the inherited one holds" in text
    assert "programs of the tour are other programs by that:" in text


def test_git_is_asked_only_in_folders_of_the_users_own(page: TestClient, parts: Path, own: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere" / "own"
    elsewhere.parent.mkdir()
    own.rename(elsewhere)
    git(elsewhere, "init", "-q")
    (elsewhere / ".gitattributes").write_text("* filter=run\n")
    git(elsewhere, "add", "-A")
    git(elsewhere, "commit", "-q", "-m", "first")
    git(elsewhere, "config", "filter.run.smudge", f"touch {tmp_path / 'was-run'}; cat")
    job = parts / JOB
    job.write_text(job.read_text().replace('"./controllers/own"', f'"{elsewhere}"'))
    text = whole(page, f"profile/state?job={JOB}")
    assert "neither in the folder of this page" in text
    assert f"steadyrest controller compare {elsewhere}@HEAD" in text
    assert not (tmp_path / "was-run").exists()


def test_of_a_bundled_profile_it_is_said_that_nobody_changes_it(tmp_path: Path) -> None:
    from steadyrest.profile import bundled_folder

    asked = {"controller": "rs274ngc", "folder": str(bundled_folder() / "rs274ngc"), "elsewhere": ""}
    assert "came with steadyrest and is never changed" in changed_since(tmp_path, asked, lambda *said: None)["why"]


def test_a_profile_that_cannot_be_read_is_told_on_each_of_its_pages(page: TestClient, own: Path) -> None:
    (own / "controller.toml").write_text('extends = "rs274ngc"\nwords.space = false\n')
    for path in ("profile", "profile/templates", "profile/state"):
        text = html.unescape(page.get(f"{path}?job={JOB}").text)
        assert f"{own / 'controller.toml'}:2, words.space: there is no setting words.space\n  cure: did you mean spaces or distance" in text
