"""`extends`, `drop`, and what is left of a parent."""

from __future__ import annotations

from pathlib import Path

import pytest
from profile_parts import SPEAKS, MakeProfile

from steadyrest.errors import ProfileError
from steadyrest.profile import load_profile, profile_digest, resolve, shared_templates_folder


def test_a_child_keeps_what_it_does_not_state(make_profile: MakeProfile) -> None:
    make_profile("parent", SPEAKS + 'words.order = "NGXYZABCIJKRPQLFSTHDM"\nwords.spaces = false\nprogram.extension = ".nc"\n')
    child = load_profile(make_profile("child", 'extends = "parent"\nprogram.extension = ".txt"\n'))
    assert (False, ".txt") == (child.words.spaces, child.program.extension)


def test_a_group_of_which_one_setting_is_stated_keeps_the_built_in_defaults_of_the_others(make_profile: MakeProfile) -> None:
    profile = load_profile(make_profile("one", SPEAKS + "numbers.feed.plus = true\nnumbers.length.plus = true\n"))
    assert (1, 2, 4) == (profile.numbers.feed.decimals, profile.numbers.feed.inch_decimals, profile.numbers.length.inch_decimals)


@pytest.mark.parametrize("text", ['"words.spaces" = false', '[words]\n"spaces.x" = false'])
def test_a_key_in_quotes_with_a_point_in_it_is_no_setting(make_profile: MakeProfile, text: str) -> None:
    with pytest.raises(ProfileError, match="there is no setting"):
        load_profile(make_profile("one", f"{SPEAKS}{text}\n"))


def test_a_value_gives_way_to_a_table_and_a_table_to_a_value(make_profile: MakeProfile) -> None:
    make_profile("parent", SPEAKS + "program.number = 5\nwords.spaces = false\n")
    child = make_profile("child", 'extends = "parent"\nprogram.number.letter = "O"\nwords.spaces.x = 1\n')
    with pytest.raises(ProfileError) as caught:
        load_profile(child)
    assert ["words.spaces"] == [each.place.key for each in (caught.value, *caught.value.also)]
    assert "O" == load_profile(child, ["words.spaces=true"]).program.number.letter


def test_an_empty_table_takes_nothing_away(make_profile: MakeProfile) -> None:
    assert ["A"] == list(load_profile(make_profile("child", 'extends = "rs274ngc"\n[rotary]\n')).rotary)


def test_a_list_is_replaced_whole(make_profile: MakeProfile) -> None:
    make_profile("parent", SPEAKS + 'program.safe_start = ["G17", "G40"]\n')
    child = load_profile(make_profile("child", 'extends = "parent"\nprogram.safe_start = ["G80"]\n'))
    assert ("G80",) == child.program.safe_start


def test_a_parent_may_be_given_by_a_relative_path(make_profile: MakeProfile, tmp_path: Path) -> None:
    make_profile("parent", SPEAKS + 'program.extension = ".nc"\n', inside=tmp_path / "elsewhere")
    child = load_profile(make_profile("child", 'extends = "../../elsewhere/parent"\n'))
    assert ".nc" == child.program.extension


def test_a_parent_beside_the_child_comes_before_a_bundled_one(make_profile: MakeProfile) -> None:
    make_profile("rs274ngc-b", SPEAKS)
    child = load_profile(make_profile("child", 'extends = "rs274ngc-b"\n'))
    assert {} == child.rotary


def test_dropping_the_parents_rotary_leaves_only_the_childs(make_profile: MakeProfile) -> None:
    text = 'extends = "rs274ngc"\ndrop = ["rotary.A"]\n[rotary.B]\nalong = "Y"\nchuck_faces = "+Y"\npositive_turns_chuck = "clockwise"\n'
    assert ["B"] == list(load_profile(make_profile("child", text)).rotary)


def test_a_dropped_setting_goes_back_to_the_built_in_default(make_profile: MakeProfile) -> None:
    resolved = resolve(make_profile("child", 'extends = "rs274ngc"\ndrop = ["stops.end"]\n'))
    assert ("M30", "built-in default") == (resolved.profile.stops.end, resolved.origins["stops.end"])


