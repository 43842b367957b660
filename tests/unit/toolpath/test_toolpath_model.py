"""Every key of the file that can be wrong is refused in the user's words, with file, place and what is allowed."""

import json
import os
from pathlib import Path
from typing import Any

import pytest
from toolpath_parts import CUT, RAPID, SIMULTANEOUS, STILL, WRAPPED, refusal, table, toolpath, with_table, written

from steadyrest.errors import ToolpathError
from steadyrest.toolpath import load_toolpath, parse_toolpath

HOLE = {"hole": [0, 0], "retract": 25, "bottom": 10, "feed": 100}
ARC = {"arc": [-30, 15, 17.5], "centre": [-30, 0, 17.5], "turns": "clockwise", "feed": 600}
TO_ARC = {"rapid": [-30, -15, 17.5]}
FLAT = {"number": 3, "shape": "flat", "diameter": 6}
ROUND = {"shape": "round", "diameter": 40, "from": -90, "to": 0}
POINT = {"cut": [0, 0, 18], "tool_axis": [0, 0, 1], "feed": 500}
SLOT = "operation 1 'slot'"


def tool(**changes: Any) -> dict[str, Any]:
    return toolpath(tools=[{**FLAT, **changes}])


def turning(*moves: Any) -> dict[str, Any]:
    return toolpath(list(moves), operation={"rotary": SIMULTANEOUS})


