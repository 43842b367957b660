"""Which profiles are there, and how do they, and one profile with the origin of its settings, look as text?"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from steadyrest.errors import SteadyrestError
from steadyrest.folding import width
from steadyrest.profile.files import FILE_NAME, GROUP, FoundProfile, candidates, user_folder
from steadyrest.profile.inheritance import SET, Inherited, ResolvedProfile, resolve
from steadyrest.toml_text import toml_value


def find_profiles() -> list[FoundProfile]:
    """All profiles of the user's folder, of steadyrest, and of installed packages, by name. A broken one is listed with its error."""
    found: list[FoundProfile] = []
    winners: dict[str, str] = {}
    known: dict[Path, Inherited] = {}
    for each in candidates():
        if (folder := each.folder) is not None:
            winner = winners.setdefault(each.name, each.where)
            each = replace(each, hidden_by=winner if winner != each.where else "")
            try:
                each = replace(each, speaks=resolve(folder, known=known).profile.speaks)
            except SteadyrestError as wrong:
                each = replace(each, error=str(wrong))
        found.append(each)
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
            lines += textwrap.wrap(each.speaks, width(WIDTH), initial_indent="    ", subsequent_indent="    ")
    lines += [
        "",
        *textwrap.wrap(
            "A name is looked up in your own folder first, then among the bundled profiles, then in installed packages.", width(WIDTH + 7)
        ),
        f"own folder: {user_folder()}",
        f"packages: entry points of the group {GROUP}",
    ]
    return "\n".join(lines) + "\n"


def show_text(resolved: ResolvedProfile) -> str:
    """A resolved profile as TOML: every setting, and behind each the file that stated it."""
    chain, names = resolved.chain, [folder.name for folder in resolved.chain]
    clear = len(set(names)) == len(names)
    short = {str(folder / FILE_NAME): f"{folder.name}/{FILE_NAME}" if clear else str(folder) for folder in chain}
    lines = [f"# {resolved.profile.name}: every setting, and where its value comes from"]
    lines += [f"# {'extends' if index else 'profile'} {folder}" for index, folder in enumerate(chain)]
    if SET in resolved.origins.values():
        lines.append(f"# with the values of {SET}")
    lines += [f"# templates {folder}" for folder in resolved.template_folders]
    origins = {key: short.get(origin, origin) for key, origin in resolved.origins.items()}
    lines += _table(resolved.profile.model_dump(by_alias=True, exclude={"name"}), "", origins)
    return "\n".join(lines) + "\n"


def _table(table: Mapping[str, Any], name: str, origins: Mapping[str, str]) -> list[str]:
    """A table's own values first, then the tables inside it, as TOML wants it."""
    prefix = f"{name}." if name else ""
    values = {key: f"{key} = {toml_value(value)}" for key, value in table.items() if not isinstance(value, dict) and value is not None}
    lines = [""] if values or not name else []
    if name and (values or not table):
        lines = ["", f"[{name}]" + ("" if values else f"  # {origins[name]}: nothing stated")]
    width = max((len(text) for text in values.values() if len(text) <= 44), default=0)
    lines += [f"{text:<{width}}  # {origins[prefix + key]}" for key, text in values.items()]
    for key, value in table.items():
        if isinstance(value, dict):
            lines += _table(value, prefix + key, origins)
    return lines
