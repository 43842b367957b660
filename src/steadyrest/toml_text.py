"""How is TOML from outside read without becoming more than its text?

The parser of the standard library goes as deep as the text does, and a whole number may have any length. So what a text may hold is
counted before it is parsed, in one pass over its tokens.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

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
    depth, parts, keys, dotted = 0, 0, 0, False
    for token in _TOKEN.finditer(text):
        said = token[0]
        sign = said[0]
        if said == ".":
            dotted = True
            continue
        if sign in " \t":
            continue
        if sign == "=":
            keys += 1
        elif sign in "[{":
            depth += 1
        elif sign in "]}":
            depth = max(0, depth - 1)
        elif said == "\n" or sign in ",#":
            pass
        else:
            parts = parts + 1 if dotted else 1
            if len(said) > LONGEST_NUMBER and (sign.isdigit() or sign in "+-"):
                return f"A number of {len(said):,} characters", token.start()
        dotted = False
        if depth > DEEPEST or parts > DEEPEST:
            return f"Lists, tables or dotted keys more than {DEEPEST} deep", token.start()
        if keys > MOST_KEYS:
            return f"More than {MOST_KEYS:,} keys", token.start()
    return "", 0
