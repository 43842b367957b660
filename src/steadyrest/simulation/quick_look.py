"""Does a rapid, a shank or a holder go through material? Answered in a moment, for every post: the report takes its time instead.

First everything is held against the uncut stock (`uncut`): what stays clear of that needs no cutting. What does not is looked at
once more, at points within the tool, with what was cut before (`remaining`). What touches there is confirmed at its place by cutting a thin
slice of the stock on fine lines before it counts.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from math import ceil, floor
from typing import Protocol

import numpy as np

from steadyrest.columns import Floats, take
from steadyrest.errors import ProfileError, ProgramError
from steadyrest.profile import Profile, has_one_in_table
from steadyrest.progress import CONFIRMING, LOOKING, Work
from steadyrest.progress import Progress as Told
from steadyrest.proof import as_mounted
from steadyrest.reading import MotionRead, Piece, ProgramItem
from steadyrest.simulation.carving import Carving
from steadyrest.simulation.cut import Cut, Touches
from steadyrest.simulation.dexel import Dexels, billet_of, stock_dexels
from steadyrest.simulation.dexel_carving import around_place
from steadyrest.simulation.dexel_stock import RemainingBillet, UncutBillet
from steadyrest.simulation.field import Field, mm_per_unit, stock_field
from steadyrest.simulation.simulation import Look, Progress, Simulation
from steadyrest.simulation.stock import Remaining, Uncut
from steadyrest.simulation.way import STAMPS_AT_ONCE
from steadyrest.toolpath import Stock, Toolpath

LEAST_SECONDS, SHARE_OF_POST = 0.5, 0.3
"""Of processor time: so much may be spent on looking, the larger of the two."""
CONFIRMING_SECONDS = 10.0
"""Of processor time, and only where something was found that would stop the program."""
UNCUT_LINES = 256
FINE_MM = 0.2
LOOKED_AT_ONCE = 128
MOST_CONFIRMED = 3
"""Places that are tried on fine lines, the deepest first. One that is confirmed is enough to stop."""
QUICK_OFF_MM = 0.01
SEEN_MM = 0.01
"""Less than this inside material is nothing that could be seen or felt."""
NO_STOCK = "the toolpath gives no stock"
_SWITCHED = ("tool_selected", "tool_change", "stop")
Places = dict[str, Touches]


class _OutOfTimeError(Exception):
    """The time is used up."""


@dataclass(frozen=True, slots=True)
class Hazards:
    """What goes through material and must not, as far as it was simulated.

    touches         "rapid", "shank", "holder" to the places, those without any left out; `depth_mm` is the most material on one line
    unknown_lines   motion near the stock from a place that the program does not say
    not_simulated   why not everything was; empty when it was
    """

    touches: Places
    unknown_lines: tuple[int, ...] = ()
    not_simulated: str = ""

    @classmethod
    def of(cls, cut: Cut) -> Hazards:
        """What a whole simulation has found."""
        return cls(_touching(cut), cut.unknown_lines)


class Watch:
    """Looks at a program while it is read for something else: hand it each piece, in order, and ask it at the end.

    gauge_lengths   of the tools by their numbers, file units; needed where a head turns
    """

    def __init__(self, toolpath: Toolpath, profile: Profile, letter: str | None, gauge_lengths: Mapping[int, float] | None = None) -> None:
        by_radii = has_one_in_table(profile)
        if by_radii:
            toolpath = as_mounted(toolpath, next((one for name, one in profile.rotary.items() if name == letter), None))
        self._toolpath = toolpath
        self._why_not = NO_STOCK if toolpath.stock is None else ""
        self._used = 0.0
        self._simulation_of = partial(
            Simulation, toolpath, profile, rotary_letter=letter, gauge_lengths=gauge_lengths, at_once=LOOKED_AT_ONCE
        )
        if toolpath.stock is not None:
            self._looks: _Looks = _Radii(toolpath, toolpath.stock) if by_radii else _Tilted(toolpath)
            self._reach_mm = max(tool.diameter for tool in toolpath.tools) * mm_per_unit(toolpath) / 2
            self._quick = partial(self._simulation_of, off_mm=QUICK_OFF_MM)
            self._simulation = self._quick(carver=self._looks.uncut(), at_once=STAMPS_AT_ONCE)

    def look(self, piece: Piece) -> None:
        """Look at the next piece of the program."""
        if self._why_not:
            return
        begin = time.thread_time()
        try:
            for item in _stretches(piece):
                self._simulation.take(item)
        except (ProgramError, ProfileError) as error:
            self._why_not = str(error)
        self._used += time.thread_time() - begin

    def hazards(self, read: Callable[[], Iterable[ProgramItem]], seconds: float, progress: Told | None = None) -> Hazards:
        """What was found, once the program has been read to its end; where something could touch, it is read again and cut.

        read      gives the items of the program from its beginning
        seconds   of processor time for all of it
        progress  is told how far this is
        """
        if self._why_not:
            return Hazards({}, (), self._why_not)
        uncut = self._simulation.result()
        suspects = _touching(uncut)
        if not suspects:
            return Hazards({}, uncut.unknown_lines)
        places = np.concatenate([one.first_mm for one in suspects.values()])
        last = max(int(one.line.max()) for one in suspects.values())
        near = np.column_stack([places - self._reach_mm, places + self._reach_mm])
        work = Work(progress, LOOKING, last)
        simulation = self._quick(carver=self._looks.remaining(near), progress=_until(seconds - self._used, work))
        why_not = _carried_out(simulation, read, last)
        work.end()
        found = _touching(simulation.result())
        touches = {name: take(one, np.isin(one.line, suspects[name].line)) for name, one in found.items() if name in suspects}
        work = Work(progress, CONFIRMING)
        confirmed, doubt = self._confirmed(read, {name: one for name, one in touches.items() if len(one)}, work)
        return Hazards(confirmed, uncut.unknown_lines, why_not or doubt)

    def _confirmed(self, read: Callable[[], Iterable[ProgramItem]], touches: Places, work: Work) -> tuple[Places, str]:
        """Those of a kind of which one of the deepest is found on fine lines too; and what could not be told in time."""
        kept: Places = {}
        for name, one in touches.items():
            for at in np.argsort(-one.depth_mm, kind="stable")[:MOST_CONFIRMED]:
                line, place = int(one.line[at]), (float(one.first_mm[at]), float(one.second[at]))
                work.on()
                fine, why_not = self._cut(read, place, line, work)
                if why_not:
                    return kept, f"in full detail at line {line}, which may go through material ({name}); the report does"
                if name in fine and line in fine[name].line:
                    kept[name] = one
                    break
        return kept, ""

    def _cut(self, read: Callable[[], Iterable[ProgramItem]], place: tuple[float, float], last_line: int, work: Work) -> tuple[Places, str]:
        """What touches in the piece of the stock that a tool at that place reaches, the program cut up to that line."""
        # The compiled loops take half a second to load: only where somebody else has loaded them already.
        carving: Carving = "compiled" if "numba" in sys.modules else "arrays"
        stock, progress = self._looks.piece(place, self._reach_mm), _until(CONFIRMING_SECONDS, work)
        simulation = self._simulation_of(stock=stock, carving=carving, progress=progress)
        why_not = _carried_out(simulation, read, last_line)
        return _touching(simulation.result()), why_not


def _stretches(piece: Piece) -> Iterator[ProgramItem]:
    """Its items that may make a difference, with motion between them as one: operations are not told apart here.

    A height gets lost in the middle of a stretch only where the tool goes clear: only in one that begins without does it matter where.
    """
    motion, first = piece.motion, 0
    if motion is None:
        yield from piece.items()
        return
    for row, event in [*piece.events, (len(motion), None)]:
        if event is None or event.kind in _SWITCHED or (event.kind == "retract" and np.isnan(motion.vertex_mm[first, 2])):
            if first < row:
                yield motion.rows(first, row)
            first = row
            if event is not None:
                yield event


def _until(seconds: float, work: Work) -> Progress:
    """Ends a simulation after so many seconds of processor time, and tells how far it is: by lines, or in the same place again."""
    end = time.thread_time() + seconds

    def look(line: int, _: int) -> None:
        work.to(line if work.total else work.done)
        if time.thread_time() > end:
            raise _OutOfTimeError(line)

    return look


def _carried_out(simulation: Simulation, read: Callable[[], Iterable[ProgramItem]], last_line: int) -> str:
    """The program up to that line; why it was not, if it was not."""
    try:
        for item in read():
            simulation.take(item)
            if isinstance(item, MotionRead) and len(item) and int(item.line[-1]) >= last_line:
                break
    except _OutOfTimeError as over:
        return f"after line {over.args[0]}, which would take too long; the report simulates the whole program"
    except (ProgramError, ProfileError) as error:
        return str(error)
    return ""


class _Looks(Protocol):
    """What a program is held against."""

    def uncut(self) -> Look:
        """The stock before the first cut."""

    def remaining(self, near: Floats) -> Look:
        """What is left of it near some places along the axis, (k, 2) from and to."""

    def piece(self, place: tuple[float, float], reach_mm: float) -> Field | Dexels:
        """The stock before the first cut, on fine lines, where a tool at a place that touches reaches it."""


class _Radii:
    """Where every tool axis lies across the axis of rotation."""

    def __init__(self, toolpath: Toolpath, stock: Stock) -> None:
        self._toolpath = toolpath
        self._stock = stock_field(toolpath, UNCUT_LINES, UNCUT_LINES), stock, toolpath.axis, mm_per_unit(toolpath)

    def uncut(self) -> Uncut:
        return Uncut(*self._stock)

    def remaining(self, near: Floats) -> Remaining:
        return Remaining(*self._stock, near)

    def piece(self, place: tuple[float, float], reach_mm: float) -> Field:
        field = stock_field(self._toolpath, cells_mm=(FINE_MM, FINE_MM))
        reach = reach_mm + 2 * field.first_step_mm
        first = (np.add(place[0], (-reach, reach)) - field.first_mm[0]) / field.first_step_mm
        start, stop = min(max(floor(first[0]), 0), len(field.first_mm) - 1), ceil(first[1]) + 1
        return field.rows(start, max(stop, start + 1))


class _Tilted:
    """Where a tool may stand at any tilt."""

    def __init__(self, toolpath: Toolpath) -> None:
        self._billet, self._axis = billet_of(toolpath), toolpath.axis

    def uncut(self) -> UncutBillet:
        return UncutBillet(self._billet, self._axis)

    def remaining(self, near: Floats) -> RemainingBillet:
        return RemainingBillet(self._billet, self._axis)

    def piece(self, place: tuple[float, float], reach_mm: float) -> Dexels:
        return stock_dexels(self._billet, FINE_MM, around_place(self._billet, self._axis, place, reach_mm + 2 * FINE_MM))


def _touching(cut: Cut) -> Places:
    """Touches by kind, the depth counted from the tool's own skin, those too shallow to be seen left out."""
    found = {name: replace(one, depth_mm=one.depth_mm + cut.touch_mm) for name, one in cut.touches.items()}
    found = {name: take(one, one.depth_mm >= cut.touch_mm + SEEN_MM) for name, one in found.items()}
    return {name: one for name, one in found.items() if len(one)}
