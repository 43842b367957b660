"""Tables are cut out of the file, read as numbers, and refused with column, move and file when they are wrong."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from toolpath_parts import CUT, SIMULTANEOUS, STILL, refusal, table, toolpath, with_table, written

from steadyrest.errors import ToolpathError
from steadyrest.toolpath import MoveColumns, Operation, Table, load_toolpath, parse_toolpath, toolpath_text

SLOT = "operation 1 'slot'"
TURNING = SIMULTANEOUS

CASES: dict[str, tuple[Any, dict[str, Any], str, str]] = {
    # what is wrong: the table, the rotary, the place after the file, words of the message
    "an unknown column": (table(fed=[1, 1, 1]), STILL, f"{SLOT}, move 1, table, fed", "unknown key 'fed'; allowed are motion, x, y, z"),
    "a missing column": (table(y=None), STILL, f"{SLOT}, move 1, table, y", "'y' is missing"),
    "columns of different length": (table(x=[0, 1]), STILL, f"{SLOT}, move 1, table", "differ in length: motion 3, x 2"),
    "no moves in it": (table(0, motion=[], z=[], feed=[]), STILL, f"{SLOT}, move 1, table, motion", "found []; it takes at least 1"),
    "no blocks": ([], STILL, f"{SLOT}, table", "the table has no blocks"),
    "a list of numbers": ([1, 2], STILL, f"{SLOT}, table", "found [1, 2]; a table is an object of columns or a list"),
    "motion 2": (table(motion=[0, 1, 2]), STILL, f"{SLOT}, move 3, motion", "motion 2; allowed are 0 rapid, 1 cut"),
    "motion 0.5": (table(motion=[0, 0.5, 1]), STILL, f"{SLOT}, move 2, motion", "motion 0.5"),
    "a null": (table(x=[0, None, 1]), STILL, f"{SLOT}, move 2, table, x", "found null; allowed is a number"),
    "a text": (table(x=[0, 1, "2"]), STILL, f"{SLOT}, move 3, table, x", 'found "2"; allowed is a number'),
    "a true": (table(motion=[0, 1, True]), STILL, f"{SLOT}, move 3, table, motion", "found true"),
    "a list in a column": (table(x=[0, [1], 2]), STILL, f"{SLOT}, move 2, table, x", "found [1]"),
    "lists all over a column": (table(x=[[0], [1], [2]]), STILL, f"{SLOT}, move 1, table, x", "found [0]"),
    "a column that is a number": (table(x=5), STILL, f"{SLOT}, move 1, table, x", "found 5; allowed is a list in square brackets"),
    "a column that is null": (
        table() | {"x": None},
        STILL,
        f"{SLOT}, move 1, table, x",
        "found null; allowed is a list in square brackets",
    ),
    "NaN": (table(y=[0, float("nan"), 0]), STILL, f"{SLOT}, move 2, table, y", "found nan; allowed is a finite number"),
    "Infinity": (table(y=[0, 0, float("inf")]), STILL, f"{SLOT}, move 3, table, y", "found inf; allowed is a finite number"),
    "a whole number of 66 bits": (
        table(y=[0, 2**66, 0]),
        STILL,
        f"{SLOT}, move 2, table, y",
        "found 73786976294838206464; it has to be less than 1e+09",
    ),
    "a feed of zero": (table(feed=[0, 5, 0]), STILL, f"{SLOT}, move 3, feed", "the feed of a cut is 0; it has to be above 0"),
    "a cut before any feed": (table(feed=None), STILL, f"{SLOT}, move 2, feed", "a cut before any feed"),
    "i without j and k": (table(i=[0, 0, 0]), TURNING, f"{SLOT}, move 1, table", "has i but not j and k"),
    "axes in a still operation": (table(axes=True), STILL, f"{SLOT}, move 1, tool_axis", "simultaneous operations only"),
    "no axes in a simultaneous one": (table(), TURNING, f"{SLOT}, move 1, tool_axis", "has no tool axis"),
    "an axis of length zero": (table(axes=True, k=[1, 0, 1]), TURNING, f"{SLOT}, move 2, tool_axis", "length zero"),
    "an axis too short": (table(axes=True, k=[1, 1, 0.99]), TURNING, f"{SLOT}, move 3, tool_axis", "length 0.99"),
    "a bad second block": ([table(), table(x=[0, None, 1])], STILL, f"{SLOT}, move 5, table, x", "found null"),
    "a bad motion in a second block": ([table(), table(motion=[0, 7, 1])], STILL, f"{SLOT}, move 5, motion", "motion 7"),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
@pytest.mark.parametrize("key", ['"table"', '"\\u0074able"'], ids=["cut out of the file", "with an escape in its key"])
def test_is_refused_with_file_column_and_move(key: str, case: tuple[Any, dict[str, Any], str, str], tmp_path: Path) -> None:
    value, rotary, place, wrong = case
    error = refusal(tmp_path, json.dumps(with_table(value, rotary)).replace('"table"', key))
    assert f"{tmp_path / 'part.toolpath.json'}, {place}" == str(error.place)
    assert wrong in error.wrong
    assert error.cure


@pytest.mark.parametrize("number", ["1e999", "-1e999", "1" + "0" * 30])
def test_a_number_too_large_is_refused(number: str, tmp_path: Path) -> None:
    text = json.dumps(with_table(table(x=[0, -12345, 0]))).replace("-12345", number)
    error = refusal(tmp_path, text)
    assert (2, "table, x") == (error.place.move, error.place.key)


@pytest.mark.parametrize("number", ["01", "+1", ".5", "1.", "0x10", "1_0", "nan", "--1"])
def test_a_number_that_is_not_json_is_refused_with_line_and_column(number: str, tmp_path: Path) -> None:
    text = json.dumps(with_table(table(x=[0, -12345, 0]))).replace("-12345", number)
    error = refusal(tmp_path, text)
    assert "broken JSON inside a table" in error.wrong
    assert error.place.line == 1
    assert error.place.column is not None
    assert abs(error.place.column - 1 - text.index(number)) <= len(number) + 1


@pytest.mark.parametrize("column", ['"x": [0, 1, 2] [3]', '"x": null[0, 1, 2]', '"x": -[0, 1, 2]', '"x": "[0, 1, 2]"'])
def test_lists_beside_a_value_are_refused(column: str, tmp_path: Path) -> None:
    text = json.dumps(with_table(table(x=[0, 1, 2]))).replace('"x": [0, 1, 2]', column)
    refusal(tmp_path, text)


def test_a_column_given_twice_is_refused(tmp_path: Path) -> None:
    text = json.dumps(with_table(table(x=[0, 1, 2]))).replace('"x": [0, 1, 2]', '"x": [0, 1, 2], "x": [0, 1, 3]')
    assert "the key 'x' is given twice in one object" == refusal(tmp_path, text).wrong


def runs(operation: Operation) -> list[MoveColumns]:
    return [item for item in operation.stream() if isinstance(item, MoveColumns)]


def test_a_long_table_streams_in_runs_of_25_thousand(tmp_path: Path) -> None:
    operation = load_toolpath(written(tmp_path, with_table(table(70_001)))).operations[0]
    assert [(1, 25_000), (25_001, 25_000), (50_001, 20_001)] == [(run.first_move, len(run)) for run in runs(operation)]


def test_a_long_list_of_moves_streams_in_runs_of_25_thousand() -> None:
    operation = parse_toolpath(toolpath([CUT] * 25_001)).operations[0]
    assert [(1, 25_000), (25_001, 1)] == [(run.first_move, len(run)) for run in runs(operation)]


def test_the_feed_of_a_rapid_in_a_table_is_ignored() -> None:
    (run,) = runs(parse_toolpath(with_table(table(motion=[0, 1, 0], feed=[-5, 300, 0]))).operations[0])
    np.testing.assert_array_equal([np.nan, 300, np.nan], run.feed)


def test_feed_and_tool_axis_hold_from_block_to_block() -> None:
    later = {"motion": [0, 1], "x": [0, 0], "y": [0, 0], "z": [20, 10]}
    _, run = runs(parse_toolpath(with_table([table(axes=True), later], TURNING)).operations[0])
    np.testing.assert_array_equal([np.nan, 300], run.feed)
    np.testing.assert_array_equal([[0, 0, 1], [0, 0, 1]], run.tool_axis)


def test_a_second_pass_over_a_small_file_gives_the_same_runs(tmp_path: Path) -> None:
    operation = load_toolpath(written(tmp_path, with_table(table()))).operations[0]
    assert runs(operation)[0] is runs(operation)[0]


def test_a_second_pass_over_a_large_file_reads_it_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.toolpath.model.KEEP_BYTES", 10)
    operation = load_toolpath(written(tmp_path, with_table(table()))).operations[0]
    (first,), (second,) = runs(operation), runs(operation)
    assert first is not second
    np.testing.assert_array_equal(first.end, second.end)


def test_only_one_block_is_asked_for_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("steadyrest.toolpath.model.KEEP_BYTES", 10)
    path = written(tmp_path, with_table([table(), table(x=[0, None, 1])]))
    stream = load_toolpath(path).operations[0].stream()
    assert isinstance(next(stream), MoveColumns)
    with pytest.raises(ToolpathError, match="found null"):
        next(stream)


def test_columns_of_numpy_build_a_table_that_survives_a_file(tmp_path: Path) -> None:
    n = 120_000
    s = np.arange(n) / 7
    built = Table.from_columns(motion=np.ones(n, dtype=np.uint8), x=s, y=np.sin(s), z=np.cos(s), feed=np.full(n, 1 / 3))
    made = parse_toolpath(with_table(built))
    (tmp_path / "made.toolpath.json").write_text("".join(toolpath_text(made)), encoding="utf-8")
    loaded = load_toolpath(tmp_path / "made.toolpath.json")
    assert made == loaded
    assert 3 == sum(1 for _ in loaded.operations[0].table.blocks())  # type: ignore[union-attr]


def test_a_feed_that_is_no_number_is_taken_for_rapids_in_memory() -> None:
    built = Table.from_columns(motion=[0, 1], x=[0, 0], y=[0, 0], z=[9, 0], feed=[np.nan, 100])
    (run,) = runs(parse_toolpath(with_table(built)).operations[0])
    np.testing.assert_array_equal([np.nan, 100], run.feed)


def test_columns_of_different_length_build_no_table() -> None:
    with pytest.raises(ToolpathError, match="differ in length"):
        Table.from_columns(motion=[0, 1], x=[0], y=[0, 0], z=[9, 0])


def test_tables_that_differ_in_one_number_are_not_equal() -> None:
    one, other = (Table.from_columns(motion=[0, 0], x=[0, x], y=[0, 0], z=[9, 0]) for x in (1, 2))
    assert one != other


def test_the_columns_of_a_table_in_memory_cannot_be_changed() -> None:
    block = next(Table.from_columns(motion=[0], x=[0], y=[0], z=[9]).blocks())
    with pytest.raises(ValueError, match="read-only"):
        block["x"][0] = 1
