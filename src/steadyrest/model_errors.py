"""What a model refuses, in the user's words: where it stands, what is wrong (with what is allowed), and the cure."""

from __future__ import annotations

import json
import types
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

Keys = Sequence[int | str]

SENTENCES = {
    "unknown": ("unknown key '{key}'{among}", "take it out"),
    "missing": ("'{key}' is missing", "add '{key}'"),
    "entry": ("a number is missing: found {found}", "give all the numbers"),
    "tag": ("{key} {found} is not known; allowed are {allowed}", "name one of those"),
    "choice": ("found {found}; allowed are {allowed}", "write one of those"),
    "bound": ("found {found}; it has to be {allowed}", "correct the number"),
    "type": ("found {found}; allowed is {allowed}", "write {allowed}"),
    "short": ("found {found}; it takes at least {allowed}", "add what is missing"),
    "long": ("found {found}; it takes at most {allowed}", "take out what is too much"),
    "unicode": ("the text holds half of a surrogate pair, which is no character", "correct the \\u escape"),
    "other": ("found {found}, which is not allowed here", "compare with the schema"),
}
"""What is wrong, and the cure, for each kind of refusal."""


@dataclass(frozen=True, slots=True)
class Style:
    """How one kind of file is spoken of.

    table       what it calls a group of keys
    guess       leads to the name that was perhaps meant
    sentences   those that differ from SENTENCES
    patterns    what the patterns of its texts ask for
    """

    table: str
    guess: str = "did you mean '{}'?"
    sentences: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    patterns: Mapping[str, str] = field(default_factory=dict)


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
_LENGTHS = {"too_short": ("short", "min_length"), "too_long": ("long", "max_length")}


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


def told(detail: ErrorDetails, spot: Spot, style: Style) -> tuple[str, str]:
    """What is wrong, with what is allowed; and the cure, with what the setting means."""
    kind, context, key = detail["type"], detail.get("ctx", {}), str(spot.keys[-1]) if spot.keys else ""
    said = {"key": key, "found": shown(detail["input"]), "allowed": "", "among": "", "expected": str(context.get("expected", ""))}
    names: list[str] = []
    meant = str(detail["input"])
    if kind == "rule":
        return str(context["wrong"]), str(context["cure"])
    if kind == "extra_forbidden":
        form, names, meant = "unknown", keys_of(spot.group), key
        said["among"] = f"; allowed are {', '.join(names)}" if names else ""
    elif kind == "missing":
        form = "entry" if spot.keys and isinstance(spot.keys[-1], int) else "missing"
    elif kind == "union_tag_not_found":
        form, said["key"] = "missing", str(context["discriminator"]).strip("'")
    elif kind == "union_tag_invalid":
        form, names, meant = "tag", _listed(str(context["expected_tags"])), str(context["tag"])
        said |= {"key": str(context["discriminator"]).strip("'"), "found": f"'{meant}'"}
    elif kind == "literal_error":
        form, names = "choice", _listed(said["expected"])
    elif kind in _BOUNDS:
        words, bound = _BOUNDS[kind]
        # A least bound as fine as this stands for "more than 0".
        words = "more than 0, at least" if bound == "ge" and 0 < context[bound] < 1e-6 else words
        form, said["allowed"] = "bound", f"{words} {context[bound]:g}"
    elif kind.removeprefix("string_") in _LENGTHS:
        form, bound = _LENGTHS[kind.removeprefix("string_")]
        said["allowed"] = str(context[bound])
    elif kind in _TYPES or kind in _TABLES:
        # A whole number beyond all floats is of the wrong type too.
        finite = kind == "float_type" and type(detail["input"]) is int
        form, said["allowed"] = "type", "a finite number" if finite else _TYPES.get(kind, style.table)
    elif kind == "string_pattern_mismatch":
        form, said["allowed"] = "type", style.patterns.get(str(context["pattern"]), "written in the form that this setting needs")
    else:
        form = "unicode" if kind == "string_unicode" else "other"
    said["allowed"] = said["allowed"] or ", ".join(names)
    wrong, cure = (each.format(**said) for each in style.sentences.get(form, SENTENCES[form]))
    if close := nearest(meant, names) if names else []:
        return wrong, style.guess.format(close[0])
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
