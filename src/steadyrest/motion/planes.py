"""Where an operation that is cut with the rotary standing lies on the machine: at its angles, or in its planes.

A plane's coordinates p mean the part point q = origin + E p. Once the part is turned by phi, which brings the plane's z upright, q stands
at c + R(phi) (q - c): the plane's origin stands somewhere else, and its x and y are turned about Z of the machine. So lines stay lines
and arcs in its XY stay arcs; arcs in its XZ and YZ do where its x lies along X or Y of the machine.
"""

from __future__ import annotations

import numpy as np

from steadyrest.errors import PlanError
from steadyrest.motion.chain_planes import STEP_MISS_DEG, of_angle, solved
from steadyrest.motion.kinematics import Axis, phi_of_tool_axis, turned
from steadyrest.motion.lying import Lying
from steadyrest.motion.model import NAN
from steadyrest.motion.orientations import in_words
from steadyrest.motion.setup import Setup
from steadyrest.toolpath import Plane, Wrapped


def lyings(operation: int, setup: Setup) -> list[tuple[Lying, ...]]:
    """For each angle or plane of an indexed operation, in their order, all solutions; of a still one, that with the rotaries at zero.

    raises    PlanError for a plane that the machine cannot bring upright, with the angle that misses
    """
    rotary = setup.operation(operation).rotary
    if rotary.intent != "indexed":
        return [(Lying((0.0,) * len(setup.rotaries), over=setup.centre[2] + setup.over if setup.has_head else NAN),)]
    if setup.on_chain:
        if rotary.planes is None:
            return [solved(of_angle(angle, setup), f"angle {angle:g}", operation, setup) for angle in rotary.angles or ()]
        frames = [(np.array(plane.origin) * setup.scale, plane.axes) for plane in rotary.planes]
        return [solved(frame, f"plane {number}", operation, setup) for number, frame in enumerate(frames, 1)]
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
            f"the z of plane {number}, {in_words(along[:, 2])}, leans {miss_deg:.4g} degrees out of what {setup.profile.name} reaches: "
            + able,
            place=setup.place(operation),
            cure="correct the plane, or use a machine whose rotary axes reach it",
        )
    if setup.rotary is not None and setup.rotary.steps:
        phi_deg = _on_step(phi_deg, setup.rotary.steps, number, operation, setup)
    x = turned(along[None, :, 0], phi_deg, axis, (0.0, 0.0, 0.0))[0]
    origin = turned(np.array([plane.origin]) * setup.scale, phi_deg, axis, setup.centre)[0]
    stands = (setup.sigma * phi_deg + 0.0,) if setup.rotary is not None else ()
    return Lying(stands, origin, float(np.rad2deg(np.arctan2(x[1], x[0]))))


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
