"""What does each operation do, for somebody who wants to see that it is the right part: figures, a rough drawing of where it cuts, and how
the cuts lie against the stock: how far from its ends and from the jaws, how deep, and do they reach it at all?

Points are told round the axis of rotation: how far along it, how far from it, at which angle. So operations of every intent can stand
beside each other, and beside the stock. About X the angle of a point is atan2(-y, z), about Y atan2(x, z), as for the tool's axis
(design: frames and signs); about Z, along which the tool looks, it is atan2(y, x).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import inf, isfinite

import numpy as np

from steadyrest.columns import Bools, Floats
from steadyrest.conventions import AXES, PLANE_AXES
from steadyrest.toolpath.columns import ARC_CLOCKWISE, CUT, Holes, MoveColumns
from steadyrest.toolpath.model import Operation, Toolpath
from steadyrest.toolpath.parts import ACROSS, Indexed, Stock, Wrapped

STEP_DEG = 5.0
"""An arc, and a straight line round the axis, is gone through in steps of at most this angle."""
MOST_STEPS = 400
"""Of one move."""
MOST_POINTS = 400
"""Of the drawing of one operation."""
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class OperationFacts:
    """One operation; lengths in the file's units, angles in degrees.

    angles    of an indexed operation; empty otherwise
    planes    in how many planes it is cut; 0 otherwise
    diameter  of a wrapped one; None otherwise
    moves     rapids, cuts and holes, counted once, however many angles there are; cuts, holes: how many of them are such
    feeds     the least and the greatest of what it cuts; None where it cuts nothing
    along     from where to where its cuts reach along the axis of rotation, in the toolpath's own coordinate; of the tip alone
    radius    how near to the axis of rotation they come, and how far from it they are; of the tip alone, within 0.2 percent
    path      (k, 3) along, radius, angle: the tip while it cuts, rows of NaN where it is lifted; thinned to some hundred points.
              Of an operation indexed at angles as it lies at the angle 0, of one in planes in all of them
    """

    number: int
    name: str
    tool: int
    rpm: float
    turns: str
    coolant: str
    intent: str
    angles: tuple[float, ...]
    planes: int
    diameter: float | None
    moves: int
    cuts: int
    holes: int
    feeds: tuple[float, float] | None
    along: tuple[float, float] | None
    radius: tuple[float, float] | None
    path: Floats


def operation_facts(toolpath: Toolpath) -> Iterator[OperationFacts]:
    """The facts of each operation, in their order. ToolpathError for a move that is wrong, as from streaming it."""
    centre = np.array(toolpath.centre, dtype=np.float64)
    for number, operation in enumerate(toolpath.operations, 1):
        yield _facts(number, operation, _Round(toolpath.axis, centre, operation))


class _Round:
    """How points of an operation's own frame lie round the axis of rotation."""

    def __init__(self, axis: str, centre: Floats, operation: Operation) -> None:
        self.axis, self.centre = axis, centre
        wrapped = operation.rotary if isinstance(operation.rotary, Wrapped) else None
        self.drawn_from = wrapped if wrapped is not None and wrapped.plane is not None else None
        self.wrapped = wrapped if self.drawn_from is None else None
        self.planes = (operation.rotary.planes or ()) if isinstance(operation.rotary, Indexed) else ()

    def in_part(self, points: Floats) -> list[Floats]:
        """Points (n, 3) of the moves as often as they are cut somewhere else: in each plane, or laid round from one, in the part frame."""
        if (wrapped := self.drawn_from) is not None and wrapped.plane is not None:
            x, _, z = wrapped.plane.axes.T
            alpha = np.radians(wrapped.start_angle) - points[:, 1:2] / (wrapped.diameter / 2)
            height = points[:, 2:] + (wrapped.diameter / 2 if wrapped.z_from == "surface" else 0.0)
            out = np.cos(alpha) * z + np.sin(alpha) * np.cross(x, z)
            return [np.array(wrapped.plane.origin) + points[:, :1] * x + height * out]
        return [np.array(plane.origin) + points @ plane.axes.T for plane in self.planes] or [points]

    def told(self, points: Floats) -> Floats:
        """Points (n, 3) as along, radius and angle in degrees (n, 3)."""
        along = AXES.index(self.axis)
        first, second = ACROSS[self.axis]
        if (wrapped := self.wrapped) is not None:
            cylinder = wrapped.diameter / 2
            radius = points[:, 2] + (cylinder if wrapped.z_from == "surface" else 0.0)
            sense = -1.0 if self.axis == "X" else 1.0
            return np.column_stack([points[:, along], radius, wrapped.start_angle + sense * np.degrees(points[:, first] / cylinder)])
        one, other = points[:, first] - self.centre[first], points[:, second] - self.centre[second]
        angle = np.arctan2(other, one) if self.axis == "Z" else np.arctan2(-one if self.axis == "X" else one, other)
        return np.column_stack([points[:, along], np.hypot(one, other), np.degrees(angle)])

    def steps(self, begin: Floats, end: Floats) -> Floats:
        """(n,) in how many steps straight lines are gone through."""
        if self.wrapped is not None:
            return np.ones(len(end))
        if (drawn := self.drawn_from) is not None:
            return np.asarray(np.ceil(np.degrees(np.abs(np.nan_to_num(end - begin)[:, 1]) / (drawn.diameter / 2)) / STEP_DEG))
        pairs = zip(self.in_part(begin), self.in_part(end), strict=True)
        swept = [np.abs((self.told(there)[:, 2] - self.told(here)[:, 2] + 180.0) % 360.0 - 180.0) for here, there in pairs]
        return np.asarray(np.ceil(np.nan_to_num(np.max(swept, axis=0)) / STEP_DEG), dtype=np.float64)


