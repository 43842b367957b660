"""How do the objects in `moves` become columns and events?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from steadyrest.conventions import PLANE_AXES, PLANES
from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath.columns import (
    ARC_CLOCKWISE,
    ARC_COUNTERCLOCKWISE,
    CUT,
    CYCLES,
    RAPID,
    RUN_LENGTH,
    ArcColumns,
    Dwell,
    Holes,
    Item,
    MoveColumns,
    Note,
    Stop,
    unit_axes,
    with_sweeps,
)
from steadyrest.toolpath.moves import ArcMove, CutMove, DwellMove, HoleMove, Move, RapidMove, StopMove

LEAD_TOLERANCE = 1e-3
"""How far a tap's feed may be from rpm times pitch, as a fraction: the limit the project sets for every feed."""

_Three = tuple[float, float, float]
_HoleRow = tuple[int, int, float, float, float, float, float, float, float, float, float]
"""Number, cycle, x, y, retract, bottom, feed, surface, peck, dwell and lead of a hole."""
_NOWHERE: _Three = (float("nan"),) * 3
_NO_FEED = float("nan")


@dataclass(slots=True)
class _Rows:
    """The rows of the run being gathered."""

    first_move: int = 0
    kind: list[int] = field(default_factory=list)
    end: list[_Three] = field(default_factory=list)
    axis: list[_Three] = field(default_factory=list)
    feed: list[float] = field(default_factory=list)
    arcs: list[tuple[int, ArcMove]] = field(default_factory=list)


def stream_moves(moves: Iterable[Move], *, simultaneous: bool, rpm: float, units: str, place: Place) -> Iterator[Item]:
    """The moves of one operation in order, motions and holes in runs of columns; ToolpathError with the move's number."""
    rows, holes = _Rows(), list[_HoleRow]()
    position: _Three = _NOWHERE  # where the run being gathered starts
    last: _Three = _NOWHERE
    feed = _NO_FEED
    axis: _Three | None = None

    def gathered() -> Iterator[Item]:
        nonlocal rows, holes
        if rows.kind:
            yield _columns(rows, position, units, place)
            rows = _Rows()
        if holes:
            yield _holes(holes)
            holes = []

    for number, move in enumerate(moves, start=1):
        is_motion = isinstance(move, RapidMove | CutMove | ArcMove)
        if holes if is_motion else rows.kind:
            yield from gathered()
        if isinstance(move, RapidMove | CutMove | ArcMove):
            if not isinstance(move, ArcMove):
                axis = _axis_in_force(move.tool_axis, axis, simultaneous, place, number)
            elif simultaneous:
                raise ToolpathError(
                    "an arc is not possible while the rotary moves",
                    place=replace(place, move=number, key="arc"),
                    cure="give the arc as short cuts, each with its tool_axis",
                )
            if not rows.kind:
                rows.first_move, position = number, last
            if isinstance(move, RapidMove):
                rows.kind.append(RAPID)
                rows.feed.append(_NO_FEED)
                last = move.rapid
            else:
                feed = _feed_in_force(move.feed, feed, place, number, "an arc" if isinstance(move, ArcMove) else "a cut")
                rows.feed.append(feed)
                if isinstance(move, CutMove):
                    rows.kind.append(CUT)
                    last = move.cut
                else:
                    rows.arcs.append((len(rows.kind), move))
                    rows.kind.append(ARC_CLOCKWISE if move.turns == "clockwise" else ARC_COUNTERCLOCKWISE)
                    last = move.arc
            rows.end.append(last)
            if axis is not None:
                rows.axis.append(axis)
        elif isinstance(move, HoleMove):
            if simultaneous:
                raise ToolpathError(
                    "a hole is not possible in a simultaneous operation",
                    place=replace(place, move=number, key="hole"),
                    cure="put the holes into an indexed operation at their angles",
                )
            holes.append(_hole(move, feed, rpm, place, number))
            feed = move.feed if move.feed is not None else feed
            last = move.hole[0], move.hole[1], move.retract
        else:
            yield from gathered()
            if isinstance(move, DwellMove):
                yield Dwell(number, move.dwell)
            elif isinstance(move, StopMove):
                yield Stop(number, move.stop.optional)
            else:
                yield Note(number, move.note)
        if len(rows.kind) == RUN_LENGTH or len(holes) == RUN_LENGTH:
            yield from gathered()
    yield from gathered()


