"""How do the objects in `moves` become columns and events?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from steadyrest.errors import Place, ToolpathError
from steadyrest.toolpath.columns import (
    ARC_CLOCKWISE,
    ARC_COUNTERCLOCKWISE,
    CUT,
    PLANE_AXES,
    PLANES,
    RAPID,
    RUN_LENGTH,
    Dwell,
    Event,
    Hole,
    MoveColumns,
    Note,
    Stop,
    arc_sweeps,
    unit_axes,
)
from steadyrest.toolpath.moves import ArcMove, CutMove, DwellMove, HoleMove, Move, NoteMove, RapidMove, StopMove

LEAD_TOLERANCE = 1e-3
"""How far a tap's feed may be from rpm times pitch, as a fraction: the limit the project sets for every feed."""

_Three = tuple[float, float, float]
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


def stream_moves(moves: Sequence[Move], *, simultaneous: bool, rpm: float, units: str, place: Place) -> Iterator[MoveColumns | Event]:
    """The moves of one operation in order, motions in runs of columns; ToolpathError with the move's number."""
    rows = _Rows()
    position: _Three = _NOWHERE  # where the run being gathered starts
    last: _Three = _NOWHERE
    feed = _NO_FEED
    axis: _Three | None = None

    for number, move in enumerate(moves, start=1):
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
            if len(rows.kind) == RUN_LENGTH:
                yield _columns(rows, position, units, place)
                rows = _Rows()
            continue
        if rows.kind:
            yield _columns(rows, position, units, place)
            rows = _Rows()
        if isinstance(move, DwellMove):
            yield Dwell(number, move.dwell)
        elif isinstance(move, StopMove):
            yield Stop(number, move.stop.optional)
        elif isinstance(move, NoteMove):
            yield Note(number, move.note)
        else:
            if simultaneous:
                raise ToolpathError(
                    "a hole is not possible in a simultaneous operation",
                    place=replace(place, move=number, key="hole"),
                    cure="put the holes into an indexed operation at their angles",
                )
            hole = _hole(move, feed, rpm, replace(place, move=number))
            feed = move.feed if move.feed is not None else feed
            last = (hole.x, hole.y, hole.retract)
            yield hole
    if rows.kind:
        yield _columns(rows, position, units, place)


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


def _hole(move: HoleMove, feed: float, rpm: float, place: Place) -> Hole:
    lead: float | None = None
    if move.cycle == "tap":
        if rpm == 0.0:
            raise ToolpathError(
                "a tap needs a turning spindle; rpm is 0",
                place=replace(place, key="cycle"),
                cure="give the operation's spindle an rpm above 0",
            )
        if move.pitch is not None:
            lead, right = move.pitch, rpm * move.pitch
            if move.feed is not None and abs(move.feed - right) > LEAD_TOLERANCE * right:
                raise ToolpathError(
                    f"feed {move.feed:g} does not fit pitch {move.pitch:g} at {rpm:g} rpm; allowed is {right:g}",
                    place=replace(place, key="feed"),
                    cure="set feed to rpm times pitch, or leave it out",
                )
            feed = right
    if move.feed is not None and lead is None:
        feed = move.feed
    feed = _feed_in_force(None, feed, place, place.move or 0, "a hole")
    if move.cycle == "tap" and lead is None:
        lead = feed / rpm
    return Hole(
        move=place.move or 0,
        x=move.hole[0],
        y=move.hole[1],
        cycle=move.cycle,
        retract=move.retract,
        bottom=move.bottom,
        feed=feed,
        surface=move.hole[2] if len(move.hole) == 3 else None,
        peck=move.peck,
        dwell=move.dwell or 0.0,
        lead=lead,
    )


def _columns(rows: _Rows, position: _Three, units: str, place: Place) -> MoveColumns:
    columns = MoveColumns(
        first_move=rows.first_move,
        kind=np.array(rows.kind, dtype=np.uint8),
        end=np.array(rows.end, dtype=np.float64),
        tool_axis=unit_axes(np.array(rows.axis, dtype=np.float64), place, rows.first_move) if rows.axis else None,
        feed=np.array(rows.feed, dtype=np.float64),
    )
    if not rows.arcs:
        return columns
    n = len(columns)
    start = np.vstack([np.array([position]), columns.end[:-1]])
    centre, plane, turns = np.full((n, 3), np.nan), np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64)
    for row, arc in rows.arcs:
        third = PLANE_AXES[PLANES[arc.plane]][2]
        centre[row] = arc.centre
        centre[row, third] = start[row, third]
        plane[row] = PLANES[arc.plane]
        turns[row] = arc.full_turns
    columns = replace(columns, arc_centre=centre, arc_plane=plane, full_turns=turns)
    resolved, sweep = arc_sweeps(columns, start, units, place)
    return replace(columns, full_turns=resolved, arc_sweep_rad=sweep)
