"""The controller profile: one controller's dialect on one machine, as frozen data."""

from __future__ import annotations

from typing import Self

from pydantic import Field, model_validator

from steadyrest.profile.axes import Arcs, Feed, LinearAxis, Rotary, Safety
from steadyrest.profile.base import LinearLetter, RotaryLetter, Settings
from steadyrest.profile.codes import Codes, Coolant, Cycles, Retract, Spindle, Stops, ToolChange, Units
from steadyrest.profile.combinations import check_combinations
from steadyrest.profile.delivery import Delivery
from steadyrest.profile.format import Numbers, Program, Words


class Profile(Settings):
    """Everything that writing and reading a program have to know about a controller. Resolved: `extends` is done with."""

    name: str = Field(description="The name of the profile's folder.")
    speaks: str = Field(min_length=8, description="One sentence: what the controller speaks and what is special about it.")
    program: Program = Program()
    numbers: Numbers = Numbers()
    words: Words = Words()
    units: Units = Units()
    codes: Codes = Codes()
    tool: ToolChange = ToolChange()
    spindle: Spindle = Spindle()
    coolant: Coolant = Coolant()
    stops: Stops = Stops()
    retract: Retract = Retract()
    cycles: Cycles = Cycles()
    arcs: Arcs = Arcs()
    feed: Feed = Feed()
    rotary: dict[RotaryLetter, Rotary] = Field({}, description="The rotary, by its letter.")
    linear: dict[LinearLetter, LinearAxis] = Field({}, description="The linear axes, by letter; those left out have the defaults.")
    safety: Safety = Safety()
    delivery: Delivery = Delivery()

    @model_validator(mode="after")
    def _possible(self) -> Self:
        check_combinations(self)
        return self