CASES: dict[str, tuple[Any, str, str, str]] = {
    # what is wrong: the toolpath, the place after the file, words of the message, words of the cure
    "no version": (toolpath(steadyrest_toolpath=None), "steadyrest_toolpath", "missing", "add"),
    "version 2": (toolpath(steadyrest_toolpath=2), "steadyrest_toolpath", "found 2; allowed are 1", "Version of this form: 1"),
    "a misspelt key": (toolpath(unitz="mm"), "unitz", "unknown key 'unitz'; allowed are steadyrest_toolpath", "'units'"),
    "a misspelt key that has to be there": (
        toolpath(units=None, unitz="mm"), "unitz", "unknown key 'unitz'", "did you mean 'units'?"
    ),
    "a version that is true": (toolpath(steadyrest_toolpath=True), "steadyrest_toolpath", "found true", "write"),
    "unknown units": (toolpath(units="cm"), "units", 'found "cm"; allowed are mm, inch', "write"),
    "an unknown axis": (toolpath(axis="A"), "axis", 'found "A"; allowed are X, Y, Z', "write"),
    "a centre of two numbers": (toolpath(centre=[0, 0]), "centre, entry 3", "a number is missing", "all the numbers"),
    "a centre of four numbers": (toolpath(centre=[0] * 4), "centre", "at most 3", "take out"),
    "a number in quotes": (toolpath(centre=[0, "0", 0]), "centre, entry 2", 'found "0"; allowed is a number', "quotes"),
    "no tools": (toolpath(tools=[]), "tools", "at least 1", "add"),
    "no operations": (toolpath(operations=[]), "operations", "at least 1", "add"),
    "a name that is a number": (toolpath(name=5), "name", "found 5; allowed is a text", "quotes"),
    "a top that is a list": ([1], "", "one JSON object", "begin with"),
    # stock and clearance
    "neither stock nor clearance": (toolpath(stock=None), "stock", "neither stock nor clearance", "clearance"),
    "clearance of zero": (toolpath(clearance=0), "clearance", "found 0; it has to be more than 0", "correct"),
    "clearance inside the stock": (toolpath(clearance=19), "clearance", "the turning stock reaches 20 from the axis", "20"),
    "an unknown stock": (toolpath(stock={"shape": "tube"}), "stock", "'tube' is not known; allowed are round, rect", "name"),
    "a stock without shape": (toolpath(stock={}), "stock", "'shape' is missing", "add 'shape'"),
    "a stock turned round": (toolpath(stock={**ROUND, "from": 9}), "stock", "from 9 to 0", "swap"),
    "a stock without end": (
        toolpath(stock={"shape": "round", "diameter": 40, "from": 0}), "stock, to", "'to' is missing", "add 'to'"
    ),
    "an unknown key of stock": (toolpath(stock={**ROUND, "lenght": 1}), "stock, lenght", "allowed are from, to", "out"),
    "an offset of one number": (toolpath(stock={**ROUND, "offset": [1]}), "stock, offset", "at least 2", "add"),
    # tools
    "a tool of no diameter": (tool(diameter=0), "tools, entry 1, diameter", "found 0; it has to be more than 0", "correct"),
    "a tool of unknown shape": (tool(shape="bal"), "tools, entry 1", "'bal' is not known; allowed are flat, ball", "'ball'"),
    "a tool number that is no whole number": (tool(number=1.5), "tools, entry 1, number", "whole number", "whole"),
    "tool number zero": (tool(number=0), "tools, entry 1, number", "at least 1", "correct"),
    "two tools of one number": (toolpath(tools=[FLAT, FLAT]), "tools, entry 2, number", "the number 3", "of its own"),
    "a bullnose without radius": (
        tool(shape="bullnose"), "tools, entry 1, corner_radius", "'corner_radius' is missing", "add"
    ),
    "a corner radius too large": (tool(shape="bullnose", corner_radius=4), "tools, entry 1", "does not fit", "at most 3"),
    "a drill without point": (tool(shape="drill"), "tools, entry 1, point_angle", "missing", "degrees"),
    "a point of 200 degrees": (tool(shape="drill", point_angle=200), "tools, entry 1, point_angle", "at most 180", ""),
    "a chamfer tool that does not widen": (
        tool(shape="chamfer", tip_diameter=6, included_angle=90), "tools, entry 1", "not less than diameter 6", "widens"
    ),
    "a tool shorter than its flutes": (tool(length=10, cutting_length=12), "tools, entry 1", "more than length 10", ""),
    # operations
    "a tool that is not there": (toolpath(operation={"tool": 7}), f"{SLOT}, tool", "there is no tool 7; there are 3", "add"),
    "no spindle": (toolpath(operation={"spindle": None}), f"{SLOT}, spindle", "'spindle' is missing", "add 'spindle'"),
    "a spindle that turns backwards": (
        toolpath(operation={"spindle": {"rpm": -1, "turns": "clockwise"}}), f"{SLOT}, spindle, rpm", "at least 0", ""
    ),
    "a spindle that turns left": (
        toolpath(operation={"spindle": {"rpm": 1, "turns": "left"}}),
        f"{SLOT}, spindle, turns", "allowed are clockwise, counterclockwise", "",
    ),
    "an unknown coolant": (toolpath(operation={"coolant": "fog"}), f"{SLOT}, coolant", "off, flood, mist, air, through", ""),
    "no rotary": (toolpath(operation={"rotary": None}), f"{SLOT}, rotary", "'rotary' is missing", "add"),
    "no intent": (toolpath(operation={"rotary": {}}), f"{SLOT}, rotary", "'intent' is missing", "add 'intent'"),
    "an unknown intent": (
        toolpath(operation={"rotary": {"intent": "index"}}), f"{SLOT}, rotary", "'index' is not known", "'indexed'"
    ),
    "no angles": (
        toolpath(operation={"rotary": {"intent": "indexed", "angles": []}}), f"{SLOT}, rotary, angles", "at least 1", ""
    ),
    "a wrapped path without diameter": (
        toolpath(operation={"rotary": {"intent": "wrapped"}}), f"{SLOT}, rotary, diameter", "missing", "add"
    ),
    "wrapped along Z without a plane": (
        toolpath(axis="Z", operation={"rotary": WRAPPED}), f"{SLOT}, rotary, plane", "neither where it begins", "origin on the axis"
    ),
    "neither moves nor table": (toolpath(operation={"moves": None}), f"{SLOT}, moves", "neither", "exactly one"),
    "no moves": (toolpath([]), f"{SLOT}, moves", "at least 1", "add"),
    "a key given twice": (
        '{"steadyrest_toolpath": 1, "operations": [{"name": "slot", "moves": [{"cut": [0,0,0], "feed": 1, "feed": 2}]}]}',
        f"{SLOT}, move 1, feed (given twice)", "the key 'feed' is given twice", "keep one",
    ),
    # moves
    "a move of no kind": (toolpath([{"feed": 1}]), f"{SLOT}, move 1", "exactly one of the keys rapid, cut, arc, dwell", ""),
    "a move of two kinds": (toolpath([RAPID | CUT]), f"{SLOT}, move 1", "found rapid, cut in one move", "several"),
    "a misspelt kind of move": (toolpath([RAPID, {"cutt": [0, 0, 0]}]), f"{SLOT}, move 2", "unknown key 'cutt'", "'cut'"),
    "a move that is a number": (toolpath([RAPID, 5]), f"{SLOT}, move 2", "found 5", "write an object"),
    "a rapid with a feed": (toolpath([{**RAPID, "feed": 5}]), f"{SLOT}, move 1, feed", "unknown key 'feed'", "take it out"),
    "a point of two numbers": (toolpath([{"cut": [1, 2], "feed": 5}]), f"{SLOT}, move 1, cut, entry 3", "missing", "all"),
    "a cut before any feed": (toolpath([RAPID, {"cut": [0, 0, 0]}]), f"{SLOT}, move 2, feed", "a cut before any feed", "add"),
    "an arc before any feed": (
        toolpath([TO_ARC, {**ARC, "feed": None}]), f"{SLOT}, move 2, feed", "a cut before any feed", "add"
    ),
    "a hole before any feed": (
        toolpath([RAPID, {**HOLE, "feed": None}]), f"{SLOT}, move 2, feed", "a hole before any feed", "add"
    ),
    "a feed of zero": (toolpath([{**CUT, "feed": 0}]), f"{SLOT}, move 1, feed", "found 0; it has to be more than 0", ""),
    "a note that is a number": (toolpath([{"note": 1}]), f"{SLOT}, move 1, note", "allowed is a text", "quotes"),
    "a stop that is true": (toolpath([{"stop": True}]), f"{SLOT}, move 1, stop", "found true; allowed is an object", "optional"),
    "an unknown key of stop": (
        toolpath([{"stop": {"optoinal": True}}]), f"{SLOT}, move 1, stop, optoinal", "allowed are optional", "'optional'"
    ),
    "a dwell that is negative": (toolpath([{"dwell": -1}]), f"{SLOT}, move 1, dwell", "at least 0", "correct"),
    # arcs
    "an arc as the first move": (toolpath([ARC]), f"{SLOT}, move 1, arc", "cannot be the first move", "rapid or a cut"),
    "an arc round its own start": (
        toolpath([TO_ARC, {**ARC, "centre": [-30, -15, 0]}]), f"{SLOT}, move 2, centre", "its radius is zero", "turns"
    ),
    "an arc of two radii": (
        toolpath([TO_ARC, {**ARC, "arc": [-30, 15.0021, 17.5]}]),
        f"{SLOT}, move 2, centre", "15 at its start and 15.0021 at its end; they may differ by 0.002 mm", "correct",
    ),
    "an arc of two radii in inches": (
        toolpath([TO_ARC, {**ARC, "arc": [-30, 15.00021, 17.5]}], units="inch"),
        f"{SLOT}, move 2, centre", "they may differ by 0.0002 inch", "correct",
    ),
    "an arc in no plane": (toolpath([TO_ARC, {**ARC, "plane": "ZX"}]), f"{SLOT}, move 2, plane", "XY, XZ, YZ", "write one of those"),
    "an arc while the rotary moves": (turning(POINT, ARC), f"{SLOT}, move 2, arc", "not possible while the rotary", "short"),
    # tool axes
    "a tool axis of length zero": (
        turning(POINT, {**POINT, "tool_axis": [0, 0, 0]}), f"{SLOT}, move 2, tool_axis", "length zero", "unit vector"
    ),
    "a tool axis too long": (
        turning(POINT, {**POINT, "tool_axis": [0, 0, 1.001]}), f"{SLOT}, move 2, tool_axis", "length 1.001; allowed is 1", ""
    ),
    "a tool axis in a still operation": (toolpath([POINT]), f"{SLOT}, move 1, tool_axis", "simultaneous operations only", ""),
    "no tool axis at first": (turning(CUT, POINT), f"{SLOT}, move 1, tool_axis", "has no tool axis", "add 'tool_axis'"),
    # holes
    "a hole while the rotary moves": (turning(POINT, HOLE), f"{SLOT}, move 2, hole", "simultaneous", "indexed operation"),
    "a hole upside down": (toolpath([{**HOLE, "bottom": 30}]), f"{SLOT}, move 1", "bottom 30 is not below retract 25", ""),
    "a hole that starts over its retract": (toolpath([{**HOLE, "hole": [0, 0, 26]}]), f"{SLOT}, move 1", "not between", ""),
    "an unknown cycle": (toolpath([{**HOLE, "cycle": "ream"}]), f"{SLOT}, move 1, cycle", "drill, dwell-drill, peck", ""),
    "pecking without steps": (toolpath([{**HOLE, "cycle": "peck"}]), f"{SLOT}, move 1", "peck has no step", "add 'peck'"),
    "steps without pecking": (toolpath([{**HOLE, "peck": 1}]), f"{SLOT}, move 1", "takes no 'peck'", "cycle peck"),
    "a dwell-drill without dwell": (toolpath([{**HOLE, "cycle": "dwell-drill"}]), f"{SLOT}, move 1", "has no dwell", "add"),
    "a plain drill with a dwell": (toolpath([{**HOLE, "dwell": 1}]), f"{SLOT}, move 1", "no 'dwell'", "dwell-drill"),
    "a pitch without a tap": (toolpath([{**HOLE, "pitch": 1}]), f"{SLOT}, move 1", "takes no 'pitch'", "cycle tap"),
    "a tap whose feed does not fit its pitch": (
        toolpath([{**HOLE, "cycle": "tap", "pitch": 1, "feed": 7900}]),
        f"{SLOT}, move 1, feed", "feed 7900 does not fit pitch 1 at 8000 rpm; allowed is 8000", "rpm times pitch",
    ),
    "a tap in a spindle that stands": (
        toolpath([{**HOLE, "cycle": "tap"}], operation={"spindle": {"rpm": 0, "turns": "clockwise"}}),
        f"{SLOT}, move 1, cycle", "rpm is 0", "rpm above 0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_is_refused_with_file_place_and_what_is_allowed(case: tuple[Any, str, str, str], tmp_path: Path) -> None:
    data, place, wrong, cure = case
    error = refusal(tmp_path, data)
    file = str(tmp_path / "part.toolpath.json")
    assert f"{file}, {place}".removesuffix(", ") == str(error.place)
    assert wrong in error.wrong
    assert cure in error.cure
    assert error.cure


def test_both_moves_and_table_are_refused(tmp_path: Path) -> None:
    data = toolpath(operation={"table": {"motion": [0], "x": [0], "y": [0], "z": [0]}, "rotary": STILL})
    assert "both 'moves' and 'table' are given" == refusal(tmp_path, data).wrong


def test_a_clearance_takes_the_place_of_the_stock() -> None:
    assert 33.0 == parse_toolpath(toolpath(stock=None, clearance=33)).swept_radius


def test_about_two_axes_the_stock_sweeps_a_ball_around_the_centre() -> None:
    stock = {"shape": "rectangular", "across": [6, 8], "from": -12, "to": 4}
    assert 13.0 == parse_toolpath(toolpath(stock=stock)).swept_ball  # the corner at 12, 3, 4
    assert 33.0 == parse_toolpath(toolpath(stock=None, clearance=33)).swept_ball


def test_a_clearance_beyond_the_stock_holds() -> None:
    assert 33.0 == parse_toolpath(toolpath(clearance=33)).swept_radius


def test_axis_and_centre_are_x_and_the_origin_unless_said() -> None:
    found = parse_toolpath(toolpath(axis=None))
    assert ("X", (0.0, 0.0, 0.0)) == (found.axis, found.centre)


def test_a_parsed_toolpath_cannot_be_changed() -> None:
    found = parse_toolpath(toolpath())
    with pytest.raises(ValueError, match="frozen"):
        found.axis = "Y"  # type: ignore[misc]


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ToolpathError, match="there is no such file") as refused:
        load_toolpath(tmp_path / "none.toolpath.json")
    assert str(tmp_path / "none.toolpath.json") == refused.value.place.file


def test_a_directory_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ToolpathError, match="this is a directory"):
        load_toolpath(tmp_path)


