"""Holes, block by block: where each rule begins to bite."""

from __future__ import annotations

from typing import Any

import pytest
from proof_parts import profile, proof_of, toolpath

from steadyrest.proof import Verdict

START = "G0 A0\nX-10 Y0\nZ30\nZ22\n"


def drilled(body: str, cycle: str = "drill", controller: dict[str, Any] | None = None, **hole: Any) -> Verdict:
    one = {"hole": [-10, 0], "cycle": cycle, "retract": 22, "bottom": 12, "feed": 100, **hole}
    operation = {"operation": {"spindle": {"rpm": 1000, "turns": "clockwise"}}}
    return proof_of(START + body, toolpath([{"rapid": [-10, 0, 30]}, one], **operation), profile(**(controller or {})))


def rule(body: str, cycle: str = "drill", **hole: Any) -> str:
    failure = drilled(body, cycle, **hole).failure
    return failure.rule if failure is not None else ""


@pytest.mark.parametrize(
    ("body", "broken"),
    [
        ("G1 Z12 F100\nG0 Z22\n", ""),
        ("G1 Z12.01 F100\nG0 Z22\n", ""),
        ("G1 Z12.02 F100\nG0 Z22\n", "hole-up"),
        ("G1 Z11.99 F100\nG0 Z22\n", ""),
        ("G1 Z11.98 F100\nG0 Z22\n", "hole-deep"),
        ("G1 Z12 F100\nG0 Z21\n", "hole-unfinished"),
        ("G1 Z12 F100\nG0 Z21.99\n", ""),
        ("G1 Z12 F100\nG0 Z40\n", ""),
        ("G1 Z17 F100\nZ12\nG0 Z22\n", ""),
        ("G1 Z12 F100\nZ22\n", "hole-feeds-up"),
        ("G0 Z12\nG0 Z22\n", "hole-rapid-down"),
        ("G0 Z21.995\nG1 Z12 F100\nG0 Z22\n", ""),
        ("G0 Z21.98\nG1 Z12 F100\nG0 Z22\n", "hole-rapid-down"),
        ("G0 Z23\nG1 Z12 F100\nG0 Z22\n", "hole-up"),
        ("G0 Z22.005\nG1 Z12 F100\nG0 Z22\n", ""),
        ("G1 X-10.005 Z12 F100\nG0 Z22\n", ""),
        ("G1 X-10.02 Z12 F100\nG0 Z22\n", "hole-aside"),
        ("G1 Y0.02 Z12 F100\nG0 Z22\n", "hole-aside"),
        ("G1 Z12 F120\nG0 Z22\n", "feed"),
        ("G1 Z12 F59\nG0 Z22\n", "feed"),
        ("G1 Z12 F60\nG0 Z22\n", ""),
        ("G4 P1\nG1 Z12 F100\nG0 Z22\n", "hole-pause"),
        ("G1 Z12 F100\nG4 P1\nG0 Z22\n", "hole-pause"),
        ("G1 Z12 F100\nM0\nG0 Z22\n", "hole-unfinished"),
    ],
)
def test_a_drilled_hole(body: str, broken: str) -> None:
    assert rule(body) == broken


@pytest.mark.parametrize(
    ("body", "broken"),
    [
        ("G1 Z17 F100\nG0 Z22\nZ17.5\nG1 Z12\nG0 Z22\n", ""),
        ("G1 Z17.1 F100\nG0 Z22\nZ17.6\nG1 Z12.1\nG0 Z22\nZ12.6\nG1 Z12\nG0 Z22\n", ""),
        ("G1 Z16.98 F100\nG0 Z22\nZ17.5\nG1 Z12\nG0 Z22\n", "peck-step"),
        ("G1 Z17 F100\nZ12\nG0 Z22\n", "peck-step"),
        ("G1 Z17 F100\nG0 Z21.9\nZ17.5\nG1 Z12\nG0 Z22\n", "peck-out"),
        ("G1 Z17 F100\nG0 Z22\nZ17\nG1 Z12\nG0 Z22\n", "hole-rapid-down"),
        ("G1 Z17 F100\nG0 Z22\nZ17.001\nG1 Z12\nG0 Z22\n", ""),
        ("G1 Z17 F100\nG0 Z22\nZ30\n", "hole-unfinished"),
        ("G1 Z17 F100\nG0 Z22.02\nG1 Z12\nG0 Z22\n", "hole-above"),
        ("G1 Z17 F100\nG0 Z22.005\nG1 Z12\nG0 Z22\n", ""),
        ("G1 Z17 F100\nG0 Z22\nZ17.5\nG1 Z12.005\nG0 Z22\nZ13\nG1 Z12\nG0 Z22\n", ""),
    ],
)
def test_a_pecked_hole(body: str, broken: str) -> None:
    assert rule(body, "peck", peck=5) == broken


@pytest.mark.parametrize("away", ["G0 Z22\nX-20\n", "X-20\n"])
def test_a_hole_that_is_left_between_its_pecks_is_said_to_be_too_shallow_by_how_much(away: str) -> None:
    failure = drilled(f"G1 Z17 F100\n{away}", "peck", peck=5).failure
    assert failure is not None
    assert (12, True) == (failure.place.line, "the hole is 5 mm shallower than asked for" in failure.sentence)


def test_a_last_peck_of_a_hair_belongs_to_the_hole_until_it_is_out_again() -> None:
    verdict = drilled("G1 Z17 F100\nG0 Z22\nZ17.5\nG1 Z12.005\nG0 Z22\nZ13\nG1 Z12\nG0 Z22\n", "peck", peck=5)
    assert verdict.proved, verdict.text()
    assert verdict.operations[0].blocks == 8


