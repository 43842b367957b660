"""What can be said about one input, and what about the part as a whole, in a file or on a command line.

A command line is `a.cl b.nc --indexed 0,60,120 c.nc --wrap 40 --stock round,diameter=40,from=-90,to=0`: an option about one input stands
after its file, an option about the part anywhere. Nothing here knows a library of command lines: words come in, inputs and options go out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, Field, ValidationError, model_validator

from steadyrest.errors import InputError, Place
from steadyrest.model_errors import nearest, spot_of, told
from steadyrest.toml_text import line_of, read_toml
from steadyrest.toolpath import Number, Part, Point, Positive, Stock, Tool, broken_rule

Text = Annotated[str, Field(strict=True, min_length=1)]
Hand = Literal["left-hand", "right-hand"]


class Wrap(Part):
    """How a flat program is laid around a cylinder."""

    diameter: Positive = Field(description="Diameter of the cylinder at which developed lengths are true, in the toolpath's units.")
    start_angle: Number = Field(default=0.0, description="Angle at which the developed length is 0, in degrees; 0 unless given.")
    z_from: Literal["surface", "axis"] = Field(
        default="surface", description="What Z of the program is measured from: the wrapped `surface` (unless given) or the `axis`."
    )
    developed: Literal["X", "Y"] | None = Field(
        default=None,
        description="Which axis of the flat program goes round: the one across the axis of rotation unless given. "
        "The other choice turns the drawing by a quarter turn, never mirrors it.",
    )


MOST_ANGLES = 3600
_EVENLY = re.compile(r"\s*([0-9]{1,9})\s*[xX]\s*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))\s*")


def _evenly(said: Any) -> Any:
    """Angles said as "4 x 90": so many, from 0 on in such steps; anything else as it is."""
    if not isinstance(said, str):
        return said
    found = _EVENLY.fullmatch(said)
    if found is None or not 1 <= int(found[1]) <= MOST_ANGLES or float(found[2]) == 0:
        raise broken_rule(
            f"found {said!r:.60}; allowed are angles",
            f'write "4 x 90" for 0, 90, 180, 270 (up to {MOST_ANGLES} angles), or a list of numbers',
        )
    return tuple(round(number * float(found[2]), 9) + 0.0 for number in range(int(found[1])))


def _by_diameter(said: Any) -> Any:
    """A wrap said as a number alone: its diameter; anything else as it is."""
    return {"diameter": said} if isinstance(said, int | float) and not isinstance(said, bool) else said


Angles = Annotated[tuple[Number, ...], Field(min_length=1)]
EvenAngles = Annotated[str, Field(pattern=r"^\s*[0-9]+\s*[xX]\s*[-+]?[0-9]*\.?[0-9]*\s*$")]


class InputOptions(Part):
    """What can be said about one input. Nothing is needed where the file says it all."""

    kind: Text | None = Field(default=None, description="Which reader to use; found from the content and the ending unless given.")
    units: Literal["mm", "inch"] | None = Field(
        default=None,
        description="Unit of CL data that has no UNITS statement, or of a program that states none; for a program also "
        "of the numbers given here.",
    )
    tool: Annotated[int, Field(strict=True, ge=1)] | None = Field(
        default=None, description="The tool of an input that calls none: the one in the spindle when it begins."
    )
    # plain three-axis programs
    indexed: Annotated[Angles | None, BeforeValidator(_evenly, json_schema_input_type=EvenAngles | Angles | None)] = Field(
        default=None,
        description="Programs: the angles at which the program of one face is cut, in degrees; `4 x 90` in quotes is 0, 90, 180, 270. "
        "Without this and `wrap` it stays still.",
    )
    shift: Point = Field(
        default=(0.0, 0.0, 0.0),
        description="Programs: X, Y, Z added to every position first: [0, 0, 20] for a program whose zero is on a face "
        "20 above the axis of rotation.",
    )
    wrap: Annotated[Wrap | None, BeforeValidator(_by_diameter, json_schema_input_type=Positive | Wrap | None)] = Field(
        default=None, description="Programs: wrap the flat program around a cylinder; a number alone is its diameter."
    )
    language: Text | None = Field(
        default=None,
        description="Programs: the controller profile whose language the program is in, `rs274ngc` unless given. It has to be given for a "
        "program that turns the rotary between its cuts, because its mounting decides what the angles mean.",
    )
    leave_out: tuple[Annotated[str, Field(pattern=r"^[GM](0|[1-9][0-9]{0,3})(\.[1-9])?$")], ...] = Field(
        default=(),
        description="Programs: codes of the controller they were written for that do not change what is cut, such as G9; they are "
        "left out, with the words that belong to them.",
    )
    # CL data
    words: Path | None = Field(
        default=None, description="CL data: the mapping file that gives the meaning of words added by your CAM system."
    )
    insert: Literal["refuse", "note"] = Field(
        default="refuse",
        description="CL data: INSERT statements are refused (unless given), or become notes that show their text, not code.",
    )
    cards: Annotated[bool, Field(strict=True)] = Field(
        default=False, description="CL data: columns 73 to 80 are the identification of cards and are left out."
    )
    circle_points: Literal["one", "all"] | None = Field(
        default=None,
        description="CL data: `one`: the point after CIRCLE ends the arc; `all`: all points on the circle belong to it. "
        "Where it makes a difference and is not given, the file is refused.",
    )
    circle_turns: Literal["right-hand", "shorter"] | None = Field(
        default=None,
        description="CL data: an arc to a single point turns right-hand round its axis vector (unless given), or takes the shorter way.",
    )
    table_positive: Hand = Field(
        default="left-hand",
        description="CL data: how the part turns for a positive ROTABL/ATANGL, round the + direction of its axis. "
        "The standards leave it open; `left-hand` unless given, as a positive A of ISO 841 (from memory) turns a work table.",
    )
    table_clockwise: Hand = Field(
        default="left-hand",
        description="CL data: how the part turns for ROTABL/INCR with CLW, round the + direction of its axis: `left-hand` "
        "unless given, which looks clockwise seen from the + end of the axis. CCLW is the other way.",
    )

    @model_validator(mode="after")
    def _one_way(self) -> InputOptions:
        if self.indexed is not None and self.wrap is not None:
            raise broken_rule("both 'indexed' and 'wrap' are given", "a program is cut at angles or wrapped: keep one of the two")
        return self


PROGRAMS_ONLY = ("indexed", "wrap", "shift", "language", "leave_out")
"""What can be said about plain programs and about nothing else."""


def check_unsaid(options: InputOptions, names: Iterable[str], about: str, file: str | None, cure: str = "leave it out") -> None:
    """InputError for the first of these options that was said of a file that has no use for it; `about` says why."""
    for name in names:
        if getattr(options, name) != InputOptions.model_fields[name].default:
            raise InputError(f"'{name}' {about}", place=Place(file=file), cure=cure)


class Input(InputOptions):
    """One input: its file and what is said about it."""

    file: Path = Field(description="The file, from the folder of the job file.")


class PartFacts(Part):
    """What is said about the part but for its tools: everything that inputs do not say themselves, and what overrides them."""

    name: Text | None = Field(default=None, description="Name of the part; that of the first input that has one unless given.")
    units: Literal["mm", "inch"] | None = Field(
        default=None, description="Unit of the toolpath and of all lengths given for the part; that of the first input unless given."
    )
    axis: Literal["X", "Y", "Z"] | None = Field(
        default=None, description="The axis of rotation runs along + of this axis; X unless given here or by an input."
    )
    centre: Point | None = Field(
        default=None, description="A point on the axis of rotation, in the part frame; the origin unless given here or by an input."
    )
    stock: Stock | None = Field(default=None, description="The stock; it or `clearance` is needed unless an input has one.")
    clearance: Positive | None = Field(
        default=None, description="Distance from the axis of rotation beyond which nothing that turns with the part can be hit."
    )


class PartOptions(PartFacts):
    """What is said about the part: everything that inputs do not say themselves, and what overrides them."""

    tools: tuple[Tool, ...] = Field(
        default=(), description="Tools, as in the toolpath: they add what inputs leave open, and override what inputs state."
    )
    gauge_lengths: dict[int, Positive] = Field(
        default_factory=dict, description="By the number of a tool, in the toolpath's units: needed of a program whose head turns."
    )

    @model_validator(mode="after")
    def _tools_apart(self) -> PartOptions:
        check_apart([tool.number for tool in self.tools])
        return self


def check_apart(numbers: Sequence[int]) -> None:
    """Raise the error of two tools with one number."""
    if twice := [number for number in numbers if numbers.count(number) > 1]:
        raise broken_rule(f"two tools have the number {twice[0]}", "give every tool a number of its own")


Model = TypeVar("Model", bound=BaseModel)


def load_toml(path: Path, model: type[Model]) -> Model:
    """A TOML file as a model; InputError: not there, not readable, not UTF-8, not TOML, or not what the model allows."""
    such_as = 'name = "float valve" or indexed = [0, 90], under headings such as [[inputs]]'
    text, data = read_toml(path, InputError, absent="check the name and the folder", such_as=such_as)
    return validated(model, data, str(path), text)


def validated(model: type[Model], data: dict[str, Any], file: str | None, text: str = "") -> Model:
    """Settings of a file with that text, or given one by one, as on the command line; InputError for what is wrong."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        # A misspelt key is told before the key that is missing because of it.
        detail = min(error.errors(include_url=False), key=lambda each: each["type"] == "missing")
        spot = spot_of(model, detail["loc"])
        wrong, cure = told(detail, spot, "a table of settings")
        key = ", ".join(f"entry {part + 1}" if isinstance(part, int) else part for part in spot.keys)
        raise InputError(wrong, place=Place(file=file, line=line_of(text, spot.keys), key=key or None), cure=cure) from None


