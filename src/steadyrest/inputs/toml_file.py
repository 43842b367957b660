"""How is a TOML file, or what a command line says, read into a model?"""

from __future__ import annotations

from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from steadyrest.errors import InputError, Place
from steadyrest.model_errors import SENTENCES, Spot, Style, spot_of, told
from steadyrest.toml_text import line_of, read_toml

Model = TypeVar("Model", bound=BaseModel)

_STYLE = Style(table="a table of settings", sentences={"unknown": ("there is no setting '{key}' here{among}", SENTENCES["unknown"][1])})


def load_toml(path: Path, model: type[Model], begins: str) -> Model:
    """A TOML file as a model.

    begins    what such a file begins with, for the cure of a missing first key
    raises    InputError: not there, not readable, not UTF-8, not TOML, or not what the model allows
    """
    text, data = read_toml(
        path,
        InputError,
        absent="check the name and the folder",
        such_as='name = "float valve" or indexed = [0, 90], under headings such as [[inputs]]',
    )
    try:
        return model.model_validate(data)
    except ValidationError as error:
        wrong, cure, spot = _first(error, model)
        if len(spot.keys) == 1 and spot.keys[0] not in data:
            cure = begins
        place = Place(file=str(path), line=line_of(text, spot.keys), key=_shown(spot.keys) or None)
        raise InputError(wrong, place=place, cure=cure) from None


def validated(model: type[Model], data: dict[str, Any], place: Place) -> Model:
    """Settings given one by one, as on the command line; InputError at `place` for the first that is wrong."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        wrong, cure, spot = _first(error, model)
        raise InputError(wrong, place=Place(file=place.file, key=_shown(spot.keys) or place.key), cure=cure) from None


def _first(error: ValidationError, model: type[BaseModel]) -> tuple[str, str, Spot]:
    """The error to tell: a misspelt key before the key that is missing because of it."""
    detail = min(error.errors(include_url=False), key=lambda each: each["type"] == "missing")
    spot = spot_of(model, detail["loc"])
    return *told(detail, spot, _STYLE), spot


def _shown(keys: tuple[int | str, ...]) -> str:
    return ", ".join(f"entry {part + 1}" if isinstance(part, int) else part for part in keys)
