"""What is in force while a program is taken, and how it is said that something cannot be."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from steadyrest.columns import Floats
from steadyrest.errors import Place, ProgramError
from steadyrest.inputs.changes import Assumed, LeftOut, leave_out
from steadyrest.inputs.moves import Conditions, Happening
from steadyrest.inputs.stretches import Stretches

FLAT = "flat"
"""The frame of a program's motion until it is known where it lies: ("flat", W in degrees)."""


@dataclass(slots=True)
class Drilling:
    """A cycle whose rows are being gathered: `places` (3,) before the first row and after each, their motions, the pause at the bottom."""

    kind: str
    line: int
    places: list[Floats] = field(default_factory=list)
    motions: list[int] = field(default_factory=list)
    feed: float = math.nan
    dwell: float = 0.0


@dataclass(slots=True)
class ProgramState:
    """What is in force while a program is taken. Lengths are in mm. `cut_in`: the units in which it cut so far, as mm in one.

    `chosen`: codes that were said to be left out. `clamped`: a clamp code came just now. `cut_without`: something was cut before any work
    offset was stated; `doubted`: the one that was stated then, under which nothing can be cut.
    `head`: texts before the first word, which stands on the line `begins`; `named`: tools by number, each with the text that names it.
    `w_deg`: where the rotary stands by its word, 0 as long as the program has not said it (`w_known`); `turned_at`: the first line at
    which it stands elsewhere; `blind_at`: the first that cuts before it is said where.
    """

    file: str
    tool: int | None
    chosen: tuple[str, ...] = ()
    begins: int = 0
    stretches: Stretches = field(default_factory=Stretches)
    left_out: dict[str, LeftOut] = field(default_factory=dict)
    assumed: dict[str, Assumed] = field(default_factory=dict)
    rpm: float | None = None
    turns: str = "clockwise"
    coolant: str = "off"
    work_offset: str = ""
    cut_without: bool = False
    doubted: str = ""
    drilling: Drilling | None = None
    feed_mm: float = math.nan
    cut_in: set[float] = field(default_factory=set)
    w_deg: float = 0.0
    w_known: bool = False
    turned_at: int | None = None
    blind_at: int | None = None
    clamped: bool = False
    head: list[Happening] = field(default_factory=list)
    named: dict[int, tuple[str, Happening]] = field(default_factory=dict)

    def error(self, line: int, wrong: str, cure: str) -> ProgramError:
        """An error at a line of the program."""
        return ProgramError(wrong, place=Place(file=self.file, line=line), cure=cure)

    def stand(self, w_deg: float, line: int) -> None:
        """The rotary stands at an angle; NaN: the program has not said where."""
        if math.isnan(w_deg):
            return
        self.w_deg, self.w_known = w_deg, True
        if w_deg != 0.0 and self.turned_at is None:
            self.turned_at = line

    def conditions(self, line: int, *, cutting: bool) -> Conditions:
        """The conditions of the next motion; ProgramError for what has to be known by now."""
        if self.tool is None:
            raise self.error(line, "a cut before any tool change: no tool is given for it", "give --tool NUMBER for this program")
        if cutting:
            if not self.rpm:
                raise self.error(line, "a cut while the spindle is stopped", "put M3 with an S word before it")
            if not self.w_known and self.blind_at is None:
                self.blind_at = line
            self.cut_without = self.cut_without or not self.work_offset
            if self.doubted:
                raise self.error(
                    line,
                    f"a cut under {self.doubted} after cuts under no work offset stated: the distance between the two is not given",
                    "state the work offset before the first cut, or make one toolpath for each",
                )
        return Conditions(self.tool, self.rpm, self.turns, self.coolant, (FLAT, self.w_deg))

    def leave_out(self, what: str, line: int, reason: str) -> None:
        """One notice for all blocks of one kind that say nothing about what is cut."""
        leave_out(self.left_out, what, Place(file=self.file, line=line), reason)
