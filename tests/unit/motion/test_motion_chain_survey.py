"""Indexed and still work on two rotaries in the table: what is chosen, how the rotaries turn, and what is refused."""

from __future__ import annotations

import itertools
from math import isnan, nan
from typing import Any

import numpy as np
import pytest
from planning_parts import FLAT, both_in, indexed, items_of, names_in, operation, table_of_two, toolpath

from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion

ON_TOP = {"origin": [-20, 0, 20], "z": [0, 0, 1]}
AT_THE_DOOR = {"origin": [-20, -20, 0], "z": [0, -1, 0]}
"""C 0 with A 90, or C 180 with A -90."""
AT_THE_BACK = {"origin": [-20, 20, 0], "z": [0, 1, 0]}
"""C 0 with A -90, or C 180 with A 90."""
MOVES = [{"rapid": [0, 0, 60]}, {"rapid": [0, 0, 2]}, {"cut": [0, 0, -2], "feed": 300}, {"rapid": [0, 0, 60]}]


def planes(*found: dict[str, Any], **changed: Any) -> dict[str, Any]:
    return operation({"intent": "indexed", "planes": list(found)}, MOVES, **changed)


def ends(items: list[Any]) -> list[tuple[float, ...]]:
    """Where both rotaries stand after each index."""
    found: list[tuple[float, ...]] = [(nan, nan)]
    for stops in both_in(items):
        at = found[-1]
        for said in stops:
            at = tuple(before if isnan(angle) else angle for before, angle in zip(at, said, strict=True))
        found.append(at)
    return found[1:]


def test_both_rotaries_turn_in_one_block_to_the_solution_that_fits_the_travel() -> None:
    items = items_of(toolpath(planes(AT_THE_DOOR)), table_of_two())
    assert [[(180.0, -90.0)]] == both_in(items)


def test_the_solutions_of_all_operations_are_chosen_together() -> None:
    """The first plane by itself is as near in both solutions; the second, which only A -90 reaches, decides it."""
    limited = {"travel": {"kind": "limited", "from": -120, "to": 60}}
    half = {"origin": [-20, -20, 0], "z": [0, -1, 1]}
    alone = items_of(toolpath(planes(half)), table_of_two(A=limited))
    both = items_of(toolpath(planes(half), planes(AT_THE_DOOR)), table_of_two(A=limited))
    assert [(0.0, 45.0)] == ends(alone)
    assert [(180.0, -45.0), (180.0, -90.0)] == ends(both)


def test_the_side_that_is_preferred_leaves_out_the_other_solution() -> None:
    wide = {"travel": {"kind": "limited", "from": -120, "to": 120}}
    assert [(0.0, 90.0)] == ends(items_of(toolpath(planes(AT_THE_DOOR)), table_of_two(A=wide)))
    assert [(180.0, -90.0)] == ends(items_of(toolpath(planes(AT_THE_DOOR)), table_of_two(A=wide | {"prefer": "negative"})))


def test_what_no_solution_brings_into_the_travel_is_refused_with_both_of_them() -> None:
    short = table_of_two(A={"travel": {"kind": "limited", "from": -80, "to": 30}})
    with pytest.raises(PlanError, match="reached at C 0, A 90, or at C 180, A -90, and A goes from -80 to 30: it fits in no whole turn"):
        items_of(toolpath(planes(ON_TOP, AT_THE_DOOR)), short)


def test_what_can_be_arrived_at_only_from_outside_the_travel_is_refused() -> None:
    edge = table_of_two(A={"travel": {"kind": "limited", "from": -92, "to": 30}, "unwinding": {"between": "one_side"}})
    with pytest.raises(PlanError, match="A goes from -92 to 30: there is no room to arrive from the side that is asked for"):
        items_of(toolpath(planes(AT_THE_DOOR)), edge)


