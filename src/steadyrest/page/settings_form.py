"""Every setting of a profile as a field of a form, made from the model: what it means, what it is now, and where that came from."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from string import ascii_uppercase
from typing import Any, Literal

from steadyrest.page.fields import number_of
from steadyrest.profile import BUILT_IN, FILE_NAME, SET, ResolvedProfile, leaves, line_of, resolve
from steadyrest.profile_tools import Group, Setting, groups, is_ours, sources_in, table_of
from steadyrest.schema_words import allowed
from steadyrest.toml_text import lines_of_keys, toml_value

Kind = Literal["choice", "number", "text", "list", "numbers"]

CHAPTERS = (
    ("The machine and its rotary", ("rotary", "positions", "reorient", "poles", "linear", "spindle", "retract", "safety")),
    ("What F means, and arcs", ("feed", "arcs")),
    ("Numbers and words", ("numbers", "words", "units", "program")),
    ("Codes", ("codes", "tool", "coolant", "stops", "cycles")),
    ("Where programs go", ("delivery",)),
)
"""A machinist's order. What is in none of them comes last, so that a new group appears by itself."""


@dataclass(frozen=True, slots=True)
class Field:
    """One setting.

    key       dotted
    about     what it means; between backquotes is code
    choices   of a choice, as the field holds them
    allowed   what it may be, where that is no choice; between backquotes is code
    held      the value that holds without what is tried, as a text; empty: none
    value     what the field shows: held, or what is tried
    origin    where the held value came from, in words
    source    the comment beside it there
    own       the held value is another one than the parent's
    wrong     why it cannot be as it is tried, with the cure
    falls_to  what would hold, and from where, if it were stated no more; empty where nobody here can take it out
    unset     that is tried
    """

    key: str
    about: str
    kind: Kind
    choices: tuple[str, ...]
    allowed: str
    unit: str
    held: str
    value: str
    origin: str
    source: str
    own: bool
    wrong: str
    falls_to: str = ""
    unset: bool = False

    @property
    def name(self) -> str:
        """Its name within its group, as words."""
        return self.key.rpartition(".")[2].replace("_", " ")

    @property
    def changed(self) -> bool:
        """Whether another value is tried than holds, or none."""
        return self.value != self.held or self.unset


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Settings that stand in one table: its dotted name, what it is about."""

    name: str
    about: str
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """What belongs together at the machine: the tables of the outer level, each with those inside it."""

    title: str
    tables: tuple[tuple[str, tuple[FieldGroup, ...]], ...]


def chapters(
    held: ResolvedProfile,
    changed: ResolvedProfile | None,
    tried: Mapping[str, Any],
    wrong: Mapping[str, str],
    *,
    unset: Iterable[str] = (),
    added: Iterable[str] = (),
) -> list[Chapter]:
    """The whole form.

    held      what holds without what is tried, settings of the job included
    changed   with what is tried; None where that cannot be
    tried     the values that are tried, by dotted key
    wrong     what is wrong, by dotted key
    unset     keys that are tried without being stated
    added     tables that are not there yet and are to be filled in, such as `rotary.B` and `numbers.by_letter.R` (`addable`)
    """
    made = list(_groups(held, changed or held, tried, wrong, frozenset(unset), tuple(added)))
    heads = list(dict.fromkeys(group.name.split(".")[0] for group in made))
    placed = {head for _, inside in CHAPTERS for head in inside}
    found = []
    for title, inside in (*CHAPTERS, ("The profile itself", tuple(head for head in heads if head not in placed))):
        tables = ((head, tuple(group for group in made if group.name.split(".")[0] == head)) for head in inside if head in heads)
        found.append(Chapter(title, tuple(tables)))
    return [chapter for chapter in found if chapter.tables]


def fields_of(chapters: Iterable[Chapter]) -> Iterator[Field]:
    """All fields of a form."""
    yield from (field for chapter in chapters for _, inside in chapter.tables for group in inside for field in group.fields)


def addable(held: ResolvedProfile) -> list[str]:
    """Tables by letter that a profile has not got and could have: another rotary, the number format of one letter."""
    values = leaves(table_of(held.profile))
    wanted = [
        *(f"rotary.{letter}" for letter in "ABC"),
        *(f"numbers.by_letter.{letter}" for letter in ascii_uppercase if letter not in "GMN"),
    ]
    return [name for name in wanted if not any(key.startswith(f"{name}.") for key in values)]


def _groups(
    held: ResolvedProfile,
    changed: ResolvedProfile,
    tried: Mapping[str, Any],
    wrong: Mapping[str, str],
    unset: frozenset[str],
    added: Sequence[str],
) -> Iterator[FieldGroup]:
    values, now = leaves(table_of(held.profile)), leaves(table_of(changed.profile))
    parents = leaves(table_of(resolve(held.chain[1]).profile)) if len(held.chain) > 1 else None
    by_itself = resolve(held.chain[0])  # without the settings of the job
    plain, whence, ours = leaves(table_of(by_itself.profile)), _Whence(held), is_ours(held.chain[0])

    def falls_to(key: str) -> str:
        origin = held.origins.get(key, BUILT_IN)
        if origin == SET:
            return f"{_shown(plain.get(key))}, {whence.said(key, by_itself)[0]}"
        if not ours or origin != str(held.chain[0] / FILE_NAME):
            return ""
        if parents is None:
            return BUILT_IN
        return f"{_shown(parents.get(key))}, as in {held.chain[1].name}"

    def field(key: str, setting: Setting) -> Field:
        kind, choices = kind_of(setting.schema)
        origin, source = whence.said(key) if key in values else ("not there yet", "")
        text = field_text(values.get(key))
        own = (held.origins.get(key, BUILT_IN) != BUILT_IN) if parents is None else key in values and values[key] != parents.get(key)
        shown = field_text(tried[key]) if key in tried else field_text(now.get(key)) if key not in values else text
        words = "" if choices else allowed(setting.schema)
        about = setting.schema.get("description", "")
        falls = falls_to(key) if key in values else ""
        return Field(
            key, about, kind, choices, words, setting.unit, text, shown, origin, source, own, wrong.get(key, ""), falls, key in unset
        )

    for group in groups():
        if group.name == "":
            alone = {each.key: field(each.key, each) for each in group.settings if each.key not in ("extends", "drop")}
            yield FieldGroup("rotary", "Which rotary carries what, where there is more than one, or a head turns.", (alone.pop("chain"),))
            yield FieldGroup("speaks", "", tuple(alone.values()))
            continue
        for name, settings in _as_they_are(group, [*now, *(f"{each}." for each in added)]):
            yield FieldGroup(name, group.about, tuple(field(key, each) for key, each in settings))


def _as_they_are(group: Group, keys: Sequence[str]) -> Iterator[tuple[str, list[tuple[str, Setting]]]]:
    """A group of the catalogue as a profile has it: once for each rotary, linear axis or letter."""
    head = next((each for each in ("rotary.A", "linear.X", "numbers.by_letter.K") if f"{group.name}.".startswith(each + ".")), "")
    if not head:
        yield group.name, [(each.key, each) for each in group.settings]
        return
    around = head.rpartition(".")[0]
    letters = dict.fromkeys(key.split(".")[head.count(".")] for key in keys if key.startswith(around + "."))
    for letter in letters:
        with_letter = f"{around}.{letter}"
        yield with_letter + group.name[len(head) :], [(with_letter + each.key[len(head) :], each) for each in group.settings]


class _Whence:
    """Where the values of a profile came from, and the comments beside them there; each file is read once."""

    def __init__(self, resolved: ResolvedProfile) -> None:
        self._resolved = resolved
        self._files: dict[str, tuple[dict[str, int], dict[int, str]]] = {}

    def said(self, key: str, below: ResolvedProfile | None = None) -> tuple[str, str]:
        """In words, and the comment; `below`: of the profile without the job's own settings."""
        origin = (below or self._resolved).origins.get(key, BUILT_IN)
        if origin == BUILT_IN:
            return BUILT_IN, ""
        if origin == SET:
            return "this part's job file, [post.set]", ""
        if origin not in self._files:
            text = Path(origin).read_text(encoding="utf-8-sig")
            self._files[origin] = lines_of_keys(text), sources_in(text)
        lines, sources = self._files[origin]
        line = lines.get(key) or line_of(Path(origin), key)
        folder = Path(origin).parent
        whose = "this profile" if folder == self._resolved.chain[0] else f"inherited from {folder.name}"
        return f"{whose}, {folder.name}/{Path(origin).name}" + (f":{line}" if line else ""), sources.get(line or 0, "")


