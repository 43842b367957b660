"""What turns the table or the head."""

from typing import Any

import pytest
from cl_text import operations_of, piece_of

from steadyrest.errors import ToolpathError

ABOVE = "RAPID\nGOTO/0,0,10\n"


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
