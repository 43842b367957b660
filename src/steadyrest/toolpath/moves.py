"""Moves: the objects in `moves`, each told by its one key (rapid, cut, arc, dwell, hole, stop, note), and the columns that they become."""

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from itertools import chain, groupby, islice, zip_longest
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import Discriminator, Field, Tag, TypeAdapter, ValidationError, ValidationInfo, WrapSerializer, WrapValidator, model_validator

from steadyrest.conventions import PLANES
from steadyrest.errors import Place
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
    Standing,
    Stop,
    refuse,
)
from steadyrest.toolpath.objects import MOVE_KEYS, Pieces, Spot, place_of_move, read_json, refusal
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

    def __init__(self, read: Callable[[Place], Iterator[Move]], count: int) -> None:
        """count: how many there are."""
        self.read = read
        self.count = count

    def __iter__(self) -> Iterator[Move]:
        return self.read(Place())

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, MovesInFile | tuple):
            return NotImplemented
        return all(one == theirs for one, theirs in zip_longest(self, other))

    __hash__ = None  # type: ignore[assignment]


def read_moves(pieces: Pieces, spot: Spot, place: Place) -> Iterator[Move]:
    """The moves that are in a file, in order; ToolpathError for what is wrong with one, in the operation at `place`."""
    done = 0
    for offset, raw in pieces():
        data = read_json(b"[" + raw + b"]", partial(spot, offset - 1))
        try:
            yield from MOVES.validate_python(data)
        except ValidationError as error:
            raise refusal(error, list[Move], partial(place_of_move, place, done)) from None
        done += len(data)


def _or_in_file(value: Any, handler: Callable[[Any], Any], info: ValidationInfo) -> Any:
    """Moves as they are given; those of a placeholder that loading has put in their place."""
    found = (info.context or {}).get("later", {}).get(value) if isinstance(value, str) else value
    return found if isinstance(found, MovesInFile) else handler(value)


Moves = Annotated[
    tuple[Move, ...],
    Field(min_length=1),
    WrapValidator(_or_in_file),
    WrapSerializer(lambda moves, handler: handler(tuple(moves))),
]


LEAD_TOLERANCE = 1e-3
"""How far a tap's feed may be from rpm times pitch, as a fraction: the limit the project sets for every feed."""

_NAN = float("nan")
_AS_BEFORE = (_NAN, _NAN, _NAN)
_MOTIONS = (RapidMove, CutMove, ArcMove)
_EVENTS: dict[Any, Callable[[int, Any], Event]] = {
    DwellMove: lambda number, move: Dwell(number, move.dwell),
    StopMove: lambda number, move: Stop(number, move.stop.optional),
    NoteMove: lambda number, move: Note(number, move.note),
}


def stream_moves(moves: Iterable[Move], *, simultaneous: bool, rpm: float, units: str, place: Place) -> Iterator[Item]:
    """The moves of one operation in order, motions and holes in runs of columns; ToolpathError with the move's number."""
    standing = Standing(simultaneous, place, units)
    for kind, group in groupby(enumerate(moves, start=1), key=lambda each: "motion" if isinstance(each[1], _MOTIONS) else type(each[1])):
        if kind == "motion":
            yield from (_motions(batch, standing) for batch in _batches(group))
        elif kind is HoleMove:
            yield from (_holes(batch, standing, rpm) for batch in _batches(group))
        else:
            yield from (_EVENTS[kind](number, move) for number, move in group)


def _batches(moves: Iterator[tuple[int, Any]]) -> Iterator[Iterable[tuple[int, Any]]]:
    """The moves of one run each, to be gone through one run after the other."""
    for first in moves:
        yield chain([first], islice(moves, RUN_LENGTH - 1))


def _motions(moves: Iterable[tuple[int, Any]], standing: Standing) -> MoveColumns:
    """The run of these rapids, cuts and arcs."""
    rows, found = list[tuple[float, ...]](), list[ArcMove]()
    for number, move in moves:
        if isinstance(move, RapidMove):
            rows.append((number, RAPID, *move.rapid, _NAN, *(move.tool_axis or _AS_BEFORE)))
        elif isinstance(move, CutMove):
            rows.append((number, CUT, *move.cut, move.feed or _NAN, *(move.tool_axis or _AS_BEFORE)))
        else:
            found.append(move)
            turns = ARC_CLOCKWISE if move.turns == "clockwise" else ARC_COUNTERCLOCKWISE
            rows.append((number, turns, *move.arc, move.feed or _NAN, *_AS_BEFORE))
    columns = np.array(rows, dtype=np.float64)
    n, kind, arcs = len(rows), columns[:, 1].astype(np.uint8), None
    if found:
        arcs = ArcColumns(np.full((n, 3), np.nan), np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64), np.full(n, np.nan))
        at = kind > CUT
        arcs.centre[at], arcs.full_turns[at] = [move.centre for move in found], [move.full_turns for move in found]
        arcs.plane[at] = [PLANES.index(move.plane) for move in found]
    return standing.run(int(columns[0, 0]), kind, columns[:, 2:5].copy(), columns[:, 5], columns[:, 6:], arcs)


def _holes(moves: Iterable[tuple[int, Any]], standing: Standing, rpm: float) -> Holes:
    """The run of these holes."""
    rows = np.array([_hole(number, move) for number, move in moves], dtype=np.float64)
    move, cycle, x, y, surface, retract, bottom, given, peck, dwell, pitch = rows.T.copy()
    numbers, place, tapped, by_pitch = move.astype(np.int64), standing.place, cycle == CYCLES.index("tap"), rpm * pitch
    cure = "put the holes into an indexed operation at their angles"
    wrong = "a hole is not possible in a simultaneous operation"
    refuse(np.full(len(rows), standing.simultaneous), place, numbers, "hole", wrong, cure)
    if rpm == 0.0:
        refuse(tapped, place, numbers, "cycle", "a tap needs a turning spindle; rpm is 0", "give the operation's spindle an rpm above 0")
    wrong = f"feed {{:g}} does not fit pitch {{:g}} at {rpm:g} rpm; allowed is {{:g}}"
    bad, cure = np.abs(given - by_pitch) > LEAD_TOLERANCE * by_pitch, "set feed to rpm times pitch, or leave it out"
    refuse(bad, place, numbers, "feed", wrong, cure, given, pitch, by_pitch)
    feed = np.where(np.isnan(pitch), standing.feeds(given), by_pitch)
    cure = "add 'feed', in units per minute; it holds until the next one in the operation"
    refuse(np.isnan(feed), place, numbers, "feed", "a hole before any feed in this operation", cure)
    lead = np.where(tapped & np.isnan(pitch), feed / (rpm or 1.0), pitch)
    standing.point = np.array([x[-1], y[-1], retract[-1]])
    return Holes(numbers, np.column_stack([x, y]), cycle.astype(np.uint8), retract, bottom, feed, surface, peck, dwell, lead)


def _hole(number: int, move: HoleMove) -> tuple[float, ...]:
    x, y, surface = move.hole if len(move.hole) == 3 else (*move.hole, _NAN)
    said = (move.retract, move.bottom, move.feed or _NAN, move.peck or _NAN, move.dwell or 0.0, move.pitch or _NAN)
    return number, CYCLES.index(move.cycle), x, y, surface, *said
