"""A profile, its parents and the `--set` texts of this run taken together: which file stated what, and what is wrong with it, in words."""

from __future__ import annotations

import hashlib
import json
import os
import tomllib
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import accumulate
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import Style, keys_of, nearest, spot_of, told, unwrapped
from steadyrest.profile.base import PATTERNS, Settings
from steadyrest.profile.files import FILE_NAME, Table, folder_of, folder_of_parent, line_of, read_toml, said_names, shared_templates_folder
from steadyrest.profile.model import Profile
from steadyrest.toml_text import parse_toml

SET = "--set"
MOST_TOLD = 9
"""Besides the first."""

_STYLE = Style(
    table="a table of settings",
    guess="did you mean {}",
    sentences={
        "missing": ("{key} is missing", "state it"),
        "entry": ("there are only {key} values in the list", "give all the numbers"),
        "choice": ("{found} is not allowed; allowed: {expected}", "write one of those"),
        "bound": ("{found} is not allowed: it has to be {allowed}", "correct the number"),
        "type": ("{found} is not {allowed}", "write {allowed}"),
        "short": ("{found} is too short: at least {allowed} are needed", "add what is missing"),
        "long": ("{found} is too long: at most {allowed} are allowed", "take out what is too much"),
        "other": ("{found} is not allowed here", "compare with the list of settings"),
    },
    patterns=PATTERNS,
)


BUILT_IN = "built-in default"

Stated = dict[str, tuple[Any, str]]
"""By dotted keys: values, and who states each: a file, "--set", or "built-in default". An empty table is a value."""


@dataclass(frozen=True, slots=True)
class Inherited:
    """Everything stated along a chain of parents, merged.

    stated    without `extends` and `drop`; of each value the file that stated it last
    chain     folders, the profile's own first, the oldest parent last
    """

    stated: Stated
    chain: tuple[Path, ...]


def inherit(folder: Path, known: dict[Path, Inherited] | None = None) -> Inherited:
    """Read a profile's folder and its parents, and merge them: tables key by key, everything else replaced whole.

    known    what was inherited by folders already, where many are read at once; those read here are added
    raises   ProfileError: unreadable files, unknown parents, rings, a `drop` of what no parent states
    """
    known = {} if known is None else known
    tables: list[tuple[Path, Table]] = []
    seen: dict[str, Path] = {}
    current: Path | None = Path(os.path.abspath(folder))  # the name of a linked folder is the link's
    while current is not None and current not in known:
        real = os.path.realpath(current)
        if real in seen:
            names = [each.name for each in seen.values()]
            ring = [*names[list(seen).index(real) :], current.name]
            cure = "let one of them extend another profile, or none"
            raise _wrong(tables[-1][0], "extends", f"the profile extends itself: {' -> '.join(ring)}", cure)
        seen[real] = current
        tables.append((current, read_toml(current / FILE_NAME)))
        current = _parent(*tables[-1])
    found = known[current] if current is not None else Inherited({}, ())
    for here, table in reversed(tables):
        found = _dropped(found, here, table.get("drop", []))
        own = {key: value for key, value in table.items() if key not in ("extends", "drop")}
        if "name" in own:
            cure = "take this line out; rename the folder if the name is wrong"
            raise _wrong(here, "name", "the name of a profile is the name of its folder", cure)
        stated = {key: (value, str(here / FILE_NAME)) for key, value in leaves(own).items()}
        found = known[here] = Inherited(_laid(found.stated, stated), (here, *found.chain))
    return found


def _wrong(folder: Path, key: str, wrong: str, cure: str = "") -> ProfileError:
    file = folder / FILE_NAME
    return ProfileError(wrong, place=Place(file=str(file), line=line_of(file, key), key=key), cure=cure)


