"""What reading a program back gives: its motion in columns and everything else as events, each with its line.

Positions are work coordinates, in the length unit of the program at that place, turned into mm here so that nothing after this
has to know about units. The rotary is the commanded word W in degrees, unwound: rollover, incremental words and substituted axes
are resolved.

- Without a rotary in the profile W is 0. A linear axis whose drive turns the rotary has no position: its column is 0.
- A block that goes clear (in machine coordinates, or to the reference point) has a `retract` event before its row; the row itself is
  not `clear` and ends at Z NaN, those after it are, until a Z word. Other axes that it names end at NaN as well.
- After another tool length offset Z is NaN, after another work offset every position is: the numbers change without motion.
- A drilling cycle gives a `cycle` event per hole, then its rows; a pause at the bottom stands as a `dwell` between them.
- An arc's centre has the third axis' coordinate of the arc's start.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

RAPID, LINE, CLOCKWISE, COUNTERCLOCKWISE = 0, 1, 2, 3
FEED_PER_MINUTE, FEED_INVERSE = 0, 1
PLANE_XY, PLANE_XZ, PLANE_YZ = 0, 1, 2
BESIDE_WORDS = 1.0


@dataclass(frozen=True, slots=True)
class MotionRead:
    """Consecutive motion blocks as the controller would carry them out, one row a block (a cycle gives one row per single motion).

    line          (n,) int64, line of the program, from 1
    motion        (n,) uint8: RAPID, LINE, CLOCKWISE, COUNTERCLOCKWISE (seen from the + end of the third axis)
    start_mm      (3,) float64, position before the first row; NaN where not known (start of program, after a retract in machine
                  coordinates)
    start_w_deg   float, rotary before the first row, degrees; NaN where not known
    end_mm        (n, 3) float64, position after the row; NaN where not known
    w_deg         (n,) float64, rotary after the row, unwound
    minutes       (n,) float64, how long the block takes by its F word, before any machine limit; NaN in a rapid, from a place not
                  known, and while the rotary turns under a feed of the tip, which needs the part frame
    feed_word     (n,) float64, the F in force, as a number of its mode; NaN in a rapid
    feed_mode     (n,) uint8: FEED_PER_MINUTE or FEED_INVERSE
    clear         (n,) bool, Z stands clear of everything during the whole block (retracted in machine coordinates, not come down since)
    cycle         (n,) bool, the row is part of a drilling cycle
    mm_per_unit   float, millimetres in the unit of length in which the program speaks here, 1 or 25.4
    centre_mm     (n, 3) float64, arc centre, or None when no row is an arc
    plane         (n,) uint8, or None when no row is an arc
    full_turns    (n,) int64, whole turns an arc makes beyond its sweep (a full circle: sweep 0, one turn), or None
    """

    line: NDArray[np.int64]
    motion: NDArray[np.uint8]
    start_mm: NDArray[np.float64]
    start_w_deg: float
    end_mm: NDArray[np.float64]
    w_deg: NDArray[np.float64]
    minutes: NDArray[np.float64]
    feed_word: NDArray[np.float64]
    feed_mode: NDArray[np.uint8]
    clear: NDArray[np.bool_]
    cycle: NDArray[np.bool_]
    mm_per_unit: float
    centre_mm: NDArray[np.float64] | None = None
    plane: NDArray[np.uint8] | None = None
    full_turns: NDArray[np.int64] | None = None

    def __len__(self) -> int:
        return len(self.line)


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
