"""What tools are there, and what shape are they?"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from steadyrest.toolpath.part import NotNegative, Part, Positive, Text, Whole, broken_rule


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
    def _cuts_within_its_length(self) -> _Tool:
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
    def _corner_fits(self) -> BullnoseTool:
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
    def _widens(self) -> ChamferTool:
        if self.tip_diameter >= self.diameter:
            raise broken_rule(
                f"tip_diameter {self.tip_diameter:g} is not less than diameter {self.diameter:g}",
                "a chamfer tool widens from tip_diameter to diameter: correct one of the two",
            )
        return self


Tool = Annotated[FlatTool | BallTool | BullnoseTool | DrillTool | ChamferTool, Field(discriminator="shape")]
