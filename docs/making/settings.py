"""Every setting of a controller profile: meaning at the machine, unit, default, what is allowed, who states it and why."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from making.markdown import code, page, table, target, text, toctree
from making.schema_words import allowed, default, name_of
from making.stated import Statement, bundled, general
from steadyrest.profile import profile_schema

Schema = Mapping[str, Any]

_UNITS = (
    (r"revolutions per minute", "revolutions per minute"),
    (r"degrees per minute", "degrees per minute"),
    (r"mm per minute|F per minute in a mm program", "mm per minute"),
    (r"F per minute in an inch program", "inch per minute"),
    (r"F in inverse time", "as `feed.inverse_is` says: per minute, per second, or seconds"),
    (r"mm on that axis for one degree", "mm per degree"),
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

    @property
    def is_measure(self) -> bool:
        """It is a number that is no count, so it has a unit."""
        return self.schema.get("type") == "number"


@dataclass(frozen=True, slots=True)
class Group:
    """A table of controller.toml: its dotted name, what it is about, and its own settings."""

    name: str
    about: str
    settings: tuple[Setting, ...]


def groups() -> Iterator[Group]:
    """All groups, outer ones first, in the order of the models."""
    schema = profile_schema()
    single = tuple(Setting(key, each) for key, each in schema["properties"].items() if "$ref" not in each and not _table_in(each))
    yield Group("", "These come before all tables.", single)
    for key, each in schema["properties"].items():
        if "$ref" in each or _table_in(each):
            yield from _groups(key, each, schema["$defs"])


def _groups(name: str, schema: Schema, definitions: Mapping[str, Schema]) -> Iterator[Group]:
    inside = _table_in(schema)
    if inside:
        names = schema.get("propertyNames", {}).get("enum", ["K"])
        name, schema = f"{name}.{names[0]}", inside
    group = definitions[name_of(schema["$ref"])]
    parts = group["properties"].items()
    own = tuple(Setting(f"{name}.{key}", each) for key, each in parts if "$ref" not in each and not _table_in(each))
    yield Group(name, group.get("description", ""), own)
    for key, each in parts:
        if "$ref" in each or _table_in(each):
            yield from _groups(f"{name}.{key}", each, definitions)


def _table_in(schema: Schema) -> Schema | None:
    """The group that a table of groups holds by name, such as Rotary for `rotary`."""
    insides = [schema.get("additionalProperties"), *schema.get("patternProperties", {}).values()]
    return next((each for each in insides if isinstance(each, Mapping) and "$ref" in each), None)


def anchor(key: str) -> str:
    """The name of the place where a setting is explained."""
    return "setting-" + key.replace(".", "-")


def pages() -> dict[str, str]:
    """One page a table of controller.toml, and one that lists all keys."""
    stated = [statement for profile in bundled() for statement in profile.statements]
    by_page: dict[str, list[Group]] = {}
    for group in groups():
        by_page.setdefault(group.name.split(".")[0] or "top", []).append(group)
    found = {f"settings/{name}.md": _page(name, inside, stated) for name, inside in by_page.items()}
    every = [(group, setting) for inside in by_page.values() for group in inside for setting in group.settings]
    rows = [
        (f"[`{setting.key}`](#{anchor(setting.key)})", text(setting.schema.get("description", "")), default(setting.schema))
        for _, setting in every
    ]
    found["settings/index.md"] = page(
        "Settings of a profile",
        "Every setting that a `controller.toml` can state. Lengths are in mm and angles in degrees, whatever the units of the program. "
        "`A` stands for the rotary's letter (A, B or C), `X` for any linear axis, `K` for the letter of a word.",
        "A profile states only what differs from its parent; a setting that no profile of the chain states has the built-in default. "
        "`steadyrest controller show rs274ngc` prints all settings of a profile, with the file of each value.",
        "Under *stated by* are the bundled profiles that state the setting, with the comment that gives the source. "
        "Numbers in square brackets there are sections of NISTIR 6556.",
        table(["setting", "meaning", "default"], rows),
        toctree(by_page),
    )
    return found


def _page(name: str, inside: list[Group], stated: list[Statement]) -> str:
    title = "Before all tables" if name == "top" else f"[{name}]"
    parts: list[str] = []
    for group in inside:
        below = group.name and (group is not inside[0] or "." in group.name)
        if below:
            parts.append(f"## {code('[' + group.name + ']')}")
        parts += [text(group.about), _letters(group.name)]
        for setting in group.settings:
            parts += [
                target(anchor(setting.key)),
                f"{'###' if below else '##'} {code(setting.key)}",
                text(setting.schema.get("description", "")),
                _facts(setting),
            ]
            parts.append(_stated_by(setting, [one for one in stated if general(one.key) == setting.key]))
    return page(title, *parts)


def _letters(name: str) -> str:
    if name == "rotary.A":
        return "`A` is the letter of the rotary in programs; `[rotary.B]` and `[rotary.C]` have the same settings."
    if name == "linear.X":
        return "`[linear.Y]` and `[linear.Z]` have the same settings."
    return "`K` stands for the letter of the word." if name == "numbers.by_letter.K" else ""


def _facts(setting: Setting) -> str:
    facts = [f"* allowed: {allowed(setting.schema)}"]
    facts += [f"* unit: {setting.unit}"] if setting.unit else []
    facts.append(f"* default: {default(setting.schema) or 'none: the profile or a parent has to state it'}")
    return "\n".join(facts)


def _stated_by(setting: Setting, stated: list[Statement]) -> str:
    if not stated:
        return "No bundled profile states it: all of them have the default." if "default" in setting.schema else ""
    rows = [(f"[{one.profile}](#profile-{one.profile})", code(f"{one.key} = {one.toml}"), text(one.source)) for one in stated]
    return table(["stated by", "how", "where it comes from"], rows)
