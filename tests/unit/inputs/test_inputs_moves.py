"""Moves in columns: where the tool stands after them, their way into another frame, and back into a cut that was broken off."""

from functools import partial

import numpy as np
import pytest

from steadyrest.inputs.geometry import indexed_points, turned
from steadyrest.inputs.moves import ARC, ArcColumns, Conditions, Happening, Hole, Item, Moves, Stand, Stretch, coalesced, entered, mapped
from steadyrest.toolpath import CUT, RAPID

CONDITIONS = Conditions(1, 1000.0, "clockwise", "off", ("still",))
UP = Moves.one(RAPID, np.array([1.0, 2.0, 50.0]), np.nan, 3)
DOWN = Moves.one(CUT, np.array([1.0, 2.0, 3.0]), 200.0, 4)


def test_after_a_rapid_the_feed_is_still_that_of_the_last_cut() -> None:
    after = Stand().after(DOWN).after(UP)
    assert (200.0, False) == (after.feed, after.down)
    assert [1.0, 2.0, 50.0] == after.point.tolist()  # type: ignore[union-attr]
    both = Stand().after(coalesced([DOWN, UP])[0])
    assert (after.feed, after.down) == (both.feed, both.down)


def test_after_a_hole_the_tool_stands_over_it() -> None:
    after = Stand().after(Hole(np.array([1.0, 2.0, 20.0]), 3.0, 5.0, {}, 7))
    assert [1.0, 2.0, 23.0] == after.point.tolist()  # type: ignore[union-attr]
    assert not after.down


@pytest.mark.parametrize(
    ("item", "placed", "begins"),
    [
        (DOWN, False, CUT),
        (DOWN, True, RAPID),
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
    (whole,) = coalesced([DOWN, Moves.one(ARC, np.zeros(3), 50.0, 6, arcs=arc)])
    assert isinstance(whole, Moves)
    assert whole.arcs is not None
    assert [[0.0, 0.0, 1.0]] == whole.arcs.normal[whole.motion == ARC].tolist()
    assert [0, 1] == whole.arcs.full_turns.tolist()


def test_points_turn_with_the_part_and_normals_without_its_centre() -> None:
    arc = ArcColumns(np.array([[0.0, 1.0, 0.0]]), np.array([[0.0, 0.0, 5.0]]), np.array([[0.0, 1.0, 0.0]]), np.array([0]))
    move = Moves.one(ARC, np.array([3.0, 0.0, 6.0]), 50.0, 6, np.array([0.0, 0.0, 1.0]), arc)
    points = partial(indexed_points, alpha_deg=90.0, letter="X", centre=np.array([0.0, 0.0, 5.0]))
    found = mapped(move, points, partial(turned, alpha_deg=-90.0, letter="X"))
    assert isinstance(found, Moves)
    assert found.arcs is not None
    assert found.axis is None
    assert [3.0, 1.0, 5.0] == found.end[0].tolist()
    assert [0.0, 0.0, 5.0] == found.arcs.centre[0].tolist()
    assert [0.0, 0.0, -1.0] == found.arcs.normal[0].tolist()
