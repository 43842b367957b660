"""What a user says once: the units in which they touch, and the machine at which they stand. A small TOML file in their own folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import tomlkit

from steadyrest.centre.user_files import kept_alone, read_table, user_file, write
from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import InputError, Place

UNITS = ("mm", "inch")


@dataclass(frozen=True, slots=True)
class Usual:
    """units: `mm` or `inch`, empty where not said; machine: a controller profile's name or folder, empty where not said."""

    units: str = ""
    machine: str = ""


def usual_file() -> Path:
    """The file; it need not exist."""
    return user_file("centre.toml")


def usual() -> Usual:
    """What was said. InputError for a file that cannot be read or says something else."""
    file = usual_file()
    table = read_table(file, "the file", "correct the file, or delete it")
    units, machine = table.get("units", ""), table.get("machine", "")
    if units not in ("", *UNITS) or not isinstance(machine, str):
        raise InputError(
            "the units or the machine in it cannot be used",
            place=Place(file=str(file)),
            cure='for example units = "mm", machine = "corner-mill"',
        )
    return Usual(str(units), machine)


def say_once(units: str | None, machine: str | None) -> Usual:
    """Keep what is given, and leave the rest as it was. OutputError where it cannot be written."""
    file = usual_file()
    with kept_alone(file):
        before = usual()
        now = Usual(units or before.units, machine or before.machine)
        write(file, tomlkit.dumps({key: value for key, value in asdict(now).items() if value}))
    return now


def stated_by(controller: str | None, sets: Sequence[str], along: str) -> tuple[int | None, str]:
    """Which way a controller's rotary along an axis turns, as in `Touches`, and its work offset; nothing where no controller is named."""
    if controller is None:
        return None, ""
    from steadyrest.profile import resolve, rotaries_of
    from steadyrest.reading import sigma

    profile = resolve(controller, sets).profile
    rotary = next(iter(rotaries_of(profile, along).values()), None)
    return sigma(rotary) if rotary is not None else None, profile.codes.work_offset


def uncertainties(units: str, touch: float | None, reading: float | None, size: float | None) -> tuple[float, float, float]:
    """Standard uncertainties of a touch, of an indicator reading, and of a measured size, in `units`.

    Where none is said: 0.01 mm for a touch, 0.003 mm for the others (common practice)
    """
    unit = 1.0 if units == "mm" else 1 / MM_PER_INCH
    first, second, third = (said if said is not None else mm * unit for said, mm in ((touch, 0.01), (reading, 0.003), (size, 0.003)))
    return first, second, third
