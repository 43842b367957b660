"""What a model refuses, in the user's words: where it stands, what is wrong (with what is allowed), and the cure."""

from __future__ import annotations

import json
import types
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

Keys = Sequence[int | str]

_TYPES = {
    kind: words
    for words, kinds in {
        "a number": "float_type float_parsing",
        "a finite number": "finite_number",
        "a whole number": "int_type int_from_float int_parsing int_parsing_size",
        "a text in quotes": "string_type",
        "true or false": "bool_type bool_parsing",
        "a list in square brackets": "tuple_type list_type",
        "the name of a file, in quotes": "path_type",
    }.items()
    for kind in kinds.split()
}
_TABLES = ("model_type", "dict_type", "model_attributes_type", "dataclass_type")
_BOUNDS = {
    "greater_than": ("more than", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("less than", "lt"),
    "less_than_equal": ("at most", "le"),
}
_LENGTHS = {
    "too_short": ("at least", "min_length", "add what is missing"),
    "too_long": ("at most", "max_length", "take out what is too much"),
}


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in a model.

    keys     as the file spells them; entries of lists count from 0
    group    the group of keys that has the last of them; None where that is an entry of a list or table, or nothing
    field    the innermost setting on the way; None where the last key is none
    """

    keys: tuple[int | str, ...]
    group: type[BaseModel] | None
    field: FieldInfo | None

    @property
    def described(self) -> str:
        """What the setting means; empty where nothing says it."""
        return (self.field.description or "") if self.field is not None else ""


def spot_of(model: type[BaseModel], loc: Keys) -> Spot:
    """The place that an error of a model names; tags of unions, which no file holds, are left out."""
    here: Any = model
    keys: list[int | str] = []
    group, field = None, None
    for part in loc:
        here = unwrapped(here)
        if part == "[key]":
            continue
        if get_origin(here) in (Union, types.UnionType):
            here = next((one for one in get_args(here) if _has_tag(one, part)), None)
            continue
        keys.append(part)
        group = None
        if isinstance(here, type) and issubclass(here, BaseModel):
            group = here
            field = next((each for name, each in here.model_fields.items() if part in (name, each.alias)), None)
            here = field.annotation if field is not None else None
        elif get_origin(here) is dict:
            here = get_args(here)[1]
        elif get_origin(here) in (tuple, list):
            entries = [each for each in get_args(here) if each is not Ellipsis]
            here = entries[min(int(part), len(entries) - 1)]
        else:
            here = None
    return Spot(tuple(keys), group, field)


def keys_of(group: type[BaseModel] | None) -> list[str]:
    """The keys of a group as a file spells them."""
    return [field.alias or name for name, field in group.model_fields.items()] if group is not None else []


def unwrapped(annotation: Any) -> Any:
    """A type without its constraints, and without the None of a setting that may be left out."""
    while get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if get_origin(annotation) in (Union, types.UnionType):
        given = [each for each in get_args(annotation) if each is not type(None)]
        return unwrapped(given[0]) if len(given) == 1 else annotation
    return annotation


def _has_tag(variant: Any, tag: int | str) -> bool:
    """Whether a tag means this one of a union: by its name there, or by the value of one of its keys."""
    fields = getattr(unwrapped(variant), "model_fields", {}).values()
    return any(getattr(each, "tag", None) == tag for each in get_args(variant)[1:]) or any(
        tag in get_args(each.annotation) for each in fields
    )


def told(detail: ErrorDetails, spot: Spot, table: str, patterns: Mapping[str, str] = MappingProxyType({})) -> tuple[str, str]:
    """What is wrong, with what is allowed; and the cure, with what the setting means.

    table      what the file calls a group of keys
    patterns   what the patterns of its texts ask for
    """
    kind, context, key, found = detail["type"], detail.get("ctx", {}), str(spot.keys[-1]) if spot.keys else "", shown(detail["input"])
    names: list[str] = []
    meant = str(detail["input"])
    if kind == "rule":
        return str(context["wrong"]), str(context["cure"])
    if kind == "extra_forbidden":
        names, meant = keys_of(spot.group), key
        wrong, cure = f"unknown key '{key}'" + (f"; allowed are {', '.join(names)}" if names else ""), "take it out"
    elif kind == "missing" and spot.keys and isinstance(spot.keys[-1], int):
        wrong, cure = f"a number is missing: found {found}", "give all the numbers"
    elif kind in ("missing", "union_tag_not_found"):
        key = str(context.get("discriminator", key)).strip("'")
        wrong, cure = f"'{key}' is missing", f"add '{key}'"
    elif kind == "union_tag_invalid":
        key, names, meant = str(context["discriminator"]).strip("'"), _listed(str(context["expected_tags"])), str(context["tag"])
        wrong, cure = f"{key} '{meant}' is not known; allowed are {', '.join(names)}", "name one of those"
    elif kind == "literal_error":
        names = _listed(str(context["expected"]))
        wrong, cure = f"found {found}; allowed are {', '.join(names)}", "write one of those"
    elif kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        # A least bound as fine as this stands for "more than 0".
        words = "more than 0, at least" if bound == "ge" and 0 < context[bound] < 1e-6 else words
        wrong, cure = f"found {found}; it has to be {words} {context[bound]:g}", "correct the number"
    elif kind.removeprefix("string_") in _LENGTHS:
        words, bound, cure = _LENGTHS[kind.removeprefix("string_")]
        wrong = f"found {found}; it takes {words} {context[bound]}"
    elif kind in _TYPES or kind in _TABLES or kind == "string_pattern_mismatch":
        # A whole number beyond all floats is of the wrong type too.
        allowed = "a finite number" if kind == "float_type" and type(detail["input"]) is int else _TYPES.get(kind, table)
        if kind == "string_pattern_mismatch":
            allowed = patterns.get(str(context["pattern"]), "written in the form that this setting needs")
        wrong, cure = f"found {found}; allowed is {allowed}", f"write {allowed}"
    elif kind == "string_unicode":
        wrong, cure = "the text holds half of a surrogate pair, which is no character", "correct the \\u escape"
    else:
        wrong, cure = f"found {found}, which is not allowed here", "compare with the schema"
    if close := nearest(meant, names) if names else []:
        return wrong, f"did you mean '{close[0]}'?"
    if kind in _TYPES and isinstance(detail["input"], str):
        cure += ", without quotes"
    return wrong, ": ".join(filter(None, [cure, spot.described]))


def _listed(expected: str) -> list[str]:
    return [each.strip(" '") for each in expected.replace(" or ", ",").split(",")]


def nearest(said: str, names: Iterable[str]) -> list[str]:
    """Up to three names that look like what was said, the most similar first."""
    from difflib import get_close_matches

    by_lower: dict[str, str] = {}
    for name in names:
        by_lower.setdefault(name.lower(), name)
    return [by_lower[low] for low in get_close_matches(said.lower(), by_lower, n=3, cutoff=0.55)]


def shown(value: Any) -> str:
    """A value as it stands in a file, shortened; a group of keys that was read already by its kind."""
    if isinstance(value, BaseModel):
        return type(value).__name__
    try:
        text = str(value) if isinstance(value, float) else json.dumps(value, ensure_ascii=False)
    except (TypeError, ValueError):
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."
