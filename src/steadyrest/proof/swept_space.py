"""The space that the stock sweeps: no rapid goes through it low down, and nothing is switched in it that could leave a mark."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isnan

import numpy as np

from steadyrest.proof.geometry import Floats
from steadyrest.proof.setting import Setting

_HAIR = 1e-6
"""mm: below every least increment, above the noise of the arithmetic."""


@dataclass(frozen=True, slots=True)
class SweptSpace:
    """A box (3,) to (3,) over the axis of rotation, mm, open below, within which the tool's tip may touch the stock.

    About X and Y: the stock's span and its swept radius, both widened by the tool, up to the swept radius. About Z: the swept radius,
    widened by the tool, up to the stock's top.
    """

    low: Floats
    high: Floats
    centre: Floats

    def lowest(self, begin: Floats, end: Floats) -> float:
        """The lowest height, over the axis, of a straight way inside; infinite outside, minus infinite where a height is not known."""
        one, way = begin - self.centre, end - begin
        if isnan(float(begin[2])) or isnan(float(end[2])):
            return -inf
        enter, leave = 0.0, 1.0
        for axis in range(3):
            if isnan(float(way[axis])):
                continue  # where it is not known, it may be over the stock
            if abs(way[axis]) < 1e-12:
                if not self.low[axis] <= one[axis] < self.high[axis]:
                    return inf
                continue
            hits = sorted(((self.low[axis] - one[axis]) / way[axis], (self.high[axis] - one[axis]) / way[axis]))
            enter, leave = max(enter, float(hits[0])), min(leave, float(hits[1]))
        if enter >= leave:
            return inf
        return float(min(one[2] + enter * way[2], one[2] + leave * way[2]))

    def may_hold(self, place: Floats, slack_mm: float) -> bool:
        """Whether the tip may be inside; a coordinate that is not known may be any."""
        over = place - self.centre
        outside = (over < self.low - slack_mm - _HAIR) | (over >= self.high - slack_mm - _HAIR)
        return not outside.any()


def swept_space(setting: Setting, tool: float) -> SweptSpace:
    """The space for the tool of that number; for one that the toolpath does not have, or NaN, for the widest that it has."""
    tools = setting.toolpath.tools
    widths = [one.diameter for one in tools if one.number == tool] or [one.diameter for one in tools]
    wider = max(widths, default=0.0) * setting.scale / 2
    low, high = np.full(3, -inf), np.full(3, inf)
    frame, reach = setting.frame, setting.swept_mm + wider
    if frame.along != 2:
        low[frame.along], high[frame.along] = setting.span_mm[0] - wider, setting.span_mm[1] + wider
        low[frame.lateral], high[frame.lateral] = -reach, reach
    else:
        low[:2], high[:2] = -reach, reach
    high[2] = setting.top_mm
    return SweptSpace(low, high, frame.centre_mm)
