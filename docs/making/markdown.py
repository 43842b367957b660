"""How is text from the models set as Markdown?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_CODE = re.compile(r"(`[^`]+`)")
_SIGNS = re.compile(r"([\\*<>\[\]#{}$])")


def text(said: str) -> str:
    """A sentence as it is: what is between backquotes stays code, nothing else is markup."""
    parts = _CODE.split(" ".join(said.split()))
    return "".join(part if part.startswith("`") and len(part) > 1 else _SIGNS.sub(r"\\\1", part) for part in parts)


def code(said: str) -> str:
    """Text as code, in a table too."""
    fence = "``" if "`" in said else "`"
    return f"{fence}{said}{fence}" if said else "(empty)"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table; cells are Markdown. Empty where there are no rows."""
    lines = [f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in row)} |" for row in rows]
    return "\n".join([f"| {' | '.join(head)} |", "|" + " --- |" * len(head), *lines]) if lines else ""


def block(said: str, language: str = "text") -> str:
    """Lines as they are."""
    return f"```{language}\n{said.rstrip(chr(10))}\n```"


def page(title: str, *parts: str) -> str:
    """A page of paragraphs, lists, tables; empty parts are left out."""
    return "\n\n".join([f"# {title}", *(part for part in parts if part)]) + "\n"


def target(name: str) -> str:
    """The line before a heading that gives it a name to link to: [...](#name)."""
    return f"({name})="


def toctree(names: Iterable[str], caption: str = "") -> str:
    """The pages below this one, hidden: the side bar shows them."""
    options = [":hidden:", ":maxdepth: 1", *([f":caption: {caption}"] if caption else [])]
    return "```{toctree}\n" + "\n".join([*options, "", *names]) + "\n```"
