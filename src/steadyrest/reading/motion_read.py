"""What reading a program back gives: its motion in columns and everything else as events, each with its line.

Positions are work coordinates, in the length unit of the program at that place, turned into mm here so that nothing after this
has to know about units. A rotary is its commanded word W in degrees, unwound: rollover, incremental words and substituted axes
are resolved. How far the part is turned by it is `sigma` times W.

- A linear axis whose drive turns the rotary has no position: its column is 0.
- A block that goes clear (in machine coordinates, or to the reference point) has a `retract` event before its row; the row itself is
  not `clear` and ends at Z NaN, those after it are, until a Z word. Other axes that it names end at NaN as well.
- After another tool length offset Z is NaN, after another work offset every position is: the numbers change without motion.
- A drilling cycle gives a `cycle` event per hole, then its rows; a pause at the bottom stands as a `dwell` between them.
- An arc's centre has the third axis' coordinate of the arc's start.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Codes, Floats, Ints, join, take
from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, LINE, PLANE_AXES, RAPID, XY, XZ, YZ

MOST_ROWS = 16_384
MOTIONS = {"rapid": RAPID, "line": LINE, "arc_clockwise": ARC_CLOCKWISE, "arc_counterclockwise": ARC_COUNTERCLOCKWISE}
PLANE_CODES = {"plane_xy": XY, "plane_xz": XZ, "plane_yz": YZ}
"""Codes of a profile by the names of their settings."""
BESIDE_WORDS = 1.0


def sigma(chuck_faces: str, positive_turns_chuck: str) -> int:
    """+1 where a positive command turns the part right-hand about the + direction of its axis, else -1: phi = sigma W.

    Looking at the chuck's face is looking against the direction it faces; a right-hand turn about that direction is
    counterclockwise there.

    chuck_faces           the direction that the chuck's face looks in, such as +X
    positive_turns_chuck  clockwise or counterclockwise, seen at the chuck's face
    """
    return 1 if chuck_faces.startswith("+") == (positive_turns_chuck == "counterclockwise") else -1


@dataclass(frozen=True, slots=True)
class ArcsRead:
    """What the arcs among n blocks are, one row a block: NaN and 0 where the block is straight.

    centre_mm   (n, 3)
    plane       (n,) XY, XZ, YZ
    sweep_rad   (n,) from start to end, whole turns included; counterclockwise positive seen from the + end of the third axis
    full_turns  (n,) whole turns in it (a full circle: one)
    """

    centre_mm: Floats
    plane: Codes
    sweep_rad: Floats
    full_turns: Ints


def no_arcs(n: int) -> ArcsRead:
    """That of n straight blocks."""
    return ArcsRead(np.full((n, 3), np.nan), np.zeros(n, dtype=np.uint8), np.full(n, np.nan), np.zeros(n, dtype=np.int64))


@dataclass(frozen=True, slots=True)
class MotionRead:
    """Consecutive motion blocks as the controller would carry them out, one row a block (a cycle gives one row per single motion).

    line          (n,) line of the program, from 1
    motion        (n,) RAPID, LINE, ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE (seen from the + end of the third axis)
    vertex_mm     (n + 1, 3) position before the first row and after each; NaN where not known (start of program, after a retract in
                  machine coordinates)
    vertex_deg    (n + 1, r) the words of the r rotaries in use likewise, unwound; r is 0 for a profile without a rotary
    minutes       (n,) how long the block takes by its F word, before any machine limit; NaN in a rapid, from a place not
                  known, and while the rotary turns under a feed of the tip, which needs the part frame
    feed_word     (n,) the F in force, as a number of its mode; NaN in a rapid
    feed_mode     (n,) PER_MINUTE or INVERSE
    clear         (n,) Z stands clear of everything during the whole block (retracted in machine coordinates, not come down since)
    cycle         (n,) the row is part of a drilling cycle
    mm_per_unit   millimetres in the unit of length in which the program speaks here, 1 or 25.4
    arcs          of the n blocks, None when none is an arc
    """

    line: Ints
    motion: Codes
    vertex_mm: Floats
    vertex_deg: Floats
    minutes: Floats
    feed_word: Floats
    feed_mode: Codes
    clear: Bools
    cycle: Bools
    mm_per_unit: float
    arcs: ArcsRead | None = None

    def __len__(self) -> int:
        return len(self.line)

    @property
    def end_mm(self) -> Floats:
        """(n, 3) position after each row."""
        return self.vertex_mm[1:]

    @property
    def rotary_deg(self) -> Floats:
        """(n, r) words of the rotaries after each row."""
        return self.vertex_deg[1:]

    def rows(self, first: int, last: int) -> MotionRead:
        """Rows from `first` up to but not including `last`; memory is shared."""
        if last - first == len(self):
            return self
        part, vertices = take(self, slice(first, last)), slice(first, last + 1)
        arcs = part.arcs if (part.motion >= ARC_CLOCKWISE).any() else None
        return replace(part, vertex_mm=self.vertex_mm[vertices], vertex_deg=self.vertex_deg[vertices], arcs=arcs)


def join_motion(runs: Sequence[MotionRead]) -> MotionRead:
    """Runs that follow each other, as one."""
    if len(runs) == 1:
        return runs[0]
    vertex_mm = np.concatenate([runs[0].vertex_mm[:1], *(run.end_mm for run in runs)])
    vertex_deg = np.concatenate([runs[0].vertex_deg[:1], *(run.rotary_deg for run in runs)])
    return replace(join(runs), vertex_mm=vertex_mm, vertex_deg=vertex_deg)


def within_block(vertex: Floats, block: Ints, share: Floats, arcs: ArcsRead | None = None) -> Floats:
    """Where something stands when a share of a block is done: positions along straight lines and arcs, or angles.

    vertex   (n + 1,) or (n + 1, k) before the first block and after each; with arcs the first three columns are X, Y, Z in mm
    block    which of the n blocks; share from 0 to 1: two shapes that broadcast to (...)
    arcs     of the n blocks; a radius that differs at the end is reached gradually
    returns  (...) or (..., k)
    """
    begin, step = vertex[block], vertex[block + 1] - vertex[block]
    place: Floats = begin + (share if vertex.ndim == 1 else share[..., None]) * step
    if arcs is None:
        return place
    block, share = np.broadcast_arrays(block, share)
    for plane, (one, two, _) in enumerate(PLANE_AXES):
        at = np.nonzero((arcs.plane[block] == plane) & np.isfinite(arcs.sweep_rad[block]) & (share < 1.0))
        row, done = block[at], share[at]
        centre = arcs.centre_mm[row, one] + 1j * arcs.centre_mm[row, two]
        arm = vertex[row, one] + 1j * vertex[row, two] - centre
        last = vertex[row + 1, one] + 1j * vertex[row + 1, two] - centre
        size = 1.0 + done * (np.abs(last) / np.where(arm == 0, 1.0, np.abs(arm)) - 1.0)
        on_arc = centre + arm * size * np.exp(1j * done * arcs.sweep_rad[row])
        place[..., one][at], place[..., two][at] = on_arc.real, on_arc.imag
    return place


EventKind = Literal[
    "program_start",
    "comment",
    "tool_selected",
    "tool_change",
    "length_offset",
    "spindle",
    "coolant",
    "dwell",
    "stop",
    "optional_stop",
    "clamp",
    "unclamp",
    "retract",
    "cycle",
    "work_offset",
    "program_end",
    "mode",
    "path_mode",
    "assumed",
    "left_out",
]


@dataclass(frozen=True, slots=True)
class EventRead:
    """Something that happens between motions.

    number   tool number, spindle speed in rpm, pause in seconds, offset number, program number; in a program from elsewhere BESIDE_WORDS
             for a comment in a block that has words; NaN otherwise
    text     "clockwise", "counterclockwise", "stop" (spindle); "flood", "mist", "air", "through", "off" (coolant); a comment;
             a cycle's kind ("drill", "dwell-drill", "peck", "chip-break", "tap", "bore"); "on", "off" (length offset); the code
             as the profile spells it (stops, clamp, work offset, end, left out); what is taken for granted, in a sentence (assumed)

    `cycle` comes before a hole, but once for those that differ from the one before in their places only, line after line.
    `mode` is a code of the safe start before anything has moved, `path_mode` one of the path mode, then or later; `text` is the code.
    `assumed` and `left_out` come from a program from elsewhere only.
    `program_start` comes once at the first line, and again with its number where the program has one.
    """

    line: int
    kind: EventKind
    number: float = float("nan")
    text: str = ""


ProgramItem = MotionRead | EventRead


@dataclass(frozen=True, slots=True)
class Piece:
    """Consecutive items as one: whoever judges them in columns gets enough at a time to be worth it.

    motion   all their runs as one, None without any
    events   each with the number of rows before it, in order
    """

    motion: MotionRead | None
    events: list[tuple[int, EventRead]]

    def parted(self, *kinds: EventKind) -> Iterator[Piece]:
        """The same in pieces, each but the last with an event of these kinds at its end; memory is shared."""
        first, events, n = 0, list[tuple[int, EventRead]](), len(self.motion or ())
        for number, (row, event) in enumerate(self.events, 1):
            events.append((row - first, event))
            if event.kind in kinds and (row < n or number < len(self.events)):
                yield Piece(self._rows(first, row), events)
                first, events = row, []
        yield Piece(self._rows(first, n), events)

    def _rows(self, first: int, last: int) -> MotionRead | None:
        return self.motion.rows(first, last) if self.motion is not None and first < last else None

    def items(self) -> Iterator[ProgramItem]:
        """Its items again, each run between two events as one; memory is shared."""
        first = 0
        for row, event in [*self.events, (len(self.motion or ()), None)]:
            if self.motion is not None and first < row:
                yield self.motion.rows(first, row)
            first = row
            if event is not None:
                yield event


def last_line(item: Piece | ProgramItem) -> int:
    """The last line of it that moves or says something; 0 for a run of nothing."""
    if isinstance(item, EventRead):
        return item.line
    events = [event.line for _, event in item.events[-1:]] if isinstance(item, Piece) else []
    motion = item.motion if isinstance(item, Piece) else item
    moved = int(motion.line[-1]) if motion is not None and len(motion) else 0
    return max([moved, *events])


def pieces(items: Iterable[ProgramItem]) -> Iterator[Piece]:
    """The items in pieces; a run that begins elsewhere than where the one before it has ended, or in another unit, begins another.

    What reading them raises is raised after the piece of all that comes before it.
    """
    runs: list[MotionRead] = []
    events: list[tuple[int, EventRead]] = []
    source, rows, failure = (item for item in items if isinstance(item, EventRead) or len(item)), 0, None
    while failure is None:
        item: ProgramItem | None = None
        try:
            item = next(source, None)
        except Exception as error:
            failure = error
        if isinstance(item, EventRead) and len(events) < MOST_ROWS:
            events.append((rows, item))
            continue
        if isinstance(item, MotionRead) and (not runs or (rows + len(item) <= MOST_ROWS and _goes_on(runs[-1], item))):
            runs.append(item)
            rows += len(item)
            continue
        if runs or events:
            yield Piece(join_motion(runs) if runs else None, events)
        if item is None:
            break
        runs, events, rows = ([item], [], len(item)) if isinstance(item, MotionRead) else ([], [(0, item)], 0)
    if failure is not None:
        raise failure


def _goes_on(before: MotionRead, after: MotionRead) -> bool:
    """Whether a run begins where the one before it has ended, to the bit: a place that is not known is one, too."""
    ends, begins = ((run.vertex_mm[at].tobytes(), run.vertex_deg[at].tobytes()) for run, at in ((before, -1), (after, 0)))
    return before.mm_per_unit == after.mm_per_unit and ends == begins
