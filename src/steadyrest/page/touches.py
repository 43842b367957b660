"""Touches on the page: the forms of `steadyrest centre` as steps with entries, and what was typed there as a job file keeps it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from steadyrest.conventions import HOW_TO_TYPE, length
from steadyrest.errors import InputError, Place

ACROSS = {"X": ("Y", "Z"), "Y": ("X", "Z"), "Z": ("X", "Y")}
"""The coordinates across an axis of rotation; along Z there is no height."""
Kept = TypeVar("Kept", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Entry:
    """One number that can be typed: the name of its field, and what it is called; `unit` empty: the units of the touches."""

    name: str
    label: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Value:
    """What a job file keeps as one: `key` of its model, and its entries, of which the last `spare` may stay empty.

    first   what stands before them there and is not typed, such as the axis
    side    the name of the choice that says it
    """

    key: str
    entries: tuple[Entry, ...]
    first: str | float | None = None
    side: str = ""
    spare: int = 0


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice of sides. `key`: where its answer is kept by itself; empty: it stands first in the values that name it."""

    name: str
    label: str
    sides: tuple[str, ...]
    key: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """What belongs together: `name` is also that of its drawing, if there is one, `rows` its values as they stand beside each other."""

    name: str
    title: str
    how: str
    rows: tuple[tuple[Value, ...], ...]
    choices: tuple[Choice, ...] = ()

    @property
    def entries(self) -> tuple[tuple[Entry, ...], ...]:
        """Row by row."""
        return tuple(tuple(one for value in row for one in value.entries) for row in self.rows)


@cache
def _said() -> dict[str, list[dict[str, Any]]]:
    return tomllib.loads(Path(__file__).with_name("touches.toml").read_text(encoding="utf-8"))


def _steps(group: str, along: str, **more: str) -> Iterator[Step]:
    """The steps of a group of `touches.toml` for a rotary along an axis; `more`: other words that its texts name."""
    one, two = ACROSS[along]
    words, signs = {"along": along, "one": one, "two": two, **more}, ("+", "-")
    axes: dict[Any, list[str]] = {"across": [one, two], "along": [along], "sideways": [axis for axis in (one, two) if axis != "Z"]}
    for step in _said()[group]:
        if along not in step.get("along", "XYZ"):
            continue
        rows = [
            tuple(_value(value, {**words, "each": str(each)}) for value in row["values"])
            for row in step["rows"]
            if along in row.get("along", "XYZ")
            for each in (axes.get(row.get("each")) or range(1, row.get("each", 1) + 1))
        ]
        choices = (
            Choice(each["name"], each["label"], tuple(sign + axis for axis in axes[each["sides"]] for sign in signs), each.get("key", ""))
            for each in step.get("choices", ())
        )
        how = step.get(f"how_along_{along}", step["how"]).format(**words)
        yield Step(step["name"], step["title"], how, tuple(rows), tuple(choices))


def _value(said: Mapping[str, Any], words: Mapping[str, str]) -> Value:
    names, units = said.get("names", [said["key"]]), said.get("units", [""] * len(said["labels"]))
    entries = [
        Entry(name.format(**words), label.format(**words), unit) for name, label, unit in zip(names, said["labels"], units, strict=True)
    ]
    first = said.get("first")
    return Value(said["key"], tuple(entries), first.format(**words) if isinstance(first, str) else first, said.get("side", ""))


def steps(along: str) -> tuple[Step, ...]:
    """The steps for a rotary along an axis, the usual ones first."""
    return tuple(_steps("centre", along))


def ball_steps(letter: str, *, in_head: bool, upright: bool) -> tuple[Step, ...]:
    """The steps for the line of one rotary of a chain; `upright`: it is along Z, where the ball's height is not needed."""
    step, errors = (next(_steps(group, "Z", letter=letter)) for group in ("head" if in_head else "table", "ball_errors"))
    if upright:
        rows = tuple(tuple(replace(value, spare=int(value.key == "balls")) for value in row) for row in step.rows)
        step = replace(step, rows=rows, how=f"{step.how} Z may be left out, and an upright pin does as well.")
    return step, errors


