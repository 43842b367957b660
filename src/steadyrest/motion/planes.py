"""Where an operation that is cut with the rotary standing lies on the machine: at its angles, or in its planes.

A plane's coordinates p mean the part point q = origin + E p. Once the part is turned by phi, which brings the plane's z upright, q stands
at c + R(phi) (q - c): the plane's origin stands somewhere else, and its x and y are turned about Z of the machine. So lines stay lines
and arcs in its XY stay arcs; arcs in its XZ and YZ do where its x lies along X or Y of the machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Bools, Codes, Floats
from steadyrest.conventions import ARC_CLOCKWISE, ARC_COUNTERCLOCKWISE, LINE, XZ, YZ
from steadyrest.errors import PlanError
from steadyrest.motion.chain import Lines, linear_axes, rotated, solutions
from steadyrest.motion.kinematics import Axis, phi_of_tool_axis, turned
from steadyrest.motion.setup import Setup
from steadyrest.toolpath import Plane, Wrapped

POLE_RAD = 1e-6
"""A plane whose z lies so near to the line of the first rotary lies at the pole: six decimals of a unit vector (common practice)."""
STEP_MISS_DEG = 1e-3
"""By how much a plane may be off a step of an indexing head, which then stands at the step."""
_SQUARE_DEG = 1e-6
"""A plane whose x lies so near to an axis of the machine lies along it."""
_VERTICAL = {(XZ, 0): (XZ, False), (XZ, 1): (YZ, True), (XZ, 2): (XZ, True), (XZ, 3): (YZ, False)} | {
    (YZ, 0): (YZ, False), (YZ, 1): (XZ, False), (YZ, 2): (YZ, True), (YZ, 3): (XZ, True)
}  # fmt: skip
"""Planes of arcs that are square to XY, turned by so many quarters about Z: the plane it then is, and whether it is seen from behind."""


@dataclass(frozen=True, slots=True, eq=False)
class Lying:
    """Where an operation's own coordinates lie on the machine while the rotary stands.

    rotary_deg (r,) where the rotaries stand, in whatever turn
    origin    (3,) their zero in work coordinates, program units; None: they are the work coordinates
    turn_deg  by which they are turned about Z of the machine, right-hand; from -180 to 180
    """

    rotary_deg: tuple[float, ...]
    origin: Floats | None = None
    turn_deg: float = 0.0

    @property
    def quarters(self) -> int | None:
        """The quarter turns about Z, from 0 to 3; None where x lies along no axis of the machine."""
        quarters = round(self.turn_deg / 90.0)
        return quarters % 4 if abs(self.turn_deg - 90.0 * quarters) <= _SQUARE_DEG else None

    def placed(self, points: Floats) -> Floats:
        """Points (n, 2) or (n, 3) of the operation in work coordinates; heights only rise."""
        if self.origin is None:
            return points
        quarters = self.quarters
        if quarters is not None:
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarters]
        else:
            cos, sin = np.cos(np.deg2rad(self.turn_deg)), np.sin(np.deg2rad(self.turn_deg))
        out = points + self.origin[: points.shape[1]]
        out[:, 0] = points[:, 0] * cos - points[:, 1] * sin + self.origin[0]
        out[:, 1] = points[:, 0] * sin + points[:, 1] * cos + self.origin[1]
        return out

    def arc_planes(self, plane: Codes) -> tuple[Codes, Bools, Bools]:
        """Of arcs in these planes (n,): their planes on the machine, which are seen from behind there, and which lie in no plane of it."""
        behind, none = np.zeros(len(plane), dtype=np.bool_), np.zeros(len(plane), dtype=np.bool_)
        if self.origin is None or self.quarters == 0:
            return plane, behind, none
        out = plane.copy()
        for vertical in (XZ, YZ):
            here = plane == vertical
            if self.quarters is None:
                none |= here
            else:
                out[here], behind[here] = _VERTICAL[vertical, self.quarters]
        return out, behind, none

    def turning(self, kind: Codes, behind: Bools) -> Codes:
        """Kinds of blocks (n,) of which arcs that are seen from behind turn the other way."""
        reverse = behind & (kind > LINE)
        return np.where(reverse, ARC_CLOCKWISE + ARC_COUNTERCLOCKWISE - kind, kind).astype(np.uint8)


def lyings(operation: int, setup: Setup) -> list[tuple[Lying, ...]]:
    """For each angle or plane of an indexed operation, in their order, all solutions; of a still one, that with the rotaries at zero.

    raises    PlanError for a plane that the machine cannot bring upright, with the angle that misses
    """
    rotary = setup.operation(operation).rotary
    if rotary.intent != "indexed":
        return [(Lying((0.0,) * len(setup.rotaries)),)]
    if setup.rotaries and setup.rotary is None:
        if rotary.planes is None:
            return [_solved(_of_angle(angle, setup), f"angle {angle:g}", operation, setup) for angle in rotary.angles or ()]
        frames = [(np.array(plane.origin) * setup.scale, plane.axes) for plane in rotary.planes]
        return [_solved(frame, f"plane {number}", operation, setup) for number, frame in enumerate(frames, 1)]
    if rotary.planes is None:
        return [(Lying((setup.sigma * -angle + 0.0,)),) for angle in rotary.angles or ()]
    return [(_of_plane(plane, number, operation, setup),) for number, plane in enumerate(rotary.planes, 1)]


def phi_of_plane(plane: Plane, axis: Axis) -> tuple[float, float]:
    """By how much the part turns about an axis to bring a plane upright, and how far its z leans out of reach, degrees.

    About Z the rotary is free where z points along Z: it turns the plane's x onto X of the machine.
    """
    along = plane.axes
    phi_deg, miss_deg = phi_of_tool_axis(along[None, :, 2], axis)
    if axis == "Z":
        return -float(np.rad2deg(np.arctan2(along[1, 0], along[0, 0]))), float(miss_deg[0])
    return float(phi_deg[0]), float(miss_deg[0])


def _of_plane(plane: Plane, number: int, operation: int, setup: Setup) -> Lying:
    axis, along = setup.toolpath.axis, plane.axes
    phi_deg, miss_deg = phi_of_plane(plane, axis if setup.rotary is not None else "Z")
    if setup.rotary is None:  # nothing turns: the plane has to lie as it is
        phi_deg = 0.0
    # what the plane's cuts lose by leaning is a quarter of the tolerance at the most
    if np.deg2rad(miss_deg) > setup.tolerance / 4.0 / (setup.toolpath.swept_radius * setup.scale):
        able = f"a rotary along {axis} reaches planes whose z is square to {axis}" if axis != "Z" and setup.rotary else "z has to be Z here"
        raise PlanError(
            f"the z of plane {number}, {_text(along[:, 2])}, leans {miss_deg:.4g} degrees out of what {setup.profile.name} reaches: {able}",
            place=setup.place(operation),
            cure="correct the plane, or use a machine whose rotary axes reach it",
        )
    if setup.rotary is not None and setup.rotary.steps:
        phi_deg = _on_step(phi_deg, setup.rotary.steps, number, operation, setup)
    x = turned(along[None, :, 0], phi_deg, axis, (0.0, 0.0, 0.0))[0]
    origin = turned(np.array([plane.origin]) * setup.scale, phi_deg, axis, setup.centre)[0]
    stands = (setup.sigma * phi_deg + 0.0,) if setup.rotary is not None else ()
    return Lying(stands, origin, float(np.rad2deg(np.arctan2(x[1], x[0]))))


Frame = tuple[Floats, Floats]
"""A plane in the part: its origin (3,), program units, and its axes (3, 3), a column each."""


def _of_angle(angle: float, setup: Setup) -> Frame:
    """The plane of an angle about the toolpath's axis: E = R(alpha), origin = c - R(alpha) c (design, two rotary axes, section 4)."""
    axis, nowhere = setup.toolpath.axis, (0.0, 0.0, 0.0)
    return setup.centre - turned(setup.centre[None], angle, axis, nowhere)[0], turned(np.eye(3), angle, axis, nowhere).T