@dataclass(frozen=True, slots=True)
class Said:
    """One option: what its value is called (empty: it takes none), how the value is read, and its help."""

    value: str
    read: Callable[[str], Any]
    help: str
    key: str = ""


def _number(text: str, kind: type[float] = float) -> float:
    try:
        return kind(text)
    except ValueError:
        what, such = ("a number", "40 or -12.5") if kind is float else ("a whole number", "3")
        raise InputError(f"{text!r} is not {what}", cure=f"write {what} such as {such}") from None


_whole = partial(_number, kind=int)


def _numbers(text: str, between: str = ",") -> tuple[float, ...]:
    return tuple(_number(part.strip()) for part in text.split(between))


def _length(text: str) -> dict[int, float]:
    number, equals, length = text.partition("=")
    if not equals:
        raise InputError(f"{text!r} is not a tool and its length", cure="write its number and its gauge length, such as 4=128.35")
    return {int(_whole(number)): _number(length)}


def _angles(text: str) -> tuple[float, ...] | str:
    return text if "x" in text.lower() and "," not in text else _numbers(text)


def _shape(text: str) -> dict[str, Any]:
    """`round,diameter=40,from=-90,to=0`: a shape and its numbers; a value with `x` is a list, `across=30x40`.

    `held=from,held_length=20` says which end of a stock is in the jaws, and how much of it.
    """
    shape, *rest = (part.strip() for part in text.split(","))
    found: dict[str, Any] = {"shape": shape}
    for part in rest:
        key, equals, value = part.partition("=")
        if not equals or not key:
            raise InputError(f"{part!r} is not name=number", cure="write for example round,diameter=40,from=-90,to=0")
        key = key.strip()
        if key == "name":
            found[key] = value
        elif key in ("flutes", "number"):
            found[key] = _whole(value)
        elif key in ("held", "held_length"):
            found.setdefault("held", {})["at" if key == "held" else "length"] = value if key == "held" else _number(value)
        else:
            found[key] = _numbers(value, "x") if "x" in value else _number(value)
    return found


