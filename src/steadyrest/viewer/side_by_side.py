"""How is the first difference seen? What the toolpath asks for and what the program does beside each other, at one scale, from one side.

Out of the planes of the operation's frame the one is taken in which the two are farthest apart: on the machine, on the part, or on the
surface unrolled; where they differ by how far the part is turned, it is the view along the axis of rotation. Of a hole it is the height,
one step after the other. The window is as small as lets the difference be seen.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import combinations
from math import isfinite

import numpy as np

from steadyrest.columns import Bools, Floats, Ints
from steadyrest.conventions import AXES
from steadyrest.proof import Difference, Setting, Way

ACROSS = {"X": (1, 2), "Y": (0, 2), "Z": (0, 1)}
"""Of X, Y and Z, what is to the right and what is up for whoever looks along the axis of rotation."""
HAIR_MM = 0.05
"""Nearer than this, two places between which the tool leans are one."""
LEAST_SEEN, LEAST_STEP, LEAST_AROUND = 12.0, 16.0, 2.5
"""The window is no wider than so many times the difference, for the steps of a hole so many, and no narrower."""
ROOM = 1.36
"""And wider than what it has to hold by this."""
WIDE, TALL = 360.0, 270.0
"""Of a drawing, in its own units."""
NEAR = 2
"""So many strokes before and after the difference have to be seen, if the difference then still is."""


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two. Points (n, 2) to the right and up, mm; NaN where not known; `rapid` and `number` as of `Way`.

    asked_at, found_at   the two places of the difference, as they are marked here
    tools                (k, 2, 2) lines from the tip along the tool: of what is asked for, of what the program does
    """

    points: Floats
    rapid: Bools
    number: Ints
    asked_at: Floats | None
    found_at: Floats | None
    tools: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True)
class View:
    """Both sides from one place.

    name         what is seen, for people
    right, up    the names of the two directions
    asked, found the two sides; together, whether the one may be drawn under the other
    levels       heights with their names
    axis         (2,) or (2, 2): the axis of rotation, a point or a line; None where it is not in the plane
    low, high    (2,) the window, mm, the same of both
    stock        the stock: ("round", centre, radius) or ("box", low, high), the space that it sweeps; None where it is not drawn
    """

    name: str
    right: str
    up: str
    asked: Side
    found: Side
    together: bool
    levels: tuple[tuple[str, float], ...] = ()
    axis: Floats | None = None
    stock: tuple[str, Floats, Floats] | None = None
    low: Floats = field(default_factory=lambda: np.zeros(2))
    high: Floats = field(default_factory=lambda: np.ones(2))

    @property
    def apart_mm(self) -> float:
        """How far apart the two places are in this view; NaN where one is missing."""
        return _apart(self.asked.asked_at, self.asked.found_at)

    @property
    def missing_mm(self) -> float:
        """How far the place of the program lies below the next level, where it is its height that is wrong; 0 where none is above."""
        at = self.found.found_at
        height = float(at[1]) if at is not None and np.isfinite(at).all() else self.levels[-1][1] if self.levels else float("nan")
        return min((level - height for _, level in self.levels if level > height + 1e-4), default=0.0)

    @property
    def scale(self) -> float:
        """Units of the drawing per mm."""
        wide, tall = self.high - self.low
        return float(min(WIDE / wide, TALL / tall))


def view_of(difference: Difference, setting: Setting) -> View | None:
    """The view that shows a difference best; None where there is nothing to draw."""
    if not difference.shown:
        return None
    if difference.shown == "steps":
        return _windowed(_steps(difference))
    ends = [None if at is None else at[None, :] for at in (difference.asked_at, difference.found_at)]
    if difference.shown == "around" or (difference.shown == "path" and _turned_most(difference, ends)):
        return _windowed(_around(difference, setting))
    return _windowed(_flat(difference, setting, ends))


def _turned_most(difference: Difference, ends: list[Floats | None]) -> bool:
    """Whether it is the turn of the part that differs most, as a length at the swept radius; of a wrapped path that is its angle."""
    if ends[0] is None or ends[1] is None or difference.frame.kind == "wrapped":
        return False
    off = np.abs(difference.points(ends[1]) - difference.points(ends[0]))[0]
    return bool(off[3] > np.linalg.norm(np.nan_to_num(off[:3])))


