"""The toolpath as passes, one an operation and angle, their motion as straight lines and arcs in the frame of the operation, mm.

A point of that frame has four numbers, mm: three in the coordinates of the toolpath's own moves, and a fourth that has to agree as well.

still, indexed   work coordinates, or those of the plane; fourth: how far the part is turned from where it should stand, at the swept radius
wrapped          developed coordinates; fourth: distance of the tip from the plane through the axis of rotation and the spindle
simultaneous     part frame; fourth: the turn, as a length at the swept radius

On a chain of two rotaries or with a head a point has six numbers (see `chain_frame`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from math import pi, radians
from typing import ClassVar, Literal

import numpy as np

from steadyrest.columns import Codes, Complexes, Floats, Ints
from steadyrest.conventions import LINE
from steadyrest.proof.chain import sizes
from steadyrest.proof.chain_frame import AXIS, ChainFrame, along_great_circle, frame_on_chain
from steadyrest.proof.chain_frame import lengths as chain_lengths
from steadyrest.proof.drawn_on_chain import DrawnOnChain, lies_along
from steadyrest.proof.geometry import FULL_TURN, Frame, Motions, Stand, turned
from steadyrest.proof.rows import Rows, arc_ways
from steadyrest.proof.setting import Setting
from steadyrest.reading import ArcsRead, within_block
from steadyrest.toolpath import CYCLES, PLANE_XY, Holes, Indexed, MoveColumns, Operation, Plane, Wrapped


@dataclass(frozen=True, slots=True)
class OperationFrame:
    """One operation at one angle.

    turn_radius_mm   radius at which a turn counts as a length in the fourth number
    phi_rad          work: the turn at which the part stands still; of points of several passes (n,) that of each
    developed_mm     wrapped: developed length of a turn by one radian, which is the lateral coordinate; start_rad: the angle where it is 0
    height_mm        wrapped: of z = 0 over the axis
    may_lean_rad     part: how far the tool axis may be out of the rotary's reach
    origin_mm        in a plane: where its zero stands, in work or developed coordinates; None: the coordinates are those
    heading          in a plane: where its x points, in X + i Y of those
    out_of_reach_rad in a plane: how far its z leans out of what the rotary can bring upright; of a wrapped drawing, how far it begins off
                     the axis of rotation, at the swept radius, or its x leans from it
    """

    kind: Literal["work", "wrapped", "part"]
    frame: Frame
    turn_radius_mm: float
    phi_rad: Floats | float = 0.0
    developed_mm: float = 1.0
    start_rad: float = 0.0
    height_mm: float = 0.0
    may_lean_rad: float = 0.0
    origin_mm: tuple[float, float, float] | None = None
    heading: complex = 1.0
    out_of_reach_rad: float = 0.0

    numbers: ClassVar[int] = 4

    def axis_limit(self, setting: Setting) -> float:
        """The largest angle between tool axes, rad."""
        return setting.axis_limit_rad

    def reach_mm(self, setting: Setting) -> float:
        """How near points of path and program have to be to be the same."""
        if self.kind == "wrapped":
            return setting.limit_mm(max(setting.swept_mm, abs(self.developed_mm)))
        return setting.reach_mm(self.turn_radius_mm)

    def raised(self, points_mm: Floats) -> Floats:
        """Points (..., 4) of places (..., 3)."""
        return np.concatenate([points_mm, np.zeros((*points_mm.shape[:-1], 1))], axis=-1)

    def of_rows(self, rows: Rows, at: slice, turns_off: float) -> Floats:
        """Points (n, 4) of vertices of the program, whole turns `turns_off` taken off."""
        return self.of_program(rows.vertex[at], rows.phi[at] - turns_off, rows.tip[at])

    def way_round(self, setting: Setting) -> Floats:
        """(3,) what the toolpath's x, y and z are multiplied by, sign alone: those of a plane are its own, whatever end is held."""
        return setting.way_round if self.origin_mm is None else np.ones(3)

    def _stood(self, points: Floats) -> Floats:
        """Work or developed coordinates (..., 3) of points (..., 3) of the plane, if there is one."""
        if self.origin_mm is None:
            return points
        return _from_flat((points[..., 0] + 1j * points[..., 1]) * self.heading, points[..., 2], self.origin_mm)

    def _own(self, points: Floats) -> Floats:
        """The same the other way round, of points (n, 3)."""
        if self.origin_mm is None:
            return points
        x, y, z = (points - self.origin_mm).T
        return _from_flat((x + 1j * y) * np.conj(self.heading), z, (0.0, 0.0, 0.0))

    def of_program(self, positions_mm: Floats, phi_rad: Floats, tips_mm: Complexes | None = None) -> Floats:
        """Points (n, 4) of work coordinates (n, 3) and turns (n,), whole turns already taken off.

        tips_mm   (n,) the same across the axis in the part frame, where it is known already
        """
        frame, out = self.frame, np.empty((len(positions_mm), 4))
        if self.kind == "work":
            out[:, :3] = self._own(positions_mm)
            out[:, 3] = (phi_rad - self.phi_rad) * self.turn_radius_mm
        elif self.kind == "part":
            if tips_mm is None:
                tips_mm = frame.across(positions_mm) * turned(-phi_rad)
            out[:, :3] = frame.joined(positions_mm[:, frame.along], tips_mm)
            out[:, 3] = phi_rad * self.turn_radius_mm
        else:
            out[:, frame.along] = positions_mm[:, frame.along]
            out[:, frame.lateral] = (phi_rad + self.start_rad) * self.developed_mm
            out[:, 2] = positions_mm[:, 2] - frame.centre_mm[2] - self.height_mm
            out[:, :3] = self._own(out[:, :3])
            out[:, 3] = positions_mm[:, frame.lateral] - frame.centre_mm[frame.lateral]
        return out

    def turns_of(self, points: Floats) -> Floats:
        """The turn phi (n,) of intended points (n, 4), radians."""
        if self.kind == "work":
            return np.full(len(points), self.phi_rad)
        if self.kind == "part":
            return np.asarray(points[:, 3] / self.turn_radius_mm, dtype=np.float64)
        lateral = self._stood(points[:, :3])[:, self.frame.lateral]
        return np.asarray(lateral / self.developed_mm - self.start_rad, dtype=np.float64)

    def work_of(self, points: Floats) -> Floats:
        """Work coordinates (n, 3) of intended points (n, 4), the part turned by `turns_of`."""
        if self.kind == "work":
            return self._stood(points[:, :3])
        frame = self.frame
        if self.kind == "part":
            return frame.joined(points[:, frame.along], frame.across(points) * turned(self.turns_of(points)))
        out, points = np.empty((len(points), 3)), np.column_stack([self._stood(points[:, :3]), points[:, 3]])
        out[:, frame.along] = points[:, frame.along]
        out[:, frame.lateral] = frame.centre_mm[frame.lateral] + points[:, 3]
        out[:, 2] = frame.centre_mm[2] + self.height_mm + points[:, 2]
        return out

    def goals_of(self, points: Floats, turns_off: float = 0.0) -> Floats:
        """Intended points (n, 4) as work coordinates, mm, and the turn with whole turns added, rad: (n, 4)."""
        return np.column_stack([self.work_of(points), self.turns_of(points) + turns_off])

    def goal_of(self, point: Floats) -> Stand:
        """The same of one point (4,)."""
        if self.kind == "work" and self.origin_mm is None:
            x, y, z, _ = point.tolist()
            return x, y, z, float(self.phi_rad)
        x, y, z, turn = self.goals_of(point[None, :])[0].tolist()
        return x, y, z, turn

    def tips_of(self, points: Floats) -> Floats:
        """Intended points (n, ..., 4) in the part frame (n, ..., 3)."""
        if self.kind == "part":
            return points[..., :3]
        if self.kind == "work":
            phi = self.phi_rad if isinstance(self.phi_rad, float) else self.phi_rad.reshape(-1, *[1] * (points.ndim - 2))
            return self.frame.to_part(self._stood(points[..., :3]), phi)
        flat = points.reshape(-1, 4)
        return self.frame.to_part(self.work_of(flat), self.turns_of(flat)).reshape(*points.shape[:-1], 3)

    def of_blocks(self, which: Ints) -> OperationFrame:
        """That of some of the points."""
        return self if isinstance(self.phi_rad, float) else replace(self, phi_rad=self.phi_rad[which])

    def motions(self, start: Floats, end: Floats) -> Motions:
        """What straight lines between intended points (n, 4) mean: in the part frame, or turning with the part."""
        frame = self.frame
        phi: tuple[Floats, Floats] | Floats | float = 0.0 if self.kind == "part" else self.phi_rad
        if self.kind == "wrapped":
            phi = self.turns_of(start), self.turns_of(end)
        if self.kind != "part":
            start, end = self.work_of(start), self.work_of(end)
        return Motions((start[:, frame.along], end[:, frame.along]), (frame.across(start), frame.across(end)), phi)