def _tool(text: str) -> dict[str, Any]:
    number, equals, rest = text.partition("=")
    if not equals:
        raise InputError(f"{text!r} does not describe a tool", cure="write for example 3=flat,diameter=6")
    return {"number": _whole(number.strip()), **_shape(rest)}


def _codes(text: str) -> tuple[str, ...]:
    """Codes as they are spelled shortest: G9 for G09."""
    return tuple(re.sub(r"(?<=^[GM])0+(?=[0-9])", "", code.strip().upper()) for code in text.split(","))


ABOUT_INPUT: dict[str, Said] = {
    "--kind": Said(
        "KIND", str, "Which reader to use: toolpath, job, cl, program, or one of a package. Found from the content if not given."
    ),
    "--units": Said("mm|inch", str, "Unit of CL data or of a program that states none."),
    "--tool": Said("NUMBER", _whole, "The tool number for an input that calls no tool."),
    "--indexed": Said("ANGLES", _angles, "Programs: cut at each of these angles, such as 0,60,120 or 6x60."),
    "--shift": Said("X,Y,Z", _numbers, "Programs: added to every position: 0,0,20 if the program's zero is on a face 20 above the axis."),
    "--wrap": Said("DIAMETER", _number, "Programs: wrap the flat program around a cylinder of this diameter.", "wrap.diameter"),
    "--start-angle": Said("DEGREES", _number, "With --wrap: the angle at which the developed length is 0.", "wrap.start_angle"),
    "--z-from": Said("surface|axis", str, "With --wrap: what Z is measured from.", "wrap.z_from"),
    "--developed": Said("X|Y", str, "With --wrap: which axis of the program goes round.", "wrap.developed"),
    "--language": Said("NAME|FOLDER", str, "Programs: the controller profile whose language it is in."),
    "--leave-out": Said("CODES", _codes, "Programs: codes to ignore because they do not change what is cut, such as G9,M41."),
    "--words": Said("FILE", Path, "CL data: the mapping file for words that your CAM system adds."),
    "--insert": Said("note", str, "CL data: let INSERT statements become notes that show their text."),
    "--cards": Said("", str, "CL data: columns 73 to 80 are the identification of cards."),
    "--circle-points": Said("one|all", str, "CL data: how many points after CIRCLE belong to the arc."),
    "--circle-turns": Said("right-hand|shorter", str, "CL data: how an arc to a single point turns."),
    "--table-positive": Said("left-hand|right-hand", str, "CL data: how the part turns for a positive ROTABL/ATANGL."),
    "--table-clockwise": Said("left-hand|right-hand", str, "CL data: how the part turns for ROTABL/INCR with CLW."),
}
"""Options about the input that they stand after."""

