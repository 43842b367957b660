"""What is a `table`: moves in columns, in one block or many, in memory or still in the file?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath.columns import CUT, RAPID, RUN_LENGTH, Floats, MoveColumns, unit_axes
from steadyrest.toolpath.part import broken_rule, printable

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
_AXIS = ("i", "j", "k")

Block = dict[str, Floats]
"""One block: the columns that it has, each (n,) float64."""


class Table:
    """Moves in columns. `Table.from_columns` and `Table.from_blocks` build one in memory; loading builds one on a file."""

    __slots__ = ("_read", "in_memory")

    def __init__(self, read: Callable[[Place], Iterator[Block]], *, in_memory: bool) -> None:
        self._read = read
        self.in_memory = in_memory

    @classmethod
    def from_columns(
        cls,
        *,
        motion: ArrayLike,
        x: ArrayLike,
        y: ArrayLike,
        z: ArrayLike,
        i: ArrayLike | None = None,
        j: ArrayLike | None = None,
        k: ArrayLike | None = None,
        feed: ArrayLike | None = None,
    ) -> Table:
        """A table of one block from columns of equal length n; meanings as in the file, feed of a rapid ignored."""
        given = {"motion": motion, "x": x, "y": y, "z": z, "i": i, "j": j, "k": k, "feed": feed}
        return cls.from_blocks([{name: column for name, column in given.items() if column is not None}])

    @classmethod
    def from_blocks(cls, blocks: Iterable[Mapping[str, ArrayLike]], *, copy: bool = True) -> Table:
        """A table of several blocks, one going on where the last ended; names of columns as in the file.

        copy     False where nobody changes the columns any more: those that are float64 are kept as they are
        """
        keep = np.array if copy else np.asarray
        kept = [{name: keep(column, dtype=np.float64) for name, column in block.items()} for block in blocks]
        first_move = 1
        for block in kept:
            check_shape(block, Place(), first_move)
            first_move += len(block["motion"])
        for block in kept:
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
        """The same rows in blocks of RUN_LENGTH, or fewer where the set of columns changes and at the end."""
        gathered: list[Block] = []
        rows = 0
        for block in self.blocks():
            start, n = 0, len(block["motion"])
            if gathered and gathered[0].keys() != block.keys():
                yield _joined(gathered)
                gathered, rows = [], 0
            while start < n:
                stop = min(n, start + RUN_LENGTH - rows)
                gathered.append({name: column[start:stop] for name, column in block.items()})
                rows += stop - start
                start = stop
                if rows == RUN_LENGTH:
                    yield _joined(gathered)
                    gathered, rows = [], 0
        if gathered:
            yield _joined(gathered)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Table):
            return NotImplemented
        mine, theirs = self.even_blocks(), other.even_blocks()
        end: Block = {}
        while True:
            a, b = next(mine, end), next(theirs, end)
            if a.keys() != b.keys() or any(not np.array_equal(a[name], b[name]) for name in a):
                return False
            if not a:
                return True

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return f"Table({'in memory' if self.in_memory else 'in its file'})"

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            _table,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda table: [{name: column.tolist() for name, column in b.items()} for b in table.even_blocks()]
            ),
        )

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        properties: dict[str, Any] = {
            name: {
                "description": text,
                "type": "array",
                "minItems": 1,
                "items": {"enum": [0, 1]} if name == "motion" else {"type": "number"},
            }
            for name, text in COLUMNS.items()
        }
        block = {
            "type": "object",
            "description": "Moves in columns of equal length.",
            "properties": properties,
            "required": list(REQUIRED),
            "additionalProperties": False,
            "dependentRequired": {name: [other for other in _AXIS if other != name] for name in _AXIS},
        }
        blocks = {
            "type": "array",
            "description": "Blocks of some 50,000 moves, one going on where the last ended.",
            "minItems": 1,
            "items": block,
        }
        return {"anyOf": [block, blocks]}


def _table(value: Any, info: core_schema.ValidationInfo) -> Table:
    """A Table as it is; a placeholder from the file being loaded; or plain objects of columns."""
    if isinstance(value, Table):
        return value
    if isinstance(value, str) and info.context is not None and value in info.context["tables"]:
        table: Table = info.context["tables"][value]
        return table
    blocks = [value] if isinstance(value, Mapping) else value
    if not isinstance(blocks, Sequence) or isinstance(blocks, str) or not all(isinstance(b, Mapping) for b in blocks):
        raise broken_rule(
            f"found {value!r:.60}; a table is an object of columns or a list of such objects",
            'write {"motion": [...], "x": [...], "y": [...], "z": [...], "feed": [...]}',
        )
    if not blocks:
        raise broken_rule("the table has no blocks", "give at least one block of columns, or leave the operation out")

    def read(place: Place) -> Iterator[Block]:
        from steadyrest.toolpath.blocks import block_from_lists

        first_move = 1
        for block in blocks:
            yield (columns := block_from_lists(block, place, first_move))
            first_move += len(columns["motion"])

    return Table(read, in_memory=True)


def _joined(blocks: list[Block]) -> Block:
    if len(blocks) == 1:
        return blocks[0]
    return {name: np.concatenate([block[name] for block in blocks]) for name in blocks[0]}


def check_names(names: Sequence[str], place: Place, first_move: int) -> None:
    """ToolpathError unless these are the names of a block's columns, each once, none missing."""
    here = replace(place, move=first_move)
    for name in names:
        if name not in COLUMNS:
            from steadyrest.toolpath.wording import nearest

            raise ToolpathError(
                f"a table has no column '{printable(name)}'; allowed are {', '.join(COLUMNS)}",
                place=replace(here, key=f"table, {printable(name)}"),
                cure=nearest(name, COLUMNS) or "take the column out",
            )
        if names.count(name) > 1:
            raise ToolpathError(
                f"the column '{name}' is given twice in one table",
                place=replace(here, key=f"table, {printable(name)}"),
                cure="keep one of the two",
            )
    for name in REQUIRED:
        if name not in names:
            raise ToolpathError(
                f"the table has no column '{name}'; it needs {', '.join(REQUIRED)}, and feed for its cuts",
                place=replace(here, key=f"table, {printable(name)}"),
                cure="add the column",
            )
    found = [name for name in _AXIS if name in names]
    if found and len(found) < 3:
        raise ToolpathError(
            f"the table has {' and '.join(found)} but not {' and '.join(n for n in _AXIS if n not in found)}",
            place=replace(here, key="table, " + found[0]),
            cure="a tool axis needs the three columns i, j and k, or none of them",
        )


