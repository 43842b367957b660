"""What does a controller.toml look like with a few settings stated, and every other line as somebody wrote it?

Comments, order and spacing stay. Where the file has no heading for a setting, its line goes above the first heading by its full name, as a
new profile's questions lead to it: a heading of its own would make such lines impossible.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from difflib import SequenceMatcher
from functools import partial
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from steadyrest.errors import Place, ProfileError
from steadyrest.profile import leaves, spelled
from steadyrest.toml_text import line_of, lines_of_keys, toml_value

LONGEST_LIST = 200
"""Lines of one setting that is a list."""
_QUOTED = re.compile(r"\"(?:\\.|[^\"\\])*\"|'[^']*'")

Spot = Callable[[list[str], str], tuple[int, str]]
"""The lines of a file and a dotted key: which line it becomes, from 0, and by what name; a line that it stands instead of is taken out."""


def sources_in(text: str) -> dict[int, str]:
    """The comment that belongs to each line, from 1: the one behind it, or else the one above it. "the same" is filled in."""
    found: dict[int, str] = {}
    last, above = "", ""
    for number, line in enumerate(text.splitlines(), 1):
        bare = _QUOTED.sub(lambda quoted: "_" * len(quoted[0]), line)
        behind = line[bare.index("#") + 1 :].strip() if "#" in bare else ""
        if behind.startswith("the same"):
            behind = last if behind == "the same" else f"{last} ({behind})"
        else:
            last = behind or last
        if not bare.split("#")[0].strip():
            above = behind
            continue
        found[number] = behind or above
        above = ""
    return found


def with_settings(text: str, values: Mapping[str, Any], sources: Mapping[str, str], file: Path) -> str:
    """The text of a controller.toml that states these settings, with the source of each behind its line, and nothing else changed.

    values    by dotted key; what the file states just so already is left as it stands
    sources   by dotted key; a comment that stands behind the value already stays, and "; now SOURCE" is added to it
    file      for messages
    raises    ProfileError where the file is laid out so that this cannot be done for sure; it says what to type by hand
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text[len(mark) :]
    for kept, value in values.items():
        key = spelled(kept, leaves(tomllib.loads(body)))
        body = _with_setting(body, key, list(value) if isinstance(value, tuple) else value, plain_comment(sources.get(kept, "")), file)
    return mark + body


def _with_setting(body: str, key: str, value: Any, source: str, file: Path) -> str:
    before, wanted = tomllib.loads(body), tomllib.loads(body)
    *path, last = key.split(".")
    here: Any = wanted
    for part in path:
        here = here.setdefault(part, {}) if isinstance(here, dict) else None
    stated = isinstance(here, dict) and last in here
    if isinstance(here, dict):
        here[last] = value
        if wanted == before and stated:
            return body
        for spot in (None,) if stated else (_where_it_waits, _below_heading, _by_full_name, None):
            try:
                after = (_put_in if spot is None else partial(_put_at, spot))(body, key, value, source)
                if tomllib.loads(after) == wanted and _one_place(body, after):
                    return after
            except (TOMLKitError, tomllib.TOMLDecodeError, TypeError, KeyError, AttributeError, ValueError, LookupError):
                continue
    wrong = f"is laid out so that {key} cannot be put in safely"
    raise ProfileError(wrong, place=Place(file=str(file), key=key), cure=f"type by hand: {key} = {toml_value(value)}")


