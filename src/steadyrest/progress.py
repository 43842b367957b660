"""How far a long piece of work is: its stages, and what is told of each to whoever asked for the work, who may end it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

Progress = Callable[[str, int, int], None]
"""Called now and then with the stage, how much of it is done, and how much there is (0: not known). It may raise `Cancelled`.

Stages and what they count are in `STAGES`. Within a stage the count never goes back and never exceeds what there is; a stage that comes to
its end says so. What is counted is the work itself, so that the pace of a stage so far says how long the rest of it takes.
"""

READING, TAKING, SAVING = "reading the toolpath", "reading the inputs", "writing the toolpath"
TURNS, WRITING, READING_BACK = "choosing the rotary's turns", "planning and writing", "reading the program back"
PROVING, LOOKING, CONFIRMING = "proving", "looking for collisions", "confirming a collision"
CUTTING, DRAWING, DELIVERING = "cutting the stock", "drawing", "delivering"
TRYING, COMPARING, FITTING = "trying the profile", "comparing the programs", "trying what the example shows"
STAGES = {
    READING: "bytes",
    TAKING: "bytes",
    SAVING: "moves",
    TURNS: "moves",
    WRITING: "moves",
    READING_BACK: "lines",
    PROVING: "lines",
    LOOKING: "lines",
    CONFIRMING: "places",
    CUTTING: "lines",
    DRAWING: "pictures",
    DELIVERING: "bytes",
    TRYING: "programs",
    COMPARING: "programs",
    FITTING: "programs",
}
"""Every stage that is told of, and what it counts."""

Item = TypeVar("Item")


@dataclass(slots=True)
class Work:
    """One stage: what is done of it, and how much there is (0: not known), counted in the unit of `STAGES`."""

    progress: Progress | None
    stage: str
    total: int = 0
    done: int = 0

    def to(self, done: int) -> None:
        """So much is done by now. Never less than before, and never more than there is."""
        self.done = max(self.done, min(done, self.total) if self.total else done)
        if self.progress is not None:
            self.progress(self.stage, self.done, self.total)

    def on(self, more: int = 1) -> None:
        """So much more is done."""
        self.to(self.done + more)

    def end(self) -> None:
        """All of it is done."""
        self.to(self.total)

    def through(self, items: Iterable[Item], reached: Callable[[Item], int]) -> Iterator[Item]:
        """The items; once whoever goes through them has done with one, as much is done as was reached with it, and after the last all."""
        for item in items:
            yield item
            self.to(reached(item))
        self.end()
