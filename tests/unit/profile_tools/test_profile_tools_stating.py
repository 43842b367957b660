"""A setting gets into a controller.toml, however that is laid out, and every other byte of it stays."""

from __future__ import annotations

import tomllib
from difflib import SequenceMatcher
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyrest.errors import ProfileError
from steadyrest.profile import bundled_folder, leaves, nested, spelled
from steadyrest.profile_tools import sources_in
from steadyrest.profile_tools.stating import with_settings, without_settings

FILE = Path("controller.toml")

HEADINGS = """# Our mill. Numbers in brackets are pages.
extends = "rs274ngc"

[words]               # seen in every program
spaces = false        # [12]

# The rotary, as it stands since March.
[rotary.A]
chuck_faces = "-X"    # looked at it
travel.kind = "limited"
travel.from = -90     # the cable

[program]
safe_start = [
    "G17 G40",        # [3], two blocks
    "G49 G80",
]
"""
FULL_NAMES = """extends = "rs274ngc"
rotary.A.chuck_faces = "-X"  # looked at it
# As in rs274ngc; take the # away:
# numbers.length.decimals = 4
# words.spaces = true
"""


def stated(text: str, source: str = "[7]", **values: object) -> str:
    named = {key.replace("__", "."): value for key, value in values.items()}
    return with_settings(text, named, dict.fromkeys(named, source), FILE)


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines that went and those that came; all others are byte for byte the same, in their order."""
    was, now = before.splitlines(keepends=True), after.splitlines(keepends=True)
    codes = SequenceMatcher(None, was, now, autojunk=False).get_opcodes()
    gone = [line for kind, a, b, _, _ in codes if kind != "equal" for line in was[a:b]]
    come = [line for kind, _, _, c, d in codes if kind != "equal" for line in now[c:d]]
    return gone, come


def test_a_value_that_is_stated_is_replaced_where_it_stands_and_its_comment_stays() -> None:
    gone, come = changed_lines(HEADINGS, stated(HEADINGS, words__spaces=True))
    assert ["spaces = false        # [12]\n"] == gone
    assert ["spaces = true        # [12]; now [7]\n"] == come


def test_a_setting_of_a_table_with_a_heading_goes_below_what_stands_there() -> None:
    after = stated(HEADINGS, words__repeat_feed=True)
    assert ([], ["repeat_feed = true  # [7]\n"]) == changed_lines(HEADINGS, after)
    assert "spaces = false        # [12]\nrepeat_feed = true  # [7]\n\n# The rotary" in after


def test_a_dotted_setting_goes_below_its_neighbours() -> None:
    after = stated(HEADINGS, rotary__A__travel__to=90)
    assert "travel.from = -90     # the cable\ntravel.to = 90  # [7]\n" in after
    assert ([], ["travel.to = 90  # [7]\n"]) == changed_lines(HEADINGS, after)


def test_a_setting_goes_below_a_list_of_several_lines_and_not_into_it() -> None:
    after = stated(HEADINGS, program__end_mark="")
    assert after.endswith(']\nend_mark = ""  # [7]\n')


def test_a_setting_without_a_heading_stands_above_the_first_by_its_full_name() -> None:
    after = stated(HEADINGS, spindle__dwell=1.5)
    assert 'extends = "rs274ngc"\nspindle.dwell = 1.5  # [7]\n\n[words]' in after


def test_the_comment_of_the_first_heading_stays_with_it() -> None:
    text = 'extends = "rs274ngc"\n\n# The rotary.\n[rotary.A]\nfastest = 100\n'
    assert 'extends = "rs274ngc"\nspindle.dwell = 2  # [7]\n\n# The rotary.\n[rotary.A]\n' in stated(text, spindle__dwell=2)


def test_a_comment_that_waits_for_a_setting_becomes_it() -> None:
    gone, come = changed_lines(FULL_NAMES, stated(FULL_NAMES, numbers__length__decimals=3))
    assert (["# numbers.length.decimals = 4\n"], ["numbers.length.decimals = 3  # [7]\n"]) == (gone, come)


def test_a_list_replaces_a_list() -> None:
    after = stated(HEADINGS, program__safe_start=("G17 G40 G49 G80",))
    assert ["G17 G40 G49 G80"] == tomllib.loads(after)["program"]["safe_start"]
    assert after.startswith(HEADINGS[: HEADINGS.index("safe_start")])


def test_what_is_stated_already_changes_nothing() -> None:
    assert HEADINGS == stated(HEADINGS, words__spaces=False, rotary__A__travel__from=-90)


def test_a_byte_order_mark_and_windows_line_ends_stay() -> None:
    text = "\ufeff" + HEADINGS.replace("\n", "\r\n")
    after = stated(text, words__repeat_feed=True, spindle__dwell=2)
    assert after.startswith("\ufeff# Our mill")
    assert after.count("\n") == after.count("\r\n") == text.count("\r\n") + 2


def test_a_source_stays_on_its_line_whatever_it_holds() -> None:
    after = stated(HEADINGS, source='two\nlines\x00 # and "quotes"', words__spaces=True)
    assert 'spaces = true        # [12]; now two lines # and "quotes"\n' in after
    assert {"spaces": True} == tomllib.loads(after)["words"]


def test_a_file_in_which_it_cannot_be_put_is_left_and_the_line_to_type_is_told() -> None:
    with pytest.raises(ProfileError, match=r"type by hand: words.spaces = true") as told:
        stated('extends = "rs274ngc"\nwords = 3\n', words__spaces=True)
    assert "words.spaces" == told.value.place.key


TEXTS = {
    **{"headings": HEADINGS, "full names": FULL_NAMES, "empty": "", "no end of line": 'extends = "rs274ngc"'},
    **{folder.name: (folder / "controller.toml").read_text(encoding="utf-8") for folder in sorted(bundled_folder().iterdir())},
}
VALUES = st.fixed_dictionaries(
    {},
    optional={
        "words.spaces": st.booleans(),
        "numbers.length.decimals": st.integers(0, 6),
        "numbers.by_letter.K.decimals": st.integers(0, 6),
        "program.comments.longest": st.integers(8, 99),
        "program.safe_start": st.just(("G17", "G40 G49 G80")),
        "rotary.A.chuck_faces": st.sampled_from(["+X", "-X"]),
        "rotary.A.travel.to": st.floats(0, 999),
        "rotary.B.along": st.just("Y"),
        "spindle.dwell": st.integers(0, 9),
        "speaks": st.text(st.characters(codec="ascii", exclude_categories=["C"]), min_size=8, max_size=20),
    },
)


@given(st.sampled_from(sorted(TEXTS)), VALUES)
def test_whatever_is_stated_the_file_means_that_and_keeps_all_its_comments(name: str, values: dict[str, object]) -> None:
    text = TEXTS[name]
    after = with_settings(text, values, dict.fromkeys(values, "seen"), FILE)
    there = leaves(tomllib.loads(text))
    named = {spelled(key, there): list(value) if isinstance(value, tuple) else value for key, value in values.items()}
    wanted = {key: value for key, value in there.items() if key not in named and value != {}}
    assert nested({**wanted, **named}) == tomllib.loads(after)
    gone, _ = changed_lines(text, after)
    ours = [key.rpartition(".")[2] for key in named]
    inside = ('"G17 G40",        # [3], two blocks', '"G49 G80",', "]") if "program.safe_start" in values else ()  # of the list that goes
    kept = after.splitlines()  # the last line may get the end that it had not
    assert [] == [line for line in gone if "=" in line.split("#")[0] and line not in kept and not any(each in line for each in ours)]
    waiting = tuple(f"# {key} =" for key in values)
    bare = [line for line in gone if "=" not in line.split("#")[0] and line.strip() not in inside]
    assert [] == [line for line in bare if line.strip() and not line.startswith(waiting)]
    assert with_settings(after, values, dict.fromkeys(values, "seen"), FILE) == after


def test_the_source_of_a_line_stands_behind_it_or_above_it_and_the_same_is_filled_in() -> None:
    text = 'a = "# no comment"\nb = 1  # [3]\nc = 2  # the same\nd = 3  # the same page\n# above it\ne = 4\n'
    assert {1: "", 2: "[3]", 3: "[3]", 4: "[3] (the same page)", 6: "above it"} == sources_in(text)


def test_what_is_taken_out_becomes_a_comment_and_nothing_that_somebody_wrote_is_lost() -> None:
    after = without_settings(HEADINGS, ["rotary.A.travel.from", "program.safe_start"], FILE, "asked again")
    assert (["travel.from = -90     # the cable\n"], ["# travel.from = -90     # the cable; not stated any more: asked again\n"]) == tuple(
        [line for line in lines if "from" in line] for lines in changed_lines(HEADINGS, after)
    )
    left = leaves(tomllib.loads(after))
    assert {"rotary.A.chuck_faces", "rotary.A.travel.kind", "words.spaces", "extends"} == set(left)
    assert '#     "G17 G40",        # [3], two blocks\n' in after
    assert "# [program]\n" in after, "a heading without settings would be a table that is there"
    with_it = with_settings(FULL_NAMES, {"numbers.length.decimals": 3}, {}, FILE)
    assert FULL_NAMES.replace("= 4", "= 3") == without_settings(with_it, ["numbers.length.decimals"], FILE)


@given(st.sampled_from(sorted(each.name for each in bundled_folder().iterdir() if (each / "controller.toml").is_file())), st.data())
def test_any_setting_of_any_profile_can_be_taken_out_alone(name: str, data: st.DataObject) -> None:
    text = (bundled_folder() / name / "controller.toml").read_text(encoding="utf-8")
    before = leaves(tomllib.loads(text))
    key = data.draw(st.sampled_from(sorted(before)))
    after = without_settings(text, [key], FILE)
    assert {other: value for other, value in before.items() if other != key} == leaves(tomllib.loads(after))
    assert len(text.splitlines()) == len(after.splitlines())


def test_one_of_several_on_a_line_is_left_to_the_hand() -> None:
    with pytest.raises(ProfileError, match=r"rotary.A.travel.from cannot be taken out safely\n  cure: take it out by hand"):
        without_settings('rotary.A.travel = {kind = "limited", from = -90}\n', ["rotary.A.travel.from"], FILE)
