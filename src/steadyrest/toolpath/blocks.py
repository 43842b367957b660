"""How does one block of a table become columns of numbers, and what is wrong with one that does not?"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from steadyrest.errors import Place, ToolpathError
from steadyrest.model_errors import shown
from steadyrest.toolpath.part import BEYOND
from steadyrest.toolpath.table_columns import Block, check_names, check_shape


def block_from_lists(block: Mapping[str, Any], place: Place, first_move: int) -> Block:
    """Columns (n,) float64 from lists of numbers; ToolpathError names the column and the move of the first bad one."""
    check_names(list(block), place, first_move)
    for name, column in block.items():
        here = replace(place, move=first_move, key=f"table, {name}")
        if not isinstance(column, list | tuple | np.ndarray):
            raise ToolpathError(f"found {shown(column)}; a column is a list of numbers", place=here, cure="write a list in [ ]")
        for row, value in enumerate(column):
            if wrong := _not_a_number(value):
                raise ToolpathError(wrong, place=replace(here, move=first_move + row), cure="write a finite number, without quotes")
    columns = {name: np.array(column, dtype=np.float64) for name, column in block.items()}
    check_shape(columns, place, first_move)
    return columns


def _not_a_number(value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float | np.number):
        return f"found {shown(value)}; allowed is a finite number"
    if isinstance(value, int) and not -(2**63) <= value < 2**64:
        return f"found a whole number of {len(str(abs(value)))} digits; allowed is one of up to 64 bits"
    if not np.isfinite(value):
        return "found NaN, Infinity or a number too large; allowed is a finite number"
    if not abs(float(value)) < BEYOND:
        return f"found {value:g}; it has to be less than {BEYOND:g}"
    return ""


def read_blocks(raw_blocks: Iterator[tuple[int, bytes]], place: Place, spot: Callable[[int], Place]) -> Iterator[Block]:
    """The blocks, one after the other, from their bytes.

    `raw_blocks` gives each block's offset in the file and its bytes, `spot` the line and column of an offset.
    One block is held at a time. Its numbers never become Python objects, unless one of them is wrong.
    """
    import simdjson  # only needed for tables, and a start without one should not wait for it

    parser = simdjson.Parser()
    first_move = 1
    for offset, raw in raw_blocks:
        block = _parsed(parser, raw)
        if block is None:
            _explain(raw, offset, place, first_move, spot)
        else:
            yield block
            first_move += len(block["motion"])


def _parsed(parser: Any, raw: bytes) -> Block | None:
    """The columns of a block; None if there is anything wrong with it.

    The lists are cut out and parsed one by one, which keeps the parser small; each leaves a null behind. What is left has
    to be an object with as many nulls as there were lists, and nothing else: then every list was the value of a key.
    """
    columns, left, done = [], [], 0
    try:
        while (start := raw.find(b"[", done)) >= 0:
            end = raw.find(b"]", start) + 1
            column = parser.parse(raw[start:end]).as_buffer(of_type="d")
            columns.append(np.frombuffer(column))
            left.append(raw[done:start])
            done = end
        left.append(raw[done:])
        pairs: list[tuple[str, Any]] = []
        json.loads(b"null".join(left), object_pairs_hook=pairs.extend)
        if len(pairs) != len(columns) or any(value is not None for _, value in pairs):
            return None
        check_names([name for name, _ in pairs], Place(), 1)
        block = {name: column for (name, _), column in zip(pairs, columns, strict=True)}
        check_shape(block, Place(), 1)
    except (ValueError, RuntimeError, TypeError, AttributeError, ToolpathError):
        return None
    return block


def _explain(raw: bytes, offset: int, place: Place, first_move: int, spot: Callable[[int], Place]) -> None:
    """Raise the ToolpathError for a block that simdjson refused: the slow way, value by value."""
    here = replace(place, move=first_move, key="table")

    def at(position: int) -> Place:
        found = spot(offset + position)
        return replace(here, line=found.line, column=found.column)

    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ToolpathError("not UTF-8", place=at(error.start), cure="save the file as UTF-8") from None
    pairs: list[tuple[str, Any]] = []
    try:
        json.loads(text, object_pairs_hook=pairs.extend)
    except json.JSONDecodeError as error:
        raise ToolpathError(
            f"broken JSON inside a table: {error.msg}",
            place=at(len(text[: error.pos].encode())),
            cure="a block of a table is an object of columns, each a list of numbers",
        ) from None
    except (ValueError, RecursionError):
        raise ToolpathError("a number with too many digits, or lists too deep", place=here, cure="write finite numbers") from None
    check_names([name for name, _ in pairs], place, first_move)
    block_from_lists(dict(pairs), place, first_move)
    raise ToolpathError("this block of the table cannot be read", place=at(0), cure="write it as plain JSON")
