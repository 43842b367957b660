"""Does the origin look as if it stood on top of the stock, not on the axis of rotation? Told from the toolpath of each operation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.findings import Finding
from steadyrest.proof.geometry import Floats
from steadyrest.proof.intended import Elements, Pass
from steadyrest.proof.setting import Setting
from steadyrest.toolpath import RAPID, Hole

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
    def surface_mm(self) -> float:
        """How high the stock stands over the axis where it stands lowest; 0 where no origin can be doubted."""
        toolpath = self.setting.toolpath
        if toolpath.stock is None or toolpath.axis == "Z":
            return 0.0
        return toolpath.stock.least_radius(toolpath.axis) * self.setting.scale

    @property
    def in_doubt(self) -> bool:
        """Whether every cut so far lies at or below the axis and begins inside the stock."""
        return self.begin < self.surface_mm and self.end <= NEAR_AXIS * self.surface_mm

    def see(self, elements: Elements) -> None:
        """Take a run of moves into account."""
        cuts = np.flatnonzero(elements.kind != RAPID)
        if len(cuts) and self.in_doubt:
            self.begin = max(self.begin, self._highest(elements.points[cuts]))
            self.end = max(self.end, self._highest(elements.points[cuts + 1]))

    def see_hole(self, hole: Hole) -> None:
        """A hole begins at its retract level. How deep it goes says nothing about the origin, unless it begins near the axis as well."""
        scale = self.setting.scale
        ends = np.array([(hole.x * scale, hole.y * scale, height * scale, 0.0) for height in (hole.retract, hole.bottom)])
        retract, bottom = self._heights(ends).tolist()
        near = retract < HOLE_NEAR * self.surface_mm
        self.begin = max(self.begin, retract)
        self.end = max(self.end, bottom if near else retract)

    def finding(self) -> Finding | None:
        """The doubt, if every cut of the pass agrees with it."""
        if not self.in_doubt or self.begin == -np.inf:
            return None
        setting = self.setting
        top = setting.length(self.surface_mm)
        shift = f"{self.surface_mm / setting.scale:.6g}"
        return Finding(
            "origin",
            "stop",
            f"every cut lies at or below the axis of rotation (highest {setting.length(self.end)}) and begins inside the stock, whose "
            f"surface stands {top} over the axis: the origin looks as if it stood on top of the stock. Put it on the axis of rotation (the "
            f"top of the stock is then Z {shift}; a program of a face is taken so with --shift 0,0,{shift})",
            operation=self.this.number,
        )

    def _highest(self, points: Floats) -> float:
        return float(np.fmax.reduce(self._heights(points), initial=-np.inf))

    def _heights(self, points: Floats) -> Floats:
        return np.asarray(self.this.chart.work_of(points)[:, 2] - self.setting.frame.centre_mm[2])
