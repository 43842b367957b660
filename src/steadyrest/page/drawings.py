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


@cache
def tool_drawing(shape: str) -> Markup:
    """A tool of that shape from the side, tip down, with the diameter across it; what else is asked for is in its title."""
    tool = TOOL.validate_python({"number": 1, "shape": shape, "length": 24, "cutting_length": 18, **SAMPLES[shape]})
    edge = outline(tool)
    right = [(radius, 30 - height) for radius, height in edge if height <= 24]
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in [*right, *((-x, y) for x, y in reversed(right))])
    half = max(radius for radius, _ in edge)
    return Markup(
        '<svg class="tool-drawing" viewBox="-14 -2 28 38" role="img" aria-label="{label}"><title>{label}</title>'
        '<polygon points="{points}"/><path class="dimension" d="M{left} 3H{right} M{left} 1v4 M{right} 1v4"/>'
        '<path class="axis" d="M0 -1V34"/></svg>'
    ).format(label=f"{shape}: {SIZES[shape]}", points=points, left=f"{-half:g}", right=f"{half:g}")


MOST_RAYS = 36
"""Angles that are drawn; more of them stand too close."""
ACROSS = {"X": ("Y", "Z"), "Y": ("X", "Z"), "Z": ("X", "Y")}


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

    cutting = min(found.cutting_length or top, top)
    right = " ".join(at(*each) for each in edge)
    left = " ".join(at(-radius, height) for radius, height in reversed(edge))
    parts = [Markup('<polygon points="{points}"/>').format(points=f"{right} {left}")]
    if found.cutting_length is not None:
        line = '<path class="dimension" d="M{x} {y}H{end}"/><text x="{x}" y="{text}">cuts {size}</text>'
        y, x = 140 - cutting * scale, 62 + widest * scale
        parts.append(Markup(line).format(x=f"{x:.1f}", y=f"{y:.1f}", end=f"{x + 12:.1f}", text=f"{y + 12:.1f}", size=_number(cutting)))
    if found.length is not None:
        y, half = 140 - found.length * scale, max(widest * scale * 1.6, 14)
        holder = (
            '<rect class="jaws" x="{x}" y="{y}" width="{w}" height="26"/><path class="dimension" d="M14 140V{end}M10 140h8M10 {end}h8"/>'
            '<text x="4" y="{text}">{size}</text>'
        )
        box = {"x": f"{60 - half:.1f}", "y": f"{y - 26:.1f}", "w": f"{2 * half:.1f}", "end": f"{y:.1f}", "text": f"{y - 4:.1f}"}
        parts.append(Markup(holder).format(**box, size=_number(found.length)))
    label = f"{found.shape}, diameter {_number(found.diameter)}"
    label += (
        f", {_number(found.length)} out of its holder" if found.length is not None else ", how far it stands out of its holder is not said"
    )
    return Markup(
        '<svg class="tool-said" viewBox="0 0 150 170" role="img" aria-label="{label}"><title>{label}</title>{parts}'
        '<path class="axis" d="M60 4V150"/><text x="60" y="164" text-anchor="middle">⌀ {size}</text></svg>'
    ).format(label=label, parts=Markup("").join(parts), size=_number(found.diameter))


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

    def cuts(self, at: Callable[[float, float, float], tuple[float, float]]) -> Markup:
        parts = []
        for one in self.operations:
            first = next(row for row in one["path"] if row is not None)
            x, y = at(first[0], first[1], first[2] + next(iter(one["angles"]), 0.0))
            line = '<path class="cut op-{kind}" d="{d}"/><text x="{x}" y="{y}">{number}</text>'
            d = _pen(one["path"], one["angles"], at)
            parts.append(Markup(line).format(kind=one["number"] % 6, d=d, x=f"{x:.1f}", y=f"{y - 3:.1f}", number=one["number"]))
        return Markup("").join(parts)


