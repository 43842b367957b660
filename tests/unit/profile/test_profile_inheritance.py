"""`extends`, `drop` and `--set`, what is left of a parent, and mistakes: each its own clear error, in the words of the user."""

from __future__ import annotations

from pathlib import Path

import pytest
from profile_parts import SPEAKS, MakeProfile, Refusal

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


def test_a_setting_left_out_is_what_the_parent_says_and_only_what_the_file_states_can_be(make_profile: MakeProfile) -> None:
    parent = make_profile("parent", SPEAKS + '[program]\nextension = ".ngc"')
    child = make_profile("child", 'extends = "parent"\n[program]\nextension = ".tap"\nlongest_line = 180')
    left = resolve(child, unset=["program.extension"])
    assert (".ngc", 180) == (left.profile.program.extension, left.profile.program.longest_line)
    assert str(parent / "controller.toml") == left.origins["program.extension"]
    assert ".tap" == resolve(child).profile.program.extension
    with pytest.raises(ProfileError, match="child does not state words"):
        resolve(child, unset=["words.spaces"])


def test_the_digest_is_the_same_for_the_same_settings_and_another_after_a_change(make_profile: MakeProfile) -> None:
    folder = make_profile("child")
    same = profile_digest(load_profile(folder, ["words.spaces=true"]))
    assert profile_digest(load_profile(folder)) == same
    assert profile_digest(load_profile(folder, ["words.spaces=false"])) != same


def test_a_stated_default_leaves_the_digest_as_it_is(make_profile: MakeProfile) -> None:
    folder = make_profile("child", 'extends = "rs274ngc"\n')
    stated = ["rotary.A.travel.from=-360", "rotary.A.fastest=7200.0", "safety.clearance=5"]
    assert profile_digest(load_profile(folder)) == profile_digest(load_profile(folder, stated))


def test_text_that_is_not_toml_is_refused_with_line_and_column(make_profile: MakeProfile) -> None:
    folder = make_profile("child", "[words]\nspaces = tru\n")
    with pytest.raises(ProfileError, match="this is not TOML") as caught:
        load_profile(folder)
    assert (str(folder / "controller.toml"), 2, 10) == (caught.value.place.file, caught.value.place.line, caught.value.place.column)


def test_toml_that_ends_too_early_is_refused_with_its_last_line(make_profile: MakeProfile) -> None:
    with pytest.raises(ProfileError, match="this is not TOML") as caught:
        load_profile(make_profile("child", '[words]\norder = "'))
    assert 2 == caught.value.place.line


@pytest.mark.parametrize(
    "text",
    [
        'rotary.A.chuck_faces = "-X"\n[rotary.A]\ntravel.kind = "limited"\n',
        '[rotary.A]\nchuck_faces = "-X"\n[rotary.A]\ntravel.kind = "limited"\n',
        'rotary.A = { chuck_faces = "-X" }\nrotary.A.travel.kind = "limited"\n',
    ],
    ids=["full names beside a heading", "a heading twice", "a table on a line beside a full name"],
)
def test_a_table_stated_in_two_ways_is_told_with_the_cure(text: str, refusal: Refusal) -> None:
    error = refusal(text)
    name = error.wrong.removesuffix(" is stated in two ways, or twice")
    assert name in ("rotary.A", "rotary.A.travel")
    assert f"{name}.KEY" in error.cure
    assert f"[{name}]" in error.cure


def test_a_full_name_under_a_heading_is_told_to_stand_above_it(refusal: Refusal) -> None:
    error = refusal('[rotary.A]\nfeed.per_minute_counts = "tip"')
    assert "there is no setting rotary.A.feed" in error.wrong
    assert "under the heading [rotary.A]: put the line above all headings" in error.cure


def test_a_file_that_is_not_utf8_is_refused_with_the_line(make_profile: MakeProfile) -> None:
    folder = make_profile("child")
    (folder / "controller.toml").write_bytes(b'# one\nspeaks = "\xfc"\n')
    with pytest.raises(ProfileError, match="is not UTF-8 text") as caught:
        load_profile(folder)
    assert 2 == caught.value.place.line


def test_a_byte_order_mark_at_the_start_is_no_mistake(make_profile: MakeProfile) -> None:
    assert load_profile(make_profile("child", "\ufeff" + SPEAKS)).speaks


