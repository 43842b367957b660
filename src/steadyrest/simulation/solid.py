"""What solid does a turning tool fill, and how finely must its way be stepped through?

Every tool of the toolpath is a convex solid of revolution, so whatever straight line goes through it does so in one piece:

    flat        a cylinder
    bullnose    a cylinder whose lower edge is a quarter circle; a ball is one whose flat part has no size
    cone        a drill's point or a chamfer tool: a disc of radius `flat_mm`, a cone from its edge to the full radius, a cylinder

Above the cutting part comes the shank, and above `length` the holder, both as thick as the tool's diameter since a toolpath says nothing
else. Neither cuts; both are looked at for touching. Where the surface of a solid lies, and where lines go through it, says `kernel`.
"""

from __future__ import annotations

from math import inf, radians, sqrt, tan
from typing import NamedTuple

from steadyrest.toolpath import BallTool, BullnoseTool, ChamferTool, DrillTool, Tool

FLAT, BULLNOSE, CONE = 0, 1, 2


class ToolSolid(NamedTuple):
    """All in mm; heights are measured from the tip.

    flat_mm       radius of the flat part of the end
    corner_mm     radius of the corner (bullnose, ball)
    widening      cone: how much the radius grows per mm of height
    lift_mm       how far the lowest point lies over the tip: 0 but for a tool made smaller on purpose, and what is above it
    cutting_mm    height up to which it cuts, or is looked at; inf where not known
    length_mm     height at which the holder begins; inf where not known
    """

    kind: int
    radius_mm: float
    flat_mm: float
    corner_mm: float = 0.0
    widening: float = 0.0
    lift_mm: float = 0.0
    cutting_mm: float = inf
    length_mm: float = inf

    def smaller(self, by_mm: float) -> ToolSolid:
        """The solid of all points that lie at least `by_mm` deep inside this one: what it must enter to touch beyond doubt."""
        radius = max(self.radius_mm - by_mm, 0.0)
        if self.kind == CONE:
            lift, flat = by_mm, self.flat_mm + by_mm * (self.widening - sqrt(1 + self.widening**2))
            if flat < 0:  # the small end has shrunk to a point that lies higher
                lift, flat = by_mm - flat / self.widening, 0.0
            return self._replace(radius_mm=radius, flat_mm=min(flat, radius), lift_mm=lift)
        corner = max(self.corner_mm - by_mm, 0.0)
        flat = min(self.flat_mm, radius) if corner else radius
        return self._replace(kind=BULLNOSE if corner else FLAT, radius_mm=flat + corner, flat_mm=flat, corner_mm=corner, lift_mm=by_mm)

    def step_mm(self, off_mm: float) -> float:
        """How far apart two positions may be for the solid between them to be missed by no more than `off_mm`.

        Sideways a circle of radius r stepped by d leaves a ridge of d^2 / (8 r) (the sagitta of a chord). A point leaves a ridge
        of half the step times the cone's slope.
        """
        if self.kind == CONE:
            return max(sqrt(8 * self.flat_mm * off_mm * self.widening), 2 * off_mm * self.widening)
        return sqrt(8 * max(self.corner_mm, self.flat_mm) * off_mm)


class Solids(NamedTuple):
    """A tool as it is carved with: `cut` at feed; `rapid`, which has to enter material to touch it beyond doubt; shank and holder
    likewise smaller, which begin at inf where there is none."""

    cut: ToolSolid
    rapid: ToolSolid
    shank: ToolSolid
    holder: ToolSolid


def solids_of(cut: ToolSolid, touch_mm: float) -> Solids:
    """The solids of a tool of which less than `touch_mm` in material does not count as touching."""
    rapid = cut.smaller(touch_mm)
    above = rapid._replace(kind=FLAT, flat_mm=rapid.radius_mm, corner_mm=0.0, widening=0.0)
    shank = above._replace(lift_mm=cut.cutting_mm + touch_mm if cut.cutting_mm < cut.length_mm else inf, cutting_mm=cut.length_mm)
    return Solids(cut, rapid, shank, above._replace(lift_mm=cut.length_mm + touch_mm, cutting_mm=inf))


def solid_of(tool: Tool, scale: float) -> ToolSolid:
    """The solid of a toolpath's tool; `scale` is mm per file unit."""
    radius = tool.diameter * scale / 2
    length = tool.length * scale if tool.length is not None else inf
    cutting = tool.cutting_length * scale if tool.cutting_length is not None else length
    plain = ToolSolid(FLAT, radius, radius, cutting_mm=cutting, length_mm=length)
    if isinstance(tool, BallTool):
        return plain._replace(kind=BULLNOSE, flat_mm=0.0, corner_mm=radius)
    if isinstance(tool, BullnoseTool):
        corner = tool.corner_radius * scale
        return plain._replace(kind=BULLNOSE, flat_mm=radius - corner, corner_mm=corner)
    if isinstance(tool, DrillTool) and tool.point_angle < 180:
        return plain._replace(kind=CONE, flat_mm=0.0, widening=_widening(tool.point_angle))
    if isinstance(tool, ChamferTool):
        return plain._replace(kind=CONE, flat_mm=tool.tip_diameter * scale / 2, widening=_widening(tool.included_angle))
    return plain


def _widening(included_angle_deg: float) -> float:
    return min(tan(radians(included_angle_deg / 2)), 1e12)
