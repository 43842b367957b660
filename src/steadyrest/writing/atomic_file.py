"""How a finished program gets into its place: whole, or not at all; and files that are held as long as a process works with them.

It is written beside its place, flushed to the disk, and renamed. Until then the old file is untouched, and whatever goes wrong, an
interrupt included, leaves nothing beside it. A lock is advisory and ends with the process, however it ends. Where a file system has
none, nothing is held and nobody waits.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from steadyrest.errors import OutputError, Place

if sys.platform == "win32":
    import msvcrt

    FAR = 1 << 30
    """The byte that is locked: behind all that a file holds, for on Windows nobody else may read what is locked."""

    def _lock(descriptor: int) -> None:
        os.lseek(descriptor, FAR, os.SEEK_SET)
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            raise BlockingIOError from None
        finally:
            os.lseek(descriptor, 0, os.SEEK_SET)
else:
    import fcntl

    def _lock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


PUT: list[Path] = []
"""What this process has put in place: whoever stops it is told."""
TRIES = 10 if sys.platform == "win32" else 1
"""To rename over a file: on Windows whoever reads it, a virus scanner for instance, is in the way for some moments."""
OLD_SECONDS = 86_400.0
"""So old a waiting file is nobody's, also where no lock tells."""


class Placed(contextlib.ExitStack):
    """A program on the disk, beside the place it is meant for. Closing it without `commit`, as `with` does, takes it away again.

    temporary   the file that holds it now, to be read and proved; open, and so held, until it is in its place
    path        the place it is meant for
    """

    def __init__(self, temporary: Path, path: Path) -> None:
        super().__init__()
        self.temporary = temporary
        self.path = path

    def commit(self) -> None:
        """Put it in its place, replacing what was there in one step. OutputError where the place does not take it."""
        with self:
            try:
                _replace(self.temporary, self.path)
            except OSError as error:
                raise _output_error(error, self.path) from error
            except BaseException:
                if not self.temporary.exists():  # stopped just when it was done
                    PUT.append(self.path)
                raise
            PUT.append(self.path)
        _flush_folder(self.path.parent)


def put_in_place(chunks: Iterable[bytes], path: Path, inputs: Iterable[Path] = ()) -> Placed:
    """Write a program beside its place and flush it to the disk; `commit` then puts it there.

    inputs   files that it is made from: none of them may be its place
    raises   OutputError where the place is a folder or no plain file, its folder is missing or not writable, its name is too long,
             or the disk is full; whatever `chunks` raises. Nothing is left behind then.
    """
    target = _checked(path)
    check_no_input(target, inputs)
    _sweep(target.parent)
    placed = Placed(target.parent / f".steadyrest-{secrets.token_hex(8)}.part", target)
    begun = placed.temporary.with_suffix(".new")  # its name says that it is swept only once it is held
    try:
        placed.callback(_quietly, begun.unlink)
        placed.callback(_quietly, placed.temporary.unlink)
        with _disk_errors(path):
            descriptor = _open(begun)
            file = open(descriptor, "wb")  # noqa: SIM115 (closed with the rest)
            placed.callback(_quietly, file.close)
            hold(descriptor)
            _quietly(lambda: os.rename(begun, placed.temporary))  # putting it in place says what is wrong
            if sys.platform != "win32":  # so that whoever could read the file that is replaced still can; there is one flag there
                _quietly(lambda: os.fchmod(descriptor, stat.S_IMODE(target.stat().st_mode)))
        for chunk in chunks:  # an error of theirs is none of the disk
            with _disk_errors(path):
                file.write(chunk)
        with _disk_errors(path):
            file.flush()
            os.fsync(descriptor)
            if sys.platform == "win32":  # a file that is held could not be renamed there
                file.close()
    except BaseException:
        placed.close()
        raise
    return placed


def _quietly(act: Callable[[], object]) -> None:
    with contextlib.suppress(OSError):
        act()


def check_no_input(path: Path, inputs: Iterable[Path]) -> None:
    """OutputError where a place is one of the files that what goes there is made from."""
    for each in inputs:
        with contextlib.suppress(OSError):
            if os.path.samefile(each, path):
                raise OutputError("is an input of this, and would be lost", place=Place(file=str(path)), cure="name another file")


def _sweep(folder: Path) -> None:
    """Take away what runs that were killed have left in a folder."""
    with contextlib.suppress(OSError):
        for each in folder.glob(".steadyrest-*.part"):
            with contextlib.suppress(OSError):
                if is_left(each) or time.time() - each.stat().st_mtime > OLD_SECONDS:
                    each.unlink()


def _replace(temporary: Path, path: Path) -> None:
    """Rename over a file; where somebody has it open, some moments later."""
    for left in reversed(range(TRIES)):
        try:
            os.replace(temporary, path)
            return
        except PermissionError:
            if not left:
                raise
            time.sleep(0.1)


def _open(temporary: Path) -> int:
    return os.open(temporary, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)


@contextlib.contextmanager
def _disk_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise _output_error(error, path) from error


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
    if sys.platform == "win32" and error.errno == errno.EACCES and path.exists():
        wrong, cure = "is open in another program, or writing is not allowed there", "close it there, or name another file"
        return OutputError(wrong, place=Place(file=str(path)), cure=cure)
    wrong, cure = _WRONG.get(error.errno or 0, (f"cannot be written: {error.strerror or error}", "name another file"))
    return OutputError(wrong, place=Place(file=str(path)), cure=cure)


def hold(descriptor: int) -> bool:
    """Hold an open file until it is closed; False where another process holds it. Where there are no locks, it counts as held."""
    try:
        _lock(descriptor)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


def is_left(path: Path) -> bool:
    """Whether a file is one that no process holds any more; False where that cannot be told."""
    try:
        descriptor = os.open(path, os.O_RDWR)
    except OSError:
        return False
    try:
        _lock(descriptor)
    except OSError:
        return False
    finally:
        os.close(descriptor)
    return True


@contextlib.contextmanager
def alone(path: Path, seconds: float = 10.0) -> Iterator[None]:
    """While a file, its folder made if need be, is read and written anew by one process: the others wait. OutputError after a while."""
    beside = path.with_name(f".{path.name}.lock")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(beside, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        wrong = f"cannot be written beside: {error.strerror or error}"
        raise OutputError(wrong, place=Place(file=str(path)), cure="allow writing to its folder") from None
    try:
        until = time.monotonic() + seconds
        while not hold(descriptor):
            if time.monotonic() > until:
                raise OutputError("another process has been writing it for too long", place=Place(file=str(path)), cure="end that one")
            time.sleep(0.02)
        yield
    finally:
        os.close(descriptor)
