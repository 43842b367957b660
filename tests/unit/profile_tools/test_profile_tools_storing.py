"""Settings go into the shop's own profile, or into a child of one that is not the shop's; nothing is written before it is sure."""

from __future__ import annotations

from pathlib import Path

import pytest
from profile_tools_parts import MakeProfile

from steadyrest.errors import OutputError, ProfileError
from steadyrest.profile import bundled_folder, load_profile, resolve, user_folder
from steadyrest.profile_tools import is_ours, planned_change, said_by, store

SOURCE = {"words.spaces": "page 12", "rotary.A.travel.kind": "the cable"}
VALUES = {"words.spaces": False, "rotary.A.travel.kind": "limited"}


def test_the_shops_own_profile_is_changed_itself(make_profile: MakeProfile) -> None:
    folder = make_profile("[words]\nspaces = true  # page 3\n")
    change = planned_change(str(folder), VALUES, SOURCE)
    assert (folder / "controller.toml", False) == (change.file, change.new)
    store(change)
    assert (False, "limited") == (load_profile(folder).words.spaces, load_profile(folder).rotary["A"].travel.kind)
    text = (folder / "controller.toml").read_text()
    assert "spaces = false  # page 3; now page 12\n" in text
    assert 'rotary.A.travel.kind = "limited"  # the cable\n' in text


def test_a_bundled_profile_gets_a_child_where_somebody_wants_it(tmp_path: Path) -> None:
    change = planned_change("rs274ngc", VALUES, SOURCE, child="corner-mill", inside=tmp_path / "controllers")
    assert change.new
    assert not change.file.exists()
    store(change)
    child = resolve(change.controller)
    assert [tmp_path / "controllers" / "corner-mill", bundled_folder() / "rs274ngc"] == list(child.chain)
    assert not child.profile.words.spaces


def test_a_child_in_the_users_folder_is_named_and_not_reached_by_a_path() -> None:
    change = planned_change("rs274ngc", VALUES, SOURCE)
    store(change)
    assert "shop-rs274ngc" == change.controller
    assert user_folder() / "shop-rs274ngc" == resolve("shop-rs274ngc").chain[0]


def test_the_change_is_told_in_words_and_as_the_lines_that_differ(make_profile: MakeProfile) -> None:
    change = planned_change(str(make_profile("words.spaces = true  # page 3")), VALUES, SOURCE)
    assert ["words.spaces: true -> false", "rotary.A.travel.kind: unlimited -> limited"] == change.words()
    assert "-words.spaces = true  # page 3" in change.difference()
    assert "+words.spaces = false  # page 3; now page 12" in change.difference()
    assert all(line in change.text() for line in (*change.words(), *change.difference()))


def test_what_cannot_be_is_refused_before_anything_is_written(make_profile: MakeProfile) -> None:
    folder = make_profile()
    before = (folder / "controller.toml").read_bytes()
    with pytest.raises(ProfileError, match="cannot have a chuck that faces") as told:
        planned_change(str(folder), {"rotary.A.chuck_faces": "+Y"}, {})
    assert "rotary.A.chuck_faces" == told.value.place.key
    with pytest.raises(ProfileError, match="there is no setting"):
        planned_change("rs274ngc", {"rotary.A.colour": "red"}, {})
    assert before == (folder / "controller.toml").read_bytes()
    assert not user_folder().exists()


def test_what_somebody_else_changed_meanwhile_is_told_and_kept(make_profile: MakeProfile) -> None:
    folder = make_profile()
    change = planned_change(str(folder), VALUES, SOURCE)
    (folder / "controller.toml").write_text('extends = "plain-lines"\n')
    with pytest.raises(OutputError, match="changed in the meantime"):
        store(change)
    assert 'extends = "plain-lines"\n' == (folder / "controller.toml").read_text()


def test_values_that_hold_already_need_nothing(make_profile: MakeProfile) -> None:
    assert not planned_change(str(make_profile()), {"words.spaces": True}, {}).needed


def test_a_profile_is_the_shops_own_unless_it_came_with_steadyrest(make_profile: MakeProfile) -> None:
    assert is_ours(make_profile())
    assert is_ours(user_folder() / "any")
    assert not is_ours(bundled_folder() / "rs274ngc")


def test_a_setting_is_stated_no_more_and_the_parents_value_holds(make_profile: MakeProfile) -> None:
    folder = make_profile("words.spaces = false  # page 3\n")
    change = planned_change(str(folder), {"rotary.A.travel.kind": "limited"}, SOURCE, unset=["words.spaces"], why="asked again")
    assert ["rotary.A.travel.kind: unlimited -> limited", "words.spaces: false -> true"] == change.words()
    store(change)
    text = (folder / "controller.toml").read_text()
    assert "# words.spaces = false  # page 3; not stated any more: asked again\n" in text
    assert load_profile(folder).words.spaces
    with pytest.raises(ProfileError, match="does not state words"):
        planned_change(str(folder), {}, {}, unset=["words.spaces"])


def test_only_the_shop_and_whoever_runs_it_can_have_seen_how_a_rotary_stands(tmp_path: Path) -> None:
    key = "rotary.A.chuck_faces"
    assert "assumed" == said_by(resolve("rs274ngc", ()), key)
    assert "run" == said_by(resolve("rs274ngc", [f"{key}=-X"]), key)
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "controller.toml").write_text('extends = "rs274ngc"\nspeaks = "as its parent does"\n')
    assert "assumed" == said_by(resolve(tmp_path / "own", ()), key), "it inherits what nobody has seen"
    (tmp_path / "own" / "controller.toml").write_text(
        'extends = "rs274ngc"\nspeaks = "as its parent does"\n[rotary.A]\nchuck_faces = "-X"\n'
    )
    assert "shop" == said_by(resolve(tmp_path / "own", ()), key)
    assert "assumed" == said_by(resolve(tmp_path / "own", ()), "rotary.A.positive_turns_chuck")
    assert "assumed" == said_by(resolve(tmp_path / "own", ()), "stops.optional"), "a built-in default"
