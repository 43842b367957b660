"""A profile with settings changed, and the settings in which two profiles differ."""

from __future__ import annotations

import pytest

from steadyrest.errors import ProfileError
from steadyrest.profile import load_profile
from steadyrest.profile_tools.settings import ABSENT, differences, said, value_of, with_values

REFERENCE = load_profile("rs274ngc")


def test_a_setting_that_the_profile_does_not_have_is_absent() -> None:
    assert "M2" == value_of(REFERENCE, "stops.end")
    assert ABSENT is value_of(REFERENCE, "rotary.B.along") is value_of(REFERENCE, "no.such")


def test_what_differs_is_changed_back_and_nothing_else() -> None:
    other = load_profile("rs274ngc", ["stops.end=M30", "words.spaces=true", "rotary.A.travel.kind=rollover"])
    found = differences(REFERENCE, other)
    assert ("M2", "M30") == found["stops.end"]
    assert {} == differences(REFERENCE, with_values(other, {key: first for key, (first, _) in found.items()}))


def test_a_rotary_that_one_profile_lacks_is_one_setting_and_taken_out_whole() -> None:
    upright = load_profile("upright-c")
    found = differences(REFERENCE, upright)
    assert (ABSENT, True) == (found["rotary.A"][1], isinstance(found["rotary.A"][0], dict))
    assert not [key for key in found if key.startswith("rotary.A.")]
    assert {} == with_values(REFERENCE, {"rotary.A": ABSENT}).rotary


def test_settings_that_cannot_stand_together_are_an_error() -> None:
    with pytest.raises(ProfileError, match="faces"):
        with_values(REFERENCE, {"rotary.A.chuck_faces": "+Y"})


def test_a_value_is_said_as_a_file_has_it() -> None:
    assert ['"M2"', "true", "unset", "not there"] == [said(value) for value in ("M2", True, None, ABSENT)]
