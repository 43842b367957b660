"""What is wrong with a value, in words: where it stands, what was found, what is allowed, the cure."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ProfileError
from steadyrest.profile.base import Settings
from steadyrest.profile.model import Profile
from steadyrest.profile.search import nearest, said_names
from steadyrest.profile.stated import FILE_NAME, line_of

MOST_TOLD = 9
"""Besides the first."""

_TYPES = {
    "string_type": "text in quotes",
    "bool_type": "true or false",
    "float_type": "a number",
    "int_type": "a whole number",
    "tuple_type": "a list in square brackets",
    "model_type": "a table of settings",
    "dict_type": "a table of settings",
    "finite_number": "a finite number",
}

_PATTERNS = {
    r"^([A-Z]\d{1,4}(\.\d)?)?$": "a code: one capital letter and a number, such as G94 or M8; empty for none",
    r"^[A-Z]$": "one capital letter",
    r"^[A-Z]*$": "capital letters, such as XYZ; empty for none",
    r"^[A-Z]+$": "capital letters, each one word's letter",
    r"^[A-Z:]?$": "one capital letter or a colon; empty for none",
    r"^\.[A-Za-z0-9]{1,8}$": "a point and up to eight letters or digits, such as .nc",
    r"^[!-~]*$": "printable characters without spaces; empty for none",
}


def profile_error(error: ValidationError, folder: Path, sources: Mapping[str, str]) -> ProfileError:
    """All that is wrong, as one error: the first, with the others beside it; each names the file that stated the value."""
    found = [_one_error(each, folder, sources) for each in error.errors(include_url=False)]
    found.sort(key=lambda each: (each.place.file or "", each.place.line or 0))
    first, also = found[0], found[1:]
    if len(also) > MOST_TOLD:
        also = [*also[:MOST_TOLD], ProfileError(f"{len(also) - MOST_TOLD} more", cure="correct these first")]
    return ProfileError(first.wrong, place=first.place, cure=first.cure, also=also)


def _one_error(first: ErrorDetails, folder: Path, sources: Mapping[str, str]) -> ProfileError:
    keys = [str(part) for part in first["loc"] if part != "[key]"]
    context: dict[str, Any] = first.get("ctx", {})
    if first["type"] == "combination":
        keys += [part for part in str(context["key"]).split(".") if part]
        wrong, cure = str(context["sentence"]), str(context["cure"])
    else:
        wrong, cure = _wrong(first["type"], first["input"], context, keys)
    dotted = ".".join(keys)
    source = _source(keys, sources)
    if source is None and "--set" in sources.values():
        source = "--set"
    if source is None:
        source = str(folder / FILE_NAME)
    line = line_of(Path(source), dotted) if source != "--set" else None
    return ProfileError(wrong, place=Place(file=source, line=line, key=dotted), cure=cure)


def _wrong(kind: str, found: Any, context: Mapping[str, Any], keys: list[str]) -> tuple[str, str]:
    shown = _shown(found)
    if kind == "extra_forbidden":
        return unknown_key(keys)
    if kind == "missing" and keys[-1].isdigit():
        return f"there are only {keys[-1]} values in the list", described(keys)
    if kind == "missing":
        return f"{keys[-1]} is missing", f"state it: {described(keys)}" if described(keys) else ""
    if kind in _TYPES:
        return f"{shown} is not {_TYPES[kind]}", described(keys)
    if kind == "literal_error":
        allowed = str(context["expected"])
        if keys[:-1] == ["rotary"]:
            return f"a rotary cannot be called {keys[-1]}; allowed: {allowed}", "its table's name is its letter: [rotary.A]"
        if keys[:-1] == ["linear"]:
            return f"a linear axis cannot be called {keys[-1]}; allowed: {allowed}", ""
        close = nearest(str(found), [each.strip(" '") for each in allowed.replace(" or ", ",").split(",")])
        return f"{shown} is not allowed; allowed: {allowed}", said_names("perhaps you mean", close)
    if kind == "string_pattern_mismatch":
        wanted = _PATTERNS.get(str(context["pattern"]), "spelled in the way that this setting wants")
        return f"{shown} is not {wanted}", described(keys)
    bounds = {
        "greater_than": ("gt", "greater than"),
        "greater_than_equal": ("ge", "at least"),
        "less_than": ("lt", "less than"),
        "less_than_equal": ("le", "at most"),
    }
    if kind in bounds:
        name, words = bounds[kind]
        return f"{shown} is not allowed: it has to be {words} {context[name]:g}", described(keys)
    if kind in ("string_too_short", "too_short"):
        return f"{shown} is too short: at least {context['min_length']} are needed", described(keys)
    if kind in ("string_too_long", "too_long"):
        return f"{shown} is too long: at most {context['max_length']} are allowed", described(keys)
    return f"{shown} is not allowed here", described(keys)


def unknown_key(keys: list[str]) -> tuple[str, str]:
    """The sentence and the cure for a key that nobody knows: the nearest names, what is allowed here."""
    if len(keys) > 1 and keys[-1] in Profile.model_fields:
        heading = ".".join(keys[:-1])
        cure = f"it stands under the heading [{heading}]: put the line above all headings, or leave out what the heading says already"
        return f"there is no setting {'.'.join(keys)}", cure
    group = group_at(keys[:-1])
    allowed = sorted(names_in(group)) if group is not None else []
    close = nearest(keys[-1], allowed)
    if not close:
        every = all_keys()
        close = [key for key in every if key.rsplit(".", 1)[-1] == keys[-1]][:3] or nearest(".".join(keys), every)
    guess = said_names("perhaps you mean", close)
    listed = f"allowed here: {', '.join(allowed)}" if allowed else ""
    return f"there is no setting {'.'.join(keys)}", "; ".join(filter(None, [guess, listed]))


def described(keys: list[str]) -> str:
    """The description of a setting; empty where there is none."""
    group = group_at(keys[:-1])
    if group is not None and keys:
        for name, field in group.model_fields.items():
            if (field.alias or name) == keys[-1]:
                return field.description or ""
    return described(keys[:-1]) if keys and keys[-1].isdigit() else ""


def names_in(group: type[Settings]) -> list[str]:
    """The keys of a group as they are spelled in TOML."""
    names = [field.alias or name for name, field in group.model_fields.items()]
    return [name for name in names if name != "name"] + ["extends", "drop"] if group is Profile else names


def group_at(keys: list[str]) -> type[Settings] | None:
    """The group of settings at a dotted place; None where a value, or nothing, is."""
    group: type[Settings] = Profile
    rest = list(keys)
    while rest:
        key = rest.pop(0)
        annotation = next((field.annotation for name, field in group.model_fields.items() if (field.alias or name) == key), None)
        inside = table_of(annotation)
        if inside is not None:
            if not rest:
                return None
            rest.pop(0)
            group = inside
        elif isinstance(annotation, type) and issubclass(annotation, Settings):
            group = annotation
        else:
            return None
    return group


def table_of(annotation: Any) -> type[Settings] | None:
    """The group that a table of groups holds, such as Rotary for `rotary`; None for anything else."""
    if typing.get_origin(annotation) is dict:
        inside = typing.get_args(annotation)[1]
        if isinstance(inside, type) and issubclass(inside, Settings):
            return inside
    return None


def letters_of(annotation: Any) -> tuple[str, ...]:
    """The names that a table of groups takes: A, B, C for `rotary`; X for any letter."""
    key = typing.get_args(annotation)[0]
    while typing.get_origin(key) is Annotated:
        key = typing.get_args(key)[0]
    return typing.get_args(key) if typing.get_origin(key) is typing.Literal else ("K",)


def all_keys() -> list[str]:
    """The dotted names of all settings."""
    keys: list[str] = []

    def walk(group: type[Settings], prefix: str) -> None:
        for name, field in group.model_fields.items():
            dotted = prefix + (field.alias or name)
            annotation = field.annotation
            inside = table_of(annotation)
            if inside is not None:
                for letter in letters_of(annotation):
                    walk(inside, f"{dotted}.{letter}.")
            elif isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias) and issubclass(annotation, Settings):
                walk(annotation, dotted + ".")
            else:
                keys.append(dotted)

    walk(Profile, "")
    return [key for key in keys if key != "name"]


def _source(keys: list[str], sources: Mapping[str, str]) -> str | None:
    """Who stated the key, or something inside it, or the value that it is a part of (a list's second entry)."""
    dotted = ".".join(keys)
    inside = (source for key, source in sources.items() if key == dotted or key.startswith(dotted + "."))
    around = (sources[head] for length in range(len(keys) - 1, 0, -1) if (head := ".".join(keys[:length])) in sources)
    return next(inside, None) or next(around, None)


def _shown(found: Any) -> str:
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, str):
        return f'"{found}"'
    if isinstance(found, (list, tuple)):
        return "the list [" + ", ".join(_shown(each) for each in found) + "]"
    return "this table" if isinstance(found, dict) else str(found)