def kind_of(schema: Mapping[str, Any]) -> tuple[Kind, tuple[str, ...]]:
    """Which kind of field a setting is, and its choices."""
    given = next(each for each in schema.get("anyOf", [schema]) if each.get("type") != "null")
    if "enum" in given or "const" in given:
        return "choice", tuple(given.get("enum", [given.get("const")]))
    if given.get("type") == "boolean":
        return "choice", ("true", "false")
    if given.get("type") in ("number", "integer"):
        return "number", ()
    if given.get("type") == "array":
        inside = given.get("prefixItems", [given.get("items", {})])[0]
        return ("numbers" if inside.get("type") in ("number", "integer") else "list"), ()
    return "text", ()


def _shown(value: Any) -> str:
    return field_text(value).replace("\n", ", ") or "nothing"


def field_text(value: Any) -> str:
    """A value as a field shows it: a list a line each; nothing where there is none."""
    if value is None:
        return ""
    if isinstance(value, (list, tuple)):
        return "\n".join(field_text(each) for each in value)
    return value if isinstance(value, str) else toml_value(value)


def set_text(field: Field, text: str) -> str:
    """What a field says as `KEY=VALUE`, the value as TOML; what is no number where one belongs stays a text, which the model refuses."""
    text = text.replace("\r\n", "\n").strip("\n")
    if field.kind in ("list", "numbers"):
        parts = [each.strip() for each in text.split("\n") if each.strip()]
        inside = (_number(each) if field.kind == "numbers" else toml_value(each) for each in parts)
        return f"{field.key}=[{', '.join(inside)}]"
    if field.kind == "number":
        return f"{field.key}={_number(text.strip())}"
    plain = field.kind == "choice" and field.choices == ("true", "false") and text in field.choices
    return f"{field.key}={text if plain else json.dumps(text, ensure_ascii=False)}"


def _number(text: str) -> str:
    """A number with a point or a comma, as TOML; anything else as a text."""
    number = number_of(text)
    return json.dumps(text, ensure_ascii=False) if isinstance(number, str) else toml_value(number)
