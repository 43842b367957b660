"""What stands in one line of a program: words with their numbers, comments and parameter settings."""

from __future__ import annotations

import re
from dataclasses import dataclass

_WORD = r"[ \t]*+([A-Za-z:])[ \t]*+([+-]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++))"
_COMMENT = {
    "parentheses": r"(?:\(([\t -'*-~]*)\))?[ \t]*+",
    "semicolon": r"(?:;([\t -~]*))?",
    "none": "((?!))?",
    "any": r"(?:[(;]((?<=;).*|(?<=\()[^()]*(?=\)[ \t]*$))\)?[ \t]*+)?",
}
_PLAIN = {style: re.compile(rf"((?:{_WORD})*+)[ \t]*+{comment}") for style, comment in _COMMENT.items()}
_ONE_WORD = re.compile(_WORD)
_ANY_COMMENT = re.compile(r"\([^)]*\)|;.*")
MOST_DIGITS = 17  # NISTIR 6556, 3.3.2.1: about so many are kept


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and a number.

    point    the number has a decimal point or is an expression: it is in units even where others are whole counts
    text     as spelled, for messages
    column   from 1, in the line as it stands in the file
    """

    letter: str
    value: float
    point: bool
    text: str
    column: int

    @property
    def spelled(self) -> str:
        """The number as it stands there."""
        return self.text[1:]

    @property
    def code(self) -> str:
        """The word in the spelling in which codes are compared: G01 and G1 are both G1."""
        return f"{self.letter}{self.value:g}"

    @property
    def decimals(self) -> int:
        """Digits behind the point."""
        return len(self.text.partition(".")[2])


@dataclass(frozen=True, slots=True)
class Block:
    """One line of a program, its parameter settings already carried out."""

    line: int
    words: tuple[Word, ...] = ()
    comments: tuple[str, ...] = ()
    skip: bool = False
    settings: bool = False


def lex_line(text: str) -> tuple[tuple[Word, ...], tuple[str, ...], str]:
    """The words of a line in a dialect that nobody has described, its comments with what begins and ends them, and all that is neither.

    Nothing is taken for wrong, and no parameter or expression evaluated: where one stands, part of it is among what is neither.
    """
    bare = _ANY_COMMENT.sub(lambda comment: " " * len(comment[0]), text)
    return _words(bare, len(bare)), tuple(_ANY_COMMENT.findall(text)), _ONE_WORD.sub("", bare).strip()


def _words(text: str, end: int) -> tuple[Word, ...]:
    return tuple(
        Word(letter := match[1].upper(), float(match[2]), "." in match[2], letter + match[2], match.start(1) + 1)
        for match in _ONE_WORD.finditer(text, 0, end)
    )


def plain_block(text: str, line: int, comment_style: str) -> Block | None:
    """The block of a line that is nothing but words, then perhaps a comment, as most are; None: it is for the grammar to say."""
    plain = _PLAIN[comment_style].fullmatch(text)
    words = _words(text, plain.end(1)) if plain is not None else ()
    if plain is None or any(len(word.text) > MOST_DIGITS for word in words):
        return None
    comment = plain[plain.re.groups]
    return Block(line, words, () if comment is None else (comment,))