def _laid(below: Stated, over: Stated) -> Stated:
    """Values over others, which stay as they are: tables key by key, everything else replaced whole."""
    whole = dict(below)
    for key, entry in over.items():
        if key not in whole:
            within = [other for other in whole if other.startswith(key + ".")]
            if within and entry[0] == {}:
                continue  # an empty table takes nothing away
            for other in (*within, *_heads(key)):
                whole.pop(other, None)
        whole[key] = entry
    return whole


def _heads(key: str) -> list[str]:
    return list(accumulate(key.split(".")[:-1], "{}.{}".format))


@cache
def built_in() -> Stated:
    """The built-in defaults, whole: a group of which one key is stated keeps those of its others."""
    tables = Profile.model_construct(name="", speaks="").model_dump(by_alias=True, exclude={"name", "speaks"})
    return {key: (value, BUILT_IN) for key, value in leaves(tables).items()}


def _parent(folder: Path, table: Table) -> Path | None:
    if "extends" not in table:
        return None
    said = table["extends"]
    if not isinstance(said, str) or not said.strip():
        raise _wrong(folder, "extends", "extends takes the name of a profile, or the path of its folder, in quotes")
    try:
        return Path(os.path.abspath(folder_of_parent(said, folder)))
    except ProfileError as error:
        raise _wrong(folder, "extends", error.wrong, error.cure) from None


def _dropped(inherited: Inherited, folder: Path, said: Any) -> Inherited:
    if not isinstance(said, list) or not all(isinstance(each, str) for each in said):
        raise _wrong(folder, "drop", "drop takes a list of dotted keys in quotes", 'for example drop = ["rotary.A"]')
    stated = dict(inherited.stated)
    for dotted in said:
        gone = [key for key in stated if key == dotted or key.startswith(dotted + ".")]
        if not gone:
            heads = sorted({*stated, *(head for key in stated for head in _heads(key))})
            cure = said_names("did you mean", nearest(dotted, heads)) or "take it out of drop"
            raise _wrong(folder, "drop", f"drop names {dotted}, which no parent of this profile states", cure)
        for key in gone:
            del stated[key]
    return Inherited(stated, inherited.chain)


def override(inherited: Inherited, sets: Sequence[str]) -> Inherited:
    """`KEY=VALUE` texts over what a profile states. Keys are dotted; later ones win.

    A value is taken as TOML if it is TOML (`true`, `12.5`, `["XY"]`), else as text: `-X` needs no quotes.
    Raises ProfileError for a text without `=`, an empty key, and a key that lies below a value.
    """
    for said in sets:
        dotted, equals, text = said.partition("=")
        keys = [key.strip() for key in dotted.split(".")]
        if not equals or not all(keys):
            raise ProfileError(f"{said!r} is not KEY=VALUE", place=Place(file=SET), cure="for example --set rotary.A.chuck_faces=-X")
        if keys[0] in ("extends", "drop", "name"):
            raise ProfileError(
                f"{keys[0]} belongs to a profile's file and cannot be set for one run",
                place=Place(file=SET, key=keys[0]),
                cure="make a profile of your own for it",
            )
        key = ".".join(keys)
        if any(head in inherited.stated and inherited.stated[head][0] != {} for head in _heads(key)):
            wrong, cure = unknown_key(keys)
            raise ProfileError(wrong, place=Place(file=SET, key=key), cure=cure)
        stated = {name: (value, SET) for name, value in leaves(nested({key: _value(text)})).items()}
        inherited = Inherited(_laid(inherited.stated, stated), inherited.chain)
    return inherited


def _value(text: str) -> Any:
    try:
        parsed = parse_toml(f"value = {text.strip()}")
    except tomllib.TOMLDecodeError:
        return text
    value = parsed["value"]
    return value if len(parsed) == 1 and isinstance(value, (bool, int, float, str, list, dict)) else text


