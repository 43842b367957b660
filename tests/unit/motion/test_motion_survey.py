"""The look ahead: which angles an operation needs before whole turns are chosen."""

from __future__ import annotations

import numpy as np
import pytest
from planning_parts import FLAT, indexed, items_of, operation, toolpath, turns_in

from steadyrest.motion.setup import set_up
from steadyrest.motion.survey import nearest_turn, operation_spans
from steadyrest.motion.winding import Span
from steadyrest.profile import load_profile


def test_a_still_operation_needs_the_rotary_at_zero_and_an_indexed_one_at_its_angles() -> None:
    path = toolpath(operation({"intent": "still"}, FLAT), indexed(0, 90))
    setup = set_up(path, load_profile("rs274ngc"))
    assert ([Span(0.0, 0.0, 0.0, 0.0, 1)], None) == operation_spans(1, setup)
    assert ([Span(w, w, w, w, 2) for w in (0.0, setup.sigma * -90.0)], None) == operation_spans(2, setup)


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
    profile = load_profile("rs274ngc", [f"rotary.A.unwinding.{key}={value}" for key, value in asked.items()])
    assert turns == nearest_turn(w, stands, set_up(toolpath(indexed(0)), profile))


def test_forty_turns_are_not_unwound_between_operations() -> None:
    around = 40 * 40 * np.pi
    helix = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, helix), indexed(10))
    assert -14390.0 == pytest.approx(turns_in(items_of(path))[-1])


def test_back_to_zero_between_operations_when_the_profile_says_so() -> None:
    path = toolpath(indexed(0, 120, 240), operation({"intent": "still"}, FLAT))
    assert 0.0 == turns_in(items_of(path, "rs274ngc", "rotary.A.unwinding.between=zero"))[-1]
