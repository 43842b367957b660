"""A toolpath, whole: the rules between its parts, how a file becomes one, and the text that it is written as."""

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import partial
from io import BytesIO
from itertools import chain
from math import hypot
from typing import Annotated, Any, Literal, Self

from pydantic import Field, PrivateAttr, ValidationError, model_validator

from steadyrest.errors import Place, ToolpathError
from steadyrest.progress import CHECKING, DIGESTING, SAVING, Progress, Work
from steadyrest.toolpath.columns import Item, moves_in
from steadyrest.toolpath.moves import Moves, MovesInFile, read_moves, stream_moves
from steadyrest.toolpath.objects import Keys, key_of, place_of_move, read_json, refusal
from steadyrest.toolpath.parts import (
    Axis,
    Indexed,
    NotNegative,
    One,
    Part,
    Point,
    Positive,
    Rotary,
    Stock,
    Text,
    Tool,
    Turns,
    Whole,
    Wrapped,
    printable,
)
from steadyrest.toolpath.scan import Cut, Scanned, line_and_column, open_file, pieces_again, scan, spot
from steadyrest.toolpath.table import BLOCK_LENGTH, Block, Table, read_blocks, stream_table

KEEP_BYTES = 150_000_000
"""Tables and lists of moves of up to this many bytes in a file are kept as columns once streamed; longer ones are read again."""
ITEMS = "_items"
"""What has streamed once and is kept stands beside the fields of an operation by this name; it is none of them, and does not count when
two operations are compared."""


MOST_AXIS_TOLERANCE_DEG = 10.0
"""With more it is not the tool axis any more that was asked for."""


class Spindle(Part):
    """How the spindle turns."""

    rpm: NotNegative = Field(description="Turns per minute.")
    turns: Turns = Field(description="Sense of turning, seen from the spindle towards the tool's tip.")


class Operation(Part):
    """One tool, one spindle speed, one rotary intent, and its moves."""

    name: Text = Field(default="", description="What the operator calls it; empty unless given.")
    tool: Whole = Field(description="Number of the tool, one of `tools`.")
    spindle: Spindle = Field(description="Speed and sense of the spindle in this operation.")
    coolant: Literal["off", "flood", "mist", "air", "through"] = Field(
        default="off", description="Coolant while cutting: `off` unless given; `through` the tool."
    )
    rotary: Rotary = Field(description="What the rotary does, and with it the frame of the moves.")
    axis_tolerance: Annotated[Positive, Field(le=MOST_AXIS_TOLERANCE_DEG)] | None = Field(
        default=None,
        description="Simultaneous operations only: how far the tool axis may be off the one that is asked for, in degrees, where the "
        "machine cannot lay it there; unless given, no more than what five decimals of a unit vector leave open.",
    )
    moves: Moves | None = Field(default=None, description="The moves in order; either these or `table`.")
    table: Table | None = Field(default=None, description="The moves in columns, for long paths; either this or `moves`.")

    _place: Place = PrivateAttr(default_factory=Place)
    _units: str = PrivateAttr(default="mm")
    _keep: bool = PrivateAttr(default=True)

    @property
    def moves_there(self) -> int:
        """How many moves it has; known before they are read."""
        if self.table is not None:
            return self.table.moves
        return self.moves.count if isinstance(self.moves, MovesInFile) else len(self.moves or ())

    @property
    def _is_checked_at_once(self) -> bool:
        """Whether its moves are gone through when it is read, and not only when they stream."""
        return self.table.in_memory if self.table is not None else self._keep or not isinstance(self.moves, MovesInFile)

    def stream(self) -> Iterator[Item]:
        """The moves in order: motions and holes in runs of columns, all else one by one, with the number of its move.

        What is still in its file is read and checked while it streams, some moves at a time; ToolpathError for what
        is wrong. A second pass over a small file costs nothing.
        """
        return iter(self.__dict__[ITEMS]) if ITEMS in self.__dict__ else self._kept() if self._keep else self._fresh()

    def _kept(self) -> Iterator[Item]:
        items: list[Item] = []
        for item in self._fresh():
            items.append(item)
            yield item
        self.__dict__[ITEMS] = tuple(items)

    def _fresh(self) -> Iterator[Item]:
        simultaneous = self.rotary.intent == "simultaneous"
        if self.table is not None:
            return stream_table(self.table, simultaneous=simultaneous, place=self._place)
        moves: Any = self.moves or ()
        if isinstance(moves, MovesInFile):
            moves = moves.read(self._place)
        return stream_moves(moves, simultaneous=simultaneous, rpm=self.spindle.rpm, units=self._units, place=self._place)


