"""Tool axes that hold or turn: indexed and simultaneous."""

import math

import numpy as np
import pytest
from cl_text import operations_of, piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.options import PartOptions

DOWN = "RAPID\nGOTO/0,0,50\nGOTO/0,0,18\n"


TILTED_DOWN = "RAPID\nGOTO/0,-50,0,0,-1,0\nGOTO/0,-18,0\n"


def test_a_stop_after_a_path_with_axes_turns_nothing() -> None:
    body = "MULTAX/ON\nRAPID\nGOTO/0,0,20,0,0,1\nGOTO/0,-10,17,0,-.5,.8660254\nSPINDL/OFF\nSTOP\n"
    path, stop = operations_of(body)
    assert ("simultaneous", 0.0, [{"stop": {"optional": False}}]) == (stop["rotary"]["intent"], stop["spindle"]["rpm"], stop["moves"])
    assert 2 == len(path["moves"])


def test_an_arc_of_the_part_frame_turns_with_its_face() -> None:
    (operation,) = operations_of("MULTAX/ON\nRAPID\nGOTO/10,-20,0,0,-1,0\nCIRCLE/0,-20,0,0,-1,0,10\nGOTO/0,-20,10\n")
    assert {"arc": [0, 10, 20], "centre": [0, 0, 20], "turns": "counterclockwise", "feed": 900} == operation["moves"][1]


def test_multax_with_a_still_axis_is_indexed_in_work_coordinates() -> None:
    """Design, frames and signs: t = (0, -1, 0) is alpha = 90 about X, and (x, y, z) of the part becomes (x, z, -y)."""
    (operation,) = operations_of("MULTAX/ON\nRAPID\nGOTO/1,-30,7,0,-1,0\nGOTO/2,-20,7\n")
    assert {"intent": "indexed", "angles": [90.0]} == operation["rotary"]
    assert [[1, 7, 30], [2, 7, 20]] == [move.get("rapid") or move["cut"] for move in operation["moves"]]


def test_indexed_coordinates_turn_round_the_centre() -> None:
    part = PartOptions(centre=(0.0, 2.0, -5.0))
    operation = piece_of("MULTAX/ON\nRAPID\nGOTO/30,10,25,0,-1,0\n", part=part).operations[0]
    assert [30, 32, -13] == pytest.approx(operation["moves"][0]["rapid"])  # standards, 6.2: table A 90, c = (2, -5)


def test_about_y_the_angle_is_right_hand_as_well() -> None:
    part = PartOptions(axis="Y")
    operation = piece_of("MULTAX/ON\nRAPID\nGOTO/30,10,25,1,0,0\n", part=part).operations[0]
    assert [90.0] == operation["rotary"]["angles"]
    assert [-25, 10, 30] == pytest.approx(operation["moves"][0]["rapid"])  # standards, 6.2: table B 90


def test_an_axis_that_turns_in_a_cut_is_simultaneous() -> None:
    (operation,) = operations_of("MULTAX/ON\nRAPID\nGOTO/0,0,20,0,0,1\nGOTO/0,-10,17,0,-.5,.8660254\n")
    assert "simultaneous" == operation["rotary"]["intent"]
    assert [0, 0, 1] == operation["moves"][0]["tool_axis"]
    np.testing.assert_allclose([0, -0.5, math.sqrt(0.75)], operation["moves"][1]["tool_axis"], atol=1e-7)


def test_an_axis_that_changes_in_a_rapid_begins_a_new_indexed_operation() -> None:
    found = operations_of(
        "MULTAX/ON\nRAPID\nGOTO/0,0,30,0,0,1\nGOTO/0,0,20\nRAPID\nGOTO/0,0,30\nRAPID\nGOTO/0,-30,0,0,-1,0\nGOTO/0,-20,0\n"
    )
    assert [[0.0], [90.0]] == [operation["rotary"]["angles"] for operation in found]


def test_rapids_round_a_simultaneous_cut_belong_to_it() -> None:
    (operation,) = operations_of(
        "MULTAX/ON\nRAPID\nGOTO/9,0,40,0,1,0\nRAPID\nGOTO/0,0,40,0,0,1\nGOTO/0,0,20,0,0,1\nGOTO/0,-10,17,0,-.5,.8660254\n"
        "RAPID\nGOTO/0,-30,30,0,-.7071068,.7071068\n"
    )
    assert "simultaneous" == operation["rotary"]["intent"]
    assert 5 == len(operation["moves"])


def test_jitter_in_the_last_decimal_still_holds() -> None:
    (operation,) = operations_of("MULTAX/ON\nRAPID\nGOTO/0,-30,0,0,-1,0\nGOTO/1,-30,0,0,-1,0.000001\n")
    assert "indexed" == operation["rotary"]["intent"]


def test_a_tool_axis_out_of_reach_is_told_with_its_miss() -> None:
    with pytest.raises(ToolpathError, match=r"misses by 5\.739 degrees what a rotary along X can reach"):
        piece_of("MULTAX/ON\nRAPID\nGOTO/0,0,30,0.1,0,0.99498744\n")


@pytest.mark.parametrize("stop", ["STOP", "OPSTOP"])
def test_a_stop_after_multax_does_not_turn_the_rotary(stop: str) -> None:
    found = operations_of(
        f"MULTAX/ON\n{TILTED_DOWN}RAPID\nGOTO/0,-50,0\nMULTAX/OFF\nRAPID\nGOHOME\nSPINDL/OFF\n{stop}\nSPINDL/ON\n{DOWN}".replace(
            "SPINDL/ON\n", "SPINDL/ON\nROTABL/ATANGL,0\n"
        )
    )
    assert [[90.0], [90.0], [0.0]] == [operation["rotary"]["angles"] for operation in found]
    assert [0, "off"] == [found[1]["spindle"]["rpm"], found[1]["coolant"]]
