"""Between cuts: retract, turn, clamp, arrive from a side."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from planning_parts import FLAT, indexed, items_of, motion_in, names_in, operation, toolpath, turned, turns_in

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion


def test_the_last_way_comes_from_the_side_asked_for() -> None:
    sets = ("rotary.A.unwinding.between=one_side", "rotary.A.unwinding.overshoot=4")
    items = items_of(toolpath(indexed(90, 30)), "rs274ngc", *sets)
    stops = [run.rotary_deg[:, 0].tolist() for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion]
    assert [[86.0, 90.0], [26.0, 30.0]] == stops


@pytest.mark.parametrize("ended_deg", [0.0, -2.0, 2.0])
def test_a_face_at_or_near_the_angle_where_a_cut_ended_is_arrived_at_from_the_side_asked_for(ended_deg: float) -> None:
    around = 40 * np.pi * ended_deg / 360
    wrapped = operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-5, 9, 6]}, {"cut": [-9, around, -1], "feed": 200}])
    items = items_of(toolpath(wrapped, indexed(0)), "rs274ngc", "rotary.A.unwinding.between=one_side")
    stops = [run.rotary_deg[:, 0].tolist() for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion]
    assert [-5.0, 0.0] == stops[-1]


def test_every_turn_happens_above_the_swept_radius_and_clearance() -> None:
    path = toolpath(indexed(0, 90), operation({"intent": "still"}, FLAT))
    rows = motion_in(items_of(path))
    for before, after in itertools.pairwise(rows):
        if after[0] == RAPID and after[4] != before[4] and not np.isnan(before[4]):
            assert min(before[3], after[3]) >= 25.0


def test_clamp_is_released_before_and_set_after_every_turn() -> None:
    items = items_of(toolpath(indexed(0, 90)), "limited-clamped")
    around = [name for name in names_in(items) if name in ("unclamp", "index", "clamp", "cut")]
    assert ["unclamp", "index", "clamp", "cut"] * 2 == around


def test_clamp_is_set_for_a_face_that_needs_no_turn() -> None:
    wrapped = operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-5, 0, 6]}, {"cut": [-9, 0, -1], "feed": 200}])
    names = names_in(items_of(toolpath(wrapped, indexed(0), wrapped), "limited-clamped"))
    around = [name for name in names if name in ("unclamp", "index", "clamp", "operation_start")]
    assert ["operation_start", "unclamp", "index", "operation_start", "clamp", "operation_start", "unclamp"] == around


def test_clear_height_is_said_again_under_a_new_length_offset() -> None:
    names = names_in(items_of(toolpath(indexed(0), indexed(90, tool=2)), "rs274ngc", "retract.form=height"))
    after = [names[at + 1] for at, name in enumerate(names) if name == "tool_change"]
    assert ["retract", "retract"] == after


@pytest.mark.parametrize("profile", ["rs274ngc", "upright-c", "limited-clamped", "iso6983-degrees-in-f", "plain-lines"])
def test_after_a_tool_change_the_height_is_said_anew_before_the_rotary_turns(profile: str) -> None:
    along = "Z" if profile == "upright-c" else "X"
    path = toolpath(indexed(0), indexed(90, tool=2), axis=along)
    items = items_of(path, profile)
    clear = 5.0 if along == "Z" else 25.0
    for at in [at for at, item in enumerate(items) if isinstance(item, Event) and item.name == "tool_change"]:
        first = next(run for item in items[at:] for run in ([item] if isinstance(item, Motion) else item.motion))
        assert clear == first.xyz[0, 2]
        assert np.isnan([*first.xyz[0, :2], *first.rotary_deg[0]]).all()


def test_a_tool_whose_height_nobody_can_say_is_not_turned_around() -> None:
    path = toolpath(indexed(0), axis="Z", stock=None, clearance=30)
    with pytest.raises(PlanError, match="the height that clears it is unknown"):
        items_of(path, "upright-c")


def test_the_nearest_turn_counts_the_overshoot_of_arriving_from_one_side() -> None:
    # 178 degrees down and 5 past it and back are more than 182 up
    path = toolpath(indexed(0, 182))
    assert [0.0, -178.0] == turns_in(items_of(path))
    one_side = ["rotary.A.unwinding.between=one_side", "rotary.A.unwinding.overshoot=5"]
    assert [-5.0, 0.0, 182.0] == [angle for item in items_of(path, "rs274ngc", *one_side) for angle in turned(item)]
