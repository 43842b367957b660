"""How does a toolpath file become a Toolpath?"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ToolpathError
from steadyrest.model_errors import Style, nearest, shown, spot_of, told
from steadyrest.toolpath.model import Toolpath
from steadyrest.toolpath.moves import MOVE_KINDS, MOVES, Move, MovesInFile
from steadyrest.toolpath.parts import printable
from steadyrest.toolpath.scan import Cut, Scanned, line_and_column, open_file, pieces_again, read_json, scan, spot
from steadyrest.toolpath.table import Block, Table, read_blocks

KEEP_BYTES = 150_000_000
"""Tables and lists of moves of up to this many bytes in a file are kept as columns once streamed; longer ones are read again."""


def load_toolpath(path: str | os.PathLike[str]) -> Toolpath:
    """Read a toolpath file; ToolpathError names file, place, what was found, what is allowed, and the cure.

    Tables stay in the file and are read and checked when their operation is streamed, and so are long lists of moves in files so long
    that they are not kept.
    """
    name = os.fspath(path)
    with open_file(name) as file:
        try:
            scanned = scan(file, name)
            data = read_json(scanned.skeleton, _object, lambda position: line_and_column(file, scanned.offset_in_file(position), name))
        except OSError as error:
            raise ToolpathError(f"cannot be read: {error.strerror}", place=Place(file=name), cure="check the disk or the network") from None
    later = {placeholder: _later(name, scanned, cut) for placeholder, cut in zip(scanned.placeholders, scanned.cuts, strict=True)}
    long = sum(cut.end - cut.start for cut in scanned.cuts) > KEEP_BYTES
    toolpath = _validated(data, {"later": later, "file": name, "keep": not long})
    toolpath._digest = scanned.digest
    return toolpath


def _later(path: str, scanned: Scanned, cut: Cut) -> Table | MovesInFile:
    """A table or list of moves that is still in its file."""

    def blocks(place: Place) -> Iterator[Block]:
        return read_blocks(pieces_again(path, scanned.stamp, cut), place, partial(spot, path))

    def moves(place: Place) -> Iterator[Move]:
        done = 0
        for offset, raw in pieces_again(path, scanned.stamp, cut):
            data = read_json(b"[" + raw + b"]", _object, partial(spot, path, offset - 1))
            try:
                yield from MOVES.validate_python(data)
            except ValidationError as error:
                raise move_error(error, place, done) from None
            done += len(data)

    return Table(blocks, in_memory=False) if cut.is_table else MovesInFile(moves)


def parse_toolpath(data: Mapping[str, Any] | bytes) -> Toolpath:
    """A toolpath from its JSON or the objects of it, in memory; ToolpathError as from load_toolpath, without a file."""
    if not isinstance(data, bytes):
        return _validated(data, {"file": None})

    def place(position: int) -> Place:
        before = data[:position].decode("utf-8", "replace")
        return Place(line=before.count("\n") + 1, column=len(before) - before.rfind("\n"))

    toolpath = _validated(read_json(data, _object, place), {"file": None})
    toolpath._digest = hashlib.sha256(data).hexdigest()
    return toolpath


def _validated(data: Any, context: dict[str, Any]) -> Toolpath:
    if not isinstance(data, Mapping):
        raise ToolpathError("a toolpath is one JSON object", place=Place(file=context["file"]), cure='begin with {"steadyrest_toolpath": 1')
    try:
        return Toolpath.model_validate(data, context=context)
    except ValidationError as error:
        raise toolpath_error(error, data, context["file"]) from None


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of the file. A key given twice becomes an unknown key, which the model refuses with its place."""
    found = dict(pairs)
    if len(found) < len(pairs):
        seen: set[str] = set()
        for key, value in pairs:
            if key in seen:
                found[key + GIVEN_TWICE] = value
            seen.add(key)
    return found


GIVEN_TWICE = " (given twice)"
"""What loading appends to the name of a key that an object holds twice, so that it is found here with its place."""
_STYLE = Style(table="an object in { }")


def toolpath_error(error: ValidationError, data: Any, file: str | None) -> ToolpathError:
    """The first thing that the model refused, with its place, what was found, what is allowed, and the cure."""
    return _first(error, (), lambda keys: _place(keys, data, file))


def move_error(error: ValidationError, place: Place, done: int) -> ToolpathError:
    """The same for moves of the operation at `place`, of which `done` came before."""
    return _first(error, ("operations", 0, "moves"), lambda keys: replace(place, move=done + int(keys[3]) + 1, key=_key(keys[4:])))


def _first(error: ValidationError, before: tuple[str | int, ...], place: Callable[[tuple[str | int, ...]], Place]) -> ToolpathError:
    # A misspelt key is also a missing one: the unknown name says more, a key given twice more still.
    detail = min(error.errors(include_url=False), key=_rank)
    spot = spot_of(Toolpath, (*before, *detail["loc"]))
    last = str(spot.keys[-1]) if spot.keys else ""
    if last.endswith(GIVEN_TWICE):
        wrong, cure = f"the key '{last.removesuffix(GIVEN_TWICE)}' is given twice in one object", "keep one of the two"
    elif detail["type"] == "union_tag_not_found" and "moves" in spot.keys:
        wrong, cure = _not_one_move(detail["input"])
    else:
        wrong, cure = told(detail, spot, _STYLE)
    return ToolpathError(printable(wrong), place=place(spot.keys), cure=printable(cure))


def _rank(detail: ErrorDetails) -> int:
    if detail["type"] != "extra_forbidden":
        return 2
    return 0 if str(detail["loc"][-1]).endswith(GIVEN_TWICE) else 1


def _place(keys: tuple[int | str, ...], data: Any, file: str | None) -> Place:
    operation, name, move = None, None, None
    if len(keys) >= 2 and keys[0] == "operations":
        entry = data["operations"][keys[1]]
        operation, name, keys = int(keys[1]) + 1, entry.get("name") if isinstance(entry, dict) else None, keys[2:]
        if len(keys) >= 2 and keys[0] == "moves":
            move, keys = int(keys[1]) + 1, keys[2:]
    return Place(
        file=file,
        operation=operation,
        operation_name=(printable(name) or None) if isinstance(name, str) else None,
        move=move,
        key=_key(keys),
    )


def _key(keys: tuple[int | str, ...]) -> str | None:
    return printable(", ".join(f"entry {step + 1}" if isinstance(step, int) else step for step in keys)) or None


def _not_one_move(found: Any) -> tuple[str, str]:
    allowed = f"a move has exactly one of the keys {', '.join(MOVE_KINDS)}"
    if not isinstance(found, dict):
        return f"found {shown(found)}; {allowed}", 'write an object such as {"rapid": [0, 0, 50]}'
    several = [name for name in MOVE_KINDS if name in found]
    if several:
        return f"found {', '.join(several)} in one move; {allowed}", "make it several moves"
    for name in found:
        if close := nearest(str(name), MOVE_KINDS):
            return f"unknown key '{name}'; {allowed}", _STYLE.guess.format(close[0])
    return f"found {shown(found)}; {allowed}", "use the key for the kind of move it is"
