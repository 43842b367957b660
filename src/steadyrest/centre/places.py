"""Where rotaries stand on a sub-plate, remembered under a name: a small TOML file in the user's configuration folder.

What is kept is the way from a reference on the plate (a dowel hole, a corner, its top) to the centre of rotation, so that the next
mounting needs the reference alone. A plate that never leaves the table has its reference at 0 of the machine's own coordinates.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from steadyrest.errors import InputError
from steadyrest.errors import Place as ErrorPlace
from steadyrest.profile import user_folder
from steadyrest.toml_text import parse_toml
from steadyrest.writing import put_in_place
from steadyrest.writing.held import alone

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,40}")
UNITS = ("mm", "inch")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a rotary stands: by axis, the way from the reference to the centre, and its standard uncertainty, in `units`."""

    along: str
    units: str
    way: Mapping[str, float]
    uncertainty: Mapping[str, float] = field(default_factory=dict)
    note: str = ""


def places_file() -> Path:
    """The file of remembered places; it need not exist."""
    return user_folder().parent / "places.toml"


def places() -> dict[str, Place]:
    """All places by name. InputError for a file that cannot be read, or says something that is no place."""
    file = places_file()
    try:
        table = parse_toml(file.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(
            f"the remembered places cannot be read: {error}", place=ErrorPlace(file=str(file)), cure="correct the file"
        ) from None
    return {name: _place(name, said, file) for name, said in table.items()}


def remember(name: str, place: Place) -> None:
    """Keep a place under a name; one of that name is replaced, all else in the file stays as it is. InputError, OutputError."""
    if not NAME.fullmatch(name):
        raise InputError(f"{name!r} cannot be the name of a place", cure="letters, digits, - and _, for example left-end")
    table = tomlkit.table()
    table.add("along", place.along)
    table.add("units", place.units)
    for key, values in (("way", place.way), ("uncertainty", place.uncertainty)):
        inline = tomlkit.inline_table()
        inline.update(dict(values))
        table.add(key, inline)
    if place.note:
        table.add("note", place.note)
    with _alone() as file:
        document = _document(file)
        document[name] = table
        _write(file, tomlkit.dumps(document))


def forget(name: str) -> None:
    """Forget a place. InputError where there is none of that name."""
    with _alone() as file:
        recalled_place(name)
        document = _document(file)
        del document[name]
        _write(file, tomlkit.dumps(document))


@contextmanager
def _alone() -> Iterator[Path]:
    """The file, while no other process reads it to write it anew; its folder is made where there is none."""
    file = places_file()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"the folder cannot be made: {error.strerror}", place=ErrorPlace(file=str(file.parent))) from None
    with alone(file):
        yield file


def recalled(name: str, reference: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """The centre for today's mounting: by axis its coordinate and its standard uncertainty.

    reference   where the reference on the plate is today, by axis; an axis left out: 0
    raises      InputError for an unknown name, or an axis that the place does not have
    """
    place = recalled_place(name)
    strange = sorted(set(reference) - set(place.way))
    if strange:
        raise InputError(f"{name} has no {strange[0]}", place=ErrorPlace(key="--reference"), cure=f"it has {', '.join(place.way)}")
    return {axis: (reference.get(axis, 0.0) + way, place.uncertainty.get(axis, 0.0)) for axis, way in place.way.items()}


def recalled_place(name: str) -> Place:
    """The place of that name. InputError where there is none."""
    known = places()
    if name not in known:
        cure = f"there are {', '.join(sorted(known))}" if known else "none is remembered yet: centre find ... --remember NAME"
        raise InputError(f"no place is remembered as {name!r}", place=ErrorPlace(file=str(places_file())), cure=cure)
    return known[name]


def _place(name: str, said: object, file: Path) -> Place:
    table = said if isinstance(said, dict) else {}
    along, units, note = table.get("along"), table.get("units"), table.get("note", "")
    way, uncertainty = _lengths(table.get("way")), _lengths(table.get("uncertainty", {}))
    known = along in ("X", "Y", "Z") and units in UNITS and isinstance(note, str)
    if not known or not way or uncertainty is None or not set(way) <= set("XYZ") - {str(along)}:
        cure = 'for example along = "X", units = "mm", way = {Y = 12.5, Z = 80.0}'
        raise InputError(f"{name} is no place", place=ErrorPlace(file=str(file), key=name), cure=cure)
    return Place(str(along), str(units), way, uncertainty, note)


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
        raise InputError(f"cannot be read: {error}", place=ErrorPlace(file=str(file)), cure="correct the file") from None


def _write(file: Path, text: str) -> None:
    with put_in_place([text.encode("utf-8")], file) as placed:
        placed.commit()
