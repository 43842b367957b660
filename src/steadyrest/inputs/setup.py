"""What a job file keeps of how it stands at the machine: touches, and the remembered place that is used. No program changes by it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from steadyrest.toolpath import Number, Part, Positive

AxisLetter = Literal["X", "Y", "Z"]
Side = Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"]
Pair = tuple[Number, Number]
OnAxis = tuple[AxisLetter, Number]
TwoOnAxis = tuple[AxisLetter, Number, Number]
BallFound = tuple[Number, Number, Number, Number] | tuple[Number, Number, Number]
OnSide = tuple[Side, Number]


class Touched(Part):
    """What was touched at the machine to find the axis of rotation, all lengths in `units`, as `steadyrest centre find` takes it."""

    units: Literal["mm", "inch"] = Field(description="The units of all lengths here.")
    diameter: Positive | None = Field(default=None, description="Measured diameter of the bar.")
    top: tuple[Number, ...] = Field(default=(), description="Heights of the top of the bar, one for each touch.")
    sides: tuple[TwoOnAxis, ...] = Field(default=(), description="Two sides of the bar: the axis, and the two positions.")
    tool: Positive | None = Field(default=None, description="Diameter of the tool that touched sides and ends.")
    faces: tuple[Pair, ...] = Field(default=(), description="Heights of two opposite faces, the rotary indexed by 180 between.")
    thickness: Positive | None = Field(default=None, description="Measured distance between the two faces.")
    flips: tuple[TwoOnAxis, ...] = Field(default=(), description="The axis, and where one feature was at 0 and at 180 degrees.")
    points: tuple[Pair, ...] = Field(default=(), description="Where one feature was at each of three rotary angles or more.")
    readings: tuple[Pair, ...] = Field(default=(), description="Indicator readings on the bar: the rotary's angle, and the reading.")
    indicator: Side | None = Field(default=None, description="The side on which the indicator rests; the top unless given, along Z -Y.")
    at: Number = Field(default=0.0, description="The rotary's angle when bar, sides or flat were touched, in degrees; 0 unless given.")
    end: tuple[OnSide, ...] = Field(default=(), description="Touches of the end of the bar: where that end points, and the position.")
    chuck_face: tuple[OnSide, ...] = Field(default=(), description="The same of the face of the chuck.")
    flat: tuple[Pair, ...] = Field(default=(), description="Two touches of one flat: across, and height.")
    touch_error: Positive | None = Field(default=None, description="Error of one touch (standard uncertainty); 0.01 mm unless given.")
    reading_error: Positive | None = Field(default=None, description="Error of one indicator reading; 0.003 mm unless given.")
    size_error: Positive | None = Field(default=None, description="Error of a measured diameter or thickness; 0.003 mm unless given.")


class BallTouched(Part):
    """Where a ball on the table was found at several angles of one rotary, all others at 0, as `steadyrest centre line` takes it: all
    lengths in `units`.
    """

    units: Literal["mm", "inch"] = Field(description="The units of all lengths here.")
    balls: tuple[BallFound, ...] = Field(
        default=(), description="The rotary's angle, and X Y Z of the ball's centre found there; X Y do where the rotary is along Z."
    )
    reference: tuple[Number, Number, Number] = Field(
        default=(0.0, 0.0, 0.0),
        description="Of a rotary in the table: where the reference point lies, `centre` of toolpaths; 0 unless given.",
    )
    gauge_length: Positive | None = Field(
        default=None, description="Of a rotary in the head: from the point of the probe that was read to the gauge line."
    )
    touch_error: Positive | None = Field(
        default=None, description="Error of one coordinate of a centre (standard uncertainty); 0.01 mm unless given."
    )


class Setup(Part):
    """How the job stands at the machine on the day. Whoever sets up needs it; the program is the same with and without it."""

    touches: Touched | None = Field(default=None, description="What was touched for this job.")
    lines: dict[Literal["A", "B", "C"], BallTouched] = Field(
        default_factory=dict,
        description="For a rotary of two, or of a head, by its letter: where a ball was found, for the line of its axis.",
    )
    place: Annotated[str, Field(strict=True, min_length=1)] | None = Field(
        default=None, description="The remembered place of the rotary that is used instead of touches."
    )
    reference: tuple[OnAxis, ...] = Field(
        default=(), description="Where that place's reference on the plate is today, in the place's units: the axis, and the position."
    )
