"""Proving beside the writing: the program's text is handed on as it is written, to a process of its own where that pays."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from steadyrest.errors import SteadyrestError
from steadyrest.profile import Profile
from steadyrest.proof.verdict import Verdict
from steadyrest.toolpath import Toolpath, load_toolpath

PIECE = 1 << 18


class Prover:
    """Proves a program while it is written. A context: leaving it ends the other process, whatever happened."""

    def __init__(self, toolpath_path: Path, toolpath: Toolpath, profile: Profile, tolerance: float | None, *, apart: bool) -> None:
        self._toolpath = toolpath
        self._profile = profile
        self._tolerance = tolerance
        self._other: subprocess.Popen[bytes] | None = None
        if apart:
            self._other = subprocess.Popen(
                [sys.executable, "-c", "from steadyrest.proof.apart import prove_from_pipe; prove_from_pipe()"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
            order = pickle.dumps((str(toolpath_path), toolpath.digest, profile, tolerance))
            self._send(len(order).to_bytes(8, "little") + order)

    def __enter__(self) -> Prover:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        other = self._other
        if other is None:
            return
        other.kill()
        for pipe in (other.stdin, other.stdout):
            if pipe is not None:
                with suppress(BrokenPipeError):
                    pipe.close()
        other.wait()

    def passing(self, chunks: Iterator[bytes]) -> Iterator[bytes]:
        """The same chunks; each is handed on for proof as it passes."""
        for chunk in chunks:
            self._send(chunk)
            yield chunk

    def verdict(self, program: Path) -> Verdict:
        """What the proof says of the finished text; where the other process did not answer, `program` is proved here.

        raises    ProgramError and the like, as `prove` does
        """
        answer = self._answer()
        if answer is None:
            from steadyrest.proof import prove

            return prove(program, self._toolpath, self._profile, tolerance=self._tolerance)
        if isinstance(answer, SteadyrestError):
            raise answer
        return answer

    def _send(self, piece: bytes) -> None:
        other = self._other
        if other is None or other.stdin is None or other.stdin.closed:
            return
        try:
            other.stdin.write(piece)
        except BrokenPipeError:
            # It has come to its verdict already, or failed; either shows when it is asked.
            with suppress(BrokenPipeError):
                other.stdin.close()

    def _answer(self) -> Verdict | SteadyrestError | None:
        other = self._other
        if other is None:
            return None
        if other.stdin is not None and not other.stdin.closed:
            with suppress(BrokenPipeError):
                other.stdin.close()
        assert other.stdout is not None
        text = other.stdout.read()
        if other.wait() != 0 or not text:
            return None
        answer = pickle.loads(text)
        assert isinstance(answer, Verdict | SteadyrestError)
        return answer


def prove_from_pipe() -> None:
    """The other process: an order on stdin, then the program's text to its end; the verdict, or the error, on stdout."""
    from steadyrest.proof import prove

    source = sys.stdin.buffer
    length = int.from_bytes(source.read(8), "little")
    path, digest, profile, tolerance = pickle.loads(source.read(length))
    answer: Verdict | SteadyrestError
    try:
        toolpath = load_toolpath(Path(path))
        if toolpath.digest != digest:
            sys.exit(1)  # the file has changed since; the other side proves what it has read
        answer = prove(_pieces(source), toolpath, profile, tolerance=tolerance)
    except SteadyrestError as error:
        answer = error
    sys.stdout.buffer.write(pickle.dumps(answer))
    sys.stdout.buffer.flush()


def _pieces(source: BinaryIO) -> Iterator[bytes]:
    while piece := source.read(PIECE):
        yield piece
