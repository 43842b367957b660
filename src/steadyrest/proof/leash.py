"""How far apart are two motions at most: the program's block and the stretch of intended path it runs along, both in the part frame.

Both are gone through together, from end to end. The farthest they get from each other on the way bounds the distance of
each from the other, for every point in between and not for samples only (Frechet's distance of two curves under one matching).
"""

from __future__ import annotations

import numpy as np

from steadyrest.proof.geometry import Complexes, Floats, Motions, turned


def leash(program: Motions, intended: Motions) -> Floats:
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
