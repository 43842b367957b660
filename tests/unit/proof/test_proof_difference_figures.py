"""The numbers that differ at the first difference, in words."""

from __future__ import annotations

from math import radians

import pytest
from proof_parts import MOVES, TEXT, difference_of

from steadyrest.proof import Figure, angle_text


def test_a_speed_is_compared_in_figures_alone() -> None:
    found = difference_of(TEXT.replace("F600", "F720"), MOVES)
    assert found.shown == ""
    assert found.why_not.endswith("how fast it goes.")
    assert found.figures[0] == Figure("speed of the tip", "600 mm/min", "720 mm/min", "1.2 times as fast")


@pytest.mark.parametrize(
    ("old", "new", "figure"),
    [
        ("G0 A0", "S1100 M3\nG0 A0", Figure("spindle speed", "1000 rpm", "1100 rpm", "not the same")),
        ("G0 A0", "M4\nG0 A0", Figure("spindle turns", "clockwise", "counterclockwise", "not the same")),
        ("G0 A0", "M8\nG0 A0", Figure("coolant", "off", "flood", "not the same")),
    ],
)
def test_what_is_switched_is_compared_in_words(old: str, new: str, figure: Figure) -> None:
    found = difference_of(TEXT.replace(old, new), MOVES)
    assert found.shown == ""
    assert figure in found.figures


@pytest.mark.parametrize(("rad", "text"), [(radians(-14759.9622), "-14759.9622°"), (-0.0, "0°"), (radians(60), "60°")])
def test_an_angle_for_people_has_no_exponent_and_no_minus_zero(rad: float, text: str) -> None:
    assert angle_text(rad) == text
