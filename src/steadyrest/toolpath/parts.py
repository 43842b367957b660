"""What is a toolpath made of beside its moves: kinds of number, stock, tools, and what the rotary does."""

from math import hypot
from typing import Annotated, Literal, Self

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from steadyrest.columns import Floats

BEYOND = 1e9
"""Lengths, feeds and angles stay below it: no word of a program takes more, and with more nothing could be counted on."""
LEAST = 1e-9
"""What has to be more than 0 is at least this: finer than any least increment."""
Number = Annotated[float, Field(strict=True, gt=-BEYOND, lt=BEYOND, allow_inf_nan=False)]
Positive = Annotated[float, Field(strict=True, ge=LEAST, lt=BEYOND, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, lt=BEYOND, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Text = Annotated[str, Field(strict=True)]
Point = tuple[Number, Number, Number]
Axis = Literal["X", "Y", "Z"]
Turns = Literal["clockwise", "counterclockwise"]

ACROSS: dict[str, tuple[int, int]] = {"X": (1, 2), "Y": (0, 2), "Z": (0, 1)}
"""The two coordinates across an axis, in the order in which `across` and a two-number `offset` give them."""


class Part(BaseModel):
    """A frozen group of keys in a file from outside: unknown keys are errors; two are equal when their fields are."""

    model_config = ConfigDict(frozen=True, extra="forbid", protected_namespaces=(), defer_build=True)

    def __eq__(self, other: object) -> bool:
        # Field by field: the place a part was read from (private) does not make it another part.
        if not isinstance(other, Part) or type(other) is not type(self):
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name in type(self).model_fields)

    def __hash__(self) -> int:
        return hash((type(self), *(getattr(self, name) for name in type(self).model_fields)))


def broken_rule(wrong: str, cure: str) -> PydanticCustomError:
    """The error that a group's own rule raises; loading turns it into an InputError, of a toolpath a ToolpathError, with its place."""
    return PydanticCustomError("rule", "{wrong}", {"wrong": wrong, "cure": cure})


def printable(text: str) -> str:
    """Text from outside as it may stand in a message: line ends, control characters and the like as escapes."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)


def _no_truth(value: object) -> object:
    if isinstance(value, bool):
        raise broken_rule(f"found {str(value).lower()}; allowed is a whole number", "write a whole number")
    return value


One = Annotated[Literal[1], BeforeValidator(_no_truth)]
"""The version of a form: the number 1, and not `true`, which counts as equal to it."""


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
    def _reaches_somewhere(self) -> Self:
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


class _Tool(Part):
    number: Annotated[Whole, Field(ge=1)] = Field(description="The tool's number, as operations name it; no two alike.")
    name: Text = Field(default="", description="What the operator calls it; empty unless given.")
    diameter: Positive = Field(description="Largest cutting diameter, in `units`.")
    flutes: Annotated[Whole, Field(ge=1)] | None = Field(default=None, description="How many cutting edges; not known unless given.")
    cutting_length: Positive | None = Field(
        default=None, description="Length of the cutting part from the tip, in `units`; not known unless given."
    )
    length: Positive | None = Field(default=None, description="Length from the tip to the holder, in `units`; not known unless given.")

    @model_validator(mode="after")
    def _cuts_within_its_length(self) -> Self:
        if self.length is not None and self.cutting_length is not None and self.cutting_length > self.length:
            raise broken_rule(
                f"cutting_length {self.cutting_length:g} is more than length {self.length:g}",
                "length is measured from the tip to the holder and holds the cutting part: correct one of the two",
            )
        return self


class FlatTool(_Tool):
    """An end mill with a flat end."""

    shape: Literal["flat"] = Field(description="`flat`: an end mill with a flat end.")


class BallTool(_Tool):
    """An end mill with a ball end of the tool's diameter."""

    shape: Literal["ball"] = Field(description="`ball`: an end mill with a ball end.")


class BullnoseTool(_Tool):
    """An end mill with rounded corners."""

    shape: Literal["bullnose"] = Field(description="`bullnose`: an end mill with rounded corners.")
    corner_radius: Positive = Field(description="Radius of the corners, in `units`; at most half the diameter.")

    @model_validator(mode="after")
    def _corner_fits(self) -> Self:
        if self.corner_radius > self.diameter / 2:
            raise broken_rule(
                f"corner_radius {self.corner_radius:g} does not fit a diameter of {self.diameter:g}",
                f"at most {self.diameter / 2:g}, half the diameter",
            )
        return self


class DrillTool(_Tool):
    """A drill; its tip is the point."""

    shape: Literal["drill"] = Field(description="`drill`: a drill with a point.")
    point_angle: Annotated[Positive, Field(le=180)] = Field(description="Included angle of the point, in degrees; 180 is a flat point.")


class ChamferTool(_Tool):
    """A conical cutter."""

    shape: Literal["chamfer"] = Field(description="`chamfer`: a conical cutter.")
    tip_diameter: NotNegative = Field(description="Diameter at the tip, in `units`; 0 is a sharp point.")
    included_angle: Annotated[Positive, Field(lt=180)] = Field(description="Included angle of the cone, in degrees.")

    @model_validator(mode="after")
    def _widens(self) -> Self:
        if self.tip_diameter >= self.diameter:
            raise broken_rule(
                f"tip_diameter {self.tip_diameter:g} is not less than diameter {self.diameter:g}",
                "a chamfer tool widens from tip_diameter to diameter: correct one of the two",
            )
        return self


Tool = Annotated[FlatTool | BallTool | BullnoseTool | DrillTool | ChamferTool, Field(discriminator="shape")]


SQUARE_DEG = 0.01
"""By how much a plane's x may be off square to its z: five decimals of a unit vector and more (common practice)."""


class Plane(Part):
    """A plane to cut in: the moves of its operation are its own coordinates, part = origin + E (x, y, z)."""

    origin: Point = Field(description="Where the plane's x = y = z = 0 lies, in the part frame, in `units`.")
    z: Point = Field(description="Direction of the tool's axis, from the tip towards the spindle, in the part frame; any length.")
    x: Point | None = Field(
        default=None,
        description="Direction of the plane's x in the part frame, square to z; any length. Unless given it is the part's X laid into "
        "the plane, or its Y where z lies along X.",
    )

    @model_validator(mode="after")
    def _spans_a_plane(self) -> Self:
        for name, said in (("z", self.z), ("x", self.x)):
            if said is not None and np.linalg.norm(said) < LEAST:
                raise broken_rule(f"the plane's {name} has no length and points nowhere", f"give {name} as a direction, such as [0, 0, 1]")
        if self.x is not None:
            lean = np.degrees(np.arcsin(np.clip(np.dot(_unit(self.x), _unit(self.z)), -1.0, 1.0)))
            if abs(lean) > SQUARE_DEG:
                raise broken_rule(
                    f"the plane's x is {90 - lean:.4g} degrees from its z; allowed is 90, within {SQUARE_DEG:g}",
                    "make x square to z, or leave it out: it is then the part's X laid into the plane",
                )
        return self

    @property
    def axes(self) -> Floats:
        """E (3, 3): its columns are the plane's x, y and z as unit vectors of the part frame, right-handed; z as it is said, exactly."""
        z = _unit(self.z)
        along = self.x
        if along is None:
            off_x = np.degrees(np.arctan2(np.hypot(z[1], z[2]), abs(z[0])))
            along = (1.0, 0.0, 0.0) if off_x > SQUARE_DEG else (0.0, 1.0, 0.0)
        y = _unit(np.cross(z, along))
        return np.column_stack([np.cross(y, z), y, z])


def _unit(direction: Point | Floats) -> Floats:
    return np.asarray(np.asarray(direction, dtype=np.float64) / np.linalg.norm(direction))


class Indexed(Part):
    """The rotary turns to each angle or plane, stops and is clamped; the same moves are cut at each, in that order."""

    intent: Literal["indexed"] = Field(description="`indexed`: turn, stop, clamp, cut.")
    angles: Annotated[tuple[Number, ...], Field(min_length=1)] | None = Field(
        default=None,
        description="Where the tool stands round the part, in degrees, right-hand positive about the axis. Either these or `planes`.",
    )
    planes: Annotated[tuple[Plane, ...], Field(min_length=1)] | None = Field(
        default=None, description="The planes in which the same moves are cut, each in its own coordinates. Either these or `angles`."
    )

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.angles is None) == (self.planes is None):
            wrong = "both 'angles' and 'planes' are given" if self.planes is not None else "neither 'angles' nor 'planes' is given"
            raise broken_rule(wrong, "an indexed operation has exactly one of the two")
        return self

    @property
    def times(self) -> int:
        """How often its moves are cut."""
        return len(self.angles or self.planes or ())


