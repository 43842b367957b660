"""What is a profile once its parents and the `--set` texts of this run are taken together, and which file stated what?"""

from __future__ import annotations

import hashlib
import json
import os
import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticUndefined

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import nearest
from steadyrest.profile.base import Settings
from steadyrest.profile.files import FILE_NAME, Table, folder_of, folder_of_parent, line_of, read_toml, said_names, shared_templates_folder
from steadyrest.profile.model import Profile
from steadyrest.profile.wording import profile_error, unknown_key
from steadyrest.toml_text import parse_toml

SET = "--set"


@dataclass(frozen=True, slots=True)
class Inherited:
    """Everything stated along a chain of parents, merged.

    stated    the tables, without `extends` and `drop`
    sources   dotted key of each stated value -> the file that stated it last, or "--set"
    chain     folders, the profile's own first, the oldest parent last
    """

    stated: Table
    sources: dict[str, str]
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
    found = known[current] if current is not None else Inherited({}, {}, ())
    for here, table in reversed(tables):
        found = _dropped(found, here, table.get("drop", []))
        own = {key: value for key, value in table.items() if key not in ("extends", "drop")}
        if "name" in own:
            cure = "take this line out; rename the folder if the name is wrong"
            raise _wrong(here, "name", "the name of a profile is the name of its folder", cure)
        found = known[here] = laid_over(found, own, str(here / FILE_NAME), (here, *found.chain))
    return found


def _wrong(folder: Path, key: str, wrong: str, cure: str = "") -> ProfileError:
    file = folder / FILE_NAME
    return ProfileError(wrong, place=Place(file=str(file), line=line_of(file, key), key=key), cure=cure)


def laid_over(below: Inherited, table: Table, source: str, chain: tuple[Path, ...]) -> Inherited:
    """Tables over those stated already, which stay as they are; each value is noted as stated by `source`."""
    sources = dict(below.sources)
    for key, value in leaves(table).items():
        if value != {}:
            _forget(sources, key)
        sources[key] = source
    return Inherited(_laid(below.stated, table), sources, chain)


@cache
def _defaults() -> Table:
    defaults = {name: field.default for name, field in Profile.model_fields.items() if field.default is not PydanticUndefined}
    return {name: each.model_dump(by_alias=True) if isinstance(each, Settings) else each for name, each in defaults.items()}


def over_defaults(stated: Table) -> Table:
    """The stated tables over the built-in defaults, whole: a group of which one key is stated keeps the defaults of the others."""
    return _laid(_defaults(), stated)


def _laid(below: Mapping[str, Any], table: Mapping[str, Any]) -> Table:
    """One table over another: tables key by key, everything else replaced. Neither is changed, and the values are shared."""
    whole = dict(below)
    for key, value in table.items():
        if isinstance(value, dict):
            under = below.get(key)
            value = _laid(under if isinstance(under, dict) else {}, value)
        whole[key] = value
    return whole


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
    """What is inherited, without the dotted keys that a profile drops."""
    if not isinstance(said, list) or not all(isinstance(each, str) for each in said):
        raise _wrong(folder, "drop", "drop takes a list of dotted keys in quotes", 'for example drop = ["rotary.A"]')
    if not said:
        return inherited
    stated, sources = deepcopy(inherited.stated), dict(inherited.sources)
    for dotted in said:
        table: Any = stated
        *path, last = dotted.split(".")
        for key in path:
            table = table.get(key) if isinstance(table, dict) else None
        if not isinstance(table, dict) or last not in table:
            heads = sorted({".".join(key.split(".")[:length]) for key in sources for length in range(1, key.count(".") + 2)})
            cure = said_names("did you mean", nearest(dotted, heads)) or "take it out of drop"
            raise _wrong(folder, "drop", f"drop names {dotted}, which no parent of this profile states", cure)
        del table[last]
        _forget(sources, dotted)
    return Inherited(stated, sources, inherited.chain)


def _forget(sources: dict[str, str], dotted: str) -> None:
    for key in [key for key in sources if key == dotted or key.startswith(dotted + ".")]:
        del sources[key]


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
        table: Any = inherited.stated
        nested: Any = _value(text)
        for key in keys[:-1]:
            table = table.get(key, {})
            if not isinstance(table, dict):
                wrong, cure = unknown_key(keys)
                raise ProfileError(wrong, place=Place(file=SET, key=".".join(keys)), cure=cure)
        for key in reversed(keys):
            nested = {key: nested}
        inherited = laid_over(inherited, nested, SET, inherited.chain)
    return inherited


def _value(text: str) -> Any:
    try:
        parsed = parse_toml(f"value = {text.strip()}")
    except tomllib.TOMLDecodeError:
        return text
    value = parsed["value"]
    return value if len(parsed) == 1 and isinstance(value, (bool, int, float, str, list, dict)) else text


BUILT_IN = "built-in default"


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
    origins = {key: inherited.sources.get(key, BUILT_IN) for key in flat(profile)}
    own = [folder / "templates" for folder in inherited.chain if (folder / "templates").is_dir()]
    return ResolvedProfile(profile, origins, inherited.chain, (*own, shared_templates_folder()))


def _loaded(name_or_path: str | Path, sets: Sequence[str], known: dict[Path, Inherited] | None) -> tuple[Profile, Inherited]:
    said = name_or_path if isinstance(name_or_path, str) else str(name_or_path.absolute())
    inherited = override(inherit(folder_of(said), known), sets)
    folder = inherited.chain[0]
    try:
        table = _with_tuples(over_defaults(inherited.stated))
        return Profile.model_validate({"name": folder.name, **table}, strict=True), inherited
    except ValidationError as error:
        raise profile_error(error, folder, inherited.sources) from None


def flat(profile: Profile) -> dict[str, Any]:
    """Every setting by its dotted key, as spelled in TOML; the name is no setting."""
    return leaves(profile.model_dump(by_alias=True, exclude={"name"}))


def leaves(table: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """The values of nested tables by their dotted keys; an empty table is a value."""
    found: dict[str, Any] = {}
    for key, value in table.items():
        if isinstance(value, dict) and value:
            found |= leaves(value, f"{prefix}{key}.")
        else:
            found[f"{prefix}{key}"] = value
    return found


def profile_digest(profile: Profile) -> str:
    """SHA-256, in hexadecimal, over the settings that are not the default: equal for equal profiles, whatever files they came from.

    A setting that a later version adds, at its default, leaves the digests of programs that are years old as they are.
    Where a program is delivered to says nothing of what is in it, so `delivery` is left out.
    """
    stated = profile.model_dump(mode="json", by_alias=True, exclude_defaults=True, exclude={"delivery"})
    text = json.dumps(stated, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _with_tuples(value: Any) -> Any:
    # Validation is strict, so that "3" is no number and 1 is no truth value; TOML's lists are the models' tuples.
    if isinstance(value, dict):
        return {key: _with_tuples(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return tuple(_with_tuples(inner) for inner in value)
    return value
