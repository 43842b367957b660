"""Words of motion, and what turns the table or the head."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of
from scipy.spatial.transform import Rotation

from steadyrest.errors import ToolpathError
from steadyrest.inputs.options import PartOptions

ABOVE = "RAPID\nGOTO/0,0,10\n"


DOWN = "RAPID\nGOTO/0,0,50\nGOTO/0,0,18\n"


def kinds(operation: Any) -> list[tuple[str, list[float]]]:
    """What each move is, and its end to 6 decimals."""
    found = []
    for move in operation["moves"]:
        kind = next(key for key in ("rapid", "cut", "stop", "dwell", "arc") if key in move)
        found.append((kind, [round(value, 6) + 0.0 for value in move[kind]] if isinstance(move[kind], list) else []))
    return found


def test_origin_becomes_a_note_and_moves_nothing() -> None:
    piece = piece_of(f"ORIGIN/100,200,50\n{ABOVE}")
    assert "ORIGIN 100, 200, 50: the part's origin is there at the machine" == piece.operations[0]["name"]  # type: ignore[index]
    assert [{"rapid": [0, 0, 10]}] == piece.operations[0]["moves"]  # type: ignore[index]


def test_rapid_holds_for_the_next_motion_only() -> None:
    assert [{"rapid": [1, 2, 3]}, {"cut": [4, 5, 6], "feed": 900}] == moves_of("RAPID\nGOTO/1,2,3\nGOTO/4,5,6\n")


def test_rapid_takes_the_first_of_a_run_of_points() -> None:
    moves = moves_of("RAPID\n" + "".join(f"GOTO/{n},0,0\n" for n in range(5)))
    assert ["rapid", "cut", "cut", "cut", "cut"] == [next(iter(move)) for move in moves]


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
    with pytest.raises(ToolpathError, match="the angle of the part"):
        piece_of("MULTAX/ON\nRAPID\nGOTO/0,-30,0,0,-1,0\nMULTAX/OFF\nRAPID\nGOTO/0,0,30\n")


def test_tlaxis_tilts_the_tool_over_plain_points() -> None:
    (operation,) = operations_of("TLAXIS/0,-1,0\nRAPID\nGOTO/1,-30,7\n")
    assert [90.0] == operation["rotary"]["angles"]
    assert [1, 7, 30] == operation["moves"][0]["rapid"]


@pytest.mark.parametrize("away", ["GOHOME", "END", "RETRCT"])
def test_rapid_is_used_up_by_the_way_that_it_stands_before(away: str) -> None:
    found = operations_of(f"CLEARP/XYPLAN,18\n{DOWN}RAPID\n{away}\nGOTO/5,0,18\n")
    assert ("cut", [5, 0, 18]) == kinds(found[-1])[-1]


def test_rapid_gohome_fini_ends_a_file() -> None:
    assert [{"rapid": [0, 0, 50]}, {"cut": [0, 0, 18], "feed": 900}] == moves_of(f"{DOWN}RAPID\nGOHOME\n")


def test_a_tilt_before_a_rapid_is_another_face() -> None:
    _, second = operations_of(f"{DOWN}TLAXIS/0,-1,0\nRAPID\nGOTO/9,-50,0\nGOTO/9,-18,0\n")
    assert [("rapid", [9, 0, 50]), ("cut", [9, 0, 18])] == kinds(second)


@pytest.mark.parametrize("plane", ["XYPLAN,60", "60", "0,0,1,60"])
def test_clrsrf_is_the_height_that_retrct_goes_to(plane: str) -> None:
    assert [0, 0, 60] == moves_of(f"CLRSRF/{plane}\n{DOWN}RETRCT\n")[-1]["rapid"]


@pytest.mark.parametrize("surface", ["START,0,0,1,60", "0,1,0,60", "0,0,1,60,0,0,-1,-5"])
def test_another_clearance_surface_is_told_and_leaves_no_height(surface: str) -> None:
    piece = piece_of(f"CLEARP/XYPLAN,60\nCLRSRF/{surface}\n{DOWN}")
    assert any("CLRSRF" in notice.sentence() for notice in piece.notices)
    with pytest.raises(ToolpathError, match="RETRCT before any CLEARP"):
        piece_of(f"CLEARP/XYPLAN,60\nCLRSRF/{surface}\n{DOWN}RETRCT\n")


def angles_of(body: str, **options: Any) -> list[Any]:
    return [operation["rotary"].get("angles") for operation in operations_of(body, **options)]


def test_rotabl_indexes_and_points_stay_work_coordinates() -> None:
    operation = operations_of(f"ROTABL/ATANGL,60,AAXIS\n{ABOVE}")[0]
    assert {"intent": "indexed", "angles": [60.0]} == operation["rotary"]
    assert [{"rapid": [0, 0, 10]}] == operation["moves"]


def test_before_any_rotabl_the_rotary_is_still() -> None:
    assert [None, [60.0]] == angles_of(f"{ABOVE}ROTABL/ATANGL,60\n{ABOVE}")


def test_incr_counts_on_clockwise_up_and_counterclockwise_down() -> None:
    assert [[60.0], [90.0], [45.0]] == angles_of(f"ROTABL/ATANGL,60\n{ABOVE}ROTABL/INCR,30,CLW\n{ABOVE}ROTABL/INCR,45,CCLW\n{ABOVE}")


def test_the_sense_of_the_table_is_a_choice() -> None:
    body = f"ROTABL/ATANGL,60\n{ABOVE}ROTABL/INCR,30,CLW\n{ABOVE}"
    assert [[-60.0], [-30.0]] == angles_of(body, table_positive="right-hand")
    assert [[60.0], [30.0]] == angles_of(body, table_clockwise="right-hand")


def test_a_head_tilts_the_tool_over_points_of_the_part() -> None:
    operation = operations_of("ROTHED/ATANGL,90\nRAPID\nGOTO/1,-30,7\n")[0]
    assert [90.0] == operation["rotary"]["angles"]
    assert [{"rapid": [1, 7, 30]}] == operation["moves"]


def test_rotate_says_table_or_head() -> None:
    assert [[30.0]] == angles_of(f"ROTATE/TABLE,AAXIS,ABSOL,30\n{ABOVE}")


def test_rotabl_beside_tool_axes_has_to_agree_with_them() -> None:
    body = "MULTAX/ON\nROTABL/ATANGL,{}\nRAPID\nGOTO/1,-30,7,0,-1,0\n"
    assert [[90.0]] == angles_of(body.format(450))
    with pytest.raises(ToolpathError, match="puts the tool at 30 degrees"):
        piece_of(body.format(30))


CENTRE = np.array([1.0, 2.0, -5.0])
AT_CENTRE = PartOptions(centre=(1.0, 2.0, -5.0))


def plane_of(operation: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    """Origin and E (3, 3) of its one plane."""
    (plane,) = operation["rotary"]["planes"]
    x, z = np.array(plane["x"]), np.array(plane["z"])
    return np.array(plane["origin"]), np.column_stack([x, np.cross(z, x), z])


def laid(operation: dict[str, Any]) -> np.ndarray:
    origin, across = plane_of(operation)
    return np.array([origin + across @ (move.get("rapid") or move["cut"]) for move in operation["moves"]])


def turn(axes: str, *degrees: float) -> Rotation:
    """R1 R2, the first one counted from the part."""
    return Rotation.from_euler(axes.upper(), degrees, degrees=True)


TABLES = {
    "ROTABL/ATANGL,30,CAXIS\nROTABL/ATANGL,50,AAXIS": ("ZX", 30, 50),
    "ROTABL/ATANGL,50,AAXIS\nROTABL/ATANGL,30,CAXIS": ("ZX", 30, 50),
    "ROTABL/CAXIS,ATANGL,30,AAXIS,ATANGL,50": ("ZX", 30, 50),
    "ROTABL/CAXIS,30,AAXIS,50": ("ZX", 30, 50),
    "ROTABL/ATANGL,30,CAXIS,ATANGL,50,AAXIS,NOW": ("ZX", 30, 50),
    "ROTATE/TABLE,BAXIS,ABSOL,-20\nROTATE/TABLE,CAXIS,INCR,15,CCLW": ("ZY", -15, -20),
}


@pytest.mark.parametrize("said", TABLES)
def test_two_turns_of_a_table_are_a_plane_in_which_points_stay_as_written(said: str) -> None:
    """C is carried by the other one: part = c + R_C R_A (q - c) (design, two rotary axes: frames and signs; signs as of ROTABL)."""
    axes, *degrees = TABLES[said]
    piece = piece_of(f"{said}\nRAPID\nGOTO/1,2,30\nGOTO/4,2,18\n", part=AT_CENTRE)
    (operation,) = piece.operations
    origin, across = plane_of(operation)
    np.testing.assert_allclose(across, turn(axes, *degrees).as_matrix(), atol=1e-11)
    np.testing.assert_allclose(origin, CENTRE - turn(axes, *degrees).apply(CENTRE), atol=1e-11)
    assert [{"rapid": [1, 2, 30]}, {"cut": [4, 2, 18], "feed": 900}] == operation["moves"]
    assert any("both went through the part's centre" in notice.sentence() for notice in piece.notices)


def test_two_turns_of_a_table_take_the_senses_that_are_chosen() -> None:
    (operation,) = operations_of(f"{next(iter(TABLES))}\n{ABOVE}", table_positive="right-hand")
    np.testing.assert_allclose(plane_of(operation)[1], turn("ZX", -30, -50).as_matrix(), atol=1e-11)


def test_back_at_one_angle_alone_the_part_is_indexed_at_it() -> None:
    body = f"ROTABL/CAXIS,30,AAXIS,50\n{ABOVE}ROTABL/CAXIS,0\n{ABOVE}"
    assert [None, [50.0]] == angles_of(body)


def test_a_table_and_a_head_lay_the_tool_together() -> None:
    """Points are those of the part as the table stands: part = c + R_C (q - c), tool axis R_C R_B Z."""
    body = "ROTABL/ATANGL,30,CAXIS\nROTHED/ATANGL,40,BAXIS\nRAPID\nGOTO/1,2,30\nGOTO/4,2,18\n"
    (operation,) = piece_of(body, part=AT_CENTRE).operations
    np.testing.assert_allclose(plane_of(operation)[1][:, 2], turn("ZY", 30, 40).apply([0, 0, 1]), atol=1e-11)
    wanted = CENTRE + turn("Z", 30).apply(np.array([[1, 2, 30], [4, 2, 18]]) - CENTRE)
    np.testing.assert_allclose(laid(operation), wanted, atol=1e-9)


def test_two_axes_of_a_head_lay_the_tool_over_points_of_the_part() -> None:
    (operation,) = operations_of("ROTHED/CAXIS,ATANGL,30,BAXIS,ATANGL,40\nRAPID\nGOTO/1,2,30\nGOTO/4,2,18\n")
    np.testing.assert_allclose(plane_of(operation)[1][:, 2], turn("ZY", 30, 40).apply([0, 0, 1]), atol=1e-11)
    np.testing.assert_allclose(laid(operation), [[1, 2, 30], [4, 2, 18]], atol=1e-9)


def test_a_head_that_tilts_over_a_turned_table_on_the_way_to_a_cut_is_refused() -> None:
    body = f"ROTABL/ATANGL,30,CAXIS\nROTHED/ATANGL,40,BAXIS\n{ABOVE}{{}}GOTO/0,0,8\nROTHED/ATANGL,10,BAXIS\n{{}}GOTO/1,0,8\n"
    with pytest.raises(ToolpathError, match="the tool axis changes on the way to a cut"):
        piece_of(body.format("", ""))
    assert 2 == len(piece_of(body.format("", "RAPID\n")).operations)


def test_multax_after_two_turns_of_a_table_knows_where_the_tool_stood_in_the_part() -> None:
    z = turn("ZX", 30, 50).apply([0, 0, 1])
    said = ",".join(f"{value:.9f}" for value in [*(turn("ZX", 30, 50).apply([5, 0, 10])), *z])
    found = operations_of(f"ROTABL/CAXIS,30,AAXIS,50\nRAPID\nGOTO/0,0,30\nGOTO/0,0,10\nMULTAX/ON\nGOTO/{said}\n")
    np.testing.assert_allclose(laid(found[1]), turn("ZX", 30, 50).apply([[0, 0, 10], [5, 0, 10]]), atol=1e-7)
    assert [("cut",), ("cut",)] == [tuple(key for key in move if key != "feed") for move in found[1]["moves"]]


def test_two_turns_beside_tool_axes_have_to_agree_with_them() -> None:
    z = ",".join(f"{value:.9f}" for value in turn("ZX", 30, 50).apply([0, 0, 1]))
    body = f"MULTAX/ON\nROTABL/CAXIS,{{}}\nROTABL/AAXIS,50\nRAPID\nGOTO/0,0,30,{z}\n"
    assert 1 == len(operations_of(body.format(30)))
    with pytest.raises(ToolpathError, match=r"ROTABL puts the tool along .* of the part, but the next point's tool axis is along "):
        piece_of(body.format(31))


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ("ROTABL/AAXIS,30\nROTABL/BAXIS,20\n", "ROTABL turns about X and about Y: which of the two carries the other is not said"),
        ("ROTHED/AAXIS,30,BAXIS,20\n", "ROTHED turns about X and about Y"),
        (
            "ROTABL/CAXIS,30\nROTABL/AAXIS,20\nROTHED/BAXIS,5\n",
            "more than two rotary axes: table about Z and table about X and head about Y",
        ),
        ("ROTABL/AAXIS,30\nROTHED/CAXIS,20\n", "a head cannot tilt the tool about it"),
        ("ROTABL/AAXIS,30\nROTHED/AAXIS,20\n", "ROTHED tilts the tool while ROTABL has turned the part to 30 degrees"),
        ("ROTABL/CAXIS,30,AAXIS,20\nTLAXIS/0,.6,.8\n", "the part to 30 degrees about Z and 20 degrees about X"),
        ("ROTABL/CAXIS,30,40,AAXIS,20\n", "more than one angle"),
        ("ROTABL/CAXIS,30,AAXIS\n", "ROTABL has no angle"),
    ],
)
def test_turns_that_leave_open_how_the_machine_is_built_are_refused(body: str, wrong: str) -> None:
    with pytest.raises(ToolpathError, match=wrong) as refused:
        piece_of(f"{body}{ABOVE}")
    assert (refused.value.place.line or 0) > HEAD.count("\n")
    assert refused.value.cure
