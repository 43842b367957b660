"""The two sides of a difference drawn: SVG of our own, without anything from outside, its colours those of the page it stands in.

Nothing is said by colour alone: what is asked for is dashed and its place a circle, what the program does is solid and its place a cross,
rapids are dotted.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import floor, hypot, isfinite, log10

import numpy as np
from markupsafe import Markup, escape

from steadyrest.columns import Floats
from steadyrest.conventions import AXES, MM_PER_INCH
from steadyrest.proof import TOOL_HERE, Difference, Figure, Setting, angle_text
from steadyrest.viewer.side_by_side import TALL, WIDE, Side, View, view_of

PLACES = ("X", "Y", "Z", "A", "B", "C")
"""Figures that say where something is."""
TURNED_RAD = 1e-6
"""A turn that is worth saying."""
SHORTEST_ARROW = 34.0
"""A stroke shorter than this has no arrow, in units of the drawing."""
CROWDED = 60.0
"""Nearer to each other than this, two marks leave no room for a figure between their names."""
MARGIN = 40.0
"""Strokes are cut off so far outside the window: no browser has to dash a line of kilometres."""


@dataclass(frozen=True, slots=True)
class SideBySide:
    """A difference as the page shows it.

    asked, found   the two drawings, empty where there is nothing to draw: `why_not` says why
    name           what is seen in them, and the scale of both
    apart          how far the two places are apart, with units; empty where they are not known
    asked_place, found_place   what is named under each: move and line with their coordinates
    """

    asked: Markup
    found: Markup
    name: str
    apart: str
    why_not: str
    asked_place: str
    found_place: str
    line: int | None
    figures: tuple[Figure, ...]


def both_sides(difference: Difference, setting: Setting) -> SideBySide:
    """The first difference of a program that was refused, for its report."""
    view = view_of(difference, setting)
    asked_place, found_place = (
        _place([(one.name, one.asked if side == 0 else one.found) for one in difference.figures]) for side in range(2)
    )
    off = [setting.length(difference.off_mm)] if isfinite(difference.off_mm) and difference.off_mm > 5e-5 else []
    turned = abs(difference.turned_rad)
    off += [f"{'tool axis' if difference.where else setting.letter or 'the rotary'} {angle_text(turned)}"] if turned > TURNED_RAD else []
    apart = " and ".join(off) if view is not None else ""
    asked_place = asked_place if difference.asked_at is not None else ""
    if view is None:
        return SideBySide(Markup(), Markup(), "", apart, difference.why_not, asked_place, found_place, difference.line, difference.figures)
    words = [
        f"What {who}, seen {view.name}. " + (f"{what}: {place}. " if place else "") + (f"They are {apart} apart." if apart else "")
        for who, what, place in (
            ("the toolpath asks for", "Asked for", asked_place),
            ("the program does", "In the program", found_place),
        )
    ]
    asked, found = (
        drawing(view, setting, which, label, here)
        for which, label, here in zip(("asked", "found"), words, (difference.move, difference.line), strict=True)
    )
    return SideBySide(asked, found, view.name, apart, "", asked_place, found_place, difference.line, difference.figures)


def _place(figures: list[tuple[str, str]]) -> str:
    """Those of them that say where something is, in one line: `X-10 Y0 Z17.5 mm, A180°`; empty where one is not known."""
    found = {name: text for name, text in figures if name in PLACES}
    if not found or not all(text[:1] in "-0123456789" and text for text in found.values()):
        return ""
    unit = found["X"].split()[-1]
    linear = " ".join(f"{name}{found[name].split()[0]}" for name in found if name in AXES)
    return ", ".join([f"{linear} {unit}", *(f"{name}{text}" for name, text in found.items() if name not in AXES)])


def drawing(view: View, setting: Setting, which: str, label: str, here: int | None = None) -> Markup:
    """One side, `asked` or `found`.

    label   what is seen, for whoever does not see it
    here    the move, or the line, that is named
    """
    side = view.asked if which == "asked" else view.found
    apart = setting.length(view.apart_mm) if isfinite(view.apart_mm) and view.apart_mm > 0 else ""
    parts = [
        f'<svg class="side-by-side" viewBox="0 0 {WIDE:g} {TALL:g}" role="img" aria-label="{escape(label)}"><title>{escape(label)}</title>',
        f'<rect class="ground" width="{WIDE:g}" height="{TALL:g}"/>',
        *_stock(view), *_axis(view), *_levels(view, setting, which),
    ]  # fmt: skip
    if which == "found" and view.together:
        parts += _strokes(view, view.asked, "asked under")
    parts += _strokes(view, side, which, here)
    parts += [_line(view, tool, f"tool {name}") for tool, name in zip(side.tools, ("asked", "found"), strict=False)]
    parts += [*_marks(view, side, apart), *_directions(view), *_bar(view, setting), "</svg>"]
    return Markup("".join(parts))


def _placed(view: View, points: Floats) -> Floats:
    """Points (..., 2), mm, on the drawing."""
    middle = (view.low + view.high) / 2
    return np.asarray((points - middle) * (view.scale, -view.scale) + (WIDE / 2, TALL / 2))


def _strokes(view: View, side: Side, name: str, here: int | None = None) -> list[str]:
    """The way in pieces that are drawn alike, each with an arrow in its middle where it is long enough; those of number `here` bolder."""
    parts: list[str] = []
    if not len(side.points):
        return parts
    placed = _placed(view, side.points)
    new = np.flatnonzero((np.diff(side.number) != 0) | (np.diff(side.rapid) != 0)) + 1
    for first, stop in zip([0, *new], [*new, len(placed)], strict=True):
        kind = "rapid" if side.rapid[first] else "cut"
        before = placed[first - 1 : first] if first and view.together else placed[:0]
        path, pieces = "", _inside(np.concatenate([before, placed[first:stop]]))
        for piece in pieces:
            path += "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in piece)
        if path:
            bold = " here" if here is not None and side.number[first] == here else ""
            parts.append(f'<path class="way {kind} {name}{bold}" d="{path}"/>')
        if not pieces and kind == "cut":  # seen from its end
            x, y = placed[stop - 1]
            if 0 <= x <= WIDE and 0 <= y <= TALL:
                parts.append(f'<circle class="dot {name}" cx="{x:.1f}" cy="{y:.1f}" r="3"/>')
        if pieces and "under" not in name:
            parts += _arrow(max(pieces, key=_extent), name)
    return parts


def _extent(piece: Floats) -> float:
    return float(np.linalg.norm(np.diff(piece, axis=0), axis=1).sum())


def _arrow(piece: Floats, name: str) -> list[str]:
    lengths = np.linalg.norm(np.diff(piece, axis=0), axis=1)
    if lengths.sum() < SHORTEST_ARROW:
        return []
    at = int(np.searchsorted(np.cumsum(lengths), lengths.sum() / 2))
    at = min(at, len(lengths) - 1)
    before = lengths[:at].sum()
    way = (piece[at + 1] - piece[at]) / lengths[at]
    x, y = piece[at] + way * (lengths.sum() / 2 - before)
    dx, dy = 5 * way
    points = f"{x + dx:.1f},{y + dy:.1f} {x - dx - dy * 0.8:.1f},{y - dy + dx * 0.8:.1f} {x - dx + dy * 0.8:.1f},{y - dy - dx * 0.8:.1f}"
    return [f'<polygon class="arrow {name}" points="{points}"/>']


def _inside(placed: Floats) -> list[Floats]:
    """A line as the pieces of it that lie within the drawing and its margin (L. Liang and B. Barsky, 1984, from memory)."""
    low, high = np.array([-MARGIN, -MARGIN]), np.array([WIDE + MARGIN, TALL + MARGIN])
    pieces: list[list[Floats]] = []
    joined = False
    for start, end in pairwise(placed):
        way = end - start
        if not np.isfinite(way).all() or not way.any():
            joined = joined and np.isfinite(way).all()
            continue
        enter, leave = 0.0, 1.0
        for axis in range(2):
            if abs(way[axis]) < 1e-12:
                if not low[axis] <= start[axis] <= high[axis]:
                    leave = -1.0
                continue
            one, other = (low[axis] - start[axis]) / way[axis], (high[axis] - start[axis]) / way[axis]
            enter, leave = max(enter, min(one, other)), min(leave, max(one, other))
        if enter >= leave:
            joined = False
            continue
        if not (joined and enter == 0.0):
            pieces.append([start + enter * way])
        pieces[-1].append(start + leave * way)
        joined = leave == 1.0
    return [np.array(piece) for piece in pieces]


def _line(view: View, ends: Floats, name: str) -> str:
    return "".join(f'<path class="{name}" d="M{_pair(piece[0])}L{_pair(piece[-1])}"/>' for piece in _inside(_placed(view, ends)))


def _pair(point: Floats) -> str:
    return f"{point[0]:.1f} {point[1]:.1f}"


def _stock(view: View) -> list[str]:
    if view.stock is None:
        return []
    form, one, other = view.stock
    if form == "round":
        x, y = _placed(view, one)
        return [f'<circle class="stock" cx="{x:.1f}" cy="{y:.1f}" r="{float(other[0]) * view.scale:.1f}"/>']
    (left, bottom), (right, top) = np.clip(_placed(view, np.array([one, other])), -MARGIN, (WIDE + MARGIN, TALL + MARGIN))
    return [f'<rect class="stock" x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}"/>']


def _axis(view: View) -> list[str]:
    if view.axis is None:
        return []
    if view.axis.ndim == 1:
        x, y = _placed(view, view.axis)
        return [f'<path class="turns" d="M{x - 9:.1f} {y:.1f}h18M{x:.1f} {y - 9:.1f}v18"/>']
    return [_line(view, view.axis, "turns")]


def _levels(view: View, setting: Setting, which: str) -> list[str]:
    parts, free = [], TALL + MARGIN
    for name, height in sorted(view.levels, key=lambda one: one[1]):
        y = float(_placed(view, np.array([0.0, height]))[1])
        if not 0 <= y <= TALL or (name == TOOL_HERE and which == "asked"):
            continue
        kind = "level found" if name == TOOL_HERE else "level"
        parts.append(f'<path class="{kind}" d="M0 {y:.1f}H{WIDE:g}"/>')
        below = y + 14 if y + 14 < free and y > free - 16 else y - 4
        x, anchor = (34, "start") if view.together else (WIDE - 6, "end")
        parts.append(f'<text x="{x:g}" y="{below:.1f}" text-anchor="{anchor}">{escape(name)}, {view.up} {setting.length(height)}</text>')
        free = y - 4
    return parts


def _marks(view: View, side: Side, apart: str) -> list[str]:
    """The two places, each with its name on the side away from the other, and how far they are apart."""
    known = {
        name: _placed(view, at)
        for name, at in (("asked for", side.asked_at), ("program", side.found_at))
        if at is not None and np.isfinite(at).all()
    }
    parts = []
    if len(known) == 2 and apart:
        one, other = known["asked for"], known["program"]
        parts.append(f'<path class="apart" d="M{_pair(one)}L{_pair(other)}"/>')
    for name, place in known.items():
        others = [at for each, at in known.items() if each != name]
        away = place - others[0] if others else np.array([0.7, -0.7])
        size = hypot(*away)
        away = away / size if size > 1e-6 else np.array([0.7, -0.7]) * (1 if name == "program" else -1)
        x, y = place
        if name == "asked for":
            parts.append(
                f'<circle class="mark asked" cx="{x:.1f}" cy="{y:.1f}" r="6"/><circle class="dot asked" cx="{x:.1f}" cy="{y:.1f}" r="1.5"/>'
            )
        else:
            parts.append(f'<path class="mark found" d="M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12"/>')
        at = np.clip(place + 12 * away + (0, 4 + 6 * away[1]), (4, 14), (WIDE - 4, TALL - 26))
        anchor = "start" if away[0] > 0.3 else "end" if away[0] < -0.3 else "middle"
        if anchor != "middle" and not 70 < at[0] < WIDE - 70:  # at the edge: under the mark, and inwards
            anchor, at = ("end", np.array([WIDE - 4, y + 22])) if x > WIDE / 2 else ("start", np.array([4, y + 22]))
        parts.append(f'<text class="named" x="{at[0]:.1f}" y="{at[1]:.1f}" text-anchor="{anchor}">{name}</text>')
    if len(known) == 2 and apart:
        one, other = known["asked for"], known["program"]
        way = other - one
        size = max(hypot(*way), 1e-6)
        across = np.array([-way[1], way[0]]) / size
        across = across if across[0] > 0 or (abs(across[0]) < 1e-9 and across[1] < 0) else -across
        off = 10 if size > CROWDED else 26  # clear of the two names
        at = np.clip((one + other) / 2 + off * across + (0, 4), (4, 14), (WIDE - 70, TALL - 26))
        anchor = "start" if across[0] > 0.3 else "middle"
        parts.append(f'<text class="named figure" x="{at[0]:.1f}" y="{at[1]:.1f}" text-anchor="{anchor}">{escape(apart)}</text>')
    return parts


def _directions(view: View) -> list[str]:
    """Which way is to the right and which is up, in the lower right and the upper left corner."""
    return [
        f'<text class="way-of" x="{WIDE - 6:g}" y="{TALL - 8:g}" text-anchor="end">{escape(view.right)} →</text>',
        f'<text class="way-of" x="6" y="16">↑ {escape(view.up)}</text>',
    ]


def _bar(view: View, setting: Setting) -> list[str]:
    """A scale: a round length of about a quarter of the window; none where only heights are to scale."""
    if not view.together:
        return []
    unit = setting.program_scale
    most = 0.28 * WIDE / view.scale / unit
    power = 10.0 ** floor(log10(most))
    round_ = next(step * power for step in (5, 2, 1) if step * power <= most)
    wide = round_ * unit * view.scale
    y = TALL - 10
    name = f"{round_:g} {'inch' if unit == MM_PER_INCH else 'mm'}"
    return [
        f'<path class="bar" d="M8 {y - 5:g}v5h{wide:.1f}v-5"/>',
        f'<text class="way-of" x="{12 + wide:.1f}" y="{y + 2:g}">{name}</text>',
    ]
