"""A file that is no toolpath file is refused with the line and column where it goes wrong."""

import json
import os
from pathlib import Path

import pytest
from toolpath_parts import refusal, table, toolpath, with_table, written

from steadyrest.errors import ToolpathError
from steadyrest.toolpath import load_toolpath


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


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    assert "the file is empty" == refusal(tmp_path, "").wrong


def test_bytes_that_are_not_utf8_are_refused_with_their_place(tmp_path: Path) -> None:
    error = refusal(tmp_path, b'{\n "name": "\xff"}')
    assert ("the file is not UTF-8", 2, 11) == (error.wrong, error.place.line, error.place.column)


def test_a_byte_order_mark_is_left_out_and_places_hold(tmp_path: Path) -> None:
    error = refusal(tmp_path, b"\xef\xbb\xbf{\n !}")
    assert (2, 2) == (error.place.line, error.place.column)


def test_broken_json_is_refused_with_line_and_column(tmp_path: Path) -> None:
    error = refusal(tmp_path, '{\n  "name": "vé",\n  "units" "mm"\n}')
    assert "broken JSON: expecting ':' delimiter" == error.wrong
    assert (3, 11) == (error.place.line, error.place.column)


def test_broken_json_after_a_table_is_refused_with_its_line_in_the_file(tmp_path: Path) -> None:
    lines = json.dumps(with_table([table(), table()]), indent=1) + "\n!"
    error = refusal(tmp_path, lines)
    assert (lines.count("\n") + 1, 1) == (error.place.line, error.place.column)


def test_a_file_cut_short_inside_a_table_is_refused(tmp_path: Path) -> None:
    text = json.dumps(with_table(table()))
    error = refusal(tmp_path, text[: text.index('"feed"')])
    assert "the file ends inside this table" in error.wrong
    assert (1, text.index('{"motion"') + 1) == (error.place.line, error.place.column)


def test_json_that_is_too_deep_is_refused(tmp_path: Path) -> None:
    assert "too deep" in refusal(tmp_path, "[" * 200_000).wrong


def test_a_number_of_thousands_of_digits_is_refused(tmp_path: Path) -> None:
    assert "thousands of digits" in refusal(tmp_path, '{"steadyrest_toolpath": ' + "1" * 5000 + "}").wrong


def test_a_file_that_changes_between_loading_and_streaming_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path, with_table(table()))
    toolpath_ = load_toolpath(path)
    written(tmp_path, with_table(table(4)))
    with pytest.raises(ToolpathError, match="the file changed while it was being read"):
        list(toolpath_.operations[0].stream())
