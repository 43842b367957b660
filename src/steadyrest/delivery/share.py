"""How a program gets into a folder that may be a slow, full or stubborn share: beside its place first, read back, then into it.

Whatever goes wrong, the place holds the former program whole or the new one whole, and nothing half-written stays beside it.
It is done in a process of its own, with a time limit: a share that hangs holds up nobody, and a stopped delivery never goes on.
"""

from __future__ import annotations

import errno
import hashlib
import os
import pickle
import secrets
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from queue import Empty, Queue
from threading import Thread
from typing import IO, Any

from steadyrest.errors import Cancelled, OutputError, Place, Refused, SteadyrestError
from steadyrest.progress import DELIVERING, Progress, Work

CLEANING_SECONDS = 5.0
_OTHER = "import sys; sys.path[:] = sys.argv[1:]; from steadyrest.delivery.share import serve; serve()"
"""In isolated mode: no code of the current folder, of the user's own packages or of the environment (Python documentation, -I)."""
PIECE = 1 << 20
Message = tuple[str, Any]
"""From the other process: "step" and what it begins, "bytes" and how many were written and read and how many it will be, or "answer"."""
LOOKING, WRITING, READING, KEEPING = (
    "looking into the folder", "writing beside its place", "reading back what was written", "keeping the older version",
)  # fmt: skip
BEFORE = ("starting", LOOKING, WRITING, READING, KEEPING)
"""Steps in which the program there is as it was before."""
LOOK_AT_IT = "LOOK AT IT before you run it: it may be the former program or the new one"
NO_FLUSH = {errno.EINVAL, errno.ENOTSUP, errno.ENOSYS}
"""What a share answers that cannot flush a file; writing and reading back still tell."""


def _for_now() -> str:
    return f"{secrets.token_hex(4)}.tmp"


@dataclass(frozen=True, slots=True)
class Order:
    """What to put where.

    source       the proved program; digest its SHA-256 in hexadecimal
    folder       where it goes, under `name`
    former       where the former version is kept, if there is one
    waiting, aside, keeping   names for as long as it takes, of eight letters and three: the new program before it is in place, the old
                 one while a stubborn share is worked round, and the copy of the old one before it has its dated name
    """

    source: Path
    digest: str
    folder: Path
    name: str
    former: Path
    waiting: str = field(default_factory=_for_now)
    aside: str = field(default_factory=_for_now)
    keeping: str = field(default_factory=_for_now)

    @property
    def target(self) -> Path:
        """The place."""
        return self.folder / self.name


@dataclass(frozen=True, slots=True)
class Put:
    """kept: where the former version is now, None when there was none. same: it was there already, byte for byte."""

    kept: Path | None
    same: bool


Told = Callable[[int], object]
"""Hears of so many more bytes that were written or read."""


def unheard(more: int) -> None:
    """Nobody listens."""


def put(order: Order, step: Callable[[str], None] = lambda said: None, told: Callable[[int, int], None] = lambda done, whole: None) -> Put:
    """Put a program in its place.

    step     told what is begun next
    told     how many bytes were written and read, and how many it will be in all
    raises   OutputError where the folder is gone, full, read-only or stubborn, or gives back other bytes than it was given;
             Refused where the source is no longer what was proved. The place is then as it was before
    """
    try:
        step(LOOKING)
        there = _checked(order)
        former, done = order.target.stat().st_size if there else 0, 0
        # The former one is looked at; the new one written, read back, and read in its place; the former one read, written and read back.
        whole = 4 * former + 3 * order.source.stat().st_size

        def on(more: int) -> None:
            nonlocal done
            done += more
            told(done, whole)

        if there and digest_of(order.target, on) == order.digest:
            return Put(None, same=True)
        step(WRITING)
        waiting = order.folder / order.waiting
        try:
            _copy(order.source, waiting, order.digest, on)
            step(READING)
            _read_back(waiting, order.digest, on)
            kept = None
            if there:
                step(KEEPING)
                kept = _kept(order, on)
            step("putting it in place")
            try:
                _swap(waiting, order, there)
            except BaseException:
                if kept is not None:
                    remove(kept)
                raise
        finally:
            remove(waiting)
        step("reading back in its place")
        _read_back_in_place(order, kept, on)
    except OSError as error:
        raise _output_error(error, order.target) from error
    return Put(kept, same=False)


def recover(order: Order) -> None:
    """Tidy up after a delivery that was stopped somewhere: the old program back if it stood aside, and no waiting file left."""
    aside = order.folder / order.aside
    if aside.exists():
        if order.target.exists():
            remove(aside)
        else:
            os.rename(aside, order.target)
    remove(order.folder / order.waiting)
    remove(order.former.parent / order.keeping)


def remove(path: Path) -> None:
    """Take a file away, if it is there and that can be done."""
    with suppress(OSError):
        path.unlink(missing_ok=True)