def check_shape(block: Mapping[str, Floats], place: Place, first_move: int) -> None:
    """ToolpathError unless the names are right and the columns are of one length, not empty."""
    check_names(list(block), place, first_move)
    here = replace(place, move=first_move)
    lengths = {name: column.shape for name, column in block.items()}
    if len(set(lengths.values())) > 1 or any(len(shape) != 1 for shape in lengths.values()):
        raise ToolpathError(
            "the columns of the table differ in length: "
            + ", ".join(f"{name} {'x'.join(map(str, shape)) or 'none'}" for name, shape in lengths.items()),
            place=replace(here, key="table"),
            cure="every column holds one number for every move",
        )
    if not len(block["motion"]):
        raise ToolpathError("the table has no moves", place=replace(here, key="table"), cure="give moves, or leave the block out")


def stream_table(table: Table, *, simultaneous: bool, place: Place) -> Iterator[MoveColumns]:
    """The moves of a table in runs of columns; ToolpathError with the number of the move, counted over all blocks."""
    first_move = 1
    feed: float | None = None
    axis: Floats | None = None
    for block in table.blocks(place):
        check_shape(block, place, first_move)
        for start in range(0, len(block["motion"]), RUN_LENGTH):  # short runs stay in the processor's cache
            rows = {name: column[start : start + RUN_LENGTH] for name, column in block.items()}
            columns = _checked(rows, simultaneous, place, first_move, feed, axis)
            cuts = np.flatnonzero(columns.kind == CUT)
            if len(cuts):
                feed = float(columns.feed[cuts[-1]])
            if columns.tool_axis is not None:
                axis = columns.tool_axis[-1:].copy()
            first_move += len(columns)
            yield columns


def _checked(
    block: Block, simultaneous: bool, place: Place, first_move: int, feed_before: float | None, axis: Floats | None
) -> MoveColumns:
    def refuse(bad: np.ndarray[Any, Any], key: str, wrong: str, cure: str) -> None:
        if bad.any():
            row = int(np.argmax(bad))
            found = f"{block[key][row]:g}" if key in block else ""
            raise ToolpathError(wrong.format(found=found), place=replace(place, move=first_move + row, key=key), cure=cure)

    for name, column in block.items():
        refuse(~np.isfinite(column), name, "{found} is not a finite number", "write a number")
    motion = block["motion"]
    n = len(motion)
    refuse((motion != RAPID) & (motion != CUT), "motion", "motion {found}; allowed are 0 rapid, 1 cut", "write 0 or 1")
    kind = motion.astype(np.uint8)
    cut = kind == CUT
    if "feed" in block:
        refuse(cut & (block["feed"] <= 0.0), "feed", "the feed of a cut is {found}; it has to be above 0", "correct it")
        feed = np.where(cut, block["feed"], np.nan)
    else:
        if feed_before is None:
            refuse(cut, "feed", "a cut before any feed in this operation", "add the column feed to the table")
        feed = np.where(cut, feed_before if feed_before is not None else np.nan, np.nan)
    end = np.empty((n, 3))
    for at, name in enumerate("xyz"):
        end[:, at] = block[name]
    tool_axis: Floats | None = None
    if "i" in block:
        if not simultaneous:
            raise ToolpathError(
                "columns i, j, k are allowed in simultaneous operations only",
                place=replace(place, move=first_move, key="table, i"),
                cure="leave them out, or give the operation the rotary intent 'simultaneous'",
            )
        tool_axis = np.empty((n, 3))
        for at, name in enumerate(_AXIS):
            tool_axis[:, at] = block[name]
        tool_axis = unit_axes(tool_axis, place, first_move)
    elif simultaneous:
        if axis is None:
            raise ToolpathError(
                "the tool axis is not known yet: the table of a simultaneous operation has no columns i, j, k",
                place=replace(place, move=first_move, key="table, i"),
                cure="add the columns i, j and k: unit vectors from the tip towards the spindle",
            )
        tool_axis = np.repeat(axis, n, axis=0)
    return MoveColumns(first_move=first_move, kind=kind, end=end, tool_axis=tool_axis, feed=feed)
