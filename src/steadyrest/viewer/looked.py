"""What does a finished program do? Read once, proved against its toolpath, and cut on the stock."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import cycle, islice
from pathlib import Path
from types import MappingProxyType

import numpy as np

from steadyrest.errors import ProfileError, ProgramError
from steadyrest.notices import Notice
from steadyrest.outcome import judge
from steadyrest.profile import Profile
from steadyrest.progress import CUTTING, DRAWING, PROVING, READING_BACK, WALLS, Progress, Work
from steadyrest.proof import Setting, prove, setting_of
from steadyrest.reading import MotionRead, last_line, lines_in, read_program
from steadyrest.simulation import NO_STOCK, Cut, Hazards, Simulation, Walls, find_walls
from steadyrest.summary import Posted
from steadyrest.toolpath import Holes, MoveColumns, Toolpath
from steadyrest.viewer.track import MOST_POSITIONS, Track, thinned, track_of
from steadyrest.viewer.views import NOT_COMPARED_COLOUR, OPERATION_COLOURS, SKIN_COLOUR

MOST_OF_HISTORY = (256, 384)
"""Rows and columns of the field of which the page holds when they changed."""


@dataclass(frozen=True, slots=True)
class Looked:
    """A program and all that was found out about it.

    posted     the program by its name for people, judged
    text       its bytes
    setting    rotary, frame, limits and units of the proof, its profile and toolpath
    track      its motion, thinned for drawing where it is very long
    blocks     how many blocks move
    cut        the part as it comes out; None where it cannot be said, and then `not_cut` says why
    walls      of the cut, where they stand between its lines
    """

    posted: Posted
    text: bytes
    setting: Setting
    track: Track
    blocks: int
    cut: Cut | None
    walls: Walls | None
    not_cut: str

    @property
    def colours(self) -> tuple[str, ...]:
        """Colours by number: 0 is what no tool has cut, then the operations, then what was not compared, if anything."""
        found = [SKIN_COLOUR, *islice(cycle(OPERATION_COLOURS), len(self.operation_names))]
        if self.posted.verdict.failure is not None:
            found[-1] = NOT_COMPARED_COLOUR
        return tuple(found)

    @property
    def hatches(self) -> tuple[int, ...]:
        """Kinds of hatching by number, as `colours`; see `views.hatched`."""
        found = [0, *islice(cycle(range(1, len(OPERATION_COLOURS) + 1)), len(self.operation_names))]
        if self.posted.verdict.failure is not None:
            found[-1] = len(OPERATION_COLOURS) + 1
        return tuple(found)

    @property
    def operation_names(self) -> tuple[str, ...]:
        """What each operation is called, in order; numbered where it has no name."""
        names = [one.name or f"operation {at}" for at, one in enumerate(self.posted.toolpath.operations, start=1)]
        if self.posted.verdict.failure is not None:
            names = [*names[: len(self.posted.verdict.operations)], "after the first difference: not compared"]
        return tuple(names)


def look(
    text: bytes,
    name: str,
    toolpath: Toolpath,
    profile: Profile,
    *,
    tolerance: float | None = None,
    changed: tuple[Notice, ...] = (),
    accept: Sequence[str] = (),
    gauge_lengths: Mapping[int, float] = MappingProxyType({}),
    cells: tuple[int, int] | None = None,
    most_positions: int = MOST_POSITIONS,
    progress: Progress | None = None,
) -> Looked:
    """Read, prove and simulate a program.

    text       the program, whole
    tolerance  as of `steadyrest.proof.comparison`
    accept     names of findings that the user takes on themselves
    gauge_lengths   that were given, by the number of a tool, file units
    cells      lines of the simulated field along the axis and around it; by default as fine as `steadyrest.simulation` makes it
    raises     ProgramError where the program is not in the profile's language; ToolpathError, ProfileError as the proof does. A program
               that can be read but not simulated (no stock, an unknown tool) is looked at without the cut
    """
    setting = setting_of(toolpath, profile, None, tolerance, gauge_lengths)
    lines = lines_in(text)
    reading, proving = (Work(progress, stage, lines) for stage in (READING_BACK, PROVING))
    items = list(reading.through(read_program(text, profile, rotary_letter=setting.letter), last_line))
    verdict = prove(proving.through(items, last_line), toolpath, profile, tolerance=tolerance, gauge_lengths=gauge_lengths)
    track = track_of(items, setting, verdict.operations, failed=verdict.failure is not None)
    ends = [one.last_line for one in verdict.operations]
    starts = (0, *(end + 1 for end in (ends[:-1] if verdict.proved else ends)))
    cut, walls, not_cut = None, None, NO_STOCK
    if toolpath.stock is not None:
        along, around = cells or (None, None)
        try:
            work = Work(progress, CUTTING, lines)
            simulation = Simulation(
                toolpath, profile, rotary_letter=setting.letter, along=along, around=around, gauge_lengths=gauge_lengths,
                operation_lines=starts,
                history=MOST_OF_HISTORY, progress=lambda line, _: work.to(line),
            )  # fmt: skip
            cut = simulation.of(items)
            work.end()
            work = Work(progress, WALLS, lines)
            walls = find_walls(items, toolpath, profile, cut, rotary_letter=setting.letter, progress=lambda line, _: work.to(line))
            work.end()
        except (ProgramError, ProfileError) as error:
            not_cut = str(error)
    Work(progress, DRAWING).to(0)
    outcome = judge(verdict, Hazards.of(cut) if cut is not None else not_cut, setting, notices=changed, accept=accept)
    return Looked(
        posted=Posted(Path(name), toolpath, profile.name, verdict, outcome, changed, setting.program_scale != 1.0, gauge_lengths),
        text=text,
        setting=setting,
        track=thinned(track, setting, most_positions),
        blocks=sum(len(item) for item in items if isinstance(item, MotionRead)),
        cut=cut,
        walls=walls,
        not_cut="" if cut is not None else not_cut,
    )


def asked_feeds(toolpath: Toolpath) -> tuple[float, ...]:
    """The highest feed that each operation asks for, file units per minute; NaN where it never cuts."""
    feeds = ([item.feed for item in one.stream() if isinstance(item, MoveColumns | Holes)] for one in toolpath.operations)
    return tuple(float(np.fmax.reduce(np.concatenate([[np.nan], *each]))) for each in feeds)
