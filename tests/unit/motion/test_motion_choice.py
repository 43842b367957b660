"""Which solution and which turns two rotaries take: what a hand chooses; every choice is tried in tests/property."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from steadyrest.motion.choice import Choice, Stretch, choose, sided, standing
from steadyrest.motion.winding import Unfit
from steadyrest.profile.axes import Rotary, Travel

FREE: dict[str, Any] = {}
TILT = {"travel": {"kind": "limited", "from": -120, "to": 30}}


def rotary(**facts: Any) -> Rotary:
    return Rotary.model_validate({"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **facts})


def at(*solutions: tuple[float, float], operation: int = 1) -> Stretch:
    return standing(np.array(solutions), operation)


def test_of_two_solutions_that_is_taken_to_which_the_slowest_rotary_turns_least() -> None:
    stretches = [at((10, -90), (190, 90)), at((60, -90), (240, 90))]
    wide = rotary(travel={"kind": "limited", "from": -120, "to": 120})
    assert choose(stretches, [rotary(), wide], (0, 0)) == [Choice(0, (0, 0)), Choice(0, (0, 0))]
    # 170 down and 90 up are less than 10 and 90 where C is three times as fast, but what A turns is the same: then the turning counts
    assert choose(stretches, [rotary(fastest=21600), wide], (0, 0)) == [Choice(0, (0, 0)), Choice(0, (0, 0))]
    assert choose(stretches, [rotary(), wide], (180, 0)) == [Choice(1, (0, 0)), Choice(1, (0, 0))]


def test_a_solution_outside_the_travel_is_not_taken_and_where_none_fits_the_stretch_is_named() -> None:
    stretches = [at((10, -90), (190, 90)), at((10, 40), (190, 50))]
    assert choose(stretches[:1], [rotary(), rotary(**TILT)], (180, 20)) == [Choice(0, (0, 0))]
    assert choose(stretches, [rotary(), rotary(**TILT)], (0, 0)) == Unfit(1)


def test_a_rotary_without_limits_turns_the_shorter_way_each_time_and_counts_on() -> None:
    stretches = [at((100 * number % 360, 0), operation=number) for number in range(8)]
    chosen = choose(stretches, [rotary(), rotary(**TILT)], (0, 0))
    assert isinstance(chosen, list)
    assert [100.0 * number for number in range(8)] == [100 * number % 360 + 360 * one.turns[0] for number, one in enumerate(chosen)]


def test_back_to_the_turn_around_zero_an_operation_begins_there_whatever_the_way() -> None:
    stretches = [at((0, 0), operation=1), at((170, 0), operation=2), at((340, 0), operation=2), at((350, 0), operation=3)]
    chosen = choose(stretches, [rotary(unwinding={"between": "zero"}), rotary()], (0, 0))
    assert isinstance(chosen, list)
    # the third the other way round, 190 instead of 170, for it saves 340 on the way back to the turn around zero
    assert [one.turns[0] for one in chosen] == [0, 0, -1, -1]


def test_of_choices_as_good_the_smaller_angles_and_then_the_positive_one_are_taken() -> None:
    assert choose([at((180, 0))], [rotary(), rotary()], (0, 0)) == [Choice(0, (0, 0))]
    assert choose([at((-40, 40), (40, -40))], [rotary(), rotary()], (0, 0)) == [Choice(1, (0, 0))]


def test_what_can_only_be_arrived_at_from_outside_the_travel_is_told_apart() -> None:
    edge = rotary(unwinding={"between": "one_side", "arrive_from": "below"}, **TILT)
    assert choose([at((0, 10)), at((0, -118))], [rotary(), edge], (0, 0)) == Unfit(1, overshoot=True)
    assert choose([at((0, -118))], [rotary(), edge], (0, 0)) == Unfit(0, overshoot=True)


def test_the_first_stretch_to_which_nothing_leads_is_named_and_not_one_after_it_that_fits_nowhere() -> None:
    """The second can only go on from the other solution of the first, which its travel does not have; the third fits nowhere."""
    step = {(1, 0): np.array([0.0, 0.0])}
    on = np.array([(0.0, 10.0), (180.0, -10.0)])
    beside = Stretch(on, on, on, on, 1, past=step)
    narrow = rotary(travel={"kind": "limited", "from": 0, "to": 30})
    assert choose([at((0, 10), (180, -10)), beside, at((0, 40), (180, -40))], [rotary(), narrow], (0, 0)) == Unfit(1, overshoot=True)


def test_at_zero_at_the_end_a_rotary_without_limits_turns_one_link_the_other_way_where_that_is_less() -> None:
    """By hand: three steps of 170 and 510 back are 1020; one step the other way, 190, and then 150 back are 680."""
    stretches = [at((170, 0)), at((340, 0)), at((510, 0))]
    home = rotary(unwinding={"at_end": "zero"})
    assert choose(stretches, [rotary(), rotary()], (0, 0)) == [Choice(0, (0, 0))] * 3
    chosen = choose(stretches, [home, rotary()], (0, 0))
    assert isinstance(chosen, list)
    places = [0, *(one.start_deg[0, 0] + 360 * choice.turns[0] for one, choice in zip(stretches, chosen, strict=True)), 0]
    assert np.abs(np.diff(places)).sum() == 680


@pytest.mark.parametrize("way", [1, -1])
def test_many_turns_are_taken_back_on_the_way_to_zero_as_one_rotary_alone_takes_them_back(way: int) -> None:
    """By hand: 24 steps of 170 make 11.3 turns; each step the other way round costs 20 more and saves 360: eleven of them are taken."""
    angles = [way * 170.0 * number for number in range(1, 25)]
    home = rotary(unwinding={"at_end": "zero"})
    alone = choose([standing(np.array([[angle]]), 1) for angle in angles], [home], (0,))
    chosen = choose([at((angle, 0)) for angle in angles], [home, rotary(**TILT)], (0, 0))
    assert isinstance(alone, list)
    assert isinstance(chosen, list)
    for choices in (alone, chosen):
        places = [0, *(angle + 360 * choice.turns[0] for angle, choice in zip(angles, choices, strict=True)), 0]
        assert np.abs(np.diff(places)).sum() == 13 * 170 + 11 * 190 + (24 * 170 - 11 * 360)


def test_a_solution_in_which_the_tool_points_up_is_taken_only_where_there_is_no_other() -> None:
    near, far = np.array([(0.0, 100.0), (180.0, 80.0)]), np.array([(0.0, 100.0), (180.0, 200.0)])
    limited = rotary(travel={"kind": "limited", "from": -110, "to": 110})
    up = np.array([True, False])
    told = [Stretch(each, each, each, each, 1, up=up) for each in (near, far)]
    assert choose(told[:1], [rotary(), limited], (0, 100)) == [Choice(1, (0, 0))]
    assert choose(told[1:], [rotary(), limited], (0, 100)) == [Choice(0, (0, 0))]
    only = Stretch(near, near, near, near, 1, past={(0, 0): np.array([0.0, 0.0])}, up=up)  # goes on from where it is
    assert choose([told[1], only], [rotary(), limited], (0, 100)) == [Choice(0, (0, 0))] * 2


def test_a_travel_of_thousands_of_turns_is_not_searched_to_its_ends() -> None:
    wide = rotary(travel={"kind": "limited", "from": -1e7, "to": 1e7})
    assert choose([at((7230, 7230)), at((10, -20))], [wide, wide], (0, 0)) == [Choice(0, (-20, -20)), Choice(0, (0, 0))]


@pytest.mark.parametrize(("prefer", "ends"), [("either", (-120.0, 30.0)), ("positive", (0.0, 30.0)), ("negative", (-120.0, 0.0))])
def test_the_side_at_which_a_rotary_may_stand_ends_its_travel_at_zero(prefer: str, ends: tuple[float, float]) -> None:
    travel = sided(Travel.model_validate(TILT["travel"]), prefer)
    assert ends == (travel.lowest, travel.highest)


def test_a_rotary_without_limits_stands_within_half_a_turn_at_its_side() -> None:
    travel = sided(Travel(), "negative")
    assert (travel.kind, travel.lowest, travel.highest) == ("limited", -180.0, 0.0)


def test_what_is_wound_up_may_be_more_turns_than_are_tried_to_either_side_of_the_shorter_way() -> None:
    """Each stretch winds on by 300 degrees, and the next begins 60 farther on: fifty turns, of which none is turned back."""
    wide = rotary(travel={"kind": "limited", "from": -36000, "to": 36000})
    for sense in (1, -1):
        start, end = np.array([[0.0, 0.0]]), np.array([[300.0 * sense, 0.0]])
        wound = Stretch(start, end, np.minimum(start, end), np.maximum(start, end), 1)
        assert choose([wound] * 50, [wide, rotary()], (0, 0)) == [Choice(0, (sense * number, 0)) for number in range(50)]
