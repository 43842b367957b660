"""What does a profile state together with its parents, and which file stated what?"""

from __future__ import annotations

import os
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pydantic_core import PydanticUndefined

from steadyrest.errors import Place, ProfileError
from steadyrest.model_errors import nearest
from steadyrest.profile.base import Settings
from steadyrest.profile.model import Profile
from steadyrest.profile.search import folder_of_parent, said_names
from steadyrest.profile.stated import FILE_NAME, Table, line_of, read_toml

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


def inherit(folder: Path) -> Inherited:
    """Read a profile's folder and its parents, and merge them: tables key by key, everything else replaced whole.

    Raises ProfileError: unreadable files, unknown parents, rings, a `drop` of what no parent states.
    """
    files: list[tuple[Path, Table]] = []
    chain: list[Path] = []
    real: list[Path] = []
    current: Path | None = Path(os.path.abspath(folder))  # the name of a linked folder is the link's
    while current is not None:
        if current.resolve() in real:
            ring = [each.name for each in [*chain[real.index(current.resolve()) :], current]]
            file = chain[-1] / FILE_NAME
            raise ProfileError(
                f"the profile extends itself: {' -> '.join(ring)}",
                place=Place(file=str(file), line=line_of(file, "extends"), key="extends"),
                cure="let one of them extend another profile, or none",
            )
        chain.append(current)
        real.append(current.resolve())
        file = current / FILE_NAME
        table = read_toml(file)
        files.append((file, table))
        current = _parent(file, table)
    stated: Table = {}
    sources: dict[str, str] = {}
    for file, table in reversed(files):
        for key in _dropped(file, table):
            _drop(stated, sources, key, file)
        own = {key: value for key, value in table.items() if key not in ("extends", "drop")}
        if "name" in own:
            raise ProfileError(
                "the name of a profile is the name of its folder",
                place=Place(file=str(file), line=line_of(file, "name"), key="name"),
                cure="take this line out; rename the folder if the name is wrong",
            )
        merge(stated, own, sources, str(file))
    return Inherited(stated, sources, tuple(chain))


def merge(into: Table, table: Mapping[str, Any], sources: dict[str, str], source: str, prefix: str = "") -> None:
    """Lay a table over another one, in place, and note for each value who stated it."""
    for key, value in table.items():
        dotted = f"{prefix}{key}"
        if isinstance(value, dict):
            below = into.get(key)
            if not isinstance(below, dict):
                if key in into:
                    _forget(sources, dotted)
                below = into[key] = {}
            if not value:
                sources[dotted] = source
            merge(below, value, sources, source, dotted + ".")
        else:
            if key in into:
                _forget(sources, dotted)
            into[key] = deepcopy(value)
            sources[dotted] = source


@cache
def _defaults() -> Table:
    table: Table = {}
    for name, field in Profile.model_fields.items():
        if field.default is PydanticUndefined:
            continue
        default = field.default
        table[name] = default.model_dump(by_alias=True) if isinstance(default, Settings) else default
    return table


def over_defaults(stated: Table) -> Table:
    """The stated tables over the built-in defaults, whole: a group of which one key is stated keeps the defaults of the others."""
    return _laid(_defaults(), stated)


def _laid(below: Mapping[str, Any], table: Mapping[str, Any]) -> Table:
    """One table over another, as `merge` lays them; neither is changed, and the values are shared."""
    whole = dict(below)
    for key, value in table.items():
        if isinstance(value, dict):
            under = below.get(key)
            value = _laid(under if isinstance(under, dict) else {}, value)
        whole[key] = value
    return whole


def _parent(file: Path, table: Table) -> Path | None:
    if "extends" not in table:
        return None
    said = table["extends"]
    place = Place(file=str(file), line=line_of(file, "extends"), key="extends")
    if not isinstance(said, str) or not said.strip():
        raise ProfileError("extends takes the name of a profile, or the path of its folder, in quotes", place=place)
    return Path(os.path.abspath(folder_of_parent(said, file.parent, place)))


def _dropped(file: Path, table: Table) -> list[str]:
    said = table.get("drop", [])
    if not isinstance(said, list) or not all(isinstance(each, str) for each in said):
        raise ProfileError(
            "drop takes a list of dotted keys in quotes",
            place=Place(file=str(file), line=line_of(file, "drop"), key="drop"),
            cure='for example drop = ["rotary.A"]',
        )
    return said


def _drop(stated: Table, sources: dict[str, str], dotted: str, file: Path) -> None:
    table: Any = stated
    *path, last = dotted.split(".")
    for key in path:
        table = table.get(key) if isinstance(table, dict) else None
    if not isinstance(table, dict) or last not in table:
        inherited = sorted({".".join(key.split(".")[:length]) for key in sources for length in range(1, key.count(".") + 2)})
        raise ProfileError(
            f"drop names {dotted}, which no parent of this profile states",
            place=Place(file=str(file), line=line_of(file, "drop"), key="drop"),
            cure=said_names("perhaps you mean", nearest(dotted, inherited)) or "take it out of drop",
        )
    del table[last]
    _forget(sources, dotted)


def _forget(sources: dict[str, str], dotted: str) -> None:
    for key in [key for key in sources if key == dotted or key.startswith(dotted + ".")]:
        del sources[key]
