"""A CL file cut into statements, and into lines of plain points that numpy reads at once.

A run of lines `GOTO/x,y,z` or `GOTO/x,y,z,i,j,k` is taken by one regular expression, checked to hold nothing but digits, signs,
points, exponents and commas, as many on each line as there have to be, and turned into numbers in one go. Everything that this
route does not take goes statement by statement, which gives the same numbers (tests/property) or an error.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from steadyrest.columns import Floats
from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.statement import LITERAL_WORDS, Statement, parse, unknown_word
from steadyrest.toolpath import BEYOND

SHORT_BYTES = 150  # below this, numpy's start costs more than the numbers
RUN_LINES = 20_000  # some 1.5 MB of text at a time stay near the processor

_POINTS = re.compile(rb"(?:[ \t]*GOTO[ \t]*/[-+.,0-9DE \t]+\r?\n){1,%d}" % RUN_LINES, re.IGNORECASE)
_FORTRAN = bytes.maketrans(b"dD", b"EE")
"""Exponents may be written with D, as FORTRAN does: 1.5D+02."""
_CONTINUED = re.compile(r"(?<!\$)\$(?!\$)")
_PIECES = re.compile(r"'[^']*'?|\$.*|[^'$]+", re.DOTALL)
"""Of a line: a literal, what comes after a dollar, or what stands between."""
_BLANKS = " \t\f"
_ODD = re.compile(r"[^!-~ \t\f]")
_PLAIN = bytes(range(32, 127)) + b"\t\r\n\f"
_CARD_TEXT = 72  # columns 73 to 80 of a card are its identification


@dataclass(frozen=True, slots=True)
class Points:
    """Consecutive GOTO statements, one a line: values (n, 3) or (n, 6), as written; `line` is that of the first."""

    line: int
    values: Floats


class Scan:
    """A CL file cut into statements.

    data        the file's bytes, as `checked_text` gives them
    file        its name, for messages
    meanings    of the words of a mapping file: `note` (their text runs to the end of the line), `ignore` (their arguments are not
                looked at), or a statement
    """

    def __init__(self, data: bytes, file: str | None, meanings: Mapping[str, str] | None = None) -> None:
        self.data, self.file, self.words = data, file, meanings or {}
        self.at = 0
        """Where the statement begins that was given last."""
        self._literal = _beginning_with([*LITERAL_WORDS, *(word for word, means in self.words.items() if means == "note")])
        self._unread = _beginning_with([word for word, means in self.words.items() if means == "ignore"])

    def __iter__(self) -> Iterator[Points | Statement]:
        data, at, line = self.data, 0, 1
        while at < len(data):
            self.at = at
            found = _POINTS.match(data, at)
            stop = at + 1 if found is None else found.end()
            if stop - at >= SHORT_BYTES and (runs := read_points(data[at:stop], line)) is not None:
                yield from runs
                at, line = stop, line + data.count(b"\n", at, stop)
            while at < stop:  # one statement, or the whole run where numpy did not take it
                at, line, statement = self._statement(at, line)
                if statement is not None:
                    yield statement

    def _statement(self, at: int, line: int) -> tuple[int, int, Statement | None]:
        """The next statement, None for an empty line, and where the one after it begins."""
        text, after = self._line(at)
        if found := self._literal.match(text):
            return after, line + 1, Statement(text.strip(), "", ((line, 1),), self.file, found[1].upper(), text=found[2].strip())
        unread, first, bare = self._unread.match(text), line, ""
        shown: list[str] = []
        spots: list[tuple[int, int]] = []
        goes_on = True
        while goes_on:
            if shown and at >= len(self.data):
                raise ToolpathError(
                    f"the file ends in the middle of a statement, after {shown[-1]!r}",
                    place=Place(file=self.file, line=line - 1),
                    cure="the file was cut off: write it again",
                )
            text, at = self._line(at)
            shown.append(text.strip())
            kept, goes_on = self._bare(text, line, spots) if unread is None else ("", bool(_CONTINUED.search(text)))
            bare += kept
            line += 1
        whole = " ".join(shown)
        if unread is not None:
            return at, line, Statement(whole, "", ((first, 1),), self.file, unread[1].upper())
        spots.append((line - 1, len(text) + 1))
        return at, line, parse(Statement(whole, bare, spots, self.file), self.words) if bare else None

    def _line(self, at: int) -> tuple[str, int]:
        """The line that begins at a byte, without its end, and where the next begins."""
        end = self.data.index(b"\n", at)
        return self.data[at:end].rstrip(b"\r").decode("utf-8"), end + 1

    def _bare(self, text: str, line: int, spots: list[tuple[int, int]]) -> tuple[str, bool]:
        """One line without blanks and comment, in capitals, and whether the statement goes on in the next."""
        kept = ""
        for found in _PIECES.finditer(text):
            piece = found[0]
            if piece.startswith("$"):
                return kept, not piece.startswith("$$")
            literal = piece.startswith("'")
            if not literal and (odd := _ODD.search(piece)):
                word = re.match(r"[A-Za-z][A-Za-z0-9_]*", text.lstrip())
                if word is not None and (error := unknown_word(word[0].upper(), self.words)):
                    spot = (line, len(text) - len(text.lstrip()) + 1)
                    raise Statement(text.strip(), word[0], (spot,), self.file).error(*error)
                raise ToolpathError(
                    f"the character {odd[0]!a} has no meaning in a statement, in {text.strip()!r}",
                    place=Place(file=self.file, line=line, column=found.start() + odd.start() + 1),
                    cure="plain ASCII only, outside PARTNO, PPRINT, INSERT and comments after $$",
                )
            spots += [(line, column) for column, sign in enumerate(piece, found.start() + 1) if literal or sign not in _BLANKS]
            kept += piece if literal else "".join(piece.split()).upper()
        return kept, False


def _beginning_with(words: Sequence[str]) -> re.Pattern[str]:
    """A line that begins with one of these words: the word, and the text after it and its slash."""
    listed = "|".join(sorted(words)) or "(?!)"
    return re.compile(rf"[ \t]*({listed})(?![A-Za-z0-9_=)])[ \t]*/?(.*)", re.IGNORECASE | re.DOTALL)


def read_points(text: bytes, line: int) -> list[Points] | None:
    """The numbers of a run of plain GOTO lines, in runs of three or six; None where this is work for the grammar.

    text    lines that `_POINTS` matches, each with its line end
    """
    packed = text.translate(_FORTRAN, b" \t\r").upper()
    signs = np.frombuffer(packed, dtype=np.uint8)
    counts = np.diff(np.searchsorted(np.flatnonzero(signs == 44), np.flatnonzero(signs == 10)), prepend=0) + 1  # by the commas
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
    edges = [0, *(np.flatnonzero(np.diff(counts)) + 1).tolist(), len(counts)]
    offsets = np.concatenate([[0], np.cumsum(counts)])
    return [Points(line + start, values[offsets[start] : offsets[stop]].reshape(stop - start, -1)) for start, stop in pairwise(edges)]


def checked_text(data: bytes, file: str | None, *, cards: bool = False) -> bytes:
    """The bytes of a CL file, fit to be cut into statements: UTF-8 without control characters, a line end at its end.

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
    control = next((byte for byte in odd if byte < 128), None)
    at, wrong, cure = -1, "", "write the CL data as text, in UTF-8"
    if control is not None:
        wrong = f"the control character {control:#04x}: this is not CL data in text form, but a binary file or one in UTF-16"
        at = data.find(control)
    elif odd:
        try:
            data.decode("utf-8")
        except UnicodeDecodeError as error:
            at, wrong = error.start, f"the byte {data[error.start]:#04x} is not UTF-8"
            cure = "save the file as UTF-8, or take the character out"
    if wrong:
        line, column = data.count(b"\n", 0, at) + 1, at - data.rfind(b"\n", 0, at)
        raise ToolpathError(wrong, place=Place(file=file, line=line, column=column), cure=cure)
    if cards:
        cut = (line.decode("utf-8")[:_CARD_TEXT].rstrip() for line in data.split(b"\n"))
        data = "\n".join(cut).encode("utf-8")
    return data if data.endswith(b"\n") else data + b"\n"
