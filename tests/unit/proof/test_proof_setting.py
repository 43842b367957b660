"""The fixed facts of one proof."""

from __future__ import annotations

import pytest

from steadyrest.profile import NumberFormat
from steadyrest.proof.setting import count_of


def test_the_least_increment_is_that_of_the_units_of_the_program() -> None:
    both = NumberFormat(decimals=3, inch_decimals=4)
    assert [1e-3, 1e-4] == pytest.approx([count_of(both, in_inch=False), count_of(both, in_inch=True)])
    assert count_of(NumberFormat(decimals=2), in_inch=True) == pytest.approx(1e-2)
