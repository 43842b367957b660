"""Holes: which cycle, which feed, which pitch, and what is written out."""

from __future__ import annotations

import contextlib
from typing import Any
from unittest.mock import patch

import pytest
from planning_parts import indexed, items_of, motion_in, names_in, notices_of, operation, toolpath

from steadyrest.errors import PlanError
from steadyrest.motion import Event
from steadyrest.posting import posted_text
from steadyrest.toolpath import moves, parse_toolpath


def tapped(rpm: float, feed: float, **changed: Any) -> Any:
    moves = [{"rapid": [-10, 0, 30]}, {"hole": [-10, 0], "cycle": "tap", "retract": 23, "bottom": 10, "feed": feed}]
    return toolpath(operation({"intent": "indexed", "angles": [0]}, moves, spindle={"rpm": rpm, "turns": "clockwise"}), **changed)


def cycle_feeds(path: Any, *sets: str) -> list[float]:
    return [item.words["feed"].value for item in items_of(path, "rs274ngc", *sets) if isinstance(item, Event) and item.name == "cycle"]


def test_tapping_without_a_cycle_is_refused() -> None:
    moves = [{"rapid": [-5, 0, 25]}, {"hole": [-5, 0], "cycle": "tap", "retract": 22, "bottom": 8, "pitch": 1, "feed": 5000}]
    with pytest.raises(PlanError, match=r"the tapping cycle cannot be written \(rs274ngc has no such cycle\)"):
        items_of(toolpath(indexed(0, moves=moves)), "rs274ngc", 'cycles.tap=""')


def test_tapping_with_the_spindle_counterclockwise_is_refused() -> None:
    # NISTIR 6556 3.5.16.5: the spindle turns clockwise before G84
    moves = [{"rapid": [-5, 0, 25]}, {"hole": [-5, 0], "cycle": "tap", "retract": 22, "bottom": 8, "pitch": 1, "feed": 5000}]
    with pytest.raises(PlanError, match="the spindle must turn clockwise"):
        items_of(toolpath(indexed(0, moves=moves, spindle={"rpm": 5000, "turns": "counterclockwise"})))


def test_cycle_the_controller_lacks_is_written_out() -> None:
    moves = [{"rapid": [-5, 0, 25]}, {"hole": [-5, 0], "cycle": "peck", "peck": 5, "retract": 22, "bottom": 10, "feed": 100}]
    path = toolpath(indexed(0, moves=moves))
    rows = motion_in(items_of(path, "rs274ngc", 'cycles.peck=""'))
    assert [17.0, 22.0, 17.5, 12.0, 22.0, 12.5, 10.0, 22.0] == [row[3] for row in rows[-8:]]
    assert ["peck"] == [n.facts["cycle"] for n in notices_of(path, "rs274ngc", 'cycles.peck=""') if n.kind == "CycleSpelledOut"]


@pytest.mark.parametrize(("cycle", "more"), [("bore", {}), ("peck", {"peck": 5})])
def test_a_pause_at_the_bottom_is_kept_where_the_cycle_takes_none(cycle: str, more: dict[str, Any]) -> None:
    # NISTIR 6556 3.5.16: neither G85 nor G83 has a word for it
    hole = {"hole": [-5, 0], "cycle": cycle, "retract": 22, "bottom": 10, "feed": 100, "dwell": 0.5, **more}
    path = toolpath(indexed(0, moves=[{"rapid": [-5, 0, 25]}, hole]))
    items = items_of(path)
    assert "cycle" not in names_in(items)
    assert [0.5] == [item.words["time"].value for item in items if isinstance(item, Event) and item.name == "dwell"]
    (said,) = [notice for notice in notices_of(path) if notice.kind == "CycleSpelledOut"]
    assert (cycle, "it has a pause at the bottom, which only dwell-drill takes") == (said.facts["cycle"], said.facts["reason"])
    assert "cycle" in names_in(items_of(toolpath(indexed(0, moves=[{"rapid": [-5, 0, 25]}, hole | {"dwell": 0}]))))


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


