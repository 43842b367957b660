"""What the program's words and the toolpath's figures say."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
import pytest
from proof_parts import profile, toolpath

from steadyrest.profile import bundled_folder, load_profile
from steadyrest.proof import Setting, length_text, setting_of
from steadyrest.proof.edits import edited
from steadyrest.proof.verdict import Mismatch
from steadyrest.proof.words import axis_word, coordinate_said, length, place_said, speed

BEGIN, END, GOAL = (np.array(one, dtype=np.float64) for one in ((0, 0, 30, 0), (-51, 2, 30, radians(90)), (-50, 2.5, 10, radians(450))))


def setting(**groups: Any) -> Setting:
    return setting_of(toolpath([{"rapid": [0, 0, 50]}]), profile(**groups), None, None)


def a_rotary(**settings: Any) -> dict[str, Any]:
    return {"A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **settings}}


@pytest.mark.parametrize(("coordinate", "says"), [(0, "X-51; the toolpath asks for -50 mm"), (1, "Y2; the toolpath asks for 2.5 mm")])
def test_a_word_is_said_with_what_it_should_say(coordinate: int, says: str) -> None:
    assert axis_word(setting(), coordinate, BEGIN, END, GOAL) == says


def test_an_angle_is_said_in_degrees_with_the_sign_and_the_turns_of_its_word() -> None:
    assert axis_word(setting(), 3, BEGIN, END, GOAL) == "A-90; the toolpath asks for -450 degrees"
    rollover = setting(rotary=a_rotary(travel={"kind": "rollover"}))
    assert axis_word(rollover, 3, BEGIN, END, GOAL) == "A270; the toolpath asks for 270 degrees"
    other_way = setting(rotary=a_rotary(positive_turns_chuck="counterclockwise"))
    assert axis_word(other_way, 3, BEGIN, END, GOAL) == "A90; the toolpath asks for 450 degrees"
    assert coordinate_said(setting(rotary={}), 3, END) == "rotary90"


def test_steps_are_said_from_where_the_block_begins() -> None:
    steps = setting_of(toolpath([{"rapid": [0, 0, 50]}]), load_profile(bundled_folder() / "incremental"), None, None)
    assert axis_word(steps, 0, np.array([-10.0, 0, 0, 0]), END, GOAL) == "X-41; the toolpath asks for a step of -40 mm"
    unknown = np.array([np.nan, 0, 0, 0])
    assert axis_word(steps, 0, unknown, END, GOAL) == "X-51; the toolpath asks for -50 mm"


def test_lengths_and_speeds_are_in_the_units_of_the_program() -> None:
    inch = setting(units={"program": "inch"})
    assert (length(setting(), 12.34567), length(inch, 25.4)) == ("12.3457 mm", "1 inch")
    assert (speed(setting(), 300), speed(inch, 254)) == ("300 mm/min", "10 inch/min")
    assert place_said(inch, np.array([25.4, -0.0, 50.8])) == "X1 Y0 Z2 inch"
    assert coordinate_said(inch, 2, np.array([0, 0, 25.4, 0])) == "Z1"


@pytest.mark.parametrize(
    ("mm", "inch", "text"), [(1.23456, False, "1.235 mm"), (-0.0001, False, "0 mm"), (25.4, True, "1 inch"), (3.0, True, "0.1181 inch")]
)
def test_a_length_for_people_has_no_more_digits_than_can_be_measured(mm: float, inch: bool, text: str) -> None:
    assert length_text(mm, inch=inch) == text


def test_a_difference_is_said_by_the_word_it_comes_from() -> None:
    mismatch = Mismatch("off-path", "the tip leaves its path", line=9)
    assert edited(mismatch, None) is mismatch
    assert not mismatch.edited
    edited(mismatch, (7, "X-51; the toolpath asks for -50 mm"))
    assert (mismatch.edited, mismatch.line) == (True, 7)
    assert mismatch.sentence == "X-51; the toolpath asks for -50 mm: the tip leaves its path"
