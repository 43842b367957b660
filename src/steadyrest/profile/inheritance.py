"""A profile, its parents and the `--set` texts of this run taken together: which file stated what, and what is wrong with it, in words."""

from __future__ import annotations

import hashlib
import json
import os
import tomllib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, partial
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import keys_of, nearest, spot_of, told
from steadyrest.profile.axes import SAME_FACT, Leans, LinearAxis, Rotary
from steadyrest.profile.base import PATTERNS
from steadyrest.profile.files import FILE_NAME, Table, folder_of, line_of, read_toml, said_names, shared_templates_folder
from steadyrest.profile.format import NumberFormat, Numbers
from steadyrest.profile.model import Profile
from steadyrest.toml_text import parse_toml

SET = "--set"
MOST_TOLD = 9
"""Besides the first."""

BUILT_IN = "built-in default"

Stated = dict[str, Any]
"""Nested tables; in place of each value that value and who states it: a file, "--set", or "built-in default"."""
Inherited = tuple[Stated, tuple[Path, ...]]
"""Everything stated along a chain of parents, merged, without `extends` and `drop`; and the chain, the profile's own folder first."""


def inherit(folder: Path, known: dict[Path, Inherited] | None = None, unset: Sequence[str] = ()) -> Inherited:
    """Read a profile's folder and its parents, and merge them: tables key by key, everything else replaced whole.

    known    what was inherited by folders already, where many are read at once; those read here are added
    unset    dotted keys that the profile's own file states, left out: what its parents say holds then
    raises   ProfileError: unreadable files, unknown parents, rings, a `drop` of what no parent states, an `unset` of what is not stated
    """
    known = {} if known is None or unset else known
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
    stated, chain = known[current] if current is not None else ({}, ())
    for here, table in reversed(tables):
        stated = _dropped(stated, here, table.get("drop", []))
        own = {key: value for key, value in table.items() if key not in ("extends", "drop")}
        if "name" in own:
            cure = "take this line out; rename the folder if the name is wrong"
            raise _wrong(here, "name", "the name of a profile is the name of its folder", cure)
        own = _one_spelling(own, partial(_wrong, here))
        if here == tables[0][0]:
            own = _without(own, here, unset)
        stated, chain = known[here] = _laid(stated, _by(str(here / FILE_NAME), own)), (here, *chain)
    return stated, chain


def _without(own: Table, folder: Path, unset: Sequence[str]) -> Table:
    """What a file states, some of its settings left out."""
    for key in unset:
        stated = leaves(own)
        if key not in stated:
            wrong, cure = f"{folder.name} does not state {key} itself", "state another value for it, or change the profile that states it"
            raise _wrong(folder, key, wrong, cure)
        own = nested({other: value for other, value in stated.items() if other != key})
    return own


def _wrong(folder: Path, key: str, wrong: str, cure: str = "") -> ProfileError:
    file = folder / FILE_NAME
    return ProfileError(wrong, place=Place(file=str(file), line=line_of(file, key), key=key), cure=cure)


def _one_spelling(own: dict[str, Any], refused: Callable[[str, str, str], ProfileError]) -> dict[str, Any]:
    """What is stated with the facts of its rotaries under the one name by which they are kept, so that either replaces the other."""
    rotaries = own.get("rotary")
    if not isinstance(rotaries, dict):
        return own
    for letter, facts in rotaries.items():
        for said, kept in SAME_FACT.items() if isinstance(facts, dict) else ():
            if said in facts and kept in facts:
                wrong = f"{said} and {kept} state the same fact, and both are given"
                raise refused(f"rotary.{letter}.{said}", wrong, "keep one of the two")
    return own | {"rotary": {letter: _kept(facts) if isinstance(facts, dict) else facts for letter, facts in rotaries.items()}}


def kept_key(dotted: str) -> str:
    """A dotted key as it is kept: `rotary.A.seen_from` is `rotary.A.chuck_faces`."""
    *path, last = dotted.split(".")
    return ".".join([*path, SAME_FACT.get(last, last)]) if path[:1] == ["rotary"] else dotted


def spelled(dotted: str, stated: Collection[str]) -> str:
    """A dotted key as a file spells it that states these dotted keys; as it is kept where the file does not state it."""
    head, _, last = kept_key(dotted).rpartition(".")
    other = next((f"{head}.{said}" for said, kept in SAME_FACT.items() if kept == last), "")
    return other if other in stated else f"{head}.{last}" if head else last