@dataclass(frozen=True, slots=True)
class ResolvedProfile:
    """A profile, and where everything in it comes from.

    profile            the settings
    origins            dotted key of every setting -> the file that stated it, "--set", or "built-in default"
    chain              folders, the profile's own first, then its parent, the parent's parent and so on
    template_folders   where templates are looked for, in this order: own, parents', shared
    """

    profile: Profile
    origins: Mapping[str, str]
    chain: tuple[Path, ...]
    template_folders: tuple[Path, ...]


def load_profile(name_or_path: str | Path, sets: Sequence[str] = (), known: dict[Path, Inherited] | None = None) -> Profile:
    """The profile of that name or path, with `KEY=VALUE` texts laid over it; `known` as of `inherit`.

    Raises ProfileError, which names file and key, for everything that is wrong with it.
    """
    return _loaded(name_or_path, sets, known)[0]


def resolve(name_or_path: str | Path, sets: Sequence[str] = ()) -> ResolvedProfile:
    """The same as `load_profile`, with the origin of every setting and the folders of its templates. Raises ProfileError."""
    profile, inherited = _loaded(name_or_path, sets, None)
    origins = {key: inherited.stated.get(key, ("", BUILT_IN))[1] for key in flat(profile)}
    own = [folder / "templates" for folder in inherited.chain if (folder / "templates").is_dir()]
    return ResolvedProfile(profile, origins, inherited.chain, (*own, shared_templates_folder()))


def _loaded(name_or_path: str | Path, sets: Sequence[str], known: dict[Path, Inherited] | None) -> tuple[Profile, Inherited]:
    said = name_or_path if isinstance(name_or_path, str) else str(name_or_path.absolute())
    inherited = override(inherit(folder_of(said), known), sets)
    folder = inherited.chain[0]
    table = nested({key: _as_tuple(value) for key, (value, _) in _laid(built_in(), inherited.stated).items()})
    try:
        return Profile.model_validate({"name": folder.name, **table}, strict=True), inherited
    except ValidationError as error:
        raise profile_error(error, folder, {key: source for key, (_, source) in inherited.stated.items()}) from None


def _as_tuple(value: Any) -> Any:
    # Validation is strict, so that "3" is no number and 1 is no truth value; TOML's lists are the models' tuples.
    return tuple(map(_as_tuple, value)) if isinstance(value, (list, tuple)) else value


def flat(profile: Profile) -> dict[str, Any]:
    """Every setting by its dotted key, as spelled in TOML; the name is no setting."""
    return leaves(profile.model_dump(by_alias=True, exclude={"name"}))