def _from_flat(across: Complexes, height: Floats, origin: tuple[float, float, float]) -> Floats:
    """Points (..., 3) whose X + i Y and Z are given, counted from an origin."""
    return np.stack([across.real + origin[0], across.imag + origin[1], height + origin[2]], axis=-1)


PassFrame = OperationFrame | ChainFrame | DrawnOnChain


@dataclass(frozen=True)
class Pass:
    """One operation at one angle of the rotary, or in one plane: `number` counts operations and `plane` planes from 1, and `angle_deg` and
    `plane` are None unless the operation is indexed at angles, or in planes.
    """

    number: int
    operation: Operation
    angle_deg: float | None
    frame: PassFrame
    plane: int | None = None

    @property
    def wants_clamp(self) -> bool:
        """Whether the rotary stands while this is cut."""
        return self.frame.kind == "work"

    @cached_property
    def taps(self) -> bool:
        """Whether it taps: there the spindle's speed and the feed belong together."""
        return any(isinstance(item, Holes) and CYCLES.index("tap") in item.cycle for item in self.operation.stream())


@dataclass(frozen=True, slots=True)
class Elements:
    """m consecutive moves in the frame of the operation: each goes from points[e] to points[e + 1], straight or as an arc.

    points (m + 1, 4), with a chain (m + 1, 6), points[0] NaN when no point comes before;
    kind (m,) as in MoveColumns; feed (m,) mm per minute, NaN in a rapid;
    arcs of the m moves, or None; tilt (m,) rad, how far the tool axis is out of reach, or None.
    """

    first_move: int
    points: Floats
    kind: Codes
    feed: Floats
    arcs: ArcsRead | None = None
    tilt: Floats | None = None

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def on_chain(self) -> bool:
        """Whether a point has six numbers."""
        return bool(self.points.shape[1] == ChainFrame.numbers)

    def lengths(self, first: int, stop: int) -> Floats:
        """Lengths of elements first to stop, all numbers counted."""
        if self.on_chain:
            out = chain_lengths(self.points[first : stop + 1])
        else:
            way = np.diff(self.points[first : stop + 1], axis=0)
            out = np.sqrt(np.einsum("ij,ij->i", way, way))
        if self.arcs is not None:
            rows = np.flatnonzero(self.kind[first:stop] > LINE)
            out[rows] = np.hypot(*arc_ways(self.points, self.arcs, first + rows))
        return np.asarray(out, dtype=np.float64)

    def place(self, element: Ints, u: Floats) -> Floats:
        """Points (..., 4) where `u` of an element is gone; both shapes broadcast to (...)."""
        out = within_block(self.points, element, u, self.arcs)
        if self.on_chain:
            out[..., AXIS] = along_great_circle(self.points[element][..., AXIS], self.points[element + 1][..., AXIS], np.asarray(u))
        return out

    def point(self, element: int, u: float) -> Floats:
        """The point (4,) where `u` of an element is gone."""
        return np.asarray(self.place(np.array([element]), np.array([u]))[0])


