"""A run of moves becomes axis positions: of indexed and still, of wrapped, and of simultaneous operations.

Where the rotary stands, coordinates are the work coordinates and arcs stay arcs. Where it turns, W is worked out without the operation's
whole turns. Each function returns the motion, where the machine stands after it in the operation's own coordinates (`point` and `phi_deg`
only), and how many arcs or moves became how many straight blocks.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from steadyrest.columns import Floats, Ints
from steadyrest.conventions import AXES, LINE, RAPID
from steadyrest.errors import PlanError
from steadyrest.motion.arcs import ArcRows, RadiusRounding, arc_rows, chords, parted, spoken, wrapped_chords
from steadyrest.motion.around import Around
from steadyrest.motion.kinematics import half_turns, phi_of_tool_axis, turned, unwound, wrapped_axes, wrapped_length
from steadyrest.motion.lying import Lying
from steadyrest.motion.model import NAN, Arcs, Motion, Stand, constant, motion, spot
from steadyrest.motion.orientations import in_words, unclear_turn
from steadyrest.motion.planes import drawn_from
from steadyrest.motion.setup import Setup
from steadyrest.motion.subdivision import countable, expand, parts_of, pieces
from steadyrest.toolpath import Holes, MoveColumns, Wrapped

RADIUS_FORM_COUNTS = 10
"""How many counts of R the middle of an arc said by its radius may stray: writing holds to that as well."""
MISS_DEG = 0.01
"""By how much a tool axis may lie out of the plane that the rotary reaches: five decimals of a unit vector (common practice)."""

_AS_IT_IS = Lying(())

Positions = tuple[Motion, Stand, int, int]


def indexed_positions(run: MoveColumns, stand: Stand, operation: int, setup: Setup, lying: Lying = _AS_IT_IS) -> Positions:
    """With the rotary standing and not commanded: lines as they are, arcs as the controller speaks them, else cut up.

    lying     where the operation's own coordinates lie on the machine
    """
    end, feed = _scaled(run, setup)
    move = run.first_move + np.arange(len(run))
    if run.arcs is None:
        rows = motion(run.kind, lying.placed(end), constant(NAN, (len(run), len(stand.rotary_deg))), feed=feed, move=move, tip=NAN)
        return rows, stand._replace(point=spot(end[-1])), 0, 0
    arcs = _arcs(run, stand, end, setup)
    plane, behind, oblique = lying.arc_planes(arcs.plane)
    blocks = spoken(replace(arcs, plane=plane), setup.profile.arcs, 1.0 / setup.mm, _radius_rounding(setup))
    blocks[oblique] = 0.0
    parts = np.where(blocks > 0, blocks, chords(arcs, setup.tolerance))
    xyz, source, ways = _with_parts(run, end, arcs, parts, operation, setup)
    said = np.repeat(blocks > 0, parts.astype(np.int64))
    kind, tip = np.minimum(run.kind[source], LINE), np.full(len(xyz), NAN)
    at = np.flatnonzero(run.kind[source] > LINE)[said]
    which = np.cumsum(run.kind > LINE)[source[at]] - 1
    kind[at], tip[at] = lying.turning(run.kind[source[at]], behind[which]), ways[said]
    still = constant(NAN, (len(xyz), len(stand.rotary_deg)))
    rows = motion(kind, lying.placed(xyz), still, feed=feed[source], move=move[source], tip=tip)
    if len(at):
        on_machine = run.arcs.plane.copy()
        on_machine[run.kind > LINE] = plane
        rows = replace(rows, arcs=Arcs(lying.placed(run.arcs.centre[source] * setup.scale), on_machine[source]))
    return rows, stand._replace(point=spot(xyz[-1])), int(np.count_nonzero(blocks == 0)), int(np.count_nonzero(~said))


def _scaled(run: MoveColumns, setup: Setup) -> tuple[Floats, Floats]:
    return (run.end, run.feed) if setup.scale == 1.0 else (run.end * setup.scale, run.feed * setup.scale)


def _way(begin: Floats, end: Floats) -> Floats:
    step = end - begin
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", step, step)))


def _radius_rounding(setup: Setup) -> RadiusRounding:
    """Two ends rounded in both axes of the plane, and R: half the chord is off by a root of half a count at most."""
    axis, radius = 1.0 / min(setup.counts("length", letter) for letter in AXES), 1.0 / setup.counts("length", "R")
    return RadiusRounding(axis * 0.5**0.5, radius / 2, min(RADIUS_FORM_COUNTS * radius, setup.tolerance))


def _arcs(run: MoveColumns, stand: Stand, end: Floats, setup: Setup) -> ArcRows:
    """The arcs of a run, with all rows' ends (n, 3), program units."""
    at, arcs = run.kind > LINE, run.arcs
    assert arcs is not None
    begin = np.vstack([stand.point, end[:-1]])
    return arc_rows(begin[at], end[at], arcs.centre[at] * setup.scale, arcs.plane[at], arcs.sweep_rad[at])


