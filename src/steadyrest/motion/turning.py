"""Operations in which the rotary moves: wrapped and simultaneous paths become rows of axis positions."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.errors import PlanError
from steadyrest.motion.arcs import Arc, flattened_wrapped
from steadyrest.motion.frames import phi_of_tool_axis, turned
from steadyrest.motion.model import ARC_CLOCKWISE, LINE, RAPID, Motion, Stand, motion
from steadyrest.motion.parting import countable
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivide import expand, pieces
from steadyrest.motion.unwind import half_turns, unwound
from steadyrest.motion.wrap import wrapped_axes, wrapped_length
from steadyrest.notices import Subdivided
from steadyrest.toolpath import MoveColumns
from steadyrest.toolpath.columns import Hole
from steadyrest.toolpath.rotary import Wrapped

AXES: tuple[Literal["X"], Literal["Y"], Literal["Z"]] = ("X", "Y", "Z")
PLANES: tuple[Literal["XY"], Literal["XZ"], Literal["YZ"]] = ("XY", "XZ", "YZ")
MISS_DEG = 0.01
"""By how much a tool axis may lie out of the plane that the rotary reaches: five decimals of a unit vector (common practice)."""


def wrapped_rows(run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> tuple[Motion, Stand, int, int]:
    """Rows of a wrapped run, W without the operation's whole turns; straight lines stay whole, arcs are cut to tolerance.

    returns   rows, the stand after them (point and phi_deg only), and how many arcs became how many blocks
    """
    wrapped = setup.operation(operation).rotary
    assert isinstance(wrapped, Wrapped)
    points, source, arcs = _wrapped_points(run, stand, wrapped, operation, setup)
    xyz, phi = wrapped_axes(points, wrapped.diameter * setup.scale, wrapped.start_angle, wrapped.z_from, AXES[setup.axis], setup.centre)
    before = np.vstack([stand.point[None, :], points[:-1]])
    before_phi = np.concatenate([[stand.phi_deg], phi[:-1]])
    radius = (xyz[:, 2] - setup.centre[2]).astype(np.float64)
    xyz0, _ = wrapped_axes(before[:1], wrapped.diameter * setup.scale, wrapped.start_angle, wrapped.z_from, AXES[setup.axis], setup.centre)
    radius0 = np.concatenate([[xyz0[0, 2] - setup.centre[2]], radius[:-1]])
    along = points[:, setup.axis] - before[:, setup.axis]
    tip = wrapped_length(along, phi - before_phi, radius0, radius)
    kind = run.kind[source]
    feed, move = run.feed[source] * setup.scale, run.first_move + source
    rows = motion(np.minimum(kind, LINE), xyz, setup.sign * phi[:, None], feed=feed, move=move, tip=tip)
    blocks = int(np.count_nonzero(kind > LINE))
    return rows, replace(stand, point=points[-1], phi_deg=float(phi[-1])), arcs, blocks


def _wrapped_points(run: MoveColumns, stand: Stand, wrapped: Wrapped, operation: int, setup: Setup) -> tuple[Floats, Ints, int]:
    """Points (m, 3) in wrapped coordinates and the row (m,) each belongs to, arcs cut up; and how many arcs there were."""
    ends = run.end * setup.scale
    if run.arc_centre is None:
        return ends, np.arange(len(run)), 0
    assert run.arc_plane is not None
    assert run.full_turns is not None
    before = np.vstack([stand.point[None, :], ends[:-1]])
    arcs = np.flatnonzero(run.kind > LINE)
    parts: list[Floats] = []
    sources: list[Ints] = []
    done = 0
    for row in arcs:
        parts.append(ends[done:row])
        sources.append(np.arange(done, row))
        arc = arc_of(run, int(row), before[row], ends[row], setup.scale)
        place = setup.place(operation, run.first_move + int(row))
        points = flattened_wrapped(arc, setup.tolerance, wrapped.diameter * setup.scale, wrapped.z_from, place)
        parts.append(points)
        sources.append(np.full(len(points), row))
        done = int(row) + 1
    parts.append(ends[done:])
    sources.append(np.arange(done, len(ends)))
    return np.vstack(parts), np.concatenate(sources), len(arcs)


def arc_of(run: MoveColumns, row: int, begin: Floats, end: Floats, scale: float) -> Arc:
    """The arc of a run's row, from `begin` (3,) to `end` (3,), both scaled already."""
    assert run.arc_centre is not None
    assert run.arc_plane is not None
    assert run.full_turns is not None
    return Arc(
        start=spot(begin),
        end=spot(end),
        centre=spot(run.arc_centre[row] * scale),
        plane=PLANES[int(run.arc_plane[row])],
        clockwise=bool(run.kind[row] == ARC_CLOCKWISE),
        full_turns=int(run.full_turns[row]),
    )


