"""Winding: which turn each operation takes, and where the rotary is left."""

from __future__ import annotations

from typing import Any

import pytest

from chain_paths import Span, choose_turns
from steadyrest.motion.winding import Unfit, end_position, nearest_turn
from steadyrest.profile.axes import Travel, Unwinding

FREE, ROUND = Travel(), Travel(kind="rollover")


def limited(low: float, high: float) -> Travel:
    return Travel.model_validate({"kind": "limited", "from": low, "to": high})


def still(*angles: float) -> list[Span]:
    return [Span(w, w, w, w, number) for number, w in enumerate(angles, 1)]


def one_side(side: str, overshoot: float = 5.0, **more: Any) -> Unwinding:
    return Unwinding.model_validate({"between": "one_side", "arrive_from": side, "overshoot": overshoot, **more})


def test_without_limits_each_operation_begins_within_half_a_turn_of_where_the_last_ended() -> None:
    spans = [Span(0, 730, 0, 730, 1), *still(90, 300)]
    assert choose_turns(spans, FREE, Unwinding(), 0.0) == [0, 2, 1]


def test_half_a_turn_goes_to_the_smaller_angle_and_then_to_the_positive_one() -> None:
    assert choose_turns(still(180), FREE, Unwinding(), 0.0) == [0]
    assert choose_turns(still(-180), FREE, Unwinding(), 0.0) == [1]
    assert choose_turns(still(270), FREE, Unwinding(), 450.0) == [0]
    assert choose_turns(still(630), limited(-720, 720), Unwinding(), 450.0) == [-1]


def test_rollover_counts_the_way_as_if_it_had_no_limits() -> None:
    assert choose_turns(still(350, 10), ROUND, Unwinding(), 0.0) == [-1, 0]


def test_the_end_at_zero_bends_the_choice_where_that_is_less() -> None:
    # three steps of 170 up end at 510, and 510 more lead back; with the last of them the other way round, 190 instead of
    # 170, the end is at 150, and that is less; of three such links the last is the one
    spans = still(170, 340, 510)
    assert choose_turns(spans, FREE, Unwinding(), 0.0) == [0, 0, 0]
    assert choose_turns(spans, FREE, Unwinding(at_end="zero"), 0.0) == [0, 0, -1]


def test_limited_travel_looks_ahead() -> None:
    # the second operation fits at its own turn only; without looking ahead the first would stand at 179
    spans = [*still(179), Span(-300, -10, -300, -10, 2)]
    assert choose_turns(spans, limited(-350, 340), Unwinding(), 0.0) == [-1, 0]


def test_zero_takes_the_turn_around_zero() -> None:
    spans = [Span(0, 1000, 0, 1000, 0), *still(540, -181, 180)]
    assert choose_turns(spans, FREE, Unwinding(between="zero"), 0.0) == [0, -2, 1, -1]


def test_zero_takes_the_nearest_turn_that_fits() -> None:
    assert choose_turns(still(-10), limited(0, 720), Unwinding(between="zero"), 0.0) == [1]


def test_an_operation_wider_than_the_travel_is_named() -> None:
    chosen = choose_turns([*still(0), Span(0, 800, 0, 800, 7)], limited(-360, 360), Unwinding(), 0.0)
    assert chosen == Unfit(1)


def test_an_operation_that_lies_outside_in_every_turn_is_named() -> None:
    assert choose_turns(still(330), limited(0, 300), Unwinding(), 0.0) == Unfit(0)


def test_the_very_ends_of_the_travel_are_within_it() -> None:
    spans = [Span(0, 360.0000000001, -0.0000000001, 360.0000000001, 1)]
    assert choose_turns(spans, limited(0, 360), Unwinding(), 0.0) == [0]


def test_arriving_from_one_side_counts_the_overshoot() -> None:
    assert choose_turns(still(174), FREE, one_side("above", 5), 0.0) == [0]
    assert choose_turns(still(176), FREE, one_side("above", 5), 0.0) == [-1]
    assert choose_turns(still(-176), FREE, one_side("below", 5), 0.0) == [1]


def test_the_overshoot_stays_in_the_travel() -> None:
    # -358 is nearer, but would be arrived at from below, past -360
    assert choose_turns(still(2), limited(-360, 360), one_side("below", 5), -300.0) == [0]


def test_the_overshoot_counts_from_the_turn_in_which_the_operation_before_ended() -> None:
    # 355 is 5 degrees on from 350, where the first ends a turn back; but there would be no room to go past it.
    spans = [Span(360, 710, 360, 710, 1), Span(-5, 0, -5, 0, 2)]
    assert choose_turns(spans, limited(-10, 370), one_side("above", 20), 0.0) == [-1, 0]


def test_what_can_only_be_arrived_at_from_outside_is_named() -> None:
    chosen = choose_turns(still(100, 2), limited(0, 300), one_side("below", 5), 0.0)
    assert chosen == Unfit(1, overshoot=True)


