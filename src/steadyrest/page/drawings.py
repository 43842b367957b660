"""Drawings of the step Part, as SVG without anything from outside: tools with their sizes, how stock, jaws, axis of rotation, origin and
cuts lie to each other, angles and wrapped work, and where is cut.

Across the axis a drawing is as seen from the + end of it, the axis towards whoever looks: about X with Y to the right and Z up, about Y
with X to the left and Z up, about Z with X to the right and Y up. So a positive angle is counterclockwise in each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from math import cos, hypot, radians, sin
from typing import Any

from markupsafe import Markup
from pydantic import TypeAdapter

from steadyrest.conventions import AXES
from steadyrest.page.app import templates
from steadyrest.page.touches import ACROSS
from steadyrest.toolpath import BEYOND, RoundStock, Stock, Tool
from steadyrest.viewer import outline

STOCK: TypeAdapter[Stock] = TypeAdapter(Stock)
TOOL: TypeAdapter[Tool] = TypeAdapter(Tool)
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


def _drawn(name: str, **facts: Any) -> Markup:
    """A drawing of the template."""
    drawn: str = getattr(templates().get_template("drawings.svg.j2").module, name)(**facts)
    return Markup(drawn.strip())


@cache
def tool_drawing(shape: str) -> Markup:
    """A tool of that shape from the side, tip down, with the diameter across it; what else is asked for is in its title."""
    tool = TOOL.validate_python({"number": 1, "shape": shape, "length": 24, "cutting_length": 18, **SAMPLES[shape]})
    edge = outline(tool)
    right = [(radius, 30 - height) for radius, height in edge if height <= 24]
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in [*right, *((-x, y) for x, y in reversed(right))])
    return _drawn("tool_drawing", words=f"{shape}: {SIZES[shape]}", points=points, half=f"{max(radius for radius, _ in edge):g}")


MOST_RAYS = 36
"""Angles that are drawn; more of them stand too close."""


def _number(value: float) -> str:
    return f"{round(value, 4) + 0.0:g}"


def _ray(axis: str, angle: float, radius: float) -> tuple[float, float]:
    """Where a point at an angle round the axis is drawn: to the right, up."""
    turned = radians(angle)
    return (radius * cos(turned), radius * sin(turned)) if axis == "Z" else (-radius * sin(turned), radius * cos(turned))


def _across(axis: str, first: float, second: float) -> tuple[float, float]:
    """Where a point of the part frame is drawn across the axis: to the right, up."""
    return (-first if axis == "Y" else first), second


def _pen(rows: Iterable[Sequence[float] | None], angles: Sequence[float], at: Callable[[float, float, float], tuple[float, float]]) -> str:
    """A path through rows of along, radius and angle, once for each angle by which they are turned; None lifts the pen."""
    rows, said = list(rows), []
    for turned in angles or (0.0,):
        pen = "M"
        for row in rows:
            if row is None:
                pen = "M"
                continue
            x, y = at(row[0], row[1], row[2] + turned)
            said.append(f"{pen}{x:.1f} {y:.1f}")
            pen = "L"
    return "".join(said)


def tool_as_said(tool: Mapping[str, Any]) -> Markup:
    """A tool to scale with its sizes: what cuts, how far it stands out of its holder, and the holder. Empty where it cannot be drawn."""
    found = TOOL.validate_python(tool)
    edge = outline(found)
    top = max(height for _, height in edge)
    widest = max(radius for radius, _ in edge)
    scale = min(100 / top, 40 / widest)

    def at(radius: float, height: float) -> str:
        return f"{60 + radius * scale:.1f},{140 - height * scale:.1f}"

    right = " ".join(at(*each) for each in edge)
    left = " ".join(at(-radius, height) for radius, height in reversed(edge))
    cutting = min(found.cutting_length, top) if found.cutting_length is not None else None
    words = f"{found.shape}, diameter {_number(found.diameter)}, "
    words += "how far it stands out of its holder is not said" if found.length is None else f"{_number(found.length)} out of its holder"
    return _drawn(
        "tool_as_said",
        words=words,
        points=f"{right} {left}",
        half=widest * scale,
        size=_number(found.diameter),
        cuts={"y": 140 - cutting * scale, "size": _number(cutting)} if cutting is not None else None,
        out={"y": 140 - found.length * scale, "size": _number(found.length)} if found.length is not None else None,
    )


class _Space:
    """A toolpath's facts as the drawings need them: all measured from a point on the axis of rotation."""

    def __init__(self, toolpath: Mapping[str, Any]) -> None:
        self.axis, self.units = str(toolpath["axis"]), str(toolpath["units"])
        self.stock = STOCK.validate_python(toolpath["stock"]) if toolpath["stock"] is not None else None
        centre = [float(each) for each in toolpath["centre"]]
        self.along = centre[AXES.index(self.axis)]
        self.zero = _across(self.axis, *(-centre[AXES.index(each)] for each in ACROSS[self.axis]))
        self.operations = [one for one in toolpath["operations"] if any(row is not None for row in one["path"])]
        self.rows = [row for one in self.operations for row in one["path"] if row is not None]
        self.off = _across(self.axis, *self.stock.offset_across(self.axis)) if self.stock is not None else (0.0, 0.0)
        if isinstance(self.stock, RoundStock):
            self.halves = (self.stock.diameter / 2, self.stock.diameter / 2)
        else:
            self.halves = (self.stock.across[0] / 2, self.stock.across[1] / 2) if self.stock is not None else (0.0, 0.0)
        self.reach = max([self.stock.swept_radius(self.axis)] if self.stock is not None else [0.0])
        self.farthest = max([self.reach, *(min(row[1], 1.4 * self.reach or BEYOND) for row in self.rows)])

    def cuts(self, at: Callable[[float, float, float], tuple[float, float]]) -> list[dict[str, Any]]:
        return [_cut(one, at) for one in self.operations]