def _checked(order: Order) -> bool:
    place = Place(file=str(order.folder))
    try:
        folder = order.folder.stat()
    except FileNotFoundError:
        raise OutputError("the folder is not there", place=place, cure="mount the share, or name another folder") from None
    if not stat.S_ISDIR(folder.st_mode):
        raise OutputError("is not a folder", place=place, cure="name the folder from which the machine reads")
    try:
        found = order.target.lstat()
    except FileNotFoundError:
        return False
    if not stat.S_ISREG(found.st_mode):
        raise OutputError(
            "exists already and is not an ordinary file",
            place=Place(file=str(order.target)),
            cure="remove it, or choose another name: --name NAME",
        )
    return True


def _copy(source: Path, into: Path, digest: str, told: Told = unheard) -> None:
    """A new file with the bytes of another one, flushed; Refused unless they have that digest."""
    seen = hashlib.sha256()
    with open(source, "rb") as given:
        descriptor = os.open(into, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with open(descriptor, "wb") as taken:
            while piece := given.read(PIECE):
                seen.update(piece)
                taken.write(piece)
                told(len(piece))
            taken.flush()
            _flush(taken.fileno())
    if seen.hexdigest() != digest:
        raise Refused(f"{source} was changed while it was being proved", cure="deliver again while nothing else writes to it")


def _flush(descriptor: int) -> None:
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in NO_FLUSH:
            raise


def digest_of(path: Path, told: Told = unheard) -> str:
    """SHA-256 of a file's bytes, in hexadecimal, from the share itself as far as the system allows to ask for that."""
    with open(path, "rb") as file:
        if sys.platform == "linux":
            with suppress(OSError):
                os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        seen = hashlib.sha256()
        while piece := file.read(PIECE):
            seen.update(piece)
            told(len(piece))
        return seen.hexdigest()


def _read_back(path: Path, digest: str, told: Told) -> None:
    if digest_of(path, told) != digest:
        raise OutputError(
            "the file read back differs from the file written; no program was put in place",
            place=Place(file=str(path)),
            cure="check the share, its cable and its disk, and deliver again",
        )


def _kept(order: Order, told: Told) -> Path:
    """A copy of the former version, whole, under its dated name; a number is added where the name is taken."""
    order.former.parent.mkdir(parents=True, exist_ok=True)
    keeping = order.former.parent / order.keeping
    digest = digest_of(order.target, told)
    try:
        _copy(order.target, keeping, digest, told)
        _read_back(keeping, digest, told)
        name, ending = order.former.stem, order.former.suffix
        names = [order.former, *(order.former.with_name(f"{name}-{number}{ending}") for number in range(2, 1000))]
        free = next((each for each in names if not each.exists()), names[-1])
        os.rename(keeping, free)
    finally:
        remove(keeping)
    return free


def _swap(waiting: Path, order: Order, there: bool) -> None:
    """Rename into place; where a share does not rename over a file, the old one steps aside first and comes back if need be."""
    try:
        os.replace(waiting, order.target)
        return
    except OSError:
        if not there:
            raise
    aside = order.folder / order.aside
    os.rename(order.target, aside)
    try:
        os.rename(waiting, order.target)
    except BaseException:
        os.rename(aside, order.target)
        raise
    remove(aside)


def _read_back_in_place(order: Order, kept: Path | None, told: Told) -> None:
    """The last look. What differs is taken away, and the former program put back."""
    try:
        if digest_of(order.target, told) == order.digest:
            return
        wrong = "the program in place differs from the one delivered"
    except OSError as error:
        wrong = f"the program put in place cannot be read back ({error.strerror or error})"
    done = "it was removed again"
    try:
        order.target.unlink(missing_ok=True)
        if kept is not None:
            _copy(kept, order.target, digest_of(kept))
            done = "the older program was put back"
    except OSError:
        done = "and it could not be removed: DO NOT RUN IT"
    raise OutputError(f"{wrong}; {done}", place=Place(file=str(order.target)), cure="check the share, its cable and its disk")


_WRONG = {
    errno.ENOSPC: ("the share is full", "make room there"),
    errno.EDQUOT: ("your quota there is used up", "make room there"),
    errno.EFBIG: ("the program is larger than the share allows", "make room, or raise the limit there"),
    errno.EROFS: ("the share is read-only", "mount it so that it can be written to"),
    errno.ENOENT: ("the folder is no longer there", "mount the share again, or name another folder"),
    errno.ENAMETOOLONG: ("the name is too long for that folder", "choose a shorter one: --name"),
    **dict.fromkeys(
        (errno.EACCES, errno.EPERM), ("writing is not allowed there", "ask for the right to write there, or name another folder")
    ),
    **dict.fromkeys((errno.EBUSY, errno.ETXTBSY), ("the program is in use there", "close it at the machine, and deliver again")),
}
_GONE = {errno.ESTALE, errno.EIO, errno.ENOTCONN, errno.EHOSTDOWN, errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ETIMEDOUT, errno.ENODEV}


def _output_error(error: OSError, target: Path) -> OutputError:
    said = f"the share does not respond: {error.strerror or error}"
    gone = (said, "check that the machine is on and the share is mounted")
    other = (f"cannot be written: {error.strerror or error}", "name another folder")
    wrong, cure = gone if error.errno in _GONE else _WRONG.get(error.errno or 0, other)
    return OutputError(wrong, place=Place(file=str(target)), cure=f"{cure}; the folder is as it was before")


def put_within(order: Order, seconds: float, progress: Progress | None = None) -> Put:
    """The same as `put`, within so many seconds.

    progress is told how many bytes were written and read
    raises   what `put` raises; OutputError when the time is over: the other process is ended, so that it never goes on by itself;
             whatever `progress` raises: the place is then as it was before, or, where that came too late for it, Cancelled
    """
    work, steps = Work(progress, DELIVERING), list[str]()
    try:
        answer, over = _asked("put", order, seconds, steps, work)
    except (KeyboardInterrupt, Cancelled):
        _asked("recover", order, CLEANING_SECONDS, [])
        if steps and steps[-1] not in BEFORE:
            wrong, cure = f"stopped while {steps[-1]}; {LOOK_AT_IT}", "deliver again: what is there already is not written again"
            raise Cancelled(wrong, place=Place(file=str(order.target)), cure=cure) from None
        raise
    if isinstance(answer, SteadyrestError):
        raise answer
    if isinstance(answer, Put):
        with suppress(Cancelled):  # too late: it is there
            work.end()
        return answer
    step = steps[-1]
    cleaned, _ = _asked("recover", order, CLEANING_SECONDS, [])
    left = "" if cleaned is True else f". A file {order.waiting} may be left there, which nobody needs"
    wrong, cure = f"the delivery broke off while {step}", "check the machine and the network, and deliver again"
    if over:
        wrong = f"the share took more than {seconds:g} seconds while {step}"
        cure = "check the machine and the network, or allow more time: --time-limit SECONDS"
    state = "the program there is as before"
    if step not in BEFORE:
        state = LOOK_AT_IT
    raise OutputError(f"{wrong}; {state}{left}", place=Place(file=str(order.target)), cure=cure)


def _asked(what: str, order: Order, seconds: float, steps: list[str], work: Work | None = None) -> tuple[object, bool]:
    """What the other process answers, None where it does not; and whether the time was over.

    steps  the steps that it begins are added to it
    work   is told how far it is
    """
    # It finds this package and its libraries where this process does, but never in the folder it stands in.
    here, own = os.path.realpath(os.curdir), os.path.realpath(Path(__file__).parents[2])
    path = [each for each in sys.path if os.path.isabs(each) and (os.path.realpath(each) != here or here == own)]
    other = subprocess.Popen(
        [sys.executable, "-I", "-c", _OTHER, *path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    over, answer, messages = False, None, Queue[Message | None]()
    steps.append("starting")
    try:
        assert other.stdin is not None
        Thread(target=_listen, args=(other.stdout, messages), daemon=True).start()
        message = messages.get()  # it is there, or has died; only what the share takes counts
        until = time.monotonic() + seconds
        with suppress(BrokenPipeError):  # it has died: that shows below
            other.stdin.write(pickle.dumps((what, order)))
            other.stdin.close()
        while message is not None:
            kind, said = message
            if kind == "answer":
                answer = said
            elif kind == "step":
                steps.append(said)
            elif work is not None:
                done, work.total = said
                work.to(done)
            message = messages.get(timeout=max(0.0, until - time.monotonic()))
        other.wait(timeout=max(0.0, until - time.monotonic()))
    except (Empty, subprocess.TimeoutExpired):
        over = True
    finally:
        _end(other)
    return answer if not over and other.returncode == 0 else None, over


def _listen(stdout: IO[bytes], messages: Queue[Message | None]) -> None:
    """What the other process says; None once it says no more."""
    with suppress(OSError, ValueError, EOFError, pickle.UnpicklingError):  # it has ended, or was while it was waited for
        while True:
            messages.put(pickle.load(stdout))
    messages.put(None)


def _end(other: subprocess.Popen[bytes]) -> None:
    """End it if it still runs. One that hangs in the system dies as soon as the system lets go of it; nobody waits for that."""
    if other.poll() is None:
        other.kill()
        with suppress(subprocess.TimeoutExpired):
            other.wait(timeout=1)
    for pipe in (other.stdin, other.stdout):
        if pipe is not None:
            with suppress(OSError, ValueError):
                pipe.close()


def serve() -> None:
    """The other process: an order on stdin; on stdout messages: that it is there, the steps, how far it is, and the answer."""

    out, sys.stdout = sys.stdout.buffer, sys.stderr  # whatever a library prints is no message

    def say(kind: str, said: object) -> None:
        pickle.dump((kind, said), out)
        out.flush()

    say("step", "starting")
    what, order = pickle.loads(sys.stdin.buffer.read())
    answer: object = True
    try:
        if what == "recover":
            recover(order)
        else:
            answer = put(order, partial(say, "step"), lambda done, whole: say("bytes", (done, whole)))
    except SteadyrestError as error:
        answer = error
    say("answer", answer)
