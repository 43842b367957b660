"""Every cut of a CL file is in the toolpath, whatever stands between it and the cut before, and nothing else is a rapid."""

from typing import Any

import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of

from steadyrest.errors import ToolpathError

DOWN = "RAPID\nGOTO/0,0,50\nGOTO/0,0,18\n"
TILTED_DOWN = "RAPID\nGOTO/0,-50,0,0,-1,0\nGOTO/0,-18,0\n"


def kinds(operation: Any) -> list[tuple[str, list[float]]]:
    """What each move is, and its end to 6 decimals."""
    found = []
    for move in operation["moves"]:
        kind = next(key for key in ("rapid", "cut", "stop", "dwell", "arc") if key in move)
        found.append((kind, [round(value, 6) + 0.0 for value in move[kind]] if isinstance(move[kind], list) else []))
    return found


@pytest.mark.parametrize("away", ["GOHOME", "END", "RETRCT"])
def test_rapid_is_used_up_by_the_way_that_it_stands_before(away: str) -> None:
    found = operations_of(f"CLEARP/XYPLAN,18\n{DOWN}RAPID\n{away}\nGOTO/5,0,18\n")
    assert ("cut", [5, 0, 18]) == kinds(found[-1])[-1]


def test_rapid_gohome_fini_ends_a_file() -> None:
    assert [{"rapid": [0, 0, 50]}, {"cut": [0, 0, 18], "feed": 900}] == moves_of(f"{DOWN}RAPID\nGOHOME\n")


