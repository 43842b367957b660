"""Parameters and calculations."""

from __future__ import annotations

import pytest
from reading_parts import blocks, refusal


def test_a_parameter_set_on_a_line_counts_from_the_next_line_on() -> None:
    got = blocks("#3=15\n#3=6 G0 X#3\nG0 X#3")
    assert [15.0, 6.0] == [end[0] for end in got.ends]


def test_a_parameter_nobody_has_set_is_refused() -> None:
    assert "#7 was not set by this program" in refusal("G0 X#7").wrong


def test_the_machines_own_parameters_cannot_be_set() -> None:
    assert "#5221 holds an offset" in refusal("#5221=3").wrong


@pytest.mark.parametrize("calculation", ["1/0", "LN[0]", "SQRT[-1]", "ACOS[2]", "[-1]**0.5", "EXP[9999]"])
def test_a_calculation_without_a_value_is_refused(calculation: str) -> None:
    assert "calculation has no value" in refusal(f"G0 X[{calculation}]").wrong