def passes(setting: Setting) -> Iterator[Pass]:
    """Every operation in order, indexed ones once for each of their angles or planes."""
    frame = setting.frame
    radius = max(setting.swept_mm, 1.0)
    turns = -1.0 if setting.end_for_end else 1.0
    for number, operation in enumerate(setting.toolpath.operations, start=1):
        rotary = operation.rotary
        if setting.lines:
            yield from _passes_on_chain(number, operation, setting)
        elif isinstance(rotary, Indexed):
            for which, plane in enumerate(rotary.planes or (), 1):
                yield Pass(number, operation, None, _frame_of_plane(plane, radius, setting), which)
            for angle in rotary.angles or ():
                yield Pass(number, operation, angle, OperationFrame("work", frame, radius, phi_rad=-turns * radians(angle)))
        elif isinstance(rotary, Wrapped):
            cylinder, start = rotary.diameter / 2 * setting.scale, turns * radians(rotary.start_angle)
            developed, height = cylinder if frame.axis == "X" else -cylinder, cylinder if rotary.z_from == "surface" else 0.0
            wrapped = OperationFrame("wrapped", frame, radius, developed_mm=developed, start_rad=start, height_mm=height)
            yield Pass(number, operation, None, wrapped if rotary.plane is None else _drawn_from(rotary.plane, rotary, wrapped, setting))
        else:
            kind: Literal["part", "work"] = "part" if rotary.intent == "simultaneous" else "work"
            yield Pass(number, operation, None, OperationFrame(kind, frame, radius, may_lean_rad=radians(operation.axis_tolerance or 0.0)))


