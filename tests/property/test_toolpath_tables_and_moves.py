"""What holds for every toolpath: one meaning in moves and table, and nothing lost in a file."""

import copy
import json
import math
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from steadyrest.conventions import PLANE_AXES
from steadyrest.testing import table_of, toolpath_data, toolpaths
from steadyrest.toolpath import (
    ARC_CLOCKWISE,
    Holes,
    MoveColumns,
    Table,
    Toolpath,
    load_toolpath,
    parse_toolpath,
    toolpath_text,
)

COLUMNS = ("kind", "end", "tool_axis", "feed")


def only_run(toolpath: Toolpath) -> MoveColumns:
    (run,) = toolpath.operations[0].stream()
    assert isinstance(run, MoveColumns)
    return run


def assert_same_run(expected: MoveColumns, actual: MoveColumns) -> None:
    assert expected.first_move == actual.first_move
    for name in COLUMNS:
        one, other = getattr(expected, name), getattr(actual, name)
        if one is None:
            assert other is None
        else:
            np.testing.assert_array_equal(one, other, err_msg=name)
    assert expected.arcs is actual.arcs is None


def of_one_operation(data: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The toolpath with its first operation only, changed."""
    changed = copy.deepcopy(data)
    operation = {key: value for key, value in changed["operations"][0].items() if key not in ("moves", "table")}
    return {**changed, "operations": [{**operation, **changes}]}


only_motion = toolpath_data(arcs=False, events=False, most_operations=1)


def moves_of(data: dict[str, Any]) -> list[dict[str, Any]]:
    operation = data["operations"][0]
    assume("moves" in operation)
    moves: list[dict[str, Any]] = operation["moves"]
    return moves


@given(only_motion)
def test_a_table_means_what_the_same_moves_mean(data: dict[str, Any]) -> None:
    table = table_of(moves_of(data))
    assert_same_run(only_run(parse_toolpath(data)), only_run(parse_toolpath(of_one_operation(data, table=table))))


@given(only_motion, st.data())
def test_a_table_in_blocks_means_what_one_table_means(data: dict[str, Any], draws: st.DataObject) -> None:
    table = table_of(moves_of(data))
    split = draws.draw(st.integers(1, len(table["motion"]) - 1))
    blocks = [{name: column[at] for name, column in table.items()} for at in (slice(split), slice(split, None))]
    whole = only_run(parse_toolpath(of_one_operation(data, table=table)))
    first, second = parse_toolpath(of_one_operation(data, table=blocks)).operations[0].stream()
    assert isinstance(first, MoveColumns)
    assert isinstance(second, MoveColumns)
    assert_same_run(whole.rows(0, split), first)
    assert_same_run(whole.rows(split, len(whole)), second)


@given(only_motion)
def test_a_table_read_from_a_file_means_what_it_means_in_memory(data: dict[str, Any]) -> None:
    changed = of_one_operation(data, table=table_of(moves_of(data)))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.toolpath.json"
        path.write_text(json.dumps(changed))
        assert_same_run(only_run(parse_toolpath(changed)), only_run(load_toolpath(path)))


@given(only_motion)
def test_a_table_from_numpy_columns_equals_the_table_of_the_file(data: dict[str, Any]) -> None:
    table = table_of(moves_of(data))
    parsed = parse_toolpath(of_one_operation(data, table=table)).operations[0].table
    assert Table.from_columns(**table) == parsed


@settings(deadline=None)
@given(toolpaths())
def test_a_dumped_toolpath_loads_as_the_same(toolpath: Toolpath) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.toolpath.json"
        path.write_text("".join(toolpath_text(toolpath)), encoding="utf-8")
        loaded = load_toolpath(path)
        assert toolpath == loaded
        assert toolpath.digest == loaded.digest


@given(toolpaths(intents=("indexed", "wrapped", "still"), events=False))
def test_turning_the_start_of_an_arc_by_its_sweep_gives_its_end(toolpath: Toolpath) -> None:
    for operation in toolpath.operations:
        (run,) = operation.stream()
        assert isinstance(run, MoveColumns)
        arcs = run.arcs
        if arcs is None:
            continue
        for row in np.flatnonzero(run.kind >= ARC_CLOCKWISE):
            a, b, third = PLANE_AXES[arcs.plane[row]]
            centre, start, end, sweep = arcs.centre[row], run.end[row - 1], run.end[row], arcs.sweep_rad[row]
            u, v = start[a] - centre[a], start[b] - centre[b]
            turned = (u * math.cos(sweep) - v * math.sin(sweep), u * math.sin(sweep) + v * math.cos(sweep))
            np.testing.assert_allclose((end[a] - centre[a], end[b] - centre[b]), turned, atol=2e-5)
            assert start[third] == centre[third]
            assert (sweep < 0) == (run.kind[row] == ARC_CLOCKWISE)


@given(toolpaths())
def test_moves_are_numbered_without_gap_over_runs_and_events(toolpath: Toolpath) -> None:
    for operation in toolpath.operations:
        number = 1
        for item in operation.stream():
            if isinstance(item, Holes):
                assert item.move.tolist() == list(range(number, number + len(item)))
            else:
                assert number == (item.first_move if isinstance(item, MoveColumns) else item.move)
            number += len(item) if isinstance(item, MoveColumns | Holes) else 1
        assert operation.moves is None or number == len(operation.moves) + 1
