"""What do all settings files and options of this room have in common: base class, and the form of a broken rule?"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict
from pydantic_core import PydanticCustomError


class Settings(BaseModel):
    """A frozen group of settings: unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid", protected_namespaces=())


def _no_truth(value: object) -> object:
    if isinstance(value, bool):
        raise broken(f"found {str(value).lower()}; allowed is a whole number", "write a whole number")
    return value


One = Annotated[Literal[1], BeforeValidator(_no_truth)]
"""The version of a form: the number 1, and not `true`, which counts as equal to it."""


def broken(wrong: str, cure: str) -> PydanticCustomError:
    """The error that a group's own rule raises; loading turns it into an InputError with its place."""
    return PydanticCustomError("rule", "{wrong}", {"wrong": wrong, "cure": cure})
