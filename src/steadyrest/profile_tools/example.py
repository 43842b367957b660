"""A program whose dialect nobody has described yet: its lines, what moves in them as far as that can be followed, and what a line shows.

Nothing is taken for wrong. The reader of programs cannot go through it: which code, point and centre means what is just what is asked here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from steadyrest.errors import Place, ProgramError
from steadyrest.reading import Word, lex_line

MOST_BYTES = 50_000_000
MOST_NUMBER_DIGITS = 9
"""Of the numbers of programs and blocks."""

CYCLES = ("G73", "G74", "G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89")
MOTIONS = {"G0": "rapid", "G1": "line", "G2": "arc", "G3": "arc", **dict.fromkeys(CYCLES, "cycle"), "G80": ""}
PLANES = {"G17": "XY", "G18": "XZ", "G19": "YZ"}
CLEAR = ("G28", "G30", "G53")
LOST = (*CLEAR, "G92", "G10", "G43", "G49", "M6")
"""After these a position is no longer what the program said last."""
AXES = "XYZABC"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a program.

    text            as it stands in the file, without its ending
    words           without the block number; none where it holds what is neither word nor comment
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

    def codes(self, *among: str) -> list[str]:
        """Its G and M words, or those of them that are meant, in the spelling in which they are compared."""
        return [word.code for word in self.words if word.letter in "GM" and (not among or word.code in among)]

    def has(self, *codes: str) -> bool:
        """Whether any of these codes stands in it."""
        return bool(self.codes(*codes))

    def get(self, letter: str) -> Word | None:
        """The word with that letter."""
        return next((word for word in self.words if word.letter == letter), None)

    def spelled(self, code: str) -> str:
        """A code that stands in it, as it is spelled there."""
        return next(word.text for word in self.words if word.code == code)


@dataclass(frozen=True, slots=True)
class Move:
    """A block that moves.

    kind      "rapid", "line", "arc", "cycle", or "clear": to machine coordinates or the reference point
    stated    the motion code stands in the block
    before    where the axes stand before it, by letter; those not known are left out
    after     the same after it
    plane     "XY", "XZ", "YZ"
    inverse   F is in inverse time
    """

    line: Line
    kind: str
    code: str
    stated: bool
    before: dict[str, float]
    after: dict[str, float]
    plane: str
    inverse: bool
    incremental: bool

    def moves(self, letter: str) -> bool:
        """Whether an axis is known to move."""
        return letter in self.before and self.before[letter] != self.after[letter]

    def stays(self, letter: str) -> bool:
        """Whether an axis is known to stay where it is."""
        return letter in self.before and self.before[letter] == self.after[letter]


@dataclass(frozen=True, slots=True)
class Claim:
    """A setting that an example shows.

    line     the number of the line that shows it, 0 where the whole file does
    text     that line
    why      in what way it shows it
    sure     the example leaves no other reading; else it is only likely, and has to be asked before it is used
    """

    key: str
    value: Any
    line: int
    text: str
    why: str
    sure: bool = True


def at(line: Line | None, key: str, value: Any, why: str, *, sure: bool = True) -> Claim:
    """A claim that one line shows; None: the whole file does."""
    return Claim(key, value, line.number if line else 0, line.text.strip() if line else "", why, sure)


@dataclass(frozen=True, slots=True)
class Example:
    """A program.

    endings   how many lines end with LF, and with CR LF
    blocks    the lines with words
    moves     the blocks that move, in the order of the program; in steps, places count from wherever the program begins
    """

    name: str
    lines: tuple[Line, ...]
    endings: tuple[int, int]
    blocks: tuple[Line, ...]
    moves: tuple[Move, ...]

    def all(self, *codes: str) -> Iterator[Line]:
        """Every block with any of these codes."""
        return (line for line in self.blocks if line.has(*codes))

    def first(self, *codes: str) -> Line | None:
        """The first block with any of these codes."""
        return next(self.all(*codes), None)

    @property
    def inch(self) -> bool | None:
        """Whether it is in inches; None where it does not say."""
        inch, mm = self.first("G20", "G70") is not None, self.first("G21", "G71") is not None
        return inch if inch != mm else None


def read_example(data: bytes, name: str) -> Example:
    """A program as an example; `name` is that of its file. ProgramError where it is empty, too long, no text, or holds no block."""
    place = Place(file=name)
    if len(data) > MOST_BYTES:
        raise ProgramError("the program is too long for an example", place=place, cure="give a program of some hundred or thousand lines")
    try:
        text = data.decode("ascii")
    except UnicodeDecodeError as error:
        place = Place(file=name, line=data[: error.start].count(b"\n") + 1)
        raise ProgramError(
            f"the program contains the byte {data[error.start]}, which is not plain ASCII text", place=place, cure="take it out"
        ) from None
    crlf = text.count("\r\n")
    rows = text.replace("\r\n", "\n").split("\n")
    lines = tuple(_line(number, row.rstrip("\r")) for number, row in enumerate(rows, 1) if row.strip())
    blocks = tuple(line for line in lines if line.words)
    if not any(line.codes() for line in blocks):
        raise ProgramError("the program has no block with a G or M word", place=place, cure="give a program that runs on the controller")
    return Example(name, lines, (text.count("\n") - crlf, crlf), blocks, tuple(_moves(blocks)))


def _line(number: int, text: str) -> Line:
    bare = text.strip().lstrip("/")
    words, commented, strange = lex_line(bare)
    style = "" if not commented else "semicolon" if commented[0].startswith(";") else "parentheses"
    comments = tuple(one[1:].removesuffix(")" * (one[0] == "(")) for one in commented)
    line = Line(number, text, comments=comments, style=style, strange=strange)
    first = words[0] if words and words[0].spelled.isdigit() and len(words[0].spelled) <= MOST_NUMBER_DIGITS else None
    if first is not None and first.letter in "O:" and len(words) == 1 and not strange:
        return replace(line, program_number=(first.letter, first.spelled))
    spaces = {bare[word.column - 2] in " \t)" for word in words[1:]}
    if first is not None and first.letter == "N":
        line, words = replace(line, block_number=first.spelled), words[1:]
    if strange:  # a parameter, an expression: its words mean something else
        return line
    return replace(line, words=words, spaced=spaces.pop() if len(spaces) == 1 else None)


def _moves(blocks: tuple[Line, ...]) -> Iterator[Move]:
    places: dict[str, float] = {}
    motion, plane, feed, distance = "G80", "G17", "G94", "G90"
    for line in blocks:
        motion, plane, feed, distance = (
            (line.codes(*group) or [held])[-1]
            for held, group in ((motion, MOTIONS), (plane, PLANES), (feed, ("G93", "G94")), (distance, ("G90", "G91")))
        )
        axes = {word.letter: word.value for word in line.words if word.letter in AXES}
        clears, kind = line.has(*CLEAR), MOTIONS[motion]
        if axes and (kind or clears) and not line.has("G4", "G10", "G92"):
            before = dict(places)
            for letter, value in axes.items():
                places[letter] = places.get(letter, 0.0) + value if distance == "G91" else value
            kind = "clear" if clears else kind
            if kind == "cycle":
                places.pop("Z", None)
            yield Move(line, kind, motion, line.has(*MOTIONS), before, dict(places), PLANES[plane], feed == "G93", distance == "G91")
        if clears:
            for letter in axes:
                places.pop(letter, None)
        elif line.has(*LOST):
            places.clear()
