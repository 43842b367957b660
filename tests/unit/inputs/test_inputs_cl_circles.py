"""Circles and their points become arcs."""

import pytest
from cl_text import moves_of, piece_of

from steadyrest.errors import ToolpathError


def test_a_circle_with_its_end_turns_right_hand_round_its_axis() -> None:
    moves = moves_of("RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\nGOTO/0,10,0\nRAPID\nGOTO/0,10,0\nCIRCLE/0,0,0,0,0,-1,10\nGOTO/-10,0,0\n")
    assert [("counterclockwise", [0, 10, 0]), ("clockwise", [-10, 0, 0])] == [
        (move["turns"], move["arc"]) for move in moves if "arc" in move
    ]


def test_a_circle_back_to_its_start_is_a_full_one_and_a_rise_makes_a_helix() -> None:
    assert [10, 0, 3] == moves_of("RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\nGOTO/10,0,3\n")[1]["arc"]


def test_all_points_of_a_circle_make_one_arc_in_their_own_sense() -> None:
    from math import cos, radians, sin

    points = "".join(f"GOTO/{10 * cos(radians(a)):.9f},{-10 * sin(radians(a)):.9f},0\n" for a in range(2, 271, 2))
    (_, arc, cut) = moves_of(f"RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\n{points}GOTO/0,20,0\n")
    assert ("clockwise", [0, 10, 0]) == (arc["turns"], pytest.approx(arc["arc"], abs=1e-8))
    assert [0, 20, 0] == cut["cut"]


def test_points_on_a_circle_that_leave_two_readings_are_refused_unless_said() -> None:
    body = "RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\nGOTO/-10,0,0\nGOTO/10,0,0\n"
    with pytest.raises(ToolpathError, match="the arc may end at the first or at the last"):
        piece_of(body)
    assert ["rapid", "arc", "cut"] == [next(iter(move)) for move in moves_of(body, circle_points="one")]
    with pytest.raises(ToolpathError, match="half a turn apart"):
        piece_of(body, circle_points="all")


def test_the_shorter_way_of_an_arc_may_be_asked_for() -> None:
    body = "RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\nGOTO/0,-10,0\n"
    assert ["counterclockwise", "clockwise"] == [moves_of(body)[1]["turns"], moves_of(body, circle_turns="shorter")[1]["turns"]]


def test_an_arc_that_doubles_back_is_refused_unless_its_sense_is_said() -> None:
    body = "RAPID\nGOTO/10,20,0\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\nGOTO/0,-10,0\n"
    with pytest.raises(ToolpathError, match="the arc doubles back on the cut before it"):
        piece_of(body)
    assert ["counterclockwise", "clockwise"] == [moves_of(body, circle_turns=said)[2]["turns"] for said in ("right-hand", "shorter")]


def test_an_arc_that_goes_smoothly_on_is_taken() -> None:
    assert "counterclockwise" == moves_of("RAPID\nGOTO/10,-20,0\nGOTO/10,0,0\nCIRCLE/0,0,0,0,0,1,10\nGOTO/0,10,0\n")[2]["turns"]


def test_an_arc_across_the_planes_becomes_chords_that_lie_on_it() -> None:
    moves = moves_of("RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,-.70710678,.70710678,10\nGOTO/-10,0,0\n")
    assert all("cut" in move for move in moves[1:])
    assert {10.0} == {round(sum(value**2 for value in move["cut"]) ** 0.5, 9) for move in moves[1:]}
