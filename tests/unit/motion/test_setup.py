"""What is fixed for a whole plan, and what is refused before anything is planned."""

from __future__ import annotations

import pytest
from test_plan import indexed, toolpath

from steadyrest.errors import PlanError
from steadyrest.motion.setup import set_up
from steadyrest.profile import load_profile
from steadyrest.toolpath import BEYOND


@pytest.mark.parametrize("tolerance", [0.0, -1.0, float("nan"), BEYOND])
def test_a_tolerance_that_is_not_above_zero_or_without_end_is_refused(tolerance: float) -> None:
    with pytest.raises(PlanError, match="the tolerance"):
        set_up(toolpath(indexed(0)), load_profile("rs274ngc"), tolerance=tolerance)


def test_counts_are_those_of_the_program_s_units_and_of_the_letter() -> None:
    profile = load_profile(
        "rs274ngc", [f"numbers.{key}" for key in ("length.decimals=3", "length.inch_decimals=4", "by_letter.R.decimals=5")]
    )
    mm, inch = (set_up(toolpath(indexed(0), units=units), profile) for units in ("mm", "inch"))
    assert [mm.counts("length"), inch.counts("length"), mm.counts("length", "R")] == [1000.0, 10000.0, 100000.0]
