"""A program's lines as words and comments, so that a fault can be planted in one word whatever the dialect spells."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from steadyrest.profile import Profile

_TOKEN = re.compile(r"\([^)]*\)|;.*|[A-Z][+-]?[0-9]*\.?[0-9]+\.?|[A-Z][+-]?[0-9]+\.|.", re.DOTALL)
_WORD = re.compile(r"([A-Z])([+-]?[0-9]*\.?[0-9]*)$")


@dataclass(frozen=True)
class Text:
    """A program, line by line; each line a tuple of tokens: words, comments, and what stands between."""

    lines: tuple[tuple[str, ...], ...]
    profile: Profile
    ending: str

    @classmethod
    def of(cls, text: str, profile: Profile) -> Text:
        ending = "\r\n" if "\r\n" in text else "\n"
        return cls(tuple(tuple(_TOKEN.findall(line)) for line in text.split(ending)), profile, ending)

    def __str__(self) -> str:
        return self.ending.join("".join(line) for line in self.lines)

    def words(self, at: int) -> dict[str, str]:
        """Letter to number of a line's words; of letters that stand more than once, the last."""
        found = (_WORD.match(token) for token in self.lines[at])
        return {match.group(1): match.group(2) for match in found if match}

    def codes(self, at: int) -> set[str]:
        """The G and M codes of a line as the profile would spell them without leading zeros."""
        found = (_WORD.match(token) for token in self.lines[at])
        return {plain(match.group(0)) for match in found if match and match.group(1) in "GMT"}

    def with_line(self, at: int, tokens: tuple[str, ...]) -> Text:
        return replace(self, lines=(*self.lines[:at], tokens, *self.lines[at + 1 :]))

    def without(self, first: int, stop: int | None = None) -> Text:
        stop = first + 1 if stop is None else stop
        return replace(self, lines=(*self.lines[:first], *self.lines[stop:]))

    def with_inserted(self, at: int, *lines: str) -> Text:
        new = tuple(tuple(_TOKEN.findall(line)) for line in lines)
        return replace(self, lines=(*self.lines[:at], *new, *self.lines[at:]))

    def moved(self, first: int, stop: int, to: int) -> Text:
        part = self.lines[first:stop]
        rest = (*self.lines[:first], *self.lines[stop:])
        to = to - (stop - first) if to > first else to
        return replace(self, lines=(*rest[:to], *part, *rest[to:]))

    def number(self, at: int, letter: str, value: str) -> Text:
        """With another number in a word."""
        return self.with_line(at, tuple(letter + value if _letter(token) == letter else token for token in self.lines[at]))

    def letter(self, at: int, old: dict[str, str]) -> Text:
        """With other letters for words."""
        return self.with_line(at, tuple(old[_letter(token)] + token[1:] if _letter(token) in old else token for token in self.lines[at]))

    def lacking(self, at: int, *letters: str) -> Text:
        """Without the words of those letters."""
        return self.with_line(at, tuple(token for token in self.lines[at] if _letter(token) not in letters))

    def code(self, at: int, old: str, new: str) -> Text:
        """With another code; an empty one takes it out."""
        return self.with_line(at, tuple(new if _letter(token) and plain(token) == plain(old) else token for token in self.lines[at]))

    def having_code(self, *codes: str) -> list[int]:
        """Lines with one of the codes."""
        wanted = {plain(code) for code in codes if code}
        return [at for at in range(len(self.lines)) if self.codes(at) & wanted]


def _letter(token: str) -> str:
    return token[0] if _WORD.match(token) else ""


def plain(code: str) -> str:
    """G01 and G1 are one code."""
    match = re.match(r"([A-Z])0*(\d+(?:\.\d)?)$", code)
    return match.group(1) + match.group(2) if match else code
