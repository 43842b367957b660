"""What do all parts of the toolpath model have in common: base class, kinds of number, and the form of a broken rule."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

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
    """A frozen part of the toolpath: unknown keys are errors; two are equal when their fields are."""

    model_config = ConfigDict(frozen=True, extra="forbid", protected_namespaces=())

    def __eq__(self, other: object) -> bool:
        # Field by field: the place a part was read from (private) does not make it another part.
        if not isinstance(other, Part) or type(other) is not type(self):
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name in type(self).model_fields)

    def __hash__(self) -> int:
        return hash((type(self), *(getattr(self, name) for name in type(self).model_fields)))


def broken_rule(wrong: str, cure: str) -> PydanticCustomError:
    """The error a model's own rule raises; loading turns it into a ToolpathError with its place."""
    return PydanticCustomError("rule", "{wrong}", {"wrong": wrong, "cure": cure})


def printable(text: str) -> str:
    """Text from outside as it may stand in a message: line ends, control characters and the like as escapes."""
    return "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in text)