def test_dropping_what_no_parent_states_is_refused_with_the_nearest_key(make_profile: MakeProfile) -> None:
    with pytest.raises(ProfileError) as caught:
        load_profile(make_profile("child", 'extends = "rs274ngc"\ndrop = ["rotary.B"]\n'))
    assert ("drop", 2) == (caught.value.place.key, caught.value.place.line)
    assert "rotary.A" in caught.value.cure


def test_a_profile_that_extends_itself_is_refused(make_profile: MakeProfile) -> None:
    with pytest.raises(ProfileError, match="extends itself: loop -> loop") as caught:
        load_profile(make_profile("loop", 'extends = "loop"\n'))
    assert 1 == caught.value.place.line


def test_a_ring_of_profiles_is_refused_and_named(make_profile: MakeProfile) -> None:
    make_profile("two", 'extends = "three"\n')
    make_profile("three", 'extends = "two"\n')
    with pytest.raises(ProfileError, match="extends itself: two -> three -> two"):
        load_profile(make_profile("one", 'extends = "two"\n'))


def test_an_unknown_parent_is_refused_at_the_line_that_names_it(make_profile: MakeProfile) -> None:
    folder = make_profile("child", SPEAKS + 'extends = "rs274nc"\n')
    with pytest.raises(ProfileError, match="no profile called 'rs274nc'") as caught:
        load_profile(folder)
    assert (str(folder / "controller.toml"), 2) == (caught.value.place.file, caught.value.place.line)
    assert "did you mean rs274ngc" in caught.value.cure


@pytest.mark.parametrize("text", ["extends = 3", 'extends = ""', 'drop = "rotary.A"', "drop = [1]"])
def test_extends_and_drop_of_another_type_are_refused(make_profile: MakeProfile, text: str) -> None:
    with pytest.raises(ProfileError, match=f"{text.split()[0]} takes"):
        load_profile(make_profile("child", text + "\n"))


def test_a_stated_name_is_refused_because_the_folder_is_the_name(make_profile: MakeProfile) -> None:
    with pytest.raises(ProfileError, match="the name of its folder"):
        load_profile(make_profile("child", SPEAKS + 'name = "other"\n'))


def test_origins_name_the_file_that_stated_each_setting(make_profile: MakeProfile) -> None:
    parent = make_profile("parent", SPEAKS + 'program.extension = ".nc"\n')
    child = make_profile("child", 'extends = "parent"\nwords.spaces = false\n')
    origins = resolve(child, ["stops.end=M2"]).origins
    assert [str(parent / "controller.toml"), str(child / "controller.toml"), "--set", "built-in default"] == [
        origins[key] for key in ("program.extension", "words.spaces", "stops.end", "words.order")
    ]


def test_templates_are_looked_for_in_the_own_folder_then_the_parents_then_the_shared_one(make_profile: MakeProfile) -> None:
    parent = make_profile("parent")
    child = make_profile("child", 'extends = "parent"\n')
    for folder in (parent, child):
        (folder / "templates").mkdir()
    assert (child / "templates", parent / "templates", shared_templates_folder()) == resolve(child).template_folders


def test_a_folder_without_templates_is_left_out(make_profile: MakeProfile) -> None:
    assert (shared_templates_folder(),) == resolve(make_profile("child")).template_folders


def test_the_digest_is_the_same_for_the_same_settings_and_another_after_a_change(make_profile: MakeProfile) -> None:
    folder = make_profile("child")
    same = profile_digest(load_profile(folder, ["words.spaces=true"]))
    assert profile_digest(load_profile(folder)) == same
    assert profile_digest(load_profile(folder, ["words.spaces=false"])) != same


def test_a_stated_default_leaves_the_digest_as_it_is(make_profile: MakeProfile) -> None:
    folder = make_profile("child", 'extends = "rs274ngc"\n')
    stated = ["rotary.A.travel.from=-360", "rotary.A.fastest=7200.0", "safety.clearance=5"]
    assert profile_digest(load_profile(folder)) == profile_digest(load_profile(folder, stated))