def test_a_pipe_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(ToolpathError, match="not a regular file"):
        load_toolpath(tmp_path / "pipe")


def test_a_name_with_a_null_in_it_is_refused() -> None:
    with pytest.raises(ToolpathError, match="cannot be read"):
        load_toolpath("a\0b")


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = written(tmp_path, toolpath())
    monkeypatch.setattr("builtins.open", denied)
    with pytest.raises(ToolpathError, match="cannot be read: Permission denied"):
        load_toolpath(path)


def test_broken_json_after_a_table_is_refused_with_its_line_in_the_file(tmp_path: Path) -> None:
    lines = json.dumps(with_table([table(), table()]), indent=1) + "\n!"
    error = refusal(tmp_path, lines)
    assert (lines.count("\n") + 1, 1) == (error.place.line, error.place.column)


def test_a_file_cut_short_inside_a_table_is_refused(tmp_path: Path) -> None:
    text = json.dumps(with_table(table()))
    error = refusal(tmp_path, text[: text.index('"feed"')])
    assert "the file ends inside this table" in error.wrong
    assert (1, text.index('{"motion"') + 1) == (error.place.line, error.place.column)


def test_a_file_that_changes_between_loading_and_streaming_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, with_table(table()))
    toolpath_ = load_toolpath(path)
    written(tmp_path, with_table(table(4)))
    with pytest.raises(ToolpathError, match="the file changed while it was being read"):
        list(toolpath_.operations[0].stream())


ABOUT_Z = {"origin": [0, 0, 0], "x": [0, 0, 1], "z": [1, 0, 0]}


@pytest.mark.parametrize("rotary", [{**WRAPPED, "plane": ABOUT_Z}, SIMULTANEOUS])
def test_work_that_turns_about_z_while_it_cuts_is_a_toolpath_and_refused_for_one_rotary_alone(rotary: dict[str, Any]) -> None:
    moves = [POINT] if rotary == SIMULTANEOUS else None
    part = parse_toolpath(toolpath(moves, axis="Z", operation={"rotary": rotary}))
    with pytest.raises(ToolpathError) as refused:
        part.check_one_rotary()
    assert f"{SLOT}, rotary, intent" == str(refused.value.place)
    assert f"intent {rotary['intent']} is not possible with the axis of rotation along Z" in refused.value.wrong
    assert "indexed and still" in refused.value.wrong
    assert "axis X or Y" in refused.value.cure
    parse_toolpath(toolpath(axis="Z")).check_one_rotary()
    parse_toolpath(toolpath(moves, axis="X", operation={"rotary": rotary})).check_one_rotary()
