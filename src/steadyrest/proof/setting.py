"""What has to be known before the first block: mounting, frame, sigma, limits, and the budget of the tolerance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import hypot, inf, isnan, nan, radians
from typing import TypeVar

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.errors import InputError, Place, ToolpathError
from steadyrest.profile import NumberFormat, Profile, Rotary, RotaryLetter, has_one_in_table, rotaries_of
from steadyrest.proof.chain import Lines, highest_mm, lines_of
from steadyrest.proof.geometry import Frame
from steadyrest.reading import sigma
from steadyrest.toolpath import Toolpath

Radius = TypeVar("Radius", float, Floats)
HAIR = 1e-6
"""mm or degrees: below every least increment, above the noise of the arithmetic."""
DEFAULT_TOLERANCE = {"mm": 0.01, "inch": 0.0004}
"""File units, part frame."""


def length_text(mm: float, *, inch: bool) -> str:
    """A length for people: thousandths of a mm or ten-thousandths of an inch at the finest, with the unit."""
    value, unit = (mm / MM_PER_INCH, "inch") if inch else (mm, "mm")
    text = f"{value:.{4 if inch else 3}f}".rstrip("0").rstrip(".")
    return f"{'0' if text == '-0' else text} {unit}"


@dataclass(frozen=True, slots=True)
class Rounding:
    """What the program's words cannot say, half a count of the least increment each.

    linear_mm   of X, Y and Z together, as a distance
    angle_rad   of the rotaries' words together; times the tip's radius it is a distance
    centre_mm   of an arc's centre or radius words
    words_deg   of the word of each rotary
    """

    linear_mm: float
    angle_rad: float
    centre_mm: float
    words_deg: tuple[float, ...] = ()


@dataclass(frozen=True)
class Setting:
    """One proof's fixed facts, in mm, radians and minutes.

    mounted       the toolpath with stock and centre as they stand on the machine; `toolpath` is as it is written
    end_for_end   the job is turned by half a turn about Z: x and y of the toolpath change their sign
    scale         mm per file unit
    program_scale mm per unit of the program's own words
    rotary        the rotary that turns about the toolpath's axis; None when the profile has none, or a chain of two or with a head
    swept_mm      radius inside which something that turns can be hit
    clear_mm      height over the axis of rotation at which the rotary may turn at rapid (axis Z: over the work origin); with a chain over
                  the centre, and infinite where a head turns at the machine's own zero
    top_mm        height below which a rapid may hit the stock, measured alike
    span_mm       where the stock lies along the axis, relative to the centre
    rotaries      all of them by their letters, counted from the part to the spindle
    lines         of a chain of two or with a head, as they stand without a tool; none with a single rotary in the table
    gauge_mm      gauge lengths of the tools by their numbers
    """

    profile: Profile
    toolpath: Toolpath
    mounted: Toolpath
    end_for_end: bool
    frame: Frame
    rotary: Rotary | None
    letter: str | None
    sigma: int
    scale: float
    program_scale: float
    tolerance_mm: float
    rounding: Rounding
    swept_mm: float
    clear_mm: float
    top_mm: float
    span_mm: tuple[float, float]
    rotaries: Mapping[RotaryLetter, Rotary] = field(default_factory=dict)
    lines: Lines = ()
    gauge_mm: Mapping[int, float] = field(default_factory=dict)

    @cached_property
    def has_head(self) -> bool:
        """Whether a rotary carries the tool."""
        return any(not line.carries_part for line in self.lines)

    def lines_with(self, tool: float) -> Lines:
        """The lines of the chain with the tool of that number in the spindle; with the longest where its gauge length is not known."""
        if not self.has_head:
            return self.lines
        gauge = None if isnan(tool) else self.gauge_mm.get(int(tool))
        up = np.array([0.0, 0.0, max(self.gauge_mm.values(), default=0.0) if gauge is None else gauge])
        return tuple(line if line.carries_part else replace(line, point=line.point + up) for line in self.lines)

    @cached_property
    def farthest_mm(self) -> float:
        """The largest distance of the tip, where it cuts, from any line about which it is turned."""
        arms = [float(np.linalg.norm(line.point - (self.frame.centre_mm if line.carries_part else 0.0))) for line in self.lines_with(nan)]
        return self.swept_mm + max(arms, default=0.0)

    def limit_mm(self, radius_mm: Radius) -> Radius:
        """The farthest the tip may be from its path at that distance from the axis of rotation."""
        return self.tolerance_mm + self.rounding.linear_mm + self.rounding.angle_rad * radius_mm

    @cached_property
    def slack_mm(self) -> float:
        """The farthest it may be anywhere within the swept radius."""
        return self.limit_mm(self.farthest_mm)

    def reach_mm(self, turn_radius_mm: float) -> float:
        """How near points of path and program have to be to be the same, where a turn counts as a length at that radius."""
        return hypot(self.slack_mm, self.axis_limit_rad * turn_radius_mm)

    @cached_property
    def high_mm(self) -> float:
        """Height over the axis of rotation from which on the tool is clear, within the rounding of its words."""
        return self.clear_mm - self.rounding.linear_mm - HAIR

    def name_of(self, letter: str) -> str:
        """What a rotary is called in a sentence: by its letter where there are two, or a head."""
        return letter if self.lines else "the rotary"

    @property
    def too_low_to_turn(self) -> str:
        """Where the tool is when no rotary may turn at rapid, in words."""
        if self.clear_mm == inf:
            return "not retracted to the machine's own zero"
        return f"less than {self.clear_mm:g} mm above the {'centre' if self.lines else 'axis of rotation'}"

    def length(self, mm: float) -> str:
        """A length in the program's unit, with the unit."""
        return length_text(mm, inch=self.program_scale != 1.0)

    @cached_property
    def tools_used(self) -> frozenset[int]:
        """The tools that the operations cut with."""
        return frozenset(one.tool for one in self.toolpath.operations)

    @cached_property
    def surface_mm(self) -> float:
        """How high the stock stands over the axis where it stands lowest; 0, and less with a chain, where no origin can be doubted."""
        stock, axis = self.toolpath.stock, self.toolpath.axis
        if self.lines:
            return -inf
        return stock.least_radius(axis) * self.scale if stock is not None and axis != "Z" else 0.0

    @cached_property
    def way_round(self) -> Floats:
        """(3,) what the x, y and z of the toolpath are multiplied by, sign alone, to be those of the program."""
        return np.array([-1.0, -1.0, 1.0]) if self.end_for_end else np.ones(3)

    @cached_property
    def axis_limit_rad(self) -> float:
        """The largest angle between tool axes: the tolerance seen at the swept radius, and the rounding of the rotary's word."""
        return self.tolerance_mm / max(self.swept_mm, 1.0) + self.rounding.angle_rad + 1e-9

    @cached_property
    def plane_limit_rad(self) -> float:
        """How far a plane may lean out of what the rotary reaches: what its cuts lose by that is a quarter of the tolerance at the most."""
        return self.tolerance_mm / 4 / max(self.swept_mm, 1.0)

    def fastest_mm_per_min(self) -> list[float]:
        """Rapid speed of X, Y, Z."""
        linear = self.profile.linear
        return [linear[axis].fastest if axis in linear else 5000.0 for axis in AXES]


