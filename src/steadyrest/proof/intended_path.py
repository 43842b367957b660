"""The toolpath as passes, one an operation and angle, their motion as straight lines and arcs in the frame of the operation, mm.

A point of that frame has four numbers, mm: three in the coordinates of the toolpath's own moves, and a fourth that has to agree as well.

still, indexed   work coordinates; fourth: how far the part is turned from where it should stand, as a length at the swept radius
wrapped          developed coordinates; fourth: distance of the tip from the plane through the axis of rotation and the spindle
simultaneous     part frame; fourth: the turn, as a length at the swept radius
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi, radians
from typing import Literal

import numpy as np

from steadyrest.columns import Bools, Codes, Complexes, Floats, Ints
from steadyrest.conventions import PLANE_AXES
from steadyrest.proof.geometry import Frame, Motions, turned
from steadyrest.proof.setting import Setting
from steadyrest.toolpath import PLANE_XY, Indexed, MoveColumns, Operation, Wrapped

ChartKind = Literal["work", "wrapped", "part"]


@dataclass(frozen=True, slots=True)
class Chart:
    """One operation at one angle.

    turn_radius_mm   radius at which a turn counts as a length in the fourth number
    phi_rad          work: the turn at which the part stands still
    radius_mm        wrapped: radius of the cylinder; start_rad: the angle where developed length is 0; height_mm: of z = 0 over the axis
    """

    kind: ChartKind
    frame: Frame
    turn_radius_mm: float
    phi_rad: float = 0.0
    radius_mm: float = 1.0
    start_rad: float = 0.0
    height_mm: float = 0.0

    @property
    def developed(self) -> int:
        """Wrapped: which of the three coordinates is the developed length."""
        return 1 if self.frame.axis == "X" else 0

    def of_program(self, positions_mm: Floats, phi_rad: Floats, tips_mm: Complexes | None = None) -> Floats:
        """Work coordinates (n, 3) and turns (n,), whole turns already taken off, to chart points (n, 4).

        tips_mm   (n,) the same across the axis in the part frame, where it is known already
        """
        out = np.empty((len(positions_mm), 4))
        if self.kind == "work":
            out[:, :3] = positions_mm
            out[:, 3] = (phi_rad - self.phi_rad) * self.turn_radius_mm
        elif self.kind == "part":
            frame = self.frame
            if tips_mm is None:
                tips_mm = frame.across(positions_mm) * turned(-phi_rad)
            out[:, :3] = frame.joined(positions_mm[:, frame.along], tips_mm)
            out[:, 3] = phi_rad * self.turn_radius_mm
        else:
            frame = self.frame
            sign = 1.0 if frame.axis == "X" else -1.0
            out[:, frame.along] = positions_mm[:, frame.along]
            out[:, self.developed] = sign * (phi_rad + self.start_rad) * self.radius_mm
            out[:, 2] = positions_mm[:, 2] - frame.centre_mm[2] - self.height_mm
            out[:, 3] = positions_mm[:, frame.lateral] - frame.centre_mm[frame.lateral]
        return out

    def turns_of(self, points: Floats) -> Floats:
        """The turn phi (n,) of intended chart points (n, 4), radians."""
        if self.kind == "work":
            return np.full(len(points), self.phi_rad)
        if self.kind == "part":
            return np.asarray(points[:, 3] / self.turn_radius_mm, dtype=np.float64)
        sign = 1.0 if self.frame.axis == "X" else -1.0
        return np.asarray(sign * points[:, self.developed] / self.radius_mm - self.start_rad, dtype=np.float64)

    def work_of(self, points: Floats) -> Floats:
        """Intended chart points (n, 4) to work coordinates (n, 3), the part turned by `turns_of`."""
        if self.kind == "work":
            return points[:, :3]
        frame = self.frame
        if self.kind == "part":
            return frame.joined(points[:, frame.along], frame.across(points[:, :3]) * turned(self.turns_of(points)))
        out = np.empty((len(points), 3))
        out[:, frame.along] = points[:, frame.along]
        out[:, frame.lateral] = frame.centre_mm[frame.lateral] + points[:, 3]
        out[:, 2] = frame.centre_mm[2] + self.height_mm + points[:, 2]
        return out

    def motions(self, start: Floats, end: Floats) -> Motions:
        """What straight lines between intended chart points (n, 4) mean: in the part frame, or turning with the part."""
        frame = self.frame
        phi: tuple[Floats, Floats] | float = 0.0 if self.kind == "part" else self.phi_rad
        if self.kind == "wrapped":
            phi = self.turns_of(start), self.turns_of(end)
            start, end = self.work_of(start), self.work_of(end)
        return Motions((start[:, frame.along], end[:, frame.along]), (frame.across(start), frame.across(end)), phi)


@dataclass(frozen=True, slots=True)
class Pass:
    """One operation at one angle of the rotary: `number` counts operations from 1, `angle_deg` is None unless indexed."""

    number: int
    operation: Operation
    angle_deg: float | None
    chart: Chart

    @property
    def wants_clamp(self) -> bool:
        """Whether the rotary stands while this is cut."""
        return self.chart.kind == "work"


@dataclass(frozen=True, slots=True)
class Elements:
    """m consecutive moves as elements of the chart: each goes from points[e] to points[e + 1], straight or as an arc.

    points (m + 1, 4), points[0] NaN when no point comes before; kind (m,) as in MoveColumns; feed (m,) mm per minute, NaN in a rapid;
    centre (m, 3), plane (m,) and sweep (m,) rad of arcs or None; tilt (m,) rad, how far the tool axis is out of reach, or None.
    """

    first_move: int
    points: Floats
    kind: Codes
    feed: Floats
    centre: Floats | None
    plane: Codes | None
    sweep: Floats | None
    tilt: Floats | None

    def __len__(self) -> int:
        return len(self.kind)

    def is_arc(self, element: Ints) -> Bools:
        """Which of those elements are arcs."""
        return np.asarray(self.kind[element] > 1)

    def chart_lengths(self, first: int, stop: int) -> Floats:
        """Lengths of elements first to stop in the chart, all four numbers counted."""
        way = np.diff(self.points[first : stop + 1], axis=0)
        squares = np.einsum("ij,ij->i", way, way)
        if self.sweep is not None and self.centre is not None and self.plane is not None:
            for at in np.flatnonzero(self.kind[first:stop] > 1):
                one, two, third = PLANE_AXES[self.plane[first + at]]
                begin = self.points[first + at] - np.append(self.centre[first + at], 0.0)
                squares[at] = (np.hypot(begin[one], begin[two]) * self.sweep[first + at]) ** 2 + way[at, third] ** 2
        return np.asarray(np.sqrt(squares), dtype=np.float64)


def passes(setting: Setting) -> Iterator[Pass]:
    """Every operation in order, indexed ones once for each of their angles."""
    frame = setting.frame
    radius = max(setting.swept_mm, 1.0)
    turns = -1.0 if setting.end_for_end else 1.0
    for number, operation in enumerate(setting.toolpath.operations, start=1):
        rotary = operation.rotary
        if isinstance(rotary, Indexed):
            for angle in rotary.angles:
                yield Pass(number, operation, angle, Chart("work", frame, radius, phi_rad=-turns * radians(angle)))
        elif isinstance(rotary, Wrapped):
            cylinder = rotary.diameter / 2 * setting.scale
            height = cylinder if rotary.z_from == "surface" else 0.0
            chart = Chart("wrapped", frame, radius, radius_mm=cylinder, start_rad=turns * radians(rotary.start_angle), height_mm=height)
            yield Pass(number, operation, None, chart)
        else:
            kind = "part" if rotary.intent == "simultaneous" else "work"
            yield Pass(number, operation, None, Chart(kind, frame, radius))  # type: ignore[arg-type]


def elements_of(columns: MoveColumns, chart: Chart, before: Floats, setting: Setting) -> Elements:
    """A run of moves as elements; `before` (4,) is the point the last run ended at, NaN at the start of a pass."""
    scale, n = setting.scale, len(columns)
    to_program = setting.way_round * scale
    turned = setting.end_for_end
    points = np.zeros((n + 1, 4))
    points[0] = before
    points[1:, :3] = columns.end * to_program if turned or scale != 1.0 else columns.end
    tilt = None
    if columns.tool_axis is not None:
        tool_axis = columns.tool_axis * setting.way_round if turned else columns.tool_axis
        phi = chart.frame.phi_of_axis(tool_axis)
        last = before[3] / chart.turn_radius_mm
        points[1:, 3] = _continued(phi, last) * chart.turn_radius_mm
        lean = chart.frame.tilt_of_axis(tool_axis)
        tilt = lean if np.abs(lean).max(initial=0.0) > 1e-9 else None
    elif np.isnan(before[3]):
        points[0, 3] = np.nan
    sweep = columns.arc_sweep_rad
    if turned and sweep is not None and columns.arc_plane is not None:
        # Y and X, about which arcs in XZ and YZ turn, point the other way: the same arc, seen from the other side.
        sweep = np.where(columns.arc_plane == PLANE_XY, sweep, -sweep)
    return Elements(
        first_move=columns.first_move,
        points=points,
        kind=columns.kind,
        feed=columns.feed * scale,
        centre=None if columns.arc_centre is None else columns.arc_centre * to_program,
        plane=columns.arc_plane,
        sweep=sweep,
        tilt=tilt,
    )


def _continued(phi: Floats, last: float) -> Floats:
    """Turns (n,) with whole turns added so that each is the nearest to the one before."""
    start = phi[0] if np.isnan(last) else phi[0] + 2 * pi * np.round((last - phi[0]) / (2 * pi))
    step = np.diff(phi)
    if np.abs(step).max(initial=0.0) <= pi:
        return np.asarray(phi + (start - phi[0]), dtype=np.float64)
    step -= 2 * pi * np.round(step / (2 * pi))
    return np.asarray(np.concatenate(([start], start + np.cumsum(step))), dtype=np.float64)
