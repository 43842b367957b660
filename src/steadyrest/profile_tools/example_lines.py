"""The words of a program whose dialect nobody has described yet. Nothing is taken for wrong; what cannot be read is kept apart."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

from steadyrest.errors import Place, ProgramError

MOST_BYTES = 50_000_000

_WORD = re.compile(r"([A-Za-z])[ \t]*([+-]?(?:\d+\.?\d*|\.\d+))")
_COMMENT = re.compile(r"\([^)]*\)")
_NUMBERED = re.compile(r"^/?[ \t]*N[ \t]*(\d{1,9})(?![\d.])", re.IGNORECASE)
_PROGRAM_NUMBER = re.compile(r"^([O:])[ \t]*(\d{1,9})$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Word:
    """A letter, its number, and the number as it is spelled."""

    letter: str
    value: float
    spelled: str

    @property
    def code(self) -> str:
        """The word in the spelling in which codes are compared: G01 and G1 are both G1."""
        return f"{self.letter}{self.value:g}"

    @property
    def text(self) -> str:
        """The word as it stands there, without blanks."""
        return self.letter + self.spelled

    @property
    def decimals(self) -> int:
        """Digits behind the point."""
        return len(self.spelled.partition(".")[2])

    @property
    def point(self) -> bool:
        """Whether there is a decimal point."""
        return "." in self.spelled


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a program.

    number          of the line in the file, from 1
    text            as it stands there, without its ending
    words           without the block number
    block_number    as spelled; empty where there is none
    program_number  the letter or colon and the digits of a line that is a program number
    comments        texts, in the style of `style`: "parentheses", "semicolon", or "" where there is none
    spaced          words have blanks between them; None where that does not show
    strange         what is neither word nor comment
    """

    number: int
    text: str
    words: tuple[Word, ...] = ()
    block_number: str = ""
    program_number: tuple[str, str] | None = None
    comments: tuple[str, ...] = ()
    style: str = ""
    spaced: bool | None = None
    strange: str = ""

    @property
    def is_block(self) -> bool:
        """Whether the controller does something with it."""
        return bool(self.words)

    def codes(self) -> list[str]:
        """The G and M words, in the spelling in which they are compared."""
        return [word.code for word in self.words if word.letter in "GM"]

    def has(self, *codes: str) -> bool:
        """Whether any of these codes stands in it."""
        return any(code in codes for code in self.codes())

    def get(self, letter: str) -> Word | None:
        """The word with that letter."""
        return next((word for word in self.words if word.letter == letter), None)


@dataclass(frozen=True, slots=True)
class Example:
    """A program read line by line; `endings` counts LF and CR LF."""

    name: str
    lines: tuple[Line, ...]
    endings: tuple[int, int]

    @property
    def blocks(self) -> tuple[Line, ...]:
        """The lines with words."""
        return tuple(line for line in self.lines if line.is_block)


def read_example(data: bytes, name: str) -> Example:
    """The lines of a program.

    name     of its file
    raises   ProgramError where it is empty, too long, no text, or holds no block
    """
    place = Place(file=name)
    if len(data) > MOST_BYTES:
        raise ProgramError("is too long for an example", place=place, cure="give a program of some hundred or thousand lines")
    try:
        text = data.decode("ascii")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        place = Place(file=name, line=line)
        raise ProgramError(f"holds the byte {data[error.start]}, which is no plain ASCII text", place=place, cure="take it out") from None
    crlf = text.count("\r\n")
    rows = text.replace("\r\n", "\n").split("\n")
    lines = tuple(_line(number, row.rstrip("\r")) for number, row in enumerate(rows, 1) if row.strip())
    example = Example(name, lines, (text.count("\n") - crlf, crlf))
    if not any(line.codes() for line in example.blocks):
        raise ProgramError("holds no block with a G or M word", place=place, cure="give a program that runs on the controller")
    return example


def _line(number: int, text: str) -> Line:
    bare, comments, style = _without_comments(text)
    bare = bare.strip()
    numbered = _NUMBERED.match(bare)
    block_number = numbered[1] if numbered else ""
    rest = bare[numbered.end() :] if numbered else bare.lstrip("/")
    named = _PROGRAM_NUMBER.match(bare)
    if named:
        return Line(number, text, comments=comments, style=style, program_number=(named[1].upper(), named[2]))
    words = tuple(Word(letter.upper(), float(spelled), spelled) for letter, spelled in _WORD.findall(rest))
    strange = _WORD.sub("", rest).strip()
    if strange:  # a parameter, an expression: its words mean something else
        return Line(number, text, block_number=block_number, comments=comments, style=style, strange=strange)
    spots = [match.span() for match in _WORD.finditer(bare)]
    gaps = [bare[end:start] for (_, end), (start, _) in pairwise(spots)]
    spaced = None if not gaps or len({bool(gap) for gap in gaps}) > 1 else bool(gaps[0])
    return Line(number, text, words, block_number, None, comments, style, spaced)


def _without_comments(text: str) -> tuple[str, tuple[str, ...], str]:
    comments = [match[0][1:-1] for match in _COMMENT.finditer(text)]
    style = "parentheses" if comments else ""
    bare = _COMMENT.sub(" ", text) if comments else text
    code, semicolon, after = bare.partition(";")
    if semicolon:
        comments.append(after)
        style = style or "semicolon"
    return code, tuple(comments), style
