"""Moves: the objects in `moves`, each told by its one key (rapid, cut, arc, dwell, hole, stop, note), and the columns that they become."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import (
    Discriminator,
    Field,
    Tag,
    TypeAdapter,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WrapSerializer,
    WrapValidator,
    model_validator,
)

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
from steadyrest.toolpath.parts import NotNegative, Number, Part, Point, Positive, Text, Turns, Whole, broken_rule

_FEED = "Speed of the tip over the part, in `units` per minute; holds until the next one in the operation."
_TOOL_AXIS = (
    "Unit vector from the tip towards the spindle, in the part frame; in simultaneous operations only, "
    "holds until the next one in the operation."
)

Cycle = Literal["drill", "dwell-drill", "peck", "chip-break", "tap", "bore"]


class RapidMove(Part):
    """Positioning in air; it has no feed."""

    rapid: Point = Field(description="End point x, y, z of the tip, in `units`.")
    tool_axis: Point | None = Field(default=None, description=_TOOL_AXIS)


class CutMove(Part):
    """A straight cut."""

    cut: Point = Field(description="End point x, y, z of the tip, in `units`.")
    feed: Positive | None = Field(default=None, description=_FEED)
    tool_axis: Point | None = Field(default=None, description=_TOOL_AXIS)


class ArcMove(Part):
    """A circular or helical cut from where the last move ended; it ends where it starts for a full circle."""

    arc: Point = Field(description="End point x, y, z of the tip, in `units`.")
    centre: Point = Field(description="Centre x, y, z of the arc, in `units`; the coordinate across the plane does not matter.")
    turns: Turns = Field(description="Sense of turning, seen from the + side of the axis across the plane.")
    plane: Literal["XY", "XZ", "YZ"] = Field(
        default="XY", description="The plane of the arc; XY unless given. Helical when the third coordinate changes."
    )
    full_turns: Annotated[Whole, Field(ge=0, le=100_000)] = Field(
        default=0,
        description="Full turns besides the part turn from start to end; 0 unless given. "
        "An arc that ends where it starts is this many full circles, one unless more.",
    )
    feed: Positive | None = Field(default=None, description=_FEED)


class DwellMove(Part):
    """The tool stands while the spindle turns."""

    dwell: NotNegative = Field(description="How long, in seconds.")


class HoleMove(Part):
    """A drilling cycle along Z.

    If the tool stands below `retract` it rises there first; it goes across at the height it is at, down to `retract`
    at rapid, to `bottom` as the cycle says, and back to `retract`, where it ends (NISTIR 6556 3.5.16 with return to R).
    """

    hole: Annotated[tuple[Number, ...], Field(min_length=2, max_length=3)] = Field(
        description="Where, in `units`: x, y, or x, y, z with the height of the surface that the hole starts from, "
        "which is only checked to lie between `bottom` and `retract`."
    )
    cycle: Cycle = Field(
        default="drill",
        description="`drill`: feed down, rapid up. `dwell-drill`: the same with a dwell at the bottom. `peck`: by steps "
        "of `peck`, out to `retract` after each. `chip-break`: by steps, backing off a little after each. `tap`: feed "
        "down and up in step with the spindle, reversed at the bottom. `bore`: feed down and feed up.",
    )
    retract: Number = Field(description="Height z from which the tool feeds and to which it returns, in `units`.")
    bottom: Number = Field(description="Height z of the bottom, reached by the tip, in `units`; below `retract`.")
    peck: Positive | None = Field(default=None, description="Step of `peck` and `chip-break`, in `units`.")
    dwell: NotNegative | None = Field(default=None, description="Dwell at the bottom, in seconds; none unless given.")
    pitch: Positive | None = Field(
        default=None, description="Lead of the thread for `tap`, in `units`; feed over spindle speed unless given."
    )
    feed: Positive | None = Field(default=None, description=_FEED)

    @model_validator(mode="after")
    def _makes_a_hole(self) -> Self:
        if not self.bottom < self.retract:
            raise broken_rule(f"bottom {self.bottom:g} is not below retract {self.retract:g}", "the tool drills down from retract")
        if len(self.hole) == 3 and not self.bottom < self.hole[2] <= self.retract:
            raise broken_rule(
                f"the surface at z {self.hole[2]:g} is not between bottom {self.bottom:g} and retract {self.retract:g}",
                "the third number of hole is the height of the surface: correct it or leave it out",
            )
        stepped = self.cycle in ("peck", "chip-break")
        if stepped and self.peck is None:
            raise broken_rule(f"cycle {self.cycle} has no step", "add 'peck', the depth of one step")
        if not stepped and self.peck is not None:
            raise broken_rule(f"cycle {self.cycle} takes no 'peck'", "use cycle peck or chip-break, or leave 'peck' out")
        if self.cycle == "dwell-drill" and self.dwell is None:
            raise broken_rule("cycle dwell-drill has no dwell", "add 'dwell', in seconds, or use cycle drill")
        if self.cycle in ("drill", "tap") and self.dwell is not None:
            raise broken_rule(f"cycle {self.cycle} takes no 'dwell'", "use cycle dwell-drill, or leave 'dwell' out")
        if self.cycle != "tap" and self.pitch is not None:
            raise broken_rule(f"cycle {self.cycle} takes no 'pitch'", "use cycle tap, or leave 'pitch' out")
        return self


class StopSettings(Part):
    """How a stop behaves."""

    optional: Annotated[bool, Field(strict=True)] = Field(
        default=False, description="true: stop only if the operator has asked for it at the machine; false: always."
    )


class StopMove(Part):
    """The program stops until cycle start."""

    stop: StopSettings = Field(description='`{"optional": true}` or `{"optional": false}`.')


class NoteMove(Part):
    """A line of text for the operator; no motion."""

    note: Text = Field(description="The text; characters that the controller does not take are replaced.")


MOVE_KINDS: dict[str, type[Part]] = {
    "rapid": RapidMove,
    "cut": CutMove,
    "arc": ArcMove,
    "dwell": DwellMove,
    "hole": HoleMove,
    "stop": StopMove,
    "note": NoteMove,
}
_KEYS = frozenset(MOVE_KINDS)
_KEY_OF = {kind: key for key, kind in MOVE_KINDS.items()}


def move_key(move: Any) -> str | None:
    """The one key that tells what a move is; None when there is none or more than one."""
    if not isinstance(move, dict):
        return _KEY_OF.get(type(move))
    found = _KEYS & move.keys()
    if len(found) == 2 and "hole" in found and "dwell" in found:
        return "hole"  # a hole may dwell at its bottom
    return next(iter(found)) if len(found) == 1 else None


Move = Annotated[
    Annotated[RapidMove, Tag("rapid")]
    | Annotated[CutMove, Tag("cut")]
    | Annotated[ArcMove, Tag("arc")]
    | Annotated[DwellMove, Tag("dwell")]
    | Annotated[HoleMove, Tag("hole")]
    | Annotated[StopMove, Tag("stop")]
    | Annotated[NoteMove, Tag("note")],
    Discriminator(move_key),
]
MOVES: TypeAdapter[list[Move]] = TypeAdapter(list[Move], config={"defer_build": True})


class MovesInFile:
    """A long list of moves that is still in its file: read some at a time, and anew each time it is gone through."""

    def __init__(self, read: Callable[[Place], Iterator[Move]]) -> None:
        self.read = read

    def __iter__(self) -> Iterator[Move]:
        return self.read(Place())

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, MovesInFile | tuple):
            return NotImplemented
        return all(one == theirs for one, theirs in zip_longest(self, other))

    __hash__ = None  # type: ignore[assignment]


def _or_in_file(value: Any, handler: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
    """Moves as they are given; those of a placeholder that loading has put in their place."""
    if isinstance(value, MovesInFile):
        return value
    later = (info.context or {}).get("later", {})
    return later[value] if isinstance(value, str) and isinstance(later.get(value), MovesInFile) else handler(value)


Moves = Annotated[
    tuple[Move, ...],
    Field(min_length=1),
    WrapValidator(_or_in_file),
    WrapSerializer(lambda moves, handler: handler(tuple(moves))),
]


LEAD_TOLERANCE = 1e-3
"""How far a tap's feed may be from rpm times pitch, as a fraction: the limit the project sets for every feed."""

