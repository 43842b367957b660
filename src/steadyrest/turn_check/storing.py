"""The two facts into a shop's own controller.toml: what would change, shown first, and then the change itself.

Nothing of the file but the two values is touched: comments, order and spacing stay, and behind each line that is written stands where
it was seen. Where the file has no heading for the rotary, the values go above its first heading by their full names, as a new profile's
questions lead to them: a heading of their own would make those lines impossible. A profile that came with steadyrest, or with an
installed package, is never written to; a child of it in the user's configuration folder is made, or changed, instead.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from steadyrest.errors import OutputError, Place, ProfileError
from steadyrest.profile import FILE_NAME, bundled_folder, find_profiles, folder_of, resolve, rotaries_of, user_folder
from steadyrest.reading import sigma
from steadyrest.toml_text import lines_of_keys
from steadyrest.turn_check.question import Mounting
from steadyrest.writing import put_in_place


@dataclass(frozen=True, slots=True)
class Change:
    """What would be written, and where.

    file        the controller.toml
    name        of the profile it belongs to
    before      its text; empty when the file is new
    after       its text with the two facts
    new         the profile does not exist yet
    facts       what changes: dotted key, the value that holds now, the value seen
    turns       which way a positive command turns the part then
    """

    file: Path
    name: str
    before: str
    after: str
    new: bool
    facts: tuple[tuple[str, str, str], ...]
    turns: str

    @property
    def needed(self) -> bool:
        """Whether there is anything to write."""
        return self.before != self.after

    @property
    def controller(self) -> str:
        """How to name the profile on the command line."""
        return self.name if self.file.parent.parent == user_folder() else str(self.file.parent)

    def text(self) -> str:
        """The change for a person: the facts before and after, and the lines of the file."""
        lines = [f"{self.name} ({self.file}){', a new profile' if self.new else ''}:"]
        for key, now, seen in self.facts:
            lines.append(f"  {key}: {seen}, unchanged" if now == seen else f"  {key}: {now} -> {seen}")
        diff = list(difflib.unified_diff(self.before.splitlines(), self.after.splitlines(), "now", "then", lineterm="", n=1))
        return "\n".join([*lines, *(f"    {line}" for line in diff[2:]), f"  {self.turns}"])


def planned_change(controller: str, letter: str, said: Mounting, *, seen: str = "turn check", child: str | None = None) -> Change:
    """What storing the two facts for a controller would change; nothing is written.

    controller   name of a profile, or path of its folder
    seen         where the facts come from: the comment behind each line that is written
    child        name of the child profile, where one has to be made; None: `shop-NAME`
    raises       ProfileError for a profile that cannot be read, or an existing child that has another parent
    """
    parent = folder_of(controller)
    ours = _is_ours(parent) and child in (None, parent.name)
    name = parent.name if ours else child or f"shop-{parent.name}"
    folder = parent if ours else user_folder() / name
    file = folder / FILE_NAME
    new = not ours and not file.is_file()
    if not ours:
        if "/" in name or "\\" in name or name in ("", ".", "..", parent.name):
            wrong = f"{name!r} cannot be the name of a profile that extends {parent.name}"
            raise ProfileError(wrong, cure="give it a plain name of its own: --as NAME")
        if not new and parent.resolve() not in [each.resolve() for each in resolve(folder).chain]:
            wrong = f"{name} exists already and does not extend {parent.name}"
            raise ProfileError(wrong, place=Place(file=str(file), key="extends"), cure="give another name: --as NAME")
    rotary = rotaries_of(resolve(parent if new else folder).profile, letter=letter)[letter]  # type: ignore[index]
    values = {"chuck_faces": said.chuck_faces, "positive_turns_chuck": said.positive_turns_chuck}
    facts = tuple((f"rotary.{letter}.{key}", str(getattr(rotary, key)), value) for key, value in values.items())
    turns = f"so a positive {letter} turns the part {'right-hand' if sigma(**values) == 1 else 'left-hand'} about +{rotary.along}"
    if new:
        known = any(found.name == parent.name and found.folder == parent and not found.hidden_by for found in find_profiles())
        document = tomlkit.document()
        document.add(tomlkit.comment(f"{parent.name} as it stands in this shop; state here what else is different."))
        document.add("extends", tomlkit.item(parent.name if known else str(parent.resolve())))
        before, text, holds = "", tomlkit.dumps(document), False
    else:
        resolve(folder, [f"{key}={value}" for key, _, value in facts])  # an impossible combination shows before anything is written
        before = text = _text_of(file)
        stated = tomllib.loads(text.lstrip("\ufeff")).get("rotary", {}).get(letter, {})
        holds = all(now == value for _, now, value in facts) and not stated
    return Change(file, name, before, text if holds else _with_facts(text, letter, values, seen, file), new, facts, turns)


def store(change: Change) -> None:
    """Write the change, whole or not at all. OutputError where the folder does not take it, or the file has changed meanwhile."""
    folder = change.file.parent
    if change.new:
        try:
            folder.mkdir(parents=True)
        except OSError as error:
            wrong = f"the folder cannot be made: {error.strerror}"
            raise OutputError(wrong, place=Place(file=str(folder)), cure="make the folder by hand, or choose another name") from None
    elif _text_of(change.file) != change.before:
        raise OutputError("the file was changed in the meantime", place=Place(file=str(change.file)), cure="run the command again")
    try:
        put_in_place([change.after.encode("utf-8")], change.file).commit()
    except OutputError:
        if change.new:
            with suppress(OSError):
                folder.rmdir()
        raise


def _is_ours(folder: Path) -> bool:
    packages = [found.folder for found in find_profiles() if found.where.startswith("package") and found.folder is not None]
    foreign = any(folder.resolve().is_relative_to(each.resolve()) for each in (bundled_folder(), *packages))
    return folder.resolve().is_relative_to(user_folder().resolve()) or not foreign


def _with_facts(text: str, letter: str, facts: dict[str, Any], seen: str, file: Path) -> str:
    """The text of a TOML file with the two values in it, each with its source, and nothing else changed.

    raises   ProfileError where the file is laid out so that this cannot be done for sure; it says what to type by hand
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text[len(mark) :]
    wanted = tomllib.loads(body)
    ways = (_in_table,) if letter in wanted.get("rotary", {}) else (_by_full_names, _in_table)
    wanted.setdefault("rotary", {}).setdefault(letter, {}).update(facts)
    for way in ways:
        try:
            after = _with_sources(body, way(body, letter, facts), letter, seen)
            if tomllib.loads(after) == wanted:
                return mark + after
        except (TOMLKitError, tomllib.TOMLDecodeError, TypeError, KeyError, AttributeError):
            continue
    typed = "; ".join(f'rotary.{letter}.{key} = "{value}"' for key, value in facts.items())
    wrong = "is laid out so that the two values cannot be put in safely"
    raise ProfileError(wrong, place=Place(file=str(file)), cure=f"type by hand: {typed}")


