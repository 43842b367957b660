"""What is the stock, and how far from the axis of rotation does it reach?"""

from __future__ import annotations

from math import hypot
from typing import Annotated, Literal

from pydantic import Field, model_validator

from steadyrest.toolpath.part import ACROSS, Number, Part, Positive, broken_rule

_OFFSET = (
    "How far the stock stands off the axis of rotation, in `units`: two numbers across the axis "
    "(axis X: y, z; axis Y: x, z; axis Z: x, y) or three numbers x, y, z of the part frame, of which the one "
    "along the axis is added to `from` and `to`. Nothing unless given."
)
_FROM = "Where the stock begins along the axis of rotation, in `units`, measured from `centre`."
_TO = "Where the stock ends along the axis of rotation, in `units`, measured from `centre`; more than `from`."


class _Stock(Part):
    from_: Number = Field(alias="from", description=_FROM)
    to: Number = Field(description=_TO)
    offset: Annotated[tuple[Number, ...], Field(min_length=2, max_length=3)] | None = Field(default=None, description=_OFFSET)

    @model_validator(mode="after")
    def _reaches_somewhere(self) -> _Stock:
        if not self.from_ < self.to:
            raise broken_rule(f"the stock goes from {self.from_:g} to {self.to:g}", "'from' has to be less than 'to': swap them")
        return self

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
