"""Which end of the stock is held: what a toolpath, a job and the command line may say of it, and what it is once the job is turned."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from toolpath_parts import toolpath

from steadyrest.errors import InputError, ToolpathError
from steadyrest.inputs.options import read_arguments
from steadyrest.inputs.readers import Piece, in_units
from steadyrest.toolpath import Held, RectangularStock, RoundStock, Toolpath, operation_facts, parse_toolpath

BAR: dict[str, Any] = {"shape": "round", "diameter": 40, "from": -90, "to": 5}


def part(stock: dict[str, Any]) -> dict[str, Any]:
    operation = {"tool": 1, "spindle": {"rpm": 300, "turns": "clockwise"}, "rotary": {"intent": "still"}, "moves": [{"dwell": 1}]}
    tools = [{"number": 1, "shape": "flat", "diameter": 6}]
    return {"steadyrest_toolpath": 1, "units": "mm", "stock": stock, "tools": tools, "operations": [operation]}


def test_the_held_end_is_part_of_the_stock_and_its_length_may_be_left_open() -> None:
    stock = parse_toolpath(part({**BAR, "held": {"at": "from", "length": 20}})).stock
    assert stock is not None
    assert stock.held == Held(at="from", length=20)
    open_length = parse_toolpath(part({**BAR, "held": {"at": "to"}})).stock
    assert open_length is not None
    assert open_length.held == Held(at="to")


@pytest.mark.parametrize(
    ("held", "said"),
    [
        ({"at": "left"}, r"stock, held, at: found \"left\"; allowed are from, to"),
        ({"length": 20}, r"'at' is missing"),
        ({"at": "from", "lenght": 20}, r"unknown key 'lenght'; allowed are at, length"),
        ({"at": "from", "length": -1}, r"it has to be at least 0"),
        ({"at": "from", "length": 96}, r"96 of the stock are held, and it is 95 long"),
    ],
)
def test_what_cannot_be_held_is_refused_with_its_place(held: dict[str, Any], said: str) -> None:
    with pytest.raises(ToolpathError, match=said):
        parse_toolpath(part({**BAR, "held": held}))


def test_turned_by_half_a_turn_about_z_the_ends_change_places_and_the_height_stays() -> None:
    bar = RoundStock.model_validate({**BAR, "offset": [1, 2, 3], "held": {"at": "from", "length": 20}})
    turned = bar.end_for_end("X")
    assert (turned.along("X"), turned.offset_across("X"), turned.held) == ((-6, 89), (-2, 3), Held(at="to", length=20))
    assert turned.end_for_end("X") == bar
    block = RectangularStock.model_validate({"shape": "rectangular", "across": [30, 20], "from": 0, "to": 50, "offset": [4, 7]})
    assert block.end_for_end("Y").offset == (-4, 7)
    assert (block.end_for_end("Y").along("Y"), block.end_for_end("Y").across) == ((-50, 0), (30, 20))


def test_the_command_line_says_which_end_is_held_and_how_much_of_it() -> None:
    _, said = read_arguments(["face.nc", "--stock", "round,diameter=40,from=-90,to=0,held=from,held_length=20"])
    assert said.stock is not None
    assert said.stock.held == Held(at="from", length=20)
    with pytest.raises(InputError, match='found "left"; allowed are from, to'):
        read_arguments(["face.nc", "--stock", "round,diameter=40,from=-90,to=0,held=left"])


def test_the_length_in_the_jaws_is_converted_with_all_other_lengths() -> None:
    bar = RoundStock.model_validate({**BAR, "held": {"at": "from", "length": 25.4}})
    stock = in_units(Piece("", "mm", {}, (), stock=bar), "inch").stock
    assert stock is not None
    assert stock.held == Held(at="from", length=1)


def swept(stock: dict[str, Any], **top: Any) -> Toolpath:
    return parse_toolpath(toolpath(stock={"from": -50, "to": 0, **stock}, **top))


def test_a_forty_millimetre_bar_sweeps_twenty() -> None:
    assert 20.0 == swept({"shape": "round", "diameter": 40}).swept_radius


def test_a_bar_off_the_axis_sweeps_its_offset_more_and_lies_as_much_nearer() -> None:
    stock = swept({"shape": "round", "diameter": 40, "offset": [3, 4]}).stock
    assert stock is not None
    assert (25.0, 15.0) == (stock.swept_radius("X"), stock.least_radius("X"))


def test_a_block_sweeps_its_corner() -> None:
    stock = swept({"shape": "rectangular", "across": [60, 80]}).stock
    assert stock is not None
    assert (50.0, 30.0) == (stock.swept_radius("X"), stock.least_radius("X"))


def test_a_block_off_the_axis_sweeps_its_farthest_corner() -> None:
    stock = swept({"shape": "rectangular", "across": [40, 60], "offset": [-10, 10]}).stock
    assert stock is not None
    assert (50.0, 10.0) == (stock.swept_radius("X"), stock.least_radius("X"))


@pytest.mark.parametrize(("axis", "expected"), [("X", 25.0), ("Y", 20 + math.hypot(1, 4)), ("Z", 20 + math.hypot(1, 3))])
def test_an_offset_of_three_numbers_counts_across_the_axis_only(axis: str, expected: float) -> None:
    assert expected == swept({"shape": "round", "diameter": 40, "offset": [1, 3, 4]}, axis=axis).swept_radius


def test_an_offset_of_three_numbers_moves_the_stock_along_the_axis() -> None:
    stock = swept({"shape": "round", "diameter": 40, "offset": [1, 3, 4]}).stock
    assert stock is not None
    assert (-49.0, 1.0) == stock.along("X")


def in_planes(*planes: dict[str, Any], **rotary: Any) -> Toolpath:
    operation = {"tool": 1, "spindle": {"rpm": 300, "turns": "clockwise"}, "moves": [{"rapid": [1, 2, 3]}, {"cut": [4, 2, 3], "feed": 9}]}
    return parse_toolpath({**part(BAR), "operations": [{**operation, "rotary": {"intent": "indexed", "planes": list(planes), **rotary}}]})


def test_a_plane_s_axes_are_right_handed_and_its_x_is_the_part_s_x_laid_into_it_unless_given() -> None:
    """By hand: 3-4-5 triangles, and the part's Y where z lies along X."""
    for said, x, y in (
        ({"z": [0, 0, 7]}, (1, 0, 0), (0, 1, 0)),
        ({"z": [0.6, 0, 0.8]}, (0.8, 0, -0.6), (0, 1, 0)),
        ({"z": [0, -0.6, 0.8]}, (1, 0, 0), (0, 0.8, 0.6)),
        ({"z": [-1, 0, 0]}, (0, 1, 0), (0, 0, -1)),
        ({"z": [0, 0, 1], "x": [0, -5, 0]}, (0, -1, 0), (1, 0, 0)),
    ):
        (operation,) = in_planes({"origin": [0, 0, 0], **said}).operations
        assert operation.rotary.intent == "indexed"
        assert operation.rotary.planes is not None
        axes = operation.rotary.planes[0].axes
        np.testing.assert_allclose(axes[:, 0], x, atol=1e-15)
        np.testing.assert_allclose(axes[:, 1], y, atol=1e-15)
        assert np.linalg.det(axes) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("rotary", "said"),
    [
        ({"planes": [{"origin": [0, 0, 0], "z": [0, 0, 0]}]}, r"the plane's z has no length and points nowhere"),
        ({"planes": [{"origin": [0, 0, 0], "z": [0, 0, 1], "x": [0, 0, 0]}]}, r"the plane's x has no length"),
        (
            {"planes": [{"origin": [0, 0, 0], "z": [0, 0, 1], "x": [1, 0, 0.001]}]},
            r"x is 89.94 degrees from its z; allowed is 90, within 0.01",
        ),
        ({"planes": [{"origin": [0, 0, 0]}]}, r"'z' is missing"),
        ({"planes": [{"origin": [0, 0], "z": [0, 0, 1]}]}, r"origin"),
        ({"planes": []}, r"planes"),
        ({"planes": [{"origin": [0, 0, 0], "z": [0, 0, 1]}], "angles": [0]}, r"both 'angles' and 'planes' are given"),
        ({}, r"neither 'angles' nor 'planes' is given"),
    ],
)
def test_planes_that_are_none_are_refused_in_words(rotary: dict[str, Any], said: str) -> None:
    broken = part(BAR)
    broken["operations"][0]["rotary"] = {"intent": "indexed", **rotary}
    with pytest.raises(ToolpathError, match=said) as refused:
        parse_toolpath(broken)
    assert "rotary" in str(refused.value)


