"""A chain in words, by hand, for a table and for a head."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.profile import load_profile
from steadyrest.profile_tools import check
from steadyrest.profile_tools.reach import reach_in_words
from steadyrest.toolpath import load_toolpath

C = 'rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}  # seen\n'
TABLE = 'extends = "rs274ngc"\nspeaks = "A table of two."\nchain = "part C A bed spindle"  # seen\n' + C
HEAD = f"""extends = "rs274ngc"
speaks = "A head that leans."
chain = "part C bed B spindle"  # seen
drop = ["rotary.A"]
{C}rotary.B = {{along = "Z", seen_from = "+Z", positive_turns = "clockwise", leans = {{towards = "-Y", by = 45}}}}  # seen
"""


def stated(tmp_path: Path, text: str) -> Path:
    folder = tmp_path / "machine"
    folder.mkdir()
    (folder / "controller.toml").write_text(text, encoding="utf-8")
    return folder


def test_a_table_s_positive_commands_are_told_by_what_is_seen(tmp_path: Path) -> None:
    """By hand: seen at its face, looking towards -X, A+ goes clockwise, so from +Z towards +Y: the side -Y of the part comes up, and the
    tool looks at it from there. C+ goes clockwise from above.
    """
    travel = 'rotary.A.travel = {kind = "limited", from = -30, to = 120}  # seen\n'
    told = dict(reach_in_words(load_profile(stated(tmp_path, TABLE + travel))))
    assert told["A"] == "A, on the bed, turns C with the part about X; at A 90 the tool looks at the part from -Y, 90 degrees off Z"
    assert told["C"] == "C, carried by A, turns the part about Z; at C 90 the part has turned clockwise, seen from above"
    # with C every side square to Z comes round; +120 is short of -Z
    assert told["sides"] == "the tool comes square onto the part's sides +Z, +X, -X, +Y, -Y; it does not onto -Z"


def test_a_travel_that_ends_before_a_right_angle_reaches_the_top_alone(tmp_path: Path) -> None:
    travel = 'rotary.A.travel = {kind = "limited", from = -5, to = 60}  # seen\n'
    told = dict(reach_in_words(load_profile(stated(tmp_path, TABLE + travel))))
    assert told["A"].endswith("at A 60 the tool looks at the part from -Y, 60 degrees off Z")
    assert told["sides"].startswith("the tool comes square onto the part's sides +Z; it does not onto +X")


def test_the_side_that_a_rotary_prefers_is_the_only_one_on_which_it_reaches(tmp_path: Path) -> None:
    """By hand: A+ 90 lays the spindle along -Y of the part, A- 90 along +Y, and C stands where it may: at none of its angles at 0."""
    sets = ["rotary.A.prefer=positive", "rotary.C.travel.kind=limited", "rotary.C.travel.from=-5", "rotary.C.travel.to=5"]
    told = dict(reach_in_words(load_profile(stated(tmp_path, TABLE), sets)))
    assert told["sides"] == "the tool comes square onto the part's sides +Z, -Y, -Z; it does not onto +X, -X, +Y"


def test_a_leaning_head_reaches_the_sides_and_not_the_bottom(tmp_path: Path) -> None:
    """By hand: half a turn of an axis that leans by 45 degrees lays the spindle level, and no further. A quarter clockwise from above about
    (0, -1, 1) takes Z to (1 / sqrt 2, -1 / 2, 1 / 2), which is 60 degrees off Z.
    """
    told = dict(reach_in_words(load_profile(stated(tmp_path, HEAD))))
    assert told["B"] == (
        "B, on the machine, turns the spindle about an axis along Z that leans by 45 degrees towards -Y; "
        "at B 90 the tool looks at the part from +X-Y, 60 degrees off Z"
    )
    assert told["sides"] == "the tool comes square onto the part's sides +Z, +X, -X, +Y, -Y; it does not onto -Z"


def test_a_profile_without_a_chain_is_told_nothing_of_it() -> None:
    assert reach_in_words(load_profile("rs274ngc")) == []


def test_a_head_that_turns_about_the_spindle_is_told_to_turn_and_not_the_part(tmp_path: Path) -> None:
    told = dict(reach_in_words(load_profile(stated(tmp_path, HEAD.replace("part C bed B spindle", "part bed C B spindle")))))
    assert told["C"].endswith("at C 90 the head has turned clockwise, seen from above")


def test_the_check_of_a_chain_tells_it_and_writes_and_proves_programs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = {"planes": load_toolpath(Path(__file__).parents[2] / "golden" / "tour" / "planes.toolpath.json")}
    monkeypatch.setattr("steadyrest.profile_tools.checks.tour", lambda: one)
    report = check(str(stated(tmp_path, TABLE)))
    assert [("C", "good"), ("A", "good"), ("sides", "good")] == [
        (each.what, each.level) for each in report.results if each.check == "chain"
    ]
    tried = {each.what: each for each in report.results if each.check == "tour"}
    assert tried["planes"].words.startswith("proved: ")
    assert 0 == report.exit_code(), [each for each in report.results if each.level in ("wrong", "refused")]