def _values(of: Iterable[Step]) -> Iterator[tuple[Step, Value]]:
    return ((step, value) for step in of for row in step.rows for value in row)


def _is_list(model: type[BaseModel], key: str) -> bool:
    """Whether a model keeps any number of such values."""
    return get_args(model.model_fields[key].annotation)[-1:] == (Ellipsis,)


def entered(kept: BaseModel | None, of: Iterable[Step]) -> dict[str, str]:
    """What stands in the entries for touches that a job keeps: the other way round of `touched`."""
    if kept is None:
        return {}
    said: dict[str, Any] = {"units": getattr(kept, "units", "")}
    left = {key: list(getattr(kept, key)) for key in type(kept).model_fields if _is_list(type(kept), key)}
    for step, value in _values(of):
        for choice in step.choices:
            if choice.key:
                said[choice.name] = getattr(kept, choice.key)
        had = left.get(value.key)
        if had is None:
            one = getattr(kept, value.key)
            one = None if one == type(kept).model_fields[value.key].default else one
        else:
            one = next((each for each in had if value.first is None or each[0] == value.first), None)
            if one is not None:
                had.remove(one)
        numbers = list(one) if isinstance(one, tuple) else [one]
        if value.side and one is not None:
            said[value.side] = numbers[0]
        numbers = numbers[1:] if one is not None and (value.side or value.first is not None) else numbers
        said |= {entry.name: number for entry, number in zip(value.entries, numbers, strict=False)}
    return {name: f"{each:.15g}" if isinstance(each, float) else str(each) for name, each in said.items() if each is not None}


def touched(model: type[Kept], form: Mapping[str, str], of: Iterable[Step]) -> Kept:
    """What was typed as a job file keeps it. InputError, with the label of the entry, for what is no number or only half of a pair."""
    labels: dict[str, str] = {}
    named = {"units": "units"}

    def number(name: str) -> float | None:
        text = form.get(name, "").strip()
        try:
            return length(text) if text else None
        except ValueError:
            raise InputError(f"{text[:60]!r} is not a number", place=Place(key=labels[name]), cure=HOW_TO_TYPE) from None

    said: dict[str, Any] = {"units": form.get("units", "")}
    for step, value in _values(of):
        said |= {each.key: form[each.name] for each in step.choices if each.key and form.get(each.name)}
        labels |= {one.name: f"{step.title}, {one.label}" for one in value.entries}
        named.setdefault(value.key, labels[value.entries[0].name])
        numbers = [number(one.name) for one in value.entries]
        if all(each is None for each in numbers):
            continue
        while len(numbers) > len(value.entries) - value.spare and numbers[-1] is None:
            numbers.pop()
        if None in numbers:
            missing = Place(key=labels[value.entries[numbers.index(None)].name])
            raise InputError("is missing, and its counterpart alone says nothing", place=missing, cure="type all of them, or none")
        first = form.get(value.side, "") if value.side else value.first
        if first == "":
            sides = " or ".join(next(each.sides for each in step.choices if each.name == value.side))
            raise InputError("say where it looks", place=Place(key=labels[value.entries[0].name]), cure=f"choose {sides}")
        whole = tuple(each for each in (first, *numbers) if each is not None)
        one = whole if len(whole) > 1 else whole[0]
        if _is_list(model, value.key):
            said.setdefault(value.key, []).append(one)
        else:
            said[value.key] = one
    try:
        return model.model_validate(said)
    except ValidationError as error:
        key = str((error.errors(include_url=False)[0]["loc"] or ("",))[0])
        wrong, cure = "cannot be used as it is", "give a measured size of more than 0, or leave it empty"
        raise InputError(wrong, place=Place(key=named.get(key, key)), cure=cure) from None
