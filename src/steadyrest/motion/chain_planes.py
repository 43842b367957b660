"""Where a plane lies on a machine with a chain of rotaries: the angles of its solutions, and its coordinates on the machine for each.

With rotaries in the table alone the tool stays along Z, and the plane's x and y are turned about Z of the machine, so that arcs stay
arcs. With a head its z lies along the tool, wherever that points.
"""

from __future__ import annotations

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import PlanError
from steadyrest.motion.chain import BOTH, Lines, linear_axes, rotated, solutions
from steadyrest.motion.kinematics import turned
from steadyrest.motion.lying import Lying
from steadyrest.motion.model import NAN
from steadyrest.motion.orientations import in_words
from steadyrest.motion.setup import Setup

POLE_RAD = 1e-6
"""A plane whose z lies so near to the line of the first rotary lies at the pole: six decimals of a unit vector (common practice)."""
STEP_MISS_DEG = 1e-3
"""By how much a plane may be off a step of an indexing head, which then stands at the step."""
LEVEL = 1e-9
"""A tool axis that is by less off Z, or above the level, is not."""

Frame = tuple[Floats, Floats]
"""A plane in the part: its origin (3,), program units, and its axes (3, 3), a column each."""


def of_angle(angle: float, setup: Setup) -> Frame:
    """The plane of an angle about the toolpath's axis: E = R(alpha), origin = c - R(alpha) c (design, two rotary axes, section 4)."""
    axis, nowhere = setup.toolpath.axis, (0.0, 0.0, 0.0)
    return setup.centre - turned(setup.centre[None], angle, axis, nowhere)[0], turned(np.eye(3), angle, axis, nowhere).T


def solved(frame: Frame, said: str, operation: int, setup: Setup) -> tuple[Lying, ...]:
    """How a plane lies in each of the solutions that a chain of rotaries has for its z.

    said      how the plane is called in a message
    raises    PlanError where the z is out of reach, with the angle, or no solution stands on the steps of indexing heads
    source    at a pole the first rotary is free: it turns the plane's x onto X of the machine, or stands at 0 where it carries the tool
    """
    (origin, axes), lines = frame, setup.lines_with(operation)
    z, first = axes[None, :, 2], lines[0].direction
    pole = len(lines) == BOTH and bool(np.linalg.norm(np.cross(z[0], first)) < POLE_RAD)
    found = solutions(np.sign(z[0] @ first) * first[None] if pole else z, lines)
    miss_rad = float(found.miss_rad[0])
    # what the plane's cuts lose by leaning is a quarter of the tolerance at the most
    if miss_rad > setup.tolerance / 4.0 / (setup.toolpath.swept_ball * setup.scale):
        raise PlanError(
            f"the z of {said}, {in_words(z[0])}, leans {np.rad2deg(miss_rad):.4g} degrees out of what "
            f"{setup.profile.name} reaches by turning {' and '.join(setup.rotaries)}",
            place=setup.place(operation),
            cure="correct the plane, or use a machine whose rotary axes reach it",
        )
    lying: dict[tuple[int, ...], Lying] = {}
    off: list[str] = []
    up: list[str] = []
    signs = np.array([line.sign for line in lines])
    for alpha in found.alpha_rad[:, 0]:
        if pole:
            alpha[0] = 0.0
            if lines[0].carries_part:
                upright = directions(np.array([axes[:, 0], first]), alpha, lines)
                alpha[0] = np.arctan2(upright[0, 1], upright[0, 0]) * np.sign(upright[1, 2])
        stands = within_turn(np.rad2deg(signs * alpha))
        near = [nearest_step(w_deg, rotary.steps) for w_deg, rotary in zip(stands.tolist(), setup.rotaries.values(), strict=True)]
        if np.abs(stands - near).max() > STEP_MISS_DEG:
            off.append(said_angles(stands, setup))
            continue
        stands = np.array(near)
        alpha = np.deg2rad(signs * stands)
        on_machine = directions(axes.T, alpha, lines).T
        if on_machine[2, 2] < -LEVEL:
            up.append(said_angles(stands, setup))
            continue
        place, x = linear_axes(origin[None], alpha[None], lines)[0], on_machine[:, 0]
        leans = setup.has_head and float(np.hypot(*on_machine[:2, 2])) > LEVEL
        over = setup.over - float((origin - setup.centre) @ axes[:, 2]) if setup.has_head else NAN
        turn_deg = 0.0 if leans else float(np.rad2deg(np.arctan2(x[1], x[0])))
        solution = Lying(tuple(stands.tolist()), place, turn_deg, on_machine if leans else None, over)
        lying.setdefault(tuple(np.rint(stands * 1e6).astype(int).tolist()), solution)
    if not lying:
        steps = " and ".join(f"{letter} {rotary.steps:g}" for letter, rotary in setup.rotaries.items() if rotary.steps)
        why = f"not on the steps of {steps} degrees" if off else "the tool would point up, and going up would take it into the part"
        raise PlanError(
            f"{said} is upright at {', or at '.join(dict.fromkeys(off or up))}: {why}",
            place=setup.place(operation),
            cure="use planes that lie on the steps, or rotaries that stop anywhere"
            if off
            else "use other planes, or lay the part otherwise",
        )
    return tuple(lying.values())


def directions(vectors: Floats, alpha_rad: Floats, lines: Lines) -> Floats:
    """Directions (n, 3) of the part as they lie on the machine, the rotaries that carry the part at angles (r,)."""
    for line, alpha in zip(lines, alpha_rad.tolist(), strict=True):
        if line.carries_part:
            vectors = rotated(vectors, line.direction, -alpha)
    return vectors


def within_turn(w_deg: Floats) -> Floats:
    """Angles in the turn around 0: from -180, left out, to 180."""
    return np.asarray(180.0 - (180.0 - w_deg) % 360.0 + 0.0)


def nearest_step(w_deg: float, steps: float) -> float:
    """The step of an indexing head that is nearest to an angle; the angle itself without steps."""
    return round(w_deg / steps) * steps if steps else w_deg


def said_angles(w_deg: Floats, setup: Setup) -> str:
    """Where rotaries stand, in words: "C 90, A -45"."""
    return ", ".join(f"{letter} {round(angle, 6) + 0.0:.6g}" for letter, angle in zip(setup.rotaries, w_deg.tolist(), strict=True))
