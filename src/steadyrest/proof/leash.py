"""How far apart are two motions at most: the program's block and the stretch of intended path it runs along, both in the part frame.

Both are gone through together, from end to end. The farthest they get from each other on the way bounds the distance of
each from the other, for every point in between and not for samples only (Frechet's distance of two curves under one matching).
"""

from __future__ import annotations

import numpy as np

from steadyrest.proof.geometry import Complexes, Floats, Motions, turned


def leash(program: Motions, intended: Motions) -> Floats:
    """An upper bound (n,) of the distance between the tips, mm.

    With w(u) = exp(-i phi(u)) a(u), a and phi linear in u, w'' = -exp(-i phi) F(u), F = D (D a + 2 i b), D = phi', b = a': F is linear
    in u, so its largest magnitude is at an end. The difference g of two motions lies within max|g''| / 8 of its own chord (error of
    linear interpolation), and |g''| <= |F_p - F_i| + |phi_p - phi_i| |F_i|. Where both turn, the bound seen from the turning part may be
    the closer one: many turns in one block make the first useless.
    """
    ends = np.maximum(_apart(program, intended, 0), _apart(program, intended, 1))
    if not (program.turns or intended.turns):
        return ends
    here, there = _bending(program), _bending(intended)
    if there is None:
        assert here is not None
        bend = np.maximum(np.abs(here[0]), np.abs(here[1]))
    else:
        zero = np.zeros_like(there[0])
        first, second = here if here is not None else (zero, zero)
        off = np.maximum(np.abs(np.asarray(program.phi0) - intended.phi0), np.abs(np.asarray(program.phi1) - intended.phi1))
        size = np.maximum(np.abs(there[0]), np.abs(there[1]))
        bend = np.maximum(np.abs(first - there[0]), np.abs(second - there[1])) + off * size
    bound = ends + bend / 8
    if there is not None:
        bound = np.minimum(bound, np.maximum(_turning_along(program, intended, 0), _turning_along(program, intended, 1)))
    return np.asarray(bound, dtype=np.float64)


def _turning_along(program: Motions, intended: Motions, end: int) -> Floats:
    """How far apart, seen from the turning part, at an end: |a_p - a_i| + |phi_p - phi_i| |a_i|, convex in u, so no larger in between."""
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
        tips = program.across0, program.phi0, intended.across0, intended.phi0
    else:
        along = program.along1 - intended.along1
        tips = program.across1, program.phi1, intended.across1, intended.phi1
    gap = tips[0] * turned(-np.asarray(tips[1])) - (tips[2] if _is_zero(tips[3]) else tips[2] * turned(-np.asarray(tips[3])))
    return np.asarray(np.sqrt(along * along + gap.real**2 + gap.imag**2), dtype=np.float64)


def _is_zero(phi: Floats | float) -> bool:
    return not isinstance(phi, np.ndarray) and phi == 0.0


def _bending(motions: Motions) -> tuple[Complexes, Complexes] | None:
    if not motions.turns:
        return None
    turn = np.asarray(motions.phi1) - np.asarray(motions.phi0)
    step = 2j * (motions.across1 - motions.across0)
    return turn * (turn * motions.across0 + step), turn * (turn * motions.across1 + step)
