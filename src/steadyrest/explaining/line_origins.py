"""Where do the lines that are asked for come from, of all that was told while the program was written?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats, Ints, take
from steadyrest.motion import Event, Motion
from steadyrest.writing import Origin, Printed


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
    piece: int = 1
    pieces: int = 1

    @property
    def kind(self) -> int:
        """Rapid, line or arc, as in `Motion`."""
        return int(self.run.kind[0])


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


def line_origins(told: Iterable[Origin], wanted: set[int]) -> dict[int, LineOrigin]:
    """Where some lines come from, by their numbers from 1; `told` is of the whole program."""
    found: dict[int, LineOrigin] = {}
    stand, event, holes, last = np.full(4, np.nan), None, iter(()), (0, 0)
    firsts = list[Ints]()  # the lines that are the first of their move
    end = 1
    for first, of, file, said, motion in told:
        if of is not event:
            stand, event, last = _left_by(event, stand), of, (0, 0)
            holes = iter(of.holes.move.tolist() if of is not None and of.holes is not None else ())
        if of is not None and said is not None:
            source, printed = said
            move = next(holes, of.move) if source == "cycle" else of.move
            if first in wanted:
                found[first] = LineOrigin(of.operation, move, of, "" if source == "plain" else file, printed)
            firsts.append(np.array([first]))
            last, end = (0, 0), first + 1
        elif motion is not None:
            run, kept = motion
            moves, places, end = run.move[kept], _places(run), first + len(kept)
            new = np.append((run.operation, int(moves[0])) != last, moves[1:] != moves[:-1])
            firsts.append(first + np.flatnonzero(new))
            for number in sorted(wanted & set(range(first, end))):
                at = int(kept[number - first])
                before = _last_known(places[:at], stand)
                row = Row(take(run, [at]), float(places[at, 3]), before[:3], float(before[3]))
                found[number] = LineOrigin(run.operation, int(run.move[at]), of, file, (), row)
            stand, last = _last_known(places, stand), (run.operation, int(moves[-1]))
    bounds = np.append(np.concatenate(firsts), end)
    for number, origin in found.items():
        if origin.row is not None:
            group = int(np.searchsorted(bounds, number, "right"))
            origin.row.piece, origin.row.pieces = number - int(bounds[group - 1]) + 1, int(bounds[group] - bounds[group - 1])
    return found


def _places(run: Motion) -> Floats:
    """X, Y, Z and the rotary of each row (n, 4); NaN where not commanded, or where the program turns none."""
    return np.column_stack([run.xyz, run.rotary_deg, np.full(len(run), np.nan)])[:, :4]


def _last_known(places: Floats, before: Floats) -> Floats:
    """Where the machine stands (4,) after some rows (n, 4), and `before` (4,) them."""
    every = np.vstack([before, places])
    latest = np.where(np.isnan(every), 0, np.arange(len(every))[:, None]).max(axis=0)
    return np.asarray(every[latest, range(4)])


def _left_by(event: Event | None, stand: Floats) -> Floats:
    """Where the machine stands after an event: a cycle has moved the tool, and a retract in machine coordinates has left Z open."""
    if event is not None and event.holes is not None and len(event.holes.xy):
        return np.array([*event.holes.xy[-1], np.nan, stand[3]])
    if event is not None and event.name == "retract" and event.facts.get("form") in ("machine_zero", "reference"):
        return np.array([*stand[:2], np.nan, stand[3]])
    return stand
