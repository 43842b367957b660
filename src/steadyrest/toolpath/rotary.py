"""What does the rotary do in an operation?"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from steadyrest.toolpath.part import Number, Part, Positive


class Indexed(Part):
    """The rotary turns to each angle, stops and is clamped; the same moves are cut at each, in that order."""

    intent: Literal["indexed"] = Field(description="`indexed`: turn, stop, clamp, cut.")
    angles: Annotated[tuple[Number, ...], Field(min_length=1)] = Field(
        description="Where the tool stands round the part, in degrees, right-hand positive about the axis."
    )


class Wrapped(Part):
    """A flat path laid around a cylinder: the developed length becomes an angle."""

    intent: Literal["wrapped"] = Field(description="`wrapped`: a flat path laid around a cylinder.")
    diameter: Positive = Field(description="Diameter of the cylinder at which developed lengths are true, in `units`.")
    start_angle: Number = Field(default=0.0, description="Angle at which the developed length is 0, in degrees; 0 unless given.")
    z_from: Literal["surface", "axis"] = Field(
        default="surface", description="What z is measured from: the wrapped `surface` (unless given) or the `axis`."
    )


class Simultaneous(Part):
    """The rotary moves while cutting: tip and tool axis are given in the part frame."""

    intent: Literal["simultaneous"] = Field(description="`simultaneous`: the rotary moves while cutting.")


class Still(Part):
    """Plain three-axis work with the rotary at zero."""

    intent: Literal["still"] = Field(description="`still`: plain three-axis work with the rotary at zero.")


Rotary = Annotated[Indexed | Wrapped | Simultaneous | Still, Field(discriminator="intent")]
