"""Reading a little ahead of the comparison, in a thread of its own: columns are decoded while others are compared."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from queue import Empty, Full, Queue

from steadyrest.reading import ProgramItem

WAITING_ITEMS = 3
"""So many runs wait at most: memory stays flat."""
_LOOK_S = 0.1
"""How often either side looks whether the other is still there."""


def ahead(items: Iterator[ProgramItem]) -> Iterator[ProgramItem]:
    """The same items; what reading them raises is raised here, where its item would have come. Closing it ends the thread."""
    waiting: Queue[ProgramItem | BaseException | None] = Queue(WAITING_ITEMS)
    given_up = threading.Event()

    def hand_on(item: ProgramItem | BaseException | None) -> bool:
        while not given_up.is_set():
            try:
                waiting.put(item, timeout=_LOOK_S)
            except Full:
                continue
            return True
        return False

    def read() -> None:
        try:
            for item in items:
                if not hand_on(item):
                    return
            hand_on(None)
        except BaseException as error:  # carried over to whoever takes the items
            hand_on(error)

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