_Three = tuple[float, float, float]
_HoleRow = tuple[int, int, float, float, float, float, float, float, float, float, float]
"""Number, cycle, x, y, retract, bottom, feed, surface, peck, dwell and lead of a hole."""
_NOWHERE: _Three = (float("nan"),) * 3


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
    feed = float("nan")
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
            if not rows.kind:
                rows.first_move, position = number, last
            if simultaneous:
                if isinstance(move, ArcMove):
                    raise _wrong(place, number, "arc", "an arc is not possible while the rotary moves", _AS_CUTS)
                if (axis := move.tool_axis or axis) is None:
                    raise _wrong(place, number, "tool_axis", _NO_AXIS, _FIRST_AXIS)
                rows.axis.append(axis)
            elif not isinstance(move, ArcMove) and move.tool_axis is not None:
                raise _wrong(place, number, "tool_axis", "tool_axis is allowed in simultaneous operations only", _NOT_SIMULTANEOUS)
            if isinstance(move, RapidMove):
                last = move.rapid
                rows.kind.append(RAPID)
                rows.feed.append(float("nan"))
            else:
                feed = _feed_in_force(move.feed, feed, place, number, "an arc" if isinstance(move, ArcMove) else "a cut")
                rows.feed.append(feed)
                if isinstance(move, CutMove):
                    last = move.cut
                    rows.kind.append(CUT)
                else:
                    last = move.arc
                    rows.arcs.append((len(rows.kind), move))
                    rows.kind.append(ARC_CLOCKWISE if move.turns == "clockwise" else ARC_COUNTERCLOCKWISE)
            rows.end.append(last)
        elif isinstance(move, HoleMove):
            if simultaneous:
                raise _wrong(place, number, "hole", "a hole is not possible in a simultaneous operation", _INDEXED_HOLES)
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


