"""How far does an arc turn, which plane is it in, and how is it cut into chords?"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from steadyrest.inputs.items import Arc, Moves
from steadyrest.toolpath import CUT

Floats = NDArray[np.float64]

CHORD_MM = 0.002
"""How far a chord may leave its arc where nothing else is asked: a fifth of the tolerance that planning works with."""
ALONG = 1e-6
"""How far a normal may be off an axis, as the sine of the angle: seven written decimals of a unit vector (common practice)."""
PLANES = ("YZ", "XZ", "XY")


def flat(vector: Floats, normal: Floats) -> Floats:
    """A vector (3,) without its part along `normal` (3,), a unit vector."""
    return np.asarray(vector - normal * float(vector @ normal), dtype=np.float64)


def sweep_rad(arc: Arc) -> float:
    """The whole angle that an arc turns, right-hand round its normal, full turns included; 0 to 2 pi where it has none."""
    u, v = flat(arc.start - arc.centre, arc.normal), flat(arc.end - arc.centre, arc.normal)
    if arc.full_turns and float(np.linalg.norm(u - v)) < 1e-6:
        return 2 * math.pi * arc.full_turns
    part = math.atan2(float(arc.normal @ np.cross(u, v)), float(u @ v)) % (2 * math.pi)
    return part + 2 * math.pi * arc.full_turns


def plane_of(arc: Arc) -> tuple[str, str] | None:
    """The plane XY, XZ or YZ, and the sense seen from the + side of the axis across it; None for an arc in no such plane."""
    third = int(np.argmax(np.abs(arc.normal)))
    if float(np.linalg.norm(np.delete(arc.normal, third))) > ALONG:
        return None
    return PLANES[third], "counterclockwise" if arc.normal[third] > 0 else "clockwise"


def chords(arc: Arc, tolerance: float) -> Moves:
    """An arc or helix as cuts whose ends lie on it, none farther from it than `tolerance`.

    source    sagitta s = 2 r sin^2(h / 4) of a chord over the angle h (plane geometry)
    """
    u, v = flat(arc.start - arc.centre, arc.normal), flat(arc.end - arc.centre, arc.normal)
    sweep = sweep_rad(arc)
    radius, last = float(np.linalg.norm(u)), float(np.linalg.norm(v))
    step = 4 * math.asin(min(1.0, math.sqrt(tolerance / (2 * max(radius, last))))) if max(radius, last) > 0 else math.pi
    count = max(1, math.ceil(sweep / min(step, math.pi / 2) - 1e-9))
    share = np.arange(1, count + 1) / count
    side = np.cross(arc.normal, u)
    turned = np.cos(share * sweep)[:, None] * u + np.sin(share * sweep)[:, None] * side
    grown = 1.0 + share * (last / radius - 1.0) if radius > 0 else np.ones(count)
    height = float((arc.start - arc.centre) @ arc.normal) + share * float((arc.end - arc.start) @ arc.normal)
    end = arc.centre + turned * grown[:, None] + height[:, None] * arc.normal
    end[-1] = arc.end
    return Moves(
        np.full(count, CUT, dtype=np.uint8),
        end,
        np.full(count, arc.feed),
        np.full(count, arc.line, dtype=np.int64),
        None if arc.axis is None else np.repeat(arc.axis[None, :], count, axis=0),
    )
