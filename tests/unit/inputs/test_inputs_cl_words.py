"""What the words of tools, spindle, cycles, arcs and the rotary become, and which are refused."""

from typing import Any

import pytest
from cl_text import HEAD, moves_of, operations_of, piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.changes import LeftOut
from steadyrest.inputs.cl.reader import HANDLERS
from steadyrest.inputs.cl.vocabulary import FIXED, HARMLESS, HONOURED, LITERAL_WORDS, REFUSED
from steadyrest.inputs.options import PartOptions
from steadyrest.toolpath import FlatTool

AT = "RAPID\nGOTO/0,0,10\n"
HOLE = "GOTO/5,6,20\n"


def test_every_word_has_one_treatment() -> None:
    assert HONOURED == HANDLERS.keys()
    assert not HONOURED & HARMLESS.keys()
    assert not (HONOURED | HARMLESS.keys()) & REFUSED.keys()
    assert FIXED < HONOURED
    assert set(LITERAL_WORDS) <= HONOURED | HARMLESS.keys()


@pytest.mark.parametrize("word", sorted(HARMLESS))
def test_harmless_words_leave_one_notice_and_no_motion(word: str) -> None:
    piece = piece_of(f"{word}\n{word}\n{AT}")
    assert [(word, 2)] == [(notice.what, notice.times) for notice in piece.notices if isinstance(notice, LeftOut)]
    assert [{"rapid": [0, 0, 10]}] == piece.operations[0]["moves"]  # type: ignore[index]


@pytest.mark.parametrize("word", sorted(REFUSED))
def test_refused_words_say_why_with_the_statement(word: str) -> None:
    with pytest.raises(ToolpathError, match=f"{word} is refused: .*, in '{word}/1'") as caught:
        piece_of(f"{AT}{word}/1\n")
    assert (8, 1) == (caught.value.place.line, caught.value.place.column)
    assert caught.value.cure


@pytest.mark.parametrize(
    ("statement", "wrong"),
    [
        ("CUTCOM/LEFT", "CUTCOM is refused"),
        ("OPSKIP/ON", "OPSKIP is refused"),
        ("TRACUT/1,0,0,0", "TRACUT is refused"),
        ("INSERT G1 X5", "INSERT puts text into the program"),
        ("FEDRAT/5,INVERS", "inverse time"),
        ("FEDRAT/0", "not more than 0"),
        ("FEDRAT/1,2", "more than one number"),
        ("FEDRAT/5,FURLONG", "does not know FURLONG"),
        ("SPINDL/ORIENT", "no place in a toolpath"),
        ("SPINDL/5,CLW,CCLW", "two things at once"),
        ("LOADTL", "no tool number"),
        ("LOADTL/1.5", "not a whole number"),
        ("COOLNT/TEA", "does not know TEA"),
        ("UNITS/INCHES", "unit changes"),
        ("UNITS/FEET", "does not know FEET"),
        ("CYCLE/WISH,DEPTH,1", "is not known"),
        ("CYCLE/DRILL,DEPTH,-5,CLEAR,2", "depth -5 has to be more than 0"),
        ("CYCLE/DRILL,DEPTH,5", "has no clearance"),
        ("CYCLE/DEEP,DEPTH,5,CLEAR,2", "has no STEP"),
        ("CYCLE/ON", "before any cycle"),
        ("ROTABL/INCR,30", "without a sense"),
        ("ROTABL/CLW", "has no angle"),
        ("ROTABL/ATANGL,30,BAXIS", "turns about Y"),
        ("GOTO/1,2", "has 2 numbers; it takes 3 or 6"),
        ("GOTO/1,2,UP", "takes numbers only, found UP"),
        ("GOTO/1,2,1E999", "a number too large"),
        ("DELAY/-1", "a dwell of -1"),
        ("AIR/ON\nCOOLNT/FLOOD", "flood is asked for while air is on"),
        ("RAPID/5", "takes no arguments"),
        ("MACRO/A", "belongs to the part program"),
        ("P1=POINT/1,2,3", "defines a name"),
        ("RETRCT", "before any CLEARP"),
        ("CIRCLE/0,0,0,0,0,1,5\nFINI", "from the axis of the arc"),
        ("TLAXIS/0,0,2", "length 2"),
        ("CUTTER/8\nGOTO/1,1,1", "gets a second shape"),
    ],
)
def test_wrong_statements_are_refused(statement: str, wrong: str) -> None:
    with pytest.raises(ToolpathError, match=wrong) as caught:
        piece_of(AT + statement + "\n")
    assert caught.value.place.line is not None
    assert caught.value.place.line >= 8
    assert caught.value.cure


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
    assert {3: {"number": 3, **shape}} == piece_of(AT, head=HEAD.replace("CUTTER/6", statement)).tools


