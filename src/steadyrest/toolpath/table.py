"""A table: moves in columns, in one block or many, in memory or still in its file; its blocks read and checked, and the moves they give."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby, zip_longest
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from steadyrest.columns import Bools, Floats
from steadyrest.errors import Place, ToolpathError
from steadyrest.model_errors import nearest, shown
from steadyrest.toolpath.columns import CUT, RAPID, RUN_LENGTH, MoveColumns, unit_axes
from steadyrest.toolpath.parts import BEYOND, LEAST, broken_rule, printable
from steadyrest.toolpath.scan import read_json

COLUMNS = {
    "motion": "0 rapid, 1 cut.",
    "x": "End points, in `units`.",
    "y": "End points, in `units`.",
    "z": "End points, in `units`.",
    "i": "Tool axis, unit vector from the tip towards the spindle; simultaneous operations only, with j and k.",
    "j": "Tool axis, see i.",
    "k": "Tool axis, see i.",
    "feed": "Feed of each cut, in `units` per minute; of a rapid ignored. Left out, the feed in force holds.",
}
"""The columns of a table block and what they hold."""
REQUIRED = ("motion", "x", "y", "z")
AXIS = ("i", "j", "k")
BLOCK_LENGTH = 50_000
"""Moves in one block of a table, as it is written."""

Block = dict[str, Floats]
"""One block: the columns that it has, each (n,) float64."""


class Table:
    """Moves in columns. `Table.from_columns` and `Table.from_blocks` build one in memory; loading builds one on a file."""

    __slots__ = ("_read", "in_memory")

    def __init__(self, read: Callable[[Place], Iterator[Block]], *, in_memory: bool) -> None:
        self._read = read
        self.in_memory = in_memory

    @classmethod
    def from_columns(cls, **columns: ArrayLike) -> Table:
        """A table of one block from columns of equal length n; names and meanings as in the file, feed of a rapid ignored."""
        return cls.from_blocks([columns])

    @classmethod
    def from_blocks(cls, blocks: Iterable[Mapping[str, ArrayLike]], *, copy: bool = True) -> Table:
        """A table of several blocks, one going on where the last ended; names of columns as in the file.

        copy     False where nobody changes the columns any more: those that are float64 are kept as they are
        """
        keep = np.array if copy else np.asarray
        kept = [{name: keep(column, dtype=np.float64) for name, column in block.items()} for block in blocks]
        first_move = 1
        for block in kept:
            _check_shape(block, Place(move=first_move))
            first_move += len(block["motion"])
            if "feed" in block:  # ignored on rapids, so it may be anything there; in a file it has to be a number
                unsaid = (block["motion"] == RAPID) & ~np.isfinite(block["feed"])
                if unsaid.any():
                    block["feed"] = np.where(unsaid, 0.0, block["feed"])
            for name, column in block.items():
                block[name] = column[:]
                block[name].flags.writeable = False
        return cls(lambda place: iter(kept), in_memory=True)

    def blocks(self, place: Place | None = None) -> Iterator[Block]:
        """The blocks in order, as they were given; ToolpathError at `place` for one that cannot be read."""
        return self._read(place if place is not None else Place())

    def even_blocks(self) -> Iterator[Block]:
        """The same rows in blocks of BLOCK_LENGTH, or fewer where the set of columns changes and at the end."""
        for _, alike in groupby(self.blocks(), key=sorted):
            gathered: list[Block] = []
            rows = 0
            for block in alike:
                start, n = 0, len(block["motion"])
                while start < n:
                    stop = min(n, start + BLOCK_LENGTH - rows)
                    gathered.append({name: column[start:stop] for name, column in block.items()})
                    rows, start = rows + stop - start, stop
                    if rows == BLOCK_LENGTH:
                        yield _joined(gathered)
                        gathered, rows = [], 0
            if gathered:
                yield _joined(gathered)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Table):
            return NotImplemented
        nothing: Block = {}
        pairs = zip_longest(self.even_blocks(), other.even_blocks(), fillvalue=nothing)
        return all(a.keys() == b.keys() and all(np.array_equal(a[name], b[name]) for name in a) for a, b in pairs)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Table({'in memory' if self.in_memory else 'in its file'})"

    @classmethod
    def __get_pydantic_core_schema__(cls, _source: Any, _handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            _table,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda table: [{name: column.tolist() for name, column in b.items()} for b in table.even_blocks()]
            ),
        )

    @classmethod
    def __get_pydantic_json_schema__(cls, _core: CoreSchema, _handler: GetJsonSchemaHandler) -> dict[str, Any]:
        items: dict[str, Any] = {"motion": {"enum": [0, 1]}}
        block = {
            "type": "object",
            "description": "Moves in columns of equal length.",
            "properties": {
                name: {"description": text, "type": "array", "minItems": 1, "items": items.get(name, {"type": "number"})}
                for name, text in COLUMNS.items()
            },
            "required": list(REQUIRED),
            "additionalProperties": False,
            "dependentRequired": {name: [other for other in AXIS if other != name] for name in AXIS},
        }
        text = "Blocks of some 50,000 moves, one going on where the last ended."
        return {"anyOf": [block, {"type": "array", "description": text, "minItems": 1, "items": block}]}


def _joined(blocks: list[Block]) -> Block:
    return {name: np.concatenate([block[name] for block in blocks]) for name in blocks[0]}


def _table(value: Any, info: core_schema.ValidationInfo) -> Table:
    """A Table as it is; that of a placeholder from the file being loaded; or plain objects of columns."""
    later = (info.context or {}).get("later", {})
    found = later.get(value) if isinstance(value, str) else value
    if isinstance(found, Table):
        return found
    blocks = [value] if isinstance(value, Mapping) else value
    if not isinstance(blocks, Sequence) or isinstance(blocks, str) or not all(isinstance(b, Mapping) for b in blocks):
        raise broken_rule(
            f"found {value!r:.60}; a table is an object of columns or a list of such objects",
            'write {"motion": [...], "x": [...], "y": [...], "z": [...], "feed": [...]}',
        )
    if not blocks:
        raise broken_rule("the table has no blocks", "give at least one block of columns, or leave the operation out")

    def read(place: Place) -> Iterator[Block]:
        first_move = 1
        for block in blocks:
            yield (columns := _from_lists([*block.items()], replace(place, move=first_move)))
            first_move += len(columns["motion"])

    return Table(read, in_memory=True)


def _check_names(names: Sequence[str], place: Place) -> None:
    """ToolpathError unless these are the names of a block's columns, each once, none missing."""

    def wrong(name: str, wrong: str, cure: str) -> ToolpathError:
        return ToolpathError(wrong, place=replace(place, key=f"table, {printable(name)}"), cure=cure)

    for name in names:
        if name not in COLUMNS:
            close = nearest(name, COLUMNS)
            says = f"a table has no column '{printable(name)}'; allowed are {', '.join(COLUMNS)}"
            raise wrong(name, says, f"did you mean '{close[0]}'?" if close else "take the column out")
        if names.count(name) > 1:
            raise wrong(name, f"the column '{name}' is given twice in one table", "keep one of the two")
    for name in REQUIRED:
        if name not in names:
            raise wrong(name, f"the table has no column '{name}'; it needs {', '.join(REQUIRED)}, and feed for its cuts", "add the column")
    found = [name for name in AXIS if name in names]
    if found and len(found) < 3:
        says = f"the table has {' and '.join(found)} but not {' and '.join(n for n in AXIS if n not in found)}"
        raise wrong(found[0], says, "a tool axis needs the three columns i, j and k, or none of them")


