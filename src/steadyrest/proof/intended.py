"""What is the program to do? The toolpath as passes, one an operation and angle, their motion as elements of a chart, in mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi, radians

import numpy as np
from numpy.typing import NDArray

from steadyrest.proof.chart import Chart
from steadyrest.proof.geometry import Floats
from steadyrest.proof.rows import PLANE_ORDER
from steadyrest.proof.setting import Setting
from steadyrest.toolpath import PLANE_XY, RAPID, Indexed, MoveColumns, Operation, Wrapped


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
    kind: NDArray[np.uint8]
    feed: Floats
    centre: Floats | None
    plane: NDArray[np.uint8] | None
    sweep: Floats | None
    tilt: Floats | None

    def __len__(self) -> int:
        return len(self.kind)

    def is_arc(self, element: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Which of those elements are arcs."""
        return np.asarray(self.kind[element] > 1)

    def chart_lengths(self, first: int, stop: int) -> Floats:
        """Lengths of elements first to stop in the chart, all four numbers counted."""
        way = np.diff(self.points[first : stop + 1], axis=0)
        squares = np.einsum("ij,ij->i", way, way)
        if self.sweep is not None and self.centre is not None and self.plane is not None:
            for at in np.flatnonzero(self.kind[first:stop] > 1):
                one, two, third = PLANE_ORDER[self.plane[first + at]]
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


def is_rapid(elements: Elements) -> NDArray[np.bool_]:
    """Which elements are rapids."""
    return np.asarray(elements.kind == RAPID)
