"""Chains: what a machine can be and what none can be, in one line a rule, and the two spellings of the facts of a rotary."""

from __future__ import annotations

from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from profile_parts import MakeProfile

from steadyrest.errors import ProfileError
from steadyrest.profile import (
    Chain,
    chain_in_words,
    chain_of,
    direction,
    load_profile,
    profile_schema,
    resolve,
    rotaries_of,
)
from steadyrest.profile.axes import Rotary
from steadyrest.profile_tools import planned_change
from steadyrest.profile_tools.catalogue import groups

BASE = 'extends = "rs274ngc"\nspeaks = "Two rotaries in the table."\n'
C = 'rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}\n'
TABLE = 'chain = "part C A bed spindle"\n' + C
HEAD = 'chain = "part C bed B spindle"\ndrop = ["rotary.A"]\n' + C
B = 'rotary.B = {along = "Y", seen_from = "+Y", positive_turns = "clockwise", pivot = [0, 0, 150]}\n'
LEANING = (
    'rotary.B = {along = "Z", seen_from = "+Z", positive_turns = "clockwise", leans = {towards = "-Y", by = 45}, pivot = [0, 0, 145]}\n'
)

RULES = {
    "from part to spindle": ('chain = "part C A bed"\n' + C, "chain", "does not go from the part over the bed to the spindle"),
    "one bed": ('chain = "part C bed A bed spindle"\n' + C, "chain", "does not go from the part"),
    "only rotaries that are there": ('chain = "part C A bed spindle"', "chain", r"the chain names C, and there is no table \[rotary.C\]"),
    "each once": ('chain = "part A A bed spindle"', "chain", "the chain names A twice"),
    "all of them": ('chain = "part A bed spindle"\n' + C, "chain", "the chain leaves out C"),
    "two at most": (f'chain = "part C A bed B spindle"\n{C}{B}', "chain", "the chain has 3 rotaries; 2 are the most"),
    "no linear axis in it": ('chain = "part C A X bed spindle"\n' + C, "chain", "the linear axis X is no part of the chain"),
    "lines that are not parallel": (
        'chain = "part A B bed spindle"\nrotary.B = {along = "X", seen_from = "+X", positive_turns = "clockwise"}',
        "rotary.B.along",
        "the axes of A and B are parallel",
    ),
    "parallel the other way round": (
        'chain = "part A B bed spindle"\nrotary.B = {along = "X", seen_from = "-X", positive_turns = "clockwise"}',
        "rotary.B.along",
        "the axes of A and B are parallel",
    ),
    "what is nearest to the spindle tilts": (
        'chain = "part A C bed spindle"\n' + C,
        "rotary.C.along",
        "C is nearest to the spindle and lies along it",
    ),
    "a head's last rotary tilts": (
        'chain = "part bed A C spindle"\n' + C,
        "rotary.C.along",
        "C lies along the spindle that it carries",
    ),
    "a pivot is of a head": (
        TABLE + "rotary.A.pivot = [0, 0, 1]",
        "rotary.A.pivot",
        "A carries the part; a pivot is of a rotary that carries the tool",
    ),
    "a point is of a table": (
        HEAD + B.replace("}", ", point = [0, 0, 1]}"),
        "rotary.B.point",
        "B carries the tool; a point is of a rotary that carries the part",
    ),
    "alone it goes through the centre": ("rotary.A.point = [0, 0, 1]", "rotary.A.point", "goes through `centre`"),
    "alone it leans nowhere": ('rotary.A.leans = {towards = "+Z", by = 30}', "rotary.A.leans", "alone in the table and stands along"),
    "leaning by nothing": (HEAD + LEANING.replace("45}", "0}"), "rotary.B.leans.by", "cannot lean by 0 degrees"),
    "leaning by a right angle": (HEAD + LEANING.replace("45}", "90}"), "rotary.B.leans.by", "cannot lean by 90 degrees"),
    "leaning along itself": (HEAD + LEANING.replace("-Y", "-Z"), "rotary.B.leans.towards", "an axis along Z cannot lean towards -Z"),
    "one rotary has nothing to prefer": (
        'rotary.A.prefer = "positive"',
        "rotary.A.prefer",
        "A is no one of two rotaries",
    ),
    "a head's one rotary has nothing to prefer": (
        'chain = "part bed A spindle"\nrotary.A.prefer = "negative"',
        "rotary.A.prefer",
        "A is no one of two rotaries",
    ),
    "a side that the travel has": (
        TABLE + 'rotary.A.prefer = "positive"\nrotary.A.travel = {kind = "limited", from = -120, to = 0}',
        "rotary.A.prefer",
        "the travel from -120 to 0 degrees has no positive side",
    ),
    "the other side that the travel has": (
        TABLE + 'rotary.A.prefer = "negative"\nrotary.A.travel = {kind = "limited", from = 0, to = 120}',
        "rotary.A.prefer",
        "the travel from 0 to 120 degrees has no negative side",
    ),
    "one rotary has no poles": ('poles.past = "slow"', "poles.past", "only a chain of two rotaries has poles"),
    "one rotary in the table turns back": (
        'reorient.inside_a_cut = "withdraw"',
        "reorient.inside_a_cut",
        "one rotary in the table turns back above the part",
    ),
    "and so it does with its chain stated": (
        'chain = "part A bed spindle"\nreorient.inside_a_cut = "withdraw"',
        "reorient.inside_a_cut",
        "one rotary in the table turns back above the part",
    ),
    "withdrawing where a travel refuses": (
        TABLE + 'reorient.inside_a_cut = "withdraw"\nrotary.A.travel.when_exceeded = "refuse"',
        "reorient.inside_a_cut",
        "the travel of A says that a toolpath is refused",
    ),
    "no tip control yet": (TABLE + 'positions.turning = "tip_control"', "positions.turning", '"tip_control" is not written yet'),
    "no tilted planes yet": (TABLE + 'positions.planes = "tilted"', "positions.planes", '"tilted" is not written yet'),
    "a share is no more than all": (
        TABLE + "poles.slowest_percent = 120",
        "poles.slowest_percent",
        "less than or equal to 100|at most 100",
    ),
    "two need drives of their own": (
        TABLE + 'rotary.A.replaces = "Y"\nrotary.A.mm_per_degree = 1',
        "rotary.A.replaces",
        "A needs a drive of its own",
    ),
    "one spelling of the direction": (
        TABLE + 'rotary.A.chuck_faces = "+X"\nrotary.A.seen_from = "+X"',
        "rotary.A.seen_from",
        "state the same fact",
    ),
    "one spelling of the turn": (
        TABLE + 'rotary.A.positive_turns_chuck = "clockwise"\nrotary.A.positive_turns = "clockwise"',
        "rotary.A.positive_turns",
        "state the same fact",
    ),
}