class Toolpath(Part):
    """The neutral toolpath, version 1."""

    steadyrest_toolpath: One = Field(description="Version of this form: 1.")
    name: Text = Field(default="", description="Name of the part; empty unless given.")
    units: Literal["mm", "inch"] = Field(description="Unit of all lengths in the file; feeds are per minute.")
    axis: Axis = Field(default="X", description="The axis of rotation runs along + of this axis; X unless given.")
    centre: Point = Field(
        default=(0.0, 0.0, 0.0), description="A point on the axis of rotation, in the part frame; the origin unless given."
    )
    stock: Stock | None = Field(default=None, description="The stock; if left out, `clearance` has to be given.")
    clearance: Positive | None = Field(
        default=None,
        description="Distance from the axis of rotation, in `units`, beyond which nothing that turns with the part can be "
        "hit; has to be given when there is no `stock`, and is the stock's swept radius unless given.",
    )
    tools: Annotated[tuple[Tool, ...], Field(min_length=1)] = Field(description="The tools.")
    operations: Annotated[tuple[Operation, ...], Field(min_length=1)] = Field(description="The operations, in order.")

    _file: str | None = PrivateAttr(default=None)
    _digest: str | None = PrivateAttr(default=None)

    @property
    def file(self) -> str | None:
        """The file it was read from; None when it was built in memory."""
        return self._file

    @property
    def digest(self) -> str:
        """SHA-256 of the file's bytes, in hex; built in memory: of the text that it would be written as."""
        return self.find_digest()

    def find_digest(self, progress: Progress | None = None) -> str:
        """The same; `progress` is told how many moves are gone through, if that is not done yet."""
        if self._digest is None:
            digest = hashlib.sha256()
            for piece in toolpath_text(self, progress, DIGESTING):
                digest.update(piece.encode())
            self._digest = digest.hexdigest()
        return self._digest

    @property
    def moves_to_cut(self) -> int:
        """How many moves there are in all, those of an indexed operation once for each of its angles or planes."""
        turns = (one.rotary.times if isinstance(one.rotary, Indexed) else 1 for one in self.operations)
        return sum(count * one.moves_there for count, one in zip(turns, self.operations, strict=True))

    @property
    def swept_radius(self) -> float:
        """Distance from the axis of rotation, in file units, beyond which nothing that turns can be hit."""
        if self.clearance is not None:
            return self.clearance
        assert self.stock is not None
        return self.stock.swept_radius(self.axis)

    @property
    def swept_ball(self) -> float:
        """Distance from `centre`, in file units, beyond which nothing can be hit of a part that is turned about more than one axis."""
        if self.clearance is not None:
            return self.clearance
        assert self.stock is not None
        return hypot(self.stock.swept_radius(self.axis), max(map(abs, self.stock.along(self.axis))))

    def tool(self, number: int) -> Tool:
        """The tool of that number; every operation's `tool` is one."""
        return next(tool for tool in self.tools if tool.number == number)

    def check_one_rotary(self) -> None:
        """ToolpathError for what no or one rotary in the table cannot do: turn tool axes about Z, the spindle's own direction."""
        for operation in self.operations:
            if self.axis == "Z" and (intent := operation.rotary.intent) in ("wrapped", "simultaneous"):
                wrong = f"intent {intent} is not possible with the axis of rotation along Z, the spindle's own direction"
                cure = "use axis X or Y, an indexed operation, or a machine with two rotary axes"
                raise _wrong(operation._place, "rotary, intent", f"{wrong}; allowed are indexed and still", cure)

    @model_validator(mode="after")
    def _parts_fit(self, info: object) -> Self:
        context = getattr(info, "context", None) or {}
        self._file = context.get("file")
        place = Place(file=self._file)
        self._check_space(place)
        numbers = [tool.number for tool in self.tools]
        for at, number in enumerate(numbers):
            if number in numbers[:at]:
                key = f"tools, entry {at + 1}, number"
                raise _wrong(place, key, f"two tools have the number {number}", "give every tool a number of its own")
        for at, operation in enumerate(self.operations, start=1):
            here = replace(place, operation=at, operation_name=printable(operation.name) or None)
            in_memory = operation.table is not None and operation.table.in_memory  # its columns are kept as it is
            # Frozen for everybody else: where an operation stands is known only here.
            operation._place, operation._units = here, self.units
            operation._keep = context.get("keep", True) and not in_memory
            operation.__dict__.pop(ITEMS, None)  # checked for where it stood before, if it did
        work = Work(context.get("progress"), CHECKING, sum(one.moves_there for one in self.operations if one._is_checked_at_once))
        for operation in self.operations:
            self._check_operation(operation, numbers, work)
        if work.total:
            work.end()
        return self

    def _check_space(self, place: Place) -> None:
        if self.stock is None:
            if self.clearance is None:
                wrong = "neither stock nor clearance is given, so nobody knows how far the turning part reaches"
                cure = "add 'stock', or 'clearance': the distance from the axis beyond which nothing turns"
                raise _wrong(place, "stock", wrong, cure)
        elif self.clearance is not None and self.clearance < (swept := self.stock.swept_radius(self.axis)):
            wrong = f"clearance {self.clearance:g} is too small: the turning stock reaches {swept:.6g} from the axis"
            raise _wrong(place, "clearance", wrong, f"give at least {swept:.6g}, or leave it out")

    def _check_operation(self, operation: Operation, numbers: list[int], work: Work) -> None:
        moves, table, intent, place = operation.moves, operation.table, operation.rotary.intent, operation._place
        if operation.tool not in numbers:
            wrong = f"there is no tool {operation.tool}; there are {', '.join(map(str, sorted(numbers)))}"
            raise _wrong(place, "tool", wrong, "add the tool to 'tools', or name one of those")
        if self.axis == "Z" and isinstance(operation.rotary, Wrapped) and operation.rotary.plane is None:
            wrong = "a drawing wrapped about Z says neither where it begins nor which way up it is"
            raise _wrong(place, "rotary, plane", wrong, "give its plane: origin on the axis, x along it, z where the angle is 0")
        if operation.axis_tolerance is not None and intent != "simultaneous":
            wrong = f"an axis_tolerance of {operation.axis_tolerance:g} degrees in an operation that is {intent}"
            raise _wrong(place, "axis_tolerance", wrong, "leave it out: only a simultaneous operation says tool axes")
        if (moves is None) == (table is None):
            wrong = "both 'moves' and 'table' are given" if moves is not None else "neither 'moves' nor 'table' is given"
            raise _wrong(place, "moves", wrong, "an operation has exactly one of the two")
        if operation._is_checked_at_once:
            for item in operation.stream():
                work.on(moves_in(item))