def _origin(x: float, y: float, said: str, width: float, height: float) -> Markup:
    """The zero of the part, or at the edge an arrow towards it where it lies outside of the drawing."""
    inside = (min(max(x, 12.0), width - 12.0), min(max(y, 12.0), height - 24.0))
    away = hypot(x - inside[0], y - inside[1]) > 1
    anchor = "start" if inside[0] < width / 2 else "end"
    dx = 8 if anchor == "start" else -8
    mark = '<circle class="origin" cx="{x}" cy="{y}" r="5"/><path class="origin" d="M{x} {top}v14M{left} {y}h14"/>'
    text = '<text class="zero" x="{at}" y="{below}" text-anchor="{anchor}">{said}</text>'
    where = {"x": f"{inside[0]:.1f}", "y": f"{inside[1]:.1f}", "top": f"{inside[1] - 7:.1f}", "left": f"{inside[0] - 7:.1f}"}
    words = {"at": f"{inside[0] + dx:.1f}", "below": f"{inside[1] + 16:.1f}", "anchor": anchor}
    return Markup(("" if away else mark) + text).format(**where, **words, said=f"{said} is farther that way" if away else said)


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

    parts = []
    words = f"From the side, {space.axis} to the right and {ACROSS[space.axis][1]} up"
    if space.stock is not None:
        begin, end = space.stock.along(space.axis)
        top, half = 92 - (space.off[1] + space.halves[1]) * scale, space.halves[1] * scale
        words += f": the stock from {space.axis} {_number(begin + space.along)} to {_number(end + space.along)} {space.units}"
        if (held := space.stock.held) is not None:
            edge, way = (x(begin), 1.0) if held.at == "from" else (x(end), -1.0)
            deep = (held.length or 0.0) * scale
            left = min(edge, edge + way * deep) if deep else edge
            jaw = '<rect class="jaws" x="{x}" y="{y}" width="{w}" height="{h}"/>'
            boxes = [(min(edge, edge - way * 16), top - 12, 16, 2 * half + 24)]
            boxes += [(left, top - 9, deep, 9), (left, top + 2 * half, deep, 9)] if deep else []
            for one in boxes:
                parts.append(Markup(jaw).format(**dict(zip("xywh", (f"{each:.1f}" for each in one), strict=True))))
            words += f", held at {_number((begin if held.at == 'from' else end) + space.along)}"
        box = '<rect class="stock" x="{x}" y="{y}" width="{w}" height="{h}"/>'
        parts.append(Markup(box).format(x=f"{x(begin):.1f}", y=f"{top:.1f}", w=f"{(end - begin) * scale:.1f}", h=f"{2 * half:.1f}"))
        for value, anchor in ((begin, "start"), (end, "end")):
            label = '<text x="{x}" y="184" text-anchor="{anchor}">{axis} {value}</text><path class="dimension" d="M{x} {y}V172"/>'
            where = {"x": f"{x(value):.1f}", "y": f"{top + 2 * half:.1f}", "anchor": anchor}
            parts.append(Markup(label).format(axis=space.axis, value=_number(value + space.along), **where))
    zero = f"{space.axis}0 {ACROSS[space.axis][1]}0"
    return Markup(
        '<svg class="lie" viewBox="0 0 340 190" role="img" aria-label="{words}"><title>{words}</title>{parts}'
        '<path class="axis" d="M6 92H334"/><text x="334" y="86" text-anchor="end">+{axis}</text>{cuts}{zero}</svg>'
    ).format(
        words=words, parts=Markup("").join(parts), axis=space.axis, cuts=space.cuts(at),
        zero=_origin(x(-space.along), 92 - space.zero[1] * scale, zero, 340, 190),
    )  # fmt: skip


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

    parts = []
    if space.stock is not None:
        middle = (100 + space.off[0] * scale, 95 - space.off[1] * scale)
        wide, high = (each * scale for each in space.halves)
        if isinstance(space.stock, RoundStock):
            shape = Markup('<circle class="stock" cx="{x}" cy="{y}" r="{r}"/>').format(
                x=f"{middle[0]:.1f}", y=f"{middle[1]:.1f}", r=f"{wide:.1f}"
            )
        else:
            box = '<rect class="stock" x="{x}" y="{y}" width="{w}" height="{h}"/>'
            corner = {"x": f"{middle[0] - wide:.1f}", "y": f"{middle[1] - high:.1f}"}
            shape = Markup(box).format(**corner, w=f"{2 * wide:.1f}", h=f"{2 * high:.1f}")
        parts += [shape, Markup('<circle class="swept" cx="100" cy="95" r="{r}"/>').format(r=f"{space.reach * scale:.1f}")]
    angles = sorted({angle for one in space.operations for angle in one["angles"]})
    parts += [_tool_at(space.axis, angle, 62, 100, 95) for angle in angles[:MOST_RAYS]]
    first, second = ACROSS[space.axis]
    across = f"+{first} to the {'left' if space.axis == 'Y' else 'right'} and +{second} up"
    words = f"As seen from the + end of {space.axis}, {across}" + (f"; cut at {_angles(angles)} degrees" if angles else "")
    label = '<text x="{x}" y="108" text-anchor="{anchor}">+{first}</text><text x="120" y="12">+{second}</text>'
    side = {"x": "4" if space.axis == "Y" else "196", "anchor": "start" if space.axis == "Y" else "end"}
    return Markup(
        '<svg class="lie end" viewBox="0 0 200 190" role="img" aria-label="{words}"><title>{words}</title>{parts}{label}'
        '<path class="axis" d="M8 95H192M100 6V184"/>{cuts}{zero}</svg>'
    ).format(
        words=words, parts=Markup("").join(parts), label=Markup(label).format(first=first, second=second, **side), cuts=space.cuts(at),
        zero=_origin(100 + space.zero[0] * scale, 95 - space.zero[1] * scale, f"{first}0 {second}0", 200, 190),
    )  # fmt: skip


def _angles(angles: Sequence[float]) -> str:
    said = ", ".join(_number(angle) for angle in angles[:12])
    return f"{said} and {len(angles) - 12} more" if len(angles) > 12 else said


