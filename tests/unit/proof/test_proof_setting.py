"""The fixed facts of one proof."""

from __future__ import annotations

import pytest
from proof_parts import profile, toolpath

from steadyrest.errors import ToolpathError
from steadyrest.proof.setting import count_of, setting_of


def test_the_least_increment_is_that_of_the_letter_in_the_units_of_the_program() -> None:
    spelled = profile(numbers={"by_letter": {"R": {"decimals": 3, "inch_decimals": 4}, "Q": {"decimals": 2}}})
    both = [count_of(spelled, "R", spelled.numbers.length), count_of(spelled, "R", spelled.numbers.length, in_inch=True)]
    assert [1e-3, 1e-4] == pytest.approx(both)
    assert count_of(spelled, "Q", spelled.numbers.length, in_inch=True) == pytest.approx(1e-2)
    assert count_of(spelled, "P", spelled.numbers.length) == pytest.approx(10.0**-spelled.numbers.length.decimals)


def test_one_rotary_cannot_have_turned_about_the_spindle_while_it_cut() -> None:
    part = toolpath([{"cut": [0, 0, 18], "tool_axis": [0, 0, 1], "feed": 500}], {"intent": "simultaneous"}, axis="Z")
    with pytest.raises(ToolpathError, match=r"operation 1, rotary, intent: intent simultaneous is not possible .* along Z"):
        setting_of(part, profile(), None, None)
