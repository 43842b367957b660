"""The words of a program whose dialect nobody has described yet. Nothing is taken for wrong; what cannot be read is kept apart."""

from __future__ import annotations

from dataclasses import dataclass, replace

from steadyrest.errors import Place, ProgramError
from steadyrest.reading import Word, lex_line

MOST_BYTES = 50_000_000
MOST_NUMBER_DIGITS = 9
"""Of the numbers of programs and blocks."""


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
    bare = text.strip().lstrip("/")
    words, commented, strange = lex_line(bare)
    style = "" if not commented else "semicolon" if commented[0].startswith(";") else "parentheses"
    line = Line(
        number, text, comments=tuple(one[1:].removesuffix(")" * (one[0] == "(")) for one in commented), style=style, strange=strange
    )
    first = words[0] if words and words[0].spelled.isdigit() and len(words[0].spelled) <= MOST_NUMBER_DIGITS else None
    if first is not None and first.letter in "O:" and len(words) == 1 and not strange:
        return replace(line, program_number=(first.letter, first.spelled))
    spaces = {bare[word.column - 2] in " \t)" for word in words[1:]}
    if first is not None and first.letter == "N":
        line, words = replace(line, block_number=first.spelled), words[1:]
    if strange:  # a parameter, an expression: its words mean something else
        return line
    return replace(line, words=words, spaced=spaces.pop() if len(spaces) == 1 else None)
