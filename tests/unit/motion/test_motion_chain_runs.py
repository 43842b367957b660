"""Simultaneous operations on two rotaries in the table: from a toolpath to the motion of the program."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from planning_parts import both_in, items_of, names_in, operation, table_of_two, toolpath

from chain_paths import CHAINS, past_pole
from steadyrest.conventions import RAPID
from steadyrest.errors import PlanError
from steadyrest.motion import Motion
from steadyrest.motion.chain import tip_in_part, tool_axis
from steadyrest.motion.chain_runs import axis_tolerance_rad, held_together, stretches_of
from steadyrest.motion.setup import set_up
from steadyrest.toolpath import Note

WIDE = {"travel": {"kind": "limited", "from": -120, "to": 120}}
SLOW = {"poles": {"past": "slow", "slowest_percent": 0}}


def leaning(x: float, lean_deg: float, beside_deg: float = 0.0, *, feed: float = 500, rapid: bool = False) -> dict[str, Any]:
    """A move to x 20 high over the middle, the tool leaning along X, and so far beside the plane of that."""
    lean, beside = np.radians([lean_deg, beside_deg])
    axis = [float(np.sin(lean) * np.cos(beside)), float(np.sin(beside)), float(np.cos(lean) * np.cos(beside))]
    place = [x, 0.0, 25.0]
    return {"rapid": place, "tool_axis": axis} if rapid else {"cut": place, "tool_axis": axis, "feed": feed}


def simultaneous(*moves: dict[str, Any], **changed: Any) -> dict[str, Any]:
    intent = {"intent": "simultaneous"}
    return operation(intent, list(moves), **changed)


def over_the_pole(beside_deg: float) -> dict[str, Any]:
    return simultaneous(*(leaning(x, x * 1.3, beside_deg) for x in range(-30, 31, 3)), axis_tolerance=0.1)


def motion_of(items: list[Any]) -> list[Motion]:
    return [item for item in items if isinstance(item, Motion) and item.rule == "cut"]


def in_part(rows: Motion, setup: Any) -> tuple[np.ndarray, np.ndarray]:
    alpha = np.radians(rows.rotary_deg) * [line.sign for line in setup.lines]
    return tip_in_part(rows.xyz, alpha, setup.lines), tool_axis(alpha, setup.lines)


@pytest.mark.parametrize("beside_deg", [0.0, 0.045, 0.06])
def test_the_blocks_of_a_simultaneous_operation_put_tip_and_tool_axis_where_the_toolpath_says(beside_deg: float) -> None:
    path = toolpath(over_the_pole(beside_deg))
    machine = table_of_two(A=WIDE, **SLOW)
    (rows,) = motion_of(items_of(path, machine))
    tips, axes = in_part(rows, set_up(path, machine))
    np.testing.assert_allclose(tips[:, 1:], [[0.0, 25.0]] * len(tips), atol=1e-9)
    ends = np.append(np.diff(rows.move) > 0, True)
    asked = np.array([move["tool_axis"] for move in over_the_pole(beside_deg)["moves"]])
    np.testing.assert_allclose(tips[ends, 0], np.arange(-30, 31, 3), atol=1e-9)
    assert np.degrees(np.linalg.norm(axes[ends] - asked, axis=1).max()) < 0.05
    swung = np.abs(np.diff(rows.rotary_deg[:, 0])).sum()
    assert swung == pytest.approx(180, abs=0.3) if beside_deg == 0.06 else swung < 1


def test_the_rotaries_turn_to_the_first_tool_axis_above_the_stock_and_the_tool_comes_down_at_its_feed() -> None:
    items = items_of(toolpath(simultaneous(leaning(-10, 40), leaning(10, 30))), table_of_two(A=WIDE))
    assert both_in(items) == [[(pytest.approx(90), pytest.approx(40))]]  # by hand: C 90 lays the part's +X along -Y, A 40 lifts it
    named = names_in(items)
    assert named.index("index") < named.index("approach") < named.index("cut")
    (rows,) = motion_of(items)
    approach = next(item for item in items if isinstance(item, Motion) and item.rule == "approach")
    assert rows.rotary_deg[0].tolist() == [pytest.approx(angle) for angle in both_in(items)[0][0]]
    np.testing.assert_allclose(approach.xyz[0, :2], rows.xyz[0, :2])


def test_a_rapid_that_turns_low_goes_up_turns_and_comes_down() -> None:
    moves = leaning(-10, 40), leaning(0, 30), leaning(5, -30, rapid=True), leaning(10, -40)
    path, machine = toolpath(simultaneous(*moves)), table_of_two(A=WIDE)
    (rows,) = motion_of(items_of(path, machine))
    clear = set_up(path, machine).clear
    rapid = np.flatnonzero(rows.kind == RAPID)
    assert rows.xyz[rapid[:2], 2].tolist() == [clear, clear]
    turns = np.abs(np.diff(rows.rotary_deg, axis=0))[rapid - 1].sum(axis=1) > 1e-6
    assert turns.tolist() == [False, True, False]


def test_what_an_indexed_operation_needs_decides_the_solution_of_a_simultaneous_one_before_it() -> None:
    beside = {"intent": "indexed", "planes": [{"origin": [-20, -20, 0], "z": [1, 0, 0], "x": [0, 1, 0]}]}
    upright = operation(beside, [{"rapid": [0, 0, 60]}, {"cut": [0, 0, -2], "feed": 300}])
    tilting = simultaneous(leaning(-10, 20), leaning(10, 25))
    alone, together = (
        [stops[-1] for stops in both_in(items_of(toolpath(*each), table_of_two()))] for each in ([tilting], [tilting, upright])
    )
    assert alone == [(pytest.approx(90), pytest.approx(20))]  # as near as C -90 A -20, and A 90 is past the travel
    assert together == [(pytest.approx(-90), pytest.approx(-20)), (pytest.approx(np.nan, nan_ok=True), -90)]  # C stays where it is


def test_a_note_inside_a_cut_keeps_the_angles() -> None:
    moves = [leaning(x, x * 1.3, 0.02) for x in range(-30, 31, 3)]
    path = toolpath(simultaneous(*moves[:4], {"note": "look"}, *moves[4:], axis_tolerance=0.1))
    first, second = motion_of(items_of(path, table_of_two(A=WIDE)))
    assert np.abs(second.rotary_deg[0] - first.rotary_deg[-1]).max() < 10


def test_beside_a_pole_a_profile_refuses_that_the_first_rotary_swings_round_unless_it_may_go_slowly() -> None:
    path = toolpath(over_the_pole(0.06))
    with pytest.raises(PlanError, match=r"the cut passes 0\.\d+ degrees beside the axis of C.* 50 are the least") as refused:
        items_of(path, table_of_two(A=WIDE))
    assert refused.value.place is not None
    assert refused.value.place.move == 11
    assert 'set poles.past = "slow"' in refused.value.cure
    with pytest.raises(PlanError, match="5 are the least") as refused:
        items_of(path, table_of_two(A=WIDE, poles={"past": "slow"}))
    assert refused.value.cure.endswith("or lower poles.slowest_percent in the profile")
    assert motion_of(items_of(path, table_of_two(A=WIDE, poles={"past": "slow", "slowest_percent": 0.1})))


def test_through_a_pole_whose_other_side_the_travel_lacks_is_refused_or_passed_round() -> None:
    one_sided = {"travel": {"kind": "limited", "from": -120, "to": 5}}
    path = toolpath(over_the_pole(0.02))
    with pytest.raises(PlanError, match=r"here the cut passes the axis of C and .* they have room only if C swings round") as refused:
        items_of(path, table_of_two(A=one_sided))
    assert 'set poles.past = "slow"' in refused.value.cure
    (rows,) = motion_of(items_of(path, table_of_two(A=one_sided, **SLOW)))
    assert rows.rotary_deg[:, 1].max() <= 5


def test_of_passes_through_a_pole_that_lead_nowhere_the_first_is_named_whatever_comes_after_it() -> None:
    there = over_the_pole(0.02)["moves"]
    back, round_ = there[::-1], [leaning(0, 30, beside) for beside in range(0, 91, 10)]
    limits = {"C": {"travel": {"kind": "limited", "from": -60, "to": 280}}, "A": {"travel": {"kind": "limited", "from": -120, "to": 5}}}
    for profile in (table_of_two(**limits), table_of_two(**limits, **SLOW)):
        with pytest.raises(PlanError, match="here the cut passes the axis of C and cannot go on within the travels") as refused:
            items_of(toolpath(simultaneous(*there, *back, *round_, axis_tolerance=0.1)), profile)
        assert refused.value.place is not None
        assert refused.value.place.move == 11  # the one that comes nearest to the pole
    assert "poles.past" not in refused.value.cure


def test_a_cut_that_no_solution_and_turn_brings_into_the_travels_is_refused_with_what_it_needs() -> None:
    round_ = [leaning(0, 0)] + [
        {"cut": [0, 0, 25], "tool_axis": [0.6 * np.cos(turn), 0.6 * np.sin(turn), 0.8], "feed": 500}
        for turn in np.radians(range(0, 720, 30))
    ]
    machine = table_of_two(C={"travel": {"kind": "limited", "from": -200, "to": 200}}, A=WIDE)
    with pytest.raises(PlanError, match=r"needs C from .* and A from .*, or C from .*: it fits in no whole turn") as refused:
        items_of(toolpath(simultaneous(*round_)), machine)
    assert refused.value.place is not None
    assert refused.value.place.move == 1


def test_the_axis_tolerance_is_that_of_the_operation_or_what_moves_edge_or_flank_by_the_tolerance() -> None:
    long = [{"number": 1, "shape": "flat", "diameter": 6, "cutting_length": 14}]
    short = [{"number": 1, "shape": "flat", "diameter": 6}]
    tiny = [{"number": 1, "shape": "flat", "diameter": 0.2}]
    for tools, said, wanted in (
        (long, {}, 0.01 / 14),
        (short, {}, 0.01 / 3),
        (tiny, {}, np.radians(1)),
        (long, {"axis_tolerance": 0.2}, np.radians(0.2)),
    ):
        setup = set_up(toolpath(simultaneous(leaning(0, 0), **said), tools=tools), table_of_two())
        assert axis_tolerance_rad(1, setup) == pytest.approx(wanted)


def test_the_survey_names_the_move_with_which_each_stretch_begins() -> None:
    setup = set_up(toolpath(simultaneous(leaning(-10, 40), leaning(0, 30), leaning(5, -30, rapid=True), leaning(10, -40))), table_of_two())
    assert stretches_of(1, setup).moves == [1, 3]


def test_runs_are_cut_only_where_the_tool_is_away_from_the_poles_and_at_what_is_no_move() -> None:
    run = past_pole(0.045)
    note = Note(move=42, text="look")
    pieces = [run.rows(0, 19), run.rows(19, 30), run.rows(30, 41), note, run.rows(0, 3)]
    parts = list(held_together(pieces, CHAINS["C on A"]))
    assert [len(part) if not isinstance(part, Note) else "note" for part in parts] == [14, 16, 11, "note", 3]
    assert [part.first_move for part in parts if not isinstance(part, Note)] == [1, 15, 31, 1]
