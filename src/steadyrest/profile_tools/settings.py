"""What is a profile with a few of its settings changed, and in which settings do two profiles differ?

A setting has a dotted key, as spelled in TOML. A whole table that only one of two profiles has (`rotary.B`, `numbers.by_letter.R`)
is one setting: half of it would be no rotary and no format.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from steadyrest.profile import LinearAxis, Profile, leaves, profile_error
from steadyrest.toml_text import toml_value

Table = dict[str, Any]


class Absent:
    """The value of a setting that a profile does not have."""

    def __repr__(self) -> str:
        return "not there"


ABSENT: Final = Absent()

WHOLE = ("rotary", "numbers.by_letter")
"""Tables of tables, each of which is there or not there as a whole."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One setting that two profiles have differently; a value may be ABSENT, or a whole table."""

    key: str
    first: Any
    second: Any


def table_of(profile: Profile) -> Table:
    """All settings as nested tables with the keys of TOML, the three linear axes always among them."""
    table = profile.model_dump(by_alias=True, exclude={"name"})
    default = LinearAxis().model_dump(by_alias=True)
    table["linear"] = {letter: table["linear"].get(letter, default) for letter in "XYZ"}
    return table


def value_of(profile: Profile, key: str) -> Any:
    """The value of a setting, or ABSENT."""
    return _get(table_of(profile), key)


def differences(first: Profile, second: Profile) -> list[Difference]:
    """The settings in which two profiles differ, in the order of the model."""
    tables = table_of(first), table_of(second)
    keys = [_whole(key, other) for table, other in (tables, tables[::-1]) for key in leaves(table)]
    pairs = {key: (_get(tables[0], key), _get(tables[1], key)) for key in keys if key not in WHOLE}
    return [Difference(key, one, other) for key, (one, other) in pairs.items() if one != other and not _nothing(one, other)]


def _nothing(*values: Any) -> bool:
    return all(value in ({}, ABSENT) for value in values)


def with_values(profile: Profile, values: Mapping[str, Any]) -> Profile:
    """The profile with these settings changed; ABSENT takes a table out. ProfileError where they cannot stand together."""
    table = deepcopy(table_of(profile))
    for key, value in values.items():
        *path, last = key.split(".")
        inner = table
        for part in path:
            inner = inner.setdefault(part, {})
        if isinstance(value, Absent):
            inner.pop(last, None)
        else:
            inner[last] = deepcopy(value)
    try:
        return Profile.model_validate({"name": profile.name, **table}, strict=True)
    except ValidationError as error:
        raise profile_error(error, Path(profile.name), {}) from None


def said(value: Any) -> str:
    """A value as it would stand in a TOML file, or in words where it cannot."""
    if isinstance(value, Absent):
        return "not there"
    if value is None:
        return "unset"
    return toml_value(value)


def _whole(key: str, other: Mapping[str, Any]) -> str:
    """The table that holds the key, where the other profile does not have that table at all."""
    for head in WHOLE:
        if key.startswith(head + "."):
            name = ".".join(key.split(".")[: head.count(".") + 2])
            return name if isinstance(_get(other, name), Absent) else key
    return key


def _get(table: Mapping[str, Any], key: str) -> Any:
    value: Any = table
    for part in key.split("."):
        if not isinstance(value, dict) or part not in value:
            return ABSENT
        value = value[part]
    return value
