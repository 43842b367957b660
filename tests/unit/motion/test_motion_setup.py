"""What is fixed for a whole plan, and what is refused before anything is planned."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from planning_parts import FLAT, indexed, items_of, motion_in, operation, table_of_two, toolpath, turns_in

from steadyrest.conventions import LINE
from steadyrest.errors import PlanError, ToolpathError
from steadyrest.motion.chain import linear_axes
from steadyrest.motion.setup import set_up
from steadyrest.profile import load_profile
from steadyrest.toolpath import BEYOND


@pytest.mark.parametrize(
    ("tolerance", "wrong"),
    [
        (0.0, "is not more than 0"),
        (-1.0, "is not more than 0"),
        (float("nan"), "is not more than 0"),
        (BEYOND, "is not from"),
        (1e-7, "is not from"),
    ],
)
def test_a_tolerance_that_is_not_above_zero_or_without_end_is_refused(tolerance: float, wrong: str) -> None:
    with pytest.raises(PlanError, match=f"the tolerance .*{wrong}"):
        set_up(toolpath(indexed(0)), load_profile("rs274ngc"), tolerance=tolerance)


def test_counts_are_those_of_the_program_s_units_and_of_the_letter() -> None:
    profile = load_profile(
        "rs274ngc", [f"numbers.{key}" for key in ("length.decimals=3", "length.inch_decimals=4", "by_letter.R.decimals=5")]
    )
    mm, inch = (set_up(toolpath(indexed(0), units=units), profile) for units in ("mm", "inch"))
    assert [mm.counts("length"), inch.counts("length"), mm.counts("length", "R")] == [1000.0, 10000.0, 100000.0]


def test_clearance_without_stock_stands_for_the_swept_radius() -> None:
    rows = motion_in(items_of(toolpath(indexed(0, 90), stock=None, clearance=22)))
    turned = [after for before, after in itertools.pairwise(rows) if after[4] != before[4] and not np.isnan(before[4])]
    assert [27.0] == [row[3] for row in turned]


def test_angle_off_the_steps_of_an_indexing_head_names_the_nearest() -> None:
    with pytest.raises(PlanError, match=r"angle 31 is not one of the indexing head's steps of 5 degrees; the nearest is 30"):
        items_of(toolpath(indexed(30, 31)), "fixed-steps")


def test_a_rotary_that_only_indexes_refuses_wrapped_work() -> None:
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, FLAT))
    with pytest.raises(PlanError, match="only indexes: it does not turn while the tool cuts"):
        items_of(path, "fixed-steps")


@pytest.mark.parametrize("controller", ["upright-c", "rs274ngc"])
def test_one_rotary_cannot_turn_about_the_spindle_while_it_cuts(controller: str) -> None:
    path = toolpath(operation({"intent": "simultaneous"}, [{"cut": [0, 0, 18], "tool_axis": [0, 0, 1], "feed": 500}]), axis="Z")
    with pytest.raises(ToolpathError, match=r"operation 1.*rotary, intent: intent simultaneous is not possible .* along Z"):
        items_of(path, controller)


def test_coolant_the_controller_lacks_is_refused() -> None:
    with pytest.raises(PlanError, match=r"has no code for mist coolant\n.*coolant.mist"):
        items_of(toolpath(indexed(0, coolant="mist")), "rs274ngc", 'coolant.mist=""')


def test_too_fast_a_spindle_is_refused() -> None:
    with pytest.raises(PlanError, match="5000 revolutions per minute are more than 4000"):
        items_of(toolpath(indexed(0)), "rs274ngc", "spindle.largest_rpm=4000")


def test_tool_number_beyond_the_largest_is_refused() -> None:
    with pytest.raises(PlanError, match="tool 2 is more than 1"):
        items_of(toolpath(indexed(0, tool=2)), "rs274ngc", "tool.largest=1")


def test_axis_whose_drive_turns_the_rotary_may_not_be_needed() -> None:
    moves = [{"rapid": [5, 0, 30]}, {"cut": [5, 0, 17], "feed": 300}, {"cut": [-20, 4, 17], "feed": 500}]
    with pytest.raises(PlanError, match=r"move 3: Y 4 is needed here, but the Y drive turns the rotary"):
        items_of(toolpath(indexed(0, moves=moves)), "y-drives-rotary")


def test_inch_toolpath_becomes_a_mm_program_where_the_controller_runs_in_mm() -> None:
    moves = [{"rapid": [0.2, 0, 1.2]}, {"cut": [0.2, 0, 0.7], "feed": 20}, {"cut": [-1, 0, 0.7]}]
    path = toolpath(indexed(0, moves=moves), units="inch", stock={"shape": "round", "diameter": 1.5, "from": -3, "to": 0})
    rows = motion_in(items_of(path, "rs274ngc", "units.program=mm"))
    assert (LINE, -25.4, 0.0, pytest.approx(17.78), 0.0) == rows[-1]


def test_toolpath_about_an_axis_without_a_rotary_is_refused() -> None:
    path = toolpath(operation({"intent": "indexed", "angles": [0]}, FLAT), axis="Y")
    with pytest.raises(PlanError, match="turns about Y, and rs274ngc has no rotary along Y; it has: A along X"):
        items_of(path)


def test_still_work_needs_no_rotary() -> None:
    path = toolpath(operation({"intent": "still"}, FLAT), axis="Y")
    assert [] == turns_in(items_of(path))


AT_END = {"unwinding": {"at_end": "zero"}}


def test_a_chain_of_two_has_its_rotaries_and_lines_in_the_order_from_the_part_to_the_spindle() -> None:
    setup = set_up(toolpath(indexed(0), centre=[1, 2, 3], units="inch"), table_of_two())
    assert (list(setup.rotaries), setup.letter, setup.rotary) == (["C", "A"], None, None)
    first, second = setup.lines
    assert (first.point.tolist(), first.direction.tolist(), first.carries_part) == ([1, 2, 3], [0, 0, 1], True)
    assert second.point == pytest.approx([1, 2 + 0.12 / 25.4, 3 + 48 / 25.4])


def test_a_rotary_alone_in_the_table_is_one_line_through_the_centre_and_a_machine_without_one_has_none() -> None:
    setup = set_up(toolpath(indexed(0), centre=[1, 2, 3]), load_profile("rs274ngc"))
    (line,) = setup.lines
    assert (line.point.tolist(), line.direction.tolist(), line.sign) == ([1, 2, 3], [1, 0, 0], -setup.sigma)
    none = set_up(toolpath(operation({"intent": "still"}, FLAT), axis="Y"), load_profile("rs274ngc"))
    assert (none.rotaries, none.lines, none.letter) == ({}, (), None)


@given(
    points=st.tuples(*[st.floats(-80, 80)] * 6),
    lean=st.sampled_from([None, {"towards": "+Y", "by": 45}, {"towards": "-X", "by": 20}]),
    turns=st.lists(st.tuples(st.floats(-4, 4), st.floats(-4, 4)), min_size=1, max_size=20),
)
def test_no_turn_of_two_rotaries_brings_the_stock_above_the_clear_height(
    points: tuple[float, ...], lean: dict[str, object] | None, turns: list[tuple[float, float]]
) -> None:
    """The chain's reference point is turned as the kinematics say; the stock is a ball about it."""
    second = {"along": "Z" if lean else "X", "chuck_faces": "+Z" if lean else "+X", "leans": lean, "positive_turns_chuck": "clockwise"}
    first = {"along": "Z" if not lean else "Y", "chuck_faces": "+Z" if not lean else "+Y", "positive_turns_chuck": "clockwise"}
    rotary = {"C": first | {"point": points[:3]}, "B": second | {"point": points[3:]}}
    path = toolpath(indexed(0), centre=[5, 6, 7], stock=None, clearance=30)
    setup = set_up(path, table_of_two(chain="part C B bed spindle", rotary=rotary))
    highest = linear_axes(np.tile([5.0, 6, 7], (len(turns), 1)), np.array(turns), setup.lines)[:, 2].max()
    assert setup.clear is not None
    assert highest + 30 + 5 <= setup.clear + 1e-9


