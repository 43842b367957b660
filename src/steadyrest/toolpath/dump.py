"""How is a Toolpath written to a file?"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from typing import TYPE_CHECKING

from steadyrest.errors import OutputError, Place
from steadyrest.toolpath.parts import Part

if TYPE_CHECKING:
    from steadyrest.toolpath.model import Operation, Toolpath


def dump_toolpath(toolpath: Toolpath, path: str | os.PathLike[str]) -> None:
    """Write a toolpath file, whole or not at all: beside its place, flushed, then renamed. OutputError if that fails.

    Floats are written in the shortest form that reads back as the same number, tables in blocks of some 50,000 moves.
    """
    name = os.fspath(path)
    folder, base = os.path.split(name)
    beside = os.path.join(folder, f".{base}.{os.getpid()}.part")
    begun = False
    try:
        if os.path.isdir(name):
            raise OutputError("this is a directory", place=Place(file=name), cure="name a file")
        with open(beside, "x", encoding="utf-8", newline="\n") as file:
            begun = True
            for piece in toolpath_text(toolpath):
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, name)
        begun = False
    except OSError as error:
        raise OutputError(
            f"cannot be written: {error.strerror}",
            place=Place(file=name),
            cure="check folder, permissions and free space",
        ) from None
    finally:
        if begun:
            os.unlink(beside)


def digest_of(toolpath: Toolpath) -> str:
    """SHA-256, in hex, of the bytes that dump_toolpath writes."""
    digest = hashlib.sha256()
    for piece in toolpath_text(toolpath):
        digest.update(piece.encode())
    return digest.hexdigest()


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _plain(part: Part, *, leave_out: set[str]) -> dict[str, object]:
    return part.model_dump(mode="json", by_alias=True, exclude_none=True, exclude=leave_out)


def toolpath_text(toolpath: Toolpath) -> Iterator[str]:
    """The text of a toolpath file, in pieces."""
    yield "{\n"
    for key, value in _plain(toolpath, leave_out={"tools", "operations"}).items():
        yield f"  {_json(key)}: {_json(value)},\n"
    yield '  "tools": [\n'
    yield ",\n".join(f"    {_json(_plain(tool, leave_out=set()))}" for tool in toolpath.tools)
    yield '\n  ],\n  "operations": [\n'
    for at, operation in enumerate(toolpath.operations):
        yield ",\n" if at else ""
        yield from _operation(operation)
    yield "\n  ]\n}\n"


def _operation(operation: Operation) -> Iterator[str]:
    yield "    {\n"
    for key, value in _plain(operation, leave_out={"moves", "table"}).items():
        yield f"      {_json(key)}: {_json(value)},\n"
    if operation.table is None:
        yield '      "moves": [\n'
        for at, move in enumerate(operation.moves or ()):
            yield (",\n" if at else "") + f"        {_json(_plain(move, leave_out=set()))}"
    else:
        yield '      "table": [\n'
        for at, block in enumerate(operation.table.even_blocks()):
            yield ",\n" if at else ""
            for number, (name, column) in enumerate(block.items()):
                values = column.astype("int64") if name == "motion" else column
                yield ("        {" if number == 0 else ",\n         ") + f"{_json(name)}: {_json(values.tolist())}"
            yield "}"
    yield "\n      ]\n    }"
