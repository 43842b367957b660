"""What does a tool look like from the side? Its outline for drawing, tip first."""

from __future__ import annotations

from math import cos, pi, radians, sin, tan

from steadyrest.toolpath import BallTool, BullnoseTool, ChamferTool, DrillTool, FlatTool

ROUND = 8
"""Chords of a rounded corner."""
DRAWN_DIAMETERS = 3.0
"""A tool whose length is not known is drawn so many diameters long."""


def outline(tool: FlatTool | BallTool | BullnoseTool | DrillTool | ChamferTool) -> list[tuple[float, float]]:
    """(radius, height over the tip) from the axis at the tip out and up and back to the axis, in file units."""
    radius = tool.diameter / 2
    if isinstance(tool, BallTool):
        below = _rounded(0.0, radius)
    elif isinstance(tool, BullnoseTool):
        below = [(0.0, 0.0), *_rounded(radius - tool.corner_radius, tool.corner_radius)]
    elif isinstance(tool, DrillTool):
        below = [(0.0, 0.0), (radius, radius / tan(radians(tool.point_angle) / 2) if tool.point_angle < 180 else 0.0)]
    elif isinstance(tool, ChamferTool):
        tip = tool.tip_diameter / 2
        below = [(0.0, 0.0), (tip, 0.0), (radius, (radius - tip) / tan(radians(tool.included_angle) / 2))]
    else:
        below = [(0.0, 0.0), (radius, 0.0)]
    top = max(tool.length or tool.cutting_length or DRAWN_DIAMETERS * tool.diameter, below[-1][1])
    return [*below, (radius, top), (0.0, top)]


def _rounded(from_axis: float, corner: float) -> list[tuple[float, float]]:
    """A quarter circle from below to the side."""
    turns = [0.5 * pi * step / ROUND for step in range(ROUND + 1)]
    return [(from_axis + corner * sin(turn), corner * (1 - cos(turn))) for turn in turns]
