"""What does one move say? The objects in `moves`, each told by its one key: rapid, cut, arc, dwell, hole, stop, note."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import zip_longest
from typing import Annotated, Any, Literal

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

from steadyrest.errors import Place
from steadyrest.toolpath.part import NotNegative, Number, Part, Point, Positive, Text, Turns, Whole, broken_rule

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
    def _makes_a_hole(self) -> HoleMove:
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
MOVES: TypeAdapter[list[Move]] = TypeAdapter(list[Move])


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