def _passes_on_chain(number: int, operation: Operation, setting: Setting) -> Iterator[Pass]:
    rotary = operation.rotary
    if isinstance(rotary, Wrapped):
        yield Pass(number, operation, None, _drawn_on_chain(operation, rotary, setting))
        return
    if isinstance(rotary, Indexed):
        for which, plane in enumerate(rotary.planes or (), 1):
            yield Pass(number, operation, None, frame_on_chain(operation, plane, None, setting), which)
        for angle in rotary.angles or ():
            yield Pass(number, operation, angle, frame_on_chain(operation, None, angle, setting))
    else:
        yield Pass(number, operation, None, frame_on_chain(operation, None, None, setting))


def _drawn_on_chain(operation: Operation, wrapped: Wrapped, setting: Setting) -> DrawnOnChain:
    """A drawing as on a machine with one rotary along the toolpath's axis; one that begins in a plane as one about X of the plane."""
    flat, frame, origin, axes = frame_on_chain(operation, None, None, setting), setting.frame, np.zeros(3), np.eye(3)
    if wrapped.plane is not None:
        frame, origin, axes = Frame("X", np.zeros(3)), np.array(wrapped.plane.origin) * setting.scale, wrapped.plane.axes
    cylinder = wrapped.diameter / 2 * setting.scale
    drawn = OperationFrame(
        "wrapped",
        frame,
        max(setting.swept_mm, 1.0),
        developed_mm=cylinder if frame.axis == "X" else -cylinder,
        start_rad=radians(wrapped.start_angle),
        height_mm=cylinder if wrapped.z_from == "surface" else 0.0,
    )
    about = axes[:, frame.along]
    goes_round = setting.has_head or not lies_along(flat.lines, origin + axes @ frame.centre_mm, about, setting)
    return DrawnOnChain(drawn, replace(setting, frame=frame), flat.lines, flat.axis_limit_rad, origin, axes, goes_round)


def _drawn_from(plane: Plane, wrapped: Wrapped, frame: OperationFrame, setting: Setting) -> OperationFrame:
    """The frame of a wrapped drawing that begins in a plane: its x along the axis of rotation, its z at the angle where it begins.

    An angle alpha right-hand about x is one of the same size about the axis where x points along it, and of the other sign where it points
    against it. About X the developed length grows as alpha falls, about Y as it grows.
    """
    x, z, origin = (np.array(each) * setting.way_round for each in (plane.axes[:, 0], plane.axes[:, 2], plane.origin))
    round_ = frame.frame
    sign = 1.0 if x[round_.along] > 0 else -1.0
    begin = -float(round_.phi_of_axis(z[None])[0]) + sign * radians(wrapped.start_angle)
    zero = [0.0, 0.0, 0.0]
    zero[round_.along] = float(origin[round_.along]) * setting.scale
    aside = np.delete(origin * setting.scale - round_.centre_mm, round_.along)
    off_mm, lean = float(np.hypot(*aside)), float(np.arctan2(np.linalg.norm(np.delete(x, round_.along)), abs(x[round_.along])))
    out_of_reach = max(lean, off_mm / max(setting.swept_mm, 1.0))
    heading = complex(sign, 0.0) if round_.axis == "X" else complex(0.0, sign)
    return replace(frame, start_rad=begin, origin_mm=(zero[0], zero[1], zero[2]), heading=heading, out_of_reach_rad=out_of_reach)


