"""Readers of inputs: what one is and gives, in which unit, which there are, and which of them is meant by a file."""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import InputError, Place
from steadyrest.inputs.options import PROGRAMS_ONLY, InputOptions, PartOptions, check_unsaid
from steadyrest.notices import Notice
from steadyrest.packages import offered, package_of
from steadyrest.toolpath import Operation, RectangularStock, RoundStock, Stock, Table, Toolpath, load_toolpath, open_file

GROUP = "steadyrest.readers"
"""Entry points of installed packages: each names a Reader, or a function without arguments that gives one."""
HEAD_BYTES = 1 << 16


@dataclass(frozen=True, slots=True)
class Piece:
    """What one input adds to a toolpath.

    name          of the part; empty where the input has none
    units         mm or inch: of everything in here
    tools         by number, each as the object of a toolpath's JSON
    operations    in order, each as the object of a toolpath's JSON (a `table` may be a Table), or an Operation
    axis, centre, stock, clearance   where the input says them
    tool_names    by number, of tools that have no name in `tools`
    notices       what was changed or left out
    """

    name: str
    units: str
    tools: Mapping[int, Mapping[str, Any]]
    operations: tuple[Mapping[str, Any] | Operation, ...]
    axis: str | None = None
    centre: tuple[float, float, float] | None = None
    stock: Stock | None = None
    clearance: float | None = None
    tool_names: Mapping[int, str] = field(default_factory=dict)
    notices: tuple[Notice, ...] = ()

    @classmethod
    def of(cls, toolpath: Toolpath, notices: Sequence[Notice] = ()) -> Piece:
        """A whole toolpath as a piece of another one."""
        tools = {tool.number: tool.model_dump(exclude_none=True) for tool in toolpath.tools}
        frame = (toolpath.axis, toolpath.centre, toolpath.stock, toolpath.clearance)
        return cls(toolpath.name, toolpath.units, tools, toolpath.operations, *frame, notices=tuple(notices))


Told = Callable[[int, int], None]
"""How far a reader is, and of how much, in whatever it counts."""


def unheard(done: int, whole: int) -> None:
    """Nobody listens."""


DECIMALS = 10
"""Converted lengths are written to 1e-10: what was 0.5 inch is 0.5 inch again."""
_LENGTHS = {
    "tools": {"diameter", "cutting_length", "length", "corner_radius", "tip_diameter"},
    "operations": {"rapid", "cut", "arc", "centre", "hole", "retract", "bottom", "peck", "pitch", "feed", "diameter", "origin"},
    "stock": {"diameter", "across", "from", "to", "offset", "length"},
}
"""Per part of a piece: the keys under which lengths and feeds stand; a tap's lead and a tool's numbers of edges stay out by their names."""
_COLUMNS = ("x", "y", "z", "feed")


def per(unit: str, other: str) -> float:
    """How many of another unit of length one makes: mm, inch."""
    millimetres = {"mm": 1.0, "inch": MM_PER_INCH}
    return millimetres[unit] / millimetres[other]


def in_units(piece: Piece, units: str) -> Piece:
    """A piece with every length and feed in `units`, mm or inch. A long table is converted while it is read."""
    if piece.units == units:
        return piece
    factor = per(piece.units, units)
    stock = piece.stock
    return replace(
        piece,
        units=units,
        tools=_scaled(piece.tools, "tools", factor),
        operations=tuple(_scaled(operation, "operations", factor) for operation in piece.operations),
        centre=None if piece.centre is None else _scaled(piece.centre, "stock", factor, length=True),
        stock=None if stock is None else type(stock).model_validate(_scaled(stock, "stock", factor)),
        clearance=None if piece.clearance is None else piece.clearance * factor,
    )


def _scaled(value: Any, part: str, factor: float, *, length: bool = False) -> Any:
    if isinstance(value, Operation | RoundStock | RectangularStock):
        table = getattr(value, "table", None)
        value = value.model_dump(by_alias=True, exclude_none=True, exclude={"table"}) | ({"table": table} if table is not None else {})
    if isinstance(value, Table):
        return _table(value, factor)
    if isinstance(value, Mapping):
        return {key: _scaled(each, part, factor, length=key in _LENGTHS[part]) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_scaled(each, part, factor, length=length) for each in value]
    return round(value * factor, DECIMALS) if length else value


def _table(table: Table, factor: float) -> Table:
    def read(place: Place) -> Iterator[dict[str, Any]]:
        for block in table.blocks(place):
            yield {name: np.round(column * factor, DECIMALS) if name in _COLUMNS else column for name, column in block.items()}

    return Table(read, in_memory=table.in_memory, moves=table.moves)


@dataclass(frozen=True, slots=True)
class Reader:
    """One kind of input. A package adds its own by an entry point in the group `steadyrest.readers` that names a Reader.

    kind          what a user calls it: small letters, digits and hyphens
    speaks        one sentence: what it reads, and the source of its rules
    endings       of files of this kind, small, each with its point
    recognises    whether the first 64 KiB of a file can only be of this kind; False where they may be another's
    read          the file as a Piece. InputError, or one of its kind, for whatever is wrong with it; never a shortened Piece
    tells         whether `read` takes a fourth argument: a function that it calls now and then with how far it is, and of how much
    """

    kind: str
    speaks: str
    endings: tuple[str, ...]
    recognises: Callable[[bytes], bool]
    read: Callable[..., Piece]
    tells: bool = False