def test_a_cutter_of_another_shape_needs_the_tool_from_the_part() -> None:
    head = HEAD.replace("CUTTER/6", "CUTTER/6,0,0,0,0,45,10")
    with pytest.raises(ToolpathError, match="the shape of tool 3 is none that a toolpath has"):
        piece_of(AT, head=head)
    part = PartOptions(tools=(FlatTool(number=3, shape="flat", diameter=6.0),))
    assert {} == piece_of(AT, head=head, part=part).tools


def test_a_tool_of_the_part_with_another_diameter_is_refused() -> None:
    with pytest.raises(ToolpathError, match="diameter 6 here and 8 in the settings"):
        piece_of(AT, part=PartOptions(tools=(FlatTool(number=3, shape="flat", diameter=8.0),)))


def test_a_cutter_of_the_last_tool_is_not_that_of_the_next() -> None:
    assert {3} == piece_of(AT + "LOADTL/4\n" + AT).tools.keys()


def test_a_cutter_may_stand_before_its_tool() -> None:
    assert 8.0 == piece_of(AT + "CUTTER/8\nLOADTL/4\n" + AT).tools[4]["diameter"]


def test_spindle_off_and_on_keeps_the_speed() -> None:
    found = operations_of(AT + "GOTO/0,0,5\nRAPID\nGOTO/0,0,50\nSPINDL/OFF\nSTOP\nSPINDL/ON\nRAPID\nGOTO/0,0,9\nGOTO/0,0,5\n")
    assert [8000, 0, 8000] == [operation["spindle"]["rpm"] for operation in found]
    assert {"stop": {"optional": False}} in found[1]["moves"]


def test_surface_speed_is_turned_into_revolutions() -> None:
    """100 m/min at 10 mm: 3183.098862 per minute (standards, 5.1: machinery handbooks)."""
    head = "UNITS/MM\nLOADTL/3\nCUTTER/10\nSPINDL/100,SMM,CCLW\n"
    spindle = operations_of(AT, head=head)[0]["spindle"]
    assert ("counterclockwise", pytest.approx(3183.098862)) == (spindle["turns"], spindle["rpm"])


def test_a_cut_with_the_spindle_stopped_is_refused() -> None:
    with pytest.raises(ToolpathError, match="with the spindle stopped"):
        piece_of(AT + "SPINDL/OFF\nGOTO/0,0,5\n")


@pytest.mark.parametrize(
    ("statement", "coolant"),
    [("COOLNT/ON", "flood"), ("COOLNT/MIST", "mist"), ("COOLNT/THRU", "through"), ("AIR/ON", "air"), ("COOLNT/OFF", "off")],
)
def test_coolant(statement: str, coolant: str) -> None:
    assert coolant == operations_of(f"{statement}\n{AT}GOTO/0,0,5\n")[0]["coolant"]


def test_pauses_and_texts() -> None:
    body = f"{AT}PPRINT clean the chips\nDELAY/0.5\nDELAY/4,REV\nOPSTOP\nSTOP\n"
    assert [
        {"note": "clean the chips"},
        {"dwell": 0.5},
        {"dwell": 0.03},
        {"stop": {"optional": True}},
        {"stop": {"optional": False}},
    ] == moves_of(body)[1:]


def test_insert_may_become_a_note_that_is_no_code() -> None:
    assert {"note": "INSERT G1 X5 $ %"} == moves_of(f"{AT}INSERT G1 X5 $ %\nDELAY/1\n", insert="note")[1]


def test_origin_becomes_a_note_and_moves_nothing() -> None:
    piece = piece_of(f"ORIGIN/100,200,50\n{AT}")
    assert "ORIGIN 100, 200, 50: the part's origin stands there at the machine" == piece.operations[0]["name"]  # type: ignore[index]
    assert [{"rapid": [0, 0, 10]}] == piece.operations[0]["moves"]  # type: ignore[index]


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
    moves = moves_of(f"CYCLE/DRILL,5,PERMIN,100,2\n{HOLE}GOTO/9,9,20\nCYCLE/OFF\n{AT}CYCLE/ON\n{HOLE}")
    assert ["hole", "hole", "rapid", "hole"] == [next(iter(move)) for move in moves]


