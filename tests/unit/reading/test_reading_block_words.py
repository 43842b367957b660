"""The words of a block: numbers by the dialect, codes that it has, and words that nothing takes."""

from __future__ import annotations

import pytest
from reading_parts import read, refusal


def test_whole_counts_are_divided_and_a_point_means_units() -> None:
    text = "%\nO00012\nN0001 G17 G21 G90 G94\nN0002 G00 X12500 Y-1 Z2.5 A90000\nM30\n%\n"
    assert [(12.5, -0.001, 2.5, 90.0)] == read(text, "counts-numbered").ends


def test_whole_counts_in_inch_have_their_own_increment() -> None:
    text = "%\nO1\nG17 G20 G90 G94\nG00 X10000 Y5\nM30\n%\n"
    x, y, *_ = read(text, "counts-numbered").ends[0]
    assert (25.4, 5 / 10000 * 25.4) == (x, y)


def test_a_calculation_among_whole_counts_is_refused() -> None:
    text = "%\nG17 G21 G90 G94\nG00 X[1+2]\nM30\n%\n"
    assert "its unit is unclear" in refusal(text, "counts-numbered", whole=True).wrong


def test_a_code_that_the_controller_does_not_have_is_refused_with_those_that_it_has() -> None:
    refused = refusal("G77")
    assert "G77 is not a code of this controller, it has G0 G1 G2 G3 " in refused.wrong
    assert " M3" not in refused.wrong


@pytest.mark.parametrize("orphan", ["I1", "R2", "P1", "Q1", "L2", "H3", "K1"])
def test_a_word_that_nothing_uses_is_refused(orphan: str) -> None:
    assert f"uses {orphan[0]}" in refusal(f"G0 X1 {orphan}").wrong
