"""How is a TOML file read into a model, and how do its mistakes read in the user's words?"""

from __future__ import annotations

import re
import tomllib
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import InputError, Place
from steadyrest.toml_text import parse_toml
from steadyrest.toolpath import LEAST

Model = TypeVar("Model", bound=BaseModel)
Loc = tuple[int | str, ...]

_SPOT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_TYPES = {
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "float_type": "a number",
    "finite_number": "a finite number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "tuple_type": "a list in [ ]",
    "list_type": "a list in [ ]",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
    "path_type": "the name of a file, in quotes",
}
_BOUNDS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}


def load_toml(path: Path, model: type[Model], begins: str) -> Model:
    """A TOML file as a model.

    begins    what such a file begins with, for the cure of a missing first key
    raises    InputError: not there, not readable, not UTF-8, not TOML, or not what the model allows
    """
    text = read_text(path)
    try:
        data = parse_toml(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(error, text, path) from None
    try:
        return model.model_validate(data)
    except ValidationError as error:
        detail = _first(error)
        loc = tuple(part for part in detail["loc"] if part != "[key]")
        wrong, cure = wording(detail, model)
        if detail["type"] == "missing" and len(loc) == 1:
            cure = begins
        keys = shown_keys(loc, data)
        raise InputError(wrong, place=Place(file=str(path), line=line_of(text, loc), key=", ".join(keys) or None), cure=cure) from None


def read_text(path: Path) -> str:
    """The text of a file in UTF-8; InputError when it cannot be read."""
    place = Place(file=str(path))
    try:
        if path.exists() and not path.is_file():
            raise InputError("this is a directory or a device, and no plain file", place=place, cure="name a file")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError("there is no such file", place=place, cure="check the name and the folder") from None
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise InputError("is not UTF-8 text", place=Place(file=str(path), line=line), cure="save the file as UTF-8") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"cannot be read: {reason}", place=place, cure="check the name and the permissions of the file") from None