def test_the_facts_of_planes_tell_their_cuts_where_they_lie_on_the_part() -> None:
    """By hand, about X with z = -Y of the part, x = X: (4, 2, 3) lies at origin + (4, 0, 0) + 2 (0, 0, 1) + 3 (0, -1, 0)."""
    up = {"origin": [10, -20, 0], "z": [0, -1, 0]}
    (facts,) = operation_facts(in_planes(up, {"origin": [30, 0, 20], "z": [0, 0, 1]}))
    assert (facts.planes, facts.angles, facts.moves) == (2, (), 2)
    assert facts.along == (11, 34)
    first = facts.path[np.flatnonzero(facts.path[:, 0] == 14)]
    np.testing.assert_allclose(first[0], [14, np.hypot(23, 2), np.degrees(np.arctan2(23, 2))], rtol=1e-9)


def test_an_axis_tolerance_belongs_to_operations_that_say_tool_axes() -> None:
    said = part(BAR)
    said["operations"][0]["axis_tolerance"] = 0.5
    with pytest.raises(ToolpathError, match=r"an axis_tolerance of 0.5 degrees in an operation that is still"):
        parse_toolpath(said)
    said["operations"][0] |= {"rotary": {"intent": "simultaneous"}, "moves": [{"rapid": [1, 2, 3], "tool_axis": [0, 0, 1]}]}
    assert parse_toolpath(said).operations[0].axis_tolerance == 0.5
    said["operations"][0]["axis_tolerance"] = 11
    with pytest.raises(ToolpathError, match=r"axis_tolerance.*10"):
        parse_toolpath(said)