def test_with_both_axes_through_the_centre_the_clear_height_is_the_ball_of_the_stock_and_the_clearance() -> None:
    plain = {letter: rotary.model_copy(update={"point": None}) for letter, rotary in table_of_two().rotary.items()}
    setup = set_up(toolpath(indexed(0), centre=[1, 2, 3]), table_of_two().model_copy(update={"rotary": plain}))
    assert setup.clear == pytest.approx(3 + np.hypot(20, 90) + 5)


def test_a_rotary_of_a_chain_that_only_indexes_refuses_simultaneous_work_and_is_named() -> None:
    path = toolpath(operation({"intent": "simultaneous"}, [{"cut": [0, 0, 20], "tool_axis": [0, 0, 1], "feed": 100}]))
    with pytest.raises(PlanError, match="the rotary C of hand only indexes"):
        items_of(path, table_of_two(C={"turns_while_cutting": False}))


def test_a_start_position_below_what_two_rotaries_turn_is_refused() -> None:
    steps = load_profile("incremental").model_dump(by_alias=True)
    said = {key: steps[key] for key in ("words", "retract", "cycles", "codes", "numbers")}
    for height, fits in ((190, False), (194, True)):
        program = steps["program"] | {"start_position": [0, 0, height, 0, 0]}
        two = table_of_two(**said, program=program, C=AT_END, A=AT_END)
        if fits:
            assert items_of(toolpath(indexed(0)), two)
            continue
        with pytest.raises(PlanError, match=r"the start position Z 190 of hand is below 193.196 mm"):
            set_up(toolpath(indexed(0)), two)
