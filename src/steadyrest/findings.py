"""What somebody has to know before cycle start, as data: one thing each, with a name, a weight and its place.

A finding is `stop` (the program must not run) or `look` (a person has to look at it). What was merely done on the way, and needs nobody's
eyes, is a notice and no finding.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

Weight = Literal["stop", "look"]

MEANINGS = {
    "proof": "the program does not cut what the toolpath asks for",
    "origin": "the origin seems to be on top of the stock, not on the axis of rotation",
    "rapid": "a rapid goes through material",
    "shank": "the shank of a tool goes into material",
    "holder": "the holder goes into material",
    "jaws": "the cutter goes into the jaws",
    "stick-out": "the stock would have to stick out of the jaws by more than it is long",
    "travel": "an axis goes past its travel",
    "held": "the toolpath does not state which end of the stock is held",
    "not-simulated": "the cut was not simulated, or not all of it",
    "wrap": "an operation is wrapped around another diameter than the stock's",
    "clamp": "the rotary has no clamp for indexed cuts",
    "lowered": "a feed or spindle speed is lower than the toolpath asks for",
    "slowed": "a limit of the machine or of F makes a cut slower than the toolpath asks for",
    "stop-added": "the program has a stop or pause that the toolpath does not ask for",
    "stop-in-stock": "the toolpath asks for a stop or pause with the tool inside the space that the stock sweeps",
    "path-mode": "the path mode changes in the middle of the program",
    "turned-back": "the rotary is turned back in the middle of a cut",
    "turns-left": "the rotary ends whole turns away from where it started",
    "stale": "the head of the program names another version of the toolpath or profile",
    "unknown-place": "the tool moves near the stock from a position that the program does not state",
    "plug-in": "a plug-in is broken and was left out",
}
"""Name of a finding to what it says in general. A name that is not here is a mistake of ours."""

ACCEPTABLE = frozenset(MEANINGS) - {"proof"}
"""What `--accept` may name: there is no way past a failed proof."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found.

    name        one of `MEANINGS`
    sentence    what was found, whole, with units, and with the cure where there is one
    line        of the program; operation and move of the toolpath, counted from 1; None where it belongs to none
    lines       the first and the last line of the program where it goes on over several without a break; `line` is one of them
    count       how many times
    accepted    it was a `stop`, and the user said that it is meant
    consequences  what comes of it and would not be there without it
    """

    name: str
    weight: Weight
    sentence: str
    line: int | None = None
    operation: int | None = None
    move: int | None = None
    count: int = 1
    accepted: bool = False
    consequences: tuple[Finding, ...] = ()
    lines: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        assert self.name in MEANINGS, self.name

    def as_json(self) -> dict[str, Any]:
        """Plain data: the keys are the fields."""
        return asdict(self)