def _kept(facts: Mapping[str, Any]) -> dict[str, Any]:
    return {SAME_FACT.get(key, key): value for key, value in facts.items()}


def _by(source: str, said: Mapping[str, Any]) -> Stated:
    return {key: _by(source, value) if isinstance(value, dict) else (value, source) for key, value in said.items()}


def _laid(below: Stated, over: Stated) -> Stated:
    """Values over others, which stay as they are: tables key by key, everything else replaced whole."""
    both = {key for key in below.keys() & over.keys() if isinstance(below[key], dict) and isinstance(over[key], dict)}
    return below | {key: _laid(below[key], value) if key in both else value for key, value in over.items()}


def _values(stated: Stated) -> dict[str, Any]:
    return {key: _values(entry) if isinstance(entry, dict) else _as_tuple(entry[0]) for key, entry in stated.items()}


@cache
def built_in() -> Stated:
    """The built-in defaults, whole: a group of which one key is stated keeps those of its others."""
    tables = Profile.model_construct(name="", speaks="").model_dump(by_alias=True, exclude={"name", "speaks"})
    return _by(BUILT_IN, tables)


def _parent(folder: Path, table: Table) -> Path | None:
    if "extends" not in table:
        return None
    said = table["extends"]
    if not isinstance(said, str) or not said.strip():
        raise _wrong(folder, "extends", "extends takes the name of a profile, or the path of its folder, in quotes")
    try:
        return Path(os.path.abspath(folder_of(said, folder)))
    except ProfileError as error:
        raise _wrong(folder, "extends", error.wrong, error.cure) from None


def _dropped(stated: Stated, folder: Path, said: Any) -> Stated:
    if not isinstance(said, list) or not all(isinstance(each, str) for each in said):
        raise _wrong(folder, "drop", "drop takes a list of dotted keys in quotes", 'for example drop = ["rotary.A"]')
    for dotted in said:
        flat = leaves(stated)
        kept = {key: entry for key, entry in flat.items() if not f"{key}.".startswith(f"{dotted}.")}
        if len(kept) == len(flat):
            parts = [key.split(".") for key in flat]
            heads = sorted({".".join(each[:length]) for each in parts for length in range(1, len(each) + 1)})
            cure = said_names("did you mean", nearest(dotted, heads)) or "take it out of drop"
            raise _wrong(folder, "drop", f"drop names {dotted}, which no parent of this profile states", cure)
        stated = nested(kept)
    return stated


def override(stated: Stated, sets: Sequence[str]) -> Stated:
    """`KEY=VALUE` texts over what a profile states. Keys are dotted; later ones win.

    A value is taken as TOML if it is TOML (`true`, `12.5`, `["XY"]`, `{from = -90, to = 90}`), else as text: `-X` needs no quotes.
    Raises ProfileError for a text without `=`, an empty key, and what looks like a table and is none.
    """

    def refused(key: str, wrong: str, cure: str) -> ProfileError:
        return ProfileError(wrong, place=Place(file=SET, key=key), cure=cure)

    for said in sets:
        dotted, equals, text = said.partition("=")
        keys = [key.strip() for key in dotted.split(".")]
        if not equals or not all(keys):
            raise ProfileError(f"{said!r} is not KEY=VALUE", place=Place(file=SET), cure="for example --set rotary.A.chuck_faces=-X")
        if keys[0] in ("extends", "drop", "name"):
            raise refused(
                keys[0], f"{keys[0]} belongs to a profile's file and cannot be set for one run", "make a profile of your own for it"
            )
        key, value = ".".join(keys), _value(text)
        if value == text and (bare := text.strip()).startswith("{") and bare.endswith("}"):
            raise refused(key, f"{bare} is no table in TOML", "texts in it need quotes: --set 'rotary.A={chuck_faces = \"-X\"}'")
        stated = _laid(stated, _by(SET, _one_spelling(nested({key: value}), refused)))
    return stated


def _value(text: str) -> Any:
    try:
        parsed = parse_toml(f"value = {text.strip()}")
    except tomllib.TOMLDecodeError:
        return text
    value = parsed["value"]
    return value if len(parsed) == 1 and isinstance(value, (bool, int, float, str, list, dict)) else text


