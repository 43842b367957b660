"""The proof's own kinematics, from the contract alone: work coordinates and turns to the part frame, motions, and how far apart two are.

A position is split into the coordinate along the axis of rotation and a complex number across it, relative to `centre`. The two
axes across are taken in the order that makes a right-hand turn about the axis a multiplication by exp(i phi): y, z about X;
z, x about Y; x, y about Z. A work point m is the image of the part point p under the turn phi, so p = c + R(-phi) (m - c).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Complexes, Floats
from steadyrest.profile import Rotary

_ORDER = {"X": (0, 1, 2), "Y": (1, 2, 0), "Z": (2, 0, 1)}
"""Per axis of rotation: along, then across in right-hand order."""


def sense_of_rotation(rotary: Rotary) -> int:
    """+1 where a positive command turns the part right-hand about the + direction of its axis, else -1.

    Looking at the chuck's face is looking against the direction it faces; a right-hand turn about that direction is
    counterclockwise there.
    """
    faces = 1 if rotary.chuck_faces.startswith("+") else -1
    turns = 1 if rotary.positive_turns_chuck == "counterclockwise" else -1
    return faces * turns


@dataclass(frozen=True, slots=True)
class Frame:
    """The axis of rotation: X, Y or Z through `centre_mm` (3,)."""

    axis: str
    centre_mm: Floats

    @property
    def along(self) -> int:
        """The coordinate along the axis of rotation."""
        return _ORDER[self.axis][0]

    @property
    def lateral(self) -> int:
        """The coordinate across both the axis of rotation and the spindle; for axis Z, x."""
        return {"X": 1, "Y": 0, "Z": 0}[self.axis]

    def across(self, positions_mm: Floats) -> Complexes:
        """(..., 3) positions to (...) complex, mm, relative to the axis of rotation."""
        _, first, second = _ORDER[self.axis]
        out = np.empty(positions_mm.shape[:-1], dtype=np.complex128)
        out.real = positions_mm[..., first] - self.centre_mm[first]
        out.imag = positions_mm[..., second] - self.centre_mm[second]
        return out

    def joined(self, along_mm: Floats, across_mm: Complexes) -> Floats:
        """The positions (..., 3) that `along` and `across` came from."""
        order = _ORDER[self.axis]
        out = np.empty((*np.shape(across_mm), 3))
        out[..., order[0]] = along_mm
        out[..., order[1]] = across_mm.real + self.centre_mm[order[1]]
        out[..., order[2]] = across_mm.imag + self.centre_mm[order[2]]
        return out

    def to_part(self, positions_mm: Floats, phi_rad: Floats | float) -> Floats:
        """Work coordinates (n, 3) with the part turned by phi (n,) to the part frame (n, 3)."""
        return self.joined(positions_mm[..., self.along], self.across(positions_mm) * turned(-np.asarray(phi_rad)))

    def phi_of_axis(self, tool_axis: Floats) -> Floats:
        """The turn (n,) that brings tool axes (n, 3) of the part frame upright. About X: atan2(t_y, t_z); about Y: atan2(-t_x, t_z)."""
        if self.axis == "X":
            return np.asarray(np.arctan2(tool_axis[:, 1], tool_axis[:, 2]), dtype=np.float64)
        if self.axis == "Y":
            return np.asarray(np.arctan2(-tool_axis[:, 0], tool_axis[:, 2]), dtype=np.float64)
        return np.zeros(len(tool_axis))

    def tilt_of_axis(self, tool_axis: Floats) -> Floats:
        """The angle (n,) by which tool axes (n, 3) lean along the axis of rotation, out of this rotary's reach, radians."""
        if self.axis == "Z":
            return np.asarray(np.arctan2(np.hypot(tool_axis[:, 0], tool_axis[:, 1]), tool_axis[:, 2]), dtype=np.float64)
        lean = tool_axis[:, self.along]
        rest = np.hypot(tool_axis[:, self.lateral], tool_axis[:, 2])
        return np.asarray(np.arctan2(lean, rest), dtype=np.float64)


def turned(phi_rad: Floats) -> Complexes:
    """exp(i phi)."""
    out = np.empty(np.shape(phi_rad), dtype=np.complex128)
    out.real = np.cos(phi_rad)
    out.imag = np.sin(phi_rad)
    return out


