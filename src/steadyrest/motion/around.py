"""Wrapped work on a chain: one rotary in the table turns the part about the drawing's axis, or the tool goes round it.

The drawing is that of axis X in a frame of the part: x along the axis, z where the angle alpha is 0. Of two rotaries in the table the
line of one may run along the axis, either always, being the first one's, or with the first one standing so that the second one's does.
The tool then stands over that line, and where it lies on the machine does not change while the part turns about it. Otherwise the drawing
is laid out on the part, as tips and tool axes, and cut like a simultaneous operation.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import LINE, RAPID, XY
from steadyrest.errors import PlanError
from steadyrest.motion.arcs import arc_rows, parted
from steadyrest.motion.chain import SPINDLE, about_line, lies, linear_axes, rotated, solutions
from steadyrest.motion.chain_planes import STEP_MISS_DEG, directions, nearest_step, within_turn
from steadyrest.motion.kinematics import wrapped_axes
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivision import countable, parts_of
from steadyrest.toolpath import Holes, Item, MoveColumns, Wrapped

LAID_OUT = 1 / 4
"""By so much of the tolerance the straight parts of a drawing may stray from it."""
WIDEST_PART_RAD = 0.35
"""No part turns by more, however near to the axis."""
MOVES_AT_ONCE = 512
"""Moves that are laid out at once: of each there may be many parts."""


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


def goes_round(number: int, setup: Setup) -> bool:
    """Whether a wrapped operation on a chain is cut like a simultaneous one: with a head, or no rotary along the axis of the drawing."""
    return setup.has_head or not _ways(number, setup)


def _ways(number: int, setup: Setup) -> list[tuple[int, int, Floats]]:
    """Which of two rotaries in the table lies along a drawing's axis, in which sense its word turns, and the angles alpha (r,) there."""
    wrapped, (first, second) = setup.operation(number).rotary, setup.lines
    assert isinstance(wrapped, Wrapped)
    origin, x, z, _ = _frame(wrapped, number, setup)
    within = setup.tolerance / 4.0
    reach = setup.toolpath.swept_ball * setup.scale
    found: list[tuple[int, int, Floats]] = []
    if np.linalg.norm(np.cross(first.direction, x)) * reach <= within and _distance(first.point, origin, x) <= within:
        solved = solutions(z[None], setup.lines)
        sense = first.sign if first.direction @ x > 0 else -first.sign
        found += [(0, sense, alpha) for alpha in solved.alpha_rad[:, 0]] if solved.miss_rad[0] * reach <= within else []
    for way in (1.0, -1.0):
        # the first rotary standing so that the second one's line lies along the axis, either way
        turn = lies(way * x, first.direction)[2] - lies(second.direction, first.direction)[2]
        laid = rotated(second.direction[None], first.direction, turn)[0]
        beside = _distance(about_line(second.point[None], first, turn)[0], origin, x)
        if np.linalg.norm(laid - way * x) * reach <= within and beside <= within and abs(second.direction[2]) * reach <= within:
            level = rotated(z[None], first.direction, -turn)[0]
            toward = lies(level, second.direction)[2] - lies(SPINDLE, second.direction)[2]
            found.append((1, int(way) * second.sign, np.array([turn, toward])))
    return found


def arounds(number: int, setup: Setup) -> tuple[Around, ...]:
    """All ways to turn the part for a wrapped operation of which a rotary in the table lies along the axis.

    raises    PlanError where that rotary only indexes, or the other one would stand off its steps
    source    design, two rotary axes, section 4: wrapped stays about one axis, and a plane says where the drawing begins
    """
    wrapped = setup.operation(number).rotary
    assert isinstance(wrapped, Wrapped)
    origin, x, _, across_y = _frame(wrapped, number, setup)
    letters = tuple(setup.rotaries)
    why: list[str] = []
    out = []
    for at, sense, alpha in _ways(number, setup):
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