@dataclass(frozen=True)
class ResolvedProfile:
    """A profile, and where everything in it comes from.

    profile            the settings
    stated             what its files and `--set` state of them
    chain              folders, the profile's own first, then its parent, the parent's parent and so on
    template_folders   where templates are looked for, in this order: own, parents', shared
    """

    profile: Profile
    stated: Stated
    chain: tuple[Path, ...]
    template_folders: tuple[Path, ...]

    @cached_property
    def origins(self) -> Mapping[str, str]:
        """Dotted key of every setting -> the file that stated it, "--set", or "built-in default"."""
        sources = {key: entry[1] for key, entry in leaves(self.stated).items() if entry}
        return {key: sources.get(key, BUILT_IN) for key in flat(self.profile)}


def load_profile(name_or_path: str | Path, sets: Sequence[str] = ()) -> Profile:
    """The profile of that name or path, with `KEY=VALUE` texts laid over it. Raises as `resolve` does."""
    return resolve(name_or_path, sets).profile


def resolve(
    name_or_path: str | Path, sets: Sequence[str] = (), known: dict[Path, Inherited] | None = None, unset: Sequence[str] = ()
) -> ResolvedProfile:
    """The same, with where it comes from; `known` and `unset` as of `inherit`.

    Raises ProfileError, which names file and key, for everything that is wrong with it.
    """
    stated, chain = inherit(folder_of(str(name_or_path) if isinstance(name_or_path, str) else str(name_or_path.absolute())), known, unset)
    stated = override(stated, sets)
    try:
        profile = Profile.model_validate({"name": chain[0].name, **_values(_laid(built_in(), stated))}, strict=True)
    except ValidationError as error:
        raise profile_error(error, chain[0], stated) from None
    templates = [folder / "templates" for folder in chain if (folder / "templates").is_dir()]
    return ResolvedProfile(profile, stated, chain, (*templates, shared_templates_folder()))


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


def profile_error(error: ValidationError, folder: Path, stated: Stated) -> ProfileError:
    """All that is wrong, as one error: the first, with the others beside it; each names the file that stated the value."""
    found = [_one_error(each, folder, stated) for each in error.errors(include_url=False)]
    found.sort(key=lambda each: (each.place.file or "", each.place.line or 0))
    first, also = found[0], found[1:]
    if len(also) > MOST_TOLD:
        also = [*also[:MOST_TOLD], ProfileError(f"{len(also) - MOST_TOLD} more", cure="correct these first")]
    return ProfileError(first.wrong, place=first.place, cure=first.cure, also=also)


def _one_error(detail: ErrorDetails, folder: Path, stated: Stated) -> ProfileError:
    spot = spot_of(Profile, detail["loc"])
    keys = [key for key in spot.keys if isinstance(key, str)]
    if detail["type"] == "rule":
        keys += str(detail["ctx"]["key"]).split(".")
    if detail["type"] == "extra_forbidden":
        wrong, cure = unknown_key(keys)
    elif detail["type"] == "literal_error" and keys[:-1] in (["rotary"], ["linear"]):
        what, cure = ("rotary", "its table's name is its letter: [rotary.A]") if keys[0] == "rotary" else ("linear axis", "")
        wrong = f"a {what} cannot be called {keys[-1]}; allowed: {detail['ctx']['expected']}"
    else:
        wrong, cure = told(detail, spot, "a table of settings", PATTERNS)
    source = _source(keys, stated)
    if source is None:
        source = SET if any(entry and entry[1] == SET for entry in leaves(stated).values()) else str(folder / FILE_NAME)
    line = _line_of(Path(source), ".".join(keys)) if source != SET else None
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
    """The dotted names of all settings, with one letter for all where a table's name is a letter."""
    leans = Leans(towards="+Y", by=45)
    rotary = Rotary.model_construct(along="X", chuck_faces="+X", positive_turns_chuck="clockwise", leans=leans)
    numbers = Numbers(by_letter={"K": NumberFormat()})
    return tuple(flat(Profile.model_construct(name="", speaks="", numbers=numbers, rotary={"A": rotary}, linear={"X": LinearAxis()})))


def _line_of(file: Path, dotted: str) -> int | None:
    try:
        return line_of(file, spelled(dotted, leaves(tomllib.loads(file.read_text(encoding="utf-8-sig")))))
    except (OSError, ValueError):
        return line_of(file, dotted)


def _source(keys: list[str], stated: Stated) -> str | None:
    """Who stated the key, or something inside it."""
    entry: Any = stated
    for key in keys:
        entry = entry.get(key, {})
    return next((inside[1] for inside in leaves({"": entry}).values() if inside), None)
