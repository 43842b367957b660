"""Set-up arithmetic against worked values: shaft touches, opposite faces, a feature flipped by half a turn, an indicator.

The values are worked examples of the trade's formulas (common practice; collected with the project's published references).
"""

from __future__ import annotations

from math import sqrt

import pytest

from steadyrest.centre import Touches, find_centre
from steadyrest.centre.estimates import middle, runout, touched
from steadyrest.errors import InputError


def value_of(axis: str, **given: object) -> float:
    found = find_centre(Touches(**given))  # type: ignore[arg-type]
    return next(each.value for each in found.coordinates if each.axis == axis)


def test_shaft_centre_from_two_side_touches_with_the_same_tool() -> None:
    assert pytest.approx(-12.473) == value_of("Y", sides=(("Y", -37.482, 12.536),))


def test_shaft_diameter_from_the_same_touches() -> None:
    found = find_centre(Touches(sides=(("Y", -37.482, 12.536),), tool=10.0, diameter=41.0))
    assert "the sides in Y give a bar of 40.0180, but its diameter was given as 41.0000 (-0.9820)" in found.repeat[0]


def test_height_of_the_centre_from_a_top_touch() -> None:
    assert pytest.approx(-11.759) == value_of("Z", top=(8.250,), diameter=2 * 20.009)


def test_height_from_two_opposite_faces_each_touched_when_on_top() -> None:
    assert pytest.approx(-0.090) == value_of("Z", faces=((12.430, 12.390),), thickness=25.0)


def test_side_position_from_one_feature_at_0_and_180() -> None:
    assert pytest.approx(0.032) == value_of("Y", flips=(("Y", 3.214, -3.150),))


def test_an_indicator_flipped_by_180_shows_twice_the_offset() -> None:
    found = runout((0, 180), (0.046, -0.018), 0.003)
    assert (pytest.approx(0.032), pytest.approx(0.014)) == (found.values[1], found.values[0])


def test_the_same_two_readings_in_the_other_order_say_the_same() -> None:
    found = runout((180, 0), (-0.018, 0.046), 0.003)
    assert (pytest.approx(0.032), pytest.approx(0.014)) == (found.values[1], found.values[0])


def test_a_top_touch_on_a_bar_that_stands_high_is_lowered_by_the_runout() -> None:
    given = {"top": (8.250,), "diameter": 2 * 20.009, "readings": ((0.0, 0.046), (180.0, -0.018))}
    assert pytest.approx(-11.759 - 0.032) == value_of("Z", **given)


def test_the_uncertainty_of_a_middle_is_that_of_a_touch_by_the_root_of_two() -> None:
    estimate = middle("Y", 1.0, 5.0, 0.01, "two sides in Y")
    assert pytest.approx(0.01 / sqrt(2)) == estimate.uncertainty


def test_four_touches_of_one_place_halve_the_uncertainty() -> None:
    assert pytest.approx(0.005) == touched([1.0, 1.0, 1.0, 1.0], 0.01)[1]


def test_touches_that_scatter_more_than_said_count_as_they_scatter() -> None:
    scattered = 0.05 / sqrt(2)  # the experimental standard deviation of 1.00 and 1.05
    assert pytest.approx(scattered / sqrt(2)) == touched([1.0, 1.05], 0.001)[1]


def test_half_a_turn_of_readings_is_needed_when_there_are_two() -> None:
    with pytest.raises(InputError, match="half a turn apart"):
        runout((0, 90), (0.1, 0.0), 0.003)


@pytest.mark.parametrize("angles", [(0, 1, 2), (10, 10, 10, 190), (0, 180, 0, 180)])
def test_angles_that_lie_too_close_together_are_refused(angles: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="too close together"):
        runout(angles, [0.0] * len(angles), 0.003)
