"""What a plan says and does in which order: one behaviour a test, on small toolpaths."""

from __future__ import annotations

import pytest
from planning_parts import indexed, items_of, names_in, toolpath, turns_in

from steadyrest.motion import Event


def head_of(*sets: str) -> Event:
    return next(item for item in items_of(toolpath(indexed(0)), "rs274ngc", *sets) if item.name == "program_start")


def test_the_head_says_which_way_a_positive_word_turns_the_chuck_and_from_where_that_is_seen() -> None:
    facts = head_of("rotary.A.positive_turns_chuck=counterclockwise").facts
    assert "rotary A along X, chuck faces +X" == facts["mounting"]
    assert "A+ turns the chuck counterclockwise, looking at its face" == facts["turns"]


@pytest.mark.parametrize(("mm_per_degree", "way"), [("0.1", "clockwise"), ("-0.1", "counterclockwise")])
def test_the_head_names_a_borrowed_drive_by_the_word_that_turns_the_chuck(mm_per_degree: str, way: str) -> None:
    path = toolpath(indexed(0))
    start = items_of(path, "y-drives-rotary", f"rotary.A.mm_per_degree={mm_per_degree}")[0]
    assert "rotary A along X, on the drive of Y, chuck faces +X" == start.facts["mounting"]
    assert f"Y+ turns the chuck {way}, looking at its face" == start.facts["turns"]


def test_the_end_is_a_whole_turn_at_which_the_rotary_can_arrive() -> None:
    sets = ("rotary.A.unwinding.at_end=nearest_turn", "rotary.A.unwinding.arrive_from=above")
    assert 0.0 == turns_in(items_of(toolpath(indexed(200)), "limited-clamped", *sets))[-1]


def test_tool_is_changed_with_spindle_and_coolant_off() -> None:
    path = toolpath(indexed(0, coolant="flood"), indexed(0, tool=2, coolant="flood"))
    names = names_in(items_of(path))
    change = len(names) - 1 - names[::-1].index("tool_change")
    assert ["retract", "operation_start", "coolant_off", "spindle_stop", "tool_change", "retract", "spindle_start", "coolant_on"] == names[
        change - 4 : change + 4
    ]


def test_an_operation_at_no_speed_stands_with_the_spindle_stopped() -> None:
    standing = indexed(0, spindle={"rpm": 0, "turns": "clockwise"})
    assert "spindle_start" not in names_in(items_of(toolpath(standing)))
    names = names_in(items_of(toolpath(indexed(0), standing)))
    assert ["spindle_start", "spindle_stop"] == [name for name in names if name.startswith("spindle")]


def test_the_spindle_gets_the_time_that_it_takes_to_come_up_to_speed() -> None:
    part = toolpath(indexed(0))
    assert "dwell" not in names_in(items_of(part))
    names = names_in(items_of(part, "rs274ngc", "spindle.dwell=0.5"))
    assert "dwell" == names[names.index("spindle_start") + 1]


def test_program_ends_retracted_with_spindle_and_coolant_off() -> None:
    names = names_in(items_of(toolpath(indexed(0, coolant="flood"))))
    assert ["retract", "coolant_off", "spindle_stop", "program_end"] == names[-4:]
