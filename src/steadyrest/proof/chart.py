"""In which coordinates is an operation's path made of straight lines and arcs, and what do they mean on the part?

A chart point has four numbers, mm: three in the coordinates of the toolpath's own moves, and a fourth that has to agree as well.

still, indexed   work coordinates; fourth: how far the part is turned from where it should stand, as a length at the swept radius
wrapped          developed coordinates; fourth: distance of the tip from the plane through the axis of rotation and the spindle
simultaneous     part frame; fourth: the turn, as a length at the swept radius
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadyrest.proof.geometry import Complexes, Floats, Frame, Motions, turned

ChartKind = Literal["work", "wrapped", "part"]


@dataclass(frozen=True, slots=True)
class Chart:
    """One operation at one angle.

    turn_radius_mm   radius at which a turn counts as a length in the fourth number
    phi_rad          work: the turn at which the part stands still
    radius_mm        wrapped: radius of the cylinder; start_rad: the angle where developed length is 0; height_mm: of z = 0 over the axis
    """

    kind: ChartKind
    frame: Frame
    turn_radius_mm: float
    phi_rad: float = 0.0
    radius_mm: float = 1.0
    start_rad: float = 0.0
    height_mm: float = 0.0

    @property
    def developed(self) -> int:
        """Wrapped: which of the three coordinates is the developed length."""
        return 1 if self.frame.axis == "X" else 0

    def of_program(self, positions_mm: Floats, phi_rad: Floats, tips_mm: Complexes | None = None) -> Floats:
        """Work coordinates (n, 3) and turns (n,), whole turns already taken off, to chart points (n, 4).

        tips_mm   (n,) the same across the axis in the part frame, where it is known already
        """
        out = np.empty((len(positions_mm), 4))
        if self.kind == "work":
            out[:, :3] = positions_mm
            out[:, 3] = (phi_rad - self.phi_rad) * self.turn_radius_mm
        elif self.kind == "part":
            frame = self.frame
            if tips_mm is None:
                tips_mm = frame.across(positions_mm) * turned(-phi_rad)
            out[:, :3] = frame.joined(positions_mm[:, frame.along], tips_mm)
            out[:, 3] = phi_rad * self.turn_radius_mm
        else:
            frame = self.frame
            sign = 1.0 if frame.axis == "X" else -1.0
            out[:, frame.along] = positions_mm[:, frame.along]
            out[:, self.developed] = sign * (phi_rad + self.start_rad) * self.radius_mm
            out[:, 2] = positions_mm[:, 2] - frame.centre_mm[2] - self.height_mm
            out[:, 3] = positions_mm[:, frame.lateral] - frame.centre_mm[frame.lateral]
        return out

    def turns_of(self, points: Floats) -> Floats:
        """The turn phi (n,) of intended chart points (n, 4), radians."""
        if self.kind == "work":
            return np.full(len(points), self.phi_rad)
        if self.kind == "part":
            return np.asarray(points[:, 3] / self.turn_radius_mm, dtype=np.float64)
        sign = 1.0 if self.frame.axis == "X" else -1.0
        return np.asarray(sign * points[:, self.developed] / self.radius_mm - self.start_rad, dtype=np.float64)

    def work_of(self, points: Floats) -> Floats:
        """Intended chart points (n, 4) to work coordinates (n, 3), the part turned by `turns_of`."""
        if self.kind == "work":
            return points[:, :3]
        frame = self.frame
        if self.kind == "part":
            return frame.joined(points[:, frame.along], frame.across(points[:, :3]) * turned(self.turns_of(points)))
        out = np.empty((len(points), 3))
        out[:, frame.along] = points[:, frame.along]
        out[:, frame.lateral] = frame.centre_mm[frame.lateral] + points[:, 3]
        out[:, 2] = frame.centre_mm[2] + self.height_mm + points[:, 2]
        return out

    def motions(self, start: Floats, end: Floats) -> Motions:
        """What straight lines between intended chart points (n, 4) mean: in the part frame, or turning with the part."""
        frame = self.frame
        if self.kind == "wrapped":
            begin, finish = self.work_of(start), self.work_of(end)
            phi = self.turns_of(start), self.turns_of(end)
            return Motions(
                begin[:, frame.along], finish[:, frame.along], frame.across(begin), frame.across(finish), phi0=phi[0], phi1=phi[1]
            )
        turn = 0.0 if self.kind == "part" else self.phi_rad
        return Motions(
            start[:, frame.along],
            end[:, frame.along],
            frame.across(start[:, :3]),
            frame.across(end[:, :3]),
            turn,
            turn,
        )