@dataclass(frozen=True, slots=True)
class Motions:
    """n motions in which the coordinate along, the complex across and the turn phi all change linearly together.

    A block of the program is one; so is a straight line of wrapped coordinates; a straight line of the part frame is one
    that does not turn. Shapes (n,); phi may be a plain number, the same at both ends of all. tip0, tip1: across in the part frame at the
    two ends, where it is known already.
    """

    along0: Floats
    along1: Floats
    across0: Complexes
    across1: Complexes
    phi0: Floats | float
    phi1: Floats | float
    tip0: Complexes | None = None
    tip1: Complexes | None = None

    @property
    def turns(self) -> bool:
        """Whether any of them turns."""
        return isinstance(self.phi0, np.ndarray)


def tip_length(motions: Motions) -> Floats:
    """Length (n,) of the tip's path over the part, mm.

    The tip is exp(-i phi(u)) a(u), its speed |a' - i phi' a|: the square root of a quadratic in u, constant on a cylinder; Simpson's rule.
    """
    run = motions.along1 - motions.along0
    step = motions.across1 - motions.across0
    if not motions.turns:
        return np.asarray(np.sqrt(run * run + step.real**2 + step.imag**2), dtype=np.float64)
    turn = 1j * (np.asarray(motions.phi1) - np.asarray(motions.phi0))
    speed = []
    for at in (motions.across0, 0.5 * (motions.across0 + motions.across1), motions.across1):
        over = step - turn * at
        speed.append(np.sqrt(run * run + over.real**2 + over.imag**2))
    return np.asarray((speed[0] + 4 * speed[1] + speed[2]) / 6, dtype=np.float64)


def frechet_bound(program: Motions, intended: Motions) -> Floats:
    """An upper bound (n,) of the distance between the tips, mm.

    Where both turn, seen from the turning part: |a_p - a_i| + |phi_p - phi_i| |a_i| is convex in u, so no larger in between than at an end.
    Where one turns: w(u) = exp(-i phi(u)) a(u), a and phi linear in u, has w'' = -exp(-i phi) F(u), F = D (D a + 2 i b), D = phi', b = a'.
    F is linear in u, so its largest magnitude is at an end, and w lies within max|F| / 8 of its own chord (error of linear interpolation).
    """
    if intended.turns and program.turns:
        return np.maximum(_turning_along(program, intended, 0), _turning_along(program, intended, 1))
    ends = np.maximum(_apart(program, intended, 0), _apart(program, intended, 1))
    if not (program.turns or intended.turns):
        return ends
    first, second = _bending(program if program.turns else intended)
    return np.asarray(ends + np.maximum(np.abs(first), np.abs(second)) / 8, dtype=np.float64)


def _turning_along(program: Motions, intended: Motions, end: int) -> Floats:
    """How far apart at an end, seen from the turning part."""
    if end == 0:
        along, gap = program.along0 - intended.along0, program.across0 - intended.across0
        off, radius = np.asarray(program.phi0) - intended.phi0, np.abs(intended.across0)
    else:
        along, gap = program.along1 - intended.along1, program.across1 - intended.across1
        off, radius = np.asarray(program.phi1) - intended.phi1, np.abs(intended.across1)
    return np.asarray(np.sqrt(along * along + gap.real**2 + gap.imag**2) + np.abs(off) * radius, dtype=np.float64)


def _apart(program: Motions, intended: Motions, end: int) -> Floats:
    if end == 0:
        along = program.along0 - intended.along0
        gap = _tip(program.tip0, program.across0, program.phi0) - _tip(intended.tip0, intended.across0, intended.phi0)
    else:
        along = program.along1 - intended.along1
        gap = _tip(program.tip1, program.across1, program.phi1) - _tip(intended.tip1, intended.across1, intended.phi1)
    return np.asarray(np.sqrt(along * along + gap.real**2 + gap.imag**2), dtype=np.float64)


def _tip(known: Complexes | None, across: Complexes, phi: Floats | float) -> Complexes:
    if known is not None:
        return known
    if not isinstance(phi, np.ndarray) and phi == 0.0:
        return across
    return np.asarray(across * turned(-np.asarray(phi)), dtype=np.complex128)


def _bending(motions: Motions) -> tuple[Complexes, Complexes]:
    turn = np.asarray(motions.phi1) - np.asarray(motions.phi0)
    step = 2j * (motions.across1 - motions.across0)
    return turn * (turn * motions.across0 + step), turn * (turn * motions.across1 + step)