def _flat(difference: Difference, setting: Setting, ends: list[Floats | None]) -> View:
    """In a plane of the operation's frame."""
    frame, kind = difference.frame.frame, difference.frame.kind
    along, lateral = frame.along, frame.lateral
    ways = [difference.points(way.stand) for way in (difference.asked, difference.found)]
    marks = [None if end is None else difference.points(end)[0] for end in ends]
    # Where the tool axes differ, the side is taken on which that is seen best, and the tools are drawn as they lean.
    reach = max(setting.swept_mm, 1.0)
    overs = [None if end is None or not difference.where or np.isnan(end[0, 4:]).any() else end[0, :3] + reach * end[0, 4:] for end in ends]
    leans = bool(difference.where) and difference.turned_rad * reach > (difference.off_mm or 0.0)
    if leans and marks[0] is not None and difference.off_mm < HAIR_MM:
        marks[1] = marks[0]
    told = [None if over is None else np.append(over, 0.0) for over in overs] if leans else marks
    if kind == "wrapped":
        planes = [(0, 1), *((one, 2) for one in (along, lateral) if one != 2), (3, 2)]
    elif difference.shown == "height":
        planes = [(0, 2), (1, 2)]
    else:
        planes = list(combinations(range(3), 2))
    if leans:  # the tools are seen from a side, not from their end
        axes = [end[0, 4:] for end in ends if end is not None]
        planes = [plane for plane in planes if all(np.linalg.norm(way[list(plane)]) > 0.5 for way in axes)] or planes
    one, two = max(planes, key=lambda plane: _worth(plane, ways, told))
    letter = setting.letter or "the part"
    unrolled_at = f"the surface unrolled at a diameter of {setting.length(2 * abs(difference.frame.developed_mm))}"
    around = f"around as {letter} turns"
    names = {0: "X", 1: "Y", 2: "Z", 3: AXES[lateral]}
    if kind == "wrapped":
        names |= {lateral: around, 2: "height over the wrapped surface" if difference.frame.height_mm else "height over the axis"}
    where = difference.where or {"work": "on the machine", "part": "on the part", "wrapped": "on the part"}[kind]
    unrolled = kind == "wrapped" and lateral in (one, two)
    name = (
        f"{unrolled_at}: {names[one]} to the right, {names[two]} up" if unrolled else f"{where}, {names[one]} to the right, {names[two]} up"
    )
    axis, stock = None, None
    if kind == "work" and not setting.lines and {one, two} <= {along, 2, lateral} and along in (one, two) and frame.axis != "Z":
        other = two if one == along else one
        far = 1e4
        line = np.zeros((2, 2))
        line[:, [one, two].index(along)] = frame.centre_mm[along] + np.array([-far, far])
        line[:, [one, two].index(other)] = frame.centre_mm[other]
        axis = line
        if np.isfinite(setting.span_mm).all():
            low, high = frame.centre_mm - setting.swept_mm, frame.centre_mm + setting.swept_mm
            low[along], high[along] = (frame.centre_mm[along] + end for end in setting.span_mm)
            stock = "box", low[[one, two]], high[[one, two]]
    pick = [one, two]
    asked_at, found_at = (None if mark is None else mark[pick] for mark in marks)
    lean = [np.array([end[0, pick], over[pick]]) for end, over in zip(ends, overs, strict=True) if end is not None and over is not None]
    tools = tuple(lean) if leans and len(lean) == 2 else ()
    asked, found = (
        Side(points[:, pick], way.rapid, way.number, asked_at, found_at, tools)
        for points, way in zip(ways, (difference.asked, difference.found), strict=True)
    )
    levels = difference.levels if two == 2 and kind == "work" else ()
    return View(name, _short(names[one]), _short(names[two]), asked, found, True, levels, axis, stock)


def _short(name: str) -> str:
    return name.split(" as ")[0].split(" over")[0]


def _worth(plane: tuple[int, int], ways: list[Floats], marks: list[Floats | None]) -> tuple[float, float]:
    """How much of the difference is seen in a plane, and how much of what is asked for."""
    seen = 0.0
    if marks[0] is not None and marks[1] is not None:
        off = np.nan_to_num((marks[1] - marks[0])[list(plane)])
        seen = float(np.linalg.norm(off))
        whole = float(np.linalg.norm(np.nan_to_num(marks[1] - marks[0])))
        seen = round(seen / whole, 2) if whole else 0.0
    if all(mark is None or np.isnan(mark[list(plane)]).any() for mark in marks):
        seen -= 2.0  # where neither place is known, nothing can be marked
    found = [way[:, list(plane)] for way in ways if len(way)]
    spans = [np.ptp(points[np.isfinite(points).all(axis=1)], axis=0) for points in found if np.isfinite(points).all(axis=1).any()]
    return seen, float(max((min(span) + 0.1 * max(span) for span in spans), default=0.0))


def _around(difference: Difference, setting: Setting) -> View:
    """Along the axis of rotation, the part held still: the tool goes around it."""
    frame = difference.frame.frame
    pick = list(ACROSS[frame.axis])
    marks: list[Floats | None] = []
    tools: list[Floats] = []
    for at in (difference.asked_at, difference.found_at):
        if at is None:
            marks.append(None)
            continue
        tip, over = difference.part_mm(at + np.outer([0.0, max(setting.swept_mm, 1.0)], [0, 0, 1, 0]))[:, pick]
        marks.append(tip)
        tools.append(np.array([tip, over]))
    asked, found = (
        Side(difference.part_mm(way.stand)[:, pick], way.rapid, way.number, marks[0], marks[1], tuple(tools))
        for way in (difference.asked, difference.found)
    )
    right, up = (AXES[one] for one in pick)
    centre = frame.centre_mm[pick]
    name = f"along the axis of rotation, the part held still, {right} to the right, {up} up"
    stock = ("round", centre, np.array([setting.swept_mm])) if setting.swept_mm > 0 else None
    return View(name, right, up, asked, found, True, (), centre, stock)