@pytest.mark.parametrize("rule", RULES)
def test_a_machine_that_cannot_be_is_refused_with_file_key_and_cure(rule: str, make_profile: MakeProfile) -> None:
    stated, key, sentence = RULES[rule]
    folder = make_profile("machine", BASE + stated)
    with pytest.raises(ProfileError, match=sentence) as refused:
        load_profile(folder)
    place = refused.value.place
    assert (place.key, Path(str(place.file)).parent) == (key, folder)
    assert refused.value.cure


def test_a_chain_says_who_carries_whom_and_is_read_aloud_in_words(make_profile: MakeProfile) -> None:
    table, head = load_profile(make_profile("machine", BASE + TABLE)), load_profile(make_profile("leaning", BASE + HEAD + LEANING))
    assert chain_of(table) == Chain(part=("C", "A"))
    assert chain_in_words(table) == [
        "C, carried by A, turns the part about Z",
        "A, on the bed, turns C with the part about X",
    ]
    assert chain_of(head) == Chain(part=("C",), tool=("B",))
    assert chain_in_words(head) == [
        "C, on the bed, turns the part about Z",
        "B, on the machine, turns the spindle about an axis along Z that leans by 45 degrees towards -Y",
    ]
    assert (chain_of(load_profile("rs274ngc")), chain_in_words(load_profile("rs274ngc"))) == (None, [])


def test_a_leaning_axis_points_where_a_hand_draws_it() -> None:
    """Design, two rotary axes, section 3: along Z, leaning by 45 towards -Y, it is cos 45 (+Z) + sin 45 (-Y)."""
    said = {"along": "Z", "chuck_faces": "+Z", "positive_turns_chuck": "clockwise", "leans": {"towards": "-Y", "by": 45}}
    assert direction(Rotary.model_validate(said)) == pytest.approx((0, -(0.5**0.5), 0.5**0.5))


