"""Circles and cycles: the points after them become arcs and holes."""

from __future__ import annotations

from typing import Any

import pytest
from cl_text import moves_of, operations_of, piece_of

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


HOLE = "GOTO/5,6,20\n"


ABOVE = "RAPID\nGOTO/0,0,10\n"


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("CYCLE/DRILL,DEPTH,12,PERMIN,100,CLEAR,2", {"cycle": "drill", "feed": 100}),
        ("CYCLE/DRILL,12,PERMIN,100,2", {"cycle": "drill", "feed": 100}),
        ("CYCLE/DRILL,12,MMPM,100,2,DWELL,.5", {"cycle": "dwell-drill", "feed": 100, "dwell": 0.5}),
        ("CYCLE/FACE,FEDTO,12,PERREV,.01,RAPTO,2,DWELL,4,REV", {"cycle": "dwell-drill", "feed": 80, "dwell": 0.03}),
        ("CYCLE/DEEP,DEPTH,12,STEP,3,CLEAR,2", {"cycle": "peck", "feed": 900, "peck": 3}),
        ("CYCLE/BRKCHP,DEPTH,12,STEP,3,CLEAR,2", {"cycle": "chip-break", "feed": 900, "peck": 3}),
        ("CYCLE/TAP,DEPTH,12,PERREV,.5,CLEAR,2", {"cycle": "tap", "feed": 4000, "pitch": 0.5}),
        ("CYCLE/BORE,DEPTH,12,CLEAR,2", {"cycle": "bore", "feed": 900}),
    ],
)
def test_cycles_become_holes(statement: str, says: dict[str, Any]) -> None:
    expected = {"hole": [5, 6, 20], "retract": 22, "bottom": 8, **says}
    (hole,) = moves_of(f"{statement}\n{HOLE}CYCLE/OFF\n")
    assert expected == hole


def test_points_after_cycle_off_are_motion_again() -> None:
    moves = moves_of(f"CYCLE/DRILL,5,PERMIN,100,2\n{HOLE}GOTO/9,9,20\nCYCLE/OFF\n{ABOVE}CYCLE/ON\n{HOLE}")
    assert ["hole", "hole", "rapid", "hole"] == [next(iter(move)) for move in moves]


def test_a_hole_goes_along_its_tool_axis() -> None:
    (operation,) = operations_of("MULTAX/ON\nCYCLE/DRILL,5,PERMIN,100,2\nGOTO/5,-20,7,0,-1,0\n")
    assert {"hole": [5, 7, 20], "retract": 22, "bottom": 15} == {key: operation["moves"][0][key] for key in ("hole", "retract", "bottom")}
