"""Where operations begin and end, where the tool stands after moves, and their way into another frame."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from cl_text import operations_of, piece_of

from steadyrest.inputs.stretches import (
    ARC,
    ArcColumns,
    Conditions,
    Happening,
    Hole,
    Item,
    Moves,
    Stand,
    Stretch,
    coalesced,
    entered,
)
from steadyrest.toolpath import CUT, RAPID

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


CONDITIONS = Conditions(1, 1000.0, "clockwise", "off", ("still",))
UP = Moves.one(RAPID, np.array([1.0, 2.0, 50.0]), np.nan, 3)
CUT_DOWN = Moves.one(CUT, np.array([1.0, 2.0, 3.0]), 200.0, 4)


def test_after_a_rapid_the_feed_is_still_that_of_the_last_cut() -> None:
    after = Stand().after(CUT_DOWN).after(UP)
    assert (200.0, False) == (after.feed, after.down)
    assert [1.0, 2.0, 50.0] == after.point.tolist()  # type: ignore[union-attr]
    both = Stand().after(coalesced([CUT_DOWN, UP])[0])
    assert (after.feed, after.down) == (both.feed, both.down)


def test_after_a_hole_the_tool_stands_over_it() -> None:
    after = Stand().after(Hole(np.array([1.0, 2.0, 20.0]), 3.0, 5.0, {}, 7))
    assert [1.0, 2.0, 23.0] == after.point.tolist()  # type: ignore[union-attr]
    assert not after.down


@pytest.mark.parametrize(
    ("item", "placed", "begins"),
    [
        (CUT_DOWN, False, CUT),
        (CUT_DOWN, True, RAPID),
        (UP, False, None),
        (Happening({"dwell": 1.0}, 5), False, CUT),
        (Happening({"note": ""}, 5), False, None),
    ],
)
def test_a_stretch_that_begins_with_a_cut_or_a_pause_in_one_comes_back_to_where_the_tool_stood(
    item: Item, placed: bool, begins: int | None
) -> None:
    before = Stand(np.array([9.0, 9.0, 9.0]), None, placed, 100.0, down=True)
    first = entered(Stretch(CONDITIONS, before=before, items=[item])).items[0]
    if begins is None:
        assert first is item
    else:
        assert isinstance(first, Moves)
        assert (begins, [9.0, 9.0, 9.0]) == (first.motion[0], first.end[0].tolist())


def test_joined_moves_have_arcs_where_one_of_them_has() -> None:
    arc = ArcColumns(np.zeros((1, 3)), np.ones((1, 3)), np.array([[0.0, 0.0, 1.0]]), np.array([1]))
    (whole,) = coalesced([CUT_DOWN, Moves.one(ARC, np.zeros(3), 50.0, 6, arcs=arc)])
    assert isinstance(whole, Moves)
    assert whole.arcs is not None
    assert [[0.0, 0.0, 1.0]] == whole.arcs.normal[whole.motion == ARC].tolist()
    assert [0, 1] == whole.arcs.full_turns.tolist()
