"""Runs of motion brought to a size that is quick to write: small ones joined, long ones taken in parts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from steadyrest.motion.model import AxisRun, Event
from steadyrest.writing.blocks import CHUNK


def gathered(items: Iterable[AxisRun | Event]) -> Iterator[AxisRun | Event]:
    """Small runs of one operation that follow each other, joined: a chunk costs the same whether it has two rows or two hundred."""
    waiting: list[AxisRun] = []
    rows = 0
    for item in items:
        if isinstance(item, Event) or (waiting and (item.operation != waiting[0].operation or rows + len(item) > CHUNK)):
            if waiting:
                yield _joined(waiting)
            waiting, rows = [], 0
        if isinstance(item, Event):
            yield item
        else:
            waiting.append(item)
            rows += len(item)
    if waiting:
        yield _joined(waiting)


def _joined(runs: Sequence[AxisRun]) -> AxisRun:
    if len(runs) == 1:
        return runs[0]
    centre = plane = None
    if any(run.centre is not None for run in runs):
        centre = np.concatenate([np.full((len(run), 3), np.nan) if run.centre is None else run.centre for run in runs])
        plane = np.concatenate([np.zeros(len(run), np.uint8) if run.plane is None else run.plane for run in runs])
    return replace(
        runs[0],
        motion=np.concatenate([run.motion for run in runs]),
        xyz=np.concatenate([run.xyz for run in runs]),
        w_deg=np.concatenate([run.w_deg for run in runs]),
        feed_mode=np.concatenate([run.feed_mode for run in runs]),
        feed=np.concatenate([run.feed for run in runs]),
        move=np.concatenate([run.move for run in runs]),
        centre=centre,
        plane=plane,
    )


def rows_of(run: AxisRun, low: int, high: int) -> AxisRun:
    """The rows from low up to high, high not included, as a run of their own."""
    if low == 0 and high >= len(run):
        return run
    part = slice(low, high)
    return replace(
        run,
        motion=run.motion[part],
        xyz=run.xyz[part],
        w_deg=run.w_deg[part],
        feed_mode=run.feed_mode[part],
        feed=run.feed[part],
        move=run.move[part],
        centre=None if run.centre is None else run.centre[part],
        plane=None if run.plane is None else run.plane[part],
    )
