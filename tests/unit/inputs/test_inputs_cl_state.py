"""What is in force in CL data: units, tool, and where the tool stands when the table or the axis turns."""

from typing import Any

import pytest
from cl_text import HEAD, operations_of, piece_of

from steadyrest.errors import ToolpathError

AT = "RAPID\nGOTO/1,2,3\n"


DOWN = "RAPID\nGOTO/0,0,50\nGOTO/0,0,18\n"


def kinds(operation: Any) -> list[tuple[str, list[float]]]:
    """What each move is, and its end to 6 decimals."""
    found = []
    for move in operation["moves"]:
        kind = next(key for key in ("rapid", "cut", "stop", "dwell", "arc") if key in move)
        found.append((kind, [round(value, 6) + 0.0 for value in move[kind]] if isinstance(move[kind], list) else []))
    return found


TILTED_DOWN = "RAPID\nGOTO/0,-50,0,0,-1,0\nGOTO/0,-18,0\n"


def test_units_have_to_be_said_by_somebody() -> None:
    head = HEAD.replace("UNITS/MM\n", "")
    with pytest.raises(ToolpathError, match="before any UNITS"):
        piece_of(AT, head=head)
    assert "inch" == piece_of(AT, head=head, units="inch").units
    with pytest.raises(ToolpathError, match="given for this input are inch"):
        piece_of(AT, units="inch")


def test_a_motion_before_any_tool_names_the_cure() -> None:
    head = HEAD.replace("LOADTL/3\n", "")
    with pytest.raises(ToolpathError, match="before any LOADTL") as caught:
        piece_of(AT, head=head)
    assert "--tool" in caught.value.cure
    assert 7 == piece_of(AT, head=head, tool=7).operations[0]["tool"]  # type: ignore[index]


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
        f"{DOWN}TLAXIS/0,-1,0\nDELAY/1\nGOTO/9,-18,0\n",
        "TLAXIS/0,-1,0\nRAPID\nGOTO/0,-50,0\nGOTO/0,-18,0\nTLAXIS/0,-.6,.8\nDELAY/1\nGOTO/9,-18,0\n",
        f"{DOWN}TLAXIS/0,-1,0\nCIRCLE/0,0,13,1,0,0,5\nGOTO/0,5,13\n",
    ],
)
def test_a_tilt_on_the_way_to_a_cut_is_refused(body: str) -> None:
    with pytest.raises(ToolpathError, match="the tool axis changes on the way to a cut") as refused:
        piece_of(body)
    assert "RAPID" in refused.value.cure
    assert (refused.value.place.line or 0) > HEAD.count("\n") + 3


def test_multax_right_after_a_turn_of_the_table_counts_from_the_angle_that_it_turned_to() -> None:
    _, second = operations_of(f"{DOWN}ROTABL/ATANGL,90\nMULTAX/ON\nGOTO/9,-18,0,0,-1,0\n")
    assert [90.0] == second["rotary"]["angles"]
    assert [("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == kinds(second)
