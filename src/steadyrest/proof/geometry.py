"""The proof's own kinematics, from the contract alone: work coordinates and turns to the part frame, motions, and how far apart two are.

A position is split into the coordinate along the axis of rotation and a complex number across it, relative to `centre`. The two
axes across are taken in the order that makes a right-hand turn about the axis a multiplication by exp(i phi): y, z about X;
z, x about Y; x, y about Z. A work point m is the image of the part point p under the turn phi, so p = c + R(-phi) (m - c).
"""

from __future__ import annotations

from cmath import rect
from dataclasses import dataclass
from math import hypot, inf, isnan, pi
from typing import TypeVar

import numpy as np

from steadyrest.columns import Complexes, Floats

FULL_TURN = 2 * pi
Stand = tuple[float, ...]
"""X, Y, Z of the tip in work coordinates, mm, and the turn of the part, rad; with a chain the rotaries' words, rad. NaN where not known."""
Tip = tuple[float, complex]
"""A place of the tip in the part frame: along the axis of rotation and across it, mm."""
_ORDER = {"X": (0, 1, 2), "Y": (1, 2, 0), "Z": (2, 0, 1)}
"""Per axis of rotation: along, then across in right-hand order."""


@dataclass(frozen=True)
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

    def tip(self, stand: Stand) -> Tip:
        """As `to_part`, of one place."""
        along, first, second = _ORDER[self.axis]
        across = complex(stand[first] - self.centre_mm[first], stand[second] - self.centre_mm[second])
        return stand[along], across * rect(1.0, -stand[3])

    def phi_of_axis(self, tool_axis: Floats) -> Floats:
        """The turn (n,) that brings tool axes (n, 3) of the part frame upright. About X: atan2(t_y, t_z); about Y: atan2(-t_x, t_z)."""
        if self.axis == "Z":
            return np.zeros(len(tool_axis))
        aside = tool_axis[:, 1] if self.axis == "X" else -tool_axis[:, 0]
        return np.asarray(np.arctan2(aside, tool_axis[:, 2]), dtype=np.float64)

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


Angle = TypeVar("Angle", float, Floats)


def less_whole_turns(phi_rad: Angle) -> Angle:
    """The same angle from -pi up to but not including pi."""
    return (phi_rad + pi) % FULL_TURN - pi


def apart(one: Tip, other: Tip) -> float:
    """How far two places of the tip are apart, mm; infinite where one is not known."""
    off = hypot(one[0] - other[0], abs(one[1] - other[1]))
    return inf if isnan(off) else off


@dataclass(frozen=True, slots=True)
class Motions:
    """n motions in which the coordinate along, the complex across and the turn phi all change linearly together.

    A block of the program is one; so is a straight line of wrapped coordinates; a straight line of the part frame is one
    that does not turn. Each is a pair (n,), where the motions begin and where they end; phi is one number of each (n,), or of all, where
    nothing turns. tip: across in the part frame, where it is known already.
    """

    along: tuple[Floats, Floats]
    across: tuple[Complexes, Complexes]
    phi: tuple[Floats, Floats] | Floats | float
    tip: tuple[Complexes, Complexes] | None = None

    def phi_at(self, end: int) -> Floats:
        """The turn (n,) or () at an end, 0 or 1."""
        return self.phi[end] if isinstance(self.phi, tuple) else np.asarray(self.phi)

    def tips(self, end: int) -> Complexes:
        """Across in the part frame (n,) at an end, 0 or 1."""
        if self.tip is not None:
            return self.tip[end]
        still = isinstance(self.phi, float) and self.phi == 0.0
        return self.across[end] if still else self.across[end] * turned(-self.phi_at(end))


def between(along: Floats, across: Complexes, phi: Floats) -> Motions:
    """The n motions between n + 1 vertices, each from one to the next."""
    return Motions((along[:-1], along[1:]), (across[:-1], across[1:]), (phi[:-1], phi[1:]))


def tip_length(motions: Motions) -> Floats:
    """Length (n,) of the tip's path over the part, mm.

    The tip is exp(-i phi(u)) a(u), its speed |a' - i phi' a|: the square root of a quadratic in u, constant on a cylinder; Simpson's rule.
    """
    run = motions.along[1] - motions.along[0]
    begin, end = motions.across
    step = end - begin
    if not isinstance(motions.phi, tuple):
        return _size(run, step)
    turn = 1j * (motions.phi[1] - motions.phi[0])
    first, middle, last = (_size(run, step - turn * at) for at in (begin, 0.5 * (begin + end), end))
    return np.asarray((first + 4 * middle + last) / 6, dtype=np.float64)


def curve_lengths(tips: Floats) -> Floats:
    """Lengths (k,) of curves given by an even number of stretches (k, s, 3): chords, and the half-as-many chords taken off (Richardson)."""
    fine, coarse = (np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1) for points in (tips, tips[:, ::2]))
    return np.asarray(fine + (fine - coarse) / 3, dtype=np.float64)


def frechet_bound(program: Motions, intended: Motions) -> Floats:
    """An upper bound (n,) of the distance between the tips of the program's blocks and the paths they run along, in the part frame, mm.

    Both are gone through together, from end to end. The farthest they get from each other on the way bounds the distance of
    each from the other, for every point in between and not for samples only (Frechet's distance of two curves under one matching).

    Where both turn, seen from the turning part: |a_p - a_i| + |phi_p - phi_i| |a_i| is convex in u, so no larger in between than at an end.
    Where one turns: w(u) = exp(-i phi(u)) a(u), a and phi linear in u, has w'' = -exp(-i phi) F(u), F = D (D a + 2 i b), D = phi', b = a'.
    F is linear in u, so its largest magnitude is at an end, and w lies within max|F| / 8 of its own chord (error of linear interpolation).
    """
    farthest = np.maximum(apart_at(program, intended, 0), apart_at(program, intended, 1))
    turning = [motions for motions in (program, intended) if isinstance(motions.phi, tuple)]
    if len(turning) == 1:
        turn, (begin, finish) = turning[0].phi_at(1) - turning[0].phi_at(0), turning[0].across
        first, last = (np.abs(turn * (turn * across + 2j * (finish - begin))) for across in (begin, finish))
        farthest = farthest + np.maximum(first, last) / 8
    return farthest


def apart_at(program: Motions, intended: Motions, end: int) -> Floats:
    """The bound of `frechet_bound` at one end, 0 or 1."""
    along = program.along[end] - intended.along[end]
    if not isinstance(program.phi, tuple) or not isinstance(intended.phi, tuple):
        return _size(along, program.tips(end) - intended.tips(end))
    off = np.abs(program.phi[end] - intended.phi[end]) * np.abs(intended.across[end])
    return np.asarray(_size(along, program.across[end] - intended.across[end]) + off)


def _size(along: Floats, across: Complexes) -> Floats:
    return np.asarray(np.sqrt(along * along + across.real**2 + across.imag**2), dtype=np.float64)
