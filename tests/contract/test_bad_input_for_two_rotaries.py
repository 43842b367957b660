"""What is wrong with a part for two rotary axes, or with its machine, is said at the command line: where, what, and what mends it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from steadyrest.cli import main

MACHINES = {
    "two-in-table": """
chain = "part C A bed spindle"
rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}
[rotary.A]
along = "X"
seen_from = "+X"
positive_turns = "clockwise"
point = [0, 0.12, 48]
travel = {kind = "limited", from = -60, to = 30}
""",
    "leaning-table": """
chain = "part C B bed spindle"
rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}
rotary.B = {along = "Z", leans = {towards = "+Y", by = 30}, seen_from = "+Z", positive_turns = "clockwise", point = [0, 0, 60]}
""",
    "head-and-table": """
chain = "part C bed B spindle"
rotary.C = {along = "Z", seen_from = "+Z", positive_turns = "clockwise"}
rotary.B = {along = "Y", seen_from = "+Y", positive_turns = "counterclockwise", pivot = [0, 0, 150]}
""",
}
UP, ROUND = {"rapid": [0, 0, 60], "tool_axis": [0, 0, 1]}, {"shape": "round", "diameter": 40, "from": -30, "to": 30}
IN_A_PLANE = [{"rapid": [0, 0, 40]}, {"cut": [0, 0, 0], "feed": 200}]


def planes(*found: dict[str, Any]) -> dict[str, Any]:
    return {"rotary": {"intent": "indexed", "planes": list(found)}, "moves": IN_A_PLANE}


def turning(*moves: dict[str, Any]) -> dict[str, Any]:
    return {"rotary": {"intent": "simultaneous"}, "moves": [UP, {"cut": [0, 0, 19], "feed": 300}, *moves]}


CASES: dict[str, tuple[str, dict[str, Any], str, str, str]] = {
    # what is wrong: the machine, the operation, its place, words of the message, words of the cure
    "an axis that tilts less": (
        "leaning-table", turning({"cut": [15, 0, 0], "tool_axis": [0.96, 0, 0.28]}),
        "operation 1 'edge', move 3", "is out of reach of the rotaries by 13.740 degrees", "axis_tolerance",
    ),
    "a plane that leans too far": (
        "leaning-table", planes({"origin": [0, 0, 18], "z": [0, 0, 1]}, {"origin": [15, 0, 0], "z": [0.96, 0, 0.28]}),
        "operation 1 'edge'", "13.74 degrees", "plane",
    ),
    "a plane past the end of the travel": (
        "two-in-table", planes({"origin": [15, 0, 0], "z": [0.96, 0, 0.28]}),
        "operation 1 'edge'", "A -73.7398, and A goes from -60 to 30", "correct travel",
    ),
    "half a turn between two tool axes": (
        "two-in-table", turning({"cut": [0, 0, -19], "tool_axis": [0, 0, -1]}),
        "operation 1 'edge', move 3", "half a turn, from [0, 0, 1] to [0, 0, -1]", "put a point between the two",
    ),
    "half a turn between two leaning tool axes": (
        "two-in-table", turning({"cut": [10, 0, 16], "tool_axis": [0.6, 0, 0.8]}, {"cut": [-10, 0, -16], "tool_axis": [-0.6, 0, -0.8]}),
        "operation 1 'edge', move 4", "half a turn, from [0.6, 0, 0.8] to [-0.6, 0, -0.8]", "put a point between the two",
    ),
    "an x that is not square to its z": (
        "two-in-table", planes({"origin": [0, 0, 18], "z": [0, 0.6, 0.8], "x": [1, 0, 0.2]}),
        "operation 1 'edge', rotary, planes, entry 1", "the plane's x is 80.97 degrees from its z", "make x square to z",
    ),
    "a z that points nowhere": (
        "two-in-table", planes({"origin": [0, 0, 18], "z": [0, 0, 0]}),
        "operation 1 'edge', rotary, planes, entry 1", "the plane's z has no length", "give z as a direction",
    ),
    "a pole that may not be passed": (
        "two-in-table",
        turning({"cut": [-9, 0.5, 19], "tool_axis": [-0.28, 0.02, 0.9597917]}, {"cut": [9, 0.5, 19], "tool_axis": [0.28, 0.02, 0.9597917]}),
        "operation 1 'edge', move 4", "degrees beside the axis of C", 'poles.past = "slow"',
    ),
    "no gauge length for a head": (
        "head-and-table", planes({"origin": [15, 0, 0], "z": [0.96, 0, 0.28]}),
        "tools", "the gauge length of tool 1 is not known", "--tool-length 1=",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", CASES)
def test_it_is_said_where_what_and_what_mends_it_and_nothing_is_written(what: str, tmp_path: Path) -> None:
    machine, operation, place, wrong, cure = CASES[what]
    controller = tmp_path / machine
    controller.mkdir()
    head = 'extends = "rs274ngc"\nspeaks = "a machine of the tests"\ndrop = ["rotary.A"]\n'
    (controller / "controller.toml").write_text(head + MACHINES[machine], encoding="utf-8")
    tool = {"number": 1, "shape": "ball", "diameter": 6, "cutting_length": 14, "length": 50}
    part = {
        "steadyrest_toolpath": 1, "units": "mm", "axis": "X", "stock": ROUND, "tools": [tool],
        "operations": [{"name": "edge", "tool": 1, "spindle": {"rpm": 6000, "turns": "clockwise"}, **operation}],
    }  # fmt: skip
    file, output = tmp_path / "part.toolpath.json", tmp_path / "part.nc"
    file.write_text(json.dumps(part), encoding="utf-8")
    output.write_text("the program of before\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["post", str(file), "--controller", str(controller), "--output", str(output)])
    assert 1 == done.exit_code, done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert f"{file}, {place}" in done.stderr, done.stderr
    said, _, mended = done.stderr.partition("cure: ")
    assert wrong in said
    assert cure in mended
    assert "the program of before\n" == output.read_text(encoding="utf-8")
    assert {"part.toolpath.json", "part.nc", machine} == {each.name for each in tmp_path.iterdir()}
