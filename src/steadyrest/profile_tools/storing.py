"""Settings into a shop's own controller.toml: what would change, shown first, and then the change itself.

A profile that came with steadyrest, or with an installed package, is never written to; a child of it is made, or changed, instead: in the
user's configuration folder, or where somebody wants it.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import tomlkit

from steadyrest.errors import OutputError, Place, ProfileError
from steadyrest.profile import (
    BUILT_IN,
    FILE_NAME,
    SET,
    ResolvedProfile,
    bundled_folder,
    find_profiles,
    folder_of,
    kept_key,
    leaves,
    resolve,
    user_folder,
)
from steadyrest.profile_tools.settings import said, value_of
from steadyrest.profile_tools.stating import with_settings, without_settings
from steadyrest.toml_text import toml_value
from steadyrest.writing import put_in_place


@dataclass(frozen=True, slots=True)
class Change:
    """What would be written, and where.

    file        the controller.toml
    name        of the profile it belongs to
    before      its text; empty when the file is new
    after       its text with the settings
    new         the profile does not exist yet
    facts       what changes: dotted key, the value that holds now, the value that is to be stated
    also        a sentence that is told with it
    """

    file: Path
    name: str
    before: str
    after: str
    new: bool
    facts: tuple[tuple[str, Any, Any], ...]
    also: str = ""

    @property
    def needed(self) -> bool:
        """Whether there is anything to write."""
        return self.before != self.after

    @property
    def controller(self) -> str:
        """How to name the profile on the command line."""
        return self.name if self.file.parent.parent == user_folder() else str(self.file.parent)

    def words(self) -> list[str]:
        """The facts, a sentence each."""
        pairs = ((key, *(value if isinstance(value, str) and value else said(value) for value in both)) for key, *both in self.facts)
        return [f"{key}: {seen}, unchanged" if now == seen else f"{key}: {now} -> {seen}" for key, now, seen in pairs]

    def difference(self) -> list[str]:
        """The lines of the file that change, as a unified difference without its head."""
        return list(difflib.unified_diff(self.before.splitlines(), self.after.splitlines(), "now", "then", lineterm="", n=1))[2:]

    def text(self) -> str:
        """The change for a person: the facts before and after, and the lines of the file."""
        lines = [f"{self.name} ({self.file}){', a new profile' if self.new else ''}:", *(f"  {each}" for each in self.words())]
        lines += [*(f"    {line}" for line in self.difference()), *([f"  {self.also}"] if self.also else [])]
        return "\n".join(lines)


def planned_change(
    controller: str,
    values: Mapping[str, Any],
    sources: Mapping[str, str],
    *,
    child: str | None = None,
    inside: Path | None = None,
    unset: Sequence[str] = (),
    why: str = "",
) -> Change:
    """What stating these settings for a controller would change; nothing is written.

    controller   name of a profile, or path of its folder
    values       by dotted key
    sources      by dotted key where its value was seen: the comment behind the line that is written
    child        name of the child profile, where one has to be made; None: `shop-NAME`
    inside       the folder in which a child is made; None: that of the user's own profiles
    unset, why   dotted keys that the profile states itself, to be stated no more; and what is said of it beside their lines
    raises       ProfileError for a profile that cannot be read, settings that it cannot have, or an existing child that has another parent
    """
    parent, inside = folder_of(controller), inside or user_folder()
    values, sources = ({kept_key(key): value for key, value in said.items()} for said in (values, sources))
    unset = [kept_key(key) for key in unset]
    ours = is_ours(parent) and child in (None, parent.name)
    name = parent.name if ours else child or f"shop-{parent.name}"
    folder = parent if ours else inside / name
    file = folder / FILE_NAME
    new = not ours and not file.is_file()
    if not ours:
        if "/" in name or "\\" in name or name in ("", ".", "..", parent.name):
            wrong = f"{name!r} cannot be the name of a profile that extends {parent.name}"
            raise ProfileError(wrong, cure="give it a plain name of its own: --as NAME")
        if not new and parent.resolve() not in [each.resolve() for each in resolve(folder).chain]:
            wrong = f"{name} exists already and does not extend {parent.name}"
            raise ProfileError(wrong, place=Place(file=str(file), key="extends"), cure="give another name: --as NAME")
    base = parent if new else folder
    now = resolve(base).profile
    facts = tuple((key, value_of(now, key), value) for key, value in values.items())
    # what is impossible shows before anything is written
    then = resolve(base, [f"{key}={toml_value(value)}" for key, value in values.items()], unset=unset).profile
    facts += tuple((key, value_of(now, key), value_of(then, key)) for key in unset)
    if new:
        known = any(found.name == parent.name and found.folder == parent and not found.hidden_by for found in find_profiles())
        document = tomlkit.document()
        document.add(tomlkit.comment(f"{parent.name} as it stands in this shop; state here what else is different."))
        document.add("extends", tomlkit.item(parent.name if known else str(parent.resolve())))
        before, text, holds = "", tomlkit.dumps(document), False
    else:
        before = text = text_of(file)
        stated = leaves(tomllib.loads(text.lstrip("\ufeff")))
        groups = tuple(key.rpartition(".")[0] + "." for key in values)
        holds = not unset and all(held == value for _, held, value in facts) and not any(key.startswith(groups) for key in stated)
        text = without_settings(text, unset, file, why)
    return Change(file, name, before, text if holds else with_settings(text, values, sources, file), new, facts)


def store(change: Change) -> None:
    """Write the change, whole or not at all. OutputError where the folder does not take it, or the file has changed meanwhile."""
    folder = change.file.parent
    if change.new:
        try:
            folder.mkdir(parents=True)
        except OSError as error:
            wrong = f"the folder cannot be made: {error.strerror}"
            raise OutputError(wrong, place=Place(file=str(folder)), cure="make the folder by hand, or choose another name") from None
    elif text_of(change.file) != change.before:
        raise OutputError("the file was changed in the meantime", place=Place(file=str(change.file)), cure="run the command again")
    try:
        put_in_place([change.after.encode("utf-8")], change.file).commit()
    except OutputError:
        if change.new:
            with suppress(OSError):
                folder.rmdir()
        raise


def is_ours(folder: Path) -> bool:
    """Whether a profile's folder is the shop's own: neither bundled nor that of an installed package."""
    packages = [found.folder for found in find_profiles() if found.where.startswith("package") and found.folder is not None]
    foreign = any(folder.resolve().is_relative_to(each.resolve()) for each in (bundled_folder(), *packages))
    return folder.resolve().is_relative_to(user_folder().resolve()) or not foreign


Said = Literal["run", "shop", "assumed"]
"""Who said a setting: this run or job; the shop's own profile; or only a profile that came with steadyrest or a package, which cannot know
how a rotary stands on this table, nor how it is wired."""


def said_by(resolved: ResolvedProfile, key: str) -> Said:
    """Who said a setting, by its dotted key."""
    origin = resolved.origins[key]
    if origin == SET:
        return "run"
    return "shop" if origin != BUILT_IN and is_ours(Path(origin).parent) else "assumed"


def text_of(file: Path) -> str:
    """The text of a profile's file, with the ends of its lines as they are. ProfileError where it cannot be read."""
    try:
        return file.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError(f"cannot be read: {error}", place=Place(file=str(file))) from None