_AS_CUTS = "give the arc as short cuts, each with its tool_axis"
_NO_AXIS = "the first point of a simultaneous operation has no tool axis"
_FIRST_AXIS = "add 'tool_axis', a unit vector from the tip towards the spindle; it holds until the next one"
_NOT_SIMULTANEOUS = "leave it out, or give the operation the rotary intent 'simultaneous'"
_INDEXED_HOLES = "put the holes into an indexed operation at their angles"


def _wrong(place: Place, move: int, key: str, wrong: str, cure: str) -> ToolpathError:
    return ToolpathError(wrong, place=replace(place, move=move, key=key), cure=cure)


def _feed_in_force(given: float | None, before: float, place: Place, number: int, what: str) -> float:
    feed = before if given is None else given
    if feed != feed:
        cure = "add 'feed', in units per minute; it holds until the next one in the operation"
        raise _wrong(place, number, "feed", f"{what} before any feed in this operation", cure)
    return feed


def _hole(move: HoleMove, feed: float, rpm: float, place: Place, number: int) -> _HoleRow:
    lead = float("nan")
    if move.cycle == "tap" and rpm == 0.0:
        raise _wrong(place, number, "cycle", "a tap needs a turning spindle; rpm is 0", "give the operation's spindle an rpm above 0")
    if move.cycle == "tap" and move.pitch is not None:
        lead, feed = move.pitch, rpm * move.pitch
        if move.feed is not None and abs(move.feed - feed) > LEAD_TOLERANCE * feed:
            wrong = f"feed {move.feed:g} does not fit pitch {move.pitch:g} at {rpm:g} rpm; allowed is {feed:g}"
            raise _wrong(place, number, "feed", wrong, "set feed to rpm times pitch, or leave it out")
    else:
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
    axis = unit_axes(np.array(rows.axis, dtype=np.float64), place, rows.first_move) if rows.axis else None
    kind, end, feed = np.array(rows.kind, dtype=np.uint8), np.array(rows.end, dtype=np.float64), np.array(rows.feed, dtype=np.float64)
    run = MoveColumns(rows.first_move, kind, end, axis, feed)
    if not rows.arcs:
        return run
    n, start = len(run), np.vstack([position, end[:-1]])
    arcs = ArcColumns(np.full((n, 3), np.nan), np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64), np.full(n, np.nan))
    for row, arc in rows.arcs:
        plane = PLANES.index(arc.plane)
        third = PLANE_AXES[plane][2]
        arcs.centre[row], arcs.plane[row], arcs.full_turns[row] = arc.centre, plane, arc.full_turns
        arcs.centre[row, third] = start[row, third]
    return with_sweeps(replace(run, arcs=arcs), start, units, place)
