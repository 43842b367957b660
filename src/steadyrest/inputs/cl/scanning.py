"""Where does each statement of CL data begin and end, and which lines are plain points that numpy can read at once?

A run of lines `GOTO/x,y,z` or `GOTO/x,y,z,i,j,k` is taken by one regular expression, checked to hold nothing but digits, signs,
points, exponents and commas, as many on each line as there have to be, and turned into numbers in one go. Everything that this
route does not take goes statement by statement through the grammar, which gives the same numbers (tests/property) or an error.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.statement import Source, Statement, parse
from steadyrest.inputs.cl.vocabulary import unknown_word
from steadyrest.toolpath import BEYOND

SHORT_BYTES = 500  # below this, numpy's start costs more than the numbers
RUN_LINES = 20_000  # some 1.5 MB of text at a time stay near the processor
LITERAL_WORDS = ("PARTNO", "PPRINT", "INSERT", "LETTER")
"""Statements whose text runs to the end of the line, in which `$` and blanks mean themselves."""

_POINTS = re.compile(rb"(?:[ \t]*GOTO[ \t]*/[-+.,0-9DE \t]+\r?\n){1,%d}" % RUN_LINES, re.IGNORECASE)
_FORTRAN = bytes.maketrans(b"dD", b"EE")
"""Exponents may be written with D, as FORTRAN does: 1.5D+02."""
_CONTINUED = re.compile(r"(?<!\$)\$(?!\$)")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:E[+-]?[0-9]+)?")
_PLAIN = bytes(range(32, 127)) + b"\t\r\n\f"
_CARD_TEXT = 72  # columns 73 to 80 of a card are its identification

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Points:
    """Consecutive GOTO statements, one a line: values (n, 3) or (n, 6), as written; `first_line` is the line of the first."""

    first_line: int
    values: Floats


@dataclass(frozen=True, slots=True)
class Scan:
    """A CL file cut into statements.

    data           the file's bytes, line ends as they stand
    file           its name, for messages
    literals       further words, of a mapping file, whose text runs to the end of the line
    unread         words of a mapping file whose arguments are not looked at
    words          all words of a mapping file
    """

    data: bytes
    file: str | None
    literals: frozenset[str] = frozenset()
    unread: frozenset[str] = frozenset()
    words: frozenset[str] = frozenset()

    def __iter__(self) -> Iterator[Points | Statement]:
        data, at, line = self.data, 0, 1
        literal, unread = _word_pattern(frozenset(LITERAL_WORDS) | self.literals), _word_pattern(self.unread)
        while at < len(data):
            found = _POINTS.match(data, at)
            if found is not None:
                text = found[0]
                runs = read_points(text, line)
                if runs is not None:
                    yield from runs
                    line, at = line + text.count(b"\n"), found.end()
                    continue
                stop = found.end()
            else:
                stop = at + 1
            while at < stop:  # one statement, or the whole run where numpy did not take it
                at, line, statement = self._statement(at, line, literal, unread)
                if statement is not None:
                    yield statement

    def _statement(self, at: int, line: int, literal: re.Pattern[str], unread: re.Pattern[str]) -> tuple[int, int, Statement | None]:
        """The next statement, None for an empty line, and where the one after it begins."""
        text, after = self._line(at)
        if (words := literal.match(text)) is not None:
            source = Source(text.strip(), "", tuple((line, column) for column in range(1, len(text) + 2)), self.file)
            return after, line + 1, Statement(words[1].upper(), (), source, text=words[2].strip())
        skipped = unread.match(text)
        first, shown = line, [text.strip()]
        bare: list[str] = []
        spots: list[tuple[int, int]] = []
        while True:
            if skipped is not None:
                continued = _CONTINUED.search(text) is not None
            else:
                kept, continued = self._bare(text, line, spots)
                bare.append(kept)
            spots.append((line, len(text) + 1))
            at, line = after, line + 1
            if not continued:
                break
            if at >= len(self.data):
                raise ToolpathError(
                    f"the file ends in the middle of a statement, after {shown[-1]!r}",
                    place=Place(file=self.file, line=line - 1),
                    cure="the file was cut off: write it again",
                )
            spots.pop()
            text, after = self._line(at)
            shown.append(text.strip())
        if skipped is not None:
            source = Source(" ".join(shown), "", ((first, 1),), self.file)
            return at, line, Statement(skipped[1].upper(), (), source)
        whole = "".join(bare)
        if not whole:
            return at, line, None
        source = Source(" ".join(shown), whole, tuple(spots), self.file)
        word = re.match(r"[A-Z][A-Z0-9_]*(?![A-Z0-9_=)])", whole)
        if word is not None and (error := unknown_word(word[0], self.words)):
            raise source.error(*error)
        statement = parse(source)
        if error := unknown_word(statement.word, self.words):  # behind a label
            raise statement.error(*error)
        return at, line, statement

    def _line(self, at: int) -> tuple[str, int]:
        """The line that begins at a byte, without its end, and where the next begins."""
        end = self.data.find(b"\n", at)
        end = end if end >= 0 else len(self.data)
        return self.data[at:end].rstrip(b"\r").decode("utf-8"), end + 1

    def _bare(self, text: str, line: int, spots: list[tuple[int, int]]) -> tuple[str, bool]:
        """One line without blanks and comment, in capitals, and whether the statement goes on in the next."""
        kept: list[str] = []
        quoted = False
        for index, sign in enumerate(text):
            if sign == "'":
                quoted = not quoted
            elif not quoted:
                if sign == "$":
                    return "".join(kept), not text.startswith("$$", index)
                if sign in " \t\f":
                    continue
                if not " " < sign <= "~":
                    word = re.match(r"[ \t]*([A-Za-z][A-Za-z0-9_]*)", text)
                    if word is not None and (error := unknown_word(word[1].upper(), self.words)):
                        raise Source(text.strip(), word[1], ((line, word.start(1) + 1),), self.file).error(*error)
                    raise ToolpathError(
                        f"the character {sign!a} has no meaning in a statement, in {text.strip()!r}",
                        place=Place(file=self.file, line=line, column=index + 1),
                        cure="plain ASCII only, outside PARTNO, PPRINT, INSERT and comments after $$",
                    )
            kept.append(sign if quoted or sign == "'" else sign.upper())
            spots.append((line, index + 1))
        return "".join(kept), False


@lru_cache(maxsize=64)
def _word_pattern(words: frozenset[str]) -> re.Pattern[str]:
    """A line that begins with one of these words: the word, and the text after it and its slash."""
    listed = "|".join(sorted(words)) or "(?!)"
    return re.compile(rf"[ \t]*({listed})(?![A-Za-z0-9_=)])[ \t]*/?(.*)", re.IGNORECASE | re.DOTALL)


def read_points(text: bytes, first_line: int) -> list[Points] | None:
    """The numbers of a run of plain GOTO lines, in runs of three or six; None where this is work for the grammar.

    text    lines that `_POINTS` matches, each with its line end
    """
    packed = text.translate(_FORTRAN, b" \t\r").upper()
    if len(packed) < SHORT_BYTES:
        return _few_points(packed, first_line)
    signs = np.frombuffer(packed, dtype=np.uint8)
    ends = np.flatnonzero(signs == 10)
    commas = np.diff(np.searchsorted(np.flatnonzero(signs == 44), ends), prepend=0)
    counts = commas + 1
    if not ((counts == 3) | (counts == 6)).all():
        return None
    numbers = packed[5:-1].replace(b"\nGOTO/", b",").decode("ascii")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # numpy warns where it stops before the end
            values = np.fromstring(numbers, dtype=np.float64, sep=",")
    except (DeprecationWarning, ValueError):
        return None
    if len(values) != int(counts.sum()) or not (np.abs(values) < BEYOND).all():
        return None
    turns = np.flatnonzero(np.diff(counts)) + 1
    starts = np.concatenate([[0], turns])
    stops = np.concatenate([turns, [len(counts)]])
    offsets = np.concatenate([[0], np.cumsum(counts)])
    return [
        Points(first_line + int(start), values[offsets[start] : offsets[stop]].reshape(stop - start, int(counts[start])))
        for start, stop in zip(starts.tolist(), stops.tolist(), strict=True)
    ]


def _few_points(packed: bytes, first_line: int) -> list[Points] | None:
    """The same for a few lines, for which numpy is not worth its start. The number is that of the grammar."""
    found: list[Points] = []
    for at, line in enumerate(packed.decode("ascii").split("\n")[:-1]):
        words = line[5:].split(",")
        if len(words) not in (3, 6) or not all(map(_NUMBER.fullmatch, words)):
            return None
        values = [float(word) for word in words]
        if not all(abs(value) < BEYOND for value in values):
            return None
        found.append(Points(first_line + at, np.array([values])))
    return found


def checked_text(data: bytes, file: str | None, *, cards: bool = False) -> bytes:
    """The bytes of a CL file, fit to be cut into statements: UTF-8 without control characters.

    cards     columns 73 to 80 are identification and are left out
    raises    ToolpathError for a file that is empty, binary, or in another encoding
    """
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    if b"\r" in data and b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    if not data.strip():
        raise ToolpathError("the file is empty", place=Place(file=file), cure="write the CL data again")
    odd = data.translate(None, _PLAIN)
    if odd:
        _check_odd(data, odd, file)
    if cards:
        cut = (line.decode("utf-8")[:_CARD_TEXT].rstrip() for line in data.split(b"\n"))
        data = "\n".join(cut).encode("utf-8")
    return data


def _check_odd(data: bytes, odd: bytes, file: str | None) -> None:
    """ToolpathError for control characters, or bytes that are no UTF-8."""

    def spot(at: int) -> Place:
        start = data.rfind(b"\n", 0, at) + 1
        return Place(file=file, line=data.count(b"\n", 0, at) + 1, column=at - start + 1)

    control = next((byte for byte in odd if byte < 128), None)
    if control is not None:
        raise ToolpathError(
            f"the control character {control:#04x}: this is not CL data in text form, but a binary file or one in UTF-16",
            place=spot(data.find(control)),
            cure="write the CL data as text, in UTF-8",
        )
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ToolpathError(
            f"the byte {data[error.start]:#04x} is not UTF-8",
            place=spot(error.start),
            cure="save the file as UTF-8, or take the character out",
        ) from None
