"""How far the tool reaches, arcs between their ends included; and what is no refusal, but somebody has to look at."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from proof_parts import HEAD, TAIL, profile, proof_of, toolpath

from steadyrest.proof import OperationFigures, Verdict, prove, setting_of
from steadyrest.proof.figures import Lowered, Totals, beyond_travel, path_mode_changes, turns_left, widen_reach

ARC = [{"rapid": [-30, 0, 30]}, {"rapid": [-30, 0, 22]}, {"cut": [-30, 0, 18], "feed": 200}]


def proved(body: str, moves: list[dict[str, Any]], **options: Any) -> Verdict:
    verdict = proof_of(body, toolpath(moves, **options))
    assert verdict.proved, verdict.text()
    return verdict


def only(verdict: Verdict) -> OperationFigures:
    (one,) = verdict.operations
    return one


@pytest.mark.parametrize(
    ("word", "to", "centre", "x", "y"),
    [
        ("G3 X-40 Y10 I-10", (-40, 10), (-40, 0), (-40, -30), (0, 10)),  # a quarter, between its ends
        ("G3 X-50 Y0 I-10", (-50, 0), (-40, 0), (-50, -30), (0, 10)),  # a half, up beyond its ends
        ("G2 X-50 Y0 I-10", (-50, 0), (-40, 0), (-50, -30), (-10, 0)),
        ("G2 X-40 Y10 I-10", (-40, 10), (-40, 0), (-50, -30), (-10, 10)),  # three quarters
        ("G3 X-30 Y0 I-10", (-30, 0), (-40, 0), (-50, -30), (-10, 10)),  # a full circle
        ("G3 X-30 Y0 I10", (-30, 0), (-20, 0), (-30, -10), (-10, 10)),
        ("G3 X-30 Y0 J10", (-30, 0), (-30, 10), (-40, -20), (0, 20)),
        ("G3 X-42 Y0 I-6 J-8", (-42, 0), (-36, -8), (-42, -30), (0, 2)),  # over the top alone, 37 degrees to either side
        ("G3 X-30 Y16 I-6 J8", (-30, 16), (-36, 8), (-30, -26), (0, 16)),  # past the right alone
        ("G2 X-30 Y16 I6 J8", (-30, 16), (-24, 8), (-34, -30), (0, 16)),  # past the left alone
    ],
)
def test_extents_and_reach_of_an_arc_in_xy(word: str, to: Any, centre: Any, x: Any, y: Any) -> None:
    way = "counterclockwise" if word.startswith("G3") else "clockwise"
    moves = [*ARC, {"arc": [*to, 18], "centre": [*centre, 0], "turns": way, "plane": "XY"}]
    verdict = proved(f"G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F200\n{word} Z18\n", moves)
    assert verdict.whole.extents["X"] == pytest.approx(x)
    assert verdict.whole.extents["Y"] == pytest.approx(y)
    assert only(verdict).reach == pytest.approx(x)


@pytest.mark.parametrize(
    ("plane", "code", "to", "centre", "words", "extents"),
    [
        ("XZ", "G18 G3", (-50, 0, 18), (-40, 0, 18), "X-50 Z18 I-10 K0", {"X": (-50, -30), "Z": (8, 50)}),
        ("XZ", "G18 G2", (-50, 0, 18), (-40, 0, 18), "X-50 Z18 I-10 K0", {"X": (-50, -30), "Z": (18, 50)}),
        ("YZ", "G19 G3", (-30, -20, 18), (-30, -10, 18), "Y-20 Z18 J-10 K0", {"X": (-30, -30), "Y": (-20, 0), "Z": (18, 50)}),
    ],
)
def test_extents_of_arcs_in_other_planes(plane: str, code: str, to: Any, centre: Any, words: str, extents: dict[str, Any]) -> None:
    way = "counterclockwise" if code.endswith("G3") else "clockwise"
    moves = [*ARC, {"arc": [*to], "centre": [*centre], "turns": way, "plane": plane}]
    verdict = proved(f"G0 A0\nX-30 Y0\nZ30\nZ22\nG1 Z18 F200\n{code} {words}\n", moves)
    for axis, ends in extents.items():
        assert verdict.whole.extents[axis] == pytest.approx(ends), axis
    assert only(verdict).reach == pytest.approx(extents["X"])


def test_rapids_count_for_the_reach_only_where_they_are_low_and_the_lines_are_told() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-50, 0, 18]}]
    verdict = proved("G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-50\nG0 Z40\nX-80\nX-10\n", moves)
    assert only(verdict).reach == pytest.approx((-50, -10))
    assert only(verdict).reach_lines == (13, 11)


def test_a_slanting_rapid_counts_from_where_it_comes_below_the_clear_height() -> None:
    moves = [{"rapid": [-90, 0, 45]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
    verdict = proved("G0 A0\nX-90 Y0\nZ45\nX-10 Z22\nG1 Z18 F200\n", moves)
    reach = only(verdict).reach
    clear = 25.0  # swept radius of 20 and the clearance of 5
    assert reach is not None
    assert reach[1] == pytest.approx(-10)
    assert reach[0] == pytest.approx(-10 - 80 * (clear - 22) / (45 - 22), abs=0.1)


def test_turning_is_counted_whole_and_at_rapid_and_its_ends_are_told() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
    verdict = proof_of(
        "G0 A-30\nA180\nA90\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\n", toolpath(moves, {"intent": "indexed", "angles": [90]}), profile()
    )
    assert verdict.proved, verdict.text()
    assert verdict.whole.rotary_extent_deg == (-30, 180)
    assert (verdict.whole.turning_deg, verdict.whole.rapid_turning_deg) == pytest.approx((300, 300))
    assert verdict.whole.tools == (1,)


def test_figures_are_in_the_units_of_the_toolpath() -> None:
    moves = [{"rapid": [-1, 0, 3]}, {"rapid": [-1, 0, 1.6]}, {"cut": [-1, 0, 1], "feed": 10}]
    inch = {"units": "inch", "stock": {"shape": "round", "diameter": 3, "from": -5, "to": 0}}
    verdict = proof_of("G20\nG0 A0\nX-1 Y0\nZ3\nZ1.6\nG1 Z1 F10\n", toolpath(moves, **inch), profile(units={"program": "inch"}))
    assert verdict.proved, verdict.text()
    assert only(verdict).reach == pytest.approx((-1, -1))
    assert verdict.whole.extents["X"] == pytest.approx((-1, -1))
    assert only(verdict).radius == pytest.approx(1)
    assert verdict.tolerance == pytest.approx(0.0004)


def test_figures_of_an_inch_toolpath_are_in_inches() -> None:
    """A cut at a radius of 0.9 inch, two ten-thousandths off."""
    bar = {"shape": "round", "diameter": 2, "from": -4, "to": 0}
    part = toolpath([{"rapid": [-1, 0, 2]}, {"cut": [-1, 0, 0.9], "feed": 10}, {"cut": [-2, 0, 0.9]}], units="inch", stock=bar)
    text = HEAD.replace("G21", "G20") + "G0 A0\nX-1 Y0\nZ2\nG1 Z0.9 F10\nX-2 Y0.0002\n" + TAIL
    one = only(prove(text.encode(), part, profile()))
    assert (one.radius, one.tip_off_path) == (pytest.approx(0.9, abs=1e-6), pytest.approx(0.0002, abs=1e-6))


def test_blocks_that_are_nowhere_low_reach_nothing() -> None:
    figures = OperationFigures(1, "cut", "still", 1)
    widen_reach(figures, np.array([np.nan]), np.array([np.nan]), np.array([7]))
    assert figures.reach is None
    widen_reach(figures, np.array([2.0, np.nan]), np.array([3.0, np.nan]), np.array([8, 9]))
    assert ((2.0, 3.0), (8, 8)) == (figures.reach, figures.reach_lines)


MOVES = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
BODY = "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\n"


@dataclass
class Rotary:
    settings: dict[str, Any] = field(default_factory=dict)

    @property
    def profile(self) -> Any:
        return profile(rotary={"A": {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise", **self.settings}})


def left(first: float, last: float, **settings: Any) -> list[str]:
    totals = Totals(first_deg=[first], last_deg=[last])
    return [one.sentence for one in turns_left(totals, setting_of(toolpath(MOVES), Rotary(settings).profile, None, None), 9)]


@pytest.mark.parametrize(("first", "last", "told"), [(0, 719, 0), (0, 719.6, 1), (0, -720, 1), (360, 720, 0), (10, 730, 1)])
def test_two_whole_turns_away_from_the_begin_are_told(first: float, last: float, told: int) -> None:
    assert len(left(first, last)) == told


def test_turns_are_said_from_where_the_program_begins_with_the_setting_that_turns_back() -> None:
    (sentence,) = left(90, 1170)
    assert "ends at 1170 degrees, 3 turns from 90," in sentence
    assert 'rotary.A.unwinding.at_end = "zero"' in sentence
    assert left(float("nan"), float("nan")) == []
    assert left(0, 1080, travel={"kind": "rollover"}) == []
    (already,) = left(0, 1080, unwinding={"at_end": "zero"})
    assert "at_end" not in already


@pytest.mark.parametrize(("highest", "wrong"), [(100.0, []), (100.1, ["X"])])
def test_an_axis_goes_no_farther_than_its_travel(highest: float, wrong: list[str]) -> None:
    controller = profile(linear={"X": {"travel": 100.0}})
    totals = Totals(lowest=np.array([0.0, 0.0, np.inf]), highest=np.array([highest, 900.0, -np.inf]))
    found = beyond_travel(totals, setting_of(toolpath(MOVES), controller, None, None))
    assert [one.sentence.split()[0] for one in found] == wrong
    assert [one.weight for one in found] == ["stop"] * len(wrong)


def test_changes_of_the_path_mode_are_one_finding_at_the_first() -> None:
    assert path_mode_changes([]) == []
    (one,) = path_mode_changes([(5, "G64"), (8, "G61")])
    assert (one.line, one.count, one.sentence) == (5, 2, "the path mode changes to G64 in the middle of the program")


def test_what_is_lowered_is_gathered_by_operation_and_by_what_is_asked_for() -> None:
    lowered = Lowered()
    lowered.note(1, 10, "F80", "100 mm/min", 0.8, 2)
    lowered.note(1, 10, "F80", "100 mm/min", 0.7, 5)  # the same block, looked at again
    lowered.note(1, 12, "F70", "100 mm/min", 0.7)
    lowered.note(1, 13, "F90", "100 mm/min", 0.9)
    lowered.note(1, 14, "F40", "50 mm/min", 0.8)
    lowered.note(2, 20, "F40", "50 mm/min", 0.8)
    assert [(one.operation, one.line, one.count, one.sentence) for one in lowered.findings()] == [
        (1, 10, 4, "F80; the toolpath asks for 100 mm/min (lowered to 70 percent)"),
        (1, 14, 1, "F40; the toolpath asks for 50 mm/min (lowered to 80 percent)"),
        (2, 20, 1, "F40; the toolpath asks for 50 mm/min (lowered to 80 percent)"),
    ]


def test_beyond_twelve_in_an_operation_the_last_is_counted_on() -> None:
    lowered = Lowered()
    for number in range(14):
        lowered.note(1, 10 + number, f"F{number}", f"{number + 100} mm/min", 0.9)
    found = lowered.findings()
    assert len(found) == 12
    assert (found[-1].line, found[-1].count) == (21, 3)


def origins(moves: list[dict[str, Any]], body: str, **more: Any) -> list[str]:
    verdict = proof_of(body, toolpath(moves, **more))
    assert verdict.proved, verdict.text()
    return [one.sentence for one in verdict.findings if one.name == "origin"]


@pytest.mark.parametrize(("z", "doubted"), [(0.9, True), (1.0, True), (1.1, False), (-3, True)])
def test_an_origin_is_in_doubt_when_every_cut_ends_at_or_below_the_axis(z: float, doubted: bool) -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 15]}, {"cut": [-10, 0, z], "feed": 200}, {"cut": [-20, 0, z]}]
    assert bool(origins(moves, f"G0 A0\nX-10 Y0\nZ30\nZ15\nG1 Z{z} F200\nX-20\n")) is doubted


@pytest.mark.parametrize(("z", "doubted"), [(19.9, True), (20, False)])
def test_an_origin_is_not_in_doubt_when_a_cut_begins_above_the_stock(z: float, doubted: bool) -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, z]}, {"cut": [-10, 0, 0], "feed": 200}]
    assert bool(origins(moves, f"G0 A0\nX-10 Y0\nZ30\nZ{z}\nG1 Z0 F200\n")) is doubted


@pytest.mark.parametrize(("retract", "bottom", "doubted"), [(5, -10, True), (5, 3, False), (9, -10, False), (1, 1, True)])
def test_a_hole_begins_near_the_axis_where_the_origin_is_in_doubt(retract: float, bottom: float, doubted: bool) -> None:
    if retract == bottom:
        bottom -= 1
    hole = [{"rapid": [-10, 0, 30]}, {"hole": [-10, 0], "retract": retract, "bottom": bottom, "feed": 100}]
    assert bool(origins(hole, f"G0 A0\nX-10 Y0\nZ30\nZ{retract}\nG1 Z{bottom} F100\nG0 Z{retract}\n")) is doubted


def test_the_doubt_says_how_far_to_shift() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 15]}, {"cut": [-10, 0, -2], "feed": 200}]
    (sentence,) = origins(moves, "G0 A0\nX-10 Y0\nZ30\nZ15\nG1 Z-2 F200\n")
    assert "(highest -2 mm)" in sentence
    assert "is 20 mm above the axis" in sentence
    assert "--shift 0,0,20" in sentence


def test_a_stop_and_a_long_pause_clear_of_the_part_are_told_and_a_short_one_is_not() -> None:
    def told(line: str) -> list[str]:
        return [one.sentence for one in proof_of(f"{line}\n{BODY}", toolpath(MOVES)).findings if one.name == "stop-added"]

    assert told("G4 P10") == []
    assert told("G4 P10.1") == ["a pause of 10.1 s that the toolpath does not ask for"]
    assert told("M0") == ["a stop that the toolpath does not ask for"]


@pytest.mark.parametrize(("top", "doubted"), [(0.05, True), (1.2, False)])
def test_a_hole_of_an_inch_toolpath_is_measured_in_mm_like_the_stock(top: float, doubted: bool) -> None:
    """A bar of 2 inches with its origin on top: the hole begins near the axis; on the axis: above the stock."""
    bar = {"shape": "round", "diameter": 2, "from": -4, "to": 0}
    moves = [{"rapid": [-1, 0, 2]}, {"hole": [-1, 0], "retract": top, "bottom": -0.2, "feed": 4}]
    part = toolpath(moves, units="inch", stock=bar)
    text = HEAD.replace("G21", "G20") + f"G0 A0\nX-1 Y0\nZ2\nG98 G81 X-1 Y0 Z-0.2 R{top} F4\nG80\n" + TAIL
    verdict = prove(text.encode(), part, profile())
    assert verdict.proved, verdict.text()
    assert doubted == ("origin" in [one.name for one in verdict.findings])
