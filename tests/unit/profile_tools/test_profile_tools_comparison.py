"""Comparing two profiles: what differs, where it was stated, and which change makes which line differ."""

from __future__ import annotations

import pytest
from profile_tools_parts import MakeProfile, Repository, changed_rows, compared

from steadyrest.errors import ProfileError
from steadyrest.profile import load_profile, resolve
from steadyrest.profile_tools import comparison_data, comparison_text, tour
from steadyrest.profile_tools.settings import ABSENT, differences, value_of, with_values
from steadyrest.profile_tools.trial import program_parts, program_text


def test_a_setting_that_differs_comes_with_the_files_that_stated_it(make_profile: MakeProfile) -> None:
    folder = make_profile('stops.end = "M30"')
    apart = {each.key: each for each in compared("rs274ngc", folder).settings}
    assert {"speaks", "stops.end"} == set(apart)
    assert ("M2", "M30") == (apart["stops.end"].first, apart["stops.end"].second)
    assert apart["stops.end"].first_origin.endswith("rs274ngc/controller.toml")
    assert str(folder / "controller.toml") == apart["stops.end"].second_origin


def test_a_rotary_that_only_one_profile_has_is_one_difference() -> None:
    found = differences(load_profile("rs274ngc"), load_profile("rs274ngc-b"))
    assert {"speaks", "rotary.A", "rotary.B", "spindle.stands"} == set(found)
    assert found["rotary.A"][1] is ABSENT


def test_each_linear_axis_is_changed_by_itself() -> None:
    changed = with_values(load_profile("rs274ngc"), {"linear.X.travel": 400})
    assert (400, 0) == (value_of(changed, "linear.X.travel"), value_of(changed, "linear.Y.travel"))


def test_linear_axes_that_are_not_stated_have_their_defaults() -> None:
    assert 0 == value_of(load_profile("rs274ngc"), "linear.X.travel")


def test_settings_that_cannot_stand_together_are_no_profile() -> None:
    with pytest.raises(ProfileError, match="cannot have a chuck that faces"):
        with_values(load_profile("rs274ngc"), {"rotary.A.chuck_faces": "+Y"})


def test_equal_profiles_write_equal_programs() -> None:
    found = compared("rs274ngc", "rs274ngc", "indexed")
    assert ((), (), False) == (found.settings, found.templates, found.programs[0].differs)


@pytest.mark.parametrize("name", ["counts-numbered", "limited-clamped", "plain-lines"])
def test_the_parts_of_a_program_are_its_lines_without_block_numbers(name: str) -> None:
    resolved = resolve(name)
    parts = program_parts(tour()["indexed"], resolved)
    whole = program_text(tour()["indexed"], resolved).replace("\r", "").splitlines()
    left = [line for part in parts for line in part.lines]
    assert len(whole) == len(left)
    assert all(line.endswith(short) for line, short in zip(whole, left, strict=True))


def test_a_former_revision_is_taken_out_of_the_repository(make_profile: MakeProfile, repository: Repository) -> None:
    folder = make_profile('stops.end = "M30"')
    repository("first")
    make_profile('stops.end = "M2"\nspindle.stop = "M05"')
    comparison = compared(f"{folder}@HEAD", folder, "tapping")
    assert {("program_end", "M30", "M2", ("stops.end",)), ("spindle_stop", "M5", "M05", ("spindle.stop",))} == set(changed_rows(comparison))
    assert "HEAD:/controllers/shop-mill/controller.toml" == {each.key: each.first_origin for each in comparison.settings}["stops.end"]


def test_a_parent_beside_the_profile_is_that_of_the_same_revision(make_profile: MakeProfile, repository: Repository) -> None:
    make_profile('stops.end = "M30"', name="shop-parent")
    folder = make_profile(extends="shop-parent")
    repository("first")
    make_profile('stops.end = "M2"', name="shop-parent")
    assert [("stops.end", "M30", "M2")] == [(each.key, each.first, each.second) for each in compared(f"{folder}@HEAD", folder).settings]


@pytest.mark.parametrize(("revision", "words"), [("no-such", "git knows no revision"), ("--all", "is not a revision")])
def test_a_revision_that_is_none_is_refused(make_profile: MakeProfile, repository: Repository, revision: str, words: str) -> None:
    folder = make_profile()
    repository("first")
    with pytest.raises(ProfileError, match=words):
        compared(f"{folder}@{revision}", folder)


def test_a_profile_that_was_not_there_then_is_an_error(make_profile: MakeProfile, repository: Repository) -> None:
    make_profile()
    repository("first")
    later = make_profile(name="later")
    with pytest.raises(ProfileError, match="was not there then"):
        compared(f"{later}@HEAD", later)


def test_a_folder_outside_any_repository_is_an_error(make_profile: MakeProfile) -> None:
    folder = make_profile()
    with pytest.raises(ProfileError, match="is in no git repository"):
        compared(f"{folder}@HEAD", folder)


def test_the_text_shows_both_lines_and_the_reason(make_profile: MakeProfile) -> None:
    text = comparison_text(compared("rs274ngc", make_profile('stops.end = "M30"'), "tapping"))
    assert "1 of 1 programs differ" in text
    line = next(line for line in text.splitlines() if "<- stops.end" in line)
    assert ["M2", "|", "M30"] == line.split("<-")[0].split()


def test_the_data_holds_only_rows_that_differ(make_profile: MakeProfile) -> None:
    data = comparison_data(compared("rs274ngc", make_profile('stops.end = "M30"'), "tapping"))
    rows = [row for part in data["programs"][0]["parts"] for row in part["rows"]]
    assert [{"first": "M2", "second": "M30", "reasons": ("stops.end",)}] == rows
