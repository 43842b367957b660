"""Controls of a form made from a model: labels, units, choices and hints from its settings; what was typed, and what is wrong with it.

What is typed is never dropped: a text that is no number stays as it is, the model refuses it, and its words stand beside the control.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from steadyrest.conventions import HOW_TO_TYPE, with_point
from steadyrest.model_errors import spot_of, told, unwrapped

LABELS = {
    "units": "Unit of length",
    "axis": "Axis of rotation along",
    "centre": "A point on the axis of rotation",
    "across": "Sizes across the axis",
    "from": "Begins at",
    "to": "Ends at",
    "offset": "Off the axis of rotation by",
    "at": "End in the jaws",
    "held.length": "Length in the jaws",
    "length": "Length from the tip to the holder",
    "flutes": "Cutting edges",
    "tip_diameter": "Diameter at the tip",
    "indexed": "Angles",
    "start_angle": "Angle where the drawing begins",
    "z_from": "Z is measured from",
    "developed": "Axis of the drawing that goes round",
    "language": "Language of the program",
    "leave_out": "Codes to leave out",
    "words": "File with the meaning of added words",
    "insert": "INSERT statements",
    "cards": "Columns 73 to 80 are card numbers",
    "circle_points": "Points after CIRCLE",
    "circle_turns": "Arc to a single point turns",
    "table_positive": "For a positive angle the part turns",
    "table_clockwise": "For CLW the part turns",
}
"""What a setting is called on the page where its key does not say it; one within a table, such as `held.length`, by both names where that
says more."""
_ABOUT = re.compile(r"^(Programs|CL data): ")
_LENGTH = re.compile(
    r"in `units`|in the toolpath's units|added to every position|part frame; the origin unless|beyond which nothing that turns"
)
_NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_BETWEEN = re.compile(r"[,;\s]+")
_ONE_OR_TWO = re.compile(r"(?<![^;\s])[^,;\s]*[0-9],[0-9][^,;\s]*,?(?![^;\s])")
"""Among several numbers: `22,5` is one with a decimal comma, or two. `0,120,240` can only be three."""
_SEVERAL = "part them by spaces, and write decimals with a point, such as 22.5 67.5"


@dataclass(frozen=True, slots=True)
class Control:
    """One control of a form.

    name      of the control, which is its dotted key; of a point one for each number: `centre.0`
    kind      number, whole, text, choice or truth
    unit      mm, inch, degrees; empty where it has none
    hint      what the setting means
    choices   of a choice: value and words; the first is that nothing is said where that is allowed
    value     as it was typed, or as it stands in the file
    wrong, cure   what the model says of the value, or of one of its numbers; empty where it may be so
    parts, values   of a point or another fixed number of numbers: what each is called, and what stands there
    """

    name: str
    label: str
    kind: str
    unit: str = ""
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    value: str = ""
    wrong: str = ""
    cure: str = ""
    parts: tuple[str, ...] = ()
    values: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """For the page's own references."""
        return "f-" + self.name.replace(".", "-")


Typed = Mapping[str, str]
"""What stands in the controls of a form, by their names."""
Wrongs = Mapping[str, tuple[str, str]]
"""What is wrong, and the cure, by the name of a control."""


def controls(
    model: type[BaseModel],
    prefix: str,
    typed: Typed,
    wrongs: Wrongs,
    *,
    units: str,
    only: Sequence[str] | None = None,
    words: Mapping[str, Mapping[str, str]] | None = None,
    parts: Mapping[str, Sequence[str]] | None = None,
) -> dict[str, Control]:
    """The controls of a model's settings, by key.

    prefix   of their names, such as `stock.`
    only     these settings, in this order; all that are no groups unless given
    words    by setting, the words of its choices; the empty choice is that nothing is said
    parts    by setting of several numbers, what each is called
    """
    found: dict[str, Control] = {}
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    for key in only if only is not None else fields:
        field = fields[key]
        name = prefix + key
        near = (said for where, said in wrongs.items() if where == name or where.rpartition(".")[0] == name)
        wrong, cure = next(near, ("", ""))
        kind = _kind(field)
        pieces = tuple((parts or {}).get(key, ()))
        found[key] = Control(
            name=name,
            label=LABELS.get(".".join(name.split(".")[-2:])) or LABELS.get(key, key.replace("_", " ").capitalize()),
            kind=kind,
            unit=unit_of(field, units),
            hint=hint_of(field, units),
            choices=_choices(field, (words or {}).get(key, {})) if kind == "choice" else (),
            value=typed.get(name, ""),
            wrong=wrong,
            cure=cure,
            parts=pieces,
            values=tuple(typed.get(f"{name}.{at}", "") for at in range(len(pieces))),
        )
    return found


