"""What is a `table`: moves in columns, in one block or many, in memory or still in the file?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from steadyrest.errors import Place
from steadyrest.toolpath.columns import RAPID, RUN_LENGTH
from steadyrest.toolpath.part import broken_rule
from steadyrest.toolpath.table_columns import AXIS, COLUMNS, REQUIRED, Block, check_shape


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
            "dependentRequired": {name: [other for other in AXIS if other != name] for name in AXIS},
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
    later = (info.context or {}).get("later", {})
    if isinstance(value, str) and isinstance(table := later.get(value), Table):
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