def test_a_plane_out_of_reach_is_refused_with_the_angle_that_misses() -> None:
    """C carried by a B that leans by 45 reaches every axis up to 90 degrees from Z, and no farther."""
    leaning = {"along": "Z", "chuck_faces": "+Z", "positive_turns_chuck": "clockwise", "leans": {"towards": "+Y", "by": 45}}
    rotary = {"C": {"along": "Z", "chuck_faces": "+Z", "positive_turns_chuck": "clockwise"}, "B": leaning}
    below = {"origin": [0, 0, 0], "z": [0, 1, -0.1]}
    with pytest.raises(PlanError, match=r"the z of plane 1, \[0, 0.995037, -0.0995037\], leans 5.711 degrees out of .* by turning C and B"):
        items_of(toolpath(planes(below)), table_of_two(chain="part C B bed spindle", rotary=rotary))
    over = table_of_two(chain="part C B bed spindle", rotary=rotary)
    with pytest.raises(PlanError, match=r"the z of angle 100, .*leans 10 degrees out"):
        items_of(toolpath(indexed(100)), over)


def test_planes_off_the_steps_of_an_indexing_head_are_refused_and_those_on_them_stand_exactly_there() -> None:
    stepped = {"steps": 15, "turns_while_cutting": False}
    z = [0, -np.sin(np.deg2rad(45.5)), np.cos(np.deg2rad(45.5))]
    with pytest.raises(PlanError, match=r"plane 1 is upright at C 0, A 45.5, or at C 180, A -45.5: not on the steps of A 15 degrees"):
        items_of(toolpath(planes({"origin": [0, 0, 0], "z": z})), table_of_two(A=stepped))
    rounded = [0, -0.707107, 0.707107]
    assert [(180.0, -45.0)] == ends(items_of(toolpath(planes({"origin": [0, 0, 0], "z": rounded})), table_of_two(A=stepped)))


def test_still_work_stands_with_both_rotaries_at_zero() -> None:
    path = toolpath(planes(AT_THE_DOOR), operation({"intent": "still"}, FLAT))
    assert [(180.0, -90.0), (0.0, 0.0)] == ends(items_of(path, table_of_two()))


def test_each_rotary_arrives_from_its_own_side() -> None:
    one_side = {"unwinding": {"between": "one_side", "overshoot": 4}}
    items = items_of(toolpath(planes(AT_THE_DOOR, ON_TOP)), table_of_two(A=one_side))
    first, second = both_in(items)
    assert "[(180.0, -94.0), (nan, -90.0)]" == str(first)
    assert "[(0.0, 0.0)]" == str(second)


def test_each_rotary_has_its_own_clamp() -> None:
    clamp = {"use": "indexing", "on": "M10", "off": "M11"}
    items = items_of(
        toolpath(planes(ON_TOP, AT_THE_DOOR)), table_of_two(C={"clamp": clamp}, A={"clamp": {**clamp, "on": "M12", "off": "M13"}})
    )
    told = [f"{item.name} {item.facts['rotary']}" for item in items if isinstance(item, Event) and item.name in ("clamp", "unclamp")]
    assert ["unclamp C", "unclamp A", "clamp C", "clamp A"] * 2 == told
    order = [name for name in names_in(items) if name in ("unclamp", "index", "clamp", "cut")]
    assert ["unclamp", "unclamp", "index", "clamp", "clamp", "cut"] * 2 == order


def test_a_rotary_that_does_not_turn_stays_clamped() -> None:
    clamp = {"use": "indexing", "on": "M10", "off": "M11"}
    both = {"C": {"clamp": clamp}, "A": {"clamp": {**clamp, "on": "M12", "off": "M13"}}}
    second = {"origin": [20, 0, 0], "z": [1, 0, 0]}
    items = items_of(toolpath(planes(AT_THE_DOOR, second)), table_of_two(**both))
    told = [f"{item.name} {item.facts['rotary']}" for item in items if isinstance(item, Event) and item.name in ("clamp", "unclamp")]
    assert ["unclamp C", "clamp C"] == told[4:]