def _stepped(run: MoveColumns, stands: Floats, round_: _Round) -> tuple[Floats, Bools]:
    """The points (m, 3) that a run goes through from where the tool stands, that point first, and whether it cuts on the way to each."""
    begin = np.vstack([stands, run.end[:-1]])
    arc, cut = run.kind >= ARC_CLOCKWISE, run.kind >= CUT
    steps = round_.steps(begin, run.end)
    if run.arcs is not None:
        steps[arc] = np.ceil(np.degrees(np.abs(run.arcs.sweep_rad[arc])) / STEP_DEG)
    count = np.where(cut, np.clip(steps, 1, MOST_STEPS), 1).astype(np.int64)
    row = np.repeat(np.arange(len(run)), count)
    share = (np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + 1) / count[row]
    points = np.where((share == 1.0)[:, None], run.end[row], begin[row] + share[:, None] * (run.end - begin)[row])
    if run.arcs is not None:
        at = np.flatnonzero(arc[row] & (share < 1.0))
        which = row[at]
        order = np.array(PLANE_AXES)[run.arcs.plane[which]]
        flat, lines = order[:, :2], np.arange(len(at))[:, None]
        turn = run.arcs.sweep_rad[which] * share[at]
        first, second = (begin[which][lines, flat] - run.arcs.centre[which][lines, flat]).T
        across = np.column_stack([first * np.cos(turn) - second * np.sin(turn), first * np.sin(turn) + second * np.cos(turn)])
        points[at[:, None], flat] = run.arcs.centre[which][lines, flat] + across
    return np.vstack([stands, points]), np.append(False, cut[row])


def _drawn(told: Floats, cut: Bools) -> Floats:
    """What of points is cut, each cut with its beginning, and a row of NaN before each that goes on from no other."""
    begins = ~cut & np.append(cut[1:], False)
    kept = np.flatnonzero(cut | begins)
    return np.insert(told[kept], np.flatnonzero(begins[kept]), np.nan, axis=0)