def _cut(operation: Mapping[str, Any], at: Callable[[float, float, float], tuple[float, float]]) -> dict[str, Any]:
    """The path of an operation, and where its number stands."""
    first = next(row for row in operation["path"] if row is not None)
    x, y = at(first[0], first[1], first[2] + next(iter(operation["angles"]), 0.0))
    number = int(operation["number"])
    return {"kind": number % 6, "d": _pen(operation["path"], operation["angles"], at), "x": x, "y": y, "number": number}


def _origin(x: float, y: float, said: str, width: float, height: float) -> dict[str, Any]:
    """Where the zero of the part is drawn: at the edge where it lies outside of the drawing."""
    inside = (min(max(x, 12.0), width - 12.0), min(max(y, 12.0), height - 24.0))
    away = hypot(x - inside[0], y - inside[1]) > 1
    return {"x": inside[0], "y": inside[1], "left": inside[0] < width / 2, "away": away, "said": said}


def side_drawing(toolpath: Mapping[str, Any] | None) -> Markup:
    """From the side, the axis of rotation to the right: stock, jaws, origin, and the cuts. Empty where there is nothing of it."""
    if toolpath is None:
        return Markup("")
    space = _Space(toolpath)
    spans = [[row[0] - space.along for row in space.rows]] if space.rows else []
    if space.stock is not None:
        spans.append(list(space.stock.along(space.axis)))
    if not spans:
        return Markup("")
    low, high = min(map(min, spans)), max(map(max, spans))
    if low - 0.6 * (high - low) <= -space.along <= high + 0.6 * (high - low):
        low, high = min(low, -space.along), max(high, -space.along)
    scale = min(250 / max(high - low, 1e-6), 62 / max(space.farthest, 1e-6))
    shift = 170 - scale * (low + high) / 2

    def x(value: float) -> float:
        return float(shift + value * scale)

    def at(along: float, radius: float, angle: float) -> tuple[float, float]:
        return x(along - space.along), 92 - _ray(space.axis, angle, radius)[1] * scale

    stock, jaws, ends = None, list[tuple[float, ...]](), list[dict[str, Any]]()
    words = f"From the side, {space.axis} to the right and {ACROSS[space.axis][1]} up"
    if space.stock is not None:
        begin, end = space.stock.along(space.axis)
        top, half = 92 - (space.off[1] + space.halves[1]) * scale, space.halves[1] * scale
        words += f": the stock from {space.axis} {_number(begin + space.along)} to {_number(end + space.along)} {space.units}"
        if (held := space.stock.held) is not None:
            edge, way = (x(begin), 1.0) if held.at == "from" else (x(end), -1.0)
            deep = (held.length or 0.0) * scale
            left = min(edge, edge + way * deep) if deep else edge
            jaws = [(min(edge, edge - way * 16), top - 12, 16, 2 * half + 24)]
            jaws += [(left, top - 9, deep, 9), (left, top + 2 * half, deep, 9)] if deep else []
            words += f", held at {_number((begin if held.at == 'from' else end) + space.along)}"
        stock = (x(begin), top, (end - begin) * scale, 2 * half)
        ends = [{"x": x(value), "said": _number(value + space.along)} for value in (begin, end)]
    zero = _origin(x(-space.along), 92 - space.zero[1] * scale, f"{space.axis}0 {ACROSS[space.axis][1]}0", 340, 190)
    return _drawn("side", words=words, axis=space.axis, stock=stock, jaws=jaws, ends=ends, each=space.cuts(at), zero=zero)


