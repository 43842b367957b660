"""What a plan says and does in which order: one behaviour a test, on small toolpaths."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from steadyrest.errors import PlanError
from steadyrest.motion import Event, Motion, plan
from steadyrest.motion.model import INVERSE, LINE, PER_MINUTE, RAPID
from steadyrest.notices import CycleSpelledOut, FeedSlowed, RapidRetracted, Subdivided, TurnedBack
from steadyrest.profile import Profile, load_profile
from steadyrest.toolpath import parse_toolpath

FLAT = [{"rapid": [5, 0, 30]}, {"rapid": [5, 0, 17]}, {"cut": [-20, 0, 17], "feed": 500}]


def toolpath(*operations: dict[str, Any], **changed: Any) -> Any:
    base = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "axis": "X",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": n, "shape": "flat", "diameter": 6} for n in (1, 2)],
        "operations": operations,
    }
    return parse_toolpath(base | changed)


def operation(rotary: dict[str, Any], moves: list[dict[str, Any]], **changed: Any) -> dict[str, Any]:
    base = {"name": "cut", "tool": 1, "spindle": {"rpm": 5000, "turns": "clockwise"}, "coolant": "off"}
    return base | {"rotary": rotary, "moves": moves} | changed


def indexed(*angles: float, moves: list[dict[str, Any]] = FLAT, **changed: Any) -> dict[str, Any]:
    return operation({"intent": "indexed", "angles": list(angles)}, moves, **changed)


def items_of(path: Any, profile: Profile | str = "rs274ngc", *sets: str, **options: Any) -> list[Any]:
    chosen = load_profile(profile, sets) if isinstance(profile, str) else profile
    return list(plan(path, chosen, **options).items)


def notices_of(path: Any, profile: str = "rs274ngc", *sets: str, **options: Any) -> list[Any]:
    planned = plan(path, load_profile(profile, sets), **options)
    for _ in planned.items:
        pass
    return planned.notices


def head_of(*sets: str) -> Event:
    return next(item for item in items_of(toolpath(indexed(0)), "rs274ngc", *sets) if item.name == "program_start")


def test_the_head_says_which_way_a_positive_word_turns_the_chuck_and_from_where_that_is_seen() -> None:
    facts = head_of("rotary.A.positive_turns_chuck=counterclockwise").facts
    assert "rotary A along X, chuck faces +X" == facts["mounting"]
    assert "A+ turns the chuck counterclockwise, looking at its face" == facts["turns"]


@pytest.mark.parametrize(("mm_per_degree", "way"), [("0.1", "clockwise"), ("-0.1", "counterclockwise")])
def test_the_head_names_a_borrowed_drive_by_the_word_that_turns_the_chuck(mm_per_degree: str, way: str) -> None:
    path = toolpath(indexed(0))
    start = items_of(path, "y-drives-rotary", f"rotary.A.mm_per_degree={mm_per_degree}")[0]
    assert "rotary A along X, on the drive of Y, chuck faces +X" == start.facts["mounting"]
    assert f"Y+ turns the chuck {way}, looking at its face" == start.facts["turns"]


def turns_in(items: list[Any]) -> list[float]:
    """Every angle that an index turns to."""
    return [float(run.rotary_deg[-1, 0]) for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion]


def motion_in(items: list[Any]) -> list[tuple[int, float, float, float, float]]:
    """All rows in order, motion inside events too: kind, x, y, z, w; what is not commanded stays where it was."""
    stand = np.full(4, np.nan)
    rows = []
    for item in items:
        if isinstance(item, Event) and item.name == "retract" and item.facts["form"] != "height":
            stand[2] = np.inf
            rows.append((RAPID, *(float(value) for value in stand)))
        for run in [item] if isinstance(item, Motion) else item.motion:
            for row in range(len(run)):
                said = np.array([*run.xyz[row], *run.rotary_deg[row]])
                stand = np.where(np.isnan(said), stand, said)
                rows.append((int(run.kind[row]), *(float(value) for value in stand)))
    while rows and np.isinf(rows[-1][3]):
        rows.pop()
    return rows


def names_in(items: list[Any]) -> list[str]:
    return [item.name if isinstance(item, Event) else item.rule for item in items]


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


def test_forty_turns_are_not_unwound_between_operations() -> None:
    around = 40 * 40 * np.pi
    helix = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, helix), indexed(10))
    assert -14390.0 == pytest.approx(turns_in(items_of(path))[-1])


def test_back_to_zero_between_operations_when_the_profile_says_so() -> None:
    path = toolpath(indexed(0, 120, 240), operation({"intent": "still"}, FLAT))
    assert 0.0 == turns_in(items_of(path, "rs274ngc", "rotary.A.unwinding.between=zero"))[-1]


def test_the_last_way_comes_from_the_side_asked_for() -> None:
    sets = ("rotary.A.unwinding.between=one_side", "rotary.A.unwinding.overshoot=4")
    items = items_of(toolpath(indexed(90, 30)), "rs274ngc", *sets)
    stops = [run.rotary_deg[:, 0].tolist() for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion]
    assert [[86.0, 90.0], [26.0, 30.0]] == stops


def test_a_face_at_the_angle_where_a_cut_ended_is_arrived_at_from_the_side_asked_for() -> None:
    wrapped = operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-5, 9, 6]}, {"cut": [-9, 0, -1], "feed": 200}])
    items = items_of(toolpath(wrapped, indexed(0)), "rs274ngc", "rotary.A.unwinding.between=one_side")
    stops = [run.rotary_deg[:, 0].tolist() for item in items if isinstance(item, Event) and item.name == "index" for run in item.motion]
    assert [-5.0, 0.0] == stops[-1]


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


def test_the_end_is_a_whole_turn_at_which_the_rotary_can_arrive() -> None:
    sets = ("rotary.A.unwinding.at_end=nearest_turn", "rotary.A.unwinding.arrive_from=above")
    assert 0.0 == turns_in(items_of(toolpath(indexed(200)), "limited-clamped", *sets))[-1]


def test_every_turn_happens_above_the_swept_radius_and_clearance() -> None:
    path = toolpath(indexed(0, 90), operation({"intent": "still"}, FLAT))
    rows = motion_in(items_of(path))
    for before, after in itertools.pairwise(rows):
        if after[0] == RAPID and after[4] != before[4] and not np.isnan(before[4]):
            assert min(before[3], after[3]) >= 25.0


def test_clearance_without_stock_stands_for_the_swept_radius() -> None:
    rows = motion_in(items_of(toolpath(indexed(0, 90), stock=None, clearance=22)))
    turned = [after for before, after in itertools.pairwise(rows) if after[4] != before[4] and not np.isnan(before[4])]
    assert [27.0] == [row[3] for row in turned]


def test_clamp_is_released_before_and_set_after_every_turn() -> None:
    items = items_of(toolpath(indexed(0, 90)), "limited-clamped")
    around = [name for name in names_in(items) if name in ("unclamp", "index", "clamp", "cut")]
    assert ["unclamp", "index", "clamp", "cut"] * 2 == around


def test_clamp_stays_off_where_the_rotary_cuts() -> None:
    wrapped = operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-5, 0, 6]}, {"cut": [-5, 9, -1], "feed": 200}])
    around = [name for name in names_in(items_of(toolpath(wrapped), "limited-clamped")) if name in ("unclamp", "index", "clamp")]
    assert ["unclamp", "index"] == around


def test_clamp_is_set_for_a_face_that_needs_no_turn() -> None:
    wrapped = operation({"intent": "wrapped", "diameter": 40}, [{"rapid": [-5, 0, 6]}, {"cut": [-9, 0, -1], "feed": 200}])
    names = names_in(items_of(toolpath(wrapped, indexed(0), wrapped), "limited-clamped"))
    around = [name for name in names if name in ("unclamp", "index", "clamp", "operation_start")]
    assert ["operation_start", "unclamp", "index", "operation_start", "clamp", "operation_start", "unclamp"] == around


def test_first_cut_without_a_rapid_comes_down_at_its_own_feed() -> None:
    path = toolpath(indexed(0, moves=[{"cut": [-5, 3, 18], "feed": 250}, {"cut": [-9, 3, 18]}]))
    rows = motion_in(items_of(path))
    down = next(index for index, row in enumerate(rows) if row[0] == LINE)
    assert (RAPID, -5.0, 3.0, 25.0, 0.0) == rows[down - 1]
    assert (LINE, -5.0, 3.0, 18.0, 0.0) == rows[down]


def test_a_rapid_that_turns_low_goes_up_turns_and_comes_down() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 200}, {"rapid": [-5, 0, 1]}, {"rapid": [-9, 31.4159265, 1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    rows = motion_in(items_of(path))
    assert [25.0, 25.0, 21.0] == [round(row[3], 6) for row in rows[-3:]]
    assert [(0.0, -5.0), (-90.0, -9.0), (-90.0, -9.0)] == [(round(row[4], 4) + 0.0, row[1]) for row in rows[-3:]]
    assert [1] == [notice.moves for notice in notices_of(path) if isinstance(notice, RapidRetracted)]


def test_wrapped_line_stays_one_block() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, 0], "feed": 200}, {"cut": [-25, 62.8318531, 0]}]
    rows = motion_in(items_of(toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))))
    assert (LINE, -25.0, 0.0, 20.0, -180.0) == tuple(round(value, 5) for value in rows[-1])
    assert 2 == sum(row[0] == LINE for row in rows)


def test_wrapped_cut_runs_in_inverse_time_at_the_tip_speed() -> None:
    # standards: dx 10, dA 90 on radius 20 at 300 per minute is F 9.099434 in 1/min
    moves = [{"rapid": [0, 0, 6]}, {"cut": [0, 0, 0], "feed": 300}, {"cut": [10, 31.41592654, 0]}]
    items = items_of(toolpath(operation({"intent": "wrapped", "diameter": 40}, moves)))
    run = next(item for item in items if isinstance(item, Motion) and item.rule == "cut")
    assert [PER_MINUTE, INVERSE] == run.feed_mode.tolist()
    assert 9.099434 == pytest.approx(run.feed[-1], abs=1e-6)


def test_simultaneous_path_is_subdivided_and_said_so() -> None:
    moves = [
        {"rapid": [-5, 0, 30], "tool_axis": [0, 0, 1]},
        {"cut": [-5, 0, 18], "feed": 300},
        {"cut": [-5, -18, 0], "tool_axis": [0, -1, 0]},
    ]
    found = notices_of(toolpath(operation({"intent": "simultaneous"}, moves)), tolerance=0.005)
    notice = next(notice for notice in found if isinstance(notice, Subdivided))
    assert notice.moves == 1
    assert notice.blocks > 10


def test_half_a_turn_between_two_points_names_both() -> None:
    moves = [
        {"rapid": [-5, 0, 30], "tool_axis": [0, 0, 1]},
        {"cut": [-5, 0, 18], "feed": 300},
        {"cut": [-7, 0, -18], "tool_axis": [0, 0, -1]},
    ]
    with pytest.raises(PlanError, match=r"operation 1 'cut', move 3: between \[-5, 0, 18\] and \[-7, 0, -18\] .* half a turn"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))


def test_unreachable_tool_axis_says_by_how_much_it_misses() -> None:
    moves = [{"rapid": [-5, 0, 30], "tool_axis": [0.5, 0, 0.8660254]}]
    with pytest.raises(PlanError, match=r"move 1: the tool axis \[0.5, 0, 0.866025\] leans 30.000 degrees out of the plane across X"):
        items_of(toolpath(operation({"intent": "simultaneous"}, moves)))


def test_angle_off_the_steps_of_an_indexing_head_names_the_nearest() -> None:
    with pytest.raises(PlanError, match=r"angle 31 is not one of the indexing head's steps of 5 degrees; the nearest is 30"):
        items_of(toolpath(indexed(30, 31)), "fixed-steps")


def test_a_rotary_that_only_indexes_refuses_wrapped_work() -> None:
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, FLAT))
    with pytest.raises(PlanError, match="only indexes: it does not turn while the tool cuts"):
        items_of(path, "fixed-steps")


def test_tapping_without_a_cycle_is_refused() -> None:
    moves = [{"rapid": [-5, 0, 25]}, {"hole": [-5, 0], "cycle": "tap", "retract": 22, "bottom": 8, "pitch": 1, "feed": 5000}]
    with pytest.raises(PlanError, match=r"a tapping cycle cannot be spoken \(rs274ngc has no such cycle\)"):
        items_of(toolpath(indexed(0, moves=moves)), "rs274ngc", 'cycles.tap=""')


def test_tapping_with_the_spindle_counterclockwise_is_refused() -> None:
    # NISTIR 6556 3.5.16.5: the spindle turns clockwise before G84
    moves = [{"rapid": [-5, 0, 25]}, {"hole": [-5, 0], "cycle": "tap", "retract": 22, "bottom": 8, "pitch": 1, "feed": 5000}]
    with pytest.raises(PlanError, match="it wants the spindle clockwise"):
        items_of(toolpath(indexed(0, moves=moves, spindle={"rpm": 5000, "turns": "counterclockwise"})))


def test_cycle_the_controller_lacks_is_written_out() -> None:
    moves = [{"rapid": [-5, 0, 25]}, {"hole": [-5, 0], "cycle": "peck", "peck": 5, "retract": 22, "bottom": 10, "feed": 100}]
    path = toolpath(indexed(0, moves=moves))
    rows = motion_in(items_of(path, "rs274ngc", 'cycles.peck=""'))
    assert [17.0, 22.0, 17.5, 12.0, 22.0, 12.5, 10.0, 22.0] == [row[3] for row in rows[-8:]]
    assert ["peck"] == [n.cycle for n in notices_of(path, "rs274ngc", 'cycles.peck=""') if isinstance(n, CycleSpelledOut)]


def test_holes_alike_go_into_one_cycle() -> None:
    holes = [{"hole": [-5 * n, 0], "cycle": "drill", "retract": 22, "bottom": 10, "feed": 100} for n in (1, 2, 3)]
    items = items_of(toolpath(indexed(0, moves=[{"rapid": [-5, 0, 25]}, *holes])))
    cycles = [item for item in items if isinstance(item, Event) and item.name == "cycle"]
    assert [[-5.0, -10.0, -15.0]] == [cycle.holes.xy[:, 0].tolist() for cycle in cycles]


def test_the_level_of_a_cycle_stands_on_the_counts_of_z() -> None:
    """1.412215 is no half of a count in binary; as a word of Z it is rounded up after it was multiplied, and R has to follow."""
    holes = [{"rapid": [-1, 0, 1.5]}, {"hole": [-1, 0], "cycle": "drill", "retract": 1.412215, "bottom": 0.5, "feed": 4}]
    items = items_of(toolpath(indexed(0, moves=holes), units="inch", stock=None, clearance=1))
    cycle = next(item for item in items if isinstance(item, Event) and item.name == "cycle")
    assert 141222 == round(cycle.words["r"].value * 1e5) == round(1.412215 * 1e5)


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
    with pytest.raises(PlanError, match=r"move 3: Y 4 is needed here, but the drive of Y turns the rotary"):
        items_of(toolpath(indexed(0, moves=moves)), "y-drives-rotary")


def test_a_cut_beyond_the_travel_is_turned_back_by_whole_turns_with_the_tool_up() -> None:
    around = 5 * 40 * np.pi
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.from=-400", "rotary.A.travel.to=400")
    items = items_of(path, "rs274ngc", *sets)
    rows = motion_in(items)
    assert -400.0 <= min(row[4] for row in rows if not np.isnan(row[4]))
    assert 400.0 >= max(row[4] for row in rows if not np.isnan(row[4]))
    turned = [(before, after) for before, after in itertools.pairwise(rows) if after[0] == RAPID and abs(after[4] - before[4]) > 300]
    assert turned
    for before, after in turned:
        assert 25.0 == before[3] == after[3]
        assert 0.0 == pytest.approx((after[4] - before[4]) % 360.0, abs=1e-9) or 360.0 == pytest.approx(
            (after[4] - before[4]) % 360.0, abs=1e-9
        )
    assert [notice.turns for notice in notices_of(path, "rs274ngc", *sets) if isinstance(notice, TurnedBack)]


def test_a_travel_of_exactly_one_turn_is_turned_back_at_its_end() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, 2.5 * 40 * np.pi, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.from=0", "rotary.A.travel.to=360")
    cuts = [round(row[4], 6) for row in motion_in(items_of(path, "rs274ngc", *sets)) if row[0] == LINE and row[3] == 19.0]
    assert [360.0, 0.0, 360.0, 0.0, 360.0, 180.0] == cuts


def test_a_cut_beyond_the_travel_is_refused_where_the_profile_says_so() -> None:
    around = 5 * 40 * np.pi
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-80, around, -1]}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ("rotary.A.travel.kind=limited", "rotary.A.travel.when_exceeded=refuse")
    with pytest.raises(PlanError, match=r"1800\.000 in all; the travel of A is -360 to 360"):
        items_of(path, "rs274ngc", *sets)


def test_tip_slowed_by_the_rotary_gives_one_notice() -> None:
    moves = [{"rapid": [-5, 0, 6]}, {"cut": [-5, 0, -1], "feed": 300}, {"cut": [-5, 100, -1], "feed": 3000}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    found = [notice for notice in notices_of(path, "rs274ngc", "rotary.A.fastest=3600") if isinstance(notice, FeedSlowed)]
    # ten turns a minute at radius 19: 2 pi 19 10 = 1193.8
    assert [(1, 3000.0)] == [(notice.moves, notice.asked) for notice in found]
    assert 1193.805 == pytest.approx(found[0].lowest, abs=1e-3)


def test_inch_toolpath_becomes_a_mm_program_where_the_controller_runs_in_mm() -> None:
    moves = [{"rapid": [0.2, 0, 1.2]}, {"cut": [0.2, 0, 0.7], "feed": 20}, {"cut": [-1, 0, 0.7]}]
    path = toolpath(indexed(0, moves=moves), units="inch", stock={"shape": "round", "diameter": 1.5, "from": -3, "to": 0})
    rows = motion_in(items_of(path, "rs274ngc", "units.program=mm"))
    assert (LINE, -25.4, 0.0, pytest.approx(17.78), 0.0) == rows[-1]


def test_clear_height_is_said_again_under_a_new_length_offset() -> None:
    names = names_in(items_of(toolpath(indexed(0), indexed(90, tool=2)), "rs274ngc", "retract.form=height"))
    after = [names[at + 1] for at, name in enumerate(names) if name == "tool_change"]
    assert ["retract", "retract"] == after


def test_tool_is_changed_with_spindle_and_coolant_off() -> None:
    path = toolpath(indexed(0, coolant="flood"), indexed(0, tool=2, coolant="flood"))
    names = names_in(items_of(path))
    change = len(names) - 1 - names[::-1].index("tool_change")
    assert ["retract", "operation_start", "coolant_off", "spindle_stop", "tool_change", "retract", "spindle_start", "coolant_on"] == names[
        change - 4 : change + 4
    ]


def test_an_operation_at_no_speed_stands_with_the_spindle_stopped() -> None:
    standing = indexed(0, spindle={"rpm": 0, "turns": "clockwise"})
    assert "spindle_start" not in names_in(items_of(toolpath(standing)))
    names = names_in(items_of(toolpath(indexed(0), standing)))
    assert ["spindle_start", "spindle_stop"] == [name for name in names if name.startswith("spindle")]


def test_program_ends_retracted_with_spindle_and_coolant_off() -> None:
    names = names_in(items_of(toolpath(indexed(0, coolant="flood"))))
    assert ["retract", "coolant_off", "spindle_stop", "program_end"] == names[-4:]


def test_toolpath_about_an_axis_without_a_rotary_is_refused() -> None:
    path = toolpath(operation({"intent": "indexed", "angles": [0]}, FLAT), axis="Y")
    with pytest.raises(PlanError, match="turns about Y, and rs274ngc has no rotary along Y; it has: A along X"):
        items_of(path)


def test_still_work_needs_no_rotary() -> None:
    path = toolpath(operation({"intent": "still"}, FLAT), axis="Y")
    assert [] == turns_in(items_of(path))


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
    with pytest.raises(PlanError, match="no height is known to be clear"):
        items_of(path, "upright-c")


def tapped(rpm: float, feed: float, **changed: Any) -> Any:
    moves = [{"rapid": [-10, 0, 30]}, {"hole": [-10, 0], "cycle": "tap", "retract": 23, "bottom": 10, "feed": feed}]
    return toolpath(operation({"intent": "indexed", "angles": [0]}, moves, spindle={"rpm": rpm, "turns": "clockwise"}), **changed)


def cycle_feeds(path: Any, *sets: str) -> list[float]:
    return [item.words["feed"].value for item in items_of(path, "rs274ngc", *sets) if isinstance(item, Event) and item.name == "cycle"]


def test_a_tap_keeps_its_pitch_or_is_refused_with_a_speed_that_fits() -> None:
    assert [500.0] == cycle_feeds(tapped(500, 500))
    # 1.25 mm to a turn at 5000 per minute is 6250 a minute; Z goes 5000: 4000 turns at most
    with pytest.raises(PlanError, match=r"the Z axis allows F 5000.*off by 20 percent") as refused:
        cycle_feeds(tapped(5000, 6250))
    assert "tap at 4000 per minute with a feed of 5000" in refused.value.cure
    with pytest.raises(PlanError, match="the largest F allows F 600") as refused:
        cycle_feeds(tapped(1000, 1250), "feed.largest_mm=600")
    assert "tap at 480 per minute with a feed of 600" in refused.value.cure
    with pytest.raises(PlanError, match=r"written as S333 F117: the pitch would be off by 0\.39 percent") as refused:
        cycle_feeds(tapped(333, 333 * 0.35), "numbers.feed.decimals=0")
    assert "tap at 323 per minute with a feed of 113" in refused.value.cure
    # no whole F is 0.35 times a whole number of turns before 20
    with pytest.raises(PlanError, match="off by 29 percent") as refused:
        cycle_feeds(tapped(20, 7), "numbers.feed.decimals=0", "feed.largest_mm=5.5")
    assert "give F more decimals" in refused.value.cure


def test_the_speed_named_for_a_tap_can_be_written() -> None:
    with pytest.raises(PlanError) as refused:
        cycle_feeds(tapped(333.4, 333.4 * 0.7))
    rpm, feed = (float(value) for value in refused.value.cure.replace(":", "").split() if value.replace(".", "").isdigit())
    assert pytest.approx(0.7, rel=5e-4) == feed / rpm
    assert [feed] == cycle_feeds(tapped(rpm, feed))


def test_the_limits_of_the_axis_hold_in_cycles_and_are_told() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"hole": [-10, 0], "retract": 23, "bottom": 10, "feed": 900}]
    path = toolpath(operation({"intent": "indexed", "angles": [0]}, moves))
    assert [900.0] == cycle_feeds(path)
    assert [400.0] == cycle_feeds(path, "linear.Z.fastest=400")
    assert [250.0] == cycle_feeds(path, "feed.largest_mm=250.4", "numbers.feed.decimals=0")
    (slowed,) = [one for one in notices_of(path, "rs274ngc", "linear.Z.fastest=400") if isinstance(one, FeedSlowed)]
    assert (900.0, 400.0, "the Z axis goes no faster") == (slowed.asked, slowed.lowest, slowed.limit)
    coarse = toolpath(operation({"intent": "indexed", "angles": [0]}, [moves[0], moves[1] | {"feed": 0.6}]))
    with pytest.raises(PlanError, match=r"a hole wants F 0\.6, and F is written in steps of 1"):
        cycle_feeds(coarse, "numbers.feed.decimals=0")


def test_the_nearest_turn_counts_the_overshoot_of_arriving_from_one_side() -> None:
    # 178 degrees down and 5 past it and back are more than 182 up
    path = toolpath(indexed(0, 182))
    assert [0.0, -178.0] == turns_in(items_of(path))
    one_side = ["rotary.A.unwinding.between=one_side", "rotary.A.unwinding.overshoot=5"]
    assert [-5.0, 0.0, 182.0] == [angle for item in items_of(path, "rs274ngc", *one_side) for angle in turned(item)]


def turned(item: Any) -> list[float]:
    """Every angle that an index goes through."""
    if not isinstance(item, Event) or item.name != "index":
        return []
    return [float(w) for run in item.motion for w in run.rotary_deg[:, 0]]


def test_a_feed_that_a_limit_holds_is_told_as_it_is_written() -> None:
    # 300 degrees a minute of a radius of 20 mm would be F 1.9 along X, and F has no decimals
    moves = [{"rapid": [-10, 0, 5]}, {"cut": [-10, 0, 0], "feed": 100}, {"cut": [-11.9, -20 * np.pi * 5 / 3, 0], "feed": 500}]
    path = toolpath(operation({"intent": "wrapped", "diameter": 40}, moves))
    sets = ["rotary.A.fastest=300", "numbers.feed.decimals=0", "feed.per_minute_counts=linear_axes"]
    (slowed,) = [one for one in notices_of(path, "linear-feed-only", *sets) if isinstance(one, FeedSlowed)]
    assert pytest.approx(np.hypot(1.9, 20 * np.pi * 5 / 3) / 1.9, rel=1e-6) == slowed.lowest