def test_the_rotaries_turn_only_above_the_clear_height_and_under_rollover_never_half_a_turn_in_a_block() -> None:
    items = items_of(toolpath(planes(ON_TOP, AT_THE_DOOR)), table_of_two(C={"travel": {"kind": "rollover"}}))
    height, widest = np.inf, 0.0
    at: Any = np.full(2, np.nan)
    for item in items:
        for run in [item] if isinstance(item, Motion) else item.motion if isinstance(item, Event) else []:
            for z, said in zip(run.xyz[:, 2], run.rotary_deg, strict=True):
                height = height if isnan(z) else z
                after = np.where(np.isnan(said), at, said)
                if (after != at).any() and not np.isnan(at).any():
                    assert height >= 48 + np.hypot(48, 0.12) + np.hypot(20, 90) + 5 - 1e-9
                    widest = max(widest, float(np.abs(after - at)[0]))
                at = after
    assert 0 < widest <= 170


def test_at_the_end_each_rotary_is_left_as_its_profile_says() -> None:
    zero = {"unwinding": {"at_end": "zero"}}
    for changed, end in (({"C": zero, "A": zero}, (0.0, 0.0)), ({"A": zero}, (nan, 0.0))):
        items = items_of(toolpath(planes(AT_THE_DOOR)), table_of_two(**changed))
        last = [item for item in items if isinstance(item, Event) and item.rule == "end"]
        assert [str(end)] == [str(tuple(run.rotary_deg[-1].tolist())) for item in last for run in item.motion]


def test_the_head_says_who_carries_what_and_the_lines_that_the_numbers_hold() -> None:
    items = items_of(toolpath(indexed(0), centre=[1, 2, 3.00004]), table_of_two())
    facts = items[0].facts
    assert facts["rotaries"] == (
        "C, carried by A, turns the part about Z",
        "A, on the bed, turns C with the part about X",
        "C+ turns what it carries clockwise, seen from +Z",
        "A+ turns what it carries clockwise, seen from +X",
    )
    assert facts["assumed"] == ("axis of C through X1 Y2 Z3", "axis of A through X1 Y2.12 Z51")
    assert (facts["mounting"], facts["turns"]) == ("", "")
    one = items_of(toolpath(indexed(0)))[0].facts
    assert (one["rotaries"], one["assumed"]) == ((), ())


def test_a_small_number_of_the_head_is_not_minus_zero() -> None:
    facts = items_of(toolpath(indexed(0), centre=[-0.00001, 1234.56784, 0.5]), table_of_two())[0].facts
    assert facts["assumed"][0] == "axis of C through X0 Y1234.5678 Z0.5"


@pytest.mark.parametrize("fastest", [720, 72000])
def test_a_table_is_turned_over_rather_than_that_the_tool_comes_from_below_however_fast_the_head_is(fastest: float) -> None:
    """By hand: the part's underside is cut from above with A 180 and B 0; from below with A 0 and B 180 the tool could not leave."""
    turns = {"positive_turns_chuck": "clockwise"}
    rotary = {
        "A": turns | {"along": "X", "chuck_faces": "+X", "fastest": 7200},
        "B": turns | {"along": "Y", "chuck_faces": "+Y", "fastest": fastest, "pivot": [0, 0, 145]},
    }
    under = [{"cut": [x, 0, -22], "tool_axis": [np.sin(0.01 * x), 0, -np.cos(0.01 * x)], "feed": 500} for x in (-10, 10)]
    path = toolpath(operation({"intent": "simultaneous"}, under))
    items = items_of(path, table_of_two(chain="part A bed B spindle", rotary=rotary), gauge_lengths={1: 90})
    ((a, b),) = ends(items)
    assert (abs(a), abs(b)) == (180.0, pytest.approx(np.degrees(0.1)))


def test_every_choice_is_told_by_its_own_operation() -> None:
    operations = [planes(AT_THE_DOOR, ON_TOP), planes(AT_THE_BACK)]
    found = ends(items_of(toolpath(*operations), table_of_two()))
    assert [(180.0, -90.0), (0.0, 0.0), (0.0, -90.0)] == found
    assert all(abs(after[0] - before[0]) <= 180 for before, after in itertools.pairwise(found))
