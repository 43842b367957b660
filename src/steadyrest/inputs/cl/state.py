"""What is in force while CL data is read: units, tool, spindle, feed, axis, table, and where the tool stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import ToolpathError
from steadyrest.inputs.cl.statement import Statement, shown
from steadyrest.inputs.geometry import Turn, indexed_points, laid_by, turned
from steadyrest.inputs.options import InputOptions
from steadyrest.inputs.readers import per
from steadyrest.inputs.stretches import Conditions, Frame, Gathered, Moves
from steadyrest.notices import Notice, noticed

TILTED = 2e-4
"""By how much, as a length of the unit vector, a tool axis has to change to tilt: 0.01 degrees, four written decimals (common practice)."""
SPINDLE_AXIS = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class Circle:
    """A CIRCLE whose points are still to come; lengths in the toolpath's units."""

    centre: Floats
    normal: Floats
    radius: float
    statement: Statement
    points: list[Moves] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Cycle:
    """A CYCLE: depth and clearance measured from the point along the tool axis, in the toolpath's units, and the move's other keys."""

    depth: float
    clearance: float
    says: dict[str, Any]
    feed: tuple[float, str] | None


@dataclass(slots=True, kw_only=True)
class ClState(Gathered):
    """Everything modal. Lengths are in the toolpath's units, as soon as they are known."""

    options: InputOptions
    axis_letter: str
    centre_said: tuple[Floats, str | None] = field(default_factory=lambda: (np.zeros(3), None))
    """A point on the axis of rotation, and the unit it is said in; None: that of the input."""
    data: bytes = b""
    notices: list[Notice] = field(default_factory=list)

    name: str = ""
    units: str | None = None
    factor: float = 1.0
    """Toolpath units per CL unit."""
    units_used: bool = False
    finished: bool = False

    point_frame: Frame = ("still",)
    """The frame in which `point` is."""
    heading: Floats | None = None
    """Unit vector along the end of the last cut; None after a rapid, a hole, or nothing."""
    shift: Floats = field(default_factory=lambda: np.zeros(3))
    multax: bool = False
    tool_axis: Floats | None = None
    """With MULTAX/ON: of the last point. Off: the fixed axis of TLAXIS or ROTHED, None for the spindle's own."""
    table: dict[str, float] = field(default_factory=dict)
    """alpha that ROTABL turned to, by the letter of the axis; none before any ROTABL."""
    table_unsure: Statement | None = None
    """MULTAX/OFF with the tool axis elsewhere than along the spindle: where the table stands has to be said."""
    table_claim: tuple[dict[str, float], Statement] | None = None
    """ROTABL while MULTAX is on: the next point's tool axis has to agree."""
    head: dict[str, float] = field(default_factory=dict)
    """alpha that ROTHED tilted to, by the letter of the axis."""
    turners: dict[tuple[str, str], Statement] = field(default_factory=dict)
    """What was turned, table or head, and about which axis, by its first statement."""

    feed: tuple[float, str] | None = None
    """Value in toolpath units, and "minute" or "turn"."""
    feed_per: str = "minute"
    rapid: Statement | None = None
    cycle: Cycle | None = None
    last_cycle: Cycle | None = None
    circle: Circle | None = None
    clear_z: float | None = None
    tolerance: float | None = None

    cutter: tuple[tuple[float, ...], Statement] | None = None
    """The seven numbers of the CUTTER in force, and its statement."""
    cutter_used: bool = False
    cutters: dict[int, tuple[tuple[float, ...], Statement]] = field(default_factory=dict)
    tool_names: dict[int, str] = field(default_factory=dict)
    speed: float | None = None
    """The last speed asked for, for SPINDL/ON."""
    last_coolant: str = "flood"

    def error_at(self, line: int, wrong: str, cure: str) -> ToolpathError:
        """An error at a line, which it shows."""
        text = next(iter(self.data.split(b"\n", line)[line - 1 : line]), b"").decode("utf-8").strip()
        return ToolpathError(f"{wrong}, in {shown(text)!r}", place=replace(self.at(line), column=1), cure=cure)

    def remark(self, statement: Statement, text: str) -> None:
        """Something that whoever runs the program has to know."""
        self.notices.append(noticed("Remark", self.at(statement.line), text=text))

    def known_units(self, line: int) -> None:
        """ToolpathError unless the unit of lengths is known."""
        if self.units is None:
            if self.options.units is None:
                raise self.error_at(
                    line,
                    "lengths before any UNITS statement: they may be millimetres or inches",
                    'put UNITS/MM or UNITS/INCHES at the head of the file, or give --units mm (in a job file: units = "mm")',
                )
            self.units = self.options.units
        self.units_used = True

    def lengths(self, statement: Statement, *counts: int) -> tuple[float, ...]:
        """So many lengths of a statement, as written; ToolpathError unless their unit is known."""
        numbers = statement.numbers(*counts)
        self.known_units(statement.line)
        return numbers

    @property
    def mm(self) -> float:
        """Toolpath units per millimetre."""
        return per("mm", self.units or "mm")

    @property
    def chord(self) -> float:
        """How far the points of the file may lie off what they stand for: what it says itself, or 0.01 mm."""
        return self.tolerance if self.tolerance is not None else 0.01 * self.mm

    @property
    def point(self) -> Floats | None:
        """Where the tool stands (3,), in `point_frame`; None where that is not known."""
        return self._stand.point

    @property
    def point_axis(self) -> Floats:
        """The tool axis (3,) with which it stands there, part frame."""
        return self._out(self.point_frame, self._stand.axis if self._stand.axis is not None else SPINDLE_AXIS)

    @property
    def axis(self) -> Floats:
        """The tool axis in force (3,), in the frame of the next motion."""
        return self.tool_axis if self.tool_axis is not None else SPINDLE_AXIS

    def frame(self) -> Frame:
        """The frame of the next motion: part, or that of a table."""
        if self.multax or (self.tool_axis is not None and not any(self.table.values())):
            return ("part",)
        if self.tool_axis is None and not any(alpha for letter, alpha in self.table.items() if letter != self.axis_letter):
            return ("indexed", self.table.get(self.axis_letter, 0.0)) if self.table else ("still",)
        return ("plane" if self.tool_axis is None else "laid", *laid_by(in_order(self.table), self.centre))

    def in_part(self, vector: Floats) -> Floats:
        """A direction (3,) of the frame of the next motion in the part frame."""
        return self._out(self.frame(), vector)

    def _out(self, frame: Frame, vector: Floats) -> Floats:
        """A direction (3,) of a frame in the part frame."""
        if frame[0] in ("plane", "laid"):
            return np.asarray(vector @ lying(frame))
        return turned(vector, _alpha(frame), self.axis_letter)

    @property
    def centre(self) -> Floats:
        """A point on the axis of rotation (3,), part frame, in the toolpath's units."""
        point, said_in = self.centre_said
        units = self.units or "mm"
        return point * per(said_in or units, units)

    def carry_over(self, line: int, *, cutting: bool) -> None:
        """Say in the frame in force where the tool stands; ToolpathError where the tool tilts on the way to a cut.

        What turns the table alone is no tilt: the tool then stands at the same place of the machine.
        """
        frame, old = self.frame(), self.point_frame
        point, in_part = self.point, frame[0] == "part"
        if point is None or not {"part", "laid"} & {frame[0], old[0]}:
            return
        before = self.point_axis
        after = before if self.multax else self._out(frame, self.axis)
        if cutting and float(np.linalg.norm(before - after)) > TILTED:
            raise self.error_at(
                line,
                "the tool axis changes on the way to a cut: the tool would tilt in the material",
                "put RAPID before the point, or write the way there with MULTAX/ON, each point with its tool axis",
            )
        if (old[0] == "part") != in_part:
            other = old if in_part else frame
            if other[0] in ("plane", "laid"):
                rows = lying(other)
                point = np.asarray(other[1] + point @ rows if in_part else rows @ (point - other[1]))
            else:
                point = indexed_points(point, -_alpha(other) if in_part else _alpha(other), self.axis_letter, self.centre)
            self.stands_at(point, before if in_part else None)
            self.heading = None
        self.point_frame = frame

    def conditions(self, line: int, *, cutting: bool) -> Conditions:
        """The conditions of the next motion; ToolpathError for what has to be known by now."""
        tool = self.tool
        if tool is None:
            raise self.error_at(line, "a motion before any LOADTL: no tool is given for it", "put LOADTL before it, or give --tool NUMBER")
        if cutting and self.rpm is None:
            raise self.error_at(line, "a cut before any SPINDL", "put SPINDL/speed,CLW before it")
        if cutting and self.rpm == 0.0:
            raise self.error_at(line, "a cut with the spindle stopped", "put SPINDL/ON, or SPINDL with a speed, before it")
        if not self.cutter_used and self.cutter is not None:  # it belongs to the tool in the spindle, from its first motion on
            shape, statement = self.cutter
            known, first = self.cutters.get(tool, self.cutter)
            if not np.allclose(known, shape):
                raise statement.error(
                    f"tool {tool} gets a second shape: diameter {shape[0]:g} now, {known[0]:g} on line {first.line}",
                    "give each tool a number of its own, or correct CUTTER",
                )
            self.cutters[tool] = self.cutter
        self.cutter_used = True
        self.point_frame = self.frame()
        return Conditions(tool, self.rpm, self.turns, self.coolant, self.point_frame)

    def seconds_a_turn(self, statement: Statement) -> float:
        """Of the spindle, for a dwell in revolutions."""
        if not self.rpm:
            raise statement.error("a dwell in revolutions while the spindle is stopped", "put SPINDL before it, or give seconds")
        return 60 / self.rpm

    def feed_per_minute(self, line: int, feed: tuple[float, str] | None = None) -> float:
        """The feed of the next cut, per minute; ToolpathError when none is known."""
        feed = feed if feed is not None else self.feed
        if feed is None:
            raise self.error_at(line, "a cut before any FEDRAT", "put FEDRAT/value,PERMIN before it")
        if feed[1] == "minute":
            return feed[0]
        if not self.rpm:
            raise self.error_at(
                line, "a feed per revolution while the spindle is stopped", "put SPINDL before the cut, or give the feed PERMIN"
            )
        return feed[0] * self.rpm


def in_order(turns: Mapping[str, float]) -> list[Turn]:
    """Turns of one carrier, by letter, counted from the part to the spindle: Z comes first, for what lies along the spindle next to it
    tilts nothing.
    """
    return sorted(turns.items(), reverse=True)


def lying(frame: Frame) -> Floats:
    """(3, 3) the x, y and z of a plane in the part frame, one a row."""
    _, z, x = frame[1:]
    return np.array([x, np.cross(z, x), z])


def _alpha(frame: Frame) -> float:
    return float(frame[1]) if frame[0] == "indexed" else 0.0
