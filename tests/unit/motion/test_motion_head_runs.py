"""Simultaneous operations with a head: along the tool into the cut and out of it, and turning at the machine's own zero alone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from planning_parts import items_of, operation, toolpath

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion
from steadyrest.motion.chain import tip_in_part, tool_axis
from steadyrest.motion.setup import set_up
from steadyrest.profile import Profile, load_profile

TURNS = {"positive_turns_chuck": "clockwise"}
C = TURNS | {"along": "Z", "chuck_faces": "+Z"}
MACHINES = {
    "B in the head": ("part C bed B spindle", {"C": C, "B": TURNS | {"along": "Y", "chuck_faces": "+Y", "pivot": [0.02, 0, 145]}}),
    "both in the head": ("part bed C B spindle", {"C": C, "B": TURNS | {"along": "Y", "chuck_faces": "+Y", "pivot": [0, 0, 145]}}),
    "a head that leans": (
        "part bed C B spindle",
        {"C": C, "B": TURNS | {"along": "Z", "chuck_faces": "+Z", "leans": {"towards": "-Y", "by": 45}, "pivot": [0, 0, 145]}},
    ),
}
GAUGE = {1: 101.5}


def machine(name: str, **changed: Any) -> Profile:
    chain, rotary = MACHINES[name]
    spoken = load_profile("rs274ngc").model_dump(by_alias=True)
    return Profile.model_validate(spoken | {"name": "hand", "chain": chain, "rotary": rotary} | changed)


def leaning(place: list[float], lean_deg: float, *, rapid: bool = False) -> dict[str, Any]:
    axis = [float(np.sin(np.radians(lean_deg))), 0.0, float(np.cos(np.radians(lean_deg)))]
    return {"rapid": place, "tool_axis": axis} if rapid else {"cut": place, "tool_axis": axis, "feed": 500}


CUTS = [leaning([-10, 0, 20], 20), leaning([10, 0, 20], 50), leaning([12, 0, 22], 50, rapid=True), leaning([10, 0, 40], 30, rapid=True)]


def part(*moves: dict[str, Any]) -> Any:
    return toolpath(
        operation({"intent": "simultaneous"}, list(moves)), axis="Z", stock={"shape": "round", "diameter": 40, "from": -10, "to": 10}
    )


def poses(rows: Motion, setup: Any) -> tuple[np.ndarray, np.ndarray]:
    lines = setup.lines_with(1)
    alpha = np.radians(rows.rotary_deg) * [line.sign for line in lines]
    return tip_in_part(rows.xyz, alpha, lines), tool_axis(alpha, lines)


@pytest.mark.parametrize("name", MACHINES)
def test_with_pivots_and_gauge_length_worked_in_the_tip_goes_where_the_toolpath_says(name: str) -> None:
    path, profile = part(*CUTS[:2]), machine(name)
    setup = set_up(path, profile, gauge_lengths=GAUGE)
    (cut,) = [item for item in items_of(path, profile, gauge_lengths=GAUGE) if isinstance(item, Motion) and item.rule == "cut"]
    tips, axes = poses(cut, setup)
    np.testing.assert_allclose(tips[:, 1:], [[0.0, 20.0]] * len(tips), atol=1e-9)
    np.testing.assert_allclose(tips[[0, -1], 0], [-10, 10], atol=1e-9)
    np.testing.assert_allclose(axes[-1], CUTS[1]["tool_axis"], atol=1e-9)
    assert len(cut) > 10


@pytest.mark.parametrize("name", MACHINES)
def test_the_tool_comes_and_leaves_along_itself_and_the_head_turns_at_the_machines_own_zero_alone(name: str) -> None:
    path, profile = part(*CUTS, leaning([0, 0, 20], 30), leaning([-5, 0, 20], 20)), machine(name)
    setup = set_up(path, profile, gauge_lengths=GAUGE)
    items = items_of(path, profile, gauge_lengths=GAUGE)
    at_zero, before, turns, straight = True, None, 0, 0
    for item in items:
        if isinstance(item, Event):
            at_zero |= item.name == "retract"
            turns += item.name == "index"
            assert item.name != "index" or at_zero
            continue
        if item.rule in ("approach", "retract") and not np.isnan(item.rotary_deg).all():
            tips, axes = poses(item, setup)
            assert before is not None
            start, along = before if item.rule == "retract" else (tips[0], axes[0])
            if item.rule == "retract":
                way = tips[0] - start
                np.testing.assert_allclose(way - (way @ along) * along, 0, atol=1e-9)
                assert (tips[0] - setup.centre) @ along == pytest.approx(setup.over)
                straight += 1
        if item.rule == "cut":
            tips, axes = poses(item, setup)
            before = tips[-1], axes[-1]
        at_zero = False
    assert (turns, straight) == (2, 2)


def test_in_the_air_a_leaning_tool_goes_at_feed_in_straight_lines() -> None:
    path = part(*CUTS[:3], leaning([20, 0, 45], 50, rapid=True))
    items = items_of(path, machine("B in the head"), gauge_lengths=GAUGE)
    (cut,) = [item for item in items if isinstance(item, Motion) and item.rule == "cut"]
    assert not (cut.kind == RAPID).any()
    assert cut.move[-1] == 4


def test_a_tool_that_points_up_where_a_cut_ends_and_one_without_a_gauge_length_are_refused() -> None:
    travel = {"travel": {"kind": "limited", "from": -130, "to": 130}}
    rotary = {"C": C, "B": MACHINES["B in the head"][1]["B"] | travel}
    with pytest.raises(PlanError, match="the tool points up there, and going up would take it into the part"):
        items_of(part(leaning([20, 0, -5], 80), leaning([20, 0, -6], 100)), machine("B in the head", rotary=rotary), gauge_lengths=GAUGE)
    with pytest.raises(PlanError, match="the gauge length of tool 1 is not known"):
        items_of(part(*CUTS), machine("B in the head"))


@pytest.mark.parametrize("name", MACHINES)
def test_where_the_travel_ends_in_a_cut_the_tool_leaves_along_itself_turns_at_the_machines_own_zero_and_comes_back(name: str) -> None:
    """Three turns round a cone on +-200 degrees; only the last clearance down onto the place goes at the cut's feed."""
    turn, tilt = np.radians(np.arange(0, 3 * 360 + 1, 15)), np.radians(30)
    axes = np.column_stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.full(len(turn), np.cos(tilt))])
    path = part(*({"cut": (18 * axis).tolist(), "tool_axis": axis.tolist(), "feed": 500} for axis in axes))
    rotary = MACHINES[name][1]
    limited = rotary | {"C": C | {"travel": {"kind": "limited", "from": -200, "to": 200}}}
    profile = machine(name, rotary=limited, reorient={"inside_a_cut": "withdraw"})
    setup, items = set_up(path, profile, gauge_lengths=GAUGE), items_of(path, profile, gauge_lengths=GAUGE)
    found = [at for at, item in enumerate(items) if isinstance(item, Event) and item.name == "reorient"]
    assert len(found) == 2
    for at in found:
        before, out, retract, turning, over, down, further = items[at - 3 : at + 4]
        assert retract.name == "retract"
        assert [each.rule for each in (before, out, over, down, further)] == ["cut", "retract", "reorient", "reorient", "cut"]
        assert np.isnan(turning.motion[0].xyz).all()
        (left, axis), (back, _), (near, _), (there, along) = (poses(rows, setup) for rows in (before, out, down, further))
        np.testing.assert_allclose([there[0], along[0]], [left[-1], axis[-1]], atol=1e-9)
        np.testing.assert_allclose(back[0] - left[-1], (setup.over - left[-1] @ axis[-1]) * axis[-1], atol=1e-9)
        np.testing.assert_allclose(near[0] - there[0], profile.safety.clearance * along[0], atol=1e-9)
        assert (further.feed[0], further.tip[0]) == (pytest.approx(500), pytest.approx(profile.safety.clearance))
    with pytest.raises(PlanError, match="it fits in no whole turn"):
        items_of(path, machine(name, rotary=limited), gauge_lengths=GAUGE)


def test_onto_the_start_of_a_cut_the_tool_comes_at_feed_also_where_that_lies_clear_of_the_stock() -> None:
    path, profile = part(leaning([0, 0, 45], 20), leaning([0, 0, 20], 20)), machine("B in the head")
    setup = set_up(path, profile, gauge_lengths=GAUGE)
    items = items_of(path, profile, gauge_lengths=GAUGE)
    approach, cut = (next(item for item in items if isinstance(item, Motion) and item.rule == rule) for rule in ("approach", "cut"))
    over = np.array([*approach.xyz[0, :2], approach.xyz[1, 2]])
    assert np.linalg.norm(over - cut.xyz[0]) == pytest.approx(profile.safety.clearance * setup.mm)
    assert (cut.kind[0] != RAPID, cut.tip[0], cut.feed[0]) == (True, pytest.approx(profile.safety.clearance), 500)
