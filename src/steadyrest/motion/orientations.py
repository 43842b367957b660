"""The tool axes of a path on a chain of rotaries: the arcs between them, and the angles of both solutions, continuous along them.

Between two points the tool axis goes the shortest way, on the great circle. About the first rotary's line its azimuth then changes by less
than half a turn, and what the two solutions add to it is the same function of the tilt, once with + and once with -: so the azimuth
alone is unwound, and both solutions with it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.errors import Place, PlanError
from steadyrest.motion.chain import BOTH, Lines, Solutions, solutions

TURN = 2 * np.pi
HALF_TURN_RAD = np.radians(1e-6)
"""An arc this close to half a turn could be meant any way round."""


def orientations(axes: Floats, lines: Lines, before_rad: float, held: Bools | None = None) -> Solutions:
    """The angles of consecutive tool axes (n, 3), unit vectors, no two neighbours half a turn apart; each solution continuous.

    before_rad   the unwound angle `toward_rad` from which is counted on
    held         (n,) axes at which the first rotary stays where it was, besides those that leave it free
    """
    found = solutions(axes, lines)
    if not lines:
        return found
    alpha, toward = found.alpha_rad, found.toward_rad
    known = ~found.free if held is None else ~(found.free | held)
    kept = _kept(toward, known, before_rad)
    turns = np.floor((np.diff(kept, prepend=before_rad) + np.pi) / TURN)
    turning = np.flatnonzero(turns)  # rarely
    since = np.diff(turning, prepend=0, append=len(kept))
    kept = kept - TURN * np.repeat(np.concatenate([[0.0], np.cumsum(turns[turning])]), since)
    alpha[:, :, 0] += kept - toward
    if len(alpha) == BOTH:  # where it is free nothing tells the two apart but the limit of what lies beside it
        alpha[:, found.free, 0] = kept[found.free] + np.array([[np.pi / 2], [-np.pi / 2]])
    return replace(found, toward_rad=kept)


def _kept(values: Floats, known: Bools, before: float) -> Floats:
    """Values where they are known, else the last known before; before the first of all the first of all, and `before` where none is."""
    if known.all():
        return values
    if not known.any():
        return np.full(len(values), before)
    last = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
    return np.asarray(values[np.where(last < 0, np.argmax(known), last)])


def unclear_turn(tips: Floats, axes: Floats, place: Place) -> PlanError:
    """The error for two points (2, 3) of the toolpath between which the tool axis, (2, 3), turns by half a turn."""
    start, end, lay, lies = (in_words(each) for each in (*tips, *axes))
    wrong = f"between {start} and {end} the tool axis turns by exactly half a turn, from {lay} to {lies}: which way round is not clear"
    return PlanError(wrong, place=place, cure="put a point between the two")


def in_words(vector: Floats) -> str:
    """A point or a direction as it is said in a message."""
    return "[" + ", ".join(f"{round(value, 9) + 0.0:.6g}" for value in vector.tolist()) + "]"


def arc_lengths(axes0: Floats, axes1: Floats) -> Floats:
    """Angles (n,) between unit vectors (n, 3), radians; they keep all digits where they are small, and near half a turn."""
    apart, together = axes1 - axes0, axes1 + axes0
    return np.asarray(2 * np.arctan2(np.sqrt(np.einsum("ij,ij->i", apart, apart)), np.sqrt(np.einsum("ij,ij->i", together, together))))


def on_arcs(axes0: Floats, axes1: Floats, part: Floats) -> Floats:
    """Unit vectors (n, 3) at parts (n,) of the arcs from one to another, evenly; exact at 0 and 1."""
    length = arc_lengths(axes0, axes1)
    sin = np.sin(length)
    small = length < 1e-6  # there the chord is the arc, to all digits
    whole = np.where(small, 1.0, sin)
    first = np.where(small, 1 - part, np.sin((1 - part) * length) / whole)
    second = np.where(small, part, np.sin(part * length) / whole)
    axes = first[:, None] * axes0 + second[:, None] * axes1
    axes /= np.sqrt(np.einsum("ij,ij->i", axes, axes))[:, None]
    axes[part == 0], axes[part == 1] = axes0[part == 0], axes1[part == 1]
    return np.asarray(axes)