def leaves(table: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """The values of nested tables by their dotted keys; an empty table is a value. A key with a point in it, as none has, is quoted."""
    found: dict[str, Any] = {}
    for key, value in table.items():
        name = prefix + (f'"{key}"' if "." in key else key)
        found |= leaves(value, f"{name}.") if isinstance(value, dict) and value else {name: value}
    return found


def nested(values: Mapping[str, Any]) -> dict[str, Any]:
    """The nested tables of values by their dotted keys, none of which lies in another's value."""
    table: dict[str, Any] = {}
    for key, value in values.items():
        *path, last = key.split(".")
        inner = table
        for part in path:
            inner = inner.setdefault(part, {})
        inner[last] = {} if value == {} else value
    return table


def profile_digest(profile: Profile) -> str:
    """SHA-256, in hexadecimal, over the settings that are not the default: equal for equal profiles, whatever files they came from.

    A setting that a later version adds, at its default, leaves the digests of programs that are years old as they are.
    Where a program is delivered to says nothing of what is in it, so `delivery` is left out.
    """
    stated = profile.model_dump(mode="json", by_alias=True, exclude_defaults=True, exclude={"delivery"})
    text = json.dumps(stated, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def profile_error(error: ValidationError, folder: Path, sources: Mapping[str, str]) -> ProfileError:
    """All that is wrong, as one error: the first, with the others beside it; each names the file that stated the value."""
    found = [_one_error(each, folder, sources) for each in error.errors(include_url=False)]
    found.sort(key=lambda each: (each.place.file or "", each.place.line or 0))
    first, also = found[0], found[1:]
    if len(also) > MOST_TOLD:
        also = [*also[:MOST_TOLD], ProfileError(f"{len(also) - MOST_TOLD} more", cure="correct these first")]
    return ProfileError(first.wrong, place=first.place, cure=first.cure, also=also)


def _one_error(detail: ErrorDetails, folder: Path, sources: Mapping[str, str]) -> ProfileError:
    spot = spot_of(Profile, detail["loc"])
    keys = [str(key) for key in spot.keys]
    if detail["type"] == "combination":
        context = detail["ctx"]
        keys += [part for part in str(context["key"]).split(".") if part]
        wrong, cure = str(context["sentence"]), str(context["cure"])
    elif detail["type"] == "extra_forbidden":
        wrong, cure = unknown_key(keys)
    elif detail["type"] == "literal_error" and keys[:-1] in (["rotary"], ["linear"]):
        what, cure = ("rotary", "its table's name is its letter: [rotary.A]") if keys[0] == "rotary" else ("linear axis", "")
        wrong = f"a {what} cannot be called {keys[-1]}; allowed: {detail['ctx']['expected']}"
    else:
        wrong, cure = told(detail, spot, _STYLE)
    source = _source(keys, sources)
    if source is None:
        source = SET if SET in sources.values() else str(folder / FILE_NAME)
    line = line_of(Path(source), ".".join(keys)) if source != SET else None
    return ProfileError(wrong, place=Place(file=source, line=line, key=".".join(keys)), cure=cure)


def unknown_key(keys: list[str]) -> tuple[str, str]:
    """The sentence and the cure for a key that nobody knows: the nearest names, what is allowed here."""
    wrong = f"there is no setting {'.'.join(keys)}"
    if len(keys) > 1 and keys[-1] in Profile.model_fields:
        heading = ".".join(keys[:-1])
        return (
            wrong,
            f"it is under the heading [{heading}]: put the line above all headings, or leave out the part that the heading gives already",
        )
    group = spot_of(Profile, keys).group
    allowed = sorted(keys_of(group))
    if group is Profile:
        allowed = sorted([*allowed, "extends", "drop"])
        allowed.remove("name")
    close = nearest(keys[-1], allowed)
    if not close:
        every = all_keys()
        close = [key for key in every if key.rsplit(".", 1)[-1] == keys[-1]][:3] or nearest(".".join(keys), every)
    guess = said_names("did you mean", close)
    listed = f"allowed here: {', '.join(allowed)}" if allowed else ""
    return wrong, "; ".join(filter(None, [guess, listed]))


@cache
def all_keys() -> tuple[str, ...]:
    """The dotted names of all settings; K stands for any letter."""
    return tuple(key for key in _keys_in(Profile, "") if key != "name")


def _keys_in(annotation: Any, prefix: str) -> Iterator[str]:
    bare = unwrapped(annotation)
    if isinstance(bare, type) and issubclass(bare, Settings):
        for name, field in bare.model_fields.items():
            yield from _keys_in(field.annotation, f"{prefix}.{field.alias or name}".removeprefix("."))
    elif typing.get_origin(bare) is dict:
        letters, group = typing.get_args(bare)
        for letter in typing.get_args(unwrapped(letters)) or ("K",):
            yield from _keys_in(group, f"{prefix}.{letter}")
    else:
        yield prefix


def _source(keys: list[str], sources: Mapping[str, str]) -> str | None:
    """Who stated the key, or something inside it, or the value that it is a part of (a list's second entry)."""
    dotted = ".".join(keys)
    inside = (source for key, source in sources.items() if key == dotted or key.startswith(dotted + "."))
    around = (sources[head] for length in range(len(keys) - 1, 0, -1) if (head := ".".join(keys[:length])) in sources)
    return next(inside, None) or next(around, None)
