"""What a user keeps in the configuration folder, in small TOML files: what is said once, and where rotaries stand on a sub-plate.

What is said once are the units in which they touch, and the machine at which they stand. Of a rotary, under a name, the way from a
reference on the plate (a dowel hole, a corner, its top) to the centre of rotation is kept, so that the next mounting needs the reference
alone. A plate that never leaves the table has its reference at 0 of the machine's own coordinates.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Annotated, TypeVar

import tomlkit
from pydantic import Field, TypeAdapter, ValidationError
from tomlkit.exceptions import TOMLKitError

from steadyrest.conventions import MM_PER_INCH
from steadyrest.errors import InputError, Place
from steadyrest.profile import own_folder
from steadyrest.toml_text import line_of, read_toml, toml_value
from steadyrest.writing import alone, put_in_place

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,40}")
Kept = TypeVar("Kept")
Axis = Annotated[str, Field(pattern="^[XYZ]$")]
Lengths = Mapping[Axis, Annotated[float, Field(strict=True, allow_inf_nan=False)]]
"""By axis; TOML knows nan and inf, and neither is a length."""


@dataclass(frozen=True, slots=True)
class Usual:
    """units: `mm` or `inch`, empty where not said; machine: a controller profile's name or folder, empty where not said."""

    units: Annotated[str, Field(pattern="^(mm|inch)?$")] = ""
    machine: str = ""


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

    along: Axis
    units: Annotated[str, Field(pattern="^(mm|inch)$")]
    way: Annotated[Lengths, Field(min_length=1)]
    uncertainty: Lengths = field(default_factory=dict)
    note: str = ""
    reference: Lengths | None = None
    touched_with: str = ""
    date: str = ""
    machine: str = ""
    end: str = ""

    def __post_init__(self) -> None:
        if self.along in self.way and not self.end:
            raise ValueError("a coordinate along the axis belongs to nothing")


def usual_file() -> Path:
    """Where what is said once is kept; it need not exist."""
    return own_folder("config") / "centre.toml"


def places_file() -> Path:
    """Where places are remembered; it need not exist."""
    return own_folder("config") / "places.toml"


def usual() -> Usual:
    """What was said once. InputError for a file that cannot be read or says something else."""
    return _kept(TypeAdapter(Usual), usual_file(), 'units = "mm" or machine = "corner-mill"')


def say_once(units: str | None, machine: str | None) -> Usual:
    """Keep what is given, and leave the rest as it was. OutputError where it cannot be written."""
    with alone(usual_file()):
        before = usual()
        now = Usual(units or before.units, machine or before.machine)
        _write(usual_file(), tomlkit.dumps({key: value for key, value in asdict(now).items() if value}))
    return now


def stated_by(controller: str | None, sets: Sequence[str], along: str) -> tuple[int | None, str]:
    """Which way a controller's rotary along an axis turns, as in `Touches`, and its work offset; nothing where no controller is named."""
    if controller is None:
        return None, ""
    from steadyrest.profile import resolve, rotary_along
    from steadyrest.reading import sigma

    profile = resolve(controller, sets).profile
    found = rotary_along(profile, along)
    sense = sigma(found[1].chuck_faces, found[1].positive_turns_chuck) if found is not None else None
    return sense, profile.codes.work_offset


def uncertainties(units: str, touch: float | None, reading: float | None, size: float | None) -> tuple[float, float, float]:
    """Standard uncertainties of a touch, of an indicator reading, and of a measured size, in `units`.

    Where none is said: 0.01 mm for a touch, 0.003 mm for the others (common practice)
    """
    unit = 1.0 if units == "mm" else 1 / MM_PER_INCH
    first, second, third = (said if said is not None else mm * unit for said, mm in ((touch, 0.01), (reading, 0.003), (size, 0.003)))
    return first, second, third


def places() -> dict[str, RotaryPlace]:
    """All places by name. InputError for a file that cannot be read, or says something that is no place."""
    return _kept(TypeAdapter(dict[str, RotaryPlace]), places_file(), 'along = "X", units = "mm" or way = {Y = 12.5, Z = 80.0}')


