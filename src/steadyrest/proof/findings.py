"""No refusal, but somebody has to look: feeds and speeds lowered by hand, an origin on top of the stock, turns left at the end."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES
from steadyrest.findings import Finding
from steadyrest.proof.figures import Totals
from steadyrest.proof.intended_path import Elements, Pass
from steadyrest.proof.setting import Setting
from steadyrest.toolpath import RAPID, Hole

LEAST_KEPT = 0.6
"""Of what is asked for. What is lower still is no trimming at the machine any more: the proof refuses it."""

_MOST = 12
"""Findings in one operation; what goes beyond is counted with the last of them."""


class Lowered:
    """What was lowered, gathered by operation and by what was asked for there."""

    def __init__(self) -> None:
        self._found: dict[int, dict[str, tuple[Finding, float]]] = {}

    def note(self, operation: int, line: int, said: str, asked: str, kept: float, count: int = 1) -> None:
        """`said` and `asked` are words, such as `F35` and `45 inch/min`; `kept` is the lowest share of what was asked, 0 to 1."""
        here = self._found.setdefault(operation, {})
        key = asked if asked in here or len(here) < _MOST else next(reversed(here))
        if key not in here:
            here[key] = Finding("lowered", "look", f"{said}; the toolpath asks for {asked}", line, operation, count=count), kept
        elif (first := here[key])[0].line != line:
            here[key] = replace(first[0], count=first[0].count + count), min(first[1], kept)

    def findings(self) -> list[Finding]:
        """One for each figure asked for: the line where it is first lowered, and how many blocks run slower."""
        found = (one for here in self._found.values() for one in here.values())
        return [replace(one, sentence=f"{one.sentence} (lowered to {100 * lowest:.3g} percent)") for one, lowest in found]


NEAR_AXIS = 0.05
"""Cuts that end no higher over the axis than this part of the stock's least radius count as cuts at the axis (common practice)."""
HOLE_NEAR = 0.4
"""A hole whose retract level is lower over the axis than this part of it may be measured from the top of the stock (common practice)."""


@dataclass(slots=True)
class Heights:
    """One pass: the heights over the axis of rotation, mm, where its cuts begin and where they end, the highest of each.

    A touch on top of round stock stands at its radius over the axis (common practice: 40 mm bar, Z 20), so that paths made for an origin
    on top lie a radius too low. Once one cut tells otherwise nothing more is worked out.
    """

    setting: Setting
    this: Pass
    begin: float = -np.inf
    end: float = -np.inf

    @property
    def in_doubt(self) -> bool:
        """Whether every cut so far lies at or below the axis and begins inside the stock."""
        return self.begin < self.setting.surface_mm and self.end <= NEAR_AXIS * self.setting.surface_mm

    def see(self, elements: Elements) -> None:
        """Take a run of moves into account."""
        cuts = np.flatnonzero(elements.kind != RAPID)
        if len(cuts) and self.in_doubt:
            self.end = max(self.end, self._highest(elements.points[cuts + 1]))
        if len(cuts) and self.in_doubt:
            self.begin = max(self.begin, self._highest(elements.points[cuts]))

    def see_hole(self, hole: Hole) -> None:
        """A hole begins at its retract level. How deep it goes says nothing about the origin, unless it begins near the axis as well."""
        scale = self.setting.scale
        ends = np.array([(hole.x * scale, hole.y * scale, height * scale, 0.0) for height in (hole.retract, hole.bottom)])
        retract, bottom = self._heights(ends).tolist()
        near = retract < HOLE_NEAR * self.setting.surface_mm
        self.begin = max(self.begin, retract)
        self.end = max(self.end, bottom if near else retract)

    def finding(self) -> Finding | None:
        """The doubt, if every cut of the pass agrees with it."""
        if not self.in_doubt or self.begin == -np.inf:
            return None
        setting = self.setting
        top = setting.length(setting.surface_mm)
        shift = f"{setting.surface_mm / setting.scale:.6g}"
        return Finding(
            "origin",
            "stop",
            f"every cut is at or below the axis of rotation (highest {setting.length(self.end)}) and begins inside the stock, whose "
            f"surface is {top} above the axis: the origin seems to be on top of the stock. Put it on the axis of rotation (the "
            f"top of the stock is then Z {shift}; for a program of one face use --shift 0,0,{shift})",
            operation=self.this.number,
        )

    def _highest(self, points: Floats) -> float:
        return float(np.fmax.reduce(self._heights(points), initial=-np.inf))

    def _heights(self, points: Floats) -> Floats:
        return np.asarray(self.this.frame.work_of(points)[:, 2] - self.setting.frame.centre_mm[2])


MANY_TURNS = 2
"""From so many whole turns on it is told: one more or less is every day's work (common practice)."""


def turns_left(totals: Totals, setting: Setting, line: int) -> list[Finding]:
    """Whether the program leaves the rotary turns away from where it began, so that the next part begins with unwinding.

    A rotary that rolls over has nothing to unwind.
    """
    rotary, way = setting.rotary, totals.last_deg - totals.first_deg
    if rotary is None or rotary.travel.kind == "rollover" or not abs(way) >= 360.0 * MANY_TURNS - 0.5:
        return []
    sentence = (
        f"the rotary ends at {totals.last_deg:.10g} degrees, {round(abs(way) / 360.0, 1):.10g} turns from {totals.first_deg:.10g}, "
        "where the program starts: the next part starts by unwinding them at rapid"
    )
    if rotary.unwinding.at_end != "zero":
        sentence += f'; rotary.{setting.letter}.unwinding.at_end = "zero" makes it turn back at the end of the program'
    return [Finding("turns-left", "look", sentence, line)]


def beyond_travel(totals: Totals, setting: Setting) -> list[Finding]:
    """Which linear axes go farther from end to end than their travel."""
    found = []
    for axis, need in zip(AXES, totals.highest - totals.lowest, strict=True):
        travel = setting.profile.linear[axis].travel if axis in setting.profile.linear else 0.0
        if travel and isfinite(need) and need > travel:
            wrong = f"{axis} needs {setting.length(need)} of travel from end to end, and has {setting.length(travel)}"
            found.append(Finding("travel", "stop", wrong))
    return found


def path_mode_changes(changes: list[tuple[int, str]]) -> list[Finding]:
    """One for all changes of the path mode on the way, each a line and a code."""
    return [
        Finding("path-mode", "look", f"the path mode changes to {code} in the middle of the program", line, count=len(changes))
        for line, code in changes[:1]
    ]
