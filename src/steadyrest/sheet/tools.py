"""What does each tool do in a program, how low and how far does it cut? And how are lengths and angles read on paper?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from types import MappingProxyType

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES, INVERSE, MM_PER_INCH, RAPID
from steadyrest.profile import Profile
from steadyrest.reading import EventRead, ProgramItem
from steadyrest.toolpath import BullnoseTool, ChamferTool, DrillTool, Tool, Toolpath

MOST_SHOWN = 3
"""So many operations of one tool are named, so that the sheet stays one page; the rest is counted."""


def of_part(length_mm: float, units: str) -> str:
    """A length of the profile, mm, as it is read in the part's units."""
    return number(length_mm / (MM_PER_INCH if units == "inch" else 1.0))


def number(value: float) -> str:
    """A length or an angle as it is read on paper: three decimals at most."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass(frozen=True, slots=True)
class ToolFacts:
    """A tool as the program uses it; lengths in the toolpath's units, None where nothing says it.

    lowest        the lowest Z of its tip while it cuts; reach: how far along the axis of rotation it cuts, its radius included
    offset        where its length goes
    gauge_length  for which the program was made; None where none was given
    """

    tool: Tool
    shape: str
    does: tuple[str, ...]
    lowest: float | None
    reach: tuple[float, float] | None
    offset: str
    gauge_length: float | None = None


def tool_facts(
    items: Iterable[ProgramItem], toolpath: Toolpath, profile: Profile, gauge_lengths: Mapping[int, float] = MappingProxyType({})
) -> tuple[tuple[ToolFacts, ...], bool]:
    """The tools that an operation uses, in the order of the toolpath, and whether the program feeds in inverse time.

    items   the program read back
    gauge_lengths   for which it was made, by the number of a tool
    """
    used, inverse = _used(items, toolpath)
    found = []
    for tool in toolpath.tools:
        if does := _does(toolpath, tool.number):
            offset = f"{profile.tool.offset_letter}{tool.number}" if profile.tool.length_offset else "Z set by hand"
            cuts = _lowest_and_reach(tool, toolpath, used.get(tool.number))
            found.append(ToolFacts(tool, _shape(tool), does, *cuts, offset, gauge_lengths.get(tool.number)))
    return tuple(found), inverse


def _does(toolpath: Toolpath, tool: int) -> tuple[str, ...]:
    """Its operations, those together that are cut in the same way, which is said once."""
    said = {"indexed": "indexed", "wrapped": "wrapped", "simultaneous": "turning while cutting", "still": "rotary at 0"}
    ways: dict[str, list[str]] = {}
    for at, operation in enumerate(toolpath.operations, 1):
        if operation.tool == tool:
            turns = ", counterclockwise" if operation.spindle.turns == "counterclockwise" else ""
            coolant = "" if operation.coolant == "off" else f", {operation.coolant}"
            way = f"{said[operation.rotary.intent]}, {operation.spindle.rpm:g} rpm{turns}{coolant}"
            ways.setdefault(way, []).append(f"{at}. {operation.name or 'no name'}")
    for names in ways.values():
        if (rest := len(names) - MOST_SHOWN) > 1:
            names[MOST_SHOWN:] = [f"{rest} more to {names[-1]}"]
    return tuple(f"{'; '.join(names)} ({way})" for way, names in ways.items())


def _used(items: Iterable[ProgramItem], toolpath: Toolpath) -> tuple[dict[int, Floats], bool]:
    """Per tool the lowest and highest positions (2, 3) of its tip in cuts, mm. Of tools changed by hand only a single one is known."""
    numbers = {operation.tool for operation in toolpath.operations}
    tool = next(iter(numbers)) if len(numbers) == 1 else 0
    used: dict[int, Floats] = {}
    inverse = False
    for item in items:
        if isinstance(item, EventRead):
            if item.kind in ("tool_change", "tool_selected") and isfinite(item.number):
                tool = int(item.number)
            continue
        cuts = item.motion != RAPID
        ends, inverse = item.end_mm[cuts], inverse or bool((item.feed_mode[cuts] == INVERSE).any())
        if len(ends) and tool:
            ends = np.concatenate([ends, used.get(tool, ends[:0])])
            used[tool] = np.array([np.fmin.reduce(ends), np.fmax.reduce(ends)])
    return used, inverse


def _lowest_and_reach(tool: Tool, toolpath: Toolpath, used: Floats | None) -> tuple[float | None, tuple[float, float] | None]:
    if used is None:
        return None, None
    low, high = used / (MM_PER_INCH if toolpath.units == "inch" else 1.0)
    along, radius = AXES.index(toolpath.axis), tool.diameter / 2
    known = toolpath.axis != "Z" and isfinite(low[along])
    return float(low[2]) if isfinite(low[2]) else None, (float(low[along] - radius), float(high[along] + radius)) if known else None


def _shape(tool: Tool) -> str:
    shape = {"flat": "flat end", "ball": "ball end", "bullnose": "bull nose", "drill": "drill", "chamfer": "chamfer"}[tool.shape]
    if isinstance(tool, BullnoseTool):
        shape += f", corner radius {number(tool.corner_radius)}"
    if isinstance(tool, DrillTool):
        shape += f", point angle {number(tool.point_angle)} degrees"
    if isinstance(tool, ChamferTool):
        shape += f", {number(tool.included_angle)} degrees, tip diameter {number(tool.tip_diameter)}"
    return f"diameter {number(tool.diameter)}, {shape}"
