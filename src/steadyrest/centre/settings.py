"""What a user says once: the units in which they touch, and the machine at which they stand. A small TOML file in their own folder."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

import tomlkit

from steadyrest.errors import InputError, Place
from steadyrest.profile import user_folder
from steadyrest.toml_text import parse_toml
from steadyrest.writing import alone, put_in_place

UNITS = ("mm", "inch")


@dataclass(frozen=True, slots=True)
class Usual:
    """units: `mm` or `inch`, empty where not said; machine: a controller profile's name or folder, empty where not said."""

    units: str = ""
    machine: str = ""


def usual_file() -> Path:
    """The file; it need not exist."""
    return user_folder().parent / "centre.toml"


def usual() -> Usual:
    """What was said. InputError for a file that cannot be read or says something else."""
    file = usual_file()
    try:
        table = parse_toml(file.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return Usual()
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"it cannot be read: {error}", place=Place(file=str(file)), cure="correct the file, or delete it") from None
    units, machine = table.get("units", ""), table.get("machine", "")
    if units not in ("", *UNITS) or not isinstance(machine, str):
        raise InputError(
            "it says no units and machine", place=Place(file=str(file)), cure='for example units = "mm", machine = "corner-mill"'
        )
    return Usual(str(units), machine)


def say_once(units: str | None, machine: str | None) -> Usual:
    """Keep what is given, and leave the rest as it was. OutputError where it cannot be written."""
    file = usual_file()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"the folder cannot be made: {error.strerror}", place=Place(file=str(file.parent))) from None
    with alone(file):
        before = usual()
        now = Usual(units or before.units, machine or before.machine)
        text = tomlkit.dumps({key: value for key, value in (("units", now.units), ("machine", now.machine)) if value})
        with put_in_place([text.encode("utf-8")], file) as placed:
            placed.commit()
    return now