def without_settings(text: str, keys: Sequence[str], file: Path, why: str = "") -> str:
    """The text of a controller.toml that does not state these settings any more: their lines become comments, so that nothing that
    somebody wrote is lost, and nothing else changes.

    keys     dotted; each is stated in the text
    why      stands behind the line with what was there
    raises   ProfileError where the file is laid out so that this cannot be done for sure; it says what to do by hand
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    body = text[len(mark) :]
    for kept in keys:
        key = spelled(kept, leaves(tomllib.loads(body)))
        body = _without_setting(body, key, plain_comment(why), file)
    return mark + body


def _without_setting(body: str, key: str, why: str, file: Path) -> str:
    wanted = {other: value for other, value in leaves(tomllib.loads(body)).items() if other != key}
    places, lines = lines_of_keys(body), body.splitlines(keepends=True)
    first = places.get(key, 0)
    heads = [places[head] for length in range(key.count("."), 0, -1) if (head := ".".join(key.split(".")[:length])) in places]
    for last in range(first, min(first + LONGEST_LIST, len(lines)) + 1 if first else 0):
        one = {*range(first, last + 1)}
        for silent in (one, *(one | {*heads[: count + 1]} for count in range(len(heads)))):  # a heading with nothing below it goes too
            after = "".join(f"# {line}" if at in silent else line for at, line in enumerate(lines, 1))
            with suppress(tomllib.TOMLDecodeError):
                if leaves(tomllib.loads(after)) == wanted:
                    return _told(after, last, f"not stated any more: {why}" if why else "")
    wrong = f"is laid out so that {key} cannot be taken out safely"
    raise ProfileError(wrong, place=Place(file=str(file), line=first or None, key=key), cure="take it out by hand")


def _told(body: str, number: int, why: str, again: str = "") -> str:
    """The text with a remark as the comment on a line, or added to the one that is there, which is then said `again`."""
    if not why:
        return body
    lines = body.splitlines(keepends=True)
    line = lines[number - 1].rstrip("\r\n")
    commented = "#" in _QUOTED.sub("", line.removeprefix("# "))
    lines[number - 1] = line + (f"; {again}{why}" if commented else f"  # {why}") + lines[number - 1][len(line) :]
    return "".join(lines)


def _one_place(before: str, after: str) -> bool:
    """Whether lines changed at one place only."""
    matcher = SequenceMatcher(None, before.splitlines(keepends=True), after.splitlines(keepends=True), autojunk=False)
    changed = [(a, b) for kind, a, b, _, _ in matcher.get_opcodes() if kind != "equal"]
    return len(changed) <= 1


def _is_heading(line: str) -> bool:
    return line.lstrip().startswith("[")


def _where_it_waits(lines: list[str], key: str) -> tuple[int, str]:
    """In place of a comment above the first heading that waits for the setting. LookupError where there is none."""
    first = next((number for number, line in enumerate(lines) if _is_heading(line)), len(lines))
    waiting = next((number for number, line in enumerate(lines[:first]) if re.match(rf"# *{re.escape(key)} *=", line)), None)
    if waiting is None:
        raise LookupError(key)
    del lines[waiting]
    return waiting, key


def _below_heading(lines: list[str], key: str) -> tuple[int, str]:
    """Below what stands under the nearest heading that holds it. LookupError where there is none."""
    places, parts = lines_of_keys("".join(lines)), key.split(".")
    for length in range(len(parts) - 1, 0, -1):
        number = places.get(".".join(parts[:length]))
        if number is not None and _is_heading(lines[number - 1]):
            break
    else:
        raise LookupError(key)
    own = [line for name, line in places.items() if line > number and name.startswith(".".join(parts[:length]) + ".")]
    following = min((line for line in places.values() if line > number and _is_heading(lines[line - 1])), default=len(lines) + 1)
    last = max((line for line in own if line < following), default=number)
    depth = 0
    for each in range(last, following):  # a list may go on over several lines
        bare = _QUOTED.sub("", lines[each - 1]).split("#")[0]
        depth += bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
        last = each
        if depth <= 0:
            break
    return last, ".".join(parts[length:])


def _by_full_name(lines: list[str], key: str) -> tuple[int, str]:
    """Above the first heading and the comment that belongs to it, below what stands there."""
    first = next((number for number, line in enumerate(lines) if _is_heading(line)), len(lines))
    while 0 < first < len(lines) and lines[first - 1].lstrip().startswith("#"):
        first -= 1
    while first and not lines[first - 1].strip():
        first -= 1
    return first, key


def _put_at(spot: Spot, body: str, key: str, value: Any, source: str) -> str:
    """The text with a line for the setting at a spot. LookupError where there is no such spot."""
    lines, end = body.splitlines(keepends=True), "\r\n" if body.count("\r\n") > body.count("\n") / 2 else "\n"
    at, name = spot(lines, key)
    if at and not lines[at - 1].endswith("\n"):
        lines[at - 1] += end
    lines.insert(at, f"{name} = {toml_value(value)}{f'  # {source}' if source else ''}{end}")
    return "".join(lines)


def _put_in(body: str, key: str, value: Any, source: str) -> str:
    """In the table where it stands, or in one of its own; what stands behind its line as a comment stays."""
    document = tomlkit.parse(body)
    *path, last = key.split(".")
    here: Any = document
    for depth, part in enumerate(path):
        here = here.setdefault(part, tomlkit.table(is_super_table=depth < len(path) - 1))
    here[last] = value
    after = tomlkit.dumps(document)
    number = line_of(after, [*path, last])
    if number is None or (line := after.splitlines()[number - 1]) in body.splitlines() or _is_heading(line):
        return after
    return _told(after, number, source, "now ")


def plain_comment(text: str) -> str:
    """Text that can stand in a comment: on one line, without control characters, which TOML forbids there."""
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())