def laid_out(number: int, setup: Setup) -> Iterator[Item]:
    """The items of a wrapped operation as tips and tool axes in the part, its moves in equal parts that are straight.

    raises    PlanError for a hole, and where a rotary only indexes
    source    a curve p(u), 0 <= u <= 1, in n equal parts stays within max|p''| / (8 n n) of its chords (error of linear interpolation). At
              height h, R at most, over the axis |p''| <= R phi'^2 + 2 h' phi' on a straight line of the drawing. On an arc of radius q and
              sweep s, v long for each u, with r the drawing's radius: 2 q s^2 + R (v / r)^2 + R q s^2 / r + 2 v^2 / r
    """
    wrapped = setup.operation(number).rotary
    assert isinstance(wrapped, Wrapped)
    for letter, rotary in setup.rotaries.items():
        if not rotary.turns_while_cutting:
            raise PlanError(
                f"the drawing is gone round by all rotaries together, and {letter} of {setup.profile.name} only indexes",
                place=setup.place(number),
                cure="use indexed planes, or a machine whose rotaries turn while cutting",
            )
    last = np.full(3, np.nan)
    for item in setup.operation(number).stream():
        if isinstance(item, Holes):
            raise PlanError(
                "a hole of a drawing is drilled where a rotary in the table turns the part about its axis; here the tool goes round",
                place=setup.place(number, int(item.move[0])),
                cure="drill it in a plane of an indexed operation",
            )
        if not isinstance(item, MoveColumns):
            yield item
            continue
        for begin in range(0, len(item), MOVES_AT_ONCE):
            run = item.rows(begin, min(begin + MOVES_AT_ONCE, len(item)))
            yield _laid_out(run, last, wrapped, number, setup)
            last = run.end[-1] * setup.scale


def _laid_out(run: MoveColumns, last: Floats, wrapped: Wrapped, number: int, setup: Setup) -> MoveColumns:
    origin, x, z, across_y = _frame(wrapped, number, setup)
    diameter = wrapped.diameter * setup.scale
    radius, developed = diameter / 2, 0 if across_y else 1
    end = run.end * setup.scale
    start = np.vstack([last, end[:-1]])
    heights = np.abs(np.stack([start[:, 2], end[:, 2]]) + (radius if wrapped.z_from == "surface" else 0.0))
    way, top = np.abs(end - start), heights.max(axis=0)
    bend = top * (way[:, developed] / radius) ** 2 + 2 * way[:, 2] * way[:, developed] / radius
    turn = way[:, developed] / radius
    arc = np.flatnonzero(run.kind > LINE)
    arcs = None
    if run.arcs is not None:
        arcs = arc_rows(start[arc], end[arc], run.arcs.centre[arc] * setup.scale, run.arcs.plane[arc], run.arcs.sweep_rad[arc])
        wide, sweep = np.maximum(arcs.first, arcs.last), np.abs(arcs.sweep_rad)
        long, high = wide * sweep + np.abs(arcs.rise), top[arc] + np.where(arcs.plane == XY, 0.0, 2 * wide)
        around = high * (long / radius) ** 2 + high * wide * sweep**2 / radius
        bend[arc], turn[arc] = 2 * wide * sweep**2 + around + 2 * long**2 / radius, long / radius
    parts = np.maximum(np.ceil(np.sqrt(bend / (8 * LAID_OUT * setup.tolerance)) - 1e-9), np.ceil(turn / WIDEST_PART_RAD - 1e-9))
    parts[(run.kind == RAPID) | np.isnan(start[:, 0])] = 1.0
    count = countable(np.maximum(parts, 1.0), run.move, number, setup)
    source, part = parts_of(count)
    share = ((part + 1) / count[source])[:, None]
    drawn = np.where(share == 1.0, end[source], start[source] + share * (end - start)[source])
    if arcs is not None:
        drawn[run.kind[source] > LINE] = parted(arcs, count[arc])[0]
    if across_y:
        drawn = np.column_stack([drawn[:, 1], -drawn[:, 0], drawn[:, 2]])
    rolled, phi_deg = wrapped_axes(drawn, diameter, wrapped.start_angle, wrapped.z_from, "X", (0.0, 0.0, 0.0))
    alpha = np.radians(-phi_deg)[:, None]
    axes = np.cos(alpha) * z + np.sin(alpha) * np.cross(x, z)
    tips = origin + rolled[:, :1] * x + rolled[:, 2:] * axes
    kind = np.minimum(run.kind, LINE)[source]
    return MoveColumns(run.first_move, kind, tips / setup.scale, axes, run.feed[source], of_move=run.move[source])


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
