"""One statement: its major word, its arguments, and where each of them is in the file (ISO 4343 / ISO 3592, INCITS 37 APT).

    statement: [label ")"] word ["/" [argument {"," argument}]]

Blanks, `$` continuations and `$$` comments are taken out before, and letters turned into capitals: outside literal statements
(PARTNO, PPRINT, INSERT, LETTER, which do not come here) none of them has a meaning.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.vocabulary import unknown_word
from steadyrest.toolpath import BEYOND

SHOWN = 72  # columns of a card: as much of a statement as a message shows
_WORD = r"[A-Z][A-Z0-9_]*"
_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[ED][+-]?[0-9]+)?"
_LABEL = rf"(?:(?:{_WORD}|{_NUMBER})\))?"
_HEAD = re.compile(rf"{_LABEL}({_WORD})(={_WORD})?")
_ARGUMENT = re.compile(rf"({_WORD})|({_NUMBER})|'([^']*)'")

_ARITHMETIC = "arithmetic or a nested definition", "CL data holds resolved numbers only, so let the system that wrote it resolve them"
_BADLY_WRITTEN = (
    "a comma is missing, or a number is badly written",
    "numbers are such as 12.5, -3 or 2.75E-2, with a comma between",
)
_NO_MEANING = "a character that has no meaning here", "a statement is WORD or WORD/argument,argument with words and numbers"
_NO_WORD = "a statement begins with its major word", "write it as WORD or WORD/argument,argument"
_NO_SLASH = "a slash belongs between the major word and its arguments", "write it as WORD/argument,argument"
_NO_ARGUMENT = "an argument is missing", "write a word or a number between commas, and none after the last"
_CHARACTERS = dict.fromkeys("(*", _ARITHMETIC) | dict.fromkeys("+-.", _BADLY_WRITTEN)
"""What is meant by a character that begins no word and no number."""
_BRACKET = "a bracket without a beginning", "a label comes once, before the major word, as L1)GOTO/x,y,z"


def shown(text: str) -> str:
    """As much of a statement as a message shows."""
    return text if len(text) <= SHOWN else text[: SHOWN - 3] + "..."


@dataclass(frozen=True, slots=True)
class Source:
    """A statement as it stands in the file.

    text      the statement's lines, blanks round them taken off, for messages
    bare      without blanks, continuation marks and comments, in capitals; empty for a literal statement
    spots     line and column of each character of `bare`, and one more for its end
    file      the file's name
    """

    text: str
    bare: str
    spots: tuple[tuple[int, int], ...]
    file: str | None

    def error(self, wrong: str, cure: str, at: int = 0) -> ToolpathError:
        """The error that shows the statement and points at a character of `bare`."""
        line, column = self.spots[min(at, len(self.spots) - 1)]
        return ToolpathError(f"{wrong}, in {shown(self.text)!r}", place=Place(file=self.file, line=line, column=column), cure=cure)


@dataclass(frozen=True, slots=True)
class Argument:
    """A minor word, a number or a literal, and where it begins in `bare`."""

    value: str | float
    at: int
    literal: bool = False


@dataclass(frozen=True, slots=True)
class Couplet:
    """A minor word with the numbers right after it; the word is empty for numbers before the first word."""

    word: str
    numbers: tuple[float, ...]
    at: int


@dataclass(frozen=True, slots=True)
class Statement:
    """A major word and its arguments, or a literal statement's word and text."""

    word: str
    arguments: tuple[Argument, ...]
    source: Source
    text: str = ""
    at: int = 0

    @property
    def line(self) -> int:
        """The line on which it begins."""
        return self.source.spots[0][0]

    def error(self, wrong: str, cure: str, at: int | None = None) -> ToolpathError:
        """The error that shows the statement; it points at the major word unless `at` says where."""
        return self.source.error(wrong, cure, self.at if at is None else at)

    def couplets(
        self, known: Collection[str] = (), cure: str = "correct it", refused: Mapping[str, tuple[str, str]] | None = None
    ) -> tuple[Couplet, ...]:
        """The arguments by word: every minor word with the numbers right after it.

        known      the minor words that it may have, any if none is named; `cure` of another one
        refused    known words that cannot be carried out: what is wrong, and the cure
        """
        found: list[tuple[str, list[float], int]] = []
        for argument in self.arguments:
            if isinstance(argument.value, float):
                if not found:
                    found.append(("", [], argument.at))
                found[-1][1].append(argument.value)
            elif argument.literal:
                raise self.error(f"a literal is not allowed here: '{argument.value}'", f"{self.word} takes words and numbers", argument.at)
            elif refused and argument.value in refused:
                raise self.error(*refused[argument.value], argument.at)
            elif known and argument.value not in known:
                listed = ", ".join(known)
                raise self.error(f"{self.word} does not know {argument.value}; allowed are {listed}", cure, argument.at)
            else:
                found.append((argument.value, [], argument.at))
        return tuple(Couplet(word, tuple(numbers), at) for word, numbers, at in found)

    def numbers(self, *counts: int) -> tuple[float, ...]:
        """The arguments, which have to be so many numbers and nothing else."""
        form = f"write {self.word}/" + ",".join("xyzijkr"[: max(counts, default=1)])
        values = []
        for argument in self.arguments:
            if not isinstance(argument.value, float):
                raise self.error(f"{self.word} takes numbers only, found {argument.value}", form, argument.at)
            values.append(argument.value)
        if counts and len(values) not in counts:
            raise self.error(f"{self.word} has {len(values)} numbers; it takes {' or '.join(map(str, counts))}", form)
        return tuple(values)

    def only_word(self, *allowed: str, unless_given: str = "") -> str:
        """The only argument, one of the allowed minor words; `unless_given` for a statement without arguments."""
        if not self.arguments and unless_given:
            return unless_given
        couplets = self.couplets()
        if len(couplets) != 1 or couplets[0].numbers:
            raise self.error(f"{self.word} takes one word: {', '.join(allowed)}", f"write {self.word}/{allowed[0]}")
        return self.couplets(allowed, "write one of them")[0].word