@pytest.mark.parametrize(("up", "broken"), [("17.5", ""), ("17.25", ""), ("17.2", "peck-step"), ("22", "")])
def test_a_chip_is_broken_by_going_up_as_far_as_the_profile_says(up: str, broken: str) -> None:
    verdict = drilled(f"G1 Z17 F100\nG0 Z{up}\nG1 Z12\nG0 Z22\n", "chip-break", {"cycles": {"chip_break_rise": 0.25}}, peck=5)
    assert (verdict.failure.rule if verdict.failure is not None else "") == broken


def test_breaking_a_chip_at_the_bottom_is_not_yet_the_way_out() -> None:
    assert rule("G1 Z17 F100\nG0 Z17.5\nG1 Z12\nG0 Z12.5\nZ22\n", "chip-break", peck=5) == ""
    assert rule("G1 Z17 F100\nG0 Z17.5\nG1 Z12\nG0 Z12.5\nX-20\n", "chip-break", peck=5) == "hole-aside"


@pytest.mark.parametrize(
    ("body", "broken"),
    [
        ("G1 Z12 F100\nZ22\n", ""),
        ("G1 Z12 F100\nG0 Z22\n", "hole-rapid-out"),
        ("G1 Z12 F100\nZ22 F50\n", "feed"),
        ("G1 Z17 F100\nZ22\n", "hole-feeds-up"),
        ("G1 Z12 F100\nZ21\nX-20\n", "hole-aside"),
    ],
)
def test_a_bored_hole_is_fed_out_of(body: str, broken: str) -> None:
    assert rule(body, "bore") == broken


@pytest.mark.parametrize(
    ("feed", "out", "broken"), [(1000, 1000, ""), (1001, 1000, ""), (1002, 1000, "feed"), (1000, 998, "feed"), (1000, 999, "")]
)
def test_a_tap_goes_by_its_pitch_both_ways(feed: int, out: int, broken: str) -> None:
    assert rule(f"G1 Z12 F{feed}\nZ22 F{out}\n", "tap", feed=1000) == broken


def test_a_tap_says_its_pitch_and_is_held_back_by_nothing() -> None:
    failure = drilled("G1 Z12 F1250\nZ22 F1250\n", "tap", feed=1000).failure
    assert failure is not None
    assert failure.sentence == "the tap goes 1.25 mm per turn; its pitch is 1 mm"
    slow = drilled("G1 Z12 F1000\nZ22\n", "tap", {"linear": {"Z": {"fastest": 900}}}, feed=1000).failure
    assert slow is not None
    assert slow.sentence == "F for the tap is more than the axis can run, and a tap must not slow down"


@pytest.mark.parametrize(
    ("pause", "broken"),
    [("", "hole-pause"), ("G4 P1\n", "hole-pause"), ("G4 P2\n", ""), ("G4 P1\nG4 P1\n", ""), ("G4 P2.1\n", "hole-pause")],
)
def test_the_pause_at_the_bottom_is_as_long_as_asked(pause: str, broken: str) -> None:
    assert rule(f"G1 Z12 F100\n{pause}G0 Z22\n", "dwell-drill", dwell=2) == broken


@pytest.mark.parametrize(
    ("body", "peck", "line", "says"),
    [
        ("G1 Z12.5 F100\nG0 Z22\n", None, 12, "Z12.5; the toolpath asks for 12 mm: the hole is 0.5 mm shallower than asked for"),
        ("G1 Z11.5 F100\nG0 Z22\n", None, 12, "Z11.5; the toolpath asks for 12 mm: the hole is 0.5 mm deeper than asked for"),
        (
            "G1 Z16 F100\nG0 Z22\nZ16.5\nG1 Z12\nG0 Z22\n",
            5,
            12,
            "Z16 makes a peck of 6 mm; the toolpath asks for pecks of 5 mm before coming out",
        ),
        (
            "G1 Z18 F100\nG0 Z22\nZ18.5\nG1 Z12\nG0 Z22\n",
            5,
            12,
            "Z18 makes pecks of 4 mm and 6 mm; the toolpath asks for pecks of 5 mm before coming out",
        ),
    ],
)
def test_what_is_wrong_is_said_at_the_word_that_says_it(body: str, peck: float | None, line: int, says: str) -> None:
    failure = drilled(body, "drill" if peck is None else "peck", **({} if peck is None else {"peck": peck})).failure
    assert failure is not None
    assert (failure.place.line, failure.sentence) == (line, says)


def test_a_hole_is_measured_and_counted() -> None:
    verdict = drilled("G1 X-10.004 Z12 F100\nG0 Z22\n")
    assert verdict.proved, verdict.text()
    (one,) = verdict.operations
    assert one.tip_off_path == pytest.approx(0.004)
    assert one.path_off_tip == one.tip_off_path
    assert one.radius == pytest.approx(22)
    assert (one.holes, one.moves) == (1, 2)


@pytest.mark.parametrize("more", ["G1 Z15\n", "G0 Z15\n"])
def test_a_block_in_a_hole_to_where_the_tool_stands_already_changes_nothing(more: str) -> None:
    hole = {"hole": [-10, 0], "retract": 22, "bottom": 15, "feed": 100}
    assert proof_of(f"G0 A0\nX-10 Y0\nZ50\nZ22\nG1 Z15 F100\n{more}G0 Z22\n", toolpath([{"rapid": [-10, 0, 50]}, hole])).proved
