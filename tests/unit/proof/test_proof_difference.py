"""What is asked for and what the program does, around the first difference."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
import pytest
from proof_parts import HEAD, MOVES, TAIL, TEXT, difference_of, profile, proof_of, toolpath

from steadyrest.proof import RULES, Difference, Figure, prove
from steadyrest.proof.difference import _DRAWN, _NOT_DRAWN

HOLE: list[dict[str, Any]] = [{"rapid": [-10, 0, 30]}, {"hole": [-10, 0], "cycle": "drill", "retract": 22, "bottom": 10, "feed": 100}]
HOLE_TEXT = "G0 A0\nX-10 Y0\nZ30\nZ22\nG1 Z10 F100\nG0 Z22\n"


def places(difference: Difference) -> tuple[list[float], list[float]]:
    assert difference.asked_at is not None
    assert difference.found_at is not None
    return difference.asked_at.round(4).tolist(), difference.found_at.round(4).tolist()


def test_the_programs_as_they_should_be_are_proved() -> None:
    assert proof_of(TEXT, toolpath(MOVES)).proved
    assert proof_of(HOLE_TEXT, toolpath(HOLE)).proved


def test_every_rule_is_drawn_in_one_way_or_says_why_there_is_nothing_to_draw() -> None:
    drawn = [rule for rules in _DRAWN.values() for rule in rules.split()]
    not_drawn = [rule for rules in _NOT_DRAWN.values() for rule in rules.split()]
    assert sorted(RULES) == sorted(drawn + not_drawn)


def test_a_wrong_word_is_marked_where_its_block_ends_and_where_it_should_end() -> None:
    found = difference_of(TEXT.replace("X-50", "X-51"), MOVES)
    assert found.shown == "path"
    assert places(found) == ([-50, 5, 18, 0], [-51, 5, 18, 0])
    assert (found.off_mm, found.turned_rad) == (pytest.approx(1), 0)
    assert (found.line, found.move) == (13, 4)
    assert Figure("X", "-50 mm", "-51 mm", "1 mm") in found.figures
    assert Figure("Z", "18 mm", "18 mm") in found.figures


def test_the_two_ways_go_from_before_the_difference_to_behind_it() -> None:
    found = difference_of(TEXT.replace("X-50", "X-51"), MOVES)
    asked, program = found.asked, found.found
    assert set(asked.number.tolist()) == {1, 2, 3, 4, 5, 6}
    assert {12, 13, 14} <= set(program.number.tolist())
    assert asked.stand[asked.number == 4][-1].tolist() == [-50, 5, 18, 0]
    assert program.stand[program.number == 13][-1].tolist() == [-51, 5, 18, 0]
    assert asked.rapid[asked.number == 2].all()
    assert not asked.rapid[asked.number == 4].any()
    bow = asked.stand[asked.number == 5]
    assert np.hypot(bow[:, 0] + 50, bow[:, 1]) == pytest.approx(5)  # an arc, not its chord
    assert len(bow) > 10


def test_an_arc_about_another_centre_is_marked_where_it_is_farthest_away() -> None:
    found = difference_of(TEXT.replace("J-5", "I1 J-5").replace("Y-5", "X-50 Y-5"), MOVES)
    asked, program = places(found)
    assert np.hypot(asked[0] + 50, asked[1]) == pytest.approx(5, abs=0.01)
    assert found.off_mm > 0.9
    assert program[0] > asked[0]


def test_a_cut_that_leaves_out_a_corner_is_marked_at_the_corner() -> None:
    square = [*MOVES[:4], {"cut": [-50, -5, 18]}, {"cut": [-10, -5, 18]}]
    text = TEXT.replace("X-50 F600\nG3 Y-5 J-5\nG0 Z30\n", "X-50 Y-5 F600\nX-10\n")
    found = difference_of(text, square)
    assert found.off_mm > 3
    assert found.shown == "path"


@pytest.mark.parametrize("back", [(-26, 1), (-12, 4.5)])
def test_a_block_that_goes_back_along_its_path_is_marked_where_it_ends_and_where_the_move_does(back: tuple[float, float]) -> None:
    straight = [*MOVES[:3], {"cut": [-50, -5, 18], "feed": 600}]
    text = TEXT.replace("X-50 F600\nG3 Y-5 J-5\n", f"X-30 Y0 F600\nX{back[0]} Y{back[1]}\nX-50 Y-5\n")
    assert places(difference_of(text, straight)) == ([-50, -5, 18, 0], [*back, 18, 0])


def test_a_stretch_that_is_left_out_is_marked_where_it_is_farthest_from_what_is_cut() -> None:
    there_and_back = [*MOVES[:3], {"cut": [-50, -5, 18], "feed": 600}, {"cut": [-30, 0, 18]}]
    text = TEXT.replace("X-50 F600\nG3 Y-5 J-5\n", "X-30 Y0 F600\n")
    found = difference_of(text, there_and_back)
    asked, program = places(found)
    assert asked == [-50, -5, 18, 0]
    assert program == pytest.approx([-30, 0, 18, 0], abs=0.01)


def test_a_rotary_that_turns_the_other_way_is_off_by_its_angle() -> None:
    moves = [{"rapid": [-10, 0, 30]}, {"rapid": [-10, 0, 22]}, {"cut": [-10, 0, 18], "feed": 200}, {"cut": [-30, 0, 18], "feed": 600}]
    body = "G0 A{}\nX-10 Y0\nZ30\nZ22\nG1 Z18 F200\nX-30 F600\nG0 Z30\n"
    indexed = {"intent": "indexed", "angles": [60]}
    assert proof_of(body.format(60), toolpath(moves, indexed)).proved
    found = difference_of(body.format(-60), moves, indexed)
    assert abs(found.turned_rad) == pytest.approx(radians(120))
    assert Figure("A", "60°", "-60°", "120°") in found.figures


def test_a_wrapped_path_is_compared_on_its_own_surface() -> None:
    wrapped = {"intent": "wrapped", "diameter": 40}
    moves = [{"rapid": [-10, 0, 10]}, {"cut": [-10, 0, -1], "feed": 200}, {"cut": [-10, -31.4159, -1], "feed": 600}]
    body = "G0 A0\nX-10 Y0\nZ30\nG1 Z19 F200\nG93 A{} F19.0986\nG94\nG0 Z30\n"
    assert proof_of(body.format(90), toolpath(moves, wrapped)).proved
    found = difference_of(body.format(88), moves, wrapped)
    assert found.frame.kind == "wrapped"
    asked, program = found.points(np.array([found.asked_at, found.found_at]))
    assert asked[1] - program[1] == pytest.approx(-radians(2) * 20, abs=1e-3)
    # A whole turn that the program is ahead, which is free before a cut, moves nothing on the part; only its words say it.
    ahead = difference_of(body.format(448).replace("G0 A0", "G0 A360"), moves, wrapped)
    assert ahead.points(np.array([ahead.asked_at, ahead.found_at])) == pytest.approx(np.array([asked, program]), abs=1e-3)
    assert np.nanmax(np.abs(ahead.points(ahead.found.stand)[-3:] - found.points(found.found.stand)[-3:])) == pytest.approx(0, abs=1e-3)
    assert Figure("A", "449.9999°", "448°", "1.9999°") in ahead.figures


def test_a_hole_that_is_too_deep_is_marked_by_its_depth_and_shown_step_by_step() -> None:
    found = difference_of(HOLE_TEXT.replace("Z10", "Z9.5"), HOLE)
    assert found.shown == "steps"
    assert places(found) == ([-10, 0, 10, 0], [-10, 0, 9.5, 0])
    assert dict(found.levels) == {"retract level": 22, "bottom": 10}
    assert np.nanmin(found.asked.stand[:, 2]) == 10
    assert np.nanmin(found.found.stand[:, 2]) == 9.5


def test_the_steps_of_a_peck_are_asked_for_one_by_one() -> None:
    peck = [HOLE[0], {"hole": [-10, 0], "cycle": "peck", "retract": 22, "bottom": 10, "feed": 100, "peck": 5}]
    found = difference_of(HOLE_TEXT, peck)
    assert found.shown == "steps"
    cuts = found.asked.stand[~found.asked.rapid][1::2, 2]
    assert cuts.tolist() == [17, 12, 10]


def test_what_the_stock_sweeps_is_shown_by_the_height_of_the_tool_over_it() -> None:
    found = difference_of(TEXT.replace("Z30\n", "Z30\nA90\nZ19\nA0\n", 1), MOVES)
    assert found.shown == "height"
    assert found.frame.kind == "work"
    assert dict(found.levels) == {"top of the stock as it turns": 20, "clear height": 25}


def test_where_the_tool_stands_at_no_known_height_there_is_nothing_to_draw() -> None:
    failure = prove((HEAD.replace("G53 G0 Z0\n", "G0 A0\n", 1) + TEXT + TAIL).encode(), toolpath(MOVES), profile()).failure
    assert failure is not None
    assert failure.difference is not None
    assert failure.rule == "turn-low"
    assert (failure.difference.shown, failure.difference.why_not[-40:]) == ("", "where the tool stands here is not known.")


def test_the_end_before_its_time_is_marked_where_the_program_stops() -> None:
    found = difference_of("G0 A0\nX-10 Y5\nZ30\nZ22\nG1 Z18 F200\nX-50 F600\nM30\n", MOVES)
    assert found.found_at is not None
    assert found.found_at[:3].tolist() == [-50, 5, 18]
