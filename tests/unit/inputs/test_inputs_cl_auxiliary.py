"""Units, pauses and texts, tools, spindle, coolant and feed."""

from __future__ import annotations

from typing import Any

import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.options import PartOptions
from steadyrest.toolpath import FlatTool

ABOVE = "RAPID\nGOTO/0,0,10\n"


def test_pauses_and_texts() -> None:
    body = f"{ABOVE}PPRINT clean the chips\nDELAY/0.5\nDELAY/4,REV\nOPSTOP\nSTOP\n"
    assert [
        {"note": "clean the chips"},
        {"dwell": 0.5},
        {"dwell": 0.03},
        {"stop": {"optional": True}},
        {"stop": {"optional": False}},
    ] == moves_of(body)[1:]


def test_insert_may_become_a_note_that_is_no_code() -> None:
    assert {"note": "INSERT G1 X5 $ %"} == moves_of(f"{ABOVE}INSERT G1 X5 $ %\nDELAY/1\n", insert="note")[1]


def test_centimetres_become_millimetres() -> None:
    assert [10, 20, 30] == moves_of("RAPID\nGOTO/1,2,3\n", head=HEAD.replace("MM", "CM"))[0]["rapid"]


def test_inches_stay_inches() -> None:
    assert "inch" == piece_of("RAPID\nGOTO/1,2,3\n", head=HEAD.replace("MM", "INCHES")).units


DOWN = "RAPID\nGOTO/0,0,50\nGOTO/0,0,18\n"


@pytest.mark.parametrize(
    ("statement", "shape"),
    [
        ("CUTTER/6", {"shape": "flat", "diameter": 6.0}),
        ("CUTTER/6,3", {"shape": "ball", "diameter": 6.0}),
        ("CUTTER/6,1", {"shape": "bullnose", "diameter": 6.0, "corner_radius": 1.0}),
        ("CUTTER/6,1,2,1,0,0,25", {"shape": "bullnose", "diameter": 6.0, "corner_radius": 1.0, "cutting_length": 25.0}),
        ("CUTTER/6,0,0,0,31,0,40", {"shape": "drill", "diameter": 6.0, "point_angle": 118.0, "cutting_length": 40.0}),
    ],
)
def test_cutter_says_the_shape(statement: str, shape: dict[str, Any]) -> None:
    assert {3: {"number": 3, **shape}} == piece_of(ABOVE, head=HEAD.replace("CUTTER/6", statement)).tools


def test_a_cutter_of_another_shape_needs_the_tool_from_the_part() -> None:
    head = HEAD.replace("CUTTER/6", "CUTTER/6,0,0,0,0,45,10")
    with pytest.raises(ToolpathError, match="the shape of tool 3 is none that a toolpath has"):
        piece_of(ABOVE, head=head)
    part = PartOptions(tools=(FlatTool(number=3, shape="flat", diameter=6.0),))
    assert {} == piece_of(ABOVE, head=head, part=part).tools


def test_a_tool_of_the_part_with_another_diameter_is_refused() -> None:
    with pytest.raises(ToolpathError, match="diameter 6 here and 8 in the settings"):
        piece_of(ABOVE, part=PartOptions(tools=(FlatTool(number=3, shape="flat", diameter=8.0),)))


def test_a_cutter_of_the_last_tool_is_not_that_of_the_next() -> None:
    assert {3} == piece_of(ABOVE + "LOADTL/4\n" + ABOVE).tools.keys()


def test_a_cutter_may_stand_before_its_tool() -> None:
    assert 8.0 == piece_of(ABOVE + "CUTTER/8\nLOADTL/4\n" + ABOVE).tools[4]["diameter"]


def test_spindle_off_and_on_keeps_the_speed() -> None:
    found = operations_of(ABOVE + "GOTO/0,0,5\nRAPID\nGOTO/0,0,50\nSPINDL/OFF\nSTOP\nSPINDL/ON\nRAPID\nGOTO/0,0,9\nGOTO/0,0,5\n")
    assert [8000, 0, 8000] == [operation["spindle"]["rpm"] for operation in found]
    assert {"stop": {"optional": False}} in found[1]["moves"]


def test_surface_speed_is_turned_into_revolutions() -> None:
    """100 m/min at 10 mm: 3183.098862 per minute (standards, 5.1: machinery handbooks)."""
    head = "UNITS/MM\nLOADTL/3\nCUTTER/10\nSPINDL/100,SMM,CCLW\n"
    spindle = operations_of(ABOVE, head=head)[0]["spindle"]
    assert ("counterclockwise", pytest.approx(3183.098862)) == (spindle["turns"], spindle["rpm"])


def test_a_cut_with_the_spindle_stopped_is_refused() -> None:
    with pytest.raises(ToolpathError, match="with the spindle stopped"):
        piece_of(ABOVE + "SPINDL/OFF\nGOTO/0,0,5\n")


@pytest.mark.parametrize(
    ("statement", "coolant"),
    [("COOLNT/ON", "flood"), ("COOLNT/MIST", "mist"), ("COOLNT/THRU", "through"), ("AIR/ON", "air"), ("COOLNT/OFF", "off")],
)
def test_coolant(statement: str, coolant: str) -> None:
    assert coolant == operations_of(f"{statement}\n{ABOVE}GOTO/0,0,5\n")[0]["coolant"]


def test_a_feed_per_revolution_is_times_the_speed() -> None:
    assert {"cut": [1, 0, 0], "feed": 8000 * 0.05} == moves_of("FEDRAT/0.05,PERREV\nRAPID\nGOTO/0,0,0\nGOTO/1,0,0\n")[1]


def test_a_feed_in_inches_is_converted_to_the_file_units() -> None:
    assert 254.0 == pytest.approx(moves_of("FEDRAT/10,IPM\nGOTO/1,0,0\n")[0]["feed"])


def test_a_feed_without_its_word_keeps_the_last_mode() -> None:
    assert 8000 * 0.1 == moves_of("FEDRAT/0.05,PERREV\nFEDRAT/0.1\nGOTO/1,0,0\n")[0]["feed"]


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


def test_tapping_fluid_names_no_operation() -> None:
    piece = piece_of(f"COOLNT/TAPKUL\nPPRINT HOLES\n{DOWN}")
    assert "HOLES" == piece.operations[0]["name"]
    assert {"note": "COOLNT/TAPKUL asks for tapping fluid"} in piece.operations[0]["moves"]