def parse(source: Source, mapped: Collection[str] = ()) -> Statement:
    """A statement that is not a literal one; ToolpathError with line and column, also for a major word that is not known.

    mapped    words that a mapping file makes known
    """
    bare = source.bare
    head = _HEAD.match(bare)
    if head is None or (head.start() == head.start(1) and bare[head.end() :][:1] == ")"):  # a label alone
        label = re.match(_LABEL, bare)
        raise _mistake(source, label.end() if label is not None else 0, _NO_WORD)
    word, defined = head.groups()
    if defined is not None:
        raise source.error(
            f"'{word}' defines a name; CL data holds resolved numbers only",
            "definitions, arithmetic, macros and loops belong to the part program: let the system that wrote it resolve them",
        )
    at = head.end()
    if bare[at : at + 1] not in ("=", ")") and (error := unknown_word(word, mapped)):
        raise source.error(*error, at=head.start(1))
    arguments: list[Argument] = []
    if at < len(bare) and bare[at] != "/":
        raise _mistake(source, at, _NO_SLASH)
    at += 1
    while at < len(bare) or arguments:
        found = _ARGUMENT.match(bare, at)
        if found is None:
            raise _mistake(source, at, _NO_ARGUMENT)
        minor, number, literal = found.groups()
        value = minor or literal if number is None else float(number.replace("D", "E"))
        if isinstance(value, float) and not abs(value) < BEYOND:
            raise source.error("a number too large", f"write a number below {BEYOND:g}", at)
        arguments.append(Argument(value, at, literal is not None))
        at = found.end()
        if at == len(bare):
            break
        if bare[at] != ",":
            raise _mistake(source, at, _BADLY_WRITTEN)
        at += 1
    return Statement(word, tuple(arguments), source, at=head.start(1))


def _mistake(source: Source, at: int, wanted: tuple[str, str]) -> ToolpathError:
    """What is wrong with a statement that does not go on as it should: by the character found there, else what was wanted."""
    bare = source.bare
    sign = bare[at : at + 1]
    if sign not in (*",/=)", "") and not _ARGUMENT.match(bare, at):
        wanted = _CHARACTERS.get(sign, _NO_MEANING)
    elif wanted is not _NO_WORD:
        wanted = _BRACKET if sign == ")" else _ARITHMETIC if sign and sign in "/=" and wanted is not _NO_ARGUMENT else wanted
    wrong, cure = wanted
    here = bare[at : at + 12]
    return source.error(f"{wrong}: found {here!r}" if here else f"{wrong}: found the end of the statement", cure, at)
