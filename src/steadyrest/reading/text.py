"""The text of a program in pieces of whole lines, so that a program of any length needs little memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from itertools import chain
from pathlib import Path
from typing import BinaryIO

from steadyrest.errors import Place, ProgramError

PIECE_BYTES = 1 << 19


def whole_lines(source: bytes | Path | BinaryIO | Iterable[bytes], longest_line: int) -> Iterator[bytes]:
    """Pieces of the program that end with a line feed, line endings CR LF and CR made LF; the last line gets one if it has none.
    A line without an end in sight, longer than the longest allowed, is handed out as far as it was read, and nothing after it.

    raises   ProgramError when the file cannot be read
    """
    kept = b""
    for piece in _pieces(source):
        piece = kept + piece if kept else piece
        held = b""
        if piece.endswith(b"\r"):  # its line feed may come with the next piece
            piece, held = piece[:-1], b"\r"
        if b"\r" in piece:
            piece = piece.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        end = piece.rfind(b"\n") + 1
        if end:
            yield piece[:end]
        kept = piece[end:] + held
        if len(kept) > longest_line + 2:
            break
    if kept:
        yield kept.rstrip(b"\r") + b"\n"


@contextmanager
def opened_program(program: Path) -> Iterator[BinaryIO]:
    """A program's file, open; ProgramError where it is none or cannot be read. A pipe would be waited for, a device has no end."""
    try:
        if program.exists() and not program.is_file():
            raise ProgramError("this is a folder or a device, not a file", place=Place(file=str(program)), cure="name a file")
        with program.open("rb") as opened:
            yield opened
    except (OSError, ValueError) as trouble:
        raise ProgramError(
            f"the program cannot be read: {getattr(trouble, 'strerror', None) or trouble}",
            place=Place(file=str(program)),
            cure="check the name and the permissions of the file",
        ) from None


def decoded(raw: bytes) -> str:
    """A line of a program or part of it: the comments of one from elsewhere may hold anything."""
    try:
        return raw.decode()
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _pieces(source: bytes | Path | BinaryIO | Iterable[bytes]) -> Iterator[bytes]:
    """The bytes of the source as they come, in pieces of moderate size."""
    if isinstance(source, Path):
        with opened_program(source) as opened:
            yield from iter(partial(opened.read, PIECE_BYTES), b"")
    elif isinstance(source, bytes):
        yield from (source[start : start + PIECE_BYTES] for start in range(0, len(source), PIECE_BYTES))
    elif hasattr(source, "read"):
        yield from iter(partial(source.read, PIECE_BYTES), b"")
    else:
        yield from chain.from_iterable(map(_pieces, source))
