"""One line of a terminal that says how far long work is: the stage, its share, and how much longer it takes if that can be told.

Shown only of what takes a while, so that nothing flickers, and the rest of the time only where the pace has been even: a machinist who
reads it plans by it. The pace is that of the stage so far, for what a stage counts is its work.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

from steadyrest.progress import STAGES

QUIET_SECONDS = 0.5
"""A stage that takes no longer than this is not shown."""
EVERY_SECONDS = 0.2
TELLING_SECONDS = 2.0
"""Before so long nobody knows the pace of a stage."""
EVEN = 0.25
"""Of the time that is left, by the pace of the whole stage and by that of its later half: they may differ by this part of it."""
STEPS_SECONDS = (1, 2, 5, 10)
"""What is left is said in steps that are no finer than what is known: from 0, 10, 20 and 60 seconds on."""


class ShownWork:
    """A `Progress` that is shown.

    write     takes text for the terminal, and shows it
    clock     seconds from any beginning, never back
    columns   how wide the terminal is
    """

    def __init__(self, write: Callable[[str], object], clock: Callable[[], float], columns: int) -> None:
        self._write, self._clock, self._columns = write, clock, columns
        self._stage, self._begun, self._shown_at, self._shown = "", 0.0, 0.0, ""
        self._known: list[tuple[float, int]] = []  # seconds of the stage and how much was done then, evenly over it

    def __call__(self, stage: str, done: int, total: int) -> None:
        """Show how far it is, if it is time to."""
        now = self._clock()
        if stage != self._stage:
            self.clear()
            self._stage, self._begun, self._shown_at, self._known = stage, now, now, [(0.0, done)]
        seconds = now - self._begun
        if seconds < QUIET_SECONDS or now - self._shown_at < EVERY_SECONDS:
            return
        self._shown_at = now
        self._known.append((seconds, done))
        if len(self._known) > 128:
            del self._known[1:-1:2]
        line = progress_line(stage, done, total, seconds_left(self._known, total))[: self._columns - 1]
        self._write(f"\r{line:<{len(self._shown)}}")
        self._shown = line

    def clear(self) -> None:
        """Take the line away."""
        if self._shown:
            self._write(f"\r{'':<{len(self._shown)}}\r")
            self._shown = ""


def progress_line(stage: str, done: int, total: int, left: float | None) -> str:
    """`planning and writing: 45 %, about 40 s left`; where it is not known how much there is, how much is done.

    left   seconds; None: nobody knows
    """
    if not total:
        return f"{stage}: {done:,} {STAGES.get(stage, '')}".rstrip() if done else f"{stage} ..."
    line = f"{stage}: {100 * done // total} %"
    return line if left is None else f"{line}, about {left_text(left)} left"


def left_text(seconds: float) -> str:
    """`40 s`, `2 min`, `1 h 10 min`: rounded up, no finer than what is known of it."""
    step = next((step for step, below in zip(STEPS_SECONDS, (10, 20, 60), strict=False) if seconds <= below), STEPS_SECONDS[-1])
    whole = max(1, ceil(seconds / step)) * step
    if whole <= 90:
        return f"{whole} s"
    minutes = ceil(whole / 60)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60 // 10 * 10} min"


def seconds_left(known: list[tuple[float, int]], total: int) -> float | None:
    """How long the rest of a stage takes, by its pace so far; None before that is known, or where the pace has not been even.

    known   seconds since its beginning and how much was done then, the present last
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
