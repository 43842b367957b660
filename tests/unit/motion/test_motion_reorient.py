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
