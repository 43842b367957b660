"""Where operations begin and end."""

from typing import Any

from cl_text import operations_of, piece_of

DOWN = "RAPID\nGOTO/0,0,50\nGOTO/0,0,18\n"


def kinds(operation: Any) -> list[tuple[str, list[float]]]:
    """What each move is, and its end to 6 decimals."""
    found = []
    for move in operation["moves"]:
        kind = next(key for key in ("rapid", "cut", "stop", "dwell", "arc") if key in move)
        found.append((kind, [round(value, 6) + 0.0 for value in move[kind]] if isinstance(move[kind], list) else []))
    return found


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


def test_a_stop_where_an_operation_is_broken_off_comes_before_the_way_back() -> None:
    _, second = operations_of(f"{DOWN}COOLNT/ON\nSTOP\nGOTO/9,0,18\n")
    assert [("stop", []), ("cut", [0, 0, 18]), ("cut", [9, 0, 18])] == [
        (kind, end if kind != "stop" else []) for kind, end in kinds(second)
    ]
