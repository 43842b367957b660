"""Cycles become holes."""

from typing import Any

import pytest
from cl_text import moves_of, operations_of

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
