"""CL data read to its end: a file that was cut off, and statements that are wrong."""

import pytest
from cl_text import HEAD, operations_of, piece_of

from steadyrest.errors import ToolpathError
from steadyrest.inputs.cl import cl_piece
from steadyrest.inputs.options import InputOptions, PartOptions

AT = "RAPID\nGOTO/1,2,3\n"


ABOVE = "RAPID\nGOTO/0,0,10\n"


def test_a_file_without_fini_is_refused() -> None:
    with pytest.raises(ToolpathError, match="ends without FINI"):
        piece_of(AT, tail="")


@pytest.mark.parametrize("cut", range(1, 40, 3))
def test_a_file_cut_off_anywhere_is_refused(cut: int) -> None:
    text = (HEAD + AT + "GOTO/1,2,3\nCIRCLE/1,3,3,0,0,1,1\nGOTO/2,3,3\nPPRINT done\nFINI\n").encode()
    with pytest.raises(ToolpathError):
        cl_piece(text[: -cut - 1], "part.cl", InputOptions(), PartOptions())


def test_something_after_fini_is_refused() -> None:
    with pytest.raises(ToolpathError, match="something after FINI"):
        piece_of(AT, tail="FINI\nGOTO/1,2,3\n")


def test_comments_after_fini_are_not_something() -> None:
    assert 1 == len(operations_of(AT, tail="FINI\n\n$$ end\n"))


def test_rapid_without_its_motion_is_a_file_cut_off() -> None:
    with pytest.raises(ToolpathError, match="RAPID without a motion"):
        piece_of(f"{AT}RAPID\n")


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
        ("SPINDL/5,CLW,CCLW", "two opposite things"),
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
        piece_of(ABOVE + statement + "\n")
    assert caught.value.place.line is not None
    assert caught.value.place.line >= 8
    assert caught.value.cure
