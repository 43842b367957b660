"""How text from outside becomes a comment that can never be read as code."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from steadyrest.profile.format import Program

_OPENS_MESSAGE = re.compile(r"m\s*s\s*g\s*,", re.IGNORECASE)
"""What makes a comment a message to the operator, NISTIR 6556 section 3.3.4: `MSG,` in any case, spaces between or not."""


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A text as the controller takes it, and whether anything but spaces at its ends was lost."""

    text: str
    changed: bool


def clean(text: str, program: Program) -> Cleaned:
    """Text in the characters that a controller takes in a comment, on one line, without any mark that could end it.

    Accents are dropped where the bare letter is allowed, a letter allowed only in its other case takes that one, every other
    character becomes a space, and runs of spaces become one. Parentheses never survive, whatever the profile allows.
    """
    comments = program.comments
    allowed = {c for c in comments.characters if " " <= c <= "~"} - set("()")
    wanted = text.upper() if comments.upper_case else text
    plain = "".join(c for c in unicodedata.normalize("NFKD", wanted) if not unicodedata.combining(c))
    kept = " ".join("".join(_allowed(c, allowed) for c in plain).split())
    return Cleaned(kept, kept.casefold() != re.sub(" +", " ", text).strip(" ").casefold())


def defused(text: str) -> str:
    """A cleaned text that no controller takes for a message to the operator: the comma after an opening MSG is left out."""
    while _OPENS_MESSAGE.match(text):
        text = text.replace(",", "", 1)
    return text


def fit(text: str, program: Program, *, message: bool = False) -> str:
    """As much of a defused text as fits into one comment on a line of its own; a message to the operator only where asked for."""
    if message and text and program.comments.style == "parentheses":
        text = "MSG, " + text
    return text[: min(program.comments.longest, program.longest_line - 2)].rstrip()


def marked(text: str, program: Program) -> str:
    """A fitted text in the profile's style of comment; empty where there is no text or no style for it."""
    if not text or program.comments.style == "none":
        return ""
    return f"({text})" if program.comments.style == "parentheses" else f";{text}"


def _allowed(character: str, allowed: set[str]) -> str:
    for same in (character, character.upper(), character.lower()):
        if same in allowed:
            return same
    return " "
