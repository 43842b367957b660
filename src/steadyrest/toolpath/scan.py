"""Where in a file are the blocks of its tables, and what is left of it without them?

Tables may be a gigabyte; what is around them is small. A first pass over the bytes cuts the blocks out and puts a
placeholder in place of each table, so that the rest can be read as any JSON file; the blocks are read when they are streamed.

Why the cut is safe: in valid JSON the bytes `"table"` not after a backslash are a whole string, and before a colon they
are a key. A block holds lists of numbers only, so it ends at the next `}`; one that holds more does not parse, which is an error.
The placeholder holds the file's own SHA-256, which no file can contain.
"""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass, replace
from io import FileIO

from steadyrest.errors import Place, ToolpathError

CHUNK = 1 << 22
_SPACE = b" \t\r\n"
_KEY = b'"table"'


@dataclass(frozen=True, slots=True)
class Cut:
    """One table: where its value stood (start, end) and its blocks (start, end), in bytes of the file."""

    start: int
    end: int
    blocks: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Scanned:
    """A file without its tables."""

    skeleton: bytes
    cuts: tuple[Cut, ...]
    placeholders: tuple[str, ...]
    digest: str
    stamp: tuple[int, int]
    """Size and time of change, to see whether it is still the same file."""

    def offset_in_file(self, position: int) -> int:
        """Where a byte of the skeleton stands in the file."""
        moved = 0
        for cut, placeholder in zip(self.cuts, self.placeholders, strict=True):
            if position < cut.start - moved:
                break
            moved -= cut.end - cut.start - len(placeholder) - 2
            if position < cut.end + moved:
                return cut.start
        return position - moved


class _Forward:
    """A file read in chunks, forward, hashed on the way."""

    def __init__(self, file: FileIO) -> None:
        self._file = file
        self._hash = hashlib.sha256()
        self._hashed = 0
        self._index = -1
        self._chunk = b""

    def chunk(self, index: int) -> bytes:
        if index != self._index:
            for skipped in range(self._hashed, index):
                self._hash.update(read_at(self._file, skipped * CHUNK, CHUNK))
                self._hashed += 1
            self._chunk = read_at(self._file, index * CHUNK, CHUNK)
            self._index = index
            if index == self._hashed:
                self._hash.update(self._chunk)
                self._hashed += 1
        return self._chunk

    def digest(self) -> str:
        return self._hash.hexdigest()

    def find(self, needle: bytes, start: int) -> int:
        """Offset of the next `needle`, or -1."""
        index, within = divmod(start, CHUNK)
        tail = b""
        while chunk := self.chunk(index):
            if len(tail) and (at := (tail + chunk[: len(needle) - 1]).find(needle)) >= 0:
                return index * CHUNK - len(tail) + at
            if (at := chunk.find(needle, within)) >= 0:
                return index * CHUNK + at
            overlap = min(len(needle) - 1, len(chunk) - within)
            tail = chunk[len(chunk) - overlap :] if overlap > 0 else b""
            index, within = index + 1, 0
        return -1

    def read(self, start: int, end: int) -> bytes:
        index, within = divmod(start, CHUNK)
        if index == self._index and within + end - start <= len(self._chunk):
            return self._chunk[within : within + end - start]
        return read_at(self._file, start, end - start)

    def solid(self, start: int) -> int:
        """Offset of the next byte that is not white space; the end of the file if there is none."""
        while piece := self.read(start, start + 64):
            rest = piece.lstrip(_SPACE)
            if rest:
                return start + len(piece) - len(rest)
            start += len(piece)
        return start


def read_at(file: FileIO, start: int, length: int) -> bytes:
    """Up to `length` bytes from `start`; fewer only at the end of the file."""
    file.seek(start)
    pieces = []
    while length > 0 and (piece := file.read(length)):
        pieces.append(piece)
        length -= len(piece)
    return pieces[0] if len(pieces) == 1 else b"".join(pieces)


