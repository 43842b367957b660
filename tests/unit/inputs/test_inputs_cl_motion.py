"""What each word of motion in CL data becomes."""

import math

import numpy as np
import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.options import PartOptions


def test_rapid_holds_for_the_next_motion_only() -> None:
    assert [{"rapid": [1, 2, 3]}, {"cut": [4, 5, 6], "feed": 900}] == moves_of("RAPID\nGOTO/1,2,3\nGOTO/4,5,6\n")


def test_rapid_takes_the_first_of_a_run_of_points() -> None:
    moves = moves_of("RAPID\n" + "".join(f"GOTO/{n},0,0\n" for n in range(5)))
    assert ["rapid", "cut", "cut", "cut", "cut"] == [next(iter(move)) for move in moves]


def test_a_feed_per_revolution_is_times_the_speed() -> None:
    assert {"cut": [1, 0, 0], "feed": 8000 * 0.05} == moves_of("FEDRAT/0.05,PERREV\nRAPID\nGOTO/0,0,0\nGOTO/1,0,0\n")[1]


def test_a_feed_in_inches_is_converted_to_the_file_units() -> None:
    assert 254.0 == pytest.approx(moves_of("FEDRAT/10,IPM\nGOTO/1,0,0\n")[0]["feed"])


def test_a_feed_without_its_word_keeps_the_last_mode() -> None:
    assert 8000 * 0.1 == moves_of("FEDRAT/0.05,PERREV\nFEDRAT/0.1\nGOTO/1,0,0\n")[0]["feed"]


def test_godlta_moves_on_from_the_last_point() -> None:
    assert [11, 22, 33] == moves_of("RAPID\nGOTO/10,20,30\nGODLTA/1,2,3\n")[1]["cut"]


def test_godlta_with_one_number_goes_along_the_tool_axis() -> None:
    assert [10, 20, 25] == moves_of("RAPID\nGOTO/10,20,30\nGODLTA/-5\n")[1]["cut"]


def test_trans_is_added_to_all_points_after_it_until_the_next() -> None:
    moves = moves_of("RAPID\nGOTO/1,1,1\nTRANS/10,20,30\nGOTO/1,1,1\nTRANS/0,0,0\nGOTO/2,2,2\n")
    assert [[1, 1, 1], [11, 21, 31], [2, 2, 2]] == [move.get("rapid") or move["cut"] for move in moves]


def test_from_is_no_motion_but_where_a_first_cut_starts() -> None:
    assert [{"rapid": [0, 0, 50]}, {"cut": [1, 0, 0], "feed": 900}] == moves_of("FROM/0,0,50\nGOTO/1,0,0\n")


def test_from_before_a_rapid_leaves_nothing_behind() -> None:
    assert [{"rapid": [1, 0, 0]}] == moves_of("FROM/0,0,50\nRAPID\nGOTO/1,0,0\n")


def test_retrct_goes_up_to_the_clearance_plane_at_rapid() -> None:
    assert {"rapid": [1, 2, 40]} == moves_of("CLEARP/XYPLAN,40\nRAPID\nGOTO/1,2,3\nRETRCT\n")[1]


def test_centimetres_become_millimetres() -> None:
    assert [10, 20, 30] == moves_of("RAPID\nGOTO/1,2,3\n", head=HEAD.replace("MM", "CM"))[0]["rapid"]


def test_inches_stay_inches() -> None:
    assert "inch" == piece_of("RAPID\nGOTO/1,2,3\n", head=HEAD.replace("MM", "INCHES")).units


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


def test_a_point_with_an_axis_while_multax_is_off_is_refused() -> None:
    with pytest.raises(ToolpathError, match="a point with a tool axis while MULTAX is off, in 'GOTO/1,2,3,0,1,0'"):
        piece_of("RAPID\nGOTO/1,2,3,0,1,0\n")


def test_an_upright_axis_while_multax_is_off_changes_nothing() -> None:
    assert [{"rapid": [1, 2, 3]}] == moves_of("RAPID\nGOTO/1,2,3,0,0,1\n")


def test_an_axis_that_is_no_unit_vector_is_refused_with_its_line() -> None:
    with pytest.raises(ToolpathError, match=r"length 1\.1") as caught:
        piece_of("MULTAX/ON\nRAPID\nGOTO/1,2,3,0,0,1\nGOTO/1,2,3,0,0,1.1\n")
    assert 9 == caught.value.place.line


def test_multax_off_with_a_tilted_axis_asks_where_the_part_stands() -> None:
    with pytest.raises(ToolpathError, match="where the part stands"):
        piece_of("MULTAX/ON\nRAPID\nGOTO/0,-30,0,0,-1,0\nMULTAX/OFF\nRAPID\nGOTO/0,0,30\n")


def test_tlaxis_tilts_the_tool_over_plain_points() -> None:
    (operation,) = operations_of("TLAXIS/0,-1,0\nRAPID\nGOTO/1,-30,7\n")
    assert [90.0] == operation["rotary"]["angles"]
    assert [1, 7, 30] == operation["moves"][0]["rapid"]


def test_a_change_of_coolant_in_a_cut_comes_back_to_the_same_point_at_feed() -> None:
    piece = piece_of("RAPID\nGOTO/0,0,10\nGOTO/0,0,5\nCOOLNT/ON\nGOTO/9,0,5\n")
    assert [{"cut": [0, 0, 5], "feed": 900}, {"cut": [9, 0, 5]}] == piece.operations[1]["moves"]
    assert any("middle of a cut" in notice.sentence() for notice in piece.notices)


def test_rapids_before_coolant_and_spindle_belong_to_what_follows() -> None:
    head = "UNITS/MM\nLOADTL/3\nCUTTER/6\nFEDRAT/900\n"
    (operation,) = operations_of("RAPID\nGOTO/0,0,10\nSPINDL/500,CLW\nCOOLNT/MIST\nGOTO/0,0,5\nCOOLNT/OFF\nRAPID\nGOTO/0,0,50\n", head=head)
    assert (500, "mist", 3) == (operation["spindle"]["rpm"], operation["coolant"], len(operation["moves"]))


def test_gohome_ends_the_operation() -> None:
    assert 2 == len(operations_of("RAPID\nGOTO/0,0,9\nGOTO/0,0,5\nGOHOME\nRAPID\nGOTO/1,0,9\nGOTO/1,0,5\n"))


def test_long_paths_are_tables() -> None:
    (operation,) = operations_of("RAPID\n" + "".join(f"GOTO/{n},0,5\n" for n in range(500)))
    (block,) = operation["table"].blocks()
    assert [0.0, 1.0] == block["motion"][:2].tolist()
    np.testing.assert_array_equal(np.arange(500), block["x"])


def test_a_text_between_long_paths_names_the_operation_after_it() -> None:
    run = "RAPID\n" + "".join(f"GOTO/{n},0,5\n" for n in range(30_000)) + "RAPID\nGOTO/0,0,50\n"
    found = operations_of(run + "PPRINT second\n" + run)
    assert ["", "second"] == [operation["name"] for operation in found]
    assert 60_002 == sum(len(block["x"]) for operation in found for block in operation["table"].blocks())


def test_a_dwell_between_long_paths_stays_at_its_point() -> None:
    run = "".join(f"GOTO/{n},0,5\n" for n in range(30_000))
    found = operations_of("RAPID\n" + run + "DELAY/0.5\n" + run)
    assert [{"cut": [29999, 0, 5], "feed": 900}, {"dwell": 0.5}] == found[1]["moves"]
    assert 30_001 == sum(len(block["x"]) for block in found[2]["table"].blocks())
