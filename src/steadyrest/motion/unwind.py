"""Which of the angles 360 degrees apart is meant next, when the rotary turns on without a jump?"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Bools, Floats

HALF_TURN_DEG = 1e-6
"""A step this close to half a turn could be meant either way round."""


def unwound(phi_deg: Floats, before_deg: float) -> Floats:
    """Angles counted on past a full turn, each within half a turn of the one before.

    phi_deg     (n,) float, degrees, in whatever turn
    before_deg  the unwound angle before the first
    returns     (n,) float, degrees: next = before + ((next - before + 180) mod 360) - 180; half a turn goes down
    source      unwinding by the non-negative remainder. Whole turns are counted as integers and the sum of the steps
                is never formed, so ten million steps drift by nothing
    """
    if len(phi_deg) == 0:
        return np.empty(0)
    steps = np.empty(len(phi_deg))
    steps[0] = phi_deg[0] - before_deg
    np.subtract(phi_deg[1:], phi_deg[:-1], out=steps[1:])
    first = int(np.floor((steps[0] + 180.0) / 360.0))
    rest = steps[1:]
    if rest.size == 0 or (rest.min() >= -180.0 and rest.max() < 180.0):
        return phi_deg - 360.0 * first if first else phi_deg.copy()
    steps += 180.0
    steps /= 360.0
    np.floor(steps, out=steps)
    # whole numbers below 2**53: their sum in float64 is exact
    np.cumsum(steps, out=steps)
    steps *= -360.0
    steps += phi_deg
    return steps


def half_turns(phi_deg: Floats, before_deg: float) -> Bools:
    """Which unwound angles are half a turn from the one before, so that nobody can say which way round was meant.

    phi_deg     (n,) float, degrees, unwound
    before_deg  the unwound angle before the first
    returns     (n,) bool, true where the step is within 1e-6 degrees of half a turn
    """
    steps = np.diff(phi_deg, prepend=before_deg)
    np.abs(steps, out=steps)
    steps -= 180.0
    np.abs(steps, out=steps)
    return np.asarray(steps <= HALF_TURN_DEG)
