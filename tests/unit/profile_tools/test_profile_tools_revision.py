"""What a profile was before is asked of git, and where git knows nothing, that is said in words."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from profile_tools_parts import MakeProfile, Repository

from steadyrest.errors import ProfileError
from steadyrest.profile_tools import last_commit, revision_in, side


def test_the_last_commit_is_the_last_that_changed_the_folder(make_profile: MakeProfile, repository: Repository) -> None:
    folder = make_profile('stops.end = "M30"')
    repository("first")
    (folder.parent / "other.txt").write_text("elsewhere")
    repository("second")
    found = last_commit(folder)
    assert ("first", 10) == (found.subject, len(found.when))
    assert found.name


def test_without_a_repository_or_a_commit_it_is_said_plainly(make_profile: MakeProfile, repository: Repository) -> None:
    folder = make_profile()
    with pytest.raises(ProfileError, match="in no git repository, so nothing says what it was before"):
        last_commit(folder)
    subprocess.run(["git", "init", "-q", str(folder.parent.parent)], check=True)
    with pytest.raises(ProfileError, match="was never committed"):
        last_commit(folder)
    repository("first")
    later = make_profile(name="later")
    with pytest.raises(ProfileError, match="was never committed"):
        last_commit(later)


def test_a_folder_of_that_very_name_is_no_revision(tmp_path: Path) -> None:
    assert ("mill", "v2") == revision_in("mill@v2")
    (tmp_path / "mill@v2").mkdir()
    assert (str(tmp_path / "mill@v2"), "") == revision_in(str(tmp_path / "mill@v2"))


def test_a_side_takes_settings_over_it_and_leaves_some_out(make_profile: MakeProfile) -> None:
    folder = make_profile('stops.end = "M30"')
    with side(str(folder), ["words.spaces=false"], ["stops.end"]) as one, side("rs274ngc") as parent:
        assert not one.resolved.profile.words.spaces
        assert parent.resolved.profile.stops.end == one.resolved.profile.stops.end
