"""Touches on the page: the forms of `steadyrest centre` as steps with entries, and what was typed there as a job file keeps it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from steadyrest.conventions import HOW_TO_TYPE, length
from steadyrest.errors import InputError, Place

ACROSS = {"X": ("Y", "Z"), "Y": ("X", "Z"), "Z": ("X", "Y")}
"""The coordinates across an axis of rotation; along Z there is no height."""
TOPS, ENDS, POINTS, FACES, BALLS = 3, 2, 6, 2, 6
"""So many touches of one kind have an entry each."""
QUARTERS = (0.0, 90.0, 180.0, 270.0)
MORE_READINGS = 2
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


def _one(key: str, label: str, unit: str = "") -> Value:
    return Value(key, (Entry(key, label, unit),))


def _pair(key: str, name: str, one: str, other: str, first: str | float | None = None, ends: tuple[str, str] = ("1", "2")) -> tuple[Value]:
    """A row of two entries that are kept as one."""
    return (Value(key, (Entry(f"{name}_{ends[0]}", one), Entry(f"{name}_{ends[1]}", other)), first),)


def _again(key: str, name: str, most: int, label: str, side: str = "") -> tuple[Value, ...]:
    """A row of the same touch, several times."""
    return tuple(Value(key, (Entry(f"{name}_{n}", label + (" again" if n > 1 else "")),), side=side) for n in range(1, most + 1))


def _errors(*said: tuple[str, str]) -> Step:
    values = tuple(_one(key, label) for key, label in said)
    return Step("errors", "How sure is a touch?", "Standard uncertainties, where they are not the usual ones.", (values,))


def steps(along: str) -> tuple[Step, ...]:
    """The steps for a rotary along an axis, the usual ones first."""
    axes = tuple(axis for axis in "XYZ" if axis != along)
    high = along != "Z"
    first, second = ACROSS[along]
    sides = [_pair("sides", f"side_{axis}", f"one side, {axis}", f"the other side, {axis}", axis) for axis in axes if axis != "Z"]
    across = "+X or -X" if along == "X" else "+Y or -Y" if along == "Y" else "up"
    quarters = tuple(Value("readings", (Entry(f"read_{angle:g}", f"at {angle:g} degrees"),), angle) for angle in QUARTERS)
    more = [
        (Value("readings", (Entry(f"more_{n}_at", "at another angle", "degrees"), Entry(f"more_{n}", "reading"))),)
        for n in range(1, MORE_READINGS + 1)
    ]
    bar = Step(
        "bar",
        "Bar in the chuck",
        "A round bar that runs true. Touch its top and two opposite sides with the same tool or edge finder."
        if high
        else "A round bar that runs true. Touch two opposite sides in X and in Y with the same tool or edge finder.",
        (
            (_one("diameter", "diameter of the bar, measured"), _one("tool", "diameter of the tool that touched")),
            *([_again("top", "top", TOPS, "top, Z")] if high else []),
            *sides,
        ),
    )
    runs_true = Step(
        "readings",
        "Does the bar run true?",
        "Rest an indicator on the bar, turn the rotary to each angle, and read it; more is farther out. "
        "Four angles are checked against each other.",
        (quarters, *more, (_one("at", "the rotary stood here when the bar was touched", "degrees"),)),
        (Choice("indicator", "the indicator rests on", tuple(f"{sign}{axis}" for axis in axes for sign in "+-"), "indicator"),),
    )
    faces = Step(
        "faces",
        "Two opposite faces",
        "Touch the top of a face, index by 180 degrees, and touch the top of the opposite one.",
        (
            *(_pair("faces", f"face_{n}", "top at 0, Z", "top at 180, Z", ends=("0", "180")) for n in range(1, FACES + 1)),
            (_one("thickness", "distance of the two faces, measured"),),
        ),
    )
    flip = Step(
        "flip",
        "One feature, flipped",
        "Find one feature, such as a hole or an edge, index by 180 degrees, and find it again.",
        tuple(_pair("flips", f"flip_{axis}", f"at 0 degrees, {axis}", f"at 180 degrees, {axis}", axis, ("0", "180")) for axis in axes),
    )
    points = Step(
        "points",
        "One feature at several angles",
        "Find one feature, not near the axis, at three angles or more, spread over the turn. Four are checked against each other.",
        tuple(_pair("points", f"point_{n}", f"{n}: {first}", f"{n}: {second}") for n in range(1, POINTS + 1)),
    )
    looks = (f"+{along}", f"-{along}")
    end = Step(
        "end",
        "End of the bar, or face of the chuck",
        f"Touch the end of the bar, or the face of the chuck ({across} is where it looks)."
        + (" Half the diameter of the tool is allowed for: type it in at the bar." if high else ""),
        (
            _again("end", "end", ENDS, f"end of the bar, {along}", "end_side"),
            _again("chuck_face", "chuck", ENDS, f"face of the chuck, {along}", "chuck_side"),
        ),
        (Choice("end_side", "the end looks to", looks), Choice("chuck_side", "the face of the chuck looks to", looks)),
    )
    flat = Step(
        "flat",
        "A flat, for a second clamping",
        "Turn the flat up by hand, nearly level, and touch it far out on both sides. It says at which angle the flat is level.",
        tuple(_pair("flat", f"flat_{n}", f"{word} side, {first}", f"{word} side, {second}") for n, word in ((1, "one"), (2, "other"))),
    )
    sure = _errors(
        ("touch_error", "error of one touch; 0.01 mm unless given"),
        ("reading_error", "error of one reading; 0.003 mm unless given"),
        ("size_error", "error of a measured size; 0.003 mm unless given"),
    )
    return (bar, runs_true, *((faces,) if high else ()), flip, points, end, flat, sure)


def ball_steps(letter: str, *, in_head: bool, upright: bool) -> tuple[Step, ...]:
    """The steps for the line of one rotary of a chain; `upright`: it is along Z, where the ball's height is not needed."""
    balls = tuple(
        (Value("balls", (Entry(f"ball_{n}_at", f"{n}: {letter} at", "degrees"), *(Entry(f"ball_{n}_{axis}", axis) for axis in "XYZ")),
               spare=int(upright)),)
        for n in range(1, BALLS + 1)
    )  # fmt: skip
    turning = f"turn {letter} to three angles or more, far apart, all other rotaries at 0, and find its centre at each"
    how, name = f"A ball stands fast on the table, well off the axis of {letter}: {turning}.", "ball"
    whence = (Value("reference", tuple(Entry(f"reference_{axis}", f"reference point, {axis}") for axis in "XYZ")),)
    if in_head:
        how, name = f"A ball stands fast on the table, and the head goes round to it: {turning}.", "ball_in_head"
        whence = (_one("gauge_length", "gauge length of the probe, from the point that is read"),)
    if upright:
        how += " Z may be left out, and an upright pin does as well."
    return Step(name, "A ball at several angles", how, (*balls, whence)), _errors(
        ("touch_error", "error of one place; 0.01 mm unless given")
    )


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
