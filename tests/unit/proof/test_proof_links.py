"""What lies between cuts: what has to be switched there, distances that decide where the tool is, and how it gets there."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from proof_parts import profile, proof_of, toolpath

from steadyrest.proof.links import beside_way


@pytest.mark.parametrize(
    ("point", "off"),
    [((15, 3), 3), ((20, 3), 3), ((7, 4), 5), ((23, -4), 5), ((12, 0), 0)],
)
def test_how_far_a_point_is_beside_a_straight_way(point: tuple[float, float], off: float) -> None:
    assert off == pytest.approx(beside_way(np.array(point, dtype=float), np.array([10.0, 0.0]), np.array([20.0, 0.0])))


@pytest.mark.parametrize(("point", "off"), [((9.9, 8.2), 2), ((13.6, 9.8), 1), ((7, 1), 5)])
def test_how_far_a_point_is_beside_a_way_that_slants(point: tuple[float, float], off: float) -> None:
    """From X10 Y5 three along X and four along Y: beside its middle, beyond its end, before its start."""
    assert off == pytest.approx(beside_way(*map(np.array, (point, (10.0, 5.0), (13.0, 9.0)))))


def test_a_rapid_through_the_stock_is_told_with_its_height_and_how_much_it_is_too_low() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"cut": [-10, 0, 18], "feed": 200}, {"rapid": [-10, 0, 30]}, {"cut": [-60, 0, 18], "feed": 200}]
    failure = proof_of("G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nG0 Z19\nX-60\nG1 Z18 F200\n", toolpath(moves)).failure
    assert failure is not None
    assert "rapid-low" == failure.rule
    assert "19 mm above the axis of rotation" in failure.sentence
    assert failure.distance == pytest.approx(20 - 19)  # the bar reaches 20


def test_beside_a_way_of_no_length_is_its_distance_and_beside_an_unknown_one_without_end() -> None:
    here = np.array([3.0, 4.0])
    assert beside_way(here, np.zeros(2), np.zeros(2)) == 5
    assert beside_way(here, np.full(2, np.nan), np.zeros(2)) == np.inf


MOVES: list[dict[str, Any]] = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}]
DOWN = "X-10 Y0\nZ30\nZ22\nG1 Z18 F200\n"
ROTARY = {"along": "X", "chuck_faces": "+X", "positive_turns_chuck": "clockwise"}


def refused(body: str, *, angle: float = 90.0, rotary: dict[str, Any] | None = None, **controller: Any) -> tuple[str, int | None]:
    part = toolpath(MOVES, {"intent": "indexed", "angles": [angle]})
    failure = proof_of(body, part, profile(rotary={"A": {**ROTARY, **(rotary or {})}}, **controller)).failure
    return ("", None) if failure is None else (failure.rule, failure.place.line)


@pytest.mark.parametrize(
    ("line", "rule", "at"),
    [
        ("", "", None),
        ("M5\n", "spindle-way", 8),
        ("M4\n", "spindle-way", 8),
        ("S1001\n", "spindle-speed", 8),
        ("S599\n", "spindle-speed", 8),
        ("S600\n", "", None),
        ("M8\n", "coolant", 8),
        ("G55\n", "work-offset", 8),
        ("G43 H2\n", "length-offset", 8),
        ("T2\n", "tool-selected", 8),
        ("T2 M6\n", "tool-selected", 8),
    ],
)
def test_each_switch_is_as_the_operation_asks(line: str, rule: str, at: int | None) -> None:
    assert refused(f"{line}G0 A90\n{DOWN}") == (rule, at)


@pytest.mark.parametrize(
    ("pause", "said"),
    [
        ("G4 P2\n", ""),
        ("", "the pause of 2 s that the profile asks for after the spindle starts is missing"),
        ("G4 P2\nM3\nS1000\n", ""),
        ("G4 P2\nS900\n", "the pause of 2 s that the profile asks for after the spindle starts is missing"),
        ("G4 P1\n", "a pause of 1 s; the profile asks for 2 s after the spindle starts"),
    ],
)
def test_the_pause_for_the_spindle_is_as_long_as_the_profile_asks(pause: str, said: str) -> None:
    failure = proof_of(f"M5\nM3\n{pause}G0 A0\n{DOWN}", toolpath(MOVES), profile(spindle={"dwell": 2})).failure
    assert said == ("" if failure is None else failure.sentence)


@pytest.mark.parametrize(("angle", "rule"), [(90, ""), (91, "between-steps")])
def test_an_indexing_head_stands_at_its_steps(angle: float, rule: str) -> None:
    assert refused(f"G0 A{angle}\n{DOWN}", angle=angle, rotary={"steps": 5, "turns_while_cutting": False})[0] == rule


@pytest.mark.parametrize(
    ("turns", "rule"),
    [
        ("A0\nA90", ""),
        ("A88\nA90", ""),
        ("A88.1\nA90", "backlash"),
        ("A180\nA90", "backlash"),
        ("A80\nA89\nA90", ""),
        ("A100\nA88\nA90", ""),
    ],
)
def test_against_backlash_the_rotary_arrives_from_one_side(turns: str, rule: str) -> None:
    rotary = {"unwinding": {"between": "one_side", "arrive_from": "below", "overshoot": 2.0}}
    assert refused(f"G0 {turns}\n{DOWN}", rotary=rotary)[0] == rule


@pytest.mark.parametrize(
    ("pause", "rule"), [("", "spindle-pause"), ("G4 P1\n", "spindle-pause"), ("G4 P2\n", ""), ("G4 P2.01\n", "spindle-pause")]
)
def test_the_spindle_gets_the_pause_that_the_profile_asks_for(pause: str, rule: str) -> None:
    assert refused(f"S1000 M5\nM3\n{pause}G0 A90\n{DOWN}", spindle={"dwell": 2.0})[0] == rule


@pytest.mark.parametrize(
    ("way", "rule"),
    [
        ("X-10 Y0\nZ30\nZ22\nG1 Z18 F200\n", ""),
        ("X-10 Y0\nZ22\nG1 Z18 F200\n", "cut-elsewhere"),  # never where the first rapid goes
        ("X-10 Y0\nZ30\nZ18\n", "rapid-low"),
        ("X-10 Y0\nZ30\nG1 Z18 F200\n", "cut-elsewhere"),
        ("X-10 Y0\nZ30\nZ22\nG1 Z17.9 F200\n", "off-path"),
        ("X-10 Y0\nZ30\nZ22\nX-12 Z19\nX-10 Z22\nG1 Z18 F200\n", "rapid-low"),
        ("X-10 Y0\nZ30\nZ22\nZ25\nX-12\nX-10\nZ22\nG1 Z18 F200\n", ""),
    ],
)
def test_how_a_link_may_come_down(way: str, rule: str) -> None:
    assert refused(f"G0 A90\n{way}")[0] == rule


@pytest.mark.parametrize(("feed", "right"), [(150, True), (151, False)])
def test_one_block_over_the_rest_of_a_move_and_another_has_the_feed_of_both_together(feed: int, right: bool) -> None:
    moves = [*MOVES, {"cut": [-20, 0, 18], "feed": 100}, {"cut": [-30, 0, 18], "feed": 200}]
    body = f"G0 A0\n{DOWN}X-15 F100\nX-30 F{feed}\n"
    assert proof_of(body, toolpath(moves)).proved is right