def test_no_operations_need_no_turns() -> None:
    assert choose_turns([], limited(-10, 10), Unwinding(), 0.0) == []


def test_at_the_end_the_rotary_stays_or_goes_to_a_turn_or_to_zero() -> None:
    assert end_position(725.0, FREE, Unwinding()) == 725.0
    assert end_position(725.0, FREE, Unwinding(at_end="nearest_turn")) == 720.0
    assert end_position(-541.0, FREE, Unwinding(at_end="nearest_turn")) == -720.0
    assert end_position(-540.0, FREE, Unwinding(at_end="nearest_turn")) == -360.0
    assert end_position(725.0, FREE, Unwinding(at_end="zero")) == 0.0
    assert end_position(725.0, ROUND, Unwinding(at_end="zero")) == 720.0


def test_at_the_end_the_nearest_turn_lies_in_the_travel() -> None:
    assert end_position(350.0, limited(-100, 355), Unwinding(at_end="nearest_turn")) == 0.0
    assert end_position(-350.0, limited(-400, 400), Unwinding(at_end="nearest_turn")) == -360.0
    assert end_position(-550.0, limited(-600, 600), Unwinding(at_end="nearest_turn")) == -360.0


def test_thousands_of_operations_are_chosen_together() -> None:
    spans = [Span(k * 37.0 % 360, k * 37.0 % 360 + 300, k * 37.0 % 360, k * 37.0 % 360 + 300, k) for k in range(2000)]
    turns = choose_turns(spans, limited(-3600, 3600), Unwinding(at_end="zero"), 0.0)
    assert isinstance(turns, list)
    assert all(-3600 <= s.lowest_w + 360 * t and s.highest_w + 360 * t <= 3600 for s, t in zip(spans, turns, strict=True))


def test_zero_binds_the_beginning_of_an_operation_and_what_it_turns_inside_is_least() -> None:
    faces = [Span(w, w, w, w, 1) for w in (0, 120, 240, 0)]
    to_zero = Unwinding(between="zero")
    limited = Travel.model_validate({"kind": "limited", "from": -720, "to": 720})
    assert [0, 0, 0, 1] == choose_turns(faces, FREE, to_zero, 0.0) == choose_turns(faces, limited, to_zero, 0.0)
    again = [*faces, Span(0, 0, 0, 0, 2)]
    assert [0, 0, 0, 0, 0] == choose_turns(again, FREE, to_zero, 0.0) == choose_turns(again, limited, to_zero, 0.0)


@pytest.mark.parametrize(
    ("side", "w", "stands", "turns"),
    [
        ("", 10, 0, 0),
        ("", 10, 370, 1),
        ("", 200, 0, -1),  # 160 back instead of 200 on
        ("", 180, 0, 0),  # as far either way and as large: on
        ("", 270, 450, 0),  # as far either way: to the smaller angle
        ("", -270, -450, 0),
        ("below", 176, 0, 0),
        ("below", -176, 0, 1),  # 176 back and twice 5 past it are more than 184 on
        ("below", -174, 0, 0),
        ("above", 174, 0, 0),
        ("above", 176, 0, -1),
    ],
)
def test_the_nearest_turn_counts_the_overshoot_twice(side: str, w: float, stands: float, turns: int) -> None:
    asked = {"between": "one_side", "arrive_from": side, "overshoot": 5} if side else {}
    assert turns == nearest_turn(w, stands, FREE, Unwinding.model_validate(asked))


def test_where_the_travel_makes_one_choose_the_overshoot_counts_on_the_side_that_it_is_for() -> None:
    # the last fits in its own turn only, which the shortest way there would not take: so all are chosen together
    spans = [*still(170), Span(-20, -20, -300, 150, 2, turned_to=False), Span(170, 170, -50, 390, 3)]
    assert [-1, 0, 0] == choose_turns(spans, limited(-400, 400), one_side("above", 50), 0.0)
    assert [0, 0, 0] == choose_turns(spans, limited(-400, 400), one_side("below", 50), 0.0)


def test_where_the_travel_makes_one_choose_of_two_that_are_as_good_the_positive_one_is_taken() -> None:
    spans = [*still(180), Span(0, 0, -300, 150, 2), Span(190, 190, -50, 340, 3)]
    assert [0, 0, 0] == choose_turns(spans, limited(-400, 400), Unwinding(), 0.0)


def test_where_the_travel_makes_one_choose_the_way_home_counts_only_if_there_is_one() -> None:
    spans = [Span(190, 190, 160, 340, 1), *still(340)]
    assert [0, 0] == choose_turns(spans, limited(-190, 350), Unwinding(), 0.0)
    assert [0, -1] == choose_turns(spans, limited(-190, 350), Unwinding(at_end="nearest_turn"), 0.0)