def _thinned(path: Floats) -> Floats:
    """Every so many rows of a path; its breaks and the rows beside them stay as long as there are few enough of them."""
    if len(path) <= MOST_POINTS:
        return path
    every = -(-len(path) // MOST_POINTS)
    gap = np.isnan(path[:, 0])
    kept = (np.arange(len(path)) % every == 0) | np.append(gap[1:], True) | np.append(True, gap[:-1]) | gap
    return path[kept] if kept.sum() <= 4 * MOST_POINTS else path[::every]


def _facts(number: int, operation: Operation, round_: _Round) -> OperationFacts:
    rotary = operation.rotary
    moves = cuts = holes = 0
    paths: list[Floats] = []
    feeds, along, radius = (inf, -inf), (inf, -inf), (inf, -inf)
    stands = np.full(3, np.nan)
    for item in operation.stream():
        if isinstance(item, Holes):
            tops = np.where(np.isnan(item.surface), item.retract, item.surface)
            begin, end = (np.column_stack([item.xy, height]) for height in (tops, item.bottom))
            points, cut = np.stack([begin, end], axis=1).reshape(-1, 3), np.tile([False, True], len(item))
            stands = np.append(item.xy[-1], item.retract[-1])
            holes += len(item)
            fed = item.feed
        elif isinstance(item, MoveColumns):
            points, cut = _stepped(item, stands, round_)
            stands = item.end[-1]
            cuts += int((item.kind >= CUT).sum())
            fed = item.feed[item.kind >= CUT]
        else:
            continue
        moves += len(item)
        for place in round_.in_part(points):
            path = _drawn(round_.told(place), cut)
            feeds, along, radius = _wider(feeds, fed), _wider(along, path[:, 0]), _wider(radius, path[:, 1])
            paths += [_thinned(path), np.full((1, 3), np.nan)] if round_.planes else [_thinned(path)]
    return OperationFacts(
        number=number,
        name=operation.name,
        tool=operation.tool,
        rpm=operation.spindle.rpm,
        turns=operation.spindle.turns,
        coolant=operation.coolant,
        intent=rotary.intent,
        angles=(rotary.angles or ()) if isinstance(rotary, Indexed) else (),
        planes=len(rotary.planes or ()) if isinstance(rotary, Indexed) else 0,
        diameter=rotary.diameter if isinstance(rotary, Wrapped) else None,
        moves=moves,
        cuts=cuts,
        holes=holes,
        feeds=_known(feeds),
        along=_known(along),
        radius=_known(radius),
        path=_thinned(np.concatenate(paths)) if paths else np.empty((0, 3)),
    )


def _wider(span: Span, values: Floats) -> Span:
    known = values[np.isfinite(values)]
    return (min(span[0], float(known.min())), max(span[1], float(known.max()))) if len(known) else span


def _known(span: Span) -> Span | None:
    return span if isfinite(span[0]) else None


@dataclass(frozen=True, slots=True)
class Reach:
    """Cuts against the stock; lengths in file units, positions along the axis of rotation in the part frame.

    cuts     from where to where the tool cuts along the axis, its width included. A ball or a point is counted as wide as the tool, so
             it may be less
    stock    from where to where the stock is along the axis
    nearest  how near the tool comes to the axis of rotation; 0: it reaches it. Where the tool looks at the axis (X and Y) this is its tip
    swept    how far the turning stock reaches from the axis
    jaws     from where to where the stock is in the jaws, and all beyond them; None: the held end is not stated
    """

    cuts: Span
    stock: Span
    nearest: float
    swept: float
    jaws: Span | None

    @property
    def left(self) -> Span:
        """What of the stock is left beyond the cuts, at its beginning and at its end; negative: the tool reaches past it by that."""
        return self.cuts[0] - self.stock[0], self.stock[1] - self.cuts[1]

    @property
    def depth(self) -> float:
        """How deep below the outermost surface; negative: the tool stays that far outside of all that turns."""
        return self.swept - self.nearest

    @property
    def clear_of_jaws(self) -> float | None:
        """How far the tool stays from the jaws along the axis; negative: so far into them. None where the held end is not stated."""
        if self.jaws is None:
            return None
        return self.cuts[0] - self.jaws[1] if self.jaws[0] <= self.stock[0] else self.jaws[0] - self.cuts[1]

    @property
    def touches(self) -> bool:
        """Whether the tool can cut any of it: not where it stays outside of what turns, or past an end."""
        return self.depth > 0 and min(self.cuts[1], self.stock[1]) > max(self.cuts[0], self.stock[0])


def reach(stock: Stock, axis: str, centre: Sequence[float], along: Span, radius: Span, tool_diameter: float) -> Reach:
    """Cuts that an operation's facts (`operation_facts`) place along and round the axis, against a stock.

    along, radius    of the tip, as in the facts: along in the part frame, radius from the axis of rotation
    tool_diameter    0 where it is not known: then all is of the tip alone
    """
    zero, half = centre[AXES.index(axis)], tool_diameter / 2
    begin, end = (zero + each for each in stock.along(axis))
    across, towards = (0.0, half) if axis == "Z" else (half, 0.0)
    jaws = None
    if stock.held is not None:
        deep = stock.held.length or 0.0
        jaws = (-float("inf"), begin + deep) if stock.held.at == "from" else (end - deep, float("inf"))
    cuts = (along[0] - across, along[1] + across)
    return Reach(cuts, (begin, end), max(0.0, radius[0] - towards), stock.swept_radius(axis), jaws)


def together(reaches: Iterable[Reach]) -> Reach | None:
    """Several operations' cuts as one; None for none."""
    found = list(reaches)
    if not found:
        return None
    first = found[0]
    cuts = (min(each.cuts[0] for each in found), max(each.cuts[1] for each in found))
    return Reach(cuts, first.stock, min(each.nearest for each in found), first.swept, first.jaws)