def setting_of(
    toolpath: Toolpath,
    profile: Profile,
    letter: str | None,
    tolerance: float | None,
    gauge_lengths: Mapping[int, float] | None = None,
) -> Setting:
    """The fixed facts of one proof. ProfileError when `letter` is no rotary of the profile, or turns about another axis.

    gauge_lengths   from the tip of each tool to the gauge line, by the tool's number, file units; needed where a head turns
    raises          ToolpathError for what a machine with one rotary cannot do
    """
    scale = MM_PER_INCH if toolpath.units == "inch" else 1.0
    in_inch = profile.units.program == "inch" or (profile.units.program == "as_toolpath" and toolpath.units == "inch")
    meant = rotaries_of(profile, toolpath.axis, letter)
    rotary, lines = None, lines_of(profile, np.array(toolpath.centre, dtype=np.float64) * scale, 0.0)
    if has_one_in_table(profile):
        toolpath.check_one_rotary()
        (letter, rotary), lines = next(iter(meant.items()), (None, None)), ()
    gauge = _gauge_mm(toolpath, lines, gauge_lengths or {}, scale)
    mounted = as_mounted(toolpath, rotary)
    frame = Frame(toolpath.axis, np.array(mounted.centre, dtype=np.float64) * scale)
    swept = toolpath.swept_radius * scale
    clear, top, span = swept + profile.safety.clearance, swept, (-inf, inf)
    if mounted.stock is not None:
        low, high = mounted.stock.along(toolpath.axis)
        span = low * scale, high * scale
    if lines:
        swept = toolpath.swept_ball * scale
        top, span = highest_mm(lines, frame.centre_mm, swept), (-inf, inf)
        at_zero = profile.retract.form != "height" and any(not line.carries_part for line in lines)
        edge = max(tool.diameter for tool in toolpath.tools) / 2 * scale
        clear = inf if at_zero else highest_mm(lines, frame.centre_mm, swept, edge) + profile.safety.clearance
    elif toolpath.axis == "Z":
        top, clear, span = span[1], span[1] + profile.safety.clearance, (-inf, inf)
    wanted = tolerance if tolerance is not None else DEFAULT_TOLERANCE[toolpath.units]
    return Setting(
        profile=profile,
        toolpath=toolpath,
        mounted=mounted,
        end_for_end=stands_end_for_end(toolpath, rotary),
        frame=frame,
        rotary=rotary,
        letter=None if lines else letter,
        sigma=sigma(rotary.chuck_faces, rotary.positive_turns_chuck) if rotary is not None else 1,
        scale=scale,
        program_scale=MM_PER_INCH if in_inch else 1.0,
        tolerance_mm=wanted * scale,
        rounding=_rounding(profile, meant, in_inch),
        swept_mm=swept,
        clear_mm=clear,
        top_mm=top,
        span_mm=span,
        rotaries=meant,
        lines=lines,
        gauge_mm=gauge,
    )


