"""Which settings are there: each by its dotted key, with its group, its meaning, its unit and its piece of the schema."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from steadyrest.profile import kept_key, profile_schema
from steadyrest.schema_words import name_of

Schema = Mapping[str, Any]

_UNITS = (
    (r"revolutions per minute", "revolutions per minute"),
    (r"degrees per minute", "degrees per minute"),
    (r"mm per minute|F per minute in a mm program", "mm per minute"),
    (r"F per minute in an inch program", "inch per minute"),
    (r"F in inverse time", "as `feed.inverse_is` says: per minute, per second, or seconds"),
    (r"mm on that axis for one degree", "mm per degree"),
    (r"\bpercent\b", "percent"),
    (r"\bseconds\b", "seconds"),
    (r"X, Y, Z \(mm, .*degrees", "mm, and degrees for the rotary"),
    (r"\bmm\b", "mm"),
    (r"\bdegrees\b", "degrees"),
)
"""The unit of a number stands in its description; the first that is found there."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its dotted key, with A for any rotary, X for any linear axis, K for any letter; and its piece of the schema."""

    key: str
    schema: Schema

    @property
    def unit(self) -> str:
        """The unit, as Markdown; empty for what is no measure."""
        kinds = {self.schema.get("type"), *(each.get("type") for each in self.schema.get("anyOf", []))}
        inside = [item for each in (self.schema, *self.schema.get("anyOf", [])) for item in each.get("prefixItems", [])]
        if "number" not in kinds | {each.get("type") for each in inside}:
            return ""
        said = self.schema.get("description", "")
        return next((unit for pattern, unit in _UNITS if re.search(pattern, said)), "")


@dataclass(frozen=True, slots=True)
class Group:
    """A table of controller.toml: its dotted name, what it is about, and its own settings."""

    name: str
    about: str
    settings: tuple[Setting, ...]


def groups() -> Iterator[Group]:
    """All groups, outer ones first, in the order of the models."""
    schema = profile_schema()
    single = tuple(Setting(key, each) for key, each in schema["properties"].items() if not _group_in(each) and not _table_in(each))
    yield Group("", "These come before all tables.", single)
    for key, each in schema["properties"].items():
        if _group_in(each) or _table_in(each):
            yield from _groups(key, each, schema["$defs"])


def _groups(name: str, schema: Schema, definitions: Mapping[str, Schema]) -> Iterator[Group]:
    inside = _table_in(schema)
    if inside:
        names = schema.get("propertyNames", {}).get("enum", ["K"])
        name, schema = f"{name}.{names[0]}", inside
    group = definitions[_group_in(schema)]
    parts = [(key, each) for key, each in group["properties"].items() if kept_key(f"{name}.{key}") == f"{name}.{key}"]
    own = tuple(Setting(f"{name}.{key}", each) for key, each in parts if not _group_in(each) and not _table_in(each))
    yield Group(name, group.get("description", ""), own)
    for key, each in parts:
        if _group_in(each) or _table_in(each):
            yield from _groups(f"{name}.{key}", each, definitions)


def _group_in(schema: Schema) -> str:
    """The name of the group that a key holds, or may hold, such as Leans for `leans`; empty where it holds a setting."""
    return next((name_of(each["$ref"]) for each in schema.get("anyOf", [schema]) if "$ref" in each), "")


def _table_in(schema: Schema) -> Schema | None:
    """The group that a table of groups holds by name, such as Rotary for `rotary`."""
    insides = [schema.get("additionalProperties"), *schema.get("patternProperties", {}).values()]
    return next((each for each in insides if isinstance(each, Mapping) and "$ref" in each), None)


def general(key: str) -> str:
    """A key as it is kept, with A for any rotary, X for any linear axis, K for any letter of a word."""
    key = re.sub(r"^rotary\.[ABC]\b", "rotary.A", kept_key(key))
    key = re.sub(r"^linear\.[XYZ]\b", "linear.X", key)
    return re.sub(r"^numbers\.by_letter\.[A-Z]\b", "numbers.by_letter.K", key)
