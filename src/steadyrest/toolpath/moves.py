"""Moves: the objects in `moves`, each told by its one key (rapid, cut, arc, dwell, hole, stop, note), and the columns that they become."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain, groupby, islice, zip_longest
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

from steadyrest.columns import Floats
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
    Event,
    Holes,
    Item,
    MoveColumns,
    Note,
    Stop,
    unit_axes,
    with_sweeps,
)
from steadyrest.toolpath.objects import MOVE_KEYS
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


def move_key(move: Any) -> str | None:
    """The one key that tells what a move is; None when there is none or more than one."""
    if isinstance(move, Part):
        return next(iter(type(move).model_fields))
    found = _KEYS & move.keys() if isinstance(move, dict) else ()
    if len(found) == 2 and "hole" in found and "dwell" in found:
        return "hole"  # a hole may dwell at its bottom
    return next(iter(found)) if len(found) == 1 else None


_KEYS = frozenset(MOVE_KEYS)
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

_NAN = float("nan")
_MOTIONS = (RapidMove, CutMove, ArcMove)
_EVENTS: dict[Any, Callable[[int, Any], Event]] = {
    DwellMove: lambda number, move: Dwell(number, move.dwell),
    StopMove: lambda number, move: Stop(number, move.stop.optional),
    NoteMove: lambda number, move: Note(number, move.note),
}


def stream_moves(moves: Iterable[Move], *, simultaneous: bool, rpm: float, units: str, place: Place) -> Iterator[Item]:
    """The moves of one operation in order, motions and holes in runs of columns; ToolpathError with the move's number."""
    stream = _Stream(simultaneous, rpm, units, place)
    for kind, group in groupby(enumerate(moves, start=1), key=lambda each: "motion" if isinstance(each[1], _MOTIONS) else type(each[1])):
        if kind == "motion":
            yield from map(stream.motions, _batches(group))
        elif kind is HoleMove:
            yield from map(stream.holes, _batches(group))
        else:
            yield from (_EVENTS[kind](number, move) for number, move in group)


def _batches(moves: Iterator[tuple[int, Any]]) -> Iterator[Iterable[tuple[int, Any]]]:
    """The moves of one run each, to be gone through one run after the other."""
    for first in moves:
        yield chain([first], islice(moves, RUN_LENGTH - 1))