def _in_table(body: str, letter: str, facts: dict[str, Any]) -> str:
    document = tomlkit.parse(body)
    rotaries: Any = document.setdefault("rotary", tomlkit.table(is_super_table=True))
    table = rotaries.setdefault(letter, tomlkit.table())
    for key, value in facts.items():
        if table.get(key) != value:
            table[key] = value
    return tomlkit.dumps(document)


def _by_full_names(body: str, letter: str, facts: dict[str, Any]) -> str:
    """The values above the first heading: in place of a comment that waits for them, else below what stands there."""
    lines = body.splitlines(keepends=True)
    end = "\r\n" if body.count("\r\n") > body.count("\n") / 2 else "\n"
    for key, value in facts.items():
        name = f"rotary.{letter}.{key}"
        first = next((number for number, line in enumerate(lines) if line.lstrip().startswith("[")), len(lines))
        waiting = next((number for number, line in enumerate(lines[:first]) if re.match(rf"# *{re.escape(name)} *=", line)), None)
        new = f'{name} = "{value}"{end}'
        if waiting is not None:
            lines[waiting] = new
            continue
        while first and not lines[first - 1].strip():
            first -= 1
        if first and not lines[first - 1].endswith("\n"):
            lines[first - 1] += end
        lines.insert(first, new)
    return "".join(lines)


def _with_sources(before: str, after: str, letter: str, seen: str) -> str:
    """Behind each of the two lines that is new or another one: where its value was seen; what stood there as a comment stays."""
    was = set(before.splitlines())
    lines = after.splitlines(keepends=True)
    places = lines_of_keys(after)
    found = {places.get(f"rotary.{letter}.{key}") or places.get(f"rotary.{letter}") for key in ("chuck_faces", "positive_turns_chuck")}
    for number in sorted(place for place in found if place is not None):
        line = lines[number - 1].rstrip("\r\n")
        if line in was or line.lstrip().startswith("["):
            continue
        commented = "#" in re.sub(r"\"[^\"]*\"|'[^']*'", "", line)
        lines[number - 1] = line + (f"; now {seen}" if commented else f"  # {seen}") + lines[number - 1][len(line) :]
    return "".join(lines)


def _text_of(file: Path) -> str:
    try:
        return file.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError(f"cannot be read: {error}", place=Place(file=str(file))) from None
