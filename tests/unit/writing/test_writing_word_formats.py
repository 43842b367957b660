"""Which words blocks have by the profile: their order, axes that are repeated, the letter of a rotary."""

from __future__ import annotations

import pytest
from writing_parts import profile, rows, with_y_drive, written

from steadyrest.errors import PlanError


def test_axes_named_by_the_profile_are_repeated() -> None:
    said = profile(words={"repeat_axes": "XZ", "repeat_motion": True, "repeat_feed": True})
    run = rows([(0, 0, 5, 0), (0, 2, 5, 0)])
    assert ["G94 G1 X0 Y0 Z5 A0 F100", "G1 X0 Y2 Z5 F100"] == written([run], said)


def test_words_stand_in_the_profiles_order_without_spaces() -> None:
    said = profile(words={"order": "NFGAZYXBCIJKRPQLSTHDM", "spaces": False})
    assert ["F100G94G1A30Z5Y-2X1.5"] == written([rows([(1.5, -2, 5, 30)])], said)


@pytest.mark.parametrize(("inch", "word"), [(False, "Y30"), (True, "Y1.1811")])
def test_a_replaced_axis_says_the_rotary_by_its_letter_and_its_own_column_is_never_written(inch: bool, word: str) -> None:
    assert [f"G1 X1 {word} Z5 F100"] == written([rows([(1, 7, 5, 60)])], with_y_drive(), inch=inch)


def test_without_a_rotary_nothing_may_turn() -> None:
    assert ["G94 G1 X1 Y0 Z0 F100"] == written([rows([(1, 0, 0, 0)])], profile(), letters="")
    with pytest.raises(PlanError, match="no rotary was chosen"):
        written([rows([(1, 0, 0, 5)])], profile(), letters="")
