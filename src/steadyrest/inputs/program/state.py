"""What is in force while a program is taken, and how it is said that something cannot be."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place, ProgramError
from steadyrest.inputs.changes import Assumed, LeftOut
from steadyrest.inputs.gathering import Gatherer
from steadyrest.inputs.items import Happening, Settings
from steadyrest.inputs.program.turning import FLAT, Turning

Floats = NDArray[np.float64]
MM_PER_INCH = 25.4


@dataclass(slots=True)
class Drilling:
    """A cycle whose rows are being gathered: end (3,), motion and feed of each, and the pause at the bottom."""

    kind: str
    line: int
    start: Floats
    ends: list[Floats] = field(default_factory=list)
    motions: list[int] = field(default_factory=list)
    feed: float = math.nan
    dwell: float = 0.0


@dataclass(slots=True)
class Taking:
    """What is in force while a program is taken. `cut_in`: the units in which it cut so far, as millimetres in one.

    `chosen`: codes that were said to be left out. `clamped`: a clamp code came just now. `cut_without`: something was cut before any work
    offset was stated; `doubted`: the one that was stated then, under which nothing can be cut.
    `head`: texts before the first word, which stands on the line `begins`; `named`: tools by number, each with the text that names it.
    """

    file: str
    tool: int | None
    chosen: tuple[str, ...] = ()
    begins: int = 0
    gatherer: Gatherer = field(default_factory=Gatherer)
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
    turning: Turning = field(default_factory=Turning)
    clamped: bool = False
    head: list[Happening] = field(default_factory=list)
    named: dict[int, tuple[str, Happening]] = field(default_factory=dict)

    def error(self, line: int, wrong: str, cure: str) -> ProgramError:
        """An error at a line of the program."""
        return ProgramError(wrong, place=Place(file=self.file, line=line), cure=cure)

    def settings(self, line: int, *, cutting: bool) -> Settings:
        """The settings of the next motion; ProgramError for what has to be known by now."""
        if self.tool is None:
            raise self.error(line, "a cut before any tool change: which tool makes it is not known", "say --tool NUMBER for this program")
        if cutting and not self.rpm:
            raise self.error(line, "a cut while the spindle stands", "put M3 with an S word before it")
        if cutting:
            self.turning.cuts(line)
            self.cut_without = self.cut_without or not self.work_offset
            if self.doubted:
                raise self.error(
                    line,
                    f"a cut under {self.doubted} after cuts under no work offset stated: how the two lie to each other is not known here",
                    "state the work offset before the first cut, or make one toolpath for each",
                )
        return Settings(self.tool, self.rpm, self.turns, self.coolant, (FLAT, self.turning.w_deg))

    def leave_out(self, what: str, line: int, reason: str) -> None:
        """One notice for all blocks of one kind that say nothing about what is cut."""
        old = self.left_out.get(what)
        place = Place(file=self.file, line=line) if old is None else old.place
        self.left_out[what] = LeftOut(place, what, 1 if old is None else old.times + 1, reason)