def _check_shape(block: Mapping[str, Floats], place: Place) -> None:
    """ToolpathError unless the names are right and the columns are of one length, not empty."""
    _check_names(list(block), place)
    here = replace(place, key="table")
    lengths = {name: column.shape for name, column in block.items()}
    if len(set(lengths.values())) > 1 or any(len(shape) != 1 for shape in lengths.values()):
        raise ToolpathError(
            "the columns of the table differ in length: "
            + ", ".join(f"{name} {'x'.join(map(str, shape)) or 'none'}" for name, shape in lengths.items()),
            place=here,
            cure="every column holds one number for every move",
        )
    if not len(block["motion"]):
        raise ToolpathError("the table has no moves", place=here, cure="give moves, or leave the block out")


def _from_lists(pairs: Sequence[tuple[str, Any]], place: Place) -> Block:
    """Columns (n,) float64 from names and lists of numbers; ToolpathError names the column and the move of the first bad one."""
    _check_names([name for name, _ in pairs], place)
    for name, column in pairs:
        here = replace(place, key=f"table, {name}")
        if not isinstance(column, list | tuple | np.ndarray):
            raise ToolpathError(f"found {shown(column)}; a column is a list of numbers", place=here, cure="write a list in [ ]")
        for row, value in enumerate(column):
            if wrong := _not_a_number(value):
                raise ToolpathError(wrong, place=replace(here, move=(place.move or 1) + row), cure="write a finite number, without quotes")
    columns = {name: np.array(column, dtype=np.float64) for name, column in pairs}
    _check_shape(columns, place)
    return columns


def _not_a_number(value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float | np.number):
        return f"found {shown(value)}; allowed is a finite number"
    if isinstance(value, int) and not -(2**63) <= value < 2**64:
        return f"found a whole number of {len(str(abs(value)))} digits; allowed is one of up to 64 bits"
    if not np.isfinite(value):
        return "found NaN, Infinity or a number too large; allowed is a finite number"
    return "" if abs(float(value)) < BEYOND else f"found {value:g}; it has to be less than {BEYOND:g}"


def read_blocks(raw_blocks: Iterator[tuple[int, bytes]], place: Place, spot: Callable[[int], Place]) -> Iterator[Block]:
    """The blocks, one after the other, from their bytes.

    `raw_blocks` gives each block's offset in the file and its bytes, `spot` the line and column of an offset.
    One block is held at a time. Its numbers never become Python objects, unless one of them is wrong.
    """
    import simdjson  # only needed for tables, and a start without one should not wait for it

    parser = simdjson.Parser()
    first_move = 1
    for offset, raw in raw_blocks:
        here = replace(place, move=first_move)
        yield (block := _parsed(parser, raw) or _from_lists(_slowly(raw, offset, here, spot), here))
        first_move += len(block["motion"])