def _wrong(place: Place, key: str, wrong: str, cure: str) -> ToolpathError:
    return ToolpathError(wrong, place=replace(place, key=key), cure=cure)


def toolpath_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of the toolpath file, version 1, with the meaning, unit and default of every key."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **Toolpath.model_json_schema(by_alias=True)}


def load_toolpath(path: str | os.PathLike[str], progress: Progress | None = None) -> Toolpath:
    """Read a toolpath file; ToolpathError names file, place, what was found, what is allowed, and the cure.

    Tables stay in the file and are read and checked when their operation is streamed, and so are long lists of moves in files so long
    that they are not kept.
    """
    name = os.fspath(path)
    with open_file(name) as file:
        try:
            scanned = scan(file, name, progress)
            data = read_json(scanned.skeleton, lambda position: line_and_column(file, scanned.offset_in_file(position), name))
        except OSError as error:
            raise ToolpathError(f"cannot be read: {error.strerror}", place=Place(file=name), cure="check the disk or the network") from None
    later = {placeholder: _later(name, scanned, cut) for placeholder, cut in scanned.cuts.items()}
    long = sum(cut.end - cut.start for cut in scanned.cuts.values()) > KEEP_BYTES
    toolpath = _validated(data, {"later": later, "file": name, "keep": not long, "progress": progress})
    toolpath._digest = scanned.digest
    return toolpath