def _steps(difference: Difference) -> View:
    """The height of the tool in a hole, its steps beside each other from left to right."""
    heights = [way.stand[:, 2] for way in (difference.asked, difference.found)]
    known = np.concatenate([*heights, [level for _, level in difference.levels]])
    span = float(np.ptp(known[np.isfinite(known)])) if np.isfinite(known).any() else 1.0
    pitch = max(span, 1e-3) / max(6, *(len(set(_strokes(way))) for way in (difference.asked, difference.found)))
    sides = []
    for way, mark in zip((difference.asked, difference.found), (difference.asked_at, difference.found_at), strict=True):
        stroke = _strokes(way)
        places = np.column_stack([stroke * pitch, way.stand[:, 2]])
        at = len(stroke) - 1
        if mark is not None and len(way):
            same = np.flatnonzero(np.abs(way.stand[:, 2] - mark[2]) < 1e-6)
            named = difference.line if way is difference.found else None
            same = same[way.number[same] == named] if named is not None and (way.number[same] == named).any() else same
            at = int(same[0]) if len(same) else at
        across = float(stroke[at] * pitch) if len(way) else 0.0
        asked, found = (None if one is None else np.array([across, one[2]]) for one in (difference.asked_at, difference.found_at))
        sides.append(Side(places, way.rapid, way.number, asked, found))
    name = "the height of the tool in the hole, its steps from left to right"
    return View(name, "one step after the other", "Z", sides[0], sides[1], False, difference.levels)


def _strokes(way: Way) -> Ints:
    """The number of the stroke, from 0, to which each point belongs: a stroke is one block or one move, of a cycle one of its ways."""
    if not len(way):
        return np.empty(0, np.int64)
    new = (np.diff(way.number) != 0) | (np.diff(way.rapid) != 0)
    same_place = (np.diff(way.stand, axis=0) == 0).all(axis=1)  # the end of a stroke is the start of the next
    return np.concatenate([[0], np.cumsum(new | same_place)])


def _windowed(view: View) -> View:
    """The view with the window in which its difference is seen."""
    marks = [at for at in (view.asked.asked_at, view.asked.found_at) if at is not None and np.isfinite(at).all()]
    near = [_near(side, mark) for side in (view.asked, view.found) for mark in (side.asked_at, side.found_at) if mark is not None]
    if view.together or not marks:
        near = near or [side.points for side in (view.asked, view.found)]
    else:
        near = [side.points for side in (view.asked, view.found)]
    points = np.concatenate([np.empty((0, 2)), *near, *(mark[None, :] for mark in marks)])
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) == 0:
        points = np.zeros((1, 2))
    middle = np.mean(marks, axis=0) if marks else points.mean(axis=0)
    if not marks and view.levels:
        middle[1] = view.levels[-1][1]
    levels = [np.array([[middle[0], level]]) for _, level in view.levels]
    points = np.concatenate([points, *levels])
    if view.axis is not None and view.axis.ndim == 1 and view.stock is not None:
        radius = float(view.stock[2][0])
        points = np.concatenate([points, view.axis + radius * np.array([[-1, -1], [1, 1]])])
    low, high = points.min(axis=0), points.max(axis=0)
    off = view.apart_mm
    if not isfinite(off) and (missing := view.missing_mm) > 0:
        off, middle = missing, middle + np.array([0.0, missing / 2])
    if isfinite(off) and off > 0:
        most = (LEAST_SEEN if view.together else LEAST_STEP) * off
        if (high - low).max() > most:
            low, high = middle - most / 2, middle + most / 2
    centre = (low + high) / 2
    wide, tall = (high - low) * ROOM
    least = LEAST_AROUND * off if isfinite(off) and off > 0 else 1e-2
    wide, tall = max(wide, least, tall * WIDE / TALL), max(tall, least * TALL / WIDE, wide * TALL / WIDE)
    wide, tall = max(wide, tall * WIDE / TALL), max(tall, wide * TALL / WIDE)
    half = np.array([wide, tall]) / 2
    return replace(view, low=centre - half, high=centre + half)


def _near(side: Side, mark: Floats) -> Floats:
    """The points of the strokes next to a place."""
    if not len(side.points):
        return np.empty((0, 2))
    apart = np.linalg.norm(side.points - mark, axis=1)
    if np.isnan(apart).all():
        return np.empty((0, 2))
    at = int(np.nanargmin(apart))
    runs = np.concatenate([[0], np.cumsum(np.diff(side.number) != 0)])
    return np.asarray(side.points[np.abs(runs - runs[at]) <= NEAR])


def _apart(one: Floats | None, other: Floats | None) -> float:
    return float("nan") if one is None or other is None else float(np.linalg.norm(one - other))