def _parsed(parser: Any, raw: bytes) -> Block | None:
    """The columns of a block; None if there is anything wrong with it.

    The lists are cut out and parsed one by one, which keeps the parser small; each leaves a null behind. What is left has
    to be an object with as many nulls as there were lists, and nothing else: then every list was the value of a key.
    """
    columns, left, done = [], [], 0
    pairs: list[tuple[str, Any]] = []
    try:
        while (start := raw.find(b"[", done)) >= 0:
            end = raw.find(b"]", start) + 1
            columns.append(np.frombuffer(parser.parse(raw[start:end]).as_buffer(of_type="d")))
            left.append(raw[done:start])
            done = end
        json.loads(b"null".join([*left, raw[done:]]), object_pairs_hook=pairs.extend)
        block = {name: column for (name, _), column in zip(pairs, columns, strict=True)}
        if len(block) < len(pairs) or any(value is not None for _, value in pairs):
            return None
        _check_shape(block, Place())
    except (ValueError, RuntimeError, TypeError, AttributeError, ToolpathError):
        return None
    return block


def _slowly(raw: bytes, offset: int, place: Place, spot: Callable[[int], Place]) -> list[tuple[str, Any]]:
    """The names and values of a block that simdjson refused; ToolpathError with line and column where it is no JSON."""

    def at(position: int) -> Place:
        found = spot(offset + position)
        return replace(place, key="table", line=found.line, column=found.column)

    pairs: list[tuple[str, Any]] = []
    read_json(raw, pairs.extend, at, " inside a table", "a block of a table is an object of columns, each a list of numbers")
    return pairs


def stream_table(table: Table, *, simultaneous: bool, place: Place) -> Iterator[MoveColumns]:
    """The moves of a table in runs of columns; ToolpathError with the number of the move, counted over all blocks."""
    first_move = 1
    feed, axis = float("nan"), np.empty((0, 3))
    for block in table.blocks(place):
        _check_shape(block, replace(place, move=first_move))
        for start in range(0, len(block["motion"]), RUN_LENGTH):
            rows = {name: column[start : start + RUN_LENGTH] for name, column in block.items()}
            run = _run(rows, simultaneous, place, first_move, feed, axis)
            cuts = np.flatnonzero(run.kind == CUT)
            if len(cuts):
                feed = float(run.feed[cuts[-1]])
            if run.tool_axis is not None:
                axis = run.tool_axis[-1:].copy()
            first_move += len(run)
            yield run


def _run(block: Block, simultaneous: bool, place: Place, first_move: int, feed_before: float, axis_before: Floats) -> MoveColumns:
    """The rows of a block as they stand; a feed of NaN and an axis of no row where none came before."""

    def refuse(bad: Bools, key: str, wrong: str, cure: str) -> None:
        if bad.any():
            row = int(np.argmax(bad))
            found = f"{block[key][row]:g}" if key in block else ""
            raise ToolpathError(wrong.format(found=found), place=replace(place, move=first_move + row, key=key), cure=cure)

    for name, column in block.items():
        refuse(~(np.abs(column) < BEYOND), name, f"{{found}} is not a finite number below {BEYOND:g}", "correct it")
    motion = block["motion"]
    refuse((motion != RAPID) & (motion != CUT), "motion", "motion {found}; allowed are 0 rapid, 1 cut", "write 0 or 1")
    kind = motion.astype(np.uint8)
    cut = kind == CUT
    if "feed" in block:
        refuse(cut & (block["feed"] < LEAST), "feed", "the feed of a cut is {found}; it has to be above 0, at least 1e-09", "correct it")
    elif feed_before != feed_before:
        refuse(cut, "feed", "a cut before any feed in this operation", "add the column feed to the table")
    feed = np.where(cut, block.get("feed", feed_before), np.nan)
    tool_axis: Floats | None = None
    wrong = cure = ""
    if "i" in block and not simultaneous:
        wrong = "columns i, j, k are allowed in simultaneous operations only"
        cure = "leave them out, or give the operation the rotary intent 'simultaneous'"
    elif "i" in block:
        tool_axis = unit_axes(np.column_stack([block[name] for name in AXIS]), place, first_move)
    elif simultaneous and not len(axis_before):
        wrong = "no tool axis: the table of a simultaneous operation has no columns i, j, k"
        cure = "add the columns i, j and k: unit vectors from the tip towards the spindle"
    elif simultaneous:
        tool_axis = np.repeat(axis_before, len(kind), axis=0)
    if wrong:
        raise ToolpathError(wrong, place=replace(place, move=first_move, key="table, i"), cure=cure)
    return MoveColumns(first_move, kind, np.column_stack([block[name] for name in "xyz"]), tool_axis, feed)