def remember(name: str, place: RotaryPlace, *, replace: bool = False) -> None:
    """Keep a place under a name; all else in the file stays as it is.

    replace   one of that name is replaced
    raises    InputError for a name that is taken, unless `replace`, or that is no name; OutputError
    """
    if not NAME.fullmatch(name):
        raise InputError(f"{name!r} cannot be the name of a place", cure="use letters, digits, - and _, for example left-end")
    said = {key: value for key, value in asdict(place).items() if value or isinstance(value, Mapping)}
    file = places_file()
    with alone(file):
        known, document = places(), _document(file)
        if name in known and not replace:
            raise InputError(
                f"{name} is remembered already: {place_words(known[name])}",
                place=Place(file=str(file)),
                cure="choose another name, or add --yes to replace it",
            )
        document[name] = tomlkit.parse("".join(f"{key} = {toml_value(value)}\n" for key, value in said.items()))
        _write(file, tomlkit.dumps(document))


def place_words(place: RotaryPlace) -> str:
    """A place in one line."""
    start = "the reference" if place.reference else "the machine's zero" if place.reference is not None else "an unknown zero"
    way = ", ".join(f"{axis} {value:+.4f}" for axis, value in place.way.items())
    said = [f"along {place.along}", f"from {start} {way} {place.units}"]
    about = ((f"{place.along} is the", place.end), ("touched with", place.touched_with), ("on", place.machine), ("found", place.date))
    said += [f"{lead} {value}" for lead, value in about if value]
    return ", ".join(said) + (f"  ({place.note})" if place.note else "")


def forget(name: str) -> None:
    """Forget a place. InputError where there is none of that name."""
    file = places_file()
    with alone(file):
        recalled_place(name)
        document = _document(file)
        del document[name]
        _write(file, tomlkit.dumps(document))


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
    here = Place(key="--reference")
    if strange := sorted(set(reference) - set(place.way)):
        raise InputError(f"{name} has no coordinate {strange[0]}", place=here, cure=f"it has {', '.join(place.way)}")
    if place.reference is None:
        raise InputError(
            f"it is not stored whether {name} was found from a reference on the plate or from the machine's zero",
            place=here,
            cure=f"find it again and remember it: centre find ... --remember {name} --yes",
        )
    if units is not None and units != place.units:
        cure = f"add --units {place.units}, and give the reference in {place.units}"
        raise InputError(f"{name} is stored in {place.units}, but you work in {units}", place=Place(key="--units"), cure=cure)
    if lacking := sorted(set(place.reference) - set(reference)):
        touch = " ".join(f"--reference {axis} LENGTH" for axis in place.reference)
        was = ", ".join(f"{axis} {value:g}" for axis, value in place.reference.items())
        what = f" ({place.note})" if place.note else ""
        raise InputError(
            f"{name} was found from a reference{what}, then at {was} {place.units}; its {', '.join(lacking)} of today is not given",
            place=here,
            cure=f"touch the reference with the spindle stopped, and give {touch}",
        )
    if more := sorted(set(reference) - set(place.reference)):
        how = "from the machine's zero, without a reference"
        how = f"with a reference in {', '.join(place.reference)} only" if place.reference else how
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
    return {axis: (reference.get(axis, 0.0) + way, place.uncertainty.get(axis, 0.0)) for axis, way in place.way.items()}


def recalled_place(name: str) -> RotaryPlace:
    """The place of that name. InputError where there is none."""
    known = places()
    if name not in known:
        cure = f"the remembered places are {', '.join(sorted(known))}"
        cure = cure if known else "none is remembered yet: centre find ... --remember NAME"
        raise InputError(f"no place is remembered as {name!r}", place=Place(file=str(places_file())), cure=cure)
    return known[name]


def _kept(kind: TypeAdapter[Kept], file: Path, such_as: str) -> Kept:
    """What a file keeps, which is nothing where it is not there. InputError for a file that is damaged, or says something else."""
    text, table = read_toml(file, InputError, absent=None, such_as=such_as)
    try:
        return kind.validate_python(table)
    except ValidationError as error:
        keys = [str(part) for part in error.errors(include_url=False)[0]["loc"]]
        place = Place(file=str(file), line=line_of(text, keys), key=".".join(keys))
        raise InputError(
            f"{place.key} is missing or wrong", place=place, cure=f"correct the file: its lines are such as {such_as}"
        ) from None


def _document(file: Path) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(read_toml(file, InputError, absent=None, such_as="")[0])
    except TOMLKitError as error:
        raise InputError(f"cannot be read: {error}", place=Place(file=str(file)), cure="correct the file") from None


def _write(file: Path, text: str) -> None:
    put_in_place([text.encode("utf-8")], file).commit()