def validated(model: type[Model], data: dict[str, Any], place: Place) -> Model:
    """Settings given one by one, as on the command line; InputError at `place` for the first that is wrong."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        detail = _first(error)
        wrong, cure = wording(detail, model)
        keys = shown_keys(detail["loc"], data)
        raise InputError(wrong, place=Place(file=place.file, key=", ".join(keys) or place.key), cure=cure) from None


def _first(error: ValidationError) -> ErrorDetails:
    """The error to tell: a misspelt key before the key that is missing because of it."""
    return min(error.errors(include_url=False), key=lambda each: each["type"] == "missing")


def wording(detail: ErrorDetails, model: type[BaseModel]) -> tuple[str, str]:
    """What is wrong (with what is allowed), and the cure."""
    kind, found, context, loc = detail["type"], detail["input"], detail.get("ctx", {}), detail["loc"]
    last = str(loc[-1]) if loc else ""
    if kind == "rule":
        return str(context["wrong"]), str(context["cure"])
    group = _group(model, loc[:-1])
    if kind == "extra_forbidden":
        allowed = [field.alias or name for name, field in group.model_fields.items()] if group is not None else []
        close = get_close_matches(last, allowed, n=1)
        listed = f"; allowed are {', '.join(allowed)}" if allowed else ""
        return f"there is no setting '{last}' here{listed}", f"did you mean '{close[0]}'?" if close else "take it out"
    if kind == "missing":
        return f"'{last}' is missing", f"add it: {_described(group, last)}" if _described(group, last) else f"add '{last}'"
    if kind == "literal_error":
        allowed = [each.strip(" '") for each in str(context["expected"]).replace(" or ", ",").split(",")]
        close = get_close_matches(str(found), allowed, n=1)
        return f"found {found!r}; allowed are {', '.join(allowed)}", f"did you mean '{close[0]}'?" if close else "write one of them"
    if kind == "union_tag_invalid":
        return f"found {str(context['tag'])!r}; allowed are {context['expected_tags']}", "write one of them"
    if kind == "union_tag_not_found":
        return f"{context['discriminator']} is missing", f"add {context['discriminator']}"
    if kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        words = "more than 0, at least" if context[bound] == LEAST else words
        return f"found {found!r}; it has to be {words} {context[bound]:g}", "correct the number"
    if kind in _TYPES:
        return f"found {found!r:.60}; allowed is {_TYPES[kind]}", _described(group, last) or "correct it"
    if kind in ("too_short", "string_too_short"):
        return f"found {found!r:.60}; it takes at least {context['min_length']}", _described(group, last) or "add what is missing"
    if kind == "too_long":
        return f"found {found!r:.60}; it takes at most {context['max_length']}", _described(group, last) or "take out what is too much"
    if kind == "string_pattern_mismatch":
        return f"found {found!r:.60}, which is not spelled as it has to be here", _described(
            group, last
        ) or "letters and digits, a letter first"
    return f"found {found!r:.60}, which is not allowed here", _described(group, last) or "compare with the schema"


def _group(model: type[BaseModel], loc: Loc) -> type[BaseModel] | None:
    """The group of settings at a place, as far as it can be told from the names alone."""
    group: type[BaseModel] = model
    for part in loc:
        field = next((field for name, field in group.model_fields.items() if part in (name, field.alias)), None)
        if field is not None:
            inside = _models(field.annotation)
            if len(inside) != 1:
                return _tagged(inside, loc)
            group = inside[0]
    return group


def _tagged(models: list[type[BaseModel]], loc: Loc) -> type[BaseModel] | None:
    for model in models:
        for field in model.model_fields.values():
            if any(part in get_args(field.annotation) for part in loc if isinstance(part, str)):
                return model
    return None


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for inside in get_args(annotation) for model in _models(inside)]


def _described(group: type[BaseModel] | None, key: str) -> str:
    if group is None:
        return ""
    return next((field.description or "" for name, field in group.model_fields.items() if key in (name, field.alias)), "")


def shown_keys(loc: Loc, data: Any) -> list[str]:
    """A place in the file as its keys; the tags of unions, which the file does not hold, left out."""
    keys: list[str] = []
    here: Any = data
    for part in loc:
        if isinstance(part, int):
            keys.append(f"entry {part + 1}")
            here = here[part] if isinstance(here, list | tuple) and part < len(here) else None
        elif isinstance(here, dict) and part not in here and part in here.values():
            continue
        else:
            keys.append(part)
            here = here.get(part) if isinstance(here, dict) else None
    return keys


def line_of(text: str, loc: Loc) -> int | None:
    """The line, from 1, of a key, or of the heading or key nearest to it. Good enough to point at, for plain layouts."""
    names = [part for part in loc if isinstance(part, str)]
    entry = next((part for part in loc if isinstance(part, int)), 0)
    start, best = 0, None
    lines = text.splitlines()
    for depth, name in enumerate(names):
        heading = re.compile(rf"^\s*\[\[?\s*(?:[\w.\-\"']+\s*\.\s*)?[\"']?{re.escape(name)}[\"']?\s*\]\]?")
        key = re.compile(rf"^\s*(?:[\w.\-\"']+\s*\.\s*)?[\"']?{re.escape(name)}[\"']?\s*[.=]")
        found = [number for number in range(start, len(lines)) if heading.match(lines[number])]
        at: int | None
        if found:
            at = found[min(entry, len(found) - 1)] if depth == 0 else found[0]
        else:
            at = next((number for number in range(start, len(lines)) if key.match(lines[number])), None)
        if at is not None:
            start, best = at, at + 1
    return best


def _not_toml(error: tomllib.TOMLDecodeError, text: str, path: Path) -> InputError:
    message = str(error)
    spot = _SPOT.search(message)
    what = _SPOT.sub("", message)
    place = Place(file=str(path), line=text.count("\n") + 1)
    if spot is not None and spot[1] is not None:
        place = Place(file=str(path), line=int(spot[1]), column=int(spot[2]))
    return InputError(
        f"this is not TOML: {what[:1].lower()}{what[1:]}",
        place=place,
        cure='settings are lines such as name = "float valve" or indexed = [0, 90], under headings such as [[inputs]]',
    )