def spot(point: Floats) -> tuple[float, float, float]:
    """Three plain numbers."""
    x, y, z = (float(value) for value in point)
    return x, y, z


def simultaneous_rows(run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> tuple[Motion, Stand, int, int]:
    """Rows of a simultaneous run, W without the operation's whole turns, subdivided so that the tip stays within tolerance.

    returns   rows, the stand after them (point and phi_deg only), and how many moves became how many blocks
    raises    PlanError for a tool axis out of reach, or half a turn between two points
    """
    assert run.tool_axis is not None
    axis = AXES[setup.axis]
    tip = run.end if setup.scale == 1.0 else run.end * setup.scale
    phi, miss = phi_of_tool_axis(run.tool_axis, axis)
    if float(np.max(np.abs(miss))) > MISS_DEG:
        row = int(np.argmax(np.abs(miss) > MISS_DEG))
        raise PlanError(
            f"the tool axis {_point(run.tool_axis[row])} leans {abs(miss[row]):.3f} degrees out of the plane across {axis}, "
            f"which a rotary along {axis} cannot reach",
            place=setup.place(operation, run.first_move + row),
            cure=f"let the tool axis stand square to {axis}: its component along {axis} has to be 0",
        )
    phi = unwound(phi, stand.phi_deg if not np.isnan(stand.phi_deg) else float(phi[0]))
    previous = np.concatenate([[stand.phi_deg], phi[:-1]])
    if np.isnan(previous[0]):
        previous[0] = phi[0]
    ambiguous = half_turns(phi, float(previous[0]))
    if ambiguous.any():
        _refuse_half_turn(run, stand, int(np.argmax(ambiguous)), operation, setup)
    tip0 = np.vstack([stand.point[None, :], tip[:-1]])
    if np.isnan(tip0[0, 0]):
        tip0[0] = tip[0]
    way = np.sqrt(np.einsum("ij,ij->i", tip - tip0, tip - tip0))
    move = run.first_move + np.arange(len(run))
    after = replace(stand, point=tip[-1], phi_deg=float(phi[-1]))
    needed = pieces(tip0, tip, phi - previous, axis, setup.centre, setup.tolerance)
    # A rapid's way is free as long as it is safe: only its end counts.
    needed[run.kind == RAPID] = 1.0
    count = countable(needed, move, operation, setup)
    cut = count > 1
    moves, blocks = int(np.count_nonzero(cut)), int(count[cut].sum())
    if moves:
        tip, source = expand(tip0, tip, count)
        phi, _ = expand(previous, phi, count)
        way = way[source] / count[source]
        kind, feed, move = run.kind[source], run.feed[source], move[source]
    else:
        kind, feed = run.kind, run.feed
    xyz = turned(tip, phi, axis, setup.centre)
    w_deg = phi if setup.sign == 1 else -phi
    feed = feed if setup.scale == 1.0 else feed * setup.scale
    return motion(kind, xyz, w_deg[:, None], feed=feed, move=move, tip=way), after, moves, blocks


def subdivided(what: str, moves: int, blocks: int, operation: int, setup: Setup) -> Subdivided:
    """The notice that moves were cut up, with the tolerance in the units of the program."""
    unit = "in" if setup.inch else "mm"
    return Subdivided(setup.place(operation), what, moves, blocks, f"the tip stays within {setup.tolerance:.4g} {unit} of its path")


def _refuse_half_turn(run: MoveColumns, stand: Stand, row: int, operation: int, setup: Setup) -> None:
    assert run.tool_axis is not None
    end = run.end[row]
    start = run.end[row - 1] if row else stand.point / setup.scale
    raise PlanError(
        f"between {_point(start)} and {_point(end)} the tool axis turns by exactly half a turn: which way round is meant cannot be known",
        place=setup.place(operation, run.first_move + row),
        cure="put a point between the two",
    )


def _point(values: Floats) -> str:
    return "[" + ", ".join(f"{value:.6g}" for value in values) + "]"


def hole_point(hole: Hole, stand: Stand, operation: int, setup: Setup) -> tuple[Floats, float, Stand]:
    """A hole of a wrapped operation: work coordinates (3,) of its retract level, its W without whole turns, the stand after it."""
    wrapped = setup.operation(operation).rotary
    assert isinstance(wrapped, Wrapped)
    point = np.array([[hole.x, hole.y, hole.retract]]) * setup.scale
    xyz, phi = wrapped_axes(point, wrapped.diameter * setup.scale, wrapped.start_angle, wrapped.z_from, AXES[setup.axis], setup.centre)
    after = replace(stand, point=point[0], phi_deg=float(phi[0]))
    return xyz[0], float(setup.sign * phi[0]), after