def test_multax_in_the_middle_of_a_cut_goes_on_from_where_the_tool_stood() -> None:
    _, second = operations_of(f"{DOWN}MULTAX/ON\nGOTO/9,0,18,0,0,1\n")
    assert [("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == kinds(second)
    _, second = operations_of("MULTAX/ON\nRAPID\nGOTO/0,0,50,0,0,1\nGOTO/0,0,18\nMULTAX/OFF\nGOTO/9,0,18\n")
    assert [("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == kinds(second)


def test_multax_in_the_middle_of_a_cut_turns_on_from_the_axis_of_before() -> None:
    _, second = operations_of(f"{DOWN}MULTAX/ON\nGOTO/9,-9,18,0,-.5,.8660254\n")
    assert "simultaneous" == second["rotary"]["intent"]
    assert ([0, 0, 18], [0, 0, 1]) == (second["moves"][0]["cut"], second["moves"][0]["tool_axis"])


def test_multax_after_a_turn_of_the_table_knows_where_the_tool_stood_in_the_part() -> None:
    """At alpha = 90 about X the work point (0, 0, 18) is (0, -18, 0) of the part (design, frames and signs)."""
    first, second = operations_of(f"ROTABL/ATANGL,90\n{DOWN}MULTAX/ON\nGOTO/9,-18,0,0,-1,0\n")
    assert [[90.0], [90.0]] == [operation["rotary"]["angles"] for operation in (first, second)]
    assert [("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == kinds(second)


def test_multax_off_at_the_angle_of_the_table_goes_on_from_where_the_tool_stood() -> None:
    _, second = operations_of(f"MULTAX/ON\n{TILTED_DOWN}MULTAX/OFF\nROTABL/ATANGL,90\nGOTO/9,0,18\nGODLTA/0,1,0\n")
    assert [("cut", [0, 0, 18]), ("cut", [9, 0, 18]), ("cut", [9, 1, 18])] == kinds(second)


@pytest.mark.parametrize(
    "body",
    [
        f"{DOWN}TLAXIS/0,-1,0\nGOTO/9,-18,0\n",
        f"{DOWN}ROTHED/ATANGL,90\nGOTO/9,-18,0\n",
        f"MULTAX/ON\n{TILTED_DOWN}MULTAX/OFF\nROTABL/ATANGL,45\nGOTO/9,0,18\n",
        f"MULTAX/ON\n{TILTED_DOWN}MULTAX/OFF\nTLAXIS/0,0,1\nGOTO/9,0,18\n",
        f"{DOWN}TLAXIS/0,-1,0\nCIRCLE/0,0,13,1,0,0,5\nGOTO/0,5,13\n",
    ],
)
def test_a_tilt_on_the_way_to_a_cut_is_refused(body: str) -> None:
    with pytest.raises(ToolpathError, match="the tool axis changes on the way to a cut") as refused:
        piece_of(body)
    assert "RAPID" in refused.value.cure
    assert (refused.value.place.line or 0) > HEAD.count("\n") + 3


def test_a_tilt_before_a_rapid_is_another_face() -> None:
    _, second = operations_of(f"{DOWN}TLAXIS/0,-1,0\nRAPID\nGOTO/9,-50,0\nGOTO/9,-18,0\n")
    assert [("rapid", [9, 0, 50]), ("cut", [9, 0, 18])] == kinds(second)


def test_a_stop_where_an_operation_is_broken_off_comes_before_the_way_back() -> None:
    _, second = operations_of(f"{DOWN}COOLNT/ON\nSTOP\nGOTO/9,0,18\n")
    assert [("stop", []), ("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == [
        (kind, end if kind != "stop" else []) for kind, end in kinds(second)
    ]


@pytest.mark.parametrize("number", ["1.5D+02", "1.5d2", "15D1", "+.15D+03", "1.5 D 2", "1.5E+02"])
def test_an_exponent_may_be_written_with_d(number: str) -> None:
    assert [0, 150, -150] == moves_of(f"RAPID\nGOTO/0,{number},-{number.lstrip('+')}\n")[0]["rapid"]
    assert 150 == piece_of("GOTO/1,2,3\n", head=HEAD.replace("900", number)).operations[0]["moves"][0]["feed"]


def test_points_with_exponents_in_d_are_read_as_fast_and_as_right() -> None:
    rows = [(f"{n}.25D-01", n * 0.1 + 0.025) for n in range(300)]
    (operation,) = operations_of("RAPID\n" + "".join(f"GOTO/{text},0.D+00,0.5D+01\n" for text, _ in rows))
    (block,) = operation["table"].blocks()
    assert [value for _, value in rows] == pytest.approx(block["x"].tolist(), abs=1e-12)
    assert {5.0} == set(block["z"].tolist())


@pytest.mark.parametrize(
    "more",
    [
        "IN,2",
        "OSETNO,3",
        "SETOOL,0,0,120",
        "LENGTH,90,ADJUST,3,MANUAL",
        "SMALL,CLW",
        "MEDIUM,HEAD,1",
        "RANGE,2,LARGE,CCLW,NOW,NEXT",
    ],
)
def test_what_loadtl_says_besides_is_told(more: str) -> None:
    piece = piece_of(DOWN, head=HEAD.replace("LOADTL/3", f"LOADTL/3,{more}"))
    assert 3 == piece.operations[0]["tool"]
    told = [notice.sentence() for notice in piece.notices]
    for word in [part for part in more.split(",") if part.isalpha()]:
        assert any(f"LOADTL {word}" in sentence for sentence in told), word


def test_a_second_number_of_loadtl_is_told() -> None:
    piece = piece_of(DOWN, head=HEAD.replace("LOADTL/3", "LOADTL/3,14"))
    assert any("LOADTL 14" in notice.sentence() for notice in piece.notices)


def test_a_word_of_loadtl_that_nobody_knows_is_refused_with_the_way_to_say_what_it_means() -> None:
    with pytest.raises(ToolpathError, match="LOADTL does not know GRIPPY") as refused:
        piece_of(DOWN, head=HEAD.replace("LOADTL/3", "LOADTL/3,GRIPPY,2"))
    assert "[words.LOADTL]" in refused.value.cure


def test_tapping_fluid_is_told_to_the_operator() -> None:
    piece = piece_of(f"COOLNT/FLOOD\n{DOWN}RAPID\nGOTO/0,0,50\nCOOLNT/TAPKUL\nCYCLE/TAP,DEPTH,9,CLEAR,3,PERREV,1\nGOTO/0,0,18\nCYCLE/OFF\n")
    assert ["flood", "off"] == [operation["coolant"] for operation in piece.operations]
    assert any("tapping fluid" in notice.sentence() for notice in piece.notices)
    assert any("tapping fluid" in move.get("note", "") for move in piece.operations[1]["moves"])


@pytest.mark.parametrize("plane", ["XYPLAN,60", "60", "0,0,1,60"])
def test_clrsrf_is_the_height_that_retrct_goes_to(plane: str) -> None:
    assert [0, 0, 60] == moves_of(f"CLRSRF/{plane}\n{DOWN}RETRCT\n")[-1]["rapid"]


@pytest.mark.parametrize("surface", ["START,0,0,1,60", "0,1,0,60", "0,0,1,60,0,0,-1,-5"])
def test_another_clearance_surface_is_told_and_leaves_no_height(surface: str) -> None:
    piece = piece_of(f"CLEARP/XYPLAN,60\nCLRSRF/{surface}\n{DOWN}")
    assert any("CLRSRF" in notice.sentence() for notice in piece.notices)
    with pytest.raises(ToolpathError, match="RETRCT before any CLEARP"):
        piece_of(f"CLEARP/XYPLAN,60\nCLRSRF/{surface}\n{DOWN}RETRCT\n")


def test_tapping_fluid_names_no_operation() -> None:
    piece = piece_of(f"COOLNT/TAPKUL\nPPRINT HOLES\n{DOWN}")
    assert "HOLES" == piece.operations[0]["name"]
    assert {"note": "COOLNT/TAPKUL asks for tapping fluid"} in piece.operations[0]["moves"]


@pytest.mark.parametrize("stop", ["STOP", "OPSTOP"])
def test_a_stop_after_multax_does_not_turn_the_rotary(stop: str) -> None:
    found = operations_of(
        f"MULTAX/ON\n{TILTED_DOWN}RAPID\nGOTO/0,-50,0\nMULTAX/OFF\nRAPID\nGOHOME\nSPINDL/OFF\n{stop}\nSPINDL/ON\n{DOWN}".replace(
            "SPINDL/ON\n", "SPINDL/ON\nROTABL/ATANGL,0\n"
        )
    )
    assert [[90.0], [90.0], [0.0]] == [operation["rotary"]["angles"] for operation in found]
    assert [0, "off"] == [found[1]["spindle"]["rpm"], found[1]["coolant"]]


def test_multax_right_after_a_turn_of_the_table_counts_from_the_angle_that_it_turned_to() -> None:
    _, second = operations_of(f"{DOWN}ROTABL/ATANGL,90\nMULTAX/ON\nGOTO/9,-18,0,0,-1,0\n")
    assert [90.0] == second["rotary"]["angles"]
    assert [("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == kinds(second)


@pytest.mark.parametrize("before", ["", "1,", "1,2,", "1,2,3,"])
@pytest.mark.parametrize(
    ("after", "wrong"),
    [(",5", "an argument is missing"), ("", "an argument is missing"), ("1.2.3", "badly written"), ("1/2", "arithmetic")],
)
def test_a_mistake_is_called_the_same_wherever_it_stands(before: str, after: str, wrong: str) -> None:
    if before or after:
        with pytest.raises(ToolpathError, match=wrong):
            piece_of(f"GOTO/{before}{after}\n")
