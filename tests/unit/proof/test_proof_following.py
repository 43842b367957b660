"""How the path is followed block by block, and what is said where it is not."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from proof_parts import proof_of, toolpath

from steadyrest.proof import Failure, Verdict
from steadyrest.toolpath import Toolpath

ON_AXIS = [[-10, 0, 50], [-10, 0, 0], [-20, 0, 0], [-20, 0, 10], [-40, 0, 10]]


def finish() -> dict[str, Any]:
    """A cut whose first move runs along the axis of rotation, the tool upright everywhere."""
    rapid, plunge, *cuts = ({"rapid" if at == 0 else "cut": point, "tool_axis": [0, 0, 1]} for at, point in enumerate(ON_AXIS))
    return {"moves": [rapid, plunge | {"feed": 200}, *cuts], "rotary": {"intent": "simultaneous"}}


def failure(along: str, up: str) -> Failure:
    """What is said of the program that writes these words in the block along the axis and in the one that leaves it."""
    body = f"G0 A0\nX-10 Y0\nZ50\nG1 Z0 F200\nG93 X-20 {along} F20\nZ10 {up} F20\nX-40 F10\nG94\n"
    verdict = proof_of(body, toolpath(**finish()))
    assert verdict.failure is not None
    return verdict.failure


def test_the_first_block_that_is_off_says_how_far_the_tip_is_off() -> None:
    found = failure("Y0.012", "Y0.014")
    assert ("off-path", pytest.approx(0.012)) == (found.rule, found.distance)


@pytest.mark.parametrize("off", [0.03, 0.05, 1])
def test_a_tool_axis_that_is_off_at_the_right_place_is_said_in_degrees(off: float) -> None:
    found = failure(f"A{off}", f"A{off + 0.002:g}")
    assert "tool-axis" == found.rule
    assert f"the tool axis is off by {off:g} degrees; 0.0291 degrees are allowed" in found.sentence


def test_whether_the_tip_or_the_tool_axis_is_told_is_a_matter_of_the_first_block_alone() -> None:
    """On the axis of rotation 0.0109 mm are too much, at a radius of 10 they are not: the rounding of the rotary counts there."""
    assert "off-path" == failure("A0.0295 Y0.0109", "").rule
    assert "tool-axis" == failure("A0.0295 Y0.01", "Y0.0111").rule


def test_a_move_too_short_for_a_block_may_come_before_one_of_thousands_of_blocks() -> None:
    """A hair of 0.004 mm and twenty turns in one arc, written in six thousand straight blocks: the hair has none of its own."""
    arc = {"arc": [-40.004, 0, 10], "centre": [-30.004, 0, 10], "turns": "counterclockwise", "full_turns": 20}
    moves = [{"rapid": [-20, 0, 50]}, {"cut": [-20, 0, 10], "feed": 200}, {"dwell": 1}, {"cut": [-20.004, 0, 10]}, arc]
    angle = np.linspace(0.0, 41 * np.pi, 6151)[1:]
    blocks = [f"X{-30.004 + 10 * np.cos(at):.4f} Y{10 * np.sin(at):.4f}" for at in angle]
    body = "G0 A0\nX-20 Y0\nZ50\nG1 Z10 F200\nG4 P1\n" + "\n".join(blocks) + "\n"
    verdict = proof_of(body, toolpath(moves))
    assert verdict.proved, verdict.text()
    assert pytest.approx(0.004, abs=1e-4) == verdict.operations[0].path_off_tip


def radial_block(begin: float, end: float, degrees: float) -> Verdict:
    """A cut straight away from the axis of rotation while the part turns, in one block: the tip lags, and bows aside by a quarter of
    the turn times the way."""
    turn = math.radians(degrees)
    sine, cosine = math.sin(turn), math.cos(turn)
    moves = [
        {"rapid": [-10, 0, 50], "tool_axis": [0, 0, 1]},
        {"cut": [-10, 0, begin], "tool_axis": [0, 0, 1], "feed": 200},
        {"cut": [-10, 0, end], "tool_axis": [0, sine, cosine]},
    ]
    block = f"G93 Y{-end * sine:.4f} Z{end * cosine:.4f} A{-degrees} F{200 / (end - begin):g}"
    return proof_of(f"G0 A0\nX-10 Y0\nZ50\nG1 Z{begin} F200\n{block}\nG94\n", toolpath(moves, {"intent": "simultaneous"}))


def test_a_block_that_stays_beside_its_line_may_follow_it_at_a_pace_of_its_own() -> None:
    """It lags by 20 x 0.105^2 / 8 = 0.027 mm, but is never more than 0.2 x 0.105 / 4 = 0.005 mm from its line."""
    verdict = radial_block(20, 20.2, 6)
    assert verdict.proved, verdict.text()
    assert pytest.approx(0.2 * math.radians(6) / 4, rel=0.05) == verdict.operations[0].tip_off_path


def test_a_block_that_bows_aside_is_refused_at_any_pace() -> None:
    found = radial_block(18, 18.5, 6).failure
    assert found is not None
    assert ("off-path", pytest.approx(0.5 * math.radians(6) / 4, rel=0.05)) == (found.rule, found.distance)


def test_a_pause_at_a_hair_in_the_middle_of_a_cut_does_not_end_the_cut() -> None:
    """The hair needs no block, but the cut after it is still to come."""
    moves = [{"rapid": [-10, 0, 30]}, *({"cut": [x, 0, 18], "feed": 200} for x in (-10, -50, -50.004, -60))]
    failure = proof_of("G0 A0\nX-10 Y0\nZ30\nG1 Z18 F200\nX-50\nG4 P1\nG0 Z30\n", toolpath(moves)).failure
    assert failure is not None
    assert ("pause-added", 5) == (failure.rule, failure.place.move)


def test_a_block_within_the_bound_at_its_own_pace_is_not_measured_more_closely() -> None:
    """Its lag of 20 x 0.035^2 / 8 = 0.003 mm counts, though it stays within 0.0005 mm of its line."""
    verdict = radial_block(20, 20.06, 2)
    assert verdict.proved, verdict.text()
    assert pytest.approx(20 * math.radians(2) ** 2 / 8, rel=0.1) == verdict.operations[0].tip_off_path


def leaning(by_deg: float, **operation: object) -> Toolpath:
    """Two moves along X in one line, the tool axis leaning along X, out of what a rotary along X reaches."""
    axis = [math.sin(math.radians(by_deg)), 0.0, math.cos(math.radians(by_deg))]
    moves = [{"rapid": [-10, 0, 40], "tool_axis": axis}, {"cut": [-10, 0, 18], "feed": 100}, {"cut": [-30, 0, 18]}, {"cut": [-60, 0, 18]}]
    return toolpath([*moves, {"rapid": [-60, 0, 40]}], {"intent": "simultaneous"}, operation=operation)


ALONG = "G0 A0\nX-10 Y0\nZ40\nG94 G1 Z18 F100\n{}G0 Z40\n"


@pytest.mark.parametrize("cuts", ["X-30\nX-60\n", "X-60\n"])
def test_a_tool_axis_out_of_reach_is_refused_also_where_one_block_goes_over_several_moves(cuts: str) -> None:
    failure = proof_of(ALONG.format(cuts), leaning(2.0)).failure
    assert failure is not None
    assert failure.rule == "tool-axis"
    assert proof_of(ALONG.format(cuts), leaning(0.0)).proved


@pytest.mark.parametrize("cuts", ["X-30\nX-60\n", "X-60\n"])
def test_a_tool_axis_may_be_out_of_reach_by_the_operation_s_axis_tolerance_and_no_more(cuts: str) -> None:
    verdict = proof_of(ALONG.format(cuts), leaning(2.0, axis_tolerance=2.001))
    assert verdict.proved
    assert verdict.operations[0].axis_off_deg == pytest.approx(2.0, abs=1e-9)
    assert verdict.operations[0].axis_limit_deg > 2.0
    failure = proof_of(ALONG.format(cuts), leaning(2.0, axis_tolerance=1.9)).failure
    assert failure is not None
    assert failure.rule == "tool-axis"


def test_an_axis_that_may_lean_excuses_no_turn_of_the_rotary() -> None:
    turned = ALONG.format("X-30 A1\nX-60 A1\n")
    failure = proof_of(turned, leaning(2.0, axis_tolerance=5.0)).failure
    assert failure is not None
    assert failure.rule in ("tool-axis", "off-path")