def test_the_rotaries_of_a_chain_are_all_meant_and_counted_from_the_part_to_the_spindle(make_profile: MakeProfile) -> None:
    stated_by = {
        "table": (TABLE, ["C", "A"]),
        "head": (HEAD + B, ["C", "B"]),
        "one": ('chain = "part bed A spindle"\nrotary.A.pivot = [0, 0, 150]', ["A"]),
    }
    for name, (stated, meant) in stated_by.items():
        profile = load_profile(make_profile(name, BASE + stated))
        assert [meant] * 2 == [list(rotaries_of(profile, axis)) for axis in ("X", "Z")]


def test_of_rotaries_that_stand_in_the_table_by_themselves_the_one_along_the_axis_is_meant(make_profile: MakeProfile) -> None:
    alone, plain = load_profile(make_profile("alone", BASE + 'chain = "part A bed spindle"')), load_profile(make_profile("plain", BASE))
    for profile in (alone, plain):
        assert (list(rotaries_of(profile, "X")), list(rotaries_of(profile, "Y"))) == (["A"], [])


def test_either_spelling_in_a_child_replaces_what_is_inherited(make_profile: MakeProfile) -> None:
    child = resolve(make_profile("machine", 'extends = "rs274ngc"\nspeaks = "At the other end."\n[rotary.A]\nseen_from = "-X"\n'))
    assert child.profile.rotary["A"].chuck_faces == "-X"
    assert child.origins["rotary.A.chuck_faces"].endswith("controller.toml")
    assert resolve("rs274ngc", ["rotary.A.seen_from=-X"]).profile == resolve("rs274ngc", ["rotary.A.chuck_faces=-X"]).profile


def test_what_is_wrong_is_shown_at_the_line_of_the_spelling_that_the_file_has(make_profile: MakeProfile) -> None:
    folder = make_profile("machine", 'extends = "rs274ngc"\nspeaks = "At the other end."\n[rotary.A]\nseen_from = "-W"\n')
    with pytest.raises(ProfileError) as refused:
        load_profile(folder)
    assert refused.value.place.line == 4


def test_a_fact_is_stored_under_the_spelling_that_the_file_has(make_profile: MakeProfile) -> None:
    folder = make_profile("machine", 'extends = "rs274ngc"\nspeaks = "At the other end."\n[rotary.A]\nseen_from = "-X"  # seen\n')
    change = planned_change(str(folder), {"rotary.A.chuck_faces": "+X"}, {})
    assert 'seen_from = "+X"' in change.after
    assert "chuck_faces" not in change.after
    unset = planned_change(str(folder), {}, {}, unset=["rotary.A.chuck_faces"])
    assert '# seen_from = "-X"' in unset.after


def test_an_editor_takes_either_spelling_and_the_catalogue_lists_each_fact_once() -> None:
    schema = Draft202012Validator(profile_schema())
    said = {"along": "X", "seen_from": "+X", "positive_turns": "clockwise"}
    assert schema.is_valid({"rotary": {"A": said}})
    assert not schema.is_valid({"rotary": {"A": said | {"seen_from": "left"}}})
    listed = [setting.key for group in groups() for setting in group.settings if group.name == "rotary.A"]
    assert "rotary.A.chuck_faces" in listed
    assert "rotary.A.seen_from" not in listed


def test_of_two_rotaries_it_is_said_which_side_one_stands_on_and_what_is_done_at_poles_and_ends(make_profile: MakeProfile) -> None:
    said = TABLE + 'rotary.A.prefer = "negative"\nreorient.inside_a_cut = "withdraw"\npoles = {past = "slow", slowest_percent = 20}\n'
    profile = load_profile(make_profile("machine", BASE + said))
    assert (profile.rotary["A"].prefer, profile.rotary["C"].prefer) == ("negative", "either")
    assert (profile.reorient.inside_a_cut, profile.poles.past, profile.poles.slowest_percent) == ("withdraw", "slow", 20)
    head = load_profile(make_profile("head", BASE + 'chain = "part bed A spindle"\nreorient.inside_a_cut = "withdraw"\n'))
    assert head.reorient.inside_a_cut == "withdraw"
    plain = load_profile("rs274ngc")
    assert (plain.reorient.inside_a_cut, plain.poles.past, plain.positions.turning, plain.positions.planes) == ("refuse",) * 2 + (
        "axes",
    ) * 2
