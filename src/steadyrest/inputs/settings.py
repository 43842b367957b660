"""What do all settings files and options of this room have in common: base class, and the form of a broken rule?"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict
from pydantic_core import PydanticCustomError


class Settings(BaseModel):
    """A frozen group of settings: unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid", protected_namespaces=())


def broken(wrong: str, cure: str) -> PydanticCustomError:
    """The error that a group's own rule raises; loading turns it into an InputError with its place."""
    return PydanticCustomError("rule", "{wrong}", {"wrong": wrong, "cure": cure})
