"""What was changed by hand and not saved yet is kept, told where it does not fit any more, and never overwritten unseen."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.errors import OutputError
from steadyrest.page.draft import draft_file, drop_drafts, keep_draft, read_draft
from steadyrest.page.edited import Change

POSTED = ["%", "G0 A90.", "G1 X5.", "G1 X6.", "M30"]
CHANGES = (Change(2, 2, ("G0 A-90.",)), Change(5, 4, ("M0",)))


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return tmp_path / "cap.job.toml"


def test_what_was_changed_is_there_again_and_gone_once_it_is_undone(job: Path) -> None:
    assert ("", ()) == (read_draft(job, POSTED).digest, read_draft(job, POSTED).changes)
    kept = keep_draft(job, CHANGES, POSTED, seen="")
    assert kept == read_draft(job, POSTED)
    assert CHANGES == kept.changes
    assert () == kept.left
    assert draft_file(job).name.startswith("."), "it is no file that a part begins with"
    assert "" == keep_draft(job, (), POSTED, seen=kept.digest).digest
    assert not draft_file(job).exists()


def test_another_window_is_not_overwritten(job: Path) -> None:
    kept = keep_draft(job, CHANGES, POSTED, seen="")
    with pytest.raises(OutputError, match="another window"):
        keep_draft(job, (), POSTED, seen="")
    assert kept == read_draft(job, POSTED)


def test_a_change_of_lines_that_say_something_else_by_now_is_told_and_stays_until_it_is_forgotten(job: Path) -> None:
    keep_draft(job, CHANGES, POSTED, seen="")
    now = ["%", "G0 A45.", "G1 X5.", "G1 X6.", "M30"]
    found = read_draft(job, now)
    assert CHANGES[1:] == found.changes
    assert ["was A90., is A-90."] == found.as_json()["left"]
    kept = keep_draft(job, (Change(3, 3, ("G1 X7.",)),), now, seen=found.digest)
    assert found.left == kept.left
    assert CHANGES[:1] == read_draft(job, POSTED).changes, "it fits again where the program is as it was"
    assert () == keep_draft(job, kept.changes, now, seen=kept.digest, forget=True).left


def test_lines_put_in_fit_only_between_the_same_lines(job: Path) -> None:
    keep_draft(job, CHANGES[1:], POSTED, seen="")
    assert () == read_draft(job, [*POSTED[:4], "M2"]).changes
    assert () == read_draft(job, POSTED[:4]).changes


@pytest.mark.parametrize("text", ["", "{", "[1]", '[{"first": 1}]', "[" * 5000, "3", '[{"first": 1, "last": 1, "lines": 3}]'])
def test_a_file_that_is_no_draft_is_none(job: Path, text: str) -> None:
    draft_file(job).write_text(text)
    assert () == read_draft(job, POSTED).changes


def test_of_a_job_that_is_gone_nothing_is_found_by_a_new_one_of_its_name(job: Path) -> None:
    other = job.with_name("rod.job.toml")
    other.write_text("")
    for each in (job, other):
        keep_draft(each, CHANGES, POSTED, seen="")
    drop_drafts(job.parent)
    assert (False, True) == (draft_file(job).exists(), draft_file(other).exists())
