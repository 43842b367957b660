"""What is touched, as small drawings: a section across the axis of rotation, or the bar from the side, with an arrow at each touch."""

from __future__ import annotations

from collections.abc import Callable

from steadyrest.page.touches import ACROSS

WIDTH, HEIGHT = 240, 170
X0, Y0, R = 132, 84, 44
"""The axis of rotation on the paper, and the radius of the bar."""


def picture(name: str, along: str) -> str:
    """The drawing of a step of `touches`, as SVG; empty where it has none."""
    if name not in _PICTURES:
        return ""
    title, inner = _PICTURES[name](along)
    return f'<svg class="touching" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{title}">{inner}</svg>'


def _arrow(x: float, y: float, dx: float, dy: float, label: str = "", aside: tuple[float, float] = (0, 0)) -> str:
    """An arrow whose head is at x, y, coming along dx, dy, each -1, 0 or 1; its label stands at its tail, moved `aside`."""
    tail = (x - dx * 24, y - dy * 24)
    head = f"{x},{y} {x - dx * 9 - dy * 5},{y - dy * 9 - dx * 5} {x - dx * 9 + dy * 5},{y - dy * 9 + dx * 5}"
    at = (tail[0] - dx * 4 + aside[0], tail[1] - dy * 6 + aside[1] + (5 if dx else 0))
    anchor = "middle" if not dx else "end" if dx > 0 else "start"
    text = f'<text x="{at[0]:g}" y="{at[1]:g}" text-anchor="{anchor}">{label}</text>' if label else ""
    return (
        f'<line class="touch" x1="{tail[0]:g}" y1="{tail[1]:g}" x2="{x - dx * 6:g}" y2="{y - dy * 6:g}"/><polygon points="{head}"/>{text}'
    )


def _small(x: float, y: float, said: str, anchor: str = "middle") -> str:
    return f'<text class="small" x="{x:g}" y="{y:g}" text-anchor="{anchor}">{said}</text>'


def _cross(x: float = X0, y: float = Y0) -> str:
    return f'<path class="axle" d="M{x - 9:g} {y:g}h18M{x:g} {y - 9:g}v18"/>'


def _axes(right: str, up: str) -> str:
    """+ goes to the right, and up."""
    return (
        f'<path class="axis" d="M14 158h26M14 158v-26"/><polygon points="46,158 38,154 38,162"/><polygon points="14,126 10,134 18,134"/>'
        f'<text class="axis" x="50" y="163">{right}</text><text class="axis" x="14" y="121" text-anchor="middle">{up}</text>'
    )


def _section(along: str) -> str:
    return _axes(*ACROSS[along])


def _circle(kind: str, x: float = X0, y: float = Y0, r: float = R) -> str:
    return f'<circle class="{kind}" cx="{x:g}" cy="{y:g}" r="{r:g}"/>'


def _bar(along: str) -> tuple[str, str]:
    first, second = ACROSS[along]
    sides = _arrow(X0 - R, Y0, 1, 0, f"{first}") + _arrow(X0 + R, Y0, -1, 0, f"{first}")
    if along == "Z":
        sides += _arrow(X0, Y0 - R, 0, 1, second, (16, 12)) + _arrow(X0, Y0 + R, 0, -1, second, (16, 0))
        return "a bar seen from above, touched on four sides", _section(along) + _circle("part") + _cross() + sides
    top = _arrow(X0, Y0 - R, 0, 1, f"top, {second}", (36, 10))
    return "a bar seen along its axis, touched on top and on two sides", _section(along) + _circle("part") + _cross() + sides + top


def _readings(along: str) -> tuple[str, str]:
    x, y = (X0, Y0 - R - 6) if along != "Z" else (X0, Y0 + R + 6)
    up = -1 if along != "Z" else 1
    dial = f'<line class="touch" x1="{x}" y1="{y}" x2="{x}" y2="{y + up * 10}"/>' + _circle("part", x, y + up * 20, 11)
    dial += f'<line class="touch" x1="{x}" y1="{y + up * 20}" x2="{x + 6}" y2="{y + up * 20 - 5}"/>'
    marks = "".join(
        f'<text class="small" x="{X0 + dx * (R + 22)}" y="{Y0 + dy * (R + 12) + 5}" text-anchor="middle">{said}</text>'
        for said, dx, dy in (("90", 1, 0), ("270", -1, 0))
    )
    bar = _circle("gone", X0, Y0, R) + _circle("part", X0 + 4, Y0 - 3, R) + _cross()
    return "a bar that runs out, an indicator on it", _section(along) + bar + dial + marks