def test_an_unknown_key_is_refused_with_its_line_the_nearest_and_all_allowed(refusal: Refusal) -> None:
    error = refusal("\n[words]\nspace = true")
    assert "there is no setting words.space" == error.wrong
    assert (4, "words.space") == (error.place.line, error.place.key)
    assert "did you mean spaces" in error.cure
    assert "allowed here: distance, order, repeat_axes" in error.cure


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(refusal: Refusal) -> None:
    error = refusal('\n[numbers]\nlength.decimals = "four"\nlength.desimals = 3\n[tool]\nlargest = 0')
    assert ["numbers.length.decimals", "numbers.length.desimals", "tool.largest"] == [each.place.key for each in (error, *error.also)]
    assert [4, 5, 7] == [each.place.line for each in (error, *error.also)]
    assert 3 == str(error).count("cure: ")


def test_of_very_many_mistakes_the_first_ten_are_told(refusal: Refusal) -> None:
    error = refusal("\n[words]\n" + "".join(f"nothing_{n} = 1\n" for n in range(30)))
    assert 1 + 9 + 1 == len((error, *error.also))
    assert "20 more" == error.also[-1].wrong


def test_a_key_in_the_wrong_group_is_refused_with_the_group_where_it_belongs(refusal: Refusal) -> None:
    assert "did you mean rotary.A.chuck_faces" in refusal('chuck_faces = "+X"').cure


def test_an_unknown_group_is_refused_with_the_nearest(refusal: Refusal) -> None:
    assert "did you mean words" in refusal("[word]\nspaces = true").cure


def test_a_rotary_of_another_letter_is_refused_with_the_allowed_ones(refusal: Refusal) -> None:
    assert "a rotary cannot be called D; allowed: 'A', 'B' or 'C'" == refusal('[rotary.D]\nalong = "X"').wrong


def test_a_rotary_without_its_mounting_is_refused(refusal: Refusal) -> None:
    error = refusal('drop = ["rotary.A"]\n[rotary.B]\nalong = "Y"\nchuck_faces = "+Y"')
    assert ("'positive_turns_chuck' is missing", "rotary.B.positive_turns_chuck") == (error.wrong, error.place.key)
    assert "looking at the chuck's face" in error.cure


def test_a_profile_that_says_nothing_of_itself_is_refused(make_profile: MakeProfile) -> None:
    with pytest.raises(ProfileError, match="'speaks' is missing"):
        load_profile(make_profile("child", "words.spaces = true\n"))


def test_a_value_that_is_not_allowed_is_refused_with_the_allowed_ones(refusal: Refusal) -> None:
    error = refusal('[feed]\nper_minute_counts = "all_axis"')
    assert 'found "all_axis"; allowed are linear_axes, all_axes, tip' == error.wrong
    assert "did you mean 'all_axes'?" == error.cure
    assert 3 == error.place.line


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ('numbers.length.decimals = "3"', 'found "3"; allowed is a whole number'),
        ("numbers.length.decimals = 2.5", "found 2.5; allowed is a whole number"),
        ("numbers.length.decimals = 7", "found 7; it has to be at most 6"),
        ("words.spaces = 1", "found 1; allowed is true or false"),
        ('words.spaces = "true"', 'found "true"; allowed is true or false'),
        ('rotary.A.fastest = "fast"', 'found "fast"; allowed is a number'),
        ("rotary.A.fastest = true", "found true; allowed is a number"),
        ("rotary.A.fastest = 0", "found 0; it has to be more than 0"),
        ("rotary.A.fastest = inf", "found inf; allowed is a finite number"),
        ("spindle.dwell = -1", "found -1; it has to be at least 0"),
        ("units.mm = 21", "found 21; allowed is a text in quotes"),
        ('arcs.planes = "XY"', 'found "XY"; allowed is a list in square brackets'),
        ("rotary = 3", "found 3; allowed is a table of settings"),
        ("words = 3", "found 3; allowed is a table of settings"),
        ('codes.line = "g1"', 'found "g1"; allowed is a code: one capital letter and a number, such as G94 or M8; empty for none'),
        ('program.extension = "nc"', 'found "nc"; allowed is a point and up to eight letters or digits, such as .nc'),
        ('program.end_mark = "% %"', 'found "% %"; allowed is printable characters without spaces; empty for none'),
        ("program.start_position = [0, 0]", "found [0, 0]; it takes at least 4"),
        ("program.start_position = [0, 0, 0, 0, 0, 0]", "found [0, 0, 0, 0, 0, 0]; it takes at most 5"),
        ('speaks = "short"', 'found "short"; it takes at least 8'),
    ],
)
def test_a_value_of_the_wrong_type_or_out_of_bounds_is_refused_in_plain_words(refusal: Refusal, text: str, wrong: str) -> None:
    assert wrong == refusal(text).wrong