@dataclass(frozen=True, slots=True)
class FoundReader:
    """A reader that can be used, or what is wrong with it. where: "bundled" or "package NAME VERSION"."""

    name: str
    where: str
    reader: Reader | None
    error: str = ""


_TOOLPATH_BEGINS = re.compile(rb"(?:\xef\xbb\xbf)?\s*\{")


def read_toolpath(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    """A toolpath file as a piece; ToolpathError as from load_toolpath, InputError for an option that it has no use for."""
    about = "is given for a neutral toolpath, which states it itself"
    check_unsaid(options, (*PROGRAMS_ONLY, "words", "units"), about, str(path))
    return Piece.of(load_toolpath(path))


TOOLPATH = Reader(
    kind="toolpath",
    speaks="the neutral toolpath of steadyrest, version 1 (JSON)",
    endings=(".json",),
    recognises=lambda head: _TOOLPATH_BEGINS.match(head) is not None,
    read=read_toolpath,
)


def bundled() -> tuple[Reader, ...]:
    """The readers that come with steadyrest, in the order in which they are asked."""
    # By name, as those of packages: a job file is read by whatever reads its inputs, so they cannot all import each other.
    others = (("job", "JOB"), ("cl", "CL_TEXT"), ("program", "PROGRAM"))
    return (TOOLPATH, *(getattr(import_module(f"steadyrest.inputs.{module}"), name) for module, name in others))


def find_readers() -> list[FoundReader]:
    """All readers, bundled ones first. One that cannot be used is listed with its error and takes nothing else down."""
    found = [FoundReader(reader.kind, "bundled", reader) for reader in bundled()]
    for point in offered(GROUP):
        where = package_of(point)
        try:
            loaded = point.load()
            reader = loaded() if callable(loaded) and not isinstance(loaded, Reader) else loaded
            error = unfit(reader, {each.name for each in found if each.reader is not None})
        except (KeyboardInterrupt, MemoryError):
            raise
        except BaseException as caught:  # a package that is not ours may raise anything, and must not take the others down
            error = f"{type(caught).__name__}: {caught}"
        found.append(FoundReader(point.name, where, None, error) if error else FoundReader(reader.kind, where, reader))
    return found


def unfit(reader: object, taken: Collection[str] = ()) -> str:
    """Why a reader of a package cannot be used beside the kinds that are taken; empty when it can."""
    if not isinstance(reader, Reader):
        return f"it gives {type(reader).__name__}, not a steadyrest.inputs.Reader"
    if not re.fullmatch(r"[a-z0-9-]+", reader.kind):
        return f"its kind {reader.kind!r} is not of small letters, digits and hyphens"
    if reader.kind in taken:
        return f"there is a reader of the kind {reader.kind!r} already"
    if any(not ending.startswith(".") or ending != ending.lower() for ending in reader.endings):
        return f"its endings {', '.join(reader.endings)} are not all small, each with its point"
    return ""


def reader_for(path: Path, options: InputOptions) -> Reader:
    """The reader of a file: the kind that was said, or else the one that its content shows, or else its ending.

    raises    InputError: the file cannot be read, an unknown kind, two kinds at once, or none
    """
    place = Place(file=str(path))
    head = bytes_of(path, HEAD_BYTES)
    if not head.strip():
        raise InputError("the file is empty", place=place, cure="write it again")
    found = find_readers()
    usable = [each.reader for each in found if each.reader is not None]
    broken = "".join(f"; the reader {each.name} of {each.where} cannot be used: {each.error}" for each in found if each.reader is None)
    kinds = ", ".join(reader.kind for reader in usable)
    if options.kind is not None:
        if said := [reader for reader in usable if reader.kind == options.kind]:
            return said[0]
        raise InputError(
            f"there is no kind of input called {options.kind!r}; there are {kinds}{broken}", place=place, cure="name one of those"
        )
    by_ending = [reader for reader in usable if path.name.lower().endswith(reader.endings)]
    by_content = [reader for reader in usable if _recognised(reader, head)]
    for reader in by_content:
        if reader in by_ending or len(by_content) == 1:
            return reader
    if by_content:
        several = " and ".join(reader.kind for reader in by_content)
        raise InputError(
            f"this file may be {several}", place=place, cure=f"choose one with --kind, for example --kind {by_content[0].kind}"
        )
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise InputError("the file is text in UTF-16", place=place, cure="save it as UTF-8 or plain ASCII")
    if by_ending:
        return by_ending[0]
    raise InputError(
        f"neither the content nor the ending shows what kind of file this is; known kinds are {kinds}{broken}",
        place=place,
        cure="give the kind with --kind, or write the file again",
    )


def _recognised(reader: Reader, head: bytes) -> bool:
    try:
        return bool(reader.recognises(head))
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException:  # of a package: then it does not recognise the file
        return False


def first_lines(head: bytes) -> list[bytes]:
    """The first 200 lines that hold something, of the first bytes of a file; one that is cut off is left out."""
    lines = [line for line in head.split(b"\n") if line.strip()][:200]
    return lines[:-1] if len(head) >= HEAD_BYTES and len(lines) > 1 else lines


def bytes_of(path: Path, most: int = -1) -> bytes:
    """The first bytes of a file, or all of them; ToolpathError, an InputError, where it is not there, no plain file, or cannot be read."""
    with open_file(str(path)) as file:
        return file.read(most)