ABOUT_PART: dict[str, Said] = {
    "--name": Said("TEXT", str, "Name of the part."),
    "--in": Said("mm|inch", str, "Unit of the toolpath, and of all lengths given here.", "units"),
    "--axis": Said("X|Y|Z", str, "The axis of rotation runs along + of this axis."),
    "--centre": Said("X,Y,Z", _numbers, "A point on the axis of rotation."),
    "--stock": Said(
        "SHAPE,...",
        _shape,
        "The stock: round,diameter=40,from=-90,to=0 or rectangular,across=30x40,from=-90,to=0; add held=from,held_length=20 to state "
        "which end is in the jaws, and how much of it.",
    ),
    "--clearance": Said("LENGTH", _number, "Distance from the axis of rotation beyond which nothing that turns is hit."),
    "--tool-shape": Said("N=SHAPE,...", _tool, "What a tool is: 3=flat,diameter=6. Repeatable.", "tools"),
    "--tool-length": Said("N=LENGTH", _length, "Programs that turn a head: a tool's gauge length, 4=128.35. Repeatable.", "gauge_lengths"),
}
"""Options about the part, which may stand anywhere."""


def read_arguments(words: Sequence[str]) -> tuple[tuple[Input, ...], PartOptions]:
    """The inputs in order, each with what is said after it, and what is said about the part.

    words     of the command line, such as ["a.cl", "b.nc", "--indexed", "0,60"]; --name=value is taken as well
    raises    InputError: an unknown option, a missing value, an option before any input, a value that is not allowed
    """
    inputs: list[dict[str, Any]] = []
    part: dict[str, Any] = {}
    rest = list(words)
    while rest:
        word = rest.pop(0)
        if not word.startswith("-") or word == "-":
            inputs.append({"file": Path(word)})
            continue
        name, equals, value = word.partition("=")
        said = ABOUT_PART.get(name) or ABOUT_INPUT.get(name)
        if said is None:
            close = nearest(name, [*ABOUT_INPUT, *ABOUT_PART])
            raise InputError(f"there is no option {name}", cure=f"did you mean {close[0]}?" if close else "see --help")
        if name in ABOUT_INPUT and not inputs:
            raise InputError(f"{name} comes before any input", cure="write an option for an input after its file")
        if said.value and not equals:
            if not rest:
                raise InputError(f"{name} has no value", cure=f"write {name} {said.value}")
            value = rest.pop(0)
        try:
            found = said.read(value) if said.value else True
        except InputError as error:
            error.place = Place(key=name)
            raise
        into = part if name in ABOUT_PART else inputs[-1]
        group, _, key = (said.key or name[2:].replace("-", "_")).rpartition(".")
        if group:
            into = into.setdefault(group, {})
        if key == "tools":
            into[key] = (*into.get(key, ()), found)
        elif key == "gauge_lengths":
            into[key] = into.get(key, {}) | found
        elif key in into:
            raise InputError(f"{name} is given twice", cure="keep one of the two")
        else:
            into[key] = found
    for each in inputs:
        wrap = each.get("wrap", {})
        if wrap and "diameter" not in wrap:
            first = next(iter(wrap)).replace("_", "-")
            raise InputError(f"--{first} without --wrap", place=Place(file=str(each["file"])), cure="add --wrap DIAMETER")
    return tuple(validated(Input, each, str(each["file"])) for each in inputs), validated(PartOptions, part, None)