class Wrapped(Part):
    """A flat path laid around a cylinder: the developed length becomes an angle."""

    intent: Literal["wrapped"] = Field(description="`wrapped`: a flat path laid around a cylinder.")
    diameter: Positive = Field(description="Diameter of the cylinder at which developed lengths are true, in `units`.")
    start_angle: Number = Field(default=0.0, description="Angle at which the developed length is 0, in degrees; 0 unless given.")
    z_from: Literal["surface", "axis"] = Field(
        default="surface", description="What z is measured from: the wrapped `surface` (unless given) or the `axis`."
    )
    plane: Plane | None = Field(
        default=None,
        description="Where the drawing begins: `origin` on the axis of rotation, `x` along it, either way, `z` where the angle is 0. The "
        "drawing is then as one about X in this frame: x from the origin along `x`, y round it, `start_angle` right-hand about `x`. Unless "
        "given, x or y along the axis is the work coordinate itself; about Z it has to be given.",
    )


class Simultaneous(Part):
    """The rotary moves while cutting: tip and tool axis are given in the part frame."""

    intent: Literal["simultaneous"] = Field(description="`simultaneous`: the rotary moves while cutting.")


class Still(Part):
    """Plain three-axis work with the rotary at zero."""

    intent: Literal["still"] = Field(description="`still`: plain three-axis work with the rotary at zero.")


Rotary = Annotated[Indexed | Wrapped | Simultaneous | Still, Field(discriminator="intent")]