@dataclass(slots=True)
class _Stream:
    """An operation whose moves are gone through: where the tool stands, and the feed and tool axis that hold."""

    simultaneous: bool
    rpm: float
    units: str
    place: Place
    stands: tuple[float, float, float] = (_NAN, _NAN, _NAN)
    feed: float = _NAN
    axis: tuple[float, float, float] | None = None

    def motions(self, moves: Iterable[tuple[int, Any]]) -> MoveColumns:
        """The run of these rapids, cuts and arcs."""
        start, first_move = self.stands, 0
        rows, axes, arcs = list[tuple[float, ...]](), list[tuple[float, float, float]](), list[tuple[int, ArcMove]]()
        for number, move in moves:
            first_move = first_move or number
            if isinstance(move, ArcMove):
                if self.simultaneous:
                    cure = "give the arc as short cuts, each with its tool_axis"
                    raise self._wrong(number, "arc", "an arc is not possible while the rotary moves", cure)
                arcs.append((len(rows), move))
            elif self.simultaneous:
                self.axis = move.tool_axis or self.axis
                if self.axis is None:
                    cure = "add 'tool_axis', a unit vector from the tip towards the spindle; it holds until the next one"
                    raise self._wrong(number, "tool_axis", "the first point of a simultaneous operation has no tool axis", cure)
                axes.append(self.axis)
            elif move.tool_axis is not None:
                cure = "leave it out, or give the operation the rotary intent 'simultaneous'"
                raise self._wrong(number, "tool_axis", "tool_axis is allowed in simultaneous operations only", cure)
            if isinstance(move, RapidMove):
                self.stands = move.rapid
                rows.append((RAPID, *self.stands, _NAN))
            elif isinstance(move, CutMove):
                self.feed, self.stands = self._in_force(move.feed, number, "a cut"), move.cut
                rows.append((CUT, *self.stands, self.feed))
            else:
                self.feed, self.stands = self._in_force(move.feed, number, "an arc"), move.arc
                rows.append((ARC_CLOCKWISE if move.turns == "clockwise" else ARC_COUNTERCLOCKWISE, *self.stands, self.feed))
        kind, x, y, z, feed = np.array(rows, dtype=np.float64).T.copy()
        end = np.column_stack([x, y, z])
        tool_axis = unit_axes(np.array(axes, dtype=np.float64), self.place, first_move) if axes else None
        run = MoveColumns(first_move, kind.astype(np.uint8), end, tool_axis, feed)
        return self._with_arcs(run, arcs, np.vstack([start, end[:-1]])) if arcs else run

    def _with_arcs(self, run: MoveColumns, moves: list[tuple[int, ArcMove]], start: Floats) -> MoveColumns:
        n = len(run)
        arcs = ArcColumns(np.full((n, 3), np.nan), np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64), np.full(n, np.nan))
        for row, arc in moves:
            plane = PLANES.index(arc.plane)
            third = PLANE_AXES[plane][2]
            arcs.centre[row], arcs.plane[row], arcs.full_turns[row] = arc.centre, plane, arc.full_turns
            arcs.centre[row, third] = start[row, third]
        return with_sweeps(replace(run, arcs=arcs), start, self.units, self.place)

    def holes(self, moves: Iterable[tuple[int, Any]]) -> Holes:
        """The run of these holes."""
        rows = np.array([self._hole(number, move) for number, move in moves], dtype=np.float64)
        numbers, cycle, x, y, *others = rows.T.copy()
        return Holes(numbers.astype(np.int64), np.column_stack([x, y]), cycle.astype(np.uint8), *others)

    def _hole(self, number: int, move: HoleMove) -> tuple[float, ...]:
        if self.simultaneous:
            cure = "put the holes into an indexed operation at their angles"
            raise self._wrong(number, "hole", "a hole is not possible in a simultaneous operation", cure)
        lead, tapped, rpm = _NAN, move.cycle == "tap", self.rpm
        if tapped and rpm == 0.0:
            cure = "give the operation's spindle an rpm above 0"
            raise self._wrong(number, "cycle", "a tap needs a turning spindle; rpm is 0", cure)
        if tapped and move.pitch is not None:
            lead, feed = move.pitch, rpm * move.pitch
            if move.feed is not None and abs(move.feed - feed) > LEAD_TOLERANCE * feed:
                wrong = f"feed {move.feed:g} does not fit pitch {move.pitch:g} at {rpm:g} rpm; allowed is {feed:g}"
                raise self._wrong(number, "feed", wrong, "set feed to rpm times pitch, or leave it out")
        else:
            feed = self._in_force(move.feed, number, "a hole")
            lead = feed / rpm if tapped else lead
        self.feed = self.feed if move.feed is None else move.feed
        self.stands = move.hole[0], move.hole[1], move.retract
        x, y, surface = move.hole if len(move.hole) == 3 else (*move.hole, _NAN)
        peck = _NAN if move.peck is None else move.peck
        return number, CYCLES.index(move.cycle), x, y, move.retract, move.bottom, feed, surface, peck, move.dwell or 0.0, lead

    def _in_force(self, given: float | None, number: int, what: str) -> float:
        feed = self.feed if given is None else given
        if feed != feed:
            cure = "add 'feed', in units per minute; it holds until the next one in the operation"
            raise self._wrong(number, "feed", f"{what} before any feed in this operation", cure)
        return feed

    def _wrong(self, move: int, key: str, wrong: str, cure: str) -> ToolpathError:
        return ToolpathError(wrong, place=replace(self.place, move=move, key=key), cure=cure)
