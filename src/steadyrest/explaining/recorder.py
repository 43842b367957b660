"""What is to be remembered of the writing of a program, for the few lines that are asked for?"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from steadyrest.columns import Floats, Ints, take
from steadyrest.motion import Event, Motion
from steadyrest.writing import Printed, Source


@dataclass(slots=True)
class Row:
    """One row of motion, as it was planned.

    run                     that row alone
    w_deg                   the rotary, degrees; NaN where not commanded
    before_xyz, before_w    where it begins; NaN where not known
    piece, pieces           which of the lines of one move it is, from 1, and of how many
    """

    run: Motion
    w_deg: float
    before_xyz: Floats
    before_w: float
    piece: int
    pieces: int = 0
    group: int = 0

    @property
    def kind(self) -> int:
        """Rapid, line or arc, as in `Motion`."""
        return int(self.run.kind[0])


@dataclass(slots=True)
class Heard:
    """Where one line comes from.

    nth       which of the event's lines of its kind it is, from 0
    printed   the pieces of an event's line
    """

    source: Source | None
    event: Event | None
    template: str
    nth: int
    row: Row | None = None
    printed: Sequence[Printed] = ()


class Recorder:
    """Hears the writing of a program, and remembers the lines that are wanted; memory does not grow with the program."""

    def __init__(self, wanted: Collection[int]) -> None:
        self.heard: dict[int, Heard] = {}
        self._asked, self._wanted = frozenset(wanted), sorted(wanted)
        self._last = max(wanted, default=0)
        self._event: Event | None = None
        self._template = ""
        self._nth: dict[str, int] = {}
        self._xyz = np.full(3, np.nan)
        self._w_deg = float("nan")
        self._at = 0
        self._group = 0
        self._group_move: tuple[int, int] | None = None
        self._group_rows = 0

    @property
    def done(self) -> bool:
        """All that is wanted is known: the last line is passed, and so is the move that it belongs to."""
        last = self.heard.get(self._last)
        open_group = last is not None and last.row is not None and last.row.group == self._group
        return self._at > self._last and not open_group

    def begins(self, event: Event, template: str) -> None:
        """An event is about to be written."""
        self.close()
        self._event, self._template, self._nth = event, template, {}

    def line(self, number: int, source: Source, printed: Sequence[Printed]) -> None:
        """A line of that event."""
        self._at = number
        nth = self._nth.get(source, 0)
        self._nth[source] = nth + 1
        if number in self._asked:
            self.heard[number] = Heard(source, self._event, self._template, nth, None, printed)

    def ends(self) -> None:
        """That event is written; a cycle has moved the tool, and a retract in machine coordinates has left Z open."""
        self.close()
        event = self._event
        if event is not None and event.holes is not None and len(event.holes.xy):
            self._xyz = np.array([*event.holes.xy[-1], np.nan])
        if event is not None and event.name == "retract" and event.facts.get("form") in ("machine_zero", "reference"):
            self._xyz = np.array([*self._xyz[:2], np.nan])
        self._event, self._template = None, ""

    def rows(self, run: Motion, first_line: int, kept: Ints) -> None:
        """Rows of motion, of the event that has begun or of none."""
        low, high = (bisect_left(self._wanted, line) for line in (first_line, first_line + len(kept)))
        wanted = {number - first_line for number in self._wanted[low:high]}
        moves = run.move[kept]
        # Lines of one move follow each other: a group ends where the number changes.
        starts = [0, *(np.flatnonzero(np.diff(moves)) + 1).tolist(), len(moves)]
        groups = list(pairwise(starts)) if len(moves) else []
        skipped = not wanted and len(groups) > 2
        for begin, end in [groups[0], groups[-1]] if skipped else groups:  # of those between nobody will ask
            key = run.operation, int(moves[begin])
            if key != self._group_move or (skipped and begin):
                self.close()
                self._group_move = key
            for at in sorted(wanted & set(range(begin, end))) if wanted else ():
                row_at = int(kept[at])
                piece = self._group_rows + at - begin + 1
                row = Row(take(run, [row_at]), float(_rotary(run)[row_at]), *self._stand(run, row_at), piece, group=self._group)
                self.heard[first_line + at] = Heard(None, self._event, self._template, at, row)
            self._group_rows += end - begin
        if len(kept):
            self._at = first_line + len(kept) - 1
        self._xyz, self._w_deg = self._stand(run, len(run))

    def _stand(self, run: Motion, at: int) -> tuple[Floats, float]:
        """Where the machine stands before row `at` of a run."""
        xyz = np.array([_last_known(run.xyz[:at, axis], self._xyz[axis]) for axis in range(3)])
        return xyz, _last_known(_rotary(run)[:at], self._w_deg)

    def close(self) -> None:
        """The lines of a move are all there: say to each how many they are."""
        for heard in reversed(self.heard.values()):
            if heard.row is None or heard.row.group != self._group:
                break
            heard.row.pieces = self._group_rows
        self._group += 1
        self._group_move, self._group_rows = None, 0


def _rotary(run: Motion) -> Floats:
    return run.rotary_deg[:, 0] if run.rotary_deg.shape[1] else np.full(len(run), np.nan)


def _last_known(column: Floats, before: float) -> float:
    known = np.flatnonzero(~np.isnan(column))
    return float(column[known[-1]]) if len(known) else float(before)
