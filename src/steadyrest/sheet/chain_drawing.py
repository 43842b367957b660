"""Two rotaries, or a head that turns, drawn from two sides: what carries what, where each axis runs, and which way positive turns.

All is laid out in space as the machine stands with every rotary at 0, and projected; nothing is to scale but the sides on which things lie.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from steadyrest.columns import Floats
from steadyrest.conventions import AXES as LETTERS
from steadyrest.profile import Profile, Rotary, chain_of, direction
from steadyrest.sheet.mounting import AXES, SEEN, SPINDLE, Drawing, View, arrow, corner, operator, picture, polygon, swept
from steadyrest.sheet.tools import of_part

PART = (21.0, 21.0, 36.0)
"""Half widths of the part, and how high it stands on the table."""
STEP = 28.0
"""How far an axis is drawn from where it is measured, if it lies anywhere else."""
SMALL_MM = 1.0
"""What is less beside is written, and not drawn."""
AIR, GAUGE, NOSE, PIVOT = 16.0, 52.0, 20.0, 46.0
"""From the part to the tool, from its tip to the gauge line, the nose above that, and from the gauge line to the first pivot: as drawn."""
LEFT = 46.0
"""How far at the left of the spindle its lengths are drawn."""
ROUND = np.exp(2j * np.pi * np.arange(48) / 48)
MARGIN, FOOT = 22.0, 16.0
"""Around what is drawn, and below it besides, for the directions."""


@dataclass
class _Scene:
    """What is drawn, by its corners: solids (n, 3) with their kind, and the axes.

    levels   lengths from one place up to another: how far at the left of them they are drawn, and their words
    """

    solids: list[tuple[str, Floats]] = field(default_factory=list)
    axes: list[Axis] = field(default_factory=list)
    levels: list[tuple[Floats, Floats, float, str]] = field(default_factory=list)

    def block(self, kind: str, middle: Floats, *halves: Floats) -> None:
        corners = [middle]
        for half in halves:
            corners = [at + way for at in corners for way in (half, -half)]
        self.solids.append((kind, np.array(corners)))

    def levels_in(self, view: View, views: tuple[View, ...]) -> list[tuple[Floats, Floats, float, str]]:
        """The lengths that are drawn in a view: the first in which they are seen."""
        return [one for one in self.levels if next(each for each in views if np.ptp(each.flat(np.array(one[:2])), axis=0).any()) == view]

    def seen(self, levels: Iterable[tuple[Floats, Floats, float, str]]) -> list[Floats]:
        """All places (n, 3) that have to be in the picture."""
        ends = [axis.point + np.outer(np.array(axis.reach) + np.array([-16, 16]), axis.way) for axis in self.axes]
        words = [np.array([low, high]) - (aside + 10 * len(name) + 4, 0, 0) for low, high, aside, name in levels]
        return [corners for _, corners in self.solids] + ends + words

    def drum(self, kind: str, middle: Floats, about: Floats, low: float, high: float, radius: float) -> None:
        rim = _across(about, radius * ROUND)
        self.solids.append((kind, middle + np.concatenate([rim + about * low, rim + about * high])))


@dataclass(frozen=True)
class Axis:
    """The axis of a rotary.

    way, point     its + direction and a point on it
    seen_from      +1 or -1: from which end of it one looks
    carried        +1 where a positive word turns what it carries right-hand about `way`, else -1
    at, radius     where on it the arrow is drawn, and how far from it
    of_head        whether it carries the tool: then the nose is watched, else what is up
    reach          from, to: so much of it is drawn, from the point
    beside         what is written beside its letter
    """

    letter: str
    way: Floats
    point: Floats
    seen_from: int
    carried: int
    at: float
    radius: float
    of_head: bool
    reach: tuple[float, float]
    beside: str

    def turn(self, view: View) -> Floats:
        """The way (n, 3) of a point of what it carries under a small positive word: on the side that is seen, or watched from its end."""
        start = view.towards - (view.towards @ self.way) * self.way
        if np.linalg.norm(start) < 0.3:
            start = AXES[view.up] * (-1 if self.of_head else 1)
        return self.point + self.at * self.way + swept(start / np.linalg.norm(start) * self.radius, self.way, self.carried)


def chain_views(stands: str = "upright") -> tuple[View, ...]:
    """From the front, and from the right-hand side; `stands`: as in SEEN."""
    high, near = SEEN[stands]
    away = ("-" if near[0] == "+" else "+") + near[1]
    return (
        View("as you stand in front of the machine", "+X", high),
        View("from the right-hand side of the machine", away, high),
    )


def chain_axes(profile: Profile, units: str = "mm") -> tuple[Axis, ...]:
    """The axes of the drawing, counted from the part to the spindle; none without a chain. `units`: of what is written."""
    return tuple(_laid_out(profile, units).axes)


def chain_drawings(profile: Profile, units: str = "mm") -> tuple[Drawing, ...]:
    """The pictures of a chain as SVG, black on white, without anything from outside; lengths in `units`. None without a chain."""
    scene = _laid_out(profile, units)
    if not scene.axes:
        return ()
    views = chain_views(profile.spindle.stands)
    spans = [np.ptp(np.concatenate([view.flat(corners) for corners in scene.seen(scene.levels_in(view, views))]), axis=0) for view in views]
    wide, tall = np.max(spans, axis=0) + np.array([2 * MARGIN, 2 * MARGIN + FOOT])
    return tuple(Drawing(view, _drawn(scene, view, profile.spindle.stands, wide, tall)) for view in views)


def _laid_out(profile: Profile, units: str) -> _Scene:
    """From the part down to the bed, then from the tool up to the machine."""
    scene, chain = _Scene(), chain_of(profile)
    if chain is None:
        return scene
    up = AXES[SEEN[profile.spindle.stands][0]]
    one, two = (AXES["+" + letter] for letter in LETTERS if abs(AXES["+" + letter] @ up) < 0.5)
    scene.block("bar", up * PART[2] / 2, up * PART[2] / 2, one * PART[0], two * PART[1])
    low = 0.0
    for letter in chain.part:
        low = _under(scene, letter, profile.rotary[letter], up, low, units)  # type: ignore[index]
    scene.block("table", up * (low - 5), up * 5, one * 112, two * 52)
    tip = up * PART[2] + SPINDLE * AIR if abs(up @ SPINDLE) > 0.5 else up * PART[2] / 2 + SPINDLE * (PART[0] + AIR)
    gauge = tip + SPINDLE * GAUGE
    scene.drum("tool", tip, SPINDLE, 0, 24, 3)
    scene.drum("tool", tip, SPINDLE, 24, GAUGE, 8)
    top, height = gauge + SPINDLE * NOSE, PIVOT
    scene.drum("body", gauge, SPINDLE, 0, NOSE, 15)
    if chain.tool:
        scene.levels.append((tip, gauge, LEFT, "gauge length"))
    for letter in reversed(chain.tool):
        top, height = _over(scene, letter, profile.rotary[letter], up, gauge, top, height, units)  # type: ignore[index]
    if chain.tool:
        scene.block("table", top + SPINDLE * 5, SPINDLE * 5, *(AXES["+" + letter] * 40 for letter in "XY"))
    scene.axes.sort(key=lambda axis: chain.letters.index(axis.letter))
    return scene


def _under(scene: _Scene, letter: str, rotary: Rotary, up: Floats, low: float, units: str) -> float:
    """A rotary that carries the part, under all that it carries, which reaches down to `low`; how far down it reaches itself."""
    way, stated = np.array(direction(rotary)), np.array(rotary.point or (0.0, 0.0, 0.0))
    point = _drawn_at(stated, way)
    if abs(way @ up) > 0.9:  # a table
        scene.drum("chuck", point, up, low - 9, low, 42)
        scene.drum("body", point, up, low - 24, low - 9, 34)
        sign = float(way @ up)
        _axis(scene, letter, rotary, point, (low - 4.5) * sign, 48, _ordered((low - 34) * sign, (PART[2] + 26) * sign), units)
        return low - 24
    if abs(way @ up) > 0.1:  # one that leans: it carries by its upper end
        lower = way if way @ up < 0 else -way
        begin = float((28 - low) / abs(way @ up))
        rim = _across(way, 24 * ROUND)
        scene.solids.append(("chuck", np.concatenate([_across(up, 30 * ROUND) + up * low, point + lower * begin + rim])))
        scene.drum("body", point, lower, begin, begin + 26, 38)
        lowest = float((scene.solids[-1][1] @ up).min())
        middle = (begin + 13) * float(np.sign(lower @ way))
        _axis(scene, letter, rotary, point, middle, 46, _ordered(middle * 1.9, -50.0 if middle > 0 else 50.0), units)
        return lowest
    rise = float(point @ up)  # a cradle between two bearings
    aside = np.cross(up, way)
    scene.block("chuck", up * (low - 5) + point - rise * up, up * 5, way * 70, aside * 26)
    bottom = min(low - 10, rise - 24) - 8
    for end in (-1, 1):
        arm = (low - 10, rise + 8) if rise + 8 > low - 10 else (rise - 8, low)
        at = point - rise * up + way * end
        scene.block("chuck", at + way * end * 66 + up * sum(arm) / 2, up * (arm[1] - arm[0]) / 2, way * 5, aside * 12)
        scene.block("body", at + way * end * 81 + up * (bottom + rise + 16) / 2, up * (rise + 16 - bottom) / 2, way * 9, aside * 20)
    _axis(scene, letter, rotary, point, 102, 26, (-108.0, 116.0), units, measured=up)
    if abs(stated @ up) >= SMALL_MM:
        scene.levels.append((way * 0, up * rise, 118.0, of_part(abs(float(stated @ up)), units)))
    return bottom


def _over(
    scene: _Scene, letter: str, rotary: Rotary, up: Floats, gauge: Floats, top: Floats, height: float, units: str
) -> tuple[Floats, float]:
    """A rotary that carries the tool, over all that it carries, which reaches up to `top`; how far up it reaches itself, and the height
    over the gauge line for the next pivot."""
    way, stated = np.array(direction(rotary)), np.array(rotary.pivot or (0.0, 0.0, 0.0))
    along = abs(way @ SPINDLE)
    flat = stated * (1, 1, 0)
    if along > 0.9:  # it hangs
        point = gauge + _drawn_at(flat, way)
        over = float((top - gauge) @ SPINDLE)
        scene.drum("chuck", point, SPINDLE, over, over + 14, 36)
        sign = float(way @ SPINDLE)
        _axis(scene, letter, rotary, point, sign * (over + 7), 44, _ordered(sign * (over - 6), sign * (over + 44)), units, True)
        return gauge + SPINDLE * (over + 14), height
    height = max(height, float((top - gauge) @ SPINDLE) + 24)
    point = gauge + _drawn_at(flat, way) + SPINDLE * (height if stated[2] >= 0 else -height / 2)
    if abs(stated[2]) >= SMALL_MM:
        aside = LEFT + 14 * (len(scene.levels) - 1)
        scene.levels.append((gauge, gauge + SPINDLE * float((point - gauge) @ SPINDLE), aside, of_part(abs(float(stated[2])), units)))
    if along > 0.1:  # it leans: the spindle hangs on its lower end
        lower = way if way @ SPINDLE < 0 else -way
        rim = _across(way, 22 * ROUND)
        scene.solids.append(("body", np.concatenate([_across(SPINDLE, 15 * ROUND) + top, point + rim])))
        scene.drum("chuck", point, -lower, 0, 18, 30)
        head = point + SPINDLE * 48
        scene.solids.append(("body", np.concatenate([_across(SPINDLE, 30 * ROUND) + head, point - lower * 18 + rim])))
        sign = float(np.sign(-lower @ way))
        _axis(scene, letter, rotary, point, sign * 9, 40, _ordered(-sign * 56, sign * 84), units, True, SPINDLE)
        return head, height
    scene.solids.append(("body", np.concatenate([_across(SPINDLE, 15 * ROUND) + top, point + _across(SPINDLE, 15 * ROUND)])))
    scene.drum("chuck", point, way, -18, 18, 22)
    depth = 14 * np.cross(SPINDLE, way)
    for side in (-1, 1):  # what carries it holds it at both ends
        scene.block("body", point + way * side * 24 + SPINDLE * 10, SPINDLE * 26, way * 6, depth)
    scene.block("body", point + SPINDLE * 32, SPINDLE * 5, way * 30, depth)
    _axis(scene, letter, rotary, point, 42, 23, (-52.0, 64.0), units, True, SPINDLE)
    return point + SPINDLE * 37, height


def _axis(
    scene: _Scene, letter: str, rotary: Rotary, point: Floats, at: float, radius: float, reach: tuple[float, float], units: str,
    of_head: bool = False, measured: Floats | None = None,
) -> None:  # fmt: skip
    """Adds the axis; `measured`: the direction in which its distance has a length of its own."""
    way, stated = np.array(direction(rotary)), np.array(rotary.point or rotary.pivot or (0.0, 0.0, 0.0))
    seen_from = 1 if rotary.chuck_faces[0] == "+" else -1
    carried = seen_from if rotary.positive_turns_chuck == "counterclockwise" else -seen_from
    aside = [
        f"{axis} {of_part(float(value), units)}"
        for axis, value, along, has_length in zip(LETTERS, stated, way, np.zeros(3) if measured is None else measured, strict=True)
        if abs(along) < 0.9 and value and not (abs(value) >= SMALL_MM and has_length)
    ]
    scene.axes.append(Axis(letter, way, point, seen_from, carried, at, radius, of_head, reach, " ".join(aside)))


def _drawn_at(stated: Floats, way: Floats) -> Floats:
    """Where a point of an axis is drawn: on the side where it is, so far off that it is seen, or not at all."""
    across = stated - (stated @ way) * way
    return np.where(np.abs(across) >= SMALL_MM, np.sign(across) * STEP, 0.0)


def _across(way: Floats, round_: np.ndarray) -> Floats:
    """Places (n, 3) square to a direction, of complex numbers."""
    one = np.cross(way, AXES["+X"] if abs(way[0]) < 0.6 else AXES["+Y"])
    one = one / np.linalg.norm(one)
    return np.asarray(np.outer(round_.real, one) + np.outer(round_.imag, np.cross(way, one)))


def _ordered(one: float, other: float) -> tuple[float, float]:
    return min(one, other), max(one, other)


def outline(points: Floats) -> Floats:
    """The corners (k, 2) of what points (n, 2) cover, counterclockwise (A. M. Andrew, 1979, from memory)."""
    ordered = sorted({(round(x, 3), round(y, 3)) for x, y in points.tolist()})
    sides: list[list[tuple[float, float]]] = []
    for places in (ordered, ordered[::-1]):
        side: list[tuple[float, float]] = []
        for x, y in places:
            while len(side) > 1 and (side[-1][0] - side[-2][0]) * (y - side[-2][1]) <= (side[-1][1] - side[-2][1]) * (x - side[-2][0]):
                side.pop()
            side.append((x, y))
        sides.append(side[:-1])
    return np.array(sides[0] + sides[1])


def _drawn(scene: _Scene, view: View, stands: str, wide: float, tall: float) -> str:
    views = chain_views(stands)
    levels = scene.levels_in(view, views)
    parts = []
    front = float((scene.solids[0][1] @ view.towards).max())  # of the part
    for kind, corners in sorted(scene.solids, key=lambda one: float((one[1] @ view.towards).mean())):
        hides = float((corners @ view.towards).min()) >= front and kind != "tool"
        parts.append(polygon("hidden" if hides else kind, outline(view.flat(corners))))
    for axis in scene.axes:
        lies = [bool(np.linalg.norm(one.flat(axis.way)) > 0.99) for one in views]  # in the paper
        parts += _axis_drawn(axis, view, written=view == views[0], eyes=view == views[lies.index(True)])
    parts += [_level(view, *level) for level in levels]
    places = np.concatenate([view.flat(corners) for corners in scene.seen(levels)])
    x, y = np.array([wide, FOOT - tall]) / 2 - (places.min(axis=0) + places.max(axis=0)) / 2
    around = operator(view, AXES[SEEN[stands][1]], wide, tall) + corner(view, tall)
    return picture(view.title, x, -y, "".join(parts), around, box=f"0 0 {wide:.0f} {tall:.0f}")


def _axis_drawn(axis: Axis, view: View, *, written: bool, eyes: bool) -> list[str]:
    """Its line, or where it meets the paper; its letter with the arrow; and an eye that looks along it from the end that is meant."""
    begin, end = (view.flat(axis.point + axis.way * far) for far in axis.reach)
    path, middle, words = view.flat(axis.turn(view)), view.flat(axis.point + axis.at * axis.way), begin
    if np.linalg.norm(end - begin) < 1:
        x, y = middle
        parts = [f'<path class="line" d="M{x - 9:.1f} {-y:.1f}h18M{x:.1f} {-y - 9:.1f}v18"/>']
        words = middle + np.array([axis.radius, axis.radius * 0.7])
    else:
        parts = [f'<path class="line" d="M{begin[0]:.1f} {-begin[1]:.1f}L{end[0]:.1f} {-end[1]:.1f}"/>']
        eye, words = (end, begin) if axis.seen_from > 0 else (begin, end)
        looks = (words - eye) / np.linalg.norm(words - eye)
        # What runs through part and spindle is looked along beside them.
        x, y = eye - looks * 10 if abs(looks[0]) > 0.1 else eye + np.array([axis.radius + 34 * axis.of_head + 12, 0])
        turned = np.degrees(np.arctan2(-looks[1], looks[0]))
        if eyes:
            parts.append(
                f'<g class="eye" transform="translate({x:.1f} {-y:.1f}) rotate({turned:.0f})"><path d="M-6 0Q0 -9 6 -9Q9 0 6 9Q0 9 -6 0Z"/>'
                f'<circle cx="6" cy="0" r="3"/></g><text class="axis" x="{x + 9:.1f}" y="{-y + 14:.1f}">{axis.letter}</text>'
            )
    away = path[len(path) // 2] - middle
    away = path[0] - path[-1] if np.linalg.norm(away) < 8 else away
    parts.append(arrow(path, f"+{axis.letter}", path[0] + away / np.linalg.norm(away) * 15))
    if axis.beside and written:
        level = abs(end[1] - begin[1]) < 1 < abs(end[0] - begin[0])
        y = -words[1] - (30 if level else 6)
        parts.append(f'<text class="axis" x="{words[0] + 4:.1f}" y="{y:.1f}">{axis.letter}: {axis.beside}</text>')
    return parts


def _level(view: View, low: Floats, high: Floats, aside: float, words: str) -> str:
    """A length with its ends: between two heights at the left, or what lies across over it."""
    begin, end = view.flat(low), view.flat(high)
    across = np.array([-1.0, 0.0]) if abs(end[1] - begin[1]) > 1 else np.array([0.0, 1.0])
    way = (end - begin) / np.linalg.norm(end - begin)
    ends = [(place + across * aside, one) for place, one in ((begin, -way), (end, way))]
    heads = [polygon("head", np.array([at, at - one * 7 + across * 3, at - one * 7 - across * 3])) for at, one in ends]
    lines = [(ends[0][0], ends[1][0]), *((place + across * 12, place + across * (aside + 5)) for place in (begin, end))]
    drawn = "".join(f"M{a[0]:.1f} {-a[1]:.1f}L{b[0]:.1f} {-b[1]:.1f}" for a, b in lines)
    x, y = (ends[0][0] + ends[1][0]) / 2 + across * 7
    anchor = "end" if across[0] else "middle"
    return (
        f'<path class="level" d="{drawn}"/>{"".join(heads)}'
        f'<text class="axis" x="{x:.1f}" y="{-y + 4 * abs(across[0]):.1f}" text-anchor="{anchor}">{words}</text>'
    )