def open_file(path: str) -> FileIO:
    """The file, unbuffered; ToolpathError when it is missing, a directory, or cannot be read."""
    place = Place(file=path)
    try:
        if not stat.S_ISREG(os.stat(path).st_mode):
            what = "a directory" if os.path.isdir(path) else "not a regular file"
            raise ToolpathError(f"this is {what}", place=place, cure="name a toolpath file")
        return open(path, "rb", buffering=0)
    except FileNotFoundError:
        raise ToolpathError("there is no such file", place=place, cure="check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ToolpathError(f"cannot be read: {reason}", place=place, cure="check the name and the permissions of the file") from None


def stamp(file: FileIO) -> tuple[int, int]:
    """Size and time of change of an open file."""
    found = os.fstat(file.fileno())
    return found.st_size, found.st_mtime_ns


def scan(file: FileIO, path: str) -> Scanned:
    """Cut the blocks of all tables out of a file. ToolpathError for a table that is not closed."""
    forward = _Forward(file)
    cuts: list[Cut] = []
    position = 0
    while (at := forward.find(_KEY, position)) >= 0:
        position = at + len(_KEY)
        if at and forward.read(at - 1, at) == b"\\":
            continue  # inside a string
        colon = forward.solid(position)
        if forward.read(colon, colon + 1) != b":":
            continue  # a value, not a key
        value = forward.solid(colon + 1)
        cut = _cut(forward, value, file, path)
        if cut is not None:
            cuts.append(cut)
            position = cut.end
    digest = forward.digest()
    placeholders = tuple(f"table {number} of {digest}" for number in range(len(cuts)))
    pieces, done = [], 0
    for cut, placeholder in zip(cuts, placeholders, strict=True):
        pieces += [read_at(file, done, cut.start - done), f'"{placeholder}"'.encode()]
        done = cut.end
    size, changed = stamp(file)
    pieces.append(read_at(file, done, size - done))
    return Scanned(b"".join(pieces), tuple(cuts), placeholders, digest, (size, changed))


def _cut(forward: _Forward, value: int, file: FileIO, path: str) -> Cut | None:
    """The table that starts at `value`; None if it is neither an object nor a list of objects."""
    opening = forward.read(value, value + 1)
    if opening == b"{":
        end = _block_end(forward, value, file, path)
        return Cut(value, end, ((value, end),))
    if opening != b"[":
        return None
    start = forward.solid(value + 1)
    if forward.read(start, start + 1) != b"{":
        return None
    blocks: list[tuple[int, int]] = []
    while True:
        blocks.append((start, _block_end(forward, start, file, path)))
        after = forward.solid(blocks[-1][1])
        sign = forward.read(after, after + 1)
        if sign == b"]":
            return Cut(value, after + 1, tuple(blocks))
        start = forward.solid(after + 1)
        if sign != b"," or forward.read(start, start + 1) != b"{":
            raise ToolpathError(
                f"broken JSON: block {len(blocks)} of a table is not followed by another block or the end of the list",
                place=line_and_column(file, after, path),
                cure="separate blocks by one comma, close the list with ]; a block holds lists of numbers only",
            )


def _block_end(forward: _Forward, start: int, file: FileIO, path: str) -> int:
    end = forward.find(b"}", start)
    if end < 0:
        raise ToolpathError(
            "broken JSON: the file ends inside this table",
            place=line_and_column(file, start, path),
            cure="the file is cut short: write or copy it again",
        )
    return end + 1


def line_and_column(file: FileIO, offset: int, path: str) -> Place:
    """Line and column, from 1, of a byte of the file."""
    line, line_start, at = 1, 0, 0
    while at < offset:
        piece = read_at(file, at, min(CHUNK, offset - at))
        if not piece:
            break
        if newlines := piece.count(b"\n"):
            line += newlines
            line_start = at + piece.rindex(b"\n") + 1
        at += len(piece)
    column = len(read_at(file, line_start, offset - line_start).decode("utf-8", "replace")) + 1
    return Place(file=path, line=line, column=column)


def blocks_again(path: str, expected: tuple[int, int], cut: Cut) -> Iterator[tuple[int, bytes]]:
    """Offset and bytes of each block of a table; ToolpathError when the file is not the one that was scanned."""
    with open_file(path) as file:
        for start, end in cut.blocks:
            raw = read_at(file, start, end - start)
            if stamp(file) != expected or len(raw) != end - start:
                raise ToolpathError("the file changed while it was being read", place=Place(file=path), cure="start again")
            yield start, raw


def spot(path: str, offset: int) -> Place:
    """Line and column of a byte of a file that is not open."""
    with open_file(path) as file:
        return replace(line_and_column(file, offset, path))
