"""What can be said about one input, and what about the part as a whole, in a file or on a command line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, Field, ValidationError, model_validator

from steadyrest.errors import InputError, Place
from steadyrest.model_errors import SENTENCES, Style, spot_of, told
from steadyrest.toml_text import line_of, read_toml
from steadyrest.toolpath import Number, Part, Point, Positive, Stock, Tool, broken_rule

Text = Annotated[str, Field(strict=True, min_length=1)]
Hand = Literal["left-hand", "right-hand"]


def _no_truth(value: object) -> object:
    if isinstance(value, bool):
        raise broken_rule(f"found {str(value).lower()}; allowed is a whole number", "write a whole number")
    return value


One = Annotated[Literal[1], BeforeValidator(_no_truth)]
"""The version of a form: the number 1, and not `true`, which counts as equal to it."""


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


class PartOptions(Part):
    """What is said about the part: everything that inputs do not say themselves, and what overrides them."""

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
    tools: tuple[Tool, ...] = Field(
        default=(), description="Tools, as in the toolpath: they add what inputs leave open, and override what inputs state."
    )

    @model_validator(mode="after")
    def _tools_apart(self) -> PartOptions:
        numbers = [tool.number for tool in self.tools]
        if twice := [number for number in numbers if numbers.count(number) > 1]:
            raise broken_rule(f"two tools have the number {twice[0]}", "give every tool a number of its own")
        return self


Model = TypeVar("Model", bound=BaseModel)

_STYLE = Style(table="a table of settings", sentences={"unknown": ("there is no setting '{key}' here{among}", SENTENCES["unknown"][1])})


def load_toml(path: Path, model: type[Model], begins: str) -> Model:
    """A TOML file as a model.

    begins    what such a file begins with, for the cure of a missing first key
    raises    InputError: not there, not readable, not UTF-8, not TOML, or not what the model allows
    """
    text, data = read_toml(
        path,
        InputError,
        absent="check the name and the folder",
        such_as='name = "float valve" or indexed = [0, 90], under headings such as [[inputs]]',
    )
    return validated(model, data, str(path), text, begins)


def validated(model: type[Model], data: dict[str, Any], file: str | None, text: str = "", begins: str = "") -> Model:
    """Settings of a file with that text, or given one by one, as on the command line; InputError for what is wrong."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        # A misspelt key is told before the key that is missing because of it.
        detail = min(error.errors(include_url=False), key=lambda each: each["type"] == "missing")
        spot = spot_of(model, detail["loc"])
        wrong, cure = told(detail, spot, _STYLE)
        if begins and len(spot.keys) == 1 and spot.keys[0] not in data:
            cure = begins
        key = ", ".join(f"entry {part + 1}" if isinstance(part, int) else part for part in spot.keys)
        raise InputError(wrong, place=Place(file=file, line=line_of(text, spot.keys), key=key or None), cure=cure) from None
