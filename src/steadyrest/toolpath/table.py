"""A table: moves in columns, in one block or many, in memory or still in its file; its blocks read and checked, and the moves they give."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Sized
from dataclasses import replace
from functools import partial
from typing import Annotated, Any, Self

import numpy as np
from numpy.typing import ArrayLike
from pydantic import ConfigDict, Field, GetCoreSchemaHandler, ValidationError, ValidationInfo, WrapValidator, model_validator
from pydantic_core import CoreSchema, core_schema

from steadyrest.columns import Floats
from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath.columns import CUT, RAPID, RUN_LENGTH, MoveColumns, Standing, refuse
from steadyrest.toolpath.objects import Keys, Pieces, Spot, key_of, read_json, refusal
from steadyrest.toolpath.parts import BEYOND, LEAST, Number, Part, broken_rule

AXIS = ("i", "j", "k")
BLOCK_LENGTH = 50_000
"""Most moves in one block of a table, as it is written."""

Block = dict[str, Floats]
"""One block: the columns that it has, each (n,) float64."""


def _column(values: Any, handler: Callable[[Any], Any]) -> Floats:
    return np.asarray(values if isinstance(values, np.ndarray) else handler(values), dtype=np.float64)


Column = Annotated[list[Number], Field(min_length=1), WrapValidator(_column)]


class Columns(Part):
    """Moves in columns of equal length."""

    model_config = ConfigDict(json_schema_extra={"dependentRequired": {name: [other for other in AXIS if other != name] for name in AXIS}})

    motion: Column = Field(description="0 rapid, 1 cut.", json_schema_extra={"items": {"enum": [0, 1]}})
    x: Column = Field(description="End points, in `units`.")
    y: Column = Field(description="End points, in `units`.")
    z: Column = Field(description="End points, in `units`.")
    i: Column | None = Field(
        default=None, description="Tool axis, unit vector from the tip towards the spindle; simultaneous operations only, with j and k."
    )
    j: Column | None = Field(default=None, description="Tool axis, see i.")
    k: Column | None = Field(default=None, description="Tool axis, see i.")
    feed: Column | None = Field(
        default=None, description="Feed of each cut, in `units` per minute; of a rapid ignored. Left out, the feed in force holds."
    )

    @model_validator(mode="after")
    def _fit(self) -> Self:
        shapes = {name: np.shape(column) for name, column in self if column is not None}
        if len(set(shapes.values())) > 1 or len(shapes["motion"]) != 1:
            listed = ", ".join(f"{name} {'x'.join(map(str, shape)) or 'none'}" for name, shape in shapes.items())
            raise broken_rule(f"the columns of the table differ in length: {listed}", "every column holds one number for every move")
        if not shapes["motion"][0]:
            raise broken_rule("the table has no moves", "give moves, or leave the block out")
        there, missing = ([name for name in AXIS if (name in shapes) == given] for given in (True, False))
        if there and missing:
            says = f"the table has {' and '.join(there)} but not {' and '.join(missing)}"
            raise broken_rule(says, "a tool axis needs the three columns i, j and k, or none of them")
        return self


def _block(columns: Any, place: Place) -> Block:
    """The block of these columns; ToolpathError with column and move, the first of which is that of `place`."""
    try:
        return {name: column for name, column in Columns.model_validate(columns) if column is not None}
    except ValidationError as error:

        def where(keys: Keys) -> Place:
            row = keys[1] if len(keys) > 1 else 0
            return replace(place, key=key_of(("table", *keys[:1])), move=(place.move or 1) + int(row))

        raise refusal(error, Columns, where) from None


class Table:
    """Moves in columns. `Table.from_columns` and `Table.from_blocks` build one in memory; loading builds one on a file."""

    __slots__ = ("_read", "in_memory", "moves")

    def __init__(self, read: Callable[[Place], Iterator[Block]], *, in_memory: bool, moves: int) -> None:
        """moves: how many there are."""
        self._read = read
        self.in_memory = in_memory
        self.moves = moves

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
            _block(block, Place(move=first_move))
            first_move += len(block["motion"])
            if "feed" in block:  # ignored on rapids, so it may be anything there; in a file it has to be a number
                unsaid = (block["motion"] == RAPID) & ~np.isfinite(block["feed"])
                if unsaid.any():
                    block["feed"] = np.where(unsaid, 0.0, block["feed"])
            for name, column in block.items():
                block[name] = column[:]
                block[name].flags.writeable = False
        return cls(lambda place: iter(kept), in_memory=True, moves=first_move - 1)

    def blocks(self, place: Place | None = None) -> Iterator[Block]:
        """The blocks in order, as they were given; ToolpathError at `place` for one that cannot be read."""
        return self._read(place if place is not None else Place())

    def _digests(self) -> list[bytes]:
        """Of the numbers of each column; where it is left out they are NaN."""
        digests = {name: hashlib.sha256() for name in Columns.model_fields}
        for block in self.blocks():
            left_out = np.full(len(block["motion"]), np.nan)
            for name, digest in digests.items():
                digest.update((block.get(name, left_out) + 0.0).tobytes())  # no minus zero
        return [digest.digest() for digest in digests.values()]

    def __eq__(self, other: object) -> bool:
        return self._digests() == other._digests() if isinstance(other, Table) else NotImplemented

    __hash__ = None  # type: ignore[assignment]

    @classmethod
    def __get_pydantic_core_schema__(cls, _source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        text = "Blocks of some 50,000 moves, one going on where the last ended."
        return core_schema.with_info_wrap_validator_function(
            _table,
            handler.generate_schema(Columns | Annotated[list[Columns], Field(min_length=1, description=text)]),
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda table: [{name: column.tolist() for name, column in b.items()} for b in table.blocks()]
            ),
        )


def _table(value: Any, _: object, info: ValidationInfo) -> Table:
    """A Table as it is; that of a placeholder from the file being loaded; or plain objects of columns."""
    found = (info.context or {}).get("later", {}).get(value) if isinstance(value, str) else value
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
            yield (columns := _block(block, replace(place, move=first_move)))
            first_move += len(columns["motion"])

    return Table(read, in_memory=True, moves=sum(len(each) for block in blocks if isinstance(each := block.get("motion"), Sized)))


def read_blocks(pieces: Pieces, spot: Spot, place: Place) -> Iterator[Block]:
    """The blocks that are in a file, one after the other; ToolpathError for what is wrong in the table of the operation at `place`.

    One block is held at a time. Its numbers never become Python objects, unless one of them is wrong.
    """
    import simdjson  # only needed for tables, and a start without one should not wait for it

    parser = simdjson.Parser()
    cure = "a block of a table is an object of columns, each a list of numbers"
    first_move = 1
    for offset, raw in pieces():
        block = _parsed(parser, raw)
        if block is None:
            block = _block(read_json(raw, partial(spot, offset), " inside a table", cure), replace(place, move=first_move))
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
            columns.append(np.frombuffer(parser.parse(raw[start:end]).as_buffer(of_type="d")))
            left.append(raw[done:start])
            done = end
        pairs: list[tuple[str, Any]] = json.loads(b"null".join([*left, raw[done:]]), object_pairs_hook=list)
        names = [name for name, value in pairs if value is None]
        block = dict(zip(names, columns, strict=True))
        return _block(block, Place()) if len(block) == len(pairs) else None
    except (ValueError, RuntimeError, TypeError, AttributeError, ToolpathError):
        return None


def stream_table(table: Table, *, simultaneous: bool, place: Place) -> Iterator[MoveColumns]:
    """The moves of a table in runs of columns; ToolpathError with the number of the move, counted over all blocks."""
    first_move = 1
    standing = Standing(simultaneous, place)
    for block in table.blocks(place):
        for start in range(0, len(block["motion"]), RUN_LENGTH):
            run = _run({name: column[start : start + RUN_LENGTH] for name, column in block.items()}, first_move, standing)
            first_move += len(run)
            yield run


def _run(rows: Block, first_move: int, standing: Standing) -> MoveColumns:
    motion, place, moves = rows["motion"], standing.place, np.arange(first_move, first_move + len(rows["motion"]))
    for name, column in rows.items():
        refuse(~(np.abs(column) < BEYOND), place, moves, name, f"{{:g}} is not a finite number below {BEYOND:g}", "correct it", column)
    wrong = "motion {:g}; allowed are 0 rapid, 1 cut"
    refuse((motion != RAPID) & (motion != CUT), place, moves, "motion", wrong, "write 0 or 1", motion)
    feed = np.where(motion == CUT, rows.get("feed", np.nan), np.nan)
    wrong = "the feed of a cut is {:g}; it has to be above 0, at least 1e-09"
    refuse(feed < LEAST, place, moves, "feed", wrong, "correct it", feed)
    # in columns also in memory, where all that is worked out of them is worked out column by column
    axis = np.array([rows[name] for name in AXIS]).T if "i" in rows else None
    return standing.run(first_move, motion.astype(np.uint8), np.array([rows[name] for name in "xyz"]).T, feed, axis, None)
