"""The space that the stock may take up, where two rotaries or a head turn: seen from the part it is a ball at rest about the centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, isnan, sqrt

import numpy as np

from steadyrest.columns import Floats
from steadyrest.proof.chain import Lines, poses
from steadyrest.proof.setting import Setting


@dataclass(frozen=True, slots=True, eq=False)
class SweptBall:
    """A tool stands clear of the ball where its tip is over the top of it along the tool axis, or the whole tool beside it.

    centre_mm   (3,) work coordinates at zero, which are those of the part
    radius_mm   of the ball; `aside_mm` that and the tool's own
    highest_mm  over the centre, as high as any turn can bring a point of the stock, seen from Z
    """

    lines: Lines
    centre_mm: Floats
    radius_mm: float
    aside_mm: float
    highest_mm: float

    def lowest(self, begin: Sequence[float], end: Sequence[float]) -> float:
        """The lowest height along the tool axis, over the centre, of a block that turns nothing, where it is not beside the ball.

        Infinite where it is; minus infinite where a place is not known, and not high enough for any.
        """
        if not all(map(isfinite, (*begin, *end))):
            heights = [at[2] - float(self.centre_mm[2]) for at in (begin, end) if not isnan(at[2])]
            return inf if heights and min(heights) >= self.highest_mm else -inf
        (one, axis), (other, _) = self._pose(begin), self._pose(end)
        heights, asides = [float(at @ axis) for at in (one, other)], [at - (at @ axis) * axis for at in (one, other)]
        way = asides[1] - asides[0]
        square, along, rest = float(way @ way), float(asides[0] @ way), float(asides[0] @ asides[0]) - self.aside_mm**2
        enter, leave = 0.0, 1.0
        if square < 1e-18:
            if rest >= 0:
                return inf
        else:
            inside = along * along - square * rest
            if inside <= 0:
                return inf
            enter, leave = max(0.0, (-along - sqrt(inside)) / square), min(1.0, (-along + sqrt(inside)) / square)
            if enter >= leave:
                return inf
        return min(heights[0] + u * (heights[1] - heights[0]) for u in (enter, leave))

    def may_hold(self, place: Sequence[float], slack_mm: float) -> bool:
        """Whether the tool may reach into the ball at a place; a coordinate that is not known may be any."""
        if place[2] - float(self.centre_mm[2]) >= self.highest_mm - slack_mm:
            return False
        return self.lowest(place, place) < self.radius_mm - slack_mm

    def _pose(self, place: Sequence[float]) -> tuple[Floats, Floats]:
        """The tip from the centre, and the tool axis, in the part frame."""
        numbers = np.array(place)
        tip, axis = poses(self.lines, numbers[:3], numbers[3:])
        return tip - self.centre_mm, axis


def swept_ball(setting: Setting, tool: float) -> SweptBall:
    """The space for the tool of that number; for one that the toolpath does not have, or NaN, for the widest that it has."""
    tools = setting.toolpath.tools
    widths = [one.diameter for one in tools if one.number == tool] or [one.diameter for one in tools]
    aside = setting.swept_mm + max(widths) * setting.scale / 2
    return SweptBall(setting.lines_with(tool), setting.frame.centre_mm, setting.swept_mm, aside, setting.top_mm)
