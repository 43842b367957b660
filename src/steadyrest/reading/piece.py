"""Runs of motion and what happens between them, as one piece: whoever judges them in columns gets enough at a time to be worth it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from steadyrest.reading.motion_read import EventRead, MotionRead, ProgramItem, join_motion

MOST_ROWS = 16_384


@dataclass(frozen=True, slots=True)
class Piece:
    """Consecutive items. `motion`: all their runs as one, None without any; `events`: each with the number of rows before it, in order."""

    motion: MotionRead | None
    events: list[tuple[int, EventRead]]

    def items(self) -> Iterator[ProgramItem]:
        """Its items again, each run between two events as one; memory is shared."""
        first = 0
        for row, event in self.events:
            if self.motion is not None and first < row:
                yield self.motion.rows(first, row)
            first = row
            yield event
        if self.motion is not None and first < len(self.motion):
            yield self.motion.rows(first, len(self.motion))


def pieces(items: Iterable[ProgramItem | Piece]) -> Iterator[Piece]:
    """The items in pieces; a run that begins elsewhere than where the one before it has ended, or in another unit, begins another.

    What reading them raises is raised after the piece of all that comes before it.
    """
    runs: list[MotionRead] = []
    events: list[tuple[int, EventRead]] = []
    rows, failure = 0, None
    source = iter(items)
    while failure is None:
        item: ProgramItem | Piece | None = None
        try:
            item = next(source, None)
        except Exception as error:
            failure = error
        if isinstance(item, EventRead):
            events.append((rows, item))
            if len(events) < MOST_ROWS:
                continue
        elif isinstance(item, MotionRead):
            if len(item) == 0:
                continue
            if not runs or (rows + len(item) <= MOST_ROWS and _goes_on(runs[-1], item)):
                runs.append(item)
                rows += len(item)
                continue
        if runs or events:
            yield Piece(join_motion(runs) if runs else None, events)
        runs, events, rows = ([item], [], len(item)) if isinstance(item, MotionRead) else ([], [], 0)
        if isinstance(item, Piece):
            yield item
        elif item is None:
            break
    if failure is not None:
        raise failure


def _goes_on(before: MotionRead, after: MotionRead) -> bool:
    """Whether a run begins where the one before it has ended, to the bit: a place that is not known is one, too."""
    return (
        before.mm_per_unit == after.mm_per_unit
        and before.vertex_mm[-1].tobytes() == after.vertex_mm[0].tobytes()
        and before.vertex_deg[-1].tobytes() == after.vertex_deg[0].tobytes()
    )