def _faces(along: str) -> tuple[str, str]:
    body = f'<rect class="part" x="{X0 - R}" y="{Y0 - 34}" width="{2 * R}" height="68"/>'
    sizes = f'<path class="size" d="M{X0 + R + 10} {Y0 - 34}h14M{X0 + R + 10} {Y0 + 34}h14M{X0 + R + 17} {Y0 - 34}v68"/>'
    turn = f'<path class="turn" d="M{X0 - 20} {Y0 + 54}a24 24 0 0 0 40 0"/>' + _small(X0, Y0 + 82, "180")
    return "two opposite faces, each touched on top", _section(along) + body + _cross() + _arrow(
        X0, Y0 - 34, 0, 1, "Z", (14, 10)
    ) + sizes + turn


def _flip(along: str) -> tuple[str, str]:
    pins = _circle("part", X0 + 40, Y0 - 22, 9) + _circle("gone", X0 - 40, Y0 + 22, 9)
    words = _small(X0 + 56, Y0 - 17, "0", "start") + _small(X0 - 54, Y0 + 40, "180", "end")
    line = f'<path class="gone" d="M{X0 + 32} {Y0 - 18}L{X0 - 32} {Y0 + 18}"/>'
    return "one feature at 0 and, across the axis, at 180 degrees", _section(along) + line + pins + _cross() + words


def _points(along: str) -> tuple[str, str]:
    dots = "".join(_circle("part", X0 + dx, Y0 + dy, 8) for dx, dy in ((0, -R), (38, 22), (-38, 22)))
    words = "".join(
        f'<text class="small" x="{X0 + dx}" y="{Y0 + dy}" text-anchor="middle">{n}</text>'
        for n, dx, dy in ((1, 18, -R + 2), (2, 52, 40), (3, -52, 40))
    )
    return "one feature at three angles, on a circle round the axis", _section(along) + _circle("gone") + dots + _cross() + words


def _end(along: str) -> tuple[str, str]:
    lying = (
        f'<rect class="chuck" x="30" y="{Y0 - 44}" width="40" height="80"/><rect class="part" x="70" y="{Y0 - 20}" width="92" height="34"/>'
        f'<path class="axle" d="M20 {Y0 - 3}h166"/>'
    )
    tool = f'<rect class="tool" x="164" y="{Y0 - 60}" width="14" height="60"/>'
    arrow = _arrow(180, Y0 + 30, -1, 0, f"end, {along}", (0, 0)) if along != "Z" else _arrow(164, Y0 - 3, -1, 0, "end, Z", (0, 22))
    return "the end of the bar, touched with the side of the tool", lying + (tool if along != "Z" else "") + arrow


def _flat(along: str) -> tuple[str, str]:
    part = f'<path class="part" d="M{X0 - 36} {Y0 - 18}L{X0 + 36} {Y0 - 26}A{R} {R} 0 1 1 {X0 - 36} {Y0 - 18}Z"/>'
    return "a flat, touched far out on both sides", _section(along) + part + _cross() + _arrow(X0 - 28, Y0 - 20, 0, 1) + _arrow(
        X0 + 28, Y0 - 26, 0, 1
    )


def _ball(along: str) -> tuple[str, str]:
    balls = "".join(_circle("part", X0 + dx, Y0 + dy, 9) for dx, dy in ((R, 0), (0, -R), (-R, 0)))
    words = _small(X0 + R + 14, Y0 + 4, "0", "start") + _small(X0, Y0 - R - 13, "90") + _small(X0 - R - 14, Y0 + 4, "180", "end")
    return "a ball that a table carries round its axis, found at three angles", _section(along) + _circle("gone") + balls + _cross() + words


def _ball_in_head(along: str) -> tuple[str, str]:
    x, y = X0, Y0 + 44
    noses = "".join(f'<path class="{kind}" d="M{x + dx} {y - 92}L{x} {y - 14}"/>' + _cross(x + dx, y - 92)
                    for kind, dx in (("touch", 0), ("gone", -48), ("gone", 48)))  # fmt: skip
    return "a ball that stands still, to which a head comes at three angles", _section(along) + noses + _circle("part", x, y, 12)


_PICTURES: dict[str, Callable[[str], tuple[str, str]]] = {
    "bar": _bar,
    "readings": _readings,
    "faces": _faces,
    "flip": _flip,
    "points": _points,
    "end": _end,
    "flat": _flat,
    "ball": _ball,
    "ball_in_head": _ball_in_head,
}
