"""What does a command line say about inputs? `a.cl b.nc --indexed 0,60,120 c.nc --wrap 40 --stock round,diameter=40,from=-90,to=0`

An option about one input stands after its file, an option about the part anywhere. Nothing here knows a library of command lines:
words come in, inputs and options go out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError, Place
from steadyrest.inputs.options import Input, PartOptions, validated


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
            close = get_close_matches(name, [*ABOUT_INPUT, *ABOUT_PART], n=1)
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
