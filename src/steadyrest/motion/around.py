"""Wrapped work on a chain of two rotaries in the table: one of them turns the part about its drawing's axis, the other one stands.

The drawing is that of axis X in a frame of the part: x along the axis, z where the angle alpha is 0. It can be cut like this where the
line of a rotary runs along the axis, either always, being the first one's, or with the first one standing so that the second one's does.
The tool then stands over that line, and where it lies on the machine does not change while the part turns about it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import PlanError
from steadyrest.motion.chain import about_line, azimuth, linear_axes, rotated, solutions
from steadyrest.motion.chain_planes import STEP_MISS_DEG, directions, nearest_step, within_turn
from steadyrest.motion.kinematics import wrapped_axes
from steadyrest.motion.setup import Setup
from steadyrest.toolpath import Wrapped


@dataclass(frozen=True, slots=True, eq=False)
class Around:
    """One way to turn the part about the axis of a drawing.

    at          which rotary turns, from the part to the spindle
    sense       +1 or -1: its word grows by so many degrees for each degree of alpha
    rotary_deg  (r,) where all rotaries stand for alpha = 0, in whatever turn
    foot        (3,) where the drawing's zero on the axis lies on the machine, program units
    along       (3,) where the axis points on the machine, level
    across_y    the drawing is one of axis Y: its y runs along the axis, its x against the developed length
    """

    at: int
    sense: int
    rotary_deg: Floats
    foot: Floats
    along: Floats
    across_y: bool

    def at_angle(self, alpha_deg: float) -> Floats:
        """Where the rotaries stand (r,) for an angle alpha."""
        return self.rotary_deg + np.where(np.arange(len(self.rotary_deg)) == self.at, self.sense * alpha_deg, 0.0)

    def axes(self, points: Floats, wrapped: Wrapped, scale: float) -> tuple[Floats, Floats, Floats]:
        """Of drawn points (n, 3), program units: X Y Z (n, 3), rotaries (n, r) in degrees, and heights (n,) over the axis."""
        drawn = np.column_stack([points[:, 1], -points[:, 0], points[:, 2]]) if self.across_y else points
        rolled, phi_deg = wrapped_axes(drawn, wrapped.diameter * scale, wrapped.start_angle, wrapped.z_from, "X", (0.0, 0.0, 0.0))
        xyz = self.foot + rolled[:, :1] * self.along
        xyz[:, 2] += rolled[:, 2]
        rotary_deg = np.tile(self.rotary_deg, (len(points), 1))
        rotary_deg[:, self.at] -= self.sense * phi_deg
        return xyz, rotary_deg, rolled[:, 2]


def arounds(number: int, setup: Setup) -> tuple[Around, ...]:
    """All ways to turn the part for a wrapped operation.

    raises    PlanError where there is none, with what is in the way of each rotary
    source    design, two rotary axes, section 4: wrapped stays about one axis, and a plane says where the drawing begins
    """
    wrapped, (first, second) = setup.operation(number).rotary, setup.lines
    assert isinstance(wrapped, Wrapped)
    origin, x, z, across_y = _frame(wrapped, number, setup)
    within = setup.tolerance / 4.0
    reach = setup.toolpath.swept_ball * setup.scale
    letters = tuple(setup.rotaries)
    found: list[tuple[int, int, Floats]] = []
    why: list[str] = []
    lean_rad = float(np.linalg.norm(np.cross(first.direction, x)))
    beside = _distance(first.point, origin, x)
    if lean_rad * reach > within:
        why.append(f"the axis of {letters[0]} leans {np.rad2deg(np.arcsin(min(1.0, lean_rad))):.4g} degrees from it")
    elif beside > within:
        why.append(f"the axis of {letters[0]} passes {beside / setup.scale:.4g} {setup.toolpath.units} beside it")
    else:
        solved = solutions(z[None], setup.lines)
        sense = first.sign if first.direction @ x > 0 else -first.sign
        found += [(0, sense, alpha) for alpha in solved.alpha_rad[:, 0]] if solved.miss_rad[0] * reach <= within else []
        why += [] if found else [f"no angle of {letters[1]} lays it level"]
    for way in (1.0, -1.0):
        # the first rotary standing so that the second one's line lies along the axis, either way
        turn = float((azimuth(way * x[None], first.direction) - azimuth(second.direction[None], first.direction))[0])
        laid = rotated(second.direction[None], first.direction, turn)[0]
        level = rotated(z[None], first.direction, -turn)[0]
        beside = _distance(about_line(second.point[None], first, turn)[0], origin, x)
        if np.linalg.norm(laid - way * x) * reach > within:
            told = f"no angle of {letters[0]} lays the axis of {letters[1]} along it"
        elif beside > within:
            told = f"the axis of {letters[1]} passes {beside / setup.scale:.4g} {setup.toolpath.units} beside it"
        elif abs(second.direction[2]) * reach > within:
            told = f"the axis of {letters[1]} is not level"
        else:
            toward = azimuth(level[None], second.direction) - azimuth(np.array([[0.0, 0.0, 1.0]]), second.direction)
            found.append((1, int(way) * second.sign, np.array([turn, float(toward[0])])))
            continue
        why += [] if told in why else [told]
    out = []
    for at, sense, alpha in found:
        standing, rotary = letters[1 - at], setup.rotaries[letters[at]]
        stands = within_turn(np.rad2deg(alpha) * [line.sign for line in setup.lines])
        step = nearest_step(float(stands[1 - at]), setup.rotaries[standing].steps)
        if not rotary.turns_while_cutting:
            why.append(f"{letters[at]} only indexes")
        elif abs(step - stands[1 - at]) > STEP_MISS_DEG:
            why.append(f"{standing} would stand at {stands[1 - at]:.6g} degrees, off its steps")
        else:
            stands[1 - at] = step
            alpha = np.deg2rad(stands * [line.sign for line in setup.lines])
            foot, along = linear_axes(origin[None], alpha[None], setup.lines)[0], directions(x[None], alpha, setup.lines)[0]
            out.append(Around(at, sense, stands, foot, along, across_y))
    if not out:
        raise PlanError(
            f"nothing turns the part about the axis of this drawing: {'; '.join(dict.fromkeys(why))}",
            place=setup.place(number),
            cure="lay the part so that the axis of the drawing is that of a rotary, or make the operation simultaneous",
        )
    return tuple(out)


def _frame(wrapped: Wrapped, number: int, setup: Setup) -> tuple[Floats, Floats, Floats, bool]:
    """The frame of a drawing in the part: its zero, its x along the axis, its z where alpha is 0; and whether it is one of axis Y."""
    axis, plane = setup.toolpath.axis, wrapped.plane
    if plane is not None:
        origin, x = np.array(plane.origin) * setup.scale, plane.axes[:, 0]
        beside, lean_rad = _distance(setup.centre, origin, x), float(np.linalg.norm(np.cross(x, np.eye(3)[setup.axis])))
        if max(beside, lean_rad * setup.toolpath.swept_ball * setup.scale) > setup.tolerance / 4.0:
            raise PlanError(
                f"the plane of the wrapped drawing begins beside the toolpath's axis {axis}, or its x does not lie along it",
                place=setup.place(number),
                cure=f"put its origin onto the axis of rotation and its x along {axis}, or correct `axis` and `centre`",
            )
        return origin, x, plane.axes[:, 2], False
    x = np.eye(3)[setup.axis]
    return setup.centre * (1.0 - x), x, np.array([0.0, 0.0, 1.0]), axis == "Y"


def _distance(point: Floats, origin: Floats, along: Floats) -> float:
    """How far a point lies beside the line through another."""
    return float(np.linalg.norm(np.cross(point - origin, along)))
