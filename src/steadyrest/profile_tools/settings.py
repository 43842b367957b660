"""What is a profile with a few of its settings changed, and in which settings do two profiles differ?

A setting has a dotted key, as spelled in TOML. A whole table that only one of two profiles has (`rotary.B`, `numbers.by_letter.R`)
is one setting: half of it would be no rotary and no format.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import Enum
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from steadyrest.profile import LinearAxis, Profile, leaves, nested, override, profile_error
from steadyrest.toml_text import toml_value


class Absent(Enum):
    """The value of a setting that a profile does not have."""

    ABSENT = "not there"


ABSENT: Final = Absent.ABSENT

NOT_IN_PROGRAMS = ("speaks", "program.extension", "delivery.")
"""Settings that say nothing of what is in a program."""
WHOLE = ("rotary", "numbers.by_letter")
"""Tables of tables, each of which is there or not there as a whole."""


def table_of(profile: Profile) -> dict[str, Any]:
    """All settings as nested tables with the keys of TOML, the three linear axes always among them."""
    table = profile.model_dump(by_alias=True, exclude={"name"})
    table["linear"] = {letter: LinearAxis().model_dump(by_alias=True) for letter in "XYZ"} | table["linear"]
    return table


def set_values(sets: Sequence[str]) -> dict[str, Any]:
    """What `KEY=VALUE` texts say, by dotted key. ProfileError for one that says nothing."""
    return {key: entry[0] for key, entry in leaves(override({}, sets)).items() if entry}


def value_of(profile: Profile, key: str) -> Any:
    """The value of a setting, or ABSENT."""
    return _get(table_of(profile), key)


def differences(first: Profile, second: Profile) -> dict[str, tuple[Any, Any]]:
    """The settings in which two profiles differ, in the order of the model, with both values: ABSENT, or a whole table, among them."""
    one, two = table_of(first), table_of(second)
    keys = [_whole(key, other) for table, other in ((one, two), (two, one)) for key in leaves(table)]
    pairs = {key: (_get(one, key), _get(two, key)) for key in keys if key not in WHOLE}
    return {key: pair for key, pair in pairs.items() if pair[0] != pair[1] and not all(value in ({}, ABSENT) for value in pair)}


def with_values(profile: Profile, values: Mapping[str, Any]) -> Profile:
    """The profile with these settings changed; ABSENT takes a table out. ProfileError where they cannot stand together."""
    flat = leaves(table_of(profile))
    for key, value in values.items():
        flat = {
            other: held
            for other, held in flat.items()
            if not (f"{other}.".startswith(f"{key}.") or (held == {} and key.startswith(f"{other}.")))
        }
        flat |= {} if isinstance(value, Absent) else leaves(nested({key: value}))
    try:
        return Profile.model_validate({"name": profile.name, **nested(flat)}, strict=True)
    except ValidationError as error:
        raise profile_error(error, Path(profile.name), {}) from None


def said(value: Any) -> str:
    """A value as it would stand in a TOML file, or in words where it cannot."""
    return value.value if isinstance(value, Absent) else "unset" if value is None else toml_value(value)


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
