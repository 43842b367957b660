"""What does one controller.toml state, and on which line?"""

from __future__ import annotations

import re
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

from steadyrest.errors import Place, ProfileError
from steadyrest.toml_text import parse_toml

FILE_NAME = "controller.toml"

Table = dict[str, Any]

_SPOT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_KEY_PART = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED = rf"{_KEY_PART}(?:\s*\.\s*{_KEY_PART})*"
_HEADER = re.compile(rf"^\s*\[\[?\s*({_DOTTED})\s*\]\]?")
_KEY = re.compile(rf"^\s*({_DOTTED})\s*=")


def read_toml(file: Path) -> Table:
    """The tables of a TOML file.

    Raises ProfileError: not there, not readable, not UTF-8, or not TOML (with line and column).
    """
    place = Place(file=str(file))
    try:
        data = file.read_bytes()
        text = data.decode("utf-8-sig")
    except FileNotFoundError:
        raise ProfileError("there is no such file", place=place, cure=f"a profile is a folder with a {FILE_NAME} in it") from None
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise ProfileError("is not UTF-8 text", place=Place(file=str(file), line=line), cure="save the file as UTF-8") from None
    except OSError as error:
        raise ProfileError(f"cannot be read: {error.strerror}", place=place) from None
    try:
        return _parsed(data)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        spot = _SPOT.search(message)
        what = _SPOT.sub("", message)
        where = place
        if spot is not None and spot[1] is not None:
            where = Place(file=str(file), line=int(spot[1]), column=int(spot[2]))
        elif spot is not None:
            where = Place(file=str(file), line=text.count("\n") + 1)
        wrong, cure = _not_toml(what)
        raise ProfileError(wrong, place=where, cure=cure) from None


def _not_toml(what: str) -> tuple[str, str]:
    """What is wrong with a text that is no TOML, and the cure; a table that is stated in two ways gets one of its own."""
    twice = re.match(r"Cannot (?:declare|mutate immutable namespace) \((.*)\)", what)
    if twice is None:
        cure = 'settings are lines such as spaces = true or extension = ".nc", under headings such as [words]'
        return f"this is not TOML: {what[:1].lower()}{what[1:]}", cure
    name = ".".join(part.strip(" '") for part in twice[1].split(",") if part.strip())
    cure = (
        f"keep to one way: either lines such as {name}.KEY = ... by their full names, above all headings, or KEY = ... under one [{name}]"
    )
    return f"{name} is stated in two ways, or twice", cure


@lru_cache(maxsize=256)
def _parsed(data: bytes) -> Table:
    """Parents are read once for all of their children; nobody changes what is given out."""
    return parse_toml(data.decode("utf-8-sig"))


def lines_of_keys(text: str) -> dict[str, int]:
    """The line, from 1, of each heading and each key of a TOML text, by its dotted name.

    Good enough to point at a line: keys inside inline tables and lists over several lines are those of the line they start on.
    """
    lines: dict[str, int] = {}
    table = ""
    depth = 0
    for number, line in enumerate(text.splitlines(), 1):
        if depth == 0:
            header = _HEADER.match(line)
            key = None if header else _KEY.match(line)
            if header:
                table = _plain(header[1]) + "."
                lines.setdefault(table[:-1], number)
                continue
            if key:
                lines.setdefault(table + _plain(key[1]), number)
                line = line[key.end() :]
        bare = re.sub(r"\"(?:\\.|[^\"\\])*\"|'[^']*'|#.*", "", line)
        depth = max(0, depth + bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}"))
    return lines


def line_of(file: Path, dotted: str) -> int | None:
    """The line of a key in a file, or of the nearest table that holds it; None when it is not there."""
    try:
        lines = lines_of_keys(file.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError):
        return None
    parts = dotted.split(".")
    for length in range(len(parts), 0, -1):
        line = lines.get(".".join(parts[:length]))
        if line is not None:
            return line
    return None


def _plain(key: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in re.findall(_KEY_PART, key))
