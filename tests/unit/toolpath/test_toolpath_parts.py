"""Which end of the stock is held: what a toolpath, a job and the command line may say of it, and what it is once the job is turned."""

from __future__ import annotations

import math
from typing import Any

import pytest
from toolpath_parts import toolpath

from steadyrest.errors import InputError, ToolpathError
from steadyrest.inputs.options import read_arguments
from steadyrest.inputs.readers import Piece, in_units
from steadyrest.toolpath import Held, RectangularStock, RoundStock, Toolpath, parse_toolpath

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
