"""One operation on a chain of rotaries: its frame, in which tip and tool axis are held against what the toolpath says.

A point has six numbers, mm: the tip (3) and the tool axis (3) times a radius that makes its tolerance one of length. Both are those of the
part, whichever of its solutions the machine takes.

still, indexed   in the coordinates of the plane, whose tool axis is its z
simultaneous     in the part frame
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, radians
from typing import ClassVar, Literal

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.proof.chain import Lines, poses, rotation, sine_and_versine, sizes
from steadyrest.proof.geometry import Stand
from steadyrest.proof.rows import Rows
from steadyrest.proof.setting import Setting
from steadyrest.toolpath import Indexed, Operation, Plane

TIP, AXIS = slice(0, 3), slice(3, 6)
_MORE_STEPS_RAD = (0.1, 0.5)
"""Each step squares what is left: of a few degrees nothing that could be seen after one, of a quarter of a turn after three."""


@dataclass(frozen=True, slots=True, eq=False)
class ChainFrame:
    """The plane in which an operation is cut, or the part frame.

    lines            with the operation's tool in the spindle
    axis_limit_rad   the largest angle between tool axes
    turn_radius_mm   radius at which an angle between tool axes counts as a length
    origin_mm, axes  the plane's zero (3,) and its x, y, z (3, 3), one a column, in the part frame
    """

    kind: Literal["work", "part"]
    lines: Lines
    axis_limit_rad: float
    turn_radius_mm: float
    origin_mm: Floats
    axes: Floats
    numbers: ClassVar[int] = 6
    out_of_reach_rad: ClassVar[float] = 0.0
    """What no solution reaches shows itself in the tool axis."""

    def axis_limit(self, setting: Setting) -> float:
        """The largest angle between tool axes, rad."""
        return self.axis_limit_rad

    def reach_mm(self, setting: Setting) -> float:
        """How near points of path and program have to be to be the same."""
        return hypot(setting.slack_mm, self.axis_limit_rad * self.turn_radius_mm)

    def way_round(self, setting: Setting) -> Floats:
        """(3,) what the toolpath's x, y and z are multiplied by: the part is held as the toolpath says."""
        return np.ones(3)

    def raised(self, points_mm: Floats) -> Floats:
        """Points (..., 6) of places (..., 3) at which the tool stands along z."""
        out = np.zeros((6, *points_mm.T.shape[1:])).T
        out[..., TIP] = points_mm
        out[..., 5] = self.turn_radius_mm
        return out

    def of_poses(self, tips_mm: Floats, axes: Floats) -> Floats:
        """Points (..., 6) of tips and tool axes (..., 3) of the part frame."""
        if self.kind == "work":
            tips_mm, axes = (tips_mm - self.origin_mm) @ self.axes, axes @ self.axes
        return np.concatenate([tips_mm, axes * self.turn_radius_mm], axis=-1)

    def apart(self, one: Floats, other: Floats) -> tuple[Floats, Floats]:
        """How far points (k, 6) are from others: the tips, mm, and the tool axes, rad."""
        way = one - other
        return sizes(way[:, TIP]), 2 * np.arcsin(np.minimum(sizes(way[:, AXIS]) / (2 * self.turn_radius_mm), 1.0))

    def of_rows(self, rows: Rows, at: slice, turns_off: float) -> Floats:
        """Points (n, 6) of vertices of the program; whole turns are no matter."""
        here = rows.posed(self.lines, at)
        return self.of_poses(here.tips_mm, here.axes)

    def of_stand(self, stand: Stand, turns_off: float) -> Stand:
        """The same of one place (6,)."""
        numbers = np.array(stand)
        return tuple(self.of_poses(*poses(self.lines, numbers[:3], numbers[3:])).tolist())

    def tips_of(self, points: Floats) -> Floats:
        """Tips (..., 3) in the part frame of points (..., 6)."""
        return np.asarray(points[..., TIP] @ self.axes.T + self.origin_mm)

    def axes_of(self, points: Floats) -> Floats:
        """Tool axes (..., 3) in the part frame, unit vectors."""
        axes = points[..., AXIS] @ self.axes.T
        return np.asarray(axes / sizes(axes)[..., None])

    def goal_of(self, point: Floats) -> tuple[float, ...]:
        """Tip and tool axis of a point (6,) in the part frame: six numbers."""
        return (*self.tips_of(point).tolist(), *self.axes_of(point).tolist())

    def of_blocks(self, which: Ints) -> ChainFrame:
        """That of some of the points: the same."""
        return self


