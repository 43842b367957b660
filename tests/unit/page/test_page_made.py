"""What is made of a job is made once, anew when anything that decides it changes, and says what is wrong in the words of the terminal."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_client import ended

from steadyrest.errors import InputError, ProfileError
from steadyrest.page.app import Page
from steadyrest.page.folder import Folder
from steadyrest.page.job_file import read_job_file
from steadyrest.page.made import COLUMNS, LOOK, SHEET, Made, key_of, made
from steadyrest.page.tasks import Tasks
from steadyrest.posting import post_to_memory
from steadyrest.request import Request

DEMO = Path(__file__).parents[3] / "demo" / "lantern_cap"
NAME = "lantern_cap.job.toml"


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    """A folder with the lantern cap, only its face cut, which is quick."""
    folder = tmp_path / "parts"
    shutil.copytree(DEMO, folder)
    job = folder / NAME
    job.write_text(job.read_text().replace('output = "lantern_cap.nc"', 'output = "lantern_cap.nc"\noperations = [1]'))
    tasks = Tasks(tmp_path / "work")
    yield Page(Folder.given(folder), tasks)
    tasks.end()


def change(page: Page, old: str, new: str) -> None:
    path = page.folder.file(NAME)
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def now(page: Page) -> Made:
    return made(page, read_job_file(page.folder.file(NAME)))


def whole(page: Page) -> Made:
    """What is made of it, waited for."""
    ended(page.tasks, now(page).key)
    return now(page)


def test_the_program_is_the_one_that_is_posted_and_is_kept_with_what_is_said_of_it(page: Page) -> None:
    found = whole(page)
    posted, text = post_to_memory(Request(page.folder.file(NAME)).with_job())
    assert found.done
    assert found.program == text
    assert found.posted["outcome"] == found.state["result"]["outcome"] == posted.outcome.word
    assert found.posted["toolpath_digest"] == posted.verdict.toolpath_digest
    assert "Setup sheet" in (found.folder / SHEET).read_text()
    assert (found.folder / COLUMNS).stat().st_size > 1000
    look = json.loads((found.folder / LOOK).read_text())
    assert 'id="verdict"' in look["verdict"]
    assert 'id="stage"' in look["picture"]
    assert 'style="' not in "".join(look.values())
    # Unchanged, nothing is begun again.
    began = found.state["began"]
    assert whole(page).state["began"] == began


def test_its_key_changes_with_everything_that_decides_it_and_with_nothing_else(page: Page, tmp_path: Path) -> None:
    own = tmp_path / "own-mill"
    (own / "templates").mkdir(parents=True)
    (own / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "as its parent does"\n')
    change(page, 'controller = "rs274ngc"', f'controller = "{own}"')
    job = page.folder.file(NAME)
    first = seen = key_of(read_job_file(job))
    (own / "notes.txt").write_text("nothing that is read")
    (job.parent / "other.nc").write_text("G0 X0\n")
    plain = job.read_text()
    job.write_text(plain + '# remarked\n[setup.touches]\nunits = "mm"\ntop = [8.25]\n')  # programs do not depend on it
    assert seen == key_of(read_job_file(job))
    job.write_text(plain)
    assert seen == key_of(read_job_file(job))
    changes = {
        job: job.read_text() + "tolerance = 0.02\n",
        job.parent / "letters.nc": "G0 X1\n",
        own / "controller.toml": 'extends = "rs274ngc"\nspeaks = "as its parent does"\n[feed]\ninverse_is = "per_minute"\n',
        own / "templates" / "tool_change.j2": "T{{ number }} M6\n",
    }
    keys = [seen]
    for file, text in changes.items():
        file.write_text(text)
        keys.append(key_of(read_job_file(job)))
    assert len(set(keys)) == len(changes) + 1
    (job.parent / "letters.nc").unlink()
    assert key_of(read_job_file(job)) not in keys
    assert first == keys[0]


def test_what_stops_is_made_as_well(page: Page) -> None:
    change(page, 'held = {at = "from", length = 20}', 'held = {at = "from", length = 85}')
    found = whole(page)
    assert found.done
    assert "stop" == found.posted["outcome"]
    assert "stop-across" in json.loads((found.folder / LOOK).read_text())["across"]


def test_what_cannot_be_written_says_why_and_is_not_tried_again_by_looking(page: Page) -> None:
    change(page, 'file = "letters.nc"', 'file = "gone.nc"')
    found = whole(page)
    assert "failed" == found.state["status"]
    with pytest.raises(InputError) as told:
        post_to_memory(Request(page.folder.file(NAME)).with_job())
    assert str(told.value) == found.state["text"]
    assert not found.done
    assert now(page).state == found.state
    again = made(page, read_job_file(page.folder.file(NAME)), again=True)
    assert again.state["began"] > found.state["began"]


def test_a_job_or_profile_that_cannot_be_read_is_told_at_once(page: Page) -> None:
    change(page, 'controller = "rs274ngc"', 'controller = "no-such-controller"')
    with pytest.raises(ProfileError, match="no-such-controller"):
        now(page)
    change(page, "steadyrest_job = 1", "steadyrest_job = 7")
    with pytest.raises(InputError, match="steadyrest_job"):
        now(page)


def test_a_change_ends_what_is_under_way_and_the_oldest_are_cleaned_away(page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.page.made.KEPT", 1)
    keys = []
    for _ in range(3):
        change(page, 'name = "lantern cap', 'name = "lantern cap ')
        keys.append(now(page).key)
    assert {keys[-1]} == {each.name for each in page.tasks.folder.iterdir()}
    ended(page.tasks, keys[-1])
    change(page, 'name = "lantern cap', 'name = "lantern cap ')
    assert {whole(page).key} == {each.name for each in page.tasks.folder.iterdir()}


def test_files_changed_while_it_is_made_are_told(page: Page) -> None:
    from steadyrest.page.made import make

    inside = page.folder.path / "inside"
    inside.mkdir()
    with pytest.raises(InputError, match="changed while it was being made"):
        make(inside, {"job": str(page.folder.file(NAME)), "digest": "of another"}, lambda stage, done, total: None)
    assert not list(inside.iterdir())
