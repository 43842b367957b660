"""Where rotaries stand on a sub-plate, remembered under a name: a small TOML file in the user's configuration folder.

What is kept is the way from a reference on the plate (a dowel hole, a corner, its top) to the centre of rotation, so that the next
mounting needs the reference alone. A plate that never leaves the table has its reference at 0 of the machine's own coordinates.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from steadyrest.centre.user_files import kept_alone, read_table, user_file, write
from steadyrest.centre.usual_machine import UNITS
from steadyrest.errors import InputError, Place

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,40}")
WORDS = ("note", "touched_with", "date", "machine", "end")


@dataclass(frozen=True, slots=True)
class RotaryPlace:
    """Where a rotary stands: by axis, the way from the reference to the centre, and its standard uncertainty, in `units`.

    reference      where the reference was when the place was found, by axis; empty: none was used, the way counts from the machine's own
                   zero; None: the place does not say
    touched_with   the tool or gauge that touched, in words
    date           when it was found, as YYYY-MM-DD
    machine        on which machine, as `--controller` names it
    end            what the coordinate along the axis belongs to, in words; empty where there is none
    """

    along: str
    units: str
    way: Mapping[str, float]
    uncertainty: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    reference: Mapping[str, float] | None = None
    touched_with: str = ""
    date: str = ""
    machine: str = ""
    end: str = ""


def places_file() -> Path:
    """The file of remembered places; it need not exist."""
    return user_file("places.toml")


def places() -> dict[str, RotaryPlace]:
    """All places by name. InputError for a file that cannot be read, or says something that is no place."""
    file = places_file()
    table = read_table(file, "the remembered places", "correct the file")
    return {name: _place(name, said, file) for name, said in table.items()}


def remember(name: str, place: RotaryPlace, *, replace: bool = False) -> None:
    """Keep a place under a name; all else in the file stays as it is.

    replace   one of that name is replaced
    raises    InputError for a name that is taken, unless `replace`, or that is no name; OutputError
    """
    if not NAME.fullmatch(name):
        raise InputError(f"{name!r} cannot be the name of a place", cure="use letters, digits, - and _, for example left-end")
    table = tomlkit.table()
    table.add("along", place.along)
    table.add("units", place.units)
    for key, values in (("way", place.way), ("uncertainty", place.uncertainty), ("reference", place.reference)):
        if values is None:
            continue
        inline = tomlkit.inline_table()
        inline.update(dict(values))
        table.add(key, inline)
    for key in WORDS:
        if getattr(place, key):
            table.add(key, getattr(place, key))
    file = places_file()
    with kept_alone(file):
        document = _document(file)
        if name in document and not replace:
            raise InputError(
                f"{name} is remembered already: {place_words(places()[name])}",
                place=Place(file=str(file)),
                cure="choose another name, or add --yes to replace it",
            )
        document[name] = table
        write(file, tomlkit.dumps(document))


def place_words(place: RotaryPlace) -> str:
    """A place in one line."""
    start = "the reference" if place.reference else "the machine's zero" if place.reference is not None else "an unknown zero"
    way = ", ".join(f"{axis} {value:+.4f}" for axis, value in place.way.items())
    said = [f"along {place.along}", f"from {start} {way} {place.units}"]
    said += [f"{place.along} is the {place.end}"] if place.end else []
    said += [f"touched with {place.touched_with}"] if place.touched_with else []
    said += [f"on {place.machine}"] if place.machine else []
    said += [f"found {place.date}"] if place.date else []
    return ", ".join(said) + (f"  ({place.note})" if place.note else "")


def forget(name: str) -> None:
    """Forget a place. InputError where there is none of that name."""
    file = places_file()
    with kept_alone(file):
        recalled_place(name)
        document = _document(file)
        del document[name]
        write(file, tomlkit.dumps(document))


def recalled(
    name: str, reference: Mapping[str, float], *, units: str | None = None, machine: str | None = None
) -> dict[str, tuple[float, float]]:
    """The centre for today's mounting: by axis its coordinate and its standard uncertainty.

    reference        where the reference on the plate is today, on the axes on which one was used when the place was found, and no others
    units, machine   in which units the user speaks, and at which machine; None: as the place says
    raises           InputError for an unknown name, an axis that the place does not have, and for a place asked for in another way than
                     it was found in
    """
    place = recalled_place(name)
    strange = sorted(set(reference) - set(place.way))
    if strange:
        raise InputError(f"{name} has no coordinate {strange[0]}", place=Place(key="--reference"), cure=f"it has {', '.join(place.way)}")
    _check_asked(name, place, reference, units, machine)
    return {axis: (reference.get(axis, 0.0) + way, place.uncertainty.get(axis, 0.0)) for axis, way in place.way.items()}


def _check_asked(name: str, place: RotaryPlace, reference: Mapping[str, float], units: str | None, machine: str | None) -> None:
    """InputError unless the place is asked for in the way in which it was found."""
    here = Place(key="--reference")
    if place.reference is None:
        cure = f"find it again and remember it: centre find ... --remember {name} --yes"
        raise InputError(
            f"it is not stored whether {name} was found from a reference on the plate or from the machine's zero", place=here, cure=cure
        )
    if units is not None and units != place.units:
        cure = f"add --units {place.units}, and give the reference in {place.units}"
        raise InputError(f"{name} is stored in {place.units}, but you work in {units}", place=Place(key="--units"), cure=cure)
    lacking, more = sorted(set(place.reference) - set(reference)), sorted(set(reference) - set(place.reference))
    if lacking:
        touch = " ".join(f"--reference {axis} LENGTH" for axis in place.reference)
        was = ", ".join(f"{axis} {value:g}" for axis, value in place.reference.items())
        what = f" ({place.note})" if place.note else ""
        raise InputError(
            f"{name} was found from a reference{what}, then at {was} {place.units}; its {', '.join(lacking)} of today is not given",
            place=here,
            cure=f"touch the reference with the spindle stopped, and give {touch}",
        )
    if more:
        how = (
            f"with a reference in {', '.join(place.reference)} only" if place.reference else "from the machine's zero, without a reference"
        )
        raise InputError(
            f"{name} was found {how}; a reference in {', '.join(more)} cannot be used",
            place=here,
            cure="leave it out; or find the place again with a reference on that axis, and remember it so",
        )
    if machine and place.machine and machine != place.machine and not place.reference:
        raise InputError(
            f"{name} is measured from the machine zero of {place.machine}, but this machine is {machine}",
            place=Place(key="--controller"),
            cure=f"find it on this machine; or give --controller {place.machine} if you are at that machine",
        )


def recalled_place(name: str) -> RotaryPlace:
    """The place of that name. InputError where there is none."""
    known = places()
    if name not in known:
        cure = (
            f"the remembered places are {', '.join(sorted(known))}" if known else "none is remembered yet: centre find ... --remember NAME"
        )
        raise InputError(f"no place is remembered as {name!r}", place=Place(file=str(places_file())), cure=cure)
    return known[name]


def _place(name: str, said: object, file: Path) -> RotaryPlace:
    table = said if isinstance(said, dict) else {}
    along, units = table.get("along"), table.get("units")
    reference = _lengths(table["reference"]) if "reference" in table else {}
    words = {key: table.get(key, "") for key in WORDS}
    way, uncertainty = _lengths(table.get("way")), _lengths(table.get("uncertainty", {}))
    known = along in ("X", "Y", "Z") and units in UNITS and all(isinstance(text, str) for text in words.values())
    lengths = not way or uncertainty is None or reference is None or not set(way) | set(reference) <= set("XYZ")
    if not known or lengths or (along in (way or {}) and not words["end"]):
        cure = 'for example along = "X", units = "mm", way = {Y = 12.5, Z = 80.0}'
        raise InputError(
            f"{name} is not a complete place: along, units or way is missing or wrong", place=Place(file=str(file), key=name), cure=cure
        )
    said = reference if "reference" in table else None
    return RotaryPlace(str(along), str(units), way or {}, uncertainty or {}, reference=said, **words)


def _lengths(said: object) -> dict[str, float] | None:
    """Lengths by axis; None where something else is said; TOML knows nan and inf, and neither is a length."""
    if not isinstance(said, dict) or not all(
        isinstance(each, int | float) and not isinstance(each, bool) and isfinite(each) for each in said.values()
    ):
        return None
    return {str(axis): float(value) for axis, value in said.items()}


def _document(file: Path) -> tomlkit.TOMLDocument:
    places()  # a file that is damaged is not written to
    try:
        return tomlkit.parse(file.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return tomlkit.document()
    except TOMLKitError as error:
        raise InputError(f"cannot be read: {error}", place=Place(file=str(file)), cure="correct the file") from None