def _gauge_mm(toolpath: Toolpath, lines: Lines, gauge_lengths: Mapping[int, float], scale: float) -> dict[int, float]:
    """Gauge lengths by tool number, mm; where a head turns, InputError for a tool that cuts and has none."""
    if any(not line.carries_part for line in lines):
        for number in sorted({operation.tool for operation in toolpath.operations} - set(gauge_lengths)):
            raise InputError(
                f"the gauge length of tool {number} is not known, and the head of this machine turns the tool about a pivot",
                place=Place(file=toolpath.file, key="tools"),
                cure=f"give it in {toolpath.units}: --tool-length {number}=LENGTH, or gauge_length in the job file",
            )
    return {number: length * scale for number, length in gauge_lengths.items()}


def _rounding(profile: Profile, rotaries: Mapping[RotaryLetter, Rotary], in_inch: bool) -> Rounding:
    numbers = profile.numbers
    unit = MM_PER_INCH if in_inch else 1.0

    def half_mm(letter: str) -> float:
        return 0.5 * count_of(profile, letter, numbers.length, in_inch=in_inch) * unit

    replaced = [rotary.replaces for rotary in rotaries.values()]
    axes = [half_mm(name) for name in AXES if name not in replaced]
    words = [
        half_mm(rotary.replaces) / abs(rotary.mm_per_degree) if rotary.replaces else 0.5 * count_of(profile, letter, numbers.angle)
        for letter, rotary in rotaries.items()
    ]
    centre = [half_mm(name) for name in ("R" if profile.arcs.form == "radius" else "IJ")]
    return Rounding(hypot(*axes), radians(sum(words)), hypot(*centre), tuple(words))


def count_of(profile: Profile, letter: str, default: NumberFormat, *, in_inch: bool = False) -> float:
    """The least increment of a letter's number, in its own unit; `default` is the form of letters that have none of their own."""
    form = profile.numbers.by_letter.get(letter, default)
    decimals = form.inch_decimals if in_inch and form.inch_decimals is not None else form.decimals
    return float(10.0**-decimals)


def stands_end_for_end(toolpath: Toolpath, rotary: Rotary | None) -> bool:
    """Whether the toolpath's `held` and the chuck contradict each other, so that the whole job is turned by half a turn about Z.

    raises    ToolpathError with the axis of rotation along Z, where nothing can be turned
    """
    if rotary is None or toolpath.stock is None or toolpath.stock.held is None:
        return False
    wanted = {"from": "+", "to": "-"}[toolpath.stock.held.at] + toolpath.axis
    if wanted == rotary.chuck_faces:
        return False
    if toolpath.axis == "Z":
        raise ToolpathError(
            f"the stock is held at '{toolpath.stock.held.at}' and the chuck faces {rotary.chuck_faces}; along Z nothing can be turned",
            place=Place(file=toolpath.file, key="stock, held"),
            cure="hold it at 'from' with a chuck that faces +Z, or correct chuck_faces in the profile",
        )
    return True


def as_mounted(toolpath: Toolpath, rotary: Rotary | None) -> Toolpath:
    """The toolpath with its `stock` and `centre` as they stand on the machine; its moves stay as they are written."""
    if not stands_end_for_end(toolpath, rotary):
        return toolpath
    assert toolpath.stock is not None
    x, y, z = toolpath.centre
    return toolpath.model_copy(update={"stock": toolpath.stock.end_for_end(toolpath.axis), "centre": (-x, -y, z)})