def _tool_at(axis: str, angle: float, radius: float, x: float, y: float) -> Markup:
    """A tool that points at the axis from an angle, with that angle at its back; about Z, along which it looks, a mark."""
    tip, back = (_ray(axis, angle, radius + more) for more in (0, 9))
    text = _ray(axis, angle, radius + 16 + 9 * abs(back[0]) / (radius + 9))  # beside it a text is wider than high
    line = '<path class="tool-at" d="M{tx} {ty}L{bx} {by}"/><text x="{x}" y="{y}" text-anchor="middle">{angle}°</text>'
    ends = {"tx": f"{x + tip[0]:.1f}", "ty": f"{y - tip[1]:.1f}", "bx": f"{x + back[0]:.1f}", "by": f"{y - back[1]:.1f}"}
    return Markup(line).format(**ends, x=f"{min(max(x + text[0], 20), 180):.1f}", y=f"{y - text[1] + 4:.1f}", angle=_number(angle))


def angles_drawing(axis: str, angles: Sequence[float]) -> Markup:
    """Where the tool stands round the part for each angle of an indexed program, the first of them in bold."""
    first, second = ACROSS[axis]
    words = f"Cut at {_angles(angles)} degrees, as seen from the + end of {axis}: counterclockwise from +{first if axis == 'Z' else second}"
    return Markup(
        '<svg class="lie end" viewBox="0 0 200 190" role="img" aria-label="{words}"><title>{words}</title>'
        '<circle class="stock" cx="100" cy="95" r="48"/><path class="axis" d="M20 95H180M100 16V174"/>{rays}</svg>'
    ).format(words=words, rays=Markup("").join(_tool_at(axis, angle, 52, 100, 95) for angle in angles[:MOST_RAYS]))


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
    return Markup(
        '<svg class="lie end" viewBox="0 0 200 190" role="img" aria-label="{words}"><title>{words}</title>'
        '<circle class="stock" cx="100" cy="95" r="48"/><path class="axis" d="M20 95H180M100 16V174"/>{start}'
        '<path class="dimension" d="{turned}"/><text x="{x}" y="{y}" text-anchor="middle">+{developed}</text>'
        '<circle class="origin" cx="{zx}" cy="{zy}" r="4"/><text class="zero" x="{tx}" y="{ty}" text-anchor="middle">Z0</text>'
        '<text x="100" y="186" text-anchor="middle">⌀ {size} {units}</text></svg>'
    ).format(
        words=words, start=_tool_at(axis, start, 52, 100, 95), turned=turned, x=f"{100 + label[0]:.1f}", y=f"{95 - label[1] + 4:.1f}",
        developed=developed, zx=f"{z[0]:.1f}", zy=f"{z[1]:.1f}", size=_number(float(wrap["diameter"])), units=units,
        tx=f"{z[0] - zero[0] * 0.28 + (10 if from_axis else 0):.1f}", ty=f"{z[1] + zero[1] * 0.28 + 4:.1f}",
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
    spans = [(min(row[2] for row in path), max(row[2] for row in path), one["angles"] or (0.0,)) for _, path, one in whole if path]
    bottom = float(min(least + min(angles) for least, _, angles in spans))
    top = float(max(most + max(angles) for _, most, angles in spans))
    bottom, top = min(bottom, (bottom + top) / 2 - 30), max(top, (bottom + top) / 2 + 30)
    wide, tall = max(high - low, 1e-9), top - bottom

    def x(value: float) -> float:
        return 20 + 256 * (value - low) / wide

    def y(value: float) -> float:
        return 20 + 130 * (value - bottom) / tall

    parts = []
    for number, path, one in whole:
        if path:
            d = _pen(one["path"], one["angles"], lambda along, _, angle: (x(along), y(angle)))
            parts.append(f'<path class="cut op-{number % 6}" d="{d}"/>')
            parts.append(f'<text x="{x(path[0][0]):.1f}" y="{y(path[0][2] + next(iter(one["angles"]), 0.0)) - 3:.1f}">{int(number)}</text>')
    corners = ((20, "start", f"{toolpath['axis']} {_number(low)}"), (276, "end", f"{toolpath['axis']} {_number(high)}"))
    parts += [f'<text x="{at}" y="166" text-anchor="{anchor}">{said}</text>' for at, anchor, said in corners]
    parts.append(f'<text x="316" y="14" text-anchor="end">{bottom:.0f}°</text><text x="316" y="152" text-anchor="end">{top:.0f}°</text>')
    where = f"along {toolpath['axis']} from {low:g} to {high:g} {toolpath['units']}"
    words = f"Where is cut: {where}, round it from {bottom:.0f} to {top:.0f} degrees"
    head = '<svg class="sketch" viewBox="0 0 320 170" role="img" aria-label="{words}"><title>{words}</title>'
    return Markup(head).format(words=words) + Markup("".join(parts)) + Markup("</svg>")