def test_a_hole_goes_along_its_tool_axis() -> None:
    (operation,) = operations_of("MULTAX/ON\nCYCLE/DRILL,5,PERMIN,100,2\nGOTO/5,-20,7,0,-1,0\n")
    assert {"hole": [5, 7, 20], "retract": 22, "bottom": 15} == {key: operation["moves"][0][key] for key in ("hole", "retract", "bottom")}


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
    with pytest.raises(ToolpathError, match="whether the arc ends at the first or at the last"):
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


def test_a_stop_after_a_path_with_axes_turns_nothing() -> None:
    body = "MULTAX/ON\nRAPID\nGOTO/0,0,20,0,0,1\nGOTO/0,-10,17,0,-.5,.8660254\nSPINDL/OFF\nSTOP\n"
    path, stop = operations_of(body)
    assert ("simultaneous", 0.0, [{"stop": {"optional": False}}]) == (stop["rotary"]["intent"], stop["spindle"]["rpm"], stop["moves"])
    assert 2 == len(path["moves"])


def test_an_arc_across_the_planes_becomes_chords_that_lie_on_it() -> None:
    moves = moves_of("RAPID\nGOTO/10,0,0\nCIRCLE/0,0,0,0,-.70710678,.70710678,10\nGOTO/-10,0,0\n")
    assert all("cut" in move for move in moves[1:])
    assert {10.0} == {round(sum(value**2 for value in move["cut"]) ** 0.5, 9) for move in moves[1:]}


def test_an_arc_of_the_part_frame_turns_with_its_face() -> None:
    (operation,) = operations_of("MULTAX/ON\nRAPID\nGOTO/10,-20,0,0,-1,0\nCIRCLE/0,-20,0,0,-1,0,10\nGOTO/0,-20,10\n")
    assert {"arc": [0, 10, 20], "centre": [0, 0, 20], "turns": "counterclockwise", "feed": 900} == operation["moves"][1]


def angles_of(body: str, **options: Any) -> list[Any]:
    return [operation["rotary"].get("angles") for operation in operations_of(body, **options)]


def test_rotabl_indexes_and_points_stay_work_coordinates() -> None:
    operation = operations_of(f"ROTABL/ATANGL,60,AAXIS\n{AT}")[0]
    assert {"intent": "indexed", "angles": [60.0]} == operation["rotary"]
    assert [{"rapid": [0, 0, 10]}] == operation["moves"]


def test_before_any_rotabl_the_rotary_is_still() -> None:
    assert [None, [60.0]] == angles_of(f"{AT}ROTABL/ATANGL,60\n{AT}")


def test_incr_counts_on_clockwise_up_and_counterclockwise_down() -> None:
    assert [[60.0], [90.0], [45.0]] == angles_of(f"ROTABL/ATANGL,60\n{AT}ROTABL/INCR,30,CLW\n{AT}ROTABL/INCR,45,CCLW\n{AT}")


def test_the_sense_of_the_table_is_a_choice() -> None:
    body = f"ROTABL/ATANGL,60\n{AT}ROTABL/INCR,30,CLW\n{AT}"
    assert [[-60.0], [-30.0]] == angles_of(body, table_positive="right-hand")
    assert [[60.0], [30.0]] == angles_of(body, table_clockwise="right-hand")


def test_a_head_tilts_the_tool_over_points_of_the_part() -> None:
    operation = operations_of("ROTHED/ATANGL,90\nRAPID\nGOTO/1,-30,7\n")[0]
    assert [90.0] == operation["rotary"]["angles"]
    assert [{"rapid": [1, 7, 30]}] == operation["moves"]


def test_rotate_says_table_or_head() -> None:
    assert [[30.0]] == angles_of(f"ROTATE/TABLE,AAXIS,ABSOL,30\n{AT}")


def test_rotabl_beside_tool_axes_has_to_agree_with_them() -> None:
    body = "MULTAX/ON\nROTABL/ATANGL,{}\nRAPID\nGOTO/1,-30,7,0,-1,0\n"
    assert [[90.0]] == angles_of(body.format(450))
    with pytest.raises(ToolpathError, match="stands at 30 degrees"):
        piece_of(body.format(30))