def frame_on_chain(operation: Operation, plane: Plane | None, angle_deg: float | None, setting: Setting) -> ChainFrame:
    """The frame of an operation, at one of its planes or angles where it is indexed."""
    tool = setting.toolpath.tool(operation.tool)
    flank = max(tool.diameter / 2, tool.cutting_length or 0.0) * setting.scale
    allowed = radians(operation.axis_tolerance) if operation.axis_tolerance else setting.tolerance_mm / flank
    limit = allowed + setting.rounding.angle_rad + 1e-9
    origin, axes = np.zeros(3), np.eye(3)
    if plane is not None:
        origin, axes = np.array(plane.origin) * setting.scale, plane.axes
    elif angle_deg is not None and isinstance(operation.rotary, Indexed):
        about, centre = np.eye(3)["XYZ".index(setting.toolpath.axis)], setting.frame.centre_mm
        axes = rotation(about, radians(angle_deg))
        origin = centre - axes @ centre
    kind: Literal["work", "part"] = "part" if operation.rotary.intent == "simultaneous" else "work"
    return ChainFrame(kind, setting.lines_with(operation.tool), limit, setting.slack_mm / limit, origin, axes)


def along_great_circle(begin: Floats, end: Floats, share: Floats) -> Floats:
    """Vectors (..., 3) of one length, `share` (...) of the way from some to others of that length, evenly on the shortest way round."""
    across, angle = _circle(begin, end)
    sine, versine = sine_and_versine(share * angle)
    return np.asarray(begin - versine[..., None] * begin + sine[..., None] * across)


def _circle(begin: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Of the great circle from some vectors (..., 3) to others of their length: which way it begins, as long, and its angle (...), rad."""
    way = end - begin
    angle = 2 * np.arcsin(np.minimum(sizes(way) / (2 * sizes(begin)), 1.0))
    sine, versine = sine_and_versine(angle)
    return (way + versine[..., None] * begin) / np.where(sine > 0, sine, 1.0)[..., None], angle


def nearest_share(points: Floats, start: Floats, end: Floats) -> Floats:
    """How far along a straight stretch, its tool axis along the great circle, points lie: 0 to 1, NaN for one that is not known.

    points, start, end   (..., 6), shapes that broadcast. The chord's share, made better by steps of Gauss and Newton on the curve, whose
                         tool axis is b cos + c sin: what a point says to that are its products with b and c alone
    """
    way, begin = end[..., TIP] - start[..., TIP], start[..., AXIS]
    across, angle = _circle(begin, end[..., AXIS])
    gone, tip, square = (
        np.einsum("...c,...c->...", *each) for each in ((points[..., TIP] - start[..., TIP], way), (way, way), (begin, begin))
    )
    ahead, aside = (np.einsum("...c,...c->...", points[..., AXIS], axis) for axis in (begin, across))
    sine, versine = sine_and_versine(angle)
    chord = tip + 2 * versine * square
    share = (gone + sine * aside + versine * (square - ahead)) / np.where(chord > 0, chord, 1.0)
    along = tip + square * angle * angle
    along = np.where(along > 0, along, 1.0)
    widest = float(np.nanmax(angle, initial=0.0))
    for _ in range(1 + sum(widest > turn for turn in _MORE_STEPS_RAD)):
        share = np.clip(share, 0.0, 1.0)
        sine, versine = sine_and_versine(share * angle)
        share = share + (gone - share * tip + angle * (aside - versine * aside - sine * ahead)) / along
    return np.asarray(np.clip(share, 0.0, 1.0))


def lengths(points: Floats) -> Floats:
    """Lengths (n,) of the straight ways between points (n + 1, 6), the tool axis along the great circle."""
    way, radius = np.diff(points, axis=0), float(sizes(points[-1, AXIS]))
    return np.asarray(np.hypot(sizes(way[:, TIP]), 2 * radius * np.arcsin(np.minimum(sizes(way[:, AXIS]) / (2 * radius), 1.0))))
