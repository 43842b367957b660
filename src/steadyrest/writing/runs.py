"""Runs of motion brought to a size that is quick to write: small ones joined, long ones taken in parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from steadyrest.columns import join, take
from steadyrest.motion import Event, Motion
from steadyrest.writing.blocks import CHUNK


def gathered(items: Iterable[Motion | Event]) -> Iterator[Motion | Event]:
    """Small runs of one operation that follow each other, joined: a chunk costs the same whether it has two rows or two hundred."""
    waiting: list[Motion] = []
    rows = 0
    for item in items:
        if isinstance(item, Event) or (waiting and (item.operation != waiting[0].operation or rows + len(item) > CHUNK)):
            if waiting:
                yield join(waiting)
            waiting, rows = [], 0
        if isinstance(item, Event):
            yield item
        else:
            waiting.append(item)
            rows += len(item)
    if waiting:
        yield join(waiting)


def rows_of(run: Motion, low: int, high: int) -> Motion:
    """The rows from low up to high, high not included, as a run of their own."""
    return run if low == 0 and high >= len(run) else take(run, slice(low, high))
