"""Which profiles are there, and how do they, and one profile with the origin of its settings, look as text?"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steadyrest.errors import SteadyrestError
from steadyrest.profile.files import GROUP, candidates, user_folder
from steadyrest.profile.inheritance import SET, Inherited, ResolvedProfile, load_profile
from steadyrest.toml_text import toml_value


@dataclass(frozen=True, slots=True)
class FoundProfile:
    """A profile that can be named, or what is wrong with it.

    name        the folder's name; of an entry point that leads nowhere, the entry point's
    where       "user configuration", "bundled", or "package NAME VERSION"
    folder      None where an entry point leads to no folder
    speaks      what it says of itself; empty when broken
    error       why it cannot be used; empty when it can
    hidden_by   where the profile is that the name means instead; empty when it means this one
    """

    name: str
    where: str
    folder: Path | None
    speaks: str = ""
    error: str = ""
    hidden_by: str = ""


def find_profiles() -> list[FoundProfile]:
    """All profiles of the user's folder, of steadyrest, and of installed packages, by name. A broken one is listed with its error."""
    found: list[FoundProfile] = []
    winners: dict[str, str] = {}
    known: dict[Path, Inherited] = {}
    for each in candidates():
        if each.folder is None:
            found.append(FoundProfile(each.name, each.where, None, error=each.error))
            continue
        winner = winners.setdefault(each.name, each.where)
        hidden = winner if winner != each.where else ""
        speaks, error = "", ""
        try:
            speaks = load_profile(each.folder, known=known).speaks
        except SteadyrestError as wrong:
            error = str(wrong)
        found.append(FoundProfile(each.name, each.where, each.folder, speaks, error, hidden))
    return sorted(found, key=lambda each: each.name)


WIDTH = 100


def list_text(found: Sequence[FoundProfile]) -> str:
    """The profiles by name: what each speaks, where it lies, and what is wrong with the broken ones."""
    lines: list[str] = []
    for each in found:
        lines.append(f"{each.name}  ({each.where})")
        if each.hidden_by:
            where = f"; its path is {each.folder}" if each.folder is not None else ""
            lines.append(f"    hidden by the profile of the same name from the {each.hidden_by}{where}")
        if each.error:
            lines += [f"    broken: {each.error.splitlines()[0]}", *(f"    {line}" for line in each.error.splitlines()[1:])]
        else:
            lines += textwrap.wrap(each.speaks, WIDTH, initial_indent="    ", subsequent_indent="    ")
    lines += [
        "",
        "A name is looked up in your own folder first, then among the bundled profiles, then in installed packages.",
        f"own folder: {user_folder()}",
        f"packages: entry points of the group {GROUP}",
    ]
    return "\n".join(lines) + "\n"


def show_text(resolved: ResolvedProfile) -> str:
    """A resolved profile as TOML: every setting, and behind each the file that stated it."""
    names = _short_names(resolved.chain)
    lines = [f"# {resolved.profile.name}: every setting, and where its value comes from"]
    for index, folder in enumerate(resolved.chain):
        lines.append(f"# {'profile' if index == 0 else 'extends'} {folder}")
    if SET in resolved.origins.values():
        lines.append(f"# with the values of {SET}")
    lines += [f"# templates {folder}" for folder in resolved.template_folders]
    origins = {key: names.get(origin, origin) for key, origin in resolved.origins.items()}
    lines += _table(resolved.profile.model_dump(by_alias=True, exclude={"name"}), "", origins)
    return "\n".join(lines) + "\n"


def _table(table: Mapping[str, Any], name: str, origins: Mapping[str, str]) -> list[str]:
    """A table's own values first, then the tables inside it, as TOML wants it."""
    prefix = f"{name}." if name else ""
    values = {key: value for key, value in table.items() if not isinstance(value, dict) and value is not None}
    lines = [""] if values or not name else []
    if name and (values or not table):
        lines = ["", f"[{name}]" + ("" if values else f"  # {origins[name]}: nothing stated")]
    lines += _aligned([(f"{key} = {toml_value(value)}", origins[prefix + key]) for key, value in values.items()])
    for key, value in table.items():
        if isinstance(value, dict):
            lines += _table(value, prefix + key, origins)
    return lines


def _aligned(block: list[tuple[str, str]]) -> list[str]:
    width = max((len(text) for text, _ in block if len(text) <= 44), default=0)
    return [f"{text:<{width}}  # {origin}" for text, origin in block]


def _short_names(chain: Sequence[Path]) -> dict[str, str]:
    names = [folder.name for folder in chain]
    clear = len(set(names)) == len(names)
    return {str(folder / "controller.toml"): f"{folder.name}/controller.toml" if clear else str(folder) for folder in chain}
