"""The questions at the machine lead to settings that there are."""

from __future__ import annotations

import pytest
from profile_tools_parts import NAMES

from steadyrest.profile import load_profile
from steadyrest.profile_tools.questionnaire import questionnaire, questions_text
from steadyrest.profile_tools.settings import Absent, value_of


@pytest.mark.parametrize("name", NAMES)
def test_the_questions_are_about_settings_that_there_are(name: str) -> None:
    profile = load_profile(name)
    keys = {key for question in questionnaire(profile) for key in question.keys}
    assert set() == {key for key in keys if isinstance(value_of(profile, key), Absent)}


def test_the_questions_lead_from_what_can_be_seen_to_the_settings() -> None:
    text = questions_text(load_profile("rs274ngc-b"))
    for setting in (
        '`rotary.B.chuck_faces = "+Y"`',
        '`rotary.B.positive_turns_chuck = "clockwise"`',
        '`feed.per_minute_counts = "all_axes"`',
        "`stops.end",
    ):
        assert setting in text


def test_the_time_of_a_full_turn_while_x_moves_tells_what_f_counts() -> None:
    # 100 mm and 360 degrees at F100: a minute for the linear axes alone, the root of both squared where a degree is a mm.
    minutes, seconds = divmod(round((100**2 + 360**2) ** 0.5 / 100 * 60), 60)
    assert f"about {minutes} minutes {seconds} seconds" in questions_text(load_profile("rs274ngc"))