def _axis_in_force(given: _Three | None, before: _Three | None, simultaneous: bool, place: Place, number: int) -> _Three | None:
    if not simultaneous:
        if given is not None:
            raise ToolpathError(
                "tool_axis is allowed in simultaneous operations only",
                place=replace(place, move=number, key="tool_axis"),
                cure="leave it out, or give the operation the rotary intent 'simultaneous'",
            )
        return None
    if given is None and before is None:
        raise ToolpathError(
            "the tool axis is not known yet: the first point of a simultaneous operation has none",
            place=replace(place, move=number, key="tool_axis"),
            cure="add 'tool_axis', a unit vector from the tip towards the spindle; it holds until the next one",
        )
    return before if given is None else given


def _feed_in_force(given: float | None, before: float, place: Place, number: int, what: str) -> float:
    feed = before if given is None else given
    if feed != feed:
        raise ToolpathError(
            f"{what} before any feed in this operation",
            place=replace(place, move=number, key="feed"),
            cure="add 'feed', in units per minute; it holds until the next one in the operation",
        )
    return feed


def _hole(move: HoleMove, feed: float, rpm: float, place: Place, number: int) -> _HoleRow:
    def wrong(wrong: str, key: str, cure: str) -> ToolpathError:
        return ToolpathError(wrong, place=replace(place, move=number, key=key), cure=cure)

    lead = float("nan")
    if move.cycle == "tap":
        if rpm == 0.0:
            raise wrong("a tap needs a turning spindle; rpm is 0", "cycle", "give the operation's spindle an rpm above 0")
        if move.pitch is not None:
            lead, right = move.pitch, rpm * move.pitch
            if move.feed is not None and abs(move.feed - right) > LEAD_TOLERANCE * right:
                raise wrong(
                    f"feed {move.feed:g} does not fit pitch {move.pitch:g} at {rpm:g} rpm; allowed is {right:g}",
                    "feed",
                    "set feed to rpm times pitch, or leave it out",
                )
            feed = right
    if lead != lead:
        feed = _feed_in_force(move.feed, feed, place, number, "a hole")
        if move.cycle == "tap":
            lead = feed / rpm
    x, y, surface = move.hole if len(move.hole) == 3 else (*move.hole, float("nan"))
    peck = float("nan") if move.peck is None else move.peck
    return number, CYCLES.index(move.cycle), x, y, move.retract, move.bottom, feed, surface, peck, move.dwell or 0.0, lead


def _holes(rows: list[_HoleRow]) -> Holes:
    move, cycle, x, y, retract, bottom, feed, surface, peck, dwell, lead = np.array(rows, dtype=np.float64).T.copy()
    moves, cycles, xy = move.astype(np.int64), cycle.astype(np.uint8), np.column_stack([x, y])
    return Holes(moves, xy, cycles, retract, bottom, feed, surface, peck, dwell, lead)


def _columns(rows: _Rows, position: _Three, units: str, place: Place) -> MoveColumns:
    run = MoveColumns(
        first_move=rows.first_move,
        kind=np.array(rows.kind, dtype=np.uint8),
        end=np.array(rows.end, dtype=np.float64),
        tool_axis=unit_axes(np.array(rows.axis, dtype=np.float64), place, rows.first_move) if rows.axis else None,
        feed=np.array(rows.feed, dtype=np.float64),
    )
    if not rows.arcs:
        return run
    n, start = len(run), np.vstack([np.array([position]), run.end[:-1]])
    arcs = ArcColumns(np.full((n, 3), np.nan), np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64), np.full(n, np.nan))
    for row, arc in rows.arcs:
        plane = PLANES.index(arc.plane)
        third = PLANE_AXES[plane][2]
        arcs.centre[row], arcs.plane[row], arcs.full_turns[row] = arc.centre, plane, arc.full_turns
        arcs.centre[row, third] = start[row, third]
    return with_sweeps(replace(run, arcs=arcs), start, units, place)
