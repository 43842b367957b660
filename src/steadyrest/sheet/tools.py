"""What does each tool do in a program, how low and how far does it cut?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import isfinite

import numpy as np

from steadyrest.reading import EventRead, MotionRead, ProgramItem
from steadyrest.sheet.numbers import MM_PER_INCH, number
from steadyrest.toolpath import BullnoseTool, ChamferTool, DrillTool, Tool, Toolpath

RAPID = 0
MOST_SHOWN = 3
"""So many operations of one tool are named, so that the sheet stays one page; the rest is counted."""


@dataclass(frozen=True, slots=True)
class ToolFacts:
    """One tool as the program uses it; lengths in the toolpath's units, None where nothing says it.

    lowest        the lowest Z of its tip while it cuts; reach: how far along the axis of rotation it cuts, its radius included
    """

    number: int
    name: str
    shape: str
    flutes: int | None
    cutting_length: float | None
    length: float | None
    does: tuple[str, ...]
    lowest: float | None
    reach: tuple[float, float] | None


def tool_facts(items: Iterable[ProgramItem], toolpath: Toolpath) -> tuple[ToolFacts, ...]:
    """The tools that an operation uses, in the order of the toolpath; `items`: the program read back."""
    used = _used(items, toolpath)
    return tuple(_tool(tool, toolpath, used.get(tool.number)) for tool in toolpath.tools if _does(toolpath, tool.number))


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
    return tuple(f"{_named(names)} ({way})" for way, names in ways.items())


def _named(names: list[str]) -> str:
    rest = len(names) - MOST_SHOWN
    return "; ".join(names if rest <= 1 else [*names[:MOST_SHOWN], f"{rest} more to {names[-1]}"])


@dataclass(slots=True)
class _Use:
    """Where one tool cuts, mm, work coordinates."""

    low: np.ndarray = field(default_factory=lambda: np.full(3, np.inf))
    high: np.ndarray = field(default_factory=lambda: np.full(3, -np.inf))


def _used(items: Iterable[ProgramItem], toolpath: Toolpath) -> dict[int, _Use]:
    """Per tool the lowest and highest positions of its tip in cuts. Where tools are changed by hand, only a single tool is known."""
    numbers = {operation.tool for operation in toolpath.operations}
    tool = next(iter(numbers)) if len(numbers) == 1 else 0
    used: dict[int, _Use] = {}
    for item in items:
        if isinstance(item, EventRead):
            if item.kind in ("tool_change", "tool_selected") and isfinite(item.number):
                tool = int(item.number)
            continue
        assert isinstance(item, MotionRead)
        ends = item.end_mm[item.motion != RAPID]
        if len(ends) and tool:
            use = used.setdefault(tool, _Use())
            use.low = np.fmin(use.low, np.fmin.reduce(ends, axis=0))
            use.high = np.fmax(use.high, np.fmax.reduce(ends, axis=0))
    return used


def _tool(tool: Tool, toolpath: Toolpath, use: _Use | None) -> ToolFacts:
    unit = 1.0 if toolpath.units == "mm" else MM_PER_INCH
    along = "XYZ".index(toolpath.axis)
    lowest = float(use.low[2] / unit) if use is not None and isfinite(use.low[2]) else None
    reach = None
    if use is not None and toolpath.axis != "Z" and isfinite(use.low[along]):
        reach = float(use.low[along] / unit - tool.diameter / 2), float(use.high[along] / unit + tool.diameter / 2)
    shape = {"flat": "flat end", "ball": "ball end", "bullnose": "rounded corners", "drill": "drill", "chamfer": "cone"}[tool.shape]
    if isinstance(tool, BullnoseTool):
        shape += f", corner radius {number(tool.corner_radius)}"
    if isinstance(tool, DrillTool):
        shape += f", point {number(tool.point_angle)} degrees"
    if isinstance(tool, ChamferTool):
        shape += f", {number(tool.included_angle)} degrees, tip {number(tool.tip_diameter)}"
    return ToolFacts(
        tool.number,
        tool.name,
        f"diameter {number(tool.diameter)}, {shape}",
        tool.flutes,
        tool.cutting_length,
        tool.length,
        _does(toolpath, tool.number),
        lowest,
        reach,
    )
