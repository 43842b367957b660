"""Proving beside the writing: the program's text is handed on as it is written, to a thread of its own where that pays.

Both halves spend their time in columns, where threads do not hold each other up; a process of its own would have to read the
toolpath again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from queue import Full, Queue
from types import TracebackType

from steadyrest.profile import Profile
from steadyrest.proof.prove import prove
from steadyrest.proof.verdict import Verdict
from steadyrest.reading import ProgramItem
from steadyrest.toolpath import Toolpath

WAITING_CHUNKS = 32
"""How far the writing may run ahead of the proof: some ten megabytes of text."""


class Prover:
    """Proves a program while it is written. A context: leaving it ends the proof, whatever happened."""

    def __init__(
        self,
        toolpath: Toolpath,
        profile: Profile,
        tolerance: float | None,
        *,
        beside: bool,
        seen: Callable[[ProgramItem], None] | None = None,
    ) -> None:
        """beside: in a thread of its own; seen: as of `prove`."""
        self._prove = partial(prove, toolpath=toolpath, profile=profile, tolerance=tolerance, seen=seen)
        self._chunks: Queue[bytes | None] = Queue(WAITING_CHUNKS)
        self._given_up = False
        self._answer: Verdict | BaseException | None = None
        self._thread = threading.Thread(target=self._run, name="proof", daemon=True) if beside else None

    def __enter__(self) -> Prover:
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._given_up = True
        if self._thread is not None:
            self._hand_on(None)
            self._thread.join()

    def passing(self, chunks: Iterator[bytes]) -> Iterator[bytes]:
        """The same chunks; each is handed on for proof as it passes."""
        for chunk in chunks:
            self._hand_on(chunk)
            yield chunk

    def verdict(self, program: Path) -> Verdict:
        """What the proof says of the finished text; without a thread of its own `program` is proved here and now.

        raises    ProgramError and the like, as `prove` does
        """
        if self._thread is None:
            return self._prove(program)
        self._hand_on(None)
        self._thread.join()
        if isinstance(self._answer, BaseException):
            raise self._answer
        assert self._answer is not None
        return self._answer

    def _hand_on(self, chunk: bytes | None) -> None:
        thread = self._thread
        while thread is not None and thread.is_alive():
            try:
                self._chunks.put(chunk, timeout=0.1)
            except Full:
                continue  # the proof is behind, or has come to its end: then it is alive no more
            return

    def _run(self) -> None:
        try:
            self._answer = self._prove(self._text())
        except BaseException as error:  # carried over to whoever asks for the verdict
            self._answer = error

    def _text(self) -> Iterator[bytes]:
        while (chunk := self._chunks.get()) is not None and not self._given_up:
            yield chunk
