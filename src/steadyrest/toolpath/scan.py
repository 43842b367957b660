"""Where in a file are its long lists of moves, as `moves` or as `table`, and what is left of it without them?

They may be a gigabyte; what is around them is small. A first pass over the bytes cuts them out, in pieces, and puts a
placeholder in place of each, so that the rest can be read as any JSON file; the pieces are read when they are streamed.

Why the cut is safe: in valid JSON the bytes `"table"` not after a backslash are a whole string, and before a colon they are a key.
A block of a table holds lists of numbers only, so it ends at the next `}`; one that holds more does not parse, which is an error. A piece
of `moves` ends only where all before it parses as a list of values: what ends within a string or an object does not. Whatever is not
plainly so stays where it is. The placeholder holds the file's own SHA-256, which no file can contain.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO, FileIO
from itertools import islice
from typing import Any

from steadyrest.errors import Place, ToolpathError
from steadyrest.progress import READING, Progress, Work

CHUNK = 1 << 22
PIECE = 1 << 19
"""Bytes of `moves` that are read at once."""
LONG_FILE, LONG_MOVES = 1 << 20, 2000
"""In files of fewer bytes, and where they take up fewer bytes themselves, `moves` stay where they are."""
_TRIED = 8
_SPACE = b" \t\r\n"
_KEY = re.compile(rb'"(?:table|moves)"')
_KEY_LENGTH = 7
_BLOCK_END = re.compile(rb"\}")
_MOVES_END = re.compile(rb"\}(?=[ \t\r\n]*\])")
_BETWEEN_MOVES = re.compile(rb"\}(?=[ \t\r\n]*,[ \t\r\n]*\{)")


@dataclass(frozen=True, slots=True)
class Cut:
    """One table or list of moves: where its value stood (start, end) and its pieces (start, end), in bytes of the file.

    moves   how many there are
    """

    start: int
    end: int
    pieces: tuple[tuple[int, int], ...]
    is_table: bool
    moves: int


@dataclass(frozen=True, slots=True)
class Scanned:
    """A file without its tables and long lists of moves."""

    skeleton: bytes
    cuts: dict[str, Cut]
    """By the placeholder that stands in the skeleton instead, in the order of the file."""
    digest: str
    stamp: tuple[int, int]
    """Size and time of change, to see whether it is still the same file."""

    def offset_in_file(self, position: int) -> int:
        """Where a byte of the skeleton stands in the file."""
        for placeholder, cut in self.cuts.items():
            if position < cut.start:
                break
            position += cut.end - cut.start - len(placeholder) - 2
            if position < cut.end:
                return cut.start
        return position


class _Forward:
    """A file gone through from its beginning, a window of it in memory."""

    def __init__(self, file: FileIO, path: str, work: Work) -> None:
        self.file, self.path, self._work = file, path, work
        self._at, self._window = 0, b""
        self._parser: Any = None

    def find(self, wanted: re.Pattern[bytes], start: int) -> int:
        """Offset of the next place that matches, or -1."""
        while self.read(start, start + _KEY_LENGTH):
            if (found := wanted.search(self._window, start - self._at)) is not None:
                return self._at + found.start()
            start = max(start, self._at + len(self._window) - _KEY_LENGTH) + 1  # what is cut off may begin a key
        return -1

    def read(self, start: int, end: int) -> bytes:
        """These bytes; fewer only at the end of the file."""
        if start < self._at or end > self._at + len(self._window):
            self._at, self._window = start, read_at(self.file, start, max(CHUNK, end - start))
            self._work.to(start)
        return self._window[start - self._at : end - self._at]

    def solid(self, start: int) -> int:
        """Offset of the next byte that is not white space; the end of the file if there is none."""
        while piece := self.read(start, start + 64):
            rest = piece.lstrip(_SPACE)
            if rest:
                return start + len(piece) - len(rest)
            start += len(piece)
        return start

    def parses(self, values: bytes) -> bool:
        """Whether these are whole values, separated by commas."""
        import simdjson  # only needed for long files, and a start without one should not wait for it

        self._parser = self._parser or simdjson.Parser()
        try:
            self._parser.parse(b"[" + values + b"]")
        except (ValueError, RuntimeError):
            return False
        return True


def read_at(file: FileIO | BytesIO, start: int, length: int) -> bytes:
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
            raise ToolpathError(f"this is {what}", place=place, cure="name a file")
        return open(path, "rb", buffering=0)
    except FileNotFoundError:
        raise ToolpathError("there is no such file", place=place, cure="check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ToolpathError(f"cannot be read: {reason}", place=place, cure="check the name and the permissions of the file") from None


def _stamp(file: FileIO) -> tuple[int, int]:
    found = os.fstat(file.fileno())
    return found.st_size, found.st_mtime_ns


def scan(file: FileIO, path: str, progress: Progress | None = None) -> Scanned:
    """Cut all tables and long lists of moves out of a file, which is gone through twice. ToolpathError for a table that is not closed."""
    size, changed = _stamp(file)
    work = Work(progress, READING, 2 * size)
    forward = _Forward(file, path, work)
    cuts: list[Cut] = []
    position = 0
    while (at := forward.find(_KEY, position)) >= 0:
        position = at + _KEY_LENGTH
        if at and forward.read(at - 1, at) == b"\\":
            continue  # inside a string
        colon = forward.solid(position)
        if forward.read(colon, colon + 1) != b":":
            continue  # a value, not a key
        value = forward.solid(colon + 1)
        is_table = forward.read(at, position) == b'"table"'
        cut = _table(forward, value) if is_table else _moves(forward, value) if size >= LONG_FILE else None
        if cut is not None:
            cuts.append(cut)
            position = cut.end
    seen = hashlib.sha256()
    file.seek(0)
    while piece := file.read(CHUNK):
        seen.update(piece)
        work.to(size + file.tell())
    digest = seen.hexdigest()
    placed = {f"moves {number} of {digest}": cut for number, cut in enumerate(cuts)}
    pieces, done = [], 0
    for placeholder, cut in placed.items():
        pieces += [read_at(file, done, cut.start - done), f'"{placeholder}"'.encode()]
        done = cut.end
    pieces.append(read_at(file, done, size - done))
    if _stamp(file) != (size, changed):
        raise _changed(path)
    work.end()
    return Scanned(b"".join(pieces), placed, digest, (size, changed))


def _table(forward: _Forward, value: int) -> Cut | None:
    """The table that starts at `value`; None if it is neither an object nor a list of objects."""
    listed = forward.read(value, value + 1) == b"["
    start = forward.solid(value + 1) if listed else value
    if forward.read(start, start + 1) != b"{":
        return None
    blocks: list[tuple[int, int]] = []
    moves = 0
    while True:
        end = forward.find(_BLOCK_END, start) + 1
        if not end:
            raise ToolpathError(
                "broken JSON: the file ends inside this table",
                place=line_and_column(forward.file, start, forward.path),
                cure="the file is cut short: write or copy it again",
            )
        blocks.append((start, end))
        moves += _moves_of_block(forward.file, start, end)
        if not listed:
            return Cut(value, end, tuple(blocks), is_table=True, moves=moves)
        after = forward.solid(end)
        sign = forward.read(after, after + 1)
        if sign == b"]":
            return Cut(value, after + 1, tuple(blocks), is_table=True, moves=moves)
        start = forward.solid(after + 1)
        if sign != b"," or forward.read(start, start + 1) != b"{":
            raise ToolpathError(
                f"broken JSON: block {len(blocks)} of a table is not followed by another block or the end of the list",
                place=line_and_column(forward.file, after, forward.path),
                cure="separate blocks by one comma, close the list with ]; a block holds lists of numbers only",
            )


def _moves_of_block(file: FileIO, start: int, end: int) -> int:
    """How many moves a block of a table has: the commas of its first column, and one."""
    moves = 1
    for at in range(start, end, PIECE):
        piece = read_at(file, at, min(PIECE, end - at))
        stop = piece.find(b"]")
        moves += piece.count(b",", 0, stop if stop >= 0 else len(piece))
        if stop >= 0:
            break
    return moves


def _moves(forward: _Forward, value: int) -> Cut | None:
    """The list of moves that starts at `value`; None if it is short, or no list that parses: then the models say what is wrong with it."""
    if forward.read(value, value + 1) != b"[":
        return None
    start, length, pieces, moves = value + 1, LONG_MOVES, list[tuple[int, int]](), 0
    while True:
        raw = forward.read(start, start + length)
        for found in islice(_MOVES_END.finditer(raw), _TRIED):
            if forward.parses(raw[: found.end()]):
                last = start + found.end()
                moves += raw.count(b"{", 0, found.end())
                cut = Cut(value, forward.solid(last) + 1, (*pieces, (start, last)), is_table=False, moves=moves)
                return cut if cut.end - cut.start >= LONG_MOVES else None
        if length < PIECE:
            length = PIECE
            continue
        between = [found.end() for found in _BETWEEN_MOVES.finditer(raw, max(0, len(raw) - PIECE // _TRIED))]
        here = next((end for end in between[: -_TRIED - 1 : -1] if forward.parses(raw[:end])), None)
        if here is None:
            return None
        pieces.append((start, start + here))
        moves += raw.count(b"{", 0, here)
        start = forward.solid(start + here) + 1


def line_and_column(file: FileIO | BytesIO, offset: int, path: str | None) -> Place:
    """Line and column, from 1, of a byte of the file."""
    line, line_start = 1, 0
    for at in range(0, offset, CHUNK):
        piece = read_at(file, at, min(CHUNK, offset - at))
        line += piece.count(b"\n")
        line_start = at + piece.rindex(b"\n") + 1 if b"\n" in piece else line_start
    column = len(read_at(file, line_start, offset - line_start).decode("utf-8", "replace")) + 1
    return Place(file=path, line=line, column=column)


def pieces_again(path: str, expected: tuple[int, int], cut: Cut) -> Iterator[tuple[int, bytes]]:
    """Offset and bytes of each piece of a table or list of moves; ToolpathError when the file is not the one that was scanned."""
    with open_file(path) as file:
        for start, end in cut.pieces:
            raw = read_at(file, start, end - start)
            if _stamp(file) != expected or len(raw) != end - start:
                raise _changed(path)
            yield start, raw


def _changed(path: str) -> ToolpathError:
    return ToolpathError("the file changed while it was being read", place=Place(file=path), cure="start again")


def spot(path: str, offset: int, further: int = 0) -> Place:
    """Line and column of the byte `further` on from an offset, in a file that is not open."""
    with open_file(path) as file:
        return line_and_column(file, offset + further, path)