def end_drawing(toolpath: Mapping[str, Any] | None) -> Markup:
    """As seen from the + end of the axis: stock, what it sweeps as it turns, the origin, the cuts, and the angles of indexed work. Empty
    where there is neither stock nor a cut.
    """
    if toolpath is None:
        return Markup("")
    space = _Space(toolpath)
    if space.stock is None and not space.rows:
        return Markup("")
    scale = 58 / max(space.farthest, 1e-6)

    def at(along: float, radius: float, angle: float) -> tuple[float, float]:
        right, up = _ray(space.axis, angle, radius)
        return 100 + right * scale, 95 - up * scale

    angles = sorted({angle for one in space.operations for angle in one["angles"]})
    first, second = ACROSS[space.axis]
    across = f"+{first} to the {'left' if space.axis == 'Y' else 'right'} and +{second} up"
    x, y = 100 + space.off[0] * scale, 95 - space.off[1] * scale
    wide, high = (each * scale for each in space.halves)
    return _drawn(
        "end",
        words=f"As seen from the + end of {space.axis}, {across}" + (f"; cut at {_angles(angles)} degrees" if angles else ""),
        round=(x, y, wide) if isinstance(space.stock, RoundStock) else None,
        box=(x - wide, y - high, 2 * wide, 2 * high) if space.stock is not None else None,
        swept=space.reach * scale,
        tools=[_tool_at(space.axis, angle, 62) for angle in angles[:MOST_RAYS]],
        first=first,
        second=second,
        mirrored=space.axis == "Y",
        each=space.cuts(at),
        zero=_origin(100 + space.zero[0] * scale, 95 - space.zero[1] * scale, f"{first}0 {second}0", 200, 190),
    )


def _angles(angles: Sequence[float]) -> str:
    said = ", ".join(_number(angle) for angle in angles[:12])
    return f"{said} and {len(angles) - 12} more" if len(angles) > 12 else said


def _tool_at(axis: str, angle: float, radius: float) -> dict[str, Any]:
    """A tool that points at the axis from an angle, with that angle at its back; about Z, along which it looks, a mark."""
    tip, back = (_ray(axis, angle, radius + more) for more in (0, 9))
    text = _ray(axis, angle, radius + 16 + 9 * abs(back[0]) / (radius + 9))  # beside it a text is wider than high
    beside = (min(max(100 + text[0], 20), 180), 95 - text[1] + 4)
    return {"tip": (100 + tip[0], 95 - tip[1]), "back": (100 + back[0], 95 - back[1]), "text": beside, "said": _number(angle)}


