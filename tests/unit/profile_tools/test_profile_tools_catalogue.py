"""The catalogue has each setting of the model once, with its sentence and unit."""

from __future__ import annotations

from collections import Counter

from steadyrest.profile import flat, load_profile
from steadyrest.profile_tools import general, groups


def test_each_setting_of_a_profile_is_in_it_once() -> None:
    keys = Counter(setting.key for group in groups() for setting in group.settings)
    assert {1} == set(keys.values())
    profile = load_profile("rs274ngc", ["rotary.B={along='Y', chuck_faces='+Y', positive_turns_chuck='clockwise'}", "linear.Y.travel=3"])
    assert {general(key) for key in flat(profile)} - {"numbers.by_letter", "rotary.A.leans"} <= set(keys)
    assert {"rotary.A.leans.towards", "rotary.A.leans.by"} <= set(keys), "a table that may be left out is a table"


def test_a_group_has_the_settings_of_its_own_table_and_what_it_is_about() -> None:
    by_name = {group.name: group for group in groups()}
    assert "rotary.A.travel.kind" in [setting.key for setting in by_name["rotary.A.travel"].settings]
    assert "rotary.A.travel.kind" not in [setting.key for setting in by_name["rotary.A"].settings]
    assert by_name["spindle"].about == "The spindle."


def test_a_measure_has_its_unit_and_a_count_has_none() -> None:
    units = {setting.key: setting.unit for group in groups() for setting in group.settings}
    assert ("mm", "seconds", "degrees per minute", "") == (
        units["safety.clearance"],
        units["spindle.dwell"],
        units["rotary.A.fastest"],
        units["tool.digits"],
    )


def test_either_spelling_of_a_fact_is_found_under_the_one_by_which_it_is_kept() -> None:
    assert ["rotary.A.chuck_faces", "rotary.A.positive_turns_chuck"] == [
        general(f"rotary.C.{key}") for key in ("seen_from", "positive_turns")
    ]


def test_one_letter_stands_for_all_where_the_name_of_a_table_is_a_letter() -> None:
    keys = ("rotary.C.travel.to", "linear.Z.fastest", "numbers.by_letter.Q.plus", "words.order")
    assert ["rotary.A.travel.to", "linear.X.fastest", "numbers.by_letter.K.plus", "words.order"] == [general(key) for key in keys]
