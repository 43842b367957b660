"""Files that are held for as long as a process works with them, so that another one neither takes them away nor writes beside it.

The lock is advisory and ends with the process, however it ends. Where a file system has none, nothing is held and nobody waits.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Iterator
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
    """While a file is read and written anew, by one process at a time: the others wait. OutputError where it takes too long."""
    beside = path.with_name(f".{path.name}.lock")
    try:
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