def _later(path: str, scanned: Scanned, cut: Cut) -> Table | MovesInFile:
    pieces, where = partial(pieces_again, path, scanned.stamp, cut), partial(spot, path)
    if cut.is_table:
        return Table(partial(read_blocks, pieces, where), in_memory=False, moves=cut.moves)
    return MovesInFile(partial(read_moves, pieces, where), cut.moves)


def parse_toolpath(data: Mapping[str, Any] | bytes) -> Toolpath:
    """A toolpath from its JSON or the objects of it, in memory; ToolpathError as from load_toolpath, without a file."""
    if not isinstance(data, bytes):
        return _validated(data, {"file": None})

    toolpath = _validated(read_json(data, lambda position: line_and_column(BytesIO(data), position, None)), {"file": None})
    toolpath._digest = hashlib.sha256(data).hexdigest()
    return toolpath


def _validated(data: Any, context: dict[str, Any]) -> Toolpath:
    if not isinstance(data, Mapping):
        raise ToolpathError("a toolpath is one JSON object", place=Place(file=context["file"]), cure='begin with {"steadyrest_toolpath": 1')
    try:
        Work(context.get("progress"), CHECKING).to(0)
        return Toolpath.model_validate(data, context=context)
    except ValidationError as error:
        raise refusal(error, Toolpath, partial(_place, data, context["file"])) from None


def _place(data: Any, file: str | None, keys: Keys) -> Place:
    place = Place(file=file)
    if len(keys) >= 2 and keys[0] == "operations":
        entry = data["operations"][keys[1]]
        name = entry.get("name") if isinstance(entry, dict) else None
        named = (printable(name) or None) if isinstance(name, str) else None
        place, keys = replace(place, operation=int(keys[1]) + 1, operation_name=named), keys[2:]
        if len(keys) >= 2 and keys[0] == "moves":
            return place_of_move(place, 0, keys[1:])
    return replace(place, key=key_of(keys))


def toolpath_text(toolpath: Toolpath, progress: Progress | None = None, stage: str = SAVING) -> Iterator[str]:
    """The text of a toolpath file, in pieces.

    Floats are written in the shortest form that reads back as the same number, tables in blocks of at most 50,000 moves.
    """
    work = Work(progress, stage, sum(operation.moves_there for operation in toolpath.operations))
    yield "{\n"
    for key, value in _plain(toolpath, "tools", "operations").items():
        yield f"  {_json(key)}: {_json(value)},\n"
    yield '  "tools": [\n'
    yield ",\n".join(f"    {_json(_plain(tool))}" for tool in toolpath.tools)
    yield '\n  ],\n  "operations": ['
    for at, operation in enumerate(toolpath.operations):
        yield ",\n    {\n" if at else "\n    {\n"
        for key, value in _plain(operation, "moves", "table").items():
            yield f"      {_json(key)}: {_json(value)},\n"
        if operation.table is None:
            yield '      "moves": ['
            entries: Iterator[tuple[int, str]] = ((1, _json(_plain(move))) for move in operation.moves or ())
        else:
            yield '      "table": ['
            entries = chain.from_iterable(map(_block_texts, operation.table.blocks()))
        for number, (moves, entry) in enumerate(entries):
            yield ("," if number else "") + f"\n        {entry}"
            work.on(moves)
        yield "\n      ]\n    }"
    yield "\n  ]\n}\n"
    work.end()


def _plain(part: Part, *leave_out: str) -> dict[str, object]:
    return part.model_dump(mode="json", by_alias=True, exclude_none=True, exclude=set(leave_out))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _block_texts(block: Block) -> Iterator[tuple[int, str]]:
    """Blocks of no more than `BLOCK_LENGTH` moves each, with how many they are."""
    columns = {name: column.astype("int64") if name == "motion" else column for name, column in block.items()}
    for start in range(0, len(block["motion"]), BLOCK_LENGTH):
        lists = {name: column[start : start + BLOCK_LENGTH].tolist() for name, column in columns.items()}
        yield len(lists["motion"]), "{" + ",\n         ".join(f"{_json(name)}: {_json(column)}" for name, column in lists.items()) + "}"
