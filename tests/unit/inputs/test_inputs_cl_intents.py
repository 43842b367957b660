"""Tool axes that hold or turn: at angles, in planes, and simultaneous."""

import math
from typing import Any

import numpy as np
import pytest
from cl_text import operations_of, piece_of

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


ASKEW = np.array([0.48, -0.6, 0.64])


def in_part(operation: dict[str, Any], points: list[list[float]]) -> np.ndarray:
    """Points of the one plane of an operation in the part frame: part = origin + E (x, y, z)."""
    (plane,) = operation["rotary"]["planes"]
    x, z = np.array(plane["x"]), np.array(plane["z"])
    return np.array(plane["origin"]) + np.array(points, dtype=float) @ np.array([x, np.cross(z, x), z])


def test_a_still_axis_in_any_direction_is_a_plane() -> None:
    piece = piece_of("MULTAX/ON\nRAPID\nGOTO/1,-30,7,.48,-.6,.64\nGOTO/2,-20,7\n")
    (operation,) = piece.operations
    assert ("indexed", [[0, 0, 0]]) == (operation["rotary"]["intent"], [each["origin"] for each in operation["rotary"]["planes"]])
    np.testing.assert_allclose(operation["rotary"]["planes"][0]["z"], ASKEW, atol=1e-12)
    np.testing.assert_allclose(
        in_part(operation, [move.get("rapid") or move["cut"] for move in operation["moves"]]), [[1, -30, 7], [2, -20, 7]]
    )
    (told,) = [notice.sentence() for notice in piece.notices]
    assert "0.48, -0.6, 0.64 misses by 28.69 degrees what one rotary along X reaches" in told
    assert 8 == piece.notices[0].place.line


def test_a_fixed_tool_axis_with_points_is_a_plane_and_drills_along_it() -> None:
    (operation,) = operations_of("TLAXIS/.48,-.6,.64\nCYCLE/DRILL,DEPTH,20,PERMIN,120,CLEAR,3\nGOTO/1,-30,7\nCYCLE/OFF\n")
    (move,) = operation["moves"]
    x, y = move["hole"][:2]
    top, bottom = in_part(operation, [[x, y, move["retract"]], [x, y, move["bottom"]]])
    np.testing.assert_allclose([top, bottom], [[1, -30, 7] + 3 * ASKEW, [1, -30, 7] - 20 * ASKEW], atol=1e-9)


def test_an_arc_square_to_an_axis_in_any_direction_stays_an_arc() -> None:
    start = 10 * np.array([0.8, 0, -0.6])
    text = ",".join(f"{value:.9f}" for value in start), ",".join(f"{-value:.9f}" for value in start)
    (operation,) = operations_of(f"MULTAX/ON\nRAPID\nGOTO/{text[0]},.48,-.6,.64\nCIRCLE/0,0,0,.48,-.6,.64,10\nGOTO/{text[1]}\n")
    arc = operation["moves"][1]
    assert ("counterclockwise", None) == (arc["turns"], arc.get("plane"))
    np.testing.assert_allclose(in_part(operation, [arc["arc"], arc["centre"]]), [-start, [0, 0, 0]], atol=1e-8)


def test_axes_that_turn_in_any_direction_are_simultaneous() -> None:
    piece = piece_of("MULTAX/ON\nRAPID\nGOTO/0,0,20,0,0,1\nGOTO/5,0,19,.6,0,.8\nGOTO/5,5,19,.48,-.6,.64\n")
    (operation,) = piece.operations
    assert "simultaneous" == operation["rotary"]["intent"]
    np.testing.assert_allclose([[0, 0, 1], [0.6, 0, 0.8], ASKEW], [move["tool_axis"] for move in operation["moves"]], atol=1e-12)
    assert 1 == len([notice for notice in piece.notices if "one rotary along X" in notice.sentence()])


def test_about_the_spindle_too_axes_may_point_anywhere() -> None:
    (operation,) = piece_of("MULTAX/ON\nRAPID\nGOTO/1,-30,7,0,-1,0\nGOTO/2,-20,7\n", part=PartOptions(axis="Z")).operations
    assert [0, -1, 0] == operation["rotary"]["planes"][0]["z"]
    np.testing.assert_allclose(in_part(operation, [operation["moves"][1]["cut"]]), [[2, -20, 7]], atol=1e-12)


@pytest.mark.parametrize("stop", ["STOP", "OPSTOP"])
def test_a_stop_after_multax_does_not_turn_the_rotary(stop: str) -> None:
    found = operations_of(
        f"MULTAX/ON\n{TILTED_DOWN}RAPID\nGOTO/0,-50,0\nMULTAX/OFF\nRAPID\nGOHOME\nSPINDL/OFF\n{stop}\nSPINDL/ON\n{DOWN}".replace(
            "SPINDL/ON\n", "SPINDL/ON\nROTABL/ATANGL,0\n"
        )
    )
    assert [[90.0], [90.0], [0.0]] == [operation["rotary"]["angles"] for operation in found]
    assert [0, "off"] == [found[1]["spindle"]["rpm"], found[1]["coolant"]]
