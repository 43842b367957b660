"""An operation carried out: the angles, the way to the first point, rapids that turn."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from planning_parts import FLAT, indexed, items_of, motion_in, names_in, notices_of, operation, toolpath, turns_in
from scipy.integrate import quad

from steadyrest.conventions import LINE, RAPID
from steadyrest.motion import Motion


def test_six_flats_come_sixty_degrees_apart() -> None:
    # common practice, no source: six flats on a bar
    turns = turns_in(items_of(toolpath(indexed(0, 60, 120, 180, 240, 300))))
    assert [0.0, 60.0, 120.0, 180.0, 240.0, 300.0] == turns


def test_iso_841_mounting_commands_the_angle_of_the_tool() -> None:
    # ISO 841 (from memory): W = alpha; the same at the other end of the table would be its negative
    assert [30.0] == turns_in(items_of(toolpath(indexed(30))))


def test_rotary_at_the_other_end_of_the_table_turns_the_other_way() -> None:
    # common practice, no source
    assert [-30.0] == turns_in(items_of(toolpath(indexed(30)), "rs274ngc", "rotary.A.chuck_faces=-X"))


def test_a_turn_that_goes_on_past_300_degrees_is_not_unwound() -> None:
    path = toolpath(indexed(0, 120, 240), operation({"intent": "still"}, FLAT))
    assert [0.0, 120.0, 240.0, 360.0] == turns_in(items_of(path))


def test_pieces_of_a_wrapped_cut_whose_radius_changes_all_go_at_the_feed() -> None:
    # a spiral from radius 30 to 10 through one turn, in blocks of at most 170 degrees
    moves = [{"rapid": [-5, 0, 20]}, {"cut": [-5, 0, 10], "feed": 300}, {"cut": [-5, 125.6637061, -10]}]
    items = items_of(toolpath(operation({"intent": "wrapped", "diameter": 40}, moves)), "rollover-shortest", "rotary.A.fastest=99999")
    run = [item for item in items if isinstance(item, Motion) and item.rule == "cut"][-1]
    radius, w_deg = np.concatenate([[30.0], run.xyz[1:, 2]]), np.concatenate([[0.0], run.rotary_deg[1:, 0]])
    ways = [
        quad(lambda u, a=a, b=b, k=k: np.hypot(k * (a + (b - a) * u), b - a), 0, 1)[0]
        for (a, b), k in zip(itertools.pairwise(radius), np.radians(np.abs(np.diff(w_deg))), strict=True)
    ]
    assert len(ways) >= 3
    assert [300.0] * len(ways) == pytest.approx((np.array(ways) * run.feed[1:]).tolist(), rel=1e-6)


def test_clamp_stays_off_where_the_rotary_cuts() -> None:
    wrapped = operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-5, 0, 6]}, {"cut": [-5, 9, -1], "feed": 200}])
    around = [name for name in names_in(items_of(toolpath(wrapped), "limited-clamped")) if name in ("unclamp", "index", "clamp")]
    assert ["unclamp", "index"] == around


def test_first_cut_without_a_rapid_comes_down_at_its_own_feed() -> None:
    path = toolpath(indexed(0, moves=[{"cut": [-5, 3, 18], "feed": 250}, {"cut": [-9, 3, 18]}]))
    rows = motion_in(items_of(path))
    down = next(index for index, row in enumerate(rows) if row[0] == LINE)
    assert (RAPID, -5.0, 3.0, 25.0, 0.0) == rows[down - 1]
    assert (LINE, -5.0, 3.0, 18.0, 0.0) == rows[down]


@pytest.mark.parametrize(
    ("intent", "first", "second"),
    [
        ({"intent": "wrapped", "diameter": 40}, {"cut": [-5, 0, 0], "feed": 250}, {"cut": [-9, 10, 0]}),
        (
            {"intent": "simultaneous"},
            {"cut": [-5, 0, 20], "feed": 250, "tool_axis": [0, 0, 1]},
            {"cut": [-5, -20, 0], "tool_axis": [0, -1, 0]},
        ),
    ],
)
def test_the_way_down_of_a_first_cut_counts_for_its_feed_where_the_rotary_turns_too(intent: Any, first: Any, second: Any) -> None:
    items = items_of(toolpath(operation(intent, [first, second])))
    down = next(item for item in items if isinstance(item, Motion) and item.rule == "cut")
    assert (LINE, 20.0, 5.0) == (down.kind[0], down.xyz[0, 2], pytest.approx(down.tip[0]))


def test_a_rapid_that_turns_low_goes_up_turns_and_comes_down() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 200}, {"rapid": [-5, 0, 1]}, {"rapid": [-9, 31.4159265, 1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    rows = motion_in(items_of(path))
    assert [25.0, 25.0, 21.0] == [round(row[3], 6) for row in rows[-3:]]
    assert [(0.0, -5.0), (-90.0, -9.0), (-90.0, -9.0)] == [(round(row[4], 4) + 0.0, row[1]) for row in rows[-3:]]
    assert [1] == [notice.facts["moves"] for notice in notices_of(path) if notice.kind == "RapidRetracted"]
