"""What stands in one statement: its major word, its arguments, and where each of them is in the file?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedInput

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.cl.mistakes import CHARACTERS, MISTAKES, NO_MEANING
from steadyrest.toolpath import BEYOND

SHOWN = 72  # columns of a card: as much of a statement as a message shows


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

    def place(self, at: int = 0) -> Place:
        """Line and column of a character of `bare`."""
        line, column = self.spots[min(at, len(self.spots) - 1)]
        return Place(file=self.file, line=line, column=column)

    def error(self, wrong: str, cure: str, at: int = 0) -> ToolpathError:
        """The error that shows the statement and points at a character of `bare`."""
        shown = self.text if len(self.text) <= SHOWN else self.text[: SHOWN - 3] + "..."
        return ToolpathError(f"{wrong}, in {shown!r}", place=self.place(at), cure=cure)


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

    def couplets(self) -> tuple[Couplet, ...]:
        """The arguments by word: every minor word with the numbers right after it."""
        found: list[tuple[str, list[float], int]] = []
        for argument in self.arguments:
            if isinstance(argument.value, float):
                if not found:
                    found.append(("", [], argument.at))
                found[-1][1].append(argument.value)
            elif argument.literal:
                raise self.error(f"a literal is not allowed here: '{argument.value}'", f"{self.word} takes words and numbers", argument.at)
            else:
                found.append((argument.value, [], argument.at))
        return tuple(Couplet(word, tuple(numbers), at) for word, numbers, at in found)

    def numbers(self, *counts: int) -> tuple[float, ...]:
        """The arguments, which have to be so many numbers and nothing else."""
        values = []
        for argument in self.arguments:
            if not isinstance(argument.value, float):
                raise self.error(f"{self.word} takes numbers only, found {argument.value}", f"write {self._form(counts)}", argument.at)
            values.append(argument.value)
        if counts and len(values) not in counts:
            raise self.error(f"{self.word} has {len(values)} numbers; it takes {self._counts(counts)}", f"write {self._form(counts)}")
        return tuple(values)

    def only_word(self, *allowed: str, unless_given: str = "") -> str:
        """The only argument, one of the allowed minor words; `unless_given` for a statement without arguments."""
        words = self.couplets()
        if not words and unless_given:
            return unless_given
        listed = ", ".join(allowed)
        if len(words) != 1 or words[0].numbers:
            raise self.error(f"{self.word} takes one word: {listed}", f"write {self.word}/{allowed[0]}")
        if words[0].word not in allowed:
            raise self.error(f"{self.word} does not know {words[0].word}; allowed are {listed}", "write one of them", words[0].at)
        return words[0].word

    def _form(self, counts: tuple[int, ...]) -> str:
        names = ("x", "y", "z", "i", "j", "k", "r")
        return f"{self.word}/" + ",".join(names[: max(counts, default=1)])

    def _counts(self, counts: tuple[int, ...]) -> str:
        return " or ".join(str(count) for count in sorted(counts))


@lru_cache(maxsize=1)
def statement_parser() -> Lark:
    """The parser of one statement, built once."""
    grammar = files(__package__).joinpath("statement.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", start="statement")


def parse(source: Source) -> Statement:
    """A statement that is not a literal one; ToolpathError with line and column."""
    try:
        word, at, arguments = _parsed(source.bare)
    except UnexpectedInput as mistake:
        raise _explained(mistake, source) from None
    except _Definition as found:
        raise source.error(
            f"'{found}' defines a name; CL data holds resolved numbers only",
            "definitions, arithmetic, macros and loops belong to the part program: let the system that wrote it resolve them",
        ) from None
    for argument in arguments:
        if isinstance(argument.value, float) and not abs(argument.value) < BEYOND:
            raise source.error("a number too large", f"write a number below {BEYOND:g}", argument.at)
    return Statement(word, arguments, source, at=at)


class _Definition(Exception):
    """The statement defines a name."""


@lru_cache(maxsize=4096)
def _parsed(bare: str) -> tuple[str, int, tuple[Argument, ...]]:
    """Word, its place, arguments. Kept, since FEDRAT, RAPID and the like come again and again in the same spelling."""
    tree = statement_parser().parse(bare)
    command = tree.children[-1]
    assert isinstance(command, Tree)
    if command.data == "definition":
        raise _Definition(str(command.children[0]))
    word = command.children[0]
    assert isinstance(word, Token)
    listed = command.children[-1]
    tokens = listed.children if isinstance(listed, Tree) else []
    return str(word), word.start_pos or 0, tuple(_argument(token) for token in tokens if isinstance(token, Token) and token.type != "COMMA")


def _argument(token: Token) -> Argument:
    at = token.start_pos or 0
    if token.type == "NUMBER":
        return Argument(float(token.replace("D", "E")), at)
    if token.type == "LITERAL":
        return Argument(str(token)[1:-1], at, literal=True)
    return Argument(str(token), at)


def _explained(mistake: UnexpectedInput, source: Source) -> ToolpathError:
    """The message of the table whose example goes wrong in the same way."""
    if isinstance(mistake, UnexpectedCharacters):
        found = CHARACTERS.get(mistake.char, NO_MEANING)
    else:
        found = mistake.match_examples(statement_parser().parse, MISTAKES, use_accepts=True) or NO_MEANING
    at = mistake.pos_in_stream
    if at is None or not 0 <= at <= len(source.bare):
        at = len(source.bare)
    here = source.bare[at : at + 12]
    wrong, _, cure = found.partition("; ")
    return source.error(f"{wrong}: found {here!r}" if here else f"{wrong}: found the end of the statement", cure, at)
