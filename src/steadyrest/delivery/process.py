"""Putting in a process of its own, with a time limit: a share that hangs holds up nobody, and a stopped delivery never goes on."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

from steadyrest.delivery.share import Order, Put, put, recover
from steadyrest.errors import OutputError, Place, SteadyrestError

CLEANING_SECONDS = 5.0
_OTHER = "import sys; sys.path[:] = sys.argv[1:]; from steadyrest.delivery.process import serve; serve()"
"""In isolated mode: no code of the current folder, of the user's own packages or of the environment (Python documentation, -I)."""
_STEP = "step: "
_LATE = ("putting it in place", "reading back in its place")


def put_within(order: Order, seconds: float) -> Put:
    """The same as `put`, within so many seconds.

    raises   what `put` raises; OutputError when the time is over: the other process is ended, so that it never goes on by itself
    """
    answer, step = _asked(("put", order), seconds)
    if isinstance(answer, SteadyrestError):
        raise answer
    if isinstance(answer, Put):
        return answer
    left = _clean(order)
    place = Place(file=str(order.target))
    if answer is None:
        wrong = f"the share took more than {seconds:g} seconds while {step}"
        cure = "check the machine and the network, or allow more time: --time-limit SECONDS"
    else:
        wrong = f"the delivery broke off while {step}"
        cure = "check the machine and the network, and deliver again"
    state = (
        "LOOK AT IT before you run it: it may be the former program or the new one" if step in _LATE else "the program there is as before"
    )
    raise OutputError(f"{wrong}; {state}{left}", place=place, cure=cure)


def _clean(order: Order) -> str:
    """Tidy up, if the share lets us in time; a sentence where that is not sure."""
    answer, _ = _asked(("recover", order), CLEANING_SECONDS)
    return "" if answer is True else f". A file {order.waiting} may be left there, which nobody needs"


def _asked(order: tuple[str, Order], seconds: float) -> tuple[object, str]:
    """What the other process answers, and the last step it began; the answer is None when the time was over, False when it broke off."""
    other = subprocess.Popen(
        [sys.executable, "-I", "-c", _OTHER, *_path()],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,  # so that reading one line takes nothing of what follows it
    )
    try:
        assert other.stderr is not None
        other.stderr.readline()  # it is there; only what the share takes counts
        out, said = other.communicate(pickle.dumps(order), timeout=seconds)
    except subprocess.TimeoutExpired as over:
        return None, _last_step(over.stderr)
    finally:
        _end(other)
    answer: object = False
    if other.returncode == 0:
        with suppress(pickle.UnpicklingError, EOFError):
            answer = pickle.loads(out)
    return answer, _last_step(said)


def _path() -> list[str]:
    """Where the other process finds this package and its libraries: where this one does, but never in the folder it stands in."""
    here, own = os.path.realpath(os.curdir), os.path.realpath(Path(__file__).parents[2])
    return [each for each in sys.path if os.path.isabs(each) and (os.path.realpath(each) != here or os.path.realpath(each) == own)]


def _end(other: subprocess.Popen[bytes]) -> None:
    """End it if it still runs. One that hangs in the system dies as soon as the system lets go of it; nobody waits for that."""
    if other.poll() is None:
        other.kill()
        with suppress(subprocess.TimeoutExpired):
            other.wait(timeout=1)
    for pipe in (other.stdin, other.stdout, other.stderr):
        if pipe is not None:
            with suppress(OSError, ValueError):
                pipe.close()


def _last_step(said: bytes | None) -> str:
    """The last line that begins a step; other lines (warnings of the system's) are passed over."""
    steps = [line[len(_STEP) :] for line in (said or b"").decode("utf-8", "replace").splitlines() if line.startswith(_STEP)]
    return steps[-1] if steps else "starting"


def serve() -> None:
    """The other process: an order on stdin, steps on stderr, the answer on stdout."""
    _say("starting")
    what, given = pickle.loads(sys.stdin.buffer.read())
    answer: object
    try:
        if what == "recover":
            recover(given)
            answer = True
        else:
            answer = put(given, _say)
    except SteadyrestError as error:
        answer = error
    sys.stdout.buffer.write(pickle.dumps(answer))
    sys.stdout.buffer.flush()


def _say(step: str) -> None:
    sys.stderr.write(f"{_STEP}{step}\n")
    sys.stderr.flush()
