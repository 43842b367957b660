"""The proof's two threads: reading runs a little ahead of the comparison, or goes with the writing where a program is proved while written.

Their time goes into columns, where threads do not hold each other up; a process of its own would have to read the toolpath again.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from queue import Empty, Full, Queue
from types import TracebackType
from typing import TypeVar

from steadyrest.errors import ProgramError
from steadyrest.proof.verdict import Verdict
from steadyrest.reading import ProgramItem

WAITING_ITEMS = 3
"""So many runs of motion wait at most: memory stays flat."""
_LOOK_S = 0.1
"""How often either side looks whether the other is still there."""

Waiting = TypeVar("Waiting")


def _put(queue: Queue[Waiting], item: Waiting, wanted: Callable[[], bool]) -> bool:
    """Put it in as soon as there is room; False once nobody wants it any more."""
    while wanted():
        try:
            queue.put(item, timeout=_LOOK_S)
        except Full:
            continue
        return True
    return False


def ahead(items: Iterator[ProgramItem]) -> Iterator[ProgramItem]:
    """The same items; what reading them raises is raised here, where its item would have come. Closing it ends the thread."""
    waiting: Queue[ProgramItem | BaseException | None] = Queue(WAITING_ITEMS)
    given_up = threading.Event()

    def read() -> None:
        def wanted() -> bool:
            return not given_up.is_set()

        try:
            if all(_put(waiting, item, wanted) for item in items):
                _put(waiting, None, wanted)
        except BaseException as error:  # carried over to whoever takes the items
            _put(waiting, error, wanted)

    thread = threading.Thread(target=read, name="reading back", daemon=True)
    thread.start()
    try:
        while True:
            try:
                item = waiting.get(timeout=_LOOK_S)
            except Empty:
                continue
            if item is None:
                return
            if isinstance(item, BaseException):
                raise item
            yield item
    finally:
        given_up.set()
        thread.join()


class Prover:
    """Proves a program while it is written. A context: leaving it ends the proof, whatever happened."""

    def __init__(
        self,
        prove: Callable[[Path | Iterator[ProgramItem]], Verdict],
        read: Callable[[Iterator[bytes]], Iterator[ProgramItem]],
        *,
        beside: bool,
    ) -> None:
        """The proof of one toolpath and profile, and the reader of its program; beside: in a thread of its own."""
        self._prove, self._read = prove, read
        self._waiting: Queue[ProgramItem | BaseException | None] = Queue(WAITING_ITEMS)
        self._answer: Verdict | BaseException | None = None
        self._thread = threading.Thread(target=self._run, name="proof", daemon=True) if beside else None

    def __enter__(self) -> Prover:
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self._thread is not None:
            self._hand_on(error)
            self._thread.join()

    def passing(self, chunks: Iterator[bytes]) -> Iterator[bytes]:
        """The same chunks, read back as they pass: to write and to read takes as long as the proof, to which what they say is handed on."""
        passed: deque[bytes] = deque()

        def seen() -> Iterator[bytes]:
            for chunk in chunks:
                passed.append(chunk)
                yield chunk

        try:
            for item in self._read(seen()) if self._thread is not None else ():
                if not self._hand_on(item):
                    break
                while passed:
                    yield passed.popleft()
        except ProgramError as error:
            self._hand_on(error)
        yield from chain(passed, chunks)

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

    def _hand_on(self, item: ProgramItem | BaseException | None) -> bool:
        return self._thread is not None and _put(self._waiting, item, self._thread.is_alive)  # at its end it is alive no more

    def _run(self) -> None:
        try:
            self._answer = self._prove(self._items())
        except BaseException as error:  # carried over to whoever asks for the verdict
            self._answer = error

    def _items(self) -> Iterator[ProgramItem]:
        while (item := self._waiting.get()) is not None:
            if isinstance(item, BaseException):
                raise item
            yield item