def angles_drawing(axis: str, angles: Sequence[float]) -> Markup:
    """Where the tool stands round the part for each angle of an indexed program, the first of them in bold."""
    first, second = ACROSS[axis]
    words = f"Cut at {_angles(angles)} degrees, as seen from the + end of {axis}: counterclockwise from +{first if axis == 'Z' else second}"
    return _drawn("angles", words=words, tools=[_tool_at(axis, angle, 52) for angle in angles[:MOST_RAYS]])


def wrap_drawing(axis: str, wrap: Mapping[str, Any], units: str) -> Markup:
    """How a flat program is laid round its cylinder: where its developed length is 0, which way + goes, and from where Z is measured.

    About X the angle falls as the developed length grows, about Y it rises (design: wrapped coordinates).
    """
    if axis == "Z":
        return Markup("")
    start, sense = float(wrap.get("start_angle", 0.0)), -1.0 if axis == "X" else 1.0
    developed = wrap.get("developed") or ("Y" if axis == "X" else "X")
    ends = [_ray(axis, start + sense * step * 9, 62) for step in range(1, 9)]
    turned = "".join(f"{'L' if at else 'M'}{100 + right:.1f} {95 - up:.1f}" for at, (right, up) in enumerate(ends))
    tip, wings = ends[-1], [_ray(axis, start + sense * 64, radius) for radius in (57, 67)]
    turned += "".join(f"M{100 + tip[0]:.1f} {95 - tip[1]:.1f}L{100 + right:.1f} {95 - up:.1f}" for right, up in wings)
    label = _ray(axis, start + sense * 45, 80)
    zero, from_axis = _ray(axis, start, 48), wrap.get("z_from") == "axis"
    words = (
        f"Wrapped round a diameter of {_number(float(wrap['diameter']))} {units}, as seen from the + end of {axis}: "
        f"{developed} 0 of the program is at {_number(start)} degrees, + goes {'clockwise' if sense < 0 else 'counterclockwise'}; "
        f"its Z is measured from the {'axis of rotation' if from_axis else 'surface'}"
    )
    z = (100.0, 95.0) if from_axis else (100 + zero[0], 95 - zero[1])
    return _drawn(
        "wrap",
        words=words,
        tools=[_tool_at(axis, start, 52)],
        turned=turned,
        label=(100 + label[0], 95 - label[1] + 4),
        developed=developed,
        zero=z,
        text=(z[0] - zero[0] * 0.28 + (10 if from_axis else 0), z[1] + zero[1] * 0.28 + 4),
        size=f"{_number(float(wrap['diameter']))} {units}",
    )


def sketch(toolpath: Mapping[str, Any] | None) -> Markup:
    """Where is cut, as seen from outside: along the axis of rotation to the right, the angle round it downwards; each operation by its
    number. Empty for none.
    """
    if toolpath is None:
        return Markup("")
    whole = [one for one in toolpath["operations"] if any(row is not None for row in one["path"])]
    if not whole:
        return Markup("")
    paths = [([row for row in one["path"] if row is not None], one["angles"] or (0.0,)) for one in whole]
    along = [row[0] for rows, _ in paths for row in rows]
    low, high = float(min(along)), float(max(along))
    bottom = float(min(min(row[2] for row in rows) + min(angles) for rows, angles in paths))
    top = float(max(max(row[2] for row in rows) + max(angles) for rows, angles in paths))
    bottom, top = min(bottom, (bottom + top) / 2 - 30), max(top, (bottom + top) / 2 + 30)

    def at(along: float, radius: float, angle: float) -> tuple[float, float]:
        return 20 + 256 * (along - low) / max(high - low, 1e-9), 20 + 130 * (angle - bottom) / (top - bottom)

    where = f"along {toolpath['axis']} from {low:g} to {high:g} {toolpath['units']}"
    return _drawn(
        "sketch",
        words=f"Where is cut: {where}, round it from {bottom:.0f} to {top:.0f} degrees",
        axis=toolpath["axis"],
        each=[_cut(one, at) for one in whole],
        low=_number(low),
        high=_number(high),
        bottom=f"{bottom:.0f}",
        top=f"{top:.0f}",
    )
