"""Tables are cut out of a file wherever they stand in it, and nothing else is taken for one."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from toolpath_parts import refusal, table, toolpath, with_table, written

from steadyrest.toolpath import load_toolpath, parse_toolpath, scan


def test_a_table_given_twice_is_refused(tmp_path: Path) -> None:
    text = json.dumps(with_table(table()))
    value = json.dumps(table())
    error = refusal(tmp_path, text.replace(value, f'{value}, "table": {value}'))
    assert "the key 'table' is given twice in one object" == error.wrong


def test_an_object_inside_a_table_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, json.dumps(with_table(table(x={"a": [1]}))))
    assert error.place.line == 1


@pytest.mark.parametrize("between", ["", ",,", ";", ", 5,", ","])
def test_blocks_not_separated_by_one_comma_are_refused(between: str, tmp_path: Path) -> None:
    block = json.dumps(table())
    tail = "" if between == "," else block
    text = json.dumps(with_table("HERE")).replace('"HERE"', f"[{block}{between}{tail}]")
    assert "block 1 of a table is not followed by another block" in refusal(tmp_path, text).wrong


def test_a_text_that_looks_like_a_table_is_a_text(tmp_path: Path) -> None:
    name = 'drum "table": [{"motion": [0]}] \\'
    loaded = load_toolpath(written(tmp_path, toolpath(name=name, operation={"name": "table"})))
    assert (name, "table") == (loaded.name, loaded.operations[0].name)


def test_a_text_in_place_of_a_table_is_refused_even_if_it_looks_like_a_placeholder(tmp_path: Path) -> None:
    digest = hashlib.sha256(b"").hexdigest()
    text = json.dumps(with_table("HERE")).replace("HERE", f"table 0 of {digest}")
    assert "a table is an object of columns" in refusal(tmp_path, text).wrong


@pytest.mark.parametrize("chunk", [7, 8, 64, 1000])
def test_a_table_is_found_wherever_the_chunks_of_reading_end(chunk: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scan, "CHUNK", chunk)
    data = with_table([table(5), table(3)])
    for indent in (None, 3):
        path = written(tmp_path, json.dumps(data, indent=indent))
        loaded = load_toolpath(path)
        assert parse_toolpath(data) == loaded
        assert hashlib.sha256(path.read_bytes()).hexdigest() == loaded.digest


def test_a_long_stretch_of_white_space_is_part_of_the_digest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scan, "CHUNK", 16)
    path = written(tmp_path, json.dumps(with_table(table())).replace('"table":', '"table"' + " " * 200 + ":"))
    assert hashlib.sha256(path.read_bytes()).hexdigest() == load_toolpath(path).digest
