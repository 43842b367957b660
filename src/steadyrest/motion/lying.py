"""Where the coordinates of an operation that is cut with the rotaries standing lie on the machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Codes, Floats
from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, LINE, PLANE_AXES
from steadyrest.motion.model import NAN

_SQUARE_DEG = 1e-6
"""A plane whose x lies so near to an axis of the machine lies along it."""
_PLANE_ACROSS = {across: plane for plane, (*_, across) in enumerate(PLANE_AXES)}
"""By the number of an axis, 0 to 2, the plane of arcs across it."""


@dataclass(frozen=True, slots=True, eq=False)
class Lying:
    """Where an operation's own coordinates lie on the machine while the rotaries stand.

    rotary_deg (r,) where the rotaries stand, in whatever turn
    origin    (3,) their zero in work coordinates, program units; None: they are the work coordinates
    turn_deg  by which they are turned about Z of the machine, right-hand; from -180 to 180
    frame     (3, 3) their x, y and z on the machine, a column each, where a head lays z along another direction than Z; else None
    over      with a head the z of their own from which on the tool is clear of all that the stock can be turned to; else NaN
    """

    rotary_deg: tuple[float, ...]
    origin: Floats | None = None
    turn_deg: float = 0.0
    frame: Floats | None = None
    over: float = NAN

    @property
    def quarters(self) -> int | None:
        """The quarter turns about Z, from 0 to 3; None where x lies along no axis of the machine."""
        quarters = round(self.turn_deg / 90.0)
        return quarters % 4 if abs(self.turn_deg - 90.0 * quarters) <= _SQUARE_DEG else None

    def placed(self, points: Floats) -> Floats:
        """Points (n, 2) or (n, 3) of the operation in work coordinates; heights only rise."""
        if self.origin is None:
            return points
        if self.frame is not None:
            return np.asarray(points @ self.frame.T + self.origin)
        quarters = self.quarters
        if quarters is not None:
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarters]
        else:
            cos, sin = np.cos(np.deg2rad(self.turn_deg)), np.sin(np.deg2rad(self.turn_deg))
        out = points + self.origin[: points.shape[1]]
        out[:, 0] = points[:, 0] * cos - points[:, 1] * sin + self.origin[0]
        out[:, 1] = points[:, 0] * sin + points[:, 1] * cos + self.origin[1]
        return out

    def drawn(self, xyz: Floats) -> Floats:
        """Work coordinates (n, 3) in those of the operation."""
        if self.origin is None:
            return xyz
        if self.frame is not None:
            return np.asarray((xyz - self.origin) @ self.frame)
        cos, sin = np.cos(np.deg2rad(self.turn_deg)), np.sin(np.deg2rad(self.turn_deg))
        beside = xyz - self.origin
        return np.column_stack([beside[:, 0] * cos + beside[:, 1] * sin, beside[:, 1] * cos - beside[:, 0] * sin, beside[:, 2]])

    def arc_planes(self, plane: Codes) -> tuple[Codes, Bools, Bools]:
        """Of arcs in these planes (n,): their planes on the machine, which are seen from behind there, and which lie in no plane of it."""
        behind, none = np.zeros(len(plane), dtype=np.bool_), np.zeros(len(plane), dtype=np.bool_)
        if self.frame is None and (self.origin is None or self.quarters == 0):
            return plane, behind, none
        out = plane.copy()
        square = self.frame if self.frame is not None else Lying((), np.zeros(3), self.turn_deg).placed(np.eye(3)).T
        for drawn, (*_, across) in enumerate(PLANE_AXES):
            here, normal = plane == drawn, square[:, across]
            along = int(np.argmax(np.abs(normal)))
            aside = float(np.linalg.norm(np.delete(normal, along)))
            none[here] = aside > np.deg2rad(_SQUARE_DEG)
            out[here], behind[here] = _PLANE_ACROSS[along], normal[along] < 0
        return out, behind, none

    def turning(self, kind: Codes, behind: Bools) -> Codes:
        """Kinds of blocks (n,) of which arcs that are seen from behind turn the other way."""
        reverse = behind & (kind > LINE)
        return np.where(reverse, ARC_CLOCKWISE + ARC_COUNTERCLOCKWISE - kind, kind).astype(np.uint8)
