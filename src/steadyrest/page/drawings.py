"""Drawings of the step Part, as SVG without anything from outside: tools with their sizes, the stock on its axis, and where is cut."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from markupsafe import Markup
from pydantic import TypeAdapter

from steadyrest.toolpath import Tool
from steadyrest.viewer import outline

SAMPLES: Mapping[str, Mapping[str, Any]] = {
    "flat": {"diameter": 10},
    "ball": {"diameter": 10},
    "bullnose": {"diameter": 10, "corner_radius": 2.5},
    "drill": {"diameter": 10, "point_angle": 118},
    "chamfer": {"diameter": 12, "tip_diameter": 2, "included_angle": 90},
}
"""A tool of each shape, as large as it is drawn."""
SIZES = {
    "flat": "diameter",
    "ball": "diameter; the ball has half of it as radius",
    "bullnose": "diameter over all; corner radius",
    "drill": "diameter; point angle, included; its tip is the point",
    "chamfer": "diameter at the top; diameter at the tip; included angle",
}


@cache
def tool_drawing(shape: str) -> Markup:
    """A tool of that shape from the side, tip down, with the diameter across it; what else is asked for is in its title."""
    tool = TypeAdapter(Tool).validate_python({"number": 1, "shape": shape, "length": 24, "cutting_length": 18, **SAMPLES[shape]})
    edge = outline(tool)
    right = [(radius, 30 - height) for radius, height in edge if height <= 24]
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in [*right, *((-x, y) for x, y in reversed(right))])
    half = max(radius for radius, _ in edge)
    return Markup(
        '<svg class="tool-drawing" viewBox="-14 -2 28 38" role="img" aria-label="{label}"><title>{label}</title>'
        '<polygon points="{points}"/><path class="dimension" d="M{left} 3H{right} M{left} 1v4 M{right} 1v4"/>'
        '<path class="axis" d="M0 -1V34"/></svg>'
    ).format(label=f"{shape}: {SIZES[shape]}", points=points, left=f"{-half:g}", right=f"{half:g}")


def stock_drawing(toolpath: Mapping[str, Any] | None) -> Markup:
    """The stock from the side on the axis of rotation, with where it begins and ends, the held end hatched, and the origin; empty where
    there is none.
    """
    stock = toolpath["stock"] if toolpath is not None else None
    if toolpath is None or stock is None:
        return Markup("")
    low, high = float(stock["from"]), float(stock["to"])
    size = stock["diameter"] if stock["shape"] == "round" else stock["across"][-1]
    long = high - low
    scale = 260 / long
    half = min(size * scale / 2, 70.0)

    def at(value: float) -> float:
        return 30 + (value - low) * scale

    held = stock.get("held")
    jaws = ""
    if held is not None:
        deep = (held.get("length") or 0.0) * scale
        begin = at(low) - 12 if held["at"] == "from" else at(high) - deep
        jaws = f'<rect class="jaws" x="{begin:.1f}" y="{80 - half - 10:.1f}" width="{deep + 12:.1f}" height="{2 * half + 20:.1f}"/>'
    zero = at(min(max(0.0, low - 0.05 * long), high + 0.05 * long))
    words = f"Stock from {low:g} to {high:g} {toolpath['units']} along {toolpath['axis']}, {size:g} across"
    return Markup(
        '<svg class="stock-drawing" viewBox="0 0 320 176" role="img" aria-label="{words}"><title>{words}</title>' + jaws +
        '<rect class="stock" x="{x}" y="{y}" width="{w}" height="{h}"/><path class="axis" d="M8 80H312"/>'
        '<circle class="origin" cx="{zero}" cy="80" r="5"/><text x="{zero}" y="100" text-anchor="middle">0</text>'
        '<text x="{x}" y="166" text-anchor="middle">{low}</text><text x="{end}" y="166" text-anchor="middle">{high}</text>'
        '<text x="306" y="72" text-anchor="end">+{axis}</text></svg>'
    ).format(
        words=words, x=f"{at(low):.1f}", y=f"{80 - half:.1f}", w=f"{long * scale:.1f}", h=f"{2 * half:.1f}", zero=f"{zero:.1f}",
        low=f"{low:g}", high=f"{high:g}", end=f"{at(high):.1f}", axis=toolpath["axis"],
    )  # fmt: skip


def sketch(toolpath: Mapping[str, Any] | None) -> Markup:
    """Where is cut, as seen from outside: along the axis of rotation to the right, the angle round it downwards; each operation by its
    number. Empty for none.
    """
    if toolpath is None:
        return Markup("")
    whole = [(one["number"], [row for row in one["path"] if row is not None], one) for one in toolpath["operations"]]
    rows = [row for _, path, _ in whole for row in path]
    if not rows:
        return Markup("")
    low, high = float(min(row[0] for row in rows)), float(max(row[0] for row in rows))
    angles = [angle for _, _, one in whole for angle in one["angles"]]
    bottom = float(min(row[2] for row in rows) + min(angles, default=0.0))
    top = float(max(row[2] for row in rows) + max(angles, default=0.0))
    wide, tall = max(high - low, 1e-9), max(top - bottom, 1e-9)

    def x(value: float) -> float:
        return 20 + 280 * (value - low) / wide

    def y(value: float) -> float:
        return 20 + 130 * (value - bottom) / tall

    parts = []
    for number, path, one in whole:
        lines = []
        for turned in one["angles"] or (0.0,):
            pen = "M"
            for row in one["path"]:
                if row is None:
                    pen = "M"
                    continue
                lines.append(f"{pen}{x(row[0]):.1f} {y(row[2] + turned):.1f}")
                pen = "L"
        if path:
            parts.append(f'<path class="cut op-{number % 6}" d="{"".join(lines)}"/>')
            parts.append(f'<text x="{x(path[0][0]):.1f}" y="{y(path[0][2]) - 3:.1f}">{int(number)}</text>')
    where = f"along {toolpath['axis']} from {low:g} to {high:g} {toolpath['units']}"
    words = f"Where is cut: {where}, round it from {bottom:.0f} to {top:.0f} degrees"
    head = '<svg class="sketch" viewBox="0 0 320 170" role="img" aria-label="{words}"><title>{words}</title>'
    return Markup(head).format(words=words) + Markup("".join(parts)) + Markup("</svg>")
