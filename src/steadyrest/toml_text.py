"""How is TOML from outside read without becoming more than its text, and on which line does it say what?

The parser of the standard library goes as deep as the text does, and a whole number may have any length. So what a text may hold is
counted before it is parsed, in one pass over its tokens.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError, Place

DEEPEST = 32
"""Of lists and tables in each other, and of the parts of a dotted key."""
LONGEST_NUMBER = 100
"""Characters of a number: no digit after the hundredth changes anything that is cut."""
MOST_KEYS = 20_000
"""Of one file: a job of a thousand inputs has fewer."""
MOST_CHARACTERS = 4_000_000

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|#[^\n]*|[A-Za-z0-9_+-]+|[ \t]+|[\[\]{}.=,\n]', re.DOTALL
)
_SPOT = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_KEY_PART = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED = rf"{_KEY_PART}(?:\s*\.\s*{_KEY_PART})*"
_HEADING = re.compile(rf"^\s*(\[\[?)\s*({_DOTTED})\s*\]\]?")
_KEY = re.compile(rf"^\s*({_DOTTED})\s*=")


def read_toml(file: Path, error: type[InputError], *, absent: str | None, such_as: str) -> tuple[str, dict[str, Any]]:
    """The text of a TOML file, and its tables, which nobody may change: a file is often read more than once.

    error     what is raised when it is not there, not readable, not UTF-8 or not TOML, with line and column
    absent    the cure where there is no such file; None: it need not be there, and says nothing then
    such_as   what lines of such a file look like, for a cure
    """
    place = Place(file=str(file))
    try:
        if file.exists() and not file.is_file():
            raise error("this is a directory or a device, and no plain file", place=place, cure="name a file")
        data = file.read_bytes()
        text = data.decode("utf-8-sig")
    except FileNotFoundError:
        if absent is None:
            return "", {}
        raise error("there is no such file", place=place, cure=absent) from None
    except UnicodeDecodeError as broken:
        line = broken.object[: broken.start].count(b"\n") + 1
        raise error("is not UTF-8 text", place=Place(file=str(file), line=line), cure="save the file as UTF-8") from None
    except (OSError, ValueError) as broken:
        reason = getattr(broken, "strerror", None) or str(broken)
        raise error(f"cannot be read: {reason}", place=place, cure="check the name and the permissions of the file") from None
    try:
        return text, _parsed(text)
    except tomllib.TOMLDecodeError as broken:
        spot, what = _SPOT.search(str(broken)), _SPOT.sub("", str(broken))
        line, column = (int(spot[1]), int(spot[2])) if spot is not None and spot[1] else (text.count("\n") + 1, None)
        place = Place(file=str(file), line=line, column=column)
        wrong, cure = f"this is not TOML: {what[:1].lower()}{what[1:]}", f"settings are lines such as {such_as}"
        if twice := re.match(r"Cannot (?:declare|mutate immutable namespace) \((.*)\)", what):
            name = ".".join(part.strip(" '") for part in twice[1].split(",") if part.strip())
            wrong = f"{name} is stated in two ways, or twice"
            cure = f"keep to one way: either lines such as {name}.KEY = ... by their full names, above all headings, "
            cure += f"or KEY = ... under one [{name}]"
        raise error(wrong, place=place, cure=cure) from None


@lru_cache(maxsize=256)
def _parsed(text: str) -> dict[str, Any]:
    return parse_toml(text)


def parse_toml(text: str) -> dict[str, Any]:
    """The tables of a TOML text; a byte order mark before it is left out. TOMLDecodeError for what is no TOML or too much of it."""
    text = text.removeprefix("\ufeff")
    wrong, at = _too_much(text)
    if wrong:
        line, start = text.count("\n", 0, at) + 1, text.rfind("\n", 0, at) + 1
        raise tomllib.TOMLDecodeError(f"{wrong} (at line {line}, column {at - start + 1})")
    try:
        return tomllib.loads(text)
    except (RecursionError, ValueError) as error:
        if isinstance(error, tomllib.TOMLDecodeError):
            raise
        raise tomllib.TOMLDecodeError(f"{error or 'nested too deeply'} (at end of document)") from None


def _too_much(text: str) -> tuple[str, int]:
    """What is too much in a text, and where; nothing where it may be parsed."""
    if len(text) > MOST_CHARACTERS:
        return f"More than {MOST_CHARACTERS:,} characters", MOST_CHARACTERS
    depth, parts, keys, before = 0, 0, 0, ""
    for token in _TOKEN.finditer(text):
        said = token[0]
        sign = said[0]
        if sign in " \t":
            continue
        depth = max(0, depth + (sign in "[{") - (sign in "]}"))
        keys += sign == "="
        if sign not in "[]{}.=,#\n":
            parts = parts + 1 if before == "." else 1
            if len(said) > LONGEST_NUMBER and (sign.isdigit() or sign in "+-"):
                return f"A number of {len(said):,} characters", token.start()
        before = sign
        if depth > DEEPEST or parts > DEEPEST:
            return f"Lists, tables or dotted keys more than {DEEPEST} deep", token.start()
        if keys > MOST_KEYS:
            return f"More than {MOST_KEYS:,} keys", token.start()
    return "", 0


def toml_value(value: Any) -> str:
    """A value as it stands in a TOML file; what is None in a table is left out."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml_value(inner)}" for key, inner in value.items() if inner is not None) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    if isinstance(value, float) and value.is_integer():
        return f"{value:.0f}"
    return json.dumps(value, ensure_ascii=False)


def lines_of_keys(text: str) -> dict[str, int]:
    """The line, from 1, of each heading and each key of a TOML text, by its dotted name; entries of [[lists]] count from 0.

    Good enough to point at a line: keys inside inline tables and lists over several lines are those of the line they start on.
    """
    lines: dict[str, int] = {}
    entries: dict[str, int] = {}
    table, depth = "", 0
    for number, line in enumerate(text.splitlines(), 1):
        if depth == 0:
            heading = _HEADING.match(line)
            key = None if heading else _KEY.match(line)
            if heading:
                *around, last = _parts(heading[2])
                table = ""
                for part in around:
                    table += f"{part}."
                    table += f"{entries[table]}." if table in entries else ""
                table += f"{last}."
                lines.setdefault(table[:-1], number)
                if heading[1] == "[[":
                    entries[table] = entries.get(table, -1) + 1
                    table += f"{entries[table]}."
                    lines[table[:-1]] = number
                continue
            if key:
                lines.setdefault(table + ".".join(_parts(key[1])), number)
                line = line[key.end() :]
        bare = re.sub(r"\"(?:\\.|[^\"\\])*\"|'[^']*'|#.*", "", line)
        depth = max(0, depth + bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}"))
    return lines


def line_of(text: str, keys: Sequence[int | str]) -> int | None:
    """The line of a key in a TOML text, or of the nearest table that holds it; None when it is not there."""
    lines = lines_of_keys(text)
    heads = (".".join(map(str, keys[:length])) for length in range(len(keys), 0, -1))
    return next((lines[head] for head in heads if head in lines), None)


def _parts(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in re.findall(_KEY_PART, dotted)]
