"""What is the stock, and how far from the axis of rotation does it reach?"""

from __future__ import annotations

from math import hypot
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from steadyrest.toolpath.part import ACROSS, NotNegative, Number, Part, Positive, broken_rule

_OFFSET = (
    "How far the stock stands off the axis of rotation, in `units`: two numbers across the axis "
    "(axis X: y, z; axis Y: x, z; axis Z: x, y) or three numbers x, y, z of the part frame, of which the one "
    "along the axis is added to `from` and `to`. Nothing unless given."
)
_FROM = "Where the stock begins along the axis of rotation, in `units`, measured from `centre`."
_TO = "Where the stock ends along the axis of rotation, in `units`, measured from `centre`; more than `from`."


class Held(Part):
    """Which end of the stock is in the jaws, and how much of it."""

    at: Literal["from", "to"] = Field(
        description="The end that is in the jaws: `from`, which a chuck that faces + of the axis holds, or `to`, which one that faces - "
        "holds. Where the chuck stands at the other end, the job is turned end for end."
    )
    length: NotNegative | None = Field(
        default=None,
        description="How much of the stock is in the jaws, in `units`; 0 is a part bolted to a face. Unless given it is not known, and "
        "only what lies past the end counts as in the jaws.",
    )


class _Stock(Part):
    from_: Number = Field(alias="from", description=_FROM)
    to: Number = Field(description=_TO)
    offset: Annotated[tuple[Number, ...], Field(min_length=2, max_length=3)] | None = Field(default=None, description=_OFFSET)
    held: Held | None = Field(
        default=None,
        description="The end that is in the jaws. Unless given it is the one that the chuck's direction implies, and nothing is turned.",
    )

    @model_validator(mode="after")
    def _reaches_somewhere(self) -> _Stock:
        if not self.from_ < self.to:
            raise broken_rule(f"the stock goes from {self.from_:g} to {self.to:g}", "'from' has to be less than 'to': swap them")
        length = self.to - self.from_
        if self.held is not None and self.held.length is not None and self.held.length > length:
            raise broken_rule(
                f"{self.held.length:g} of the stock are held, and it is {length:g} long",
                "'held' has at most the stock's length in the jaws",
            )
        return self

    def end_for_end(self, axis: str) -> Self:
        """The same stock once the whole job is turned by half a turn about Z: (x, y, z) becomes (-x, -y, z). Not for axis Z."""
        offset = self.offset
        if offset is not None:
            # of two numbers the second is z, whether the axis is X or Y
            offset = (-offset[0], offset[1]) if len(offset) == 2 else (-offset[0], -offset[1], offset[2])
        held = self.held
        if held is not None:
            held = held.model_copy(update={"at": "to" if held.at == "from" else "from"})
        return self.model_copy(update={"from_": -self.to, "to": -self.from_, "offset": offset, "held": held})

    def offset_across(self, axis: str) -> tuple[float, float]:
        """The offset across the axis of rotation, in the order of `ACROSS`, in file units."""
        if self.offset is None:
            return 0.0, 0.0
        if len(self.offset) == 2:
            return self.offset[0], self.offset[1]
        first, second = ACROSS[axis]
        return self.offset[first], self.offset[second]

    def along(self, axis: str) -> tuple[float, float]:
        """Where the stock begins and ends along the axis, measured from `centre`, offset included, in file units."""
        moved = self.offset["XYZ".index(axis)] if self.offset is not None and len(self.offset) == 3 else 0.0
        return self.from_ + moved, self.to + moved


class RoundStock(_Stock):
    """A bar or tube along the axis of rotation, around `centre`."""

    shape: Literal["round"] = Field(description="`round`: a bar along the axis of rotation.")
    diameter: Positive = Field(description="Outer diameter, in `units`.")

    def swept_radius(self, axis: str) -> float:
        """Largest distance of the stock from the axis of rotation, offset included, in file units."""
        return self.diameter / 2 + hypot(*self.offset_across(axis))

    def least_radius(self, axis: str) -> float:
        """Least distance from the axis of rotation out to the stock's surface, in file units; 0 if the axis misses it."""
        return max(0.0, self.diameter / 2 - hypot(*self.offset_across(axis)))


class RectangularStock(_Stock):
    """A block along the axis of rotation, around `centre`, its sides along the other two axes."""

    shape: Literal["rectangular"] = Field(description="`rectangular`: a block along the axis of rotation.")
    across: tuple[Positive, Positive] = Field(
        description="The two sizes across the axis, in `units` (axis X: y, z; axis Y: x, z; axis Z: x, y)."
    )

    def swept_radius(self, axis: str) -> float:
        """Largest distance of the stock from the axis of rotation (a corner), offset included, in file units."""
        first, second = self.offset_across(axis)
        return hypot(self.across[0] / 2 + abs(first), self.across[1] / 2 + abs(second))

    def least_radius(self, axis: str) -> float:
        """Least distance from the axis of rotation out to the stock's surface, in file units; 0 if the axis misses it."""
        first, second = self.offset_across(axis)
        return max(0.0, min(self.across[0] / 2 - abs(first), self.across[1] / 2 - abs(second)))


Stock = Annotated[RoundStock | RectangularStock, Field(discriminator="shape")]
