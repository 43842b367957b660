"""All touches together: what to repeat where they do not agree, and what is missing."""

from __future__ import annotations

import pytest

from steadyrest.centre import Touches, find_centre
from steadyrest.errors import InputError


class TestWhatToRepeat:
    def test_touches_that_agree_leave_nothing_to_repeat(self) -> None:
        found = find_centre(Touches(top=(8.25, 8.252), diameter=40.018, sides=(("Y", -37.482, 12.536),), tool=10))
        assert () == found.repeat

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