def _solved(frame: Frame, said: str, operation: int, setup: Setup) -> tuple[Lying, ...]:
    """How a plane lies in each of the solutions that a chain of rotaries in the table has for its z.

    raises    PlanError where the z is out of reach, with the angle, or no solution stands on the steps of indexing heads
    source    at a pole the first rotary is free: it turns the plane's x onto X of the machine
    """
    (origin, axes), lines = frame, setup.lines
    z = axes[None, :, 2]
    along = z[0] @ lines[0].direction
    pole = bool(np.linalg.norm(np.cross(z[0], lines[0].direction)) < POLE_RAD)
    found = solutions(np.sign(along) * lines[0].direction[None] if pole else z, lines)
    miss_rad = float(found.miss_rad[0])
    # what the plane's cuts lose by leaning is a quarter of the tolerance at the most
    if miss_rad > setup.tolerance / 4.0 / (setup.toolpath.swept_ball * setup.scale):
        raise PlanError(
            f"the z of {said}, {_text(z[0])}, leans {np.rad2deg(miss_rad):.4g} degrees out of what {setup.profile.name} reaches by "
            f"turning {' and '.join(setup.rotaries)}",
            place=setup.place(operation),
            cure="correct the plane, or use a machine whose rotary axes reach it",
        )
    lying: dict[tuple[int, ...], Lying] = {}
    off: list[str] = []
    for alpha in found.alpha_rad[:, 0]:
        if pole:
            alpha[0] = 0.0
            upright = directions(np.array([axes[:, 0], lines[0].direction]), alpha, lines)
            alpha[0] = np.arctan2(upright[0, 1], upright[0, 0]) * np.sign(upright[1, 2])
        signs = np.array([line.sign for line in lines])
        stands = within_turn(np.rad2deg(signs * alpha))
        near = [nearest_step(w_deg, rotary.steps) for w_deg, rotary in zip(stands.tolist(), setup.rotaries.values(), strict=True)]
        if np.abs(stands - near).max() > STEP_MISS_DEG:
            off.append(said_angles(stands, setup))
            continue
        stands = np.array(near)
        alpha = np.deg2rad(signs * stands)
        x = directions(axes[None, :, 0], alpha, lines)[0]
        place = linear_axes(origin[None], alpha[None], lines)[0]
        solution = Lying(tuple(stands.tolist()), place, float(np.rad2deg(np.arctan2(x[1], x[0]))))
        lying.setdefault(tuple(np.rint(stands * 1e6).astype(int).tolist()), solution)
    if not lying:
        steps = " and ".join(f"{letter} {rotary.steps:g}" for letter, rotary in setup.rotaries.items() if rotary.steps)
        raise PlanError(
            f"{said} is upright at {', or at '.join(off)}: not on the steps of {steps} degrees",
            place=setup.place(operation),
            cure="use planes that lie on the steps, or rotaries that stop anywhere",
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
    return ", ".join(f"{letter} {angle + 0.0:.6g}" for letter, angle in zip(setup.rotaries, w_deg.tolist(), strict=True))


def _on_step(phi_deg: float, steps: float, number: int, operation: int, setup: Setup) -> float:
    """The step of an indexing head at which the plane is upright."""
    near = round(phi_deg / steps) * steps
    if abs(phi_deg - near) > STEP_MISS_DEG:
        raise PlanError(
            f"plane {number} is upright at {0.0 - phi_deg:.6g} degrees, not one of the indexing head's steps of {steps:g} degrees; "
            f"the nearest is {0.0 - near:g}",
            place=setup.place(operation),
            cure=f"use planes at multiples of {steps:g} degrees, or a rotary that stops anywhere",
        )
    return near


def drawn_from(wrapped: Wrapped, operation: int, setup: Setup) -> tuple[Lying, float]:
    """How a wrapped operation's own coordinates lie in those without a plane, and the angle where those begin, degrees.

    raises    PlanError for a plane that does not begin on the axis of rotation, or whose x does not lie along it
    """
    axis, along, plane = setup.toolpath.axis, setup.axis, wrapped.plane
    if plane is None:
        return Lying(()), wrapped.start_angle
    x, origin = plane.axes[:, 0], np.array(plane.origin) * setup.scale
    off = float(np.linalg.norm(np.delete(origin - setup.centre, along)))
    lean_rad = float(np.arctan2(np.linalg.norm(np.delete(x, along)), abs(x[along])))
    if off > setup.tolerance / 4.0 or lean_rad * setup.toolpath.swept_radius * setup.scale > setup.tolerance / 4.0:
        wrong = f"begins {off / setup.scale:.4g} {setup.toolpath.units} beside the axis of rotation"
        if off <= setup.tolerance / 4.0:
            wrong = f"has an x that leans {np.rad2deg(lean_rad):.4g} degrees from {axis}, about which the rotary turns"
        raise PlanError(
            f"the plane of the wrapped drawing {wrong}",
            place=setup.place(operation),
            cure=f"put its origin onto the axis of rotation and its x along {axis}, or wrap about the axis that the machine has",
        )
    sign = 1.0 if x[along] > 0 else -1.0
    begin_deg = -float(phi_of_tool_axis(plane.axes[None, :, 2], axis)[0][0])
    # about Y the developed length without a plane runs along X, and the other way round the axis
    turn_deg = (0.0 if sign > 0 else 180.0) if axis == "X" else 90.0 * sign
    zero = np.where(np.arange(3) == along, origin, 0.0)
    return Lying((), zero, turn_deg), begin_deg + sign * wrapped.start_angle


def _text(direction: Floats) -> str:
    return "[" + ", ".join(f"{round(value, 9) + 0.0:.6g}" for value in direction.tolist()) + "]"