def unit_of(field: FieldInfo, units: str) -> str:
    """The unit of a number, from the sentence of its setting."""
    said = field.description or ""
    if "in degrees" in said or "in degrees" in said.partition(";")[0]:
        return "degrees"
    return units if _LENGTH.search(said) else ""


def hint_of(field: FieldInfo, units: str) -> str:
    """The sentence of a setting, as one reads it beside its control."""
    said = (
        _ABOUT.sub("", field.description or "")
        .replace("` in quotes", "`")
        .replace("`units`", units or "the unit of length")
        .replace("`", "")
    )
    return said[:1].upper() + said[1:]


def _kind(field: FieldInfo) -> str:
    plain = unwrapped(field.annotation)
    if get_origin(plain) is Literal:
        return "choice"
    if plain is bool:
        return "truth"
    if plain is int:
        return "whole"
    if plain is float:
        return "number"
    if get_origin(plain) is tuple:
        return "numbers" if all(unwrapped(each) is float for each in get_args(plain) if each is not Ellipsis) else "texts"
    return "text"


def _choices(field: FieldInfo, words: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    values = [str(value) for value in get_args(unwrapped(field.annotation))]
    said = tuple((value, words.get(value, value.replace("-", " "))) for value in values)
    return said if field.is_required() or field.default is not None else (("", words.get("", "not said")), *said)


def read(model: type[BaseModel], prefix: str, typed: Typed, *, only: Iterable[str] | None = None) -> dict[str, Any]:
    """What was typed, as the model takes it; settings left empty are left out, and a text that is no number, or no list of numbers, stays
    one: `4 x 90` is taken by the model itself.
    """
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    found: dict[str, Any] = {}
    for key in only if only is not None else fields:
        kind, said = _kind(fields[key]), typed.get(prefix + key, "").strip()
        if kind == "numbers" and f"{prefix}{key}.0" in typed:
            several = [typed.get(f"{prefix}{key}.{at}", "").strip() for at in range(3) if f"{prefix}{key}.{at}" in typed]
            if any(several):
                found[key] = [number_of(each) for each in several]
        elif not said:
            continue
        elif kind == "truth":
            found[key] = said == "yes"
        elif kind in ("number", "whole"):
            found[key] = number_of(said, whole=kind == "whole")
        elif kind == "numbers":
            several = [number_of(each) for each in _BETWEEN.split(said) if each]
            found[key] = said if _ONE_OR_TWO.search(said) or any(isinstance(each, str) for each in several) else several
        elif kind == "texts":
            found[key] = [each for each in _BETWEEN.split(said) if each]
        else:
            found[key] = said
    return found


def number_of(said: str, *, whole: bool = False) -> Any:
    """The number that a text is (`with_point`), a whole one as such; the text itself where it is none."""
    number = with_point(said)
    if not _NUMBER.fullmatch(number):
        return said
    value = float(number)
    return int(value) if value == int(value) and abs(value) < 1e15 and ("." not in number or not whole) else value


def written(key: str, value: Any) -> dict[str, str]:
    """A value of a file as its controls have it."""
    if isinstance(value, bool):
        return {key: "yes" if value else ""}
    if isinstance(value, list | tuple):
        numbers = [written("", each)[""] for each in value]
        return {key: ", ".join(numbers), **{f"{key}.{at}": each for at, each in enumerate(numbers)}}
    if isinstance(value, Mapping):
        return {name: text for inner, each in value.items() for name, text in written(f"{key}.{inner}", each).items()}
    return {key: str(int(value)) if isinstance(value, float) and value == int(value) and abs(value) < 1e15 else str(value)}


def wrongs_of(model: type[BaseModel], prefix: str, data: Mapping[str, Any]) -> dict[str, tuple[str, str]]:
    """All that the model refuses of what was typed, by the name of the control; what belongs to no control by the prefix alone.

    The words are the model's own, as in a file, but for quotes, which nobody types here.
    """
    try:
        model.model_validate(data)
    except ValidationError as error:
        found: dict[str, tuple[str, str]] = {}
        for detail in error.errors(include_url=False):
            spot = spot_of(model, detail["loc"])
            wrong, cure = told(detail, spot, "a table of settings")
            cure = cure.replace(", without quotes", "").removeprefix("add '").replace("' is missing", " is missing")
            if detail["type"] == "missing" and isinstance(spot.keys[-1], str):
                wrong, cure = "this is missing", "fill it in"
            elif isinstance(detail["input"], str) and _ONE_OR_TWO.search(detail["input"]):
                cure = _SEVERAL if "list" in cure else HOW_TO_TYPE
            found.setdefault((prefix + ".".join(str(key) for key in spot.keys)).rstrip("."), (wrong, cure.partition(": ")[0]))
        return found
    return {}
