"""What the controller remembers from block to block: modes, position, feed, tool."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from steadyrest.conventions import MM_PER_INCH, PER_MINUTE, XY
from steadyrest.reading.dialect import Dialect

UNKNOWN = float("nan")
NEAR_INTEGER = 0.0001  # NISTIR 6556, 3.3.2.1: how close a value meant as an integer must be to one


@dataclass(slots=True)
class State:
    """Everything modal. None: not stated yet, and the profile has a code for it, so nobody knows.

    mm_per_unit  1 or 25.4
    motion       what the motion group says: `rapid`, `line`, `arc_clockwise`, ..., `cancel`, or a cycle
    feed         F per minute as it stands, in units of the program; in inverse time it lasts for its block only
    stale_feed   the code since which F has to be stated again, for the message
    cycle        words of a drilling cycle that hold from block to block, as numbers of the program (NISTIR 6556, 3.5.16.1): `r`, whatever
                 cycle comes next; `bottom` and `peck`, while the same cycle repeats; `dwell`, the pause at the bottom in seconds; and
                 `level_mm`, where R counts from the level at which the cycle was called
    parameters   values that the program itself gave to its parameters; any other stands in the controller and is not known
    position_mm  X, Y, Z in work coordinates; NaN where not known
    rotary_deg   the words of the rotaries, unwound, from the part to the spindle; NaN where not known
    turns, part_turn_deg   of each where it rolls over: it stands at 360 turns + part_turn_deg
    clear        Z stands clear of everything, where exactly is not known
    """

    position_mm: tuple[float, float, float] = (UNKNOWN, UNKNOWN, UNKNOWN)
    rotary_deg: tuple[float, ...] = ()
    turns: list[int] = field(default_factory=list)
    part_turn_deg: list[float] = field(default_factory=list)
    clear: bool = False
    mm_per_unit: float | None = None
    incremental: bool | None = None
    plane: int | None = None
    feed_mode: int | None = None
    feed: float | None = None
    stale_feed: str = ""
    motion: str | None = None
    motion_before_cycle: str | None = None
    return_to_r: bool | None = None
    cycle: dict[str, float] = field(default_factory=dict)
    speed_rpm: float | None = None
    spindle: str = "stop"
    tool: int | None = None
    offset: int | None = None
    work_offset: str = ""
    parameters: dict[int, float] = field(default_factory=dict)
    ended: bool = False

    @property
    def inch(self) -> bool:
        """Whether the program is in inches at this place."""
        return self.mm_per_unit == MM_PER_INCH

    def stand_within_a_turn(self, at: int, w_deg: float, part_turn_deg: float) -> None:
        """A rotary stands at W, of which so much counts within a turn."""
        self.part_turn_deg[at] = part_turn_deg
        if not math.isnan(w_deg):
            self.turns[at] = round((w_deg - part_turn_deg) / 360)

    def lose_rotaries(self) -> None:
        """Where the rotaries stand is not known any more."""
        count = len(self.rotary_deg)
        self.rotary_deg, self.turns, self.part_turn_deg = (UNKNOWN,) * count, [0] * count, [UNKNOWN] * count


def initial_state(dialect: Dialect) -> State:
    """The state before the first block: known is what the profile has no code for; NISTIR 6556, table 4, gives no defaults for the rest."""
    profile, units = dialect.profile, dialect.profile.units
    incremental = profile.words.distance == "incremental"
    count = len(dialect.rotaries)
    place = list(profile.program.start_position or [UNKNOWN] * (3 + count))
    if dialect.replaced >= 0:
        place[dialect.replaced] = 0.0
    state = State((place[0], place[1], place[2]), tuple(place[3 : 3 + count]), [0] * count, [UNKNOWN] * count)
    state.mm_per_unit = None if units.mm or units.inch else MM_PER_INCH if units.program == "inch" else 1.0
    state.incremental = None if (profile.codes.incremental if incremental else profile.codes.absolute) else incremental
    state.plane = None if profile.codes.plane_xy else XY
    state.feed_mode = None if profile.feed.per_minute_code else PER_MINUTE
    state.return_to_r = None if profile.cycles.return_to_r else True
    for at, (rotary, w_deg) in enumerate(zip(dialect.rotaries.values(), state.rotary_deg, strict=True)):
        if rotary.rolls_over and not math.isnan(w_deg):
            state.turns[at] = math.floor(w_deg / 360)
            state.part_turn_deg[at] = w_deg - 360 * state.turns[at]
    return state
