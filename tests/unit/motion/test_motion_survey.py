"""The look ahead: which angles an operation needs before whole turns are chosen."""

from __future__ import annotations

import numpy as np
import pytest
from planning_parts import FLAT, indexed, items_of, operation, toolpath, turns_in

from chain_paths import Span, span_of
from steadyrest.motion.setup import Setup, set_up
from steadyrest.motion.survey import operation_spans
from steadyrest.profile import load_profile


def spans_of(number: int, setup: Setup) -> tuple[list[Span], Span | None]:
    found, one = operation_spans(number, setup)
    return [span_of(each) for each in found], None if one is None else span_of(one)


def test_a_still_operation_needs_the_rotary_at_zero_and_an_indexed_one_at_its_angles() -> None:
    path = toolpath(operation({"intent": "still"}, FLAT), indexed(0, 90))
    setup = set_up(path, load_profile("rs274ngc"))
    assert ([Span(0.0, 0.0, 0.0, 0.0, 1)], None) == spans_of(1, setup)
    assert ([Span(w, w, w, w, 2) for w in (0.0, setup.sigma * -90.0)], None) == spans_of(2, setup)


def test_an_operation_that_only_pauses_needs_the_rotary_at_zero() -> None:
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, [{"dwell": 1}]))
    assert ([Span(0.0, 0.0, 0.0, 0.0, 1)], None) == spans_of(1, set_up(path, load_profile("rs274ngc")))


def test_a_pause_inside_an_operation_changes_nothing_of_the_angles_that_it_needs() -> None:
    around = 40 * np.pi * 300 / 360
    cut, away = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, 0], "feed": 200}, {"cut": [-15, around, 0]}], {"rapid": [-15, around, 6]}
    paths = [toolpath(operation({"intent": "wrapped", "diameter": 40}, [*cut, *pause, away])) for pause in ([], [{"dwell": 1}])]
    straight, paused = (spans_of(1, set_up(path, load_profile("rs274ngc"))) for path in paths)
    assert straight == paused
    assert [(0.0, -300.0), (-300.0, -300.0)] == [pytest.approx((span.start_w, span.end_w)) for span in straight[0]]


def test_holes_round_a_wrapped_part_are_reached_the_shorter_way_where_their_operation_is_seen_as_one() -> None:
    holes = [{"hole": [-5, 40 * np.pi * turned_deg / 360], "retract": 22, "bottom": 15, "feed": 100} for turned_deg in (0, 300, 100)]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, holes))
    spans, one = spans_of(1, set_up(path, load_profile("rs274ngc")))
    assert [0.0, -300.0, -100.0] == pytest.approx([span.start_w for span in spans])
    assert one is not None
    # from 0 by 60 back to the second, from there by 160 on to the last: not by 300 and 200
    assert (0.0, -100.0, -100.0, 60.0) == pytest.approx((one.start_w, one.end_w, one.lowest_w, one.highest_w))


def test_a_cut_behind_a_hole_goes_on_from_the_turn_in_which_the_hole_was_reached() -> None:
    around = [40 * np.pi * turned_deg / 360 for turned_deg in (0, 300, 250)]
    holes = [{"hole": [-5, y], "retract": 22, "bottom": 15, "feed": 100} for y in around[:2]]
    cut = [{"rapid": [-5, around[1], 26]}, {"cut": [-5, around[1], 0], "feed": 200}, {"cut": [-9, around[2], 0]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, [*holes, *cut]))
    _, one = spans_of(1, set_up(path, load_profile("rs274ngc")))
    assert one is not None
    assert (0.0, 110.0, 0.0, 110.0) == pytest.approx((one.start_w, one.end_w, one.lowest_w, one.highest_w))


def test_only_the_first_stretch_of_an_operation_is_turned_to_the_others_are_come_to_by_rapids_of_the_toolpath() -> None:
    around = 40 * np.pi * 90 / 360
    cuts = [
        {"rapid": [-5, 0, 26]},
        {"cut": [-9, 0, 0], "feed": 200},
        {"rapid": [-9, 0, 26]},
        {"rapid": [-9, around, 26]},
        {"cut": [-5, around, 0]},
    ]
    spans, _ = spans_of(1, set_up(toolpath(operation({"intent": "wrapped", "diameter": 40}, cuts)), load_profile("rs274ngc")))
    assert [(0.0, True), (0.0, False), (-90.0, False)] == [(pytest.approx(span.start_w), span.turned_to) for span in spans]


def test_forty_turns_are_not_unwound_between_operations() -> None:
    around = 40 * 40 * np.pi
    helix = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, helix), indexed(10))
    assert -14390.0 == pytest.approx(turns_in(items_of(path))[-1])


def test_back_to_zero_between_operations_when_the_profile_says_so() -> None:
    path = toolpath(indexed(0, 120, 240), operation({"intent": "still"}, FLAT))
    assert 0.0 == turns_in(items_of(path, "rs274ngc", "rotary.A.unwinding.between=zero"))[-1]
