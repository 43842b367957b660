"""Where do the lines that are asked for come from, of all that was told while the program was written?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.motion import Event, Motion
from steadyrest.writing import Origin, Printed

AXES = 5
"""X, Y, Z and the two rotaries that a machine may have."""


@dataclass(slots=True)
class Row:
    """One row of motion, as it was planned.

    run                     that row alone
    before_xyz, before_deg  where it begins, (3,) and (r,); NaN where not known
    piece, pieces           which of the lines of one move it is, from 1, and of how many
    """

    run: Motion
    before_xyz: Floats
    before_deg: Floats
    piece: int = 1
    pieces: int = 1

    @property
    def kind(self) -> int:
        """Rapid, line or arc, as in `Motion`."""
        return int(self.run.kind[0])

    @property
    def rotary_deg(self) -> Floats:
        """(r,) the rotaries after it, degrees; NaN where not commanded."""
        return np.asarray(self.run.rotary_deg[0])

    @property
    def stands_deg(self) -> Floats:
        """(r,) where the rotaries stand after it, commanded or not; NaN where not known."""
        return np.where(np.isnan(self.rotary_deg), self.before_deg, self.rotary_deg)


@dataclass(frozen=True, slots=True)
class LineOrigin:
    """Where one line comes from.

    operation, move   of the toolpath; 0: none
    event, template   that it belongs to, None: plain motion; and the file that says how it looks; empty where the event itself says it
    printed           the pieces of an event's line
    """

    operation: int
    move: int
    event: Event | None
    template: str = ""
    printed: Sequence[Printed] = ()
    row: Row | None = None


class Origins:
    """Where the lines of one program come from: what was told of the writing is gone through once, and asked as often as one likes.

    events   each event of the program with the number of its first line, or of the line after it where it says nothing
    """

    def __init__(self, told: Iterable[Origin]) -> None:
        self.events = list[tuple[int, Event]]()
        self._told = list[tuple[Origin, int, Floats]]()  # that became lines: with the move of an event's line, and where the machine stands
        stand, event, holes, last = np.full(AXES, np.nan), None, iter(()), (0, 0)
        firsts = [np.zeros(0, dtype=int)]  # the lines that are the first of their move
        self._end = 1
        for origin in told:
            first, of, _, said, motion = origin
            if of is not event:
                stand, event, last = _left_by(event, stand), of, (0, 0)
                holes = iter(of.holes.move.tolist() if of is not None and of.holes is not None else ())
            if of is not None and said is not None:
                self._told.append((origin, next(holes, of.move) if said[0] == "cycle" else of.move, stand))
                firsts.append(np.array([first]))
                last, self._end = (0, 0), first + 1
            elif motion is not None:
                self._told.append((origin, 0, stand))
                run, kept = motion
                moves, self._end = run.move[kept], first + len(kept)
                new = np.append((run.operation, int(moves[0])) != last, moves[1:] != moves[:-1])
                firsts.append(first + np.flatnonzero(new))
                stand, last = _last_known(_places(run), stand), (run.operation, int(moves[-1]))
            elif of is not None:
                self.events.append((first, of))
        self._starts = np.array([origin.first_line for origin, _, _ in self._told])
        self._bounds = np.append(np.concatenate(firsts), self._end)

    def of(self, wanted: Iterable[int]) -> dict[int, LineOrigin]:
        """Where some lines come from, by their numbers from 1; a line that the program does not have is left out."""
        return {number: self._line(number) for number in sorted(wanted) if 1 <= number < self._end}

    def _line(self, number: int) -> LineOrigin:
        (first, of, file, said, motion), move, stand = self._told[int(np.searchsorted(self._starts, number, "right")) - 1]
        if motion is None:
            assert of is not None
            assert said is not None
            source, printed = said
            return LineOrigin(of.operation, move, of, "" if source == "plain" else file, printed)
        run, kept = motion
        at, places = int(kept[number - first]), _places(run)
        before = _last_known(places[:at], stand)
        group = int(np.searchsorted(self._bounds, number, "right"))
        piece, pieces = number - int(self._bounds[group - 1]) + 1, int(self._bounds[group] - self._bounds[group - 1])
        row = Row(take(run, [at]), before[:3], before[3 : 3 + run.rotary_deg.shape[1]], piece, pieces)
        return LineOrigin(run.operation, int(run.move[at]), of, file, (), row)

    def past(self, first: int, event: Event) -> int:
        """The line after the last one of an event that begins with the line `first`."""
        for origin, _, _ in self._told[int(np.searchsorted(self._starts, first)) :]:
            if origin.event is not event:
                return origin.first_line
        return self._end

    @property
    def count(self) -> int:
        """How many lines there are."""
        return self._end - 1


def _places(run: Motion) -> Floats:
    """X, Y, Z and the rotaries of each row (n, AXES); NaN where not commanded, or where the program turns none or one."""
    return np.column_stack([run.xyz, run.rotary_deg, np.full((len(run), AXES - 3), np.nan)])[:, :AXES]


def _last_known(places: Floats, before: Floats) -> Floats:
    """Where the machine stands (AXES,) after some rows (n, AXES), and `before` (AXES,) them."""
    every = np.vstack([before, places])
    latest = np.where(np.isnan(every), 0, np.arange(len(every))[:, None]).max(axis=0)
    return np.asarray(every[latest, range(AXES)])


def _left_by(event: Event | None, stand: Floats) -> Floats:
    """Where the machine stands after an event: a cycle has moved the tool, and a retract in machine coordinates has left Z open."""
    if event is not None and event.holes is not None and len(event.holes.xy):
        return np.array([*event.holes.xy[-1], np.nan, *stand[3:]])
    if event is not None and event.name == "retract" and event.facts.get("form") in ("machine_zero", "reference"):
        return np.array([*stand[:2], np.nan, *stand[3:]])
    return stand
