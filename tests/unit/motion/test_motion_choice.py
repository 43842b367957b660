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
    assert [one.turns[0] for one in chosen] == [0, 0, 0, -1]


def test_of_choices_as_good_the_smaller_angles_and_then_the_positive_one_are_taken() -> None:
    assert choose([at((180, 0))], [rotary(), rotary()], (0, 0)) == [Choice(0, (0, 0))]
    assert choose([at((-40, 40), (40, -40))], [rotary(), rotary()], (0, 0)) == [Choice(1, (0, 0))]


def test_what_can_only_be_arrived_at_from_outside_the_travel_is_told_apart() -> None:
    edge = rotary(unwinding={"between": "one_side", "arrive_from": "below"}, **TILT)
    assert choose([at((0, 10)), at((0, -118))], [rotary(), edge], (0, 0)) == Unfit(1, overshoot=True)
    assert choose([at((0, -118))], [rotary(), edge], (0, 0)) == Unfit(0, overshoot=True)


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
