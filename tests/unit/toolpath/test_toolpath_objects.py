"""JSON that is none, and numbers and texts that no toolpath has, are refused in words that can be printed, with line and column."""

import json
from pathlib import Path

import pytest
from toolpath_parts import CUT, RAPID, refusal, toolpath


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "1" + "0" * 400])
def test_a_number_that_is_not_finite_is_refused(number: str, tmp_path: Path) -> None:
    text = json.dumps(toolpath([RAPID, CUT])).replace("-10", number)
    error = refusal(tmp_path, text)
    assert (1, "slot", 2) == (error.place.operation, error.place.operation_name, error.place.move)
    assert "allowed is a finite number" in error.wrong


def test_a_message_holds_no_control_characters_of_the_file(tmp_path: Path) -> None:
    data = toolpath([{"bad\nkey\x1b[31m": 1}], operation={"name": "two\nlines\x1b"})
    text = str(refusal(tmp_path, data))
    assert "\x1b" not in text
    assert 1 == text.count("\n")  # the one before the cure


def test_half_a_surrogate_pair_is_refused_in_words_that_can_be_printed(tmp_path: Path) -> None:
    error = refusal(tmp_path, '{"\\ud800": 1, "steadyrest_toolpath": 1}')
    assert str(error).encode("utf-8")


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


def test_json_that_is_too_deep_is_refused(tmp_path: Path) -> None:
    assert "too deep" in refusal(tmp_path, "[" * 200_000).wrong


def test_a_number_of_thousands_of_digits_is_refused(tmp_path: Path) -> None:
    assert "thousands of digits" in refusal(tmp_path, '{"steadyrest_toolpath": ' + "1" * 5000 + "}").wrong


def test_a_key_given_twice_is_told_before_a_missing_one(tmp_path: Path) -> None:
    text = json.dumps(toolpath(units=None)).replace('"axis": "X"', '"axis": "X", "axis": "Y"')
    assert "the key 'axis' is given twice in one object" == refusal(tmp_path, text).wrong