class TestSet:
    def test_a_value_needs_no_quotes(self) -> None:
        assert "-X" == load_profile("rs274ngc", ["rotary.A.chuck_faces=-X"]).rotary["A"].chuck_faces

    def test_a_value_in_toml_is_taken_as_toml(self) -> None:
        profile = load_profile("rs274ngc", ["words.spaces=false", "safety.clearance=7.5", 'arcs.planes=["XY"]'])
        assert (False, 7.5, ("XY",)) == (profile.words.spaces, profile.safety.clearance, profile.arcs.planes)

    def test_a_table_states_what_it_names_and_leaves_the_rest_of_the_group(self) -> None:
        said = '{seen_from = "-X", travel = {kind = "limited", from = -90, to = 90}}'
        rotary, before = (load_profile("rs274ngc", sets).rotary["A"] for sets in ([f"rotary.A={said}"], []))
        travel = rotary.travel
        assert ("-X", "limited", -90, 90) == (rotary.chuck_faces, travel.kind, travel.lowest, travel.highest)
        assert (before.fastest, before.positive_turns_chuck) == (rotary.fastest, rotary.positive_turns_chuck)

    def test_in_a_table_a_fact_is_spelled_in_one_way(self, refusal: Refusal) -> None:
        twice = refusal(sets=('rotary.A={seen_from = "-X", chuck_faces = "+X"}',))
        assert ("--set", "rotary.A.seen_from") == (twice.place.file, twice.place.key)
        assert "state the same fact" in twice.wrong

    def test_in_a_table_texts_are_in_quotes(self, refusal: Refusal) -> None:
        bare = refusal(sets=("rotary.A={seen_from=-X}",))
        assert ("rotary.A", "{seen_from=-X} is no table in TOML") == (bare.place.key, bare.wrong)
        assert "need quotes" in bare.cure

    def test_the_last_of_two_values_counts(self) -> None:
        assert "M2" == load_profile("rs274ngc", ["stops.end=M30", "stops.end=M2"]).stops.end

    def test_an_empty_value_is_empty_text(self) -> None:
        assert "" == load_profile("rs274ngc", ["cycles.drill="]).cycles.drill

    def test_a_value_with_an_equals_sign_is_whole(self) -> None:
        assert "=" == load_profile("rs274ngc", ["program.start_mark=="]).program.start_mark

    def test_a_value_cannot_smuggle_in_another_setting(self, refusal: Refusal) -> None:
        assert "allowed is true or false" in refusal(sets=("words.spaces=true\nstops.end='M99'",)).wrong

    def test_an_unknown_key_is_refused_with_the_nearest_names(self, refusal: Refusal) -> None:
        error = refusal(sets=("rotary.A.chuck_face=-X",))
        assert ("--set", "rotary.A.chuck_face") == (error.place.file, error.place.key)
        assert "did you mean chuck_faces" in error.cure

    def test_a_key_below_a_value_is_refused(self, refusal: Refusal) -> None:
        error = refusal("words.spaces = true", sets=("words.spaces.x=1",))
        assert ("words.spaces", 'found {"x": 1}; allowed is true or false') == (error.place.key, error.wrong)

    def test_a_value_of_the_wrong_type_is_refused(self, refusal: Refusal) -> None:
        error = refusal(sets=("numbers.length.decimals=three",))
        assert ("--set", 'found "three"; allowed is a whole number') == (error.place.file, error.wrong)

    def test_a_table_in_place_of_a_value_is_refused(self, refusal: Refusal) -> None:
        assert 'found {"x": 1}; allowed is a text in quotes' == refusal(sets=("units.mm={x=1}",)).wrong

    @pytest.mark.parametrize("said", ["stops.end", "=M30", "stops..end=M30"])
    def test_a_text_that_is_not_key_and_value_is_refused(self, refusal: Refusal, said: str) -> None:
        assert "is not KEY=VALUE" in refusal(sets=(said,)).wrong

    @pytest.mark.parametrize("key", ["extends", "drop", "name"])
    def test_what_belongs_to_a_file_cannot_be_set(self, refusal: Refusal, key: str) -> None:
        assert "cannot be set for one run" in refusal(sets=(f"{key}=rs274ngc",)).wrong

    def test_a_combination_made_impossible_by_an_override_is_blamed_on_it(self, refusal: Refusal) -> None:
        assert "--set" == refusal(sets=("words.distance=incremental",)).place.file


def test_no_message_has_words_of_the_libraries_underneath(refusal: Refusal, tmp_path: Path) -> None:
    text = str(refusal("[rotary.A]\nsteps = []"))
    assert "rotary.A.steps: found []; allowed is a number" in text
    assert not any(word in text for word in ("pydantic", "input_value", "type=", "Traceback"))
