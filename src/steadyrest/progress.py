"""How far a long piece of work is: its stages, and what is told of each to whoever asked for the work, who may end it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from math import ceil
from typing import TypeVar

Progress = Callable[[str, int, int], None]
"""Called now and then with the stage, how much of it is done, and how much there is (0: not known). It may raise `Cancelled`.

Stages and what they count are in `STAGES`. Within a stage the count never goes back and never exceeds what there is; a stage that comes to
its end says so. What is counted is the work itself, so that the pace of a stage so far says how long the rest of it takes.
"""

READING, CHECKING, DIGESTING = "reading the toolpath", "checking the moves", "taking the toolpath's digest"
TAKING, SAVING, SURVEYING = "reading the inputs", "writing the toolpath", "going through the operations"
TURNS, WRITING, READING_BACK = "choosing the rotary's turns", "planning and writing", "reading the program back"
PROVING, LOOKING, CONFIRMING = "proving", "looking for collisions", "confirming a collision"
CUTTING, DRAWING, LISTING, PACKING = "cutting the stock", "drawing", "packing the listing", "packing"
DELIVERING, WALLS = "delivering", "finding where walls stand"
MATCHING = "comparing the lines"
TRYING, COMPARING, FITTING = "trying the profile", "comparing the programs", "trying what the example shows"
STAGES = {
    READING: "bytes",
    CHECKING: "moves",
    DIGESTING: "moves",
    TAKING: "bytes",
    SAVING: "moves",
    SURVEYING: "operations",
    TURNS: "moves",
    WRITING: "moves",
    READING_BACK: "lines",
    PROVING: "lines",
    LOOKING: "lines",
    CONFIRMING: "places",
    MATCHING: "lines",
    CUTTING: "lines",
    WALLS: "lines",
    DRAWING: "",
    LISTING: "bytes",
    PACKING: "bytes",
    DELIVERING: "bytes",
    TRYING: "programs",
    COMPARING: "programs",
    FITTING: "programs",
}
"""Every stage that is told of, and what it counts; drawing counts nothing, for nobody knows how long each part of it takes."""

TELLING_SECONDS = 2.0
"""Before so long nobody knows the pace of a stage."""
EVEN = 0.25
"""Of the time that is left, by the pace of the whole stage and by that of its later half: they may differ by this part of it."""
STEPS_SECONDS = ((10, 1), (20, 2), (60, 5))
"""What is left is said in steps that are no finer than what is known: up to so many seconds in steps of so many, beyond in tens."""
MOST_KNOWN = 128
Item = TypeVar("Item")


@dataclass(slots=True)
class Work:
    """One stage: what is done of it, and how much there is (0: not known), counted in the unit of `STAGES`.

    begun   of what goes through several hands: how much has come to the first of them
    """

    progress: Progress | None
    stage: str
    total: int = 0
    done: int = 0
    begun: int = 0

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


@dataclass(slots=True)
class Pace:
    """How much longer a stage takes, by its pace so far: what a stage counts is its work."""

    stage: str
    _known: list[tuple[float, int]] = field(default_factory=list)
    """Seconds, and how much was done then, evenly over the stage."""

    def left(self, done: int, total: int, now: float) -> float | None:
        """Seconds that are left; None before that is known, or where the pace has not been even. To be asked a few times a second.

        now   seconds from any beginning, never back
        """
        self._known.append((now, done))
        if len(self._known) > MOST_KNOWN:
            del self._known[1:-1:2]
        return seconds_left(self._known, total)


def seconds_left(known: list[tuple[float, int]], total: int) -> float | None:
    """How long the rest of a stage takes, by its pace so far; None before that is known, or where the pace has not been even.

    known   seconds and how much was done then, the beginning of the stage first and the present last
    """
    (begin, first), (now, done) = known[0], known[-1]
    if not total or now - begin < TELLING_SECONDS or done <= first or done >= total:
        return None
    middle, half = min(known, key=lambda one: abs(one[0] - (begin + now) / 2))
    if done <= half:
        return None
    left = (total - done) * (now - begin) / (done - first)
    later = (total - done) * (now - middle) / (done - half)
    return later if abs(left - later) <= EVEN * max(left, later) else None


def left_text(seconds: float) -> str:
    """`40 s`, `2 min`, `1 h 10 min`: rounded up, no finer than what is known of it."""
    step = next((step for most, step in STEPS_SECONDS if seconds <= most), 10)
    whole = max(1, ceil(seconds / step)) * step
    if whole <= 90:
        return f"{whole} s"
    minutes = ceil(whole / 60)
    if minutes >= 60:
        minutes = 10 * ceil(minutes / 10)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"
