"""How a finished program gets into its place: whole, or not at all.

It is written beside its place, flushed to the disk, and renamed. Until then the old file is untouched, and whatever goes wrong, an
interrupt included, leaves nothing beside it.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType

from steadyrest.errors import OutputError, Place


class Placed:
    """A program on the disk, beside the place it is meant for. Leaving the `with` block without `commit` takes it away again.

    temporary   the file that holds it now, to be read and proved
    path        the place it is meant for
    """

    def __init__(self, temporary: Path, path: Path) -> None:
        self.temporary = temporary
        self.path = path
        self._waiting = True

    def commit(self) -> None:
        """Put it in its place, replacing what was there in one step. OutputError where the place does not take it."""
        try:
            os.replace(self.temporary, self.path)
        except OSError as error:
            self.discard()
            raise _output_error(error, self.path) from error
        except BaseException:
            self.discard()
            raise
        self._waiting = False
        _flush_folder(self.path.parent)

    def discard(self) -> None:
        """Take it away; what was in its place stays. Does nothing once it is committed."""
        if self._waiting:
            with contextlib.suppress(OSError):
                self.temporary.unlink(missing_ok=True)
            self._waiting = False

    def __enter__(self) -> Placed:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.discard()


def put_in_place(chunks: Iterable[bytes], path: Path) -> Placed:
    """Write a program beside its place and flush it to the disk; `commit` then puts it there.

    raises   OutputError where the place is a folder or no plain file, its folder is missing or not writable, its name is too long,
             or the disk is full; whatever `chunks` raises. Nothing is left behind then.
    """
    target = _checked(path)
    temporary = target.parent / f".steadyrest-{secrets.token_hex(8)}.part"
    try:
        _write(chunks, temporary, target, path)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    return Placed(temporary, target)


def _write(chunks: Iterable[bytes], temporary: Path, target: Path, path: Path) -> None:
    with _disk_errors(path):
        file = open(_open(temporary), "wb")  # noqa: SIM115 (closed by the next with)
    with _disk_errors(path), file:
        _take_mode(file.fileno(), target)
        for chunk in _only_their_errors(chunks):
            file.write(chunk)
        file.flush()
        os.fsync(file.fileno())


class _FromChunks(Exception):
    """Carries an error of the chunks through, so that it is not taken for one of the disk."""

    def __init__(self, error: OSError) -> None:
        self.error = error


def _only_their_errors(chunks: Iterable[bytes]) -> Iterator[bytes]:
    try:
        yield from chunks
    except OSError as error:
        raise _FromChunks(error) from error


@contextlib.contextmanager
def _disk_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except _FromChunks as carried:
        raise carried.error from None
    except OSError as error:
        raise _output_error(error, path) from error


def _open(temporary: Path) -> int:
    return os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)


def _checked(path: Path) -> Path:
    """The place with its links followed, once it is known to be one that a program can be put in."""
    target = Path(os.path.realpath(path))
    place = Place(file=str(path))
    try:
        there = target.stat().st_mode
    except FileNotFoundError:
        if not target.parent.is_dir():
            cure = "make it, or name another"
            raise OutputError(f"the folder '{target.parent}' does not exist", place=place, cure=cure) from None
        return target
    except OSError as error:
        raise _output_error(error, path) from error
    if stat.S_ISDIR(there):
        raise OutputError("is a folder, and a program goes into a file", place=place, cure="name a file in it")
    if not stat.S_ISREG(there):
        raise OutputError("is a device or the like, and no plain file", place=place, cure="name a plain file")
    if not os.access(target, os.W_OK):
        raise OutputError("is write-protected", place=place, cure="name another file, or allow writing to it")
    return target


def _take_mode(descriptor: int, target: Path) -> None:
    """The permissions of the file that is replaced, so that whoever could read it still can."""
    with contextlib.suppress(OSError):
        os.fchmod(descriptor, stat.S_IMODE(target.stat().st_mode))


def _flush_folder(folder: Path) -> None:
    """Make the rename last through a power cut, where the file system can do that."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


_WRONG = {
    errno.ENOSPC: ("the disk is full", "make room, or name a file on another disk"),
    errno.EDQUOT: ("the disk space allowed to you is used up", "make room, or name a file on another disk"),
    errno.EFBIG: ("the file grows larger than is allowed here", "name a file on another disk, or raise the limit"),
    errno.EACCES: ("writing is not allowed there", "name another folder, or allow writing to it"),
    errno.EPERM: ("writing is not allowed there", "name another folder, or allow writing to it"),
    errno.EROFS: ("the disk can only be read", "name a file on another disk"),
    errno.ENAMETOOLONG: ("the name is too long for that folder", "choose a shorter name"),
    errno.ENOTDIR: ("part of the path is a file, not a folder", "name an existing folder"),
    errno.EISDIR: ("is a folder, and a program goes into a file", "name a file in it"),
    errno.ENOENT: ("the folder does not exist", "make it, or name another"),
}


def _output_error(error: OSError, path: Path) -> OutputError:
    wrong, cure = _WRONG.get(error.errno or 0, (f"cannot be written: {error.strerror or error}", "name another file"))
    return OutputError(wrong, place=Place(file=str(path)), cure=cure)
