"""One line of a terminal that says how far long work is: the stage, its share, and how much longer it takes if that can be told.

Short work shows nothing, so that nothing flickers; a stage that is over is not left standing. The line is written over by going back to
its beginning, and taken away by blanks: any console can do that, also one that knows no codes for colour or cursor.
"""

from __future__ import annotations

from collections.abc import Callable

from steadyrest.progress import STAGES, Pace, left_text

QUIET_SECONDS = 1.0
"""Work that takes no longer than this shows nothing."""
EVERY_SECONDS = 0.2


class ShownWork:
    """A `Progress` that is shown.

    write     takes text for the terminal, and shows it
    clock     seconds from any beginning, never back
    columns   how wide the terminal is now
    """

    def __init__(self, write: Callable[[str], object], clock: Callable[[], float], columns: Callable[[], int]) -> None:
        self._write, self._clock, self._columns = write, clock, columns
        self._begun, self._due, self._shown = clock(), 0.0, ""
        self._pace = Pace("")

    def __call__(self, stage: str, done: int, total: int) -> None:
        """Show how far it is, if it is time to."""
        now = self._clock()
        if stage != self._pace.stage:
            self._pace, self._due = Pace(stage), 0.0
        if total and done >= total:
            self.clear()
        elif now >= self._due:
            self._due = now + EVERY_SECONDS
            left = self._pace.left(done, total, now)
            if now - self._begun >= QUIET_SECONDS:
                line = progress_line(stage, done, total, left, self._columns() - 1)
                self._write(f"\r{line:<{len(self._shown)}}")
                self._shown = line

    def clear(self) -> None:
        """Take the line away."""
        if self._shown:
            self._write(f"\r{'':<{len(self._shown)}}\r")
            self._shown = ""


def progress_line(stage: str, done: int, total: int, left: float | None, width: int) -> str:
    """`planning and writing: 45 %, about 40 s left`; where it is not known how much there is, how much is done.

    left    seconds; None: nobody knows
    width   most letters: where they do not suffice, the time and then letters of the stage are left out, and the share stays
    """
    if not total:
        return (f"{stage}: {done:,} {STAGES.get(stage, '')}".rstrip() if done else f"{stage} ...")[: max(width, 0)]
    share = f": {100 * done // total} %"
    time = "" if left is None else f", about {left_text(left)} left"
    if len(stage + share + time) > width:
        time = ""
    return f"{stage[: max(width - len(share), 0)]}{share}{time}"[: max(width, 0)]