def _frame_of_plane(plane: Plane, radius_mm: float, setting: Setting) -> OperationFrame:
    """The turn that brings a plane upright, and where its zero and its x stand then. About Z the turn brings its x onto X."""
    frame, x, z = setting.frame, plane.axes[:, 0] * setting.way_round, plane.axes[:, 2] * setting.way_round
    turns = np.arctan2(-x[1], x[0]) if frame.axis == "Z" else frame.phi_of_axis(z[None])[0]
    phi, tilt = (
        (0.0, float(np.arccos(np.clip(z[2], -1.0, 1.0))))
        if setting.rotary is None
        else (float(turns), float(frame.tilt_of_axis(z[None])[0]))
    )
    origin = np.array(plane.origin) * setting.way_round * setting.scale
    here, ahead = (frame.joined(at[frame.along], frame.across(at) * turned(np.array(phi))) for at in (origin, origin + x))
    heading = complex(*(ahead - here)[:2])
    out_of_reach, (x_mm, y_mm, z_mm) = abs(tilt), here.tolist()
    return OperationFrame(
        "work", frame, radius_mm, phi_rad=phi, origin_mm=(x_mm, y_mm, z_mm), heading=heading / abs(heading), out_of_reach_rad=out_of_reach
    )


def elements_of(columns: MoveColumns, frame: PassFrame, before: Floats, setting: Setting) -> Elements:
    """A run of moves as elements; `before` (4,) or (6,) is the point the last run ended at, NaN at the start of a pass."""
    if isinstance(frame, ChainFrame):
        return _elements_on_chain(columns, frame, before, setting.scale)
    frame = frame.drawn if isinstance(frame, DrawnOnChain) else frame
    scale, n = setting.scale, len(columns)
    end_for_end = setting.end_for_end and frame.origin_mm is None
    to_program = frame.way_round(setting) * scale
    points = np.zeros((n + 1, 4))
    points[0] = before
    points[1:, :3] = columns.end * to_program if end_for_end or scale != 1.0 else columns.end
    tilt = None
    if columns.tool_axis is not None:
        tool_axis = columns.tool_axis * setting.way_round if end_for_end else columns.tool_axis
        phi = _continued(frame.frame.phi_of_axis(tool_axis), before[3] / frame.turn_radius_mm)
        points[1:, 3] = phi * frame.turn_radius_mm
        lean = frame.frame.tilt_of_axis(tool_axis)
        tilt = lean if np.abs(lean).max(initial=0.0) > 1e-9 else None
    arcs = None
    if columns.arcs is not None:
        plane, sweep = columns.arcs.plane, columns.arcs.sweep_rad
        if end_for_end:
            # Y and X, about which arcs in XZ and YZ turn, point the other way: the same arc, seen from the other side.
            sweep = np.where(plane == PLANE_XY, sweep, -sweep)
        arcs = ArcsRead(columns.arcs.centre * to_program, plane, sweep, columns.arcs.full_turns)
    return Elements(columns.first_move, points, columns.kind, columns.feed * scale, arcs, tilt)


def _elements_on_chain(columns: MoveColumns, frame: ChainFrame, before: Floats, scale: float) -> Elements:
    points = np.empty((6, len(columns) + 1)).T  # each number a column by itself in memory
    points[0], points[1:] = before, frame.raised(columns.end * scale)
    if columns.tool_axis is not None:
        points[1:, AXIS] = columns.tool_axis * (frame.turn_radius_mm / sizes(columns.tool_axis))[:, None]
    arcs = columns.arcs
    read = None if arcs is None else ArcsRead(arcs.centre * scale, arcs.plane, arcs.sweep_rad, arcs.full_turns)
    return Elements(columns.first_move, points, columns.kind, columns.feed * scale, read)


def _continued(phi: Floats, last: float) -> Floats:
    """Turns (n,) with whole turns added so that each is the nearest to the one before."""
    start = phi[0] if np.isnan(last) else phi[0] + FULL_TURN * np.round((last - phi[0]) / FULL_TURN)
    step = np.diff(phi)
    if np.abs(step).max(initial=0.0) <= pi:
        return np.asarray(phi + (start - phi[0]), dtype=np.float64)
    step -= FULL_TURN * np.round(step / FULL_TURN)
    return np.asarray(np.concatenate(([start], start + np.cumsum(step))), dtype=np.float64)
