"""Withdrawing from a cut that needs more than the travels: how often, where to, and along the tool axis."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from planning_parts import items_of, operation, table_of_two, toolpath

from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion, plan
from steadyrest.motion.chain import tip_in_part, tool_axis
from steadyrest.motion.setup import set_up
from steadyrest.profile import Profile

WIDE = {"travel": {"kind": "limited", "from": -120, "to": 120}}


def round_a_cone(turns: float, tilt_deg: float = 30, step_deg: float = 15, *before: dict[str, Any]) -> Any:
    """One cut round and round, the tool leaning by the same angle all the way."""
    turn, tilt = np.radians(np.arange(0, 360 * turns + 1e-9, step_deg)), np.radians(tilt_deg)
    axes = np.column_stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.full(len(turn), np.cos(tilt))])
    moves = [{"cut": (22 * axis).tolist(), "tool_axis": axis.tolist(), "feed": 500} for axis in axes]
    stock = {"shape": "round", "diameter": 40, "from": -10, "to": 10}
    return toolpath(operation({"intent": "simultaneous"}, [*before, *moves]), axis="Z", stock=stock)


def machine(lowest: float, highest: float, inside: str = "withdraw", A: dict[str, Any] = WIDE) -> Profile:
    travel = {"travel": {"kind": "limited", "from": lowest, "to": highest}}
    return table_of_two(C=travel, A=A, reorient={"inside_a_cut": inside})


def withdrawals(items: list[Any]) -> list[Event]:
    return [item for item in items if isinstance(item, Event) and item.name == "reorient"]


@pytest.mark.parametrize(
    ("turns", "lowest", "highest", "times"),
    [
        (3, -360, 360, 1),
        (0.9, -360, 360, 0),
        (1.9, -360, 360, 1),
        (4, -360, 360, 2),
        (3, -3600, 3600, 0),
        (1, -95, 95, 1),
        (2, -100, 100, 3),
    ],
)
def test_a_cut_is_withdrawn_from_as_rarely_as_the_travel_allows(turns: float, lowest: float, highest: float, times: int) -> None:
    """3 turns on +-360: 1 (design, two rotary axes, section 12). With 190 degrees of travel the other solution saves all but one."""
    items = items_of(round_a_cone(turns), machine(lowest, highest))
    assert times == len(withdrawals(items))
    for run in (item for item in items if isinstance(item, Motion)):
        words = run.rotary_deg[~np.isnan(run.rotary_deg).any(axis=1)]
        assert (words[:, 0] >= lowest - 1e-6).all()
        assert (words[:, 0] <= highest + 1e-6).all()


def test_the_tool_leaves_along_its_axis_turns_in_the_clear_and_comes_back_to_where_it_left_at_the_feed_of_the_cut() -> None:
    path, profile = round_a_cone(3), machine(-360, 360)
    setup, items = set_up(path, profile), items_of(path, profile)
    at = next(index for index, item in enumerate(items) if isinstance(item, Event) and item.name == "reorient")
    cut, event, over, back, further = items[at - 1 : at + 4]
    assert (cut.rule, over.rule, back.rule, further.rule) == ("cut", "reorient", "reorient", "cut")
    up, turning = event.motion
    assert up.xyz[0, 2] == setup.clear
    assert np.isnan(up.xyz[0, :2]).all()
    assert np.isnan(turning.xyz).all()
    assert turning.rotary_deg[-1].tolist() == back.rotary_deg[0].tolist() == [-180, pytest.approx(-30)]
    assert (over.kind == RAPID).all()
    np.testing.assert_allclose(over.xyz[0, :2], back.xyz[0, :2])
    assert over.xyz[1, 2] == pytest.approx(back.xyz[0, 2] + profile.safety.clearance)
    assert back.feed.tolist() == [500.0]
    poses = [
        (tip_in_part(run.xyz[row : row + 1], alpha, setup.lines), tool_axis(alpha, setup.lines))
        for run, row in ((cut, len(cut) - 1), (back, 0))
        for alpha in [np.radians(run.rotary_deg[row : row + 1]) * [line.sign for line in setup.lines]]
    ]
    np.testing.assert_allclose(poses[0], poses[1], atol=1e-9)


def test_it_is_told_where_the_cut_was_left_and_to_which_angles_the_rotaries_turn() -> None:
    planned = plan(round_a_cone(3), machine(-360, 360))
    assert len(withdrawals(list(planned.items))) == 1
    (notice,) = [notice for notice in planned.notices if notice.kind == "Reoriented"]
    assert notice.place.move == 44
    assert "they turn to C -180, A -30, and the cut goes on" in notice.sentence()


def test_where_a_profile_refuses_it_or_not_even_a_single_move_fits_the_cut_is_refused() -> None:
    for profile in (machine(-360, 360, "refuse"), machine(-80, 80)):
        with pytest.raises(PlanError, match="it fits in no whole turn"):
            items_of(round_a_cone(3), profile)


def test_a_note_before_the_first_move_is_no_withdrawal() -> None:
    assert [] == withdrawals(items_of(round_a_cone(0.5, 30, 15, {"note": "look"}), machine(-360, 360)))


def test_long_operations_are_withdrawn_from_in_every_run() -> None:
    """Thousands of moves come in several runs: what was chosen in one is counted on in the next."""
    items = items_of(round_a_cone(40, 30, 0.5), machine(-360, 360))
    assert len(withdrawals(items)) == 20


def over_the_pole(by_deg: float, *degrees: float) -> Any:
    """One cut, the tool leaning by these angles along X and by another one along Y: it passes beside the pole, or through it."""
    lean, aside = np.radians(degrees), np.radians(by_deg)
    axes = np.column_stack([np.sin(lean) * np.cos(aside), np.full(len(lean), np.sin(aside)), np.cos(lean) * np.cos(aside)])
    moves = [{"cut": (22 * axis).tolist(), "tool_axis": axis.tolist(), "feed": 500} for axis in axes]
    stock = {"shape": "round", "diameter": 40, "from": -10, "to": 10}
    return toolpath(operation({"intent": "simultaneous"}, moves, axis_tolerance=0.1), axis="Z", stock=stock)


@pytest.mark.parametrize("by_deg", [0.0, 0.02, 0.049])
@pytest.mark.parametrize(("lowest", "highest"), [(-120, 3), (-2, 110)])
def test_a_pole_beyond_which_the_travels_have_no_room_is_left_there_and_gone_on_from_half_a_turn_on(
    by_deg: float, lowest: float, highest: float
) -> None:
    path, profile = (
        over_the_pole(by_deg, *range(-30, 31, 5)),
        machine(-720, 720, A={"travel": WIDE["travel"] | {"from": lowest, "to": highest}}),
    )
    setup, items = set_up(path, profile), items_of(path, profile)
    assert 1 == len(withdrawals(items))
    cuts = [run for run in items if isinstance(run, Motion) and run.rule == "cut"]
    words = np.vstack([run.rotary_deg[~np.isnan(run.rotary_deg).any(axis=1)] for run in cuts])
    assert lowest <= words[:, 1].min()
    assert words[:, 1].max() <= highest
    before, after = cuts[0].rotary_deg, cuts[-1].rotary_deg
    came_back = [run for run in items if isinstance(run, Motion) and run.rule == "reorient"][-1].rotary_deg
    assert 180 == pytest.approx(abs(after[0, 0] - before[-1, 0]), abs=0.5)
    assert np.ptp(before[:, 0]) + np.ptp(after[:, 0]) < 0.5
    signs = np.array([line.sign for line in setup.lines])
    left, back = (tool_axis(np.radians(row)[None] * signs, setup.lines)[0] for row in (before[-1], came_back[-1]))
    np.testing.assert_allclose(left, [0, 0, 1], atol=1e-5)
    np.testing.assert_allclose(back, left, atol=1e-5)


@pytest.mark.parametrize(("lowest", "highest"), [(-720, 720), (-120, 30), (-30, 120)])
def test_a_pole_that_can_be_gone_straight_through_is_not_left_though_it_be_in_one_solution_alone(lowest: float, highest: float) -> None:
    assert [] == withdrawals(items_of(over_the_pole(0.02, *range(-30, 31, 5)), machine(lowest, highest)))


def test_each_of_several_passes_over_a_pole_is_left_there() -> None:
    there = list(range(-30, 31, 5))
    items = items_of(over_the_pole(0.02, *there, *there[-2::-1], *there[1:]), machine(-720, 720, A={"travel": WIDE["travel"] | {"to": 3}}))
    assert 3 == len(withdrawals(items))
