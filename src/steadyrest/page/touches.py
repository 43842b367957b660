"""Touches on the page: the forms of `steadyrest centre find` as steps with entries, and what was typed there as a job file keeps it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from steadyrest.conventions import HOW_TO_TYPE, length
from steadyrest.errors import InputError, Place
from steadyrest.inputs import Touched

ACROSS = {"X": ("Y", "Z"), "Y": ("X", "Z"), "Z": ("X", "Y")}
"""The coordinates across an axis of rotation; along Z there is no height."""
TOPS, ENDS, POINTS, FACES = 3, 2, 6, 2
"""So many touches of one kind have an entry each."""
QUARTERS = (0, 90, 180, 270)
MORE_READINGS = 2


@dataclass(frozen=True, slots=True)
class Entry:
    """One number that can be typed: the name of its field, and what it is called; `unit` empty: the units of the touches."""

    name: str
    label: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """What belongs together: `name` is also that of its drawing, `rows` its entries, `sides` a choice of sides, each with its name."""

    name: str
    title: str
    how: str
    rows: tuple[tuple[Entry, ...], ...]
    sides: tuple[tuple[str, str, tuple[str, ...]], ...] = ()


def steps(along: str) -> tuple[Step, ...]:
    """The steps for a rotary along an axis, the usual ones first."""
    axes = tuple(axis for axis in "XYZ" if axis != along)
    sideways = tuple(axis for axis in axes if axis != "Z")
    high = along != "Z"
    first, second = ACROSS[along]
    sides = tuple((Entry(f"side_{axis}_1", f"one side, {axis}"), Entry(f"side_{axis}_2", f"the other side, {axis}")) for axis in sideways)
    top = (tuple(Entry(f"top_{n}", f"top, Z{' again' if n > 1 else ''}") for n in range(1, TOPS + 1)),) if high else ()
    across = "+X or -X" if along == "X" else "+Y or -Y" if along == "Y" else "up"
    quarters = tuple(Entry(f"read_{angle}", f"at {angle} degrees") for angle in QUARTERS)
    more = tuple((Entry(f"more_{n}_at", "at another angle", "degrees"), Entry(f"more_{n}", "reading")) for n in range(1, MORE_READINGS + 1))
    bar = Step(
        "bar",
        "Bar in the chuck",
        "A round bar that runs true. Touch its top and two opposite sides with the same tool or edge finder."
        if high
        else "A round bar that runs true. Touch two opposite sides in X and in Y with the same tool or edge finder.",
        ((Entry("diameter", "diameter of the bar, measured"), Entry("tool", "diameter of the tool that touched")), *top, *sides),
    )
    runs_true = Step(
        "readings",
        "Does the bar run true?",
        "Rest an indicator on the bar, turn the rotary to each angle, and read it; more is farther out. "
        "Four angles are checked against each other.",
        (quarters, *more, (Entry("at", "the rotary stood here when the bar was touched", "degrees"),)),
        (("indicator", "the indicator rests on", tuple(f"{sign}{axis}" for axis in axes for sign in "+-")),),
    )
    faces = Step(
        "faces",
        "Two opposite faces",
        "Touch the top of a face, index by 180 degrees, and touch the top of the opposite one.",
        (
            *((Entry(f"face_{n}_0", "top at 0, Z"), Entry(f"face_{n}_180", "top at 180, Z")) for n in range(1, FACES + 1)),
            (Entry("thickness", "distance of the two faces, measured"),),
        ),
    )
    flip = Step(
        "flip",
        "One feature, flipped",
        "Find one feature, such as a hole or an edge, index by 180 degrees, and find it again.",
        tuple((Entry(f"flip_{axis}_0", f"at 0 degrees, {axis}"), Entry(f"flip_{axis}_180", f"at 180 degrees, {axis}")) for axis in axes),
    )
    points = Step(
        "points",
        "One feature at several angles",
        "Find one feature, not near the axis, at three angles or more, spread over the turn. Four are checked against each other.",
        tuple((Entry(f"point_{n}_1", f"{n}: {first}"), Entry(f"point_{n}_2", f"{n}: {second}")) for n in range(1, POINTS + 1)),
    )
    looks = (f"+{along}", f"-{along}")
    end = Step(
        "end",
        "End of the bar, or face of the chuck",
        f"Touch the end of the bar, or the face of the chuck ({across} is where it looks)."
        + (" Half the diameter of the tool is allowed for: type it in at the bar." if high else ""),
        (
            tuple(Entry(f"end_{n}", f"end of the bar, {along}{' again' if n > 1 else ''}") for n in range(1, ENDS + 1)),
            tuple(Entry(f"chuck_{n}", f"face of the chuck, {along}{' again' if n > 1 else ''}") for n in range(1, ENDS + 1)),
        ),
        (("end_side", "the end looks to", looks), ("chuck_side", "the face of the chuck looks to", looks)),
    )
    flat = Step(
        "flat",
        "A flat, for a second clamping",
        "Turn the flat up by hand, nearly level, and touch it far out on both sides. It says at which angle the flat is level.",
        tuple(
            (Entry(f"flat_{n}_1", f"{word} side, {first}"), Entry(f"flat_{n}_2", f"{word} side, {second}"))
            for n, word in ((1, "one"), (2, "other"))
        ),
    )
    return (bar, runs_true, *((faces,) if high else ()), flip, points, end, flat)


def entered(kept: Touched | None) -> dict[str, str]:
    """What stands in the entries for touches that a job keeps: the other way round of `touched`."""
    if kept is None:
        return {}
    said: dict[str, Any] = {name: getattr(kept, name) for name in ("diameter", "tool", "thickness", "indicator")}
    said |= {name: getattr(kept, name) for name in ("touch_error", "reading_error", "size_error")}
    said |= {"units": kept.units, "at": kept.at or None}
    said |= {f"top_{n}": value for n, value in enumerate(kept.top, 1)}
    for axis, one, other in kept.sides:
        said |= {f"side_{axis}_1": one, f"side_{axis}_2": other}
    for axis, one, other in kept.flips:
        said |= {f"flip_{axis}_0": one, f"flip_{axis}_180": other}
    for n, (at_0, at_180) in enumerate(kept.faces, 1):
        said |= {f"face_{n}_0": at_0, f"face_{n}_180": at_180}
    for word, pairs in (("point", kept.points), ("flat", kept.flat)):
        for n, (one, other) in enumerate(pairs, 1):
            said |= {f"{word}_{n}_1": one, f"{word}_{n}_2": other}
    more = 0
    for angle, reading in kept.readings:
        if angle in QUARTERS and f"read_{angle:g}" not in said:
            said[f"read_{angle:g}"] = reading
        else:
            more += 1
            said |= {f"more_{more}_at": angle, f"more_{more}": reading}
    for word, key, touches in (("end", "end_side", kept.end), ("chuck", "chuck_side", kept.chuck_face)):
        for n, (side, value) in enumerate(touches, 1):
            said |= {f"{word}_{n}": value, key: side}
    return {name: f"{value:.15g}" if isinstance(value, float) else str(value) for name, value in said.items() if value is not None}


def touched(form: Mapping[str, str], along: str) -> Touched:
    """What was typed as a job file keeps it. InputError, with the label of the entry, for what is no number or only half of a pair."""
    labels = {each.name: f"{step.title}, {each.label}" for step in steps(along) for row in step.rows for each in row}
    labels |= {"touch_error": "error of one touch", "reading_error": "error of one reading", "size_error": "error of a measured size"}

    def number(name: str) -> float | None:
        text = form.get(name, "").strip()
        if not text or name not in labels:
            return None
        try:
            return length(text)
        except ValueError:
            raise InputError(f"{text[:60]!r} is not a number", place=Place(key=labels[name]), cure=HOW_TO_TYPE) from None

    def several(*names: str) -> tuple[float, ...]:
        return tuple(value for name in names if (value := number(name)) is not None)

    def pair(one: str, other: str) -> tuple[float, float] | None:
        first, second = number(one), number(other)
        if first is None and second is None:
            return None
        if first is None or second is None:
            missing = labels[one if first is None else other]
            raise InputError("is missing, and its counterpart alone says nothing", place=Place(key=missing), cure="type both, or neither")
        return first, second

    def pairs(names: Callable[[Any], tuple[str, str]], each: Any) -> tuple[tuple[Any, float, float], ...]:
        return tuple((one, *found) for one in each if (found := pair(*names(one))) is not None)

    def on_side(word: str, key: str) -> tuple[tuple[str, float], ...]:
        values = several(*(f"{word}_{n}" for n in range(1, ENDS + 1)))
        side = form.get(key, "")
        if values and not side:
            raise InputError("say where it looks", place=Place(key=labels[f"{word}_1"]), cure=f"choose +{along} or -{along}")
        return tuple((side, value) for value in values)

    quarters = [(float(angle), value) for angle in QUARTERS if (value := number(f"read_{angle}")) is not None]
    more = [each[1:] for each in pairs(lambda n: (f"more_{n}_at", f"more_{n}"), range(1, MORE_READINGS + 1))]
    said = {
        "units": form.get("units", ""),
        "diameter": number("diameter"),
        "tool": number("tool"),
        "thickness": number("thickness"),
        "top": several(*(f"top_{n}" for n in range(1, TOPS + 1))),
        "sides": pairs(lambda axis: (f"side_{axis}_1", f"side_{axis}_2"), "XY"),
        "faces": [each[1:] for each in pairs(lambda n: (f"face_{n}_0", f"face_{n}_180"), range(1, FACES + 1))],
        "flips": pairs(lambda axis: (f"flip_{axis}_0", f"flip_{axis}_180"), "XYZ"),
        "points": [each[1:] for each in pairs(lambda n: (f"point_{n}_1", f"point_{n}_2"), range(1, POINTS + 1))],
        "readings": [*quarters, *more],
        "indicator": form.get("indicator") or None,
        "at": number("at") or 0.0,
        "end": on_side("end", "end_side"),
        "chuck_face": on_side("chuck", "chuck_side"),
        "flat": [each[1:] for each in pairs(lambda n: (f"flat_{n}_1", f"flat_{n}_2"), (1, 2))],
        "touch_error": number("touch_error"),
        "reading_error": number("reading_error"),
        "size_error": number("size_error"),
    }
    try:
        return Touched.model_validate({key: value for key, value in said.items() if value not in (None, (), [])})
    except ValidationError as error:
        detail = error.errors(include_url=False)[0]
        name = str(detail["loc"][0]) if detail["loc"] else ""
        raise InputError(
            "cannot be used as it is",
            place=Place(key=labels.get(name, name)),
            cure="give a measured size of more than 0, or leave it empty",
        ) from None