def _with_parts(run: MoveColumns, end: Floats, arcs: ArcRows, parts: Floats, operation: int, setup: Setup) -> tuple[Floats, Ints, Floats]:
    """The ends (m, 3) of a run's rows, its arcs in so many parts (k,); the row (m,) that each belongs to; and the ways along the parts."""
    at, count = run.kind > LINE, np.ones(len(run))
    count[at] = parts
    source, _ = parts_of(countable(count, run.first_move + np.arange(len(run)), operation, setup))
    xyz = end[source]
    xyz[at[source]], ways = parted(arcs, parts.astype(np.int64))
    return xyz, source, ways


def wrapped_positions(run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> Positions:
    """Of a wrapped run: straight lines stay whole, arcs are cut to tolerance."""
    wrapped = setup.operation(operation).rotary
    assert isinstance(wrapped, Wrapped)
    points, source, feed, moves, blocks = _drawn(run, wrapped, stand, operation, setup)
    places = np.vstack([stand.point, points])
    xyz, phi = _wrapped(places, wrapped, operation, setup)
    radius = xyz[:, 2] - setup.centre[2]
    tip = wrapped_length(np.diff(xyz[:, setup.axis]), np.diff(phi), radius[:-1], radius[1:])
    kind = np.minimum(run.kind[source], LINE)
    rows = motion(kind, xyz[1:], setup.sigma * phi[1:, None], feed=feed[source], move=run.first_move + source, tip=tip)
    return rows, stand._replace(point=spot(points[-1]), phi_deg=float(phi[-1])), moves, blocks


def around_positions(run: MoveColumns, stand: Stand, operation: int, setup: Setup, around: Around) -> Positions:
    """The same on a chain of two rotaries, one of which turns the part `around` the axis of the drawing."""
    wrapped = setup.operation(operation).rotary
    assert isinstance(wrapped, Wrapped)
    points, source, feed, moves, blocks = _drawn(run, wrapped, stand, operation, setup)
    xyz, w_deg, height = around.axes(np.vstack([stand.point, points]), wrapped, setup.scale)
    along = np.diff(xyz @ around.along)
    tip = wrapped_length(along, np.diff(w_deg[:, around.at]), height[:-1], height[1:])
    kind = np.minimum(run.kind[source], LINE)
    rows = motion(kind, xyz[1:], w_deg[1:], feed=feed[source], move=run.first_move + source, tip=tip)
    return rows, stand._replace(point=spot(points[-1])), moves, blocks


def _drawn(run: MoveColumns, wrapped: Wrapped, stand: Stand, operation: int, setup: Setup) -> tuple[Floats, Ints, Floats, int, int]:
    """The points (m, 3) of a wrapped run with its arcs cut up, the move (m,) that each belongs to, feeds, and how many arcs became what."""
    end, feed = _scaled(run, setup)
    if run.arcs is None:
        return end, np.arange(len(end)), feed, 0, 0
    arcs = _arcs(run, stand, end, setup)
    parts = wrapped_chords(arcs, setup.tolerance, wrapped.diameter * setup.scale, wrapped.z_from)
    points, source, ways = _with_parts(run, end, arcs, parts, operation, setup)
    return points, source, feed, len(arcs), len(ways)


def _wrapped(points: Floats, wrapped: Wrapped, operation: int, setup: Setup) -> tuple[Floats, Floats]:
    """Work coordinates (n, 3) and the part's angle (n,) of wrapped points (n, 3), program units."""
    diameter = wrapped.diameter * setup.scale
    lying, start_deg = drawn_from(wrapped, operation, setup)
    return wrapped_axes(lying.placed(points), diameter, start_deg, wrapped.z_from, setup.toolpath.axis, setup.centre)


def hole_positions(holes: Holes, operation: int, setup: Setup) -> tuple[Floats, Floats, Floats]:
    """Of holes of a wrapped operation: retract levels (n, 3) in its own and in work coordinates, and the part's angles (n,)."""
    wrapped = setup.operation(operation).rotary
    assert isinstance(wrapped, Wrapped)
    points = np.column_stack([holes.xy, holes.retract]) * setup.scale
    return points, *_wrapped(points, wrapped, operation, setup)


def around_holes(holes: Holes, operation: int, setup: Setup, around: Around) -> tuple[Floats, Floats, Floats]:
    """Of holes of a wrapped operation on a chain: retract levels (n, 3) in its own and in work coordinates, and the rotaries (n, r)."""
    wrapped = setup.operation(operation).rotary
    assert isinstance(wrapped, Wrapped)
    points = np.column_stack([holes.xy, holes.retract]) * setup.scale
    return points, *around.axes(points, wrapped, setup.scale)[:2]


def simultaneous_positions(run: MoveColumns, stand: Stand, operation: int, setup: Setup) -> Positions:
    """Of a simultaneous run, subdivided so that the tip stays within tolerance.

    raises    PlanError for a tool axis out of reach, or half a turn between two points
    """
    assert run.tool_axis is not None
    axis = setup.toolpath.axis
    tip, feed = _scaled(run, setup)
    phi, miss = phi_of_tool_axis(run.tool_axis, axis)
    allowed_deg = max(MISS_DEG, setup.operation(operation).axis_tolerance or 0.0)
    if float(np.max(np.abs(miss))) > allowed_deg:
        row = int(np.argmax(np.abs(miss) > allowed_deg))
        raise PlanError(
            f"the tool axis {in_words(run.tool_axis[row])} leans {abs(miss[row]):.3f} degrees out of the plane across {axis}, "
            f"where a rotary along {axis} cannot put it",
            place=setup.place(operation, run.first_move + row),
            cure=f"make the tool axis square to {axis}: its component along {axis} has to be 0; or allow the angle by axis_tolerance, "
            "or use a machine whose rotary axes reach it",
        )
    first = np.isnan(stand.phi_deg)
    before_deg = float(phi[0]) if first else stand.phi_deg
    phi = unwound(phi, before_deg)
    previous = np.concatenate([[before_deg], phi[:-1]])
    tip0 = np.vstack([tip[0] if np.isnan(stand.point[0]) else stand.point, tip[:-1]])
    ambiguous = half_turns(phi, before_deg)
    if ambiguous.any():
        row = int(np.argmax(ambiguous))
        ends, lies = np.array([tip0[row], tip[row]]) / setup.scale, run.tool_axis[row]
        raise unclear_turn(ends, np.array([-lies, lies]), setup.place(operation, run.first_move + row))
    after = stand._replace(point=spot(tip[-1]), phi_deg=float(phi[-1]))
    way = _way(tip0, tip)
    kind, move = run.kind, run.first_move + np.arange(len(run))
    needed = pieces(tip0, tip, phi - previous, axis, setup.centre, setup.tolerance)
    # A rapid's way is free as long as it is safe: only its end counts.
    needed[kind == RAPID] = 1.0
    count = countable(needed, move, operation, setup)
    cut = count > 1
    moves, blocks = int(np.count_nonzero(cut)), int(count[cut].sum())
    if moves:
        tip, source = expand(tip0, tip, count)
        phi, _ = expand(previous, phi, count)
        way, kind, feed, move = way[source] / count[source], kind[source], feed[source], move[source]
    xyz = turned(tip, phi, axis, setup.centre)
    rows = motion(kind, xyz, setup.sigma * phi[:, None], feed=feed, move=move, tip=way)
    return rows, after, moves, blocks
