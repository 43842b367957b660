"""Set-up arithmetic against worked values: shaft touches, opposite faces, a feature flipped by half a turn, an indicator.

The values are worked examples of the trade's formulas (common practice; collected with the project's published references).
"""

from __future__ import annotations

from math import sqrt

import pytest

from steadyrest.centre import Touches, find_centre
from steadyrest.centre.estimates import middle, runout, touched, two_readings
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
    found = two_readings((0, 0.046), (180, -0.018), 0.003)
    assert (pytest.approx(0.032), pytest.approx(0.014)) == (found.cos, found.mean)


def test_the_same_two_readings_in_the_other_order_say_the_same() -> None:
    found = two_readings((180, -0.018), (0, 0.046), 0.003)
    assert (pytest.approx(0.032), pytest.approx(0.014)) == (found.cos, found.mean)


def test_a_top_touch_on_a_bar_that_stands_high_is_lowered_by_the_runout() -> None:
    given = {"top": (8.250,), "diameter": 2 * 20.009, "readings": ((0.0, 0.046), (180.0, -0.018))}
    assert pytest.approx(-11.759 - 0.032) == value_of("Z", **given)


def test_the_uncertainty_of_a_middle_is_that_of_a_touch_by_the_root_of_two() -> None:
    estimate = middle("Y", 1.0, 5.0, 0.01, "two sides in Y")
    assert pytest.approx(0.01 / sqrt(2)) == estimate.uncertainty


def test_four_touches_of_one_place_halve_the_uncertainty() -> None:
    assert pytest.approx(0.005) == touched([1.0, 1.0, 1.0, 1.0], 0.01).uncertainty


def test_touches_that_scatter_more_than_said_count_as_they_scatter() -> None:
    scattered = 0.05 / sqrt(2)  # the experimental standard deviation of 1.00 and 1.05
    assert pytest.approx(scattered / sqrt(2)) == touched([1.0, 1.05], 0.001).uncertainty


def test_half_a_turn_of_readings_is_needed_when_there_are_two() -> None:
    with pytest.raises(InputError, match="half a turn apart"):
        two_readings((0, 0.1), (90, 0.0), 0.003)


@pytest.mark.parametrize("angles", [(0, 1, 2), (10, 10, 10, 190), (0, 180, 0, 180), (0, 90)])
def test_angles_that_lie_too_close_together_are_refused(angles: tuple[float, ...]) -> None:
    with pytest.raises(InputError, match="too close together"):
        runout(angles, [0.0] * len(angles), 0.003)


class TestWhatToRepeat:
    def test_touches_that_agree_leave_nothing_to_repeat(self) -> None:
        found = find_centre(Touches(top=(8.25, 8.252), diameter=40.018, sides=(("Y", -37.482, 12.536),), tool=10))
        assert ((), True) == (found.repeat, found.agrees)

    def test_a_side_touched_with_chips_on_it_is_found_by_the_bars_diameter(self) -> None:
        found = find_centre(Touches(diameter=40.018, sides=(("Y", -37.6, 12.536),), tool=10))
        assert "the sides in Y give a bar of 40.1360, but its diameter was given as 40.0180 (+0.1180)" in found.repeat[0]

    def test_two_ways_that_disagree_are_both_named_the_less_sure_first(self) -> None:
        found = find_centre(Touches(top=(20.0,), diameter=40.0, faces=((12.7, 12.7),), thickness=25.0))
        assert "Z from 'top of the bar' is 0.0000, from 'two faces, indexed by 180' 0.2000: 0.2000 apart" in found.repeat[0]
        assert found.repeat[0].endswith("starting with 'top of the bar'")

    def test_touches_of_the_top_that_scatter_are_to_be_repeated(self) -> None:
        found = find_centre(Touches(top=(8.25, 8.35), diameter=40.018))
        assert "the 2 touches of the top differ by 0.1" in found.repeat[0]

    def test_of_eight_readings_the_one_that_was_misread_is_named(self) -> None:
        readings = tuple((angle, 0.1 if angle == 135 else 0.0) for angle in range(0, 360, 45))
        found = find_centre(Touches(readings=readings))  # type: ignore[arg-type]
        assert "the reading at 135 degrees" in found.repeat[0]

    def test_of_four_readings_none_can_be_named(self) -> None:
        readings = ((0.0, 0.0), (90.0, 0.1), (180.0, 0.0), (270.0, 0.0))
        assert "the four readings do not fit together" in find_centre(Touches(readings=readings)).repeat[0]

    def test_of_six_points_the_one_off_the_circle_is_named(self) -> None:
        points = [(10.0, 0.0), (5.0, 8.66025), (-5.0, 8.66025), (-10.0, 0.0), (-5.0, -8.66025), (5.1, -8.83)]
        assert "the point 5.1, -8.83" in find_centre(Touches(points=tuple(points))).repeat[0]


@pytest.mark.parametrize(
    ("given", "wrong"),
    [
        ({}, "nothing was touched"),
        ({"top": (8.0,)}, "only with the bar's diameter"),
        ({"top": (8.0,), "diameter": -1.0}, "a size has to be more than 0"),
        ({"faces": ((1.0, 2.0),)}, "only with the distance between them"),
        ({"sides": (("X", 1.0, 2.0),)}, "X is not across"),
        ({"along": "Z", "top": (1.0,), "diameter": 3.0}, "has no height"),
        ({"readings": ((0.0, 0.1),)}, "one indicator reading does not show the runout"),
        ({"readings": ((45.0, 0.1), (225.0, 0.2)), "top": (8.0,), "diameter": 40.0}, "at 0 and 180"),
        ({"points": ((0.0, 0.0), (1.0, 1.0), (2.0, 2.0))}, "on a straight line"),
        ({"points": ((0.0, 0.0), (1.0, 1.0))}, "three rotary angles or more"),
        ({"indicator": "+X", "readings": ((0.0, 0.1), (180.0, 0.2))}, "cannot show the runout"),
        ({"uncertainty": 0.0, "top": (8.0,), "diameter": 40.0}, "more than 0"),
        ({"sides": (("Y", 1.0, 2.0),), "readings": ((0.0, 0.1), (120.0, 0.2), (240.0, 0.3))}, "depends on which way the rotary turns"),
        ({"top": (1.0,), "diameter": 3.0, "at_deg": 90.0, "readings": ((0.0, 0.1), (180.0, 0.2))}, "only at 0 and 180"),
    ],
)
def test_what_is_missing_or_cannot_be_is_said(given: dict[str, object], wrong: str) -> None:
    with pytest.raises(InputError, match=wrong):
        find_centre(Touches(**given))  # type: ignore[arg-type]