def test_a_tap_keeps_its_pitch_or_is_refused_with_a_speed_that_fits() -> None:
    assert [500.0] == cycle_feeds(tapped(500, 500))
    # 1.25 mm to a turn at 5000 per minute is 6250 a minute; Z goes 5000: 4000 turns at most
    with pytest.raises(PlanError, match=r"the Z axis allows F 5000.*off by 20 percent") as refused:
        cycle_feeds(tapped(5000, 6250))
    assert "tap at 4000 rpm with a feed of 5000" in refused.value.cure
    with pytest.raises(PlanError, match="the largest F allows F 600") as refused:
        cycle_feeds(tapped(1000, 1250), "feed.largest_mm=600")
    assert "tap at 480 rpm with a feed of 600" in refused.value.cure
    with pytest.raises(PlanError, match=r"written as S333 F117: the pitch would be off by 0\.39 percent") as refused:
        cycle_feeds(tapped(333, 333 * 0.35), "numbers.feed.decimals=0")
    assert "tap at 323 rpm with a feed of 113" in refused.value.cure
    # no whole F is 0.35 times a whole number of turns before 20
    with pytest.raises(PlanError, match="off by 29 percent") as refused:
        cycle_feeds(tapped(20, 7), "numbers.feed.decimals=0", "feed.largest_mm=5.5")
    assert "give F more decimals" in refused.value.cure


def test_a_tap_keeps_its_pitch_with_the_decimals_that_s_has() -> None:
    assert [pytest.approx(333.4 * 0.7, rel=5e-4)] == cycle_feeds(tapped(333.4, 333.4 * 0.7), "numbers.spindle.decimals=1")


@pytest.mark.parametrize("program", ["as_toolpath", "mm"])
def test_a_tap_of_an_inch_toolpath_is_refused_in_inches_whatever_the_program_is_in(program: str) -> None:
    moves = [{"rapid": [-1, 0, 2]}, {"hole": [-1, 0], "cycle": "tap", "retract": 1, "bottom": 0.5, "feed": 250}]
    path = toolpath(operation({"intent": "indexed", "angles": [0]}, moves), units="inch", stock=None, clearance=1)
    with pytest.raises(PlanError, match=r"a tap of 0\.05 inch pitch at 5000 rpm") as refused:
        cycle_feeds(path, f"units.program={program}", "linear.Z.fastest=5080")
    # 200 inches a minute are 5080 mm
    assert "tap at 4000 rpm with a feed of 200 inch/min, which can be written" == refused.value.cure


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
    (slowed,) = [one for one in notices_of(path, "rs274ngc", "linear.Z.fastest=400") if one.kind == "FeedSlowed"]
    assert (900.0, 400.0, "the Z axis goes no faster") == (slowed.facts["asked"], slowed.facts["lowest"], slowed.facts["limit"])
    coarse = toolpath(operation({"intent": "indexed", "angles": [0]}, [moves[0], moves[1] | {"feed": 0.6}]))
    with pytest.raises(PlanError, match=r"a hole needs F 0\.6, but F is written in steps of 1"):
        cycle_feeds(coarse, "numbers.feed.decimals=0")


@pytest.mark.parametrize("name", ["rs274ngc", "incremental"])
def test_holes_beyond_the_most_of_a_cycle_go_into_the_next(name: str) -> None:
    holes = [{"hole": [-at, 0], "retract": 22.0, "bottom": 15.0, "feed": 100.0} for at in range(1, 13)]
    part = {
        "steadyrest_toolpath": 1,
        "units": "mm",
        "stock": {"shape": "round", "diameter": 40, "from": -90, "to": 0},
        "tools": [{"number": 3, "shape": "drill", "diameter": 3, "point_angle": 118}],
        "operations": [
            {
                "tool": 3,
                "spindle": {"rpm": 8000, "turns": "clockwise"},
                "rotary": {"intent": "indexed", "angles": [0]},
                "moves": [{"rapid": [-1, 0, 30]}, *holes],
            }
        ],
    }
    assert posted_text(parse_toolpath(part), name).count("G81") == 1
    with patch.object(moves, "RUN_LENGTH", 5):
        assert posted_text(parse_toolpath(part), name).count("G81") == 3


@pytest.mark.parametrize(
    ("peck", "bottom", "refused"),
    [(0.0006, 21.99, ""), (0.0004, 21.99, r"is less than half of 0\.001"), (0.01, -70, ""), (0.009, -70, "10,000 are allowed")],
)
def test_a_peck_is_no_less_than_its_word_can_say_and_a_hole_has_no_more_than_ten_thousand(peck: float, bottom: float, refused: str) -> None:
    hole = {"hole": [-5, 0], "cycle": "peck", "peck": peck, "retract": 22, "bottom": bottom, "feed": 100}
    path = toolpath(indexed(0, moves=[{"rapid": [-5, 0, 25]}, hole]))
    with pytest.raises(PlanError, match=refused) if refused else contextlib.nullcontext():
        items_of(path, "rs274ngc", "numbers.length.decimals=3")
