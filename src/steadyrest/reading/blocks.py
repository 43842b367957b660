"""What stands in one line of a program: words with their numbers, comments and parameter settings."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import NoReturn

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput, UnexpectedToken

from steadyrest.errors import Place, ProgramError
from steadyrest.reading.expressions import Parameters, evaluate
from steadyrest.reading.mistakes import mistake_at

BLANKS = " \t"
_WORD = r"[ \t]*([A-Za-z:])[ \t]*([+-]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++))"
_COMMENT = {"parentheses": r"(?:\(([\t -'*-~]*)\))?[ \t]*", "semicolon": r"(?:;([\t -~]*))?", "none": "((?!))?"}
_PLAIN = {style: re.compile(rf"((?:{_WORD})*)[ \t]*{comment}") for style, comment in _COMMENT.items()}
_ONE_WORD = re.compile(_WORD)
LEGAL = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.+-*/#=[]:")
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


@dataclass(frozen=True, slots=True)
class Block:
    """One line of a program, its parameter settings already carried out."""

    line: int
    words: tuple[Word, ...] = ()
    comments: tuple[str, ...] = ()
    skip: bool = False
    settings: bool = False


@lru_cache(maxsize=1)
def block_parser() -> Lark:
    """The parser of one block, built once."""
    grammar = files(__package__).joinpath("word_address.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", start="block")


def read_block(text: str, line: int, *, comment_style: str, parameters: Parameters, file: str | None = None) -> Block:
    """The words of one line, numbers evaluated; parameter settings take effect after the whole line is read (NISTIR 6556, 3.3.3).

    text           the line without its ending
    comment_style  "parentheses", "semicolon" or "none"
    parameters     values of the program's parameters, changed by the settings of this line
    raises         ProgramError with line and column
    """
    plain = _PLAIN[comment_style].fullmatch(text)
    if plain is not None:  # most blocks: words, then perhaps a comment; what the grammar makes of them is plain to see
        plain_words = tuple(
            Word(letter := match[1].upper(), float(match[2]), "." in match[2], letter + match[2], match.start(1) + 1)
            for match in _ONE_WORD.finditer(text, 0, plain.end(1))
        )
        if all(len(word.text) <= MOST_DIGITS for word in plain_words):
            comment = plain[plain.re.groups]
            return Block(line, plain_words, () if comment is None else (comment,))
    bare, columns = _without_blanks(text, comment_style, line, file)
    try:
        tree = block_parser().parse(bare)
    except UnexpectedInput as mistake:
        _explain(mistake, bare, columns, text, line, file)
    words: list[Word] = []
    comments: list[str] = []
    settings: list[tuple[int, float]] = []
    skip = False
    for item in tree.children:
        if isinstance(item, Tree):
            first = item.children[0]
            assert isinstance(first, Token)
            column = columns[first.start_pos or 0]
            place = Place(file=file, line=line, column=column)
            if item.data == "word":
                words.append(_word(item, parameters, place, column))
            else:
                number = parameters.index(evaluate(item.children[1], parameters, place), place, setting=True)
                settings.append((number, evaluate(item.children[3], parameters, place)))
        elif item.type == "COMMENT":
            comments.append(item[1:-1] if item.startswith("(") else item[1:])
        else:
            skip = True
    for number, value in settings:
        parameters.values[number] = value
    return Block(line, tuple(words), tuple(comments), skip, bool(settings))


def _word(item: Tree[Token], parameters: Parameters, place: Place, column: int) -> Word:
    letter, number = item.children
    if isinstance(number, Token):
        if sum(character.isdigit() for character in number) > MOST_DIGITS:
            raise ProgramError(f"{letter}{number} has more than {MOST_DIGITS} digits", place=place, cure="round the number")
        return Word(str(letter), float(number), "." in number, f"{letter}{number}", column)
    value = evaluate(number, parameters, place)
    return Word(str(letter), value, True, f"{letter}[{value:g}]", column)


def _without_blanks(text: str, comment_style: str, line: int, file: str | None) -> tuple[str, list[int]]:
    """The line in capitals without blanks outside comments, and the column of each character left (one more for the end)."""

    def stop(index: int, wrong: str, cure: str) -> NoReturn:
        raise ProgramError(wrong, place=Place(file=file, line=line, column=index + 1), cure=cure)

    kept: list[str] = []
    columns: list[int] = []
    inside = False
    for index, character in enumerate(text):
        if not (" " <= character <= "~" or character == "\t"):
            stop(
                index,
                f"the character {character!r} is not allowed in a program",
                "take it out: letters, digits and signs of plain ASCII only",
            )
        opened = inside
        if inside:
            if character == "(" and comment_style == "parentheses":
                stop(index, "a comment inside a comment", "close the first one with ) before the next begins")
            inside = comment_style == "semicolon" or character != ")"
        elif character in BLANKS:
            continue
        elif character in "(;":
            opens = "(" if comment_style == "parentheses" else ";"
            if comment_style == "none" or character != opens:
                allowed = "no comments at all" if comment_style == "none" else f"comments that begin with {opens}"
                stop(index, f"{character!r} begins no comment on this controller, it takes {allowed}", "take the comment out or respell it")
            inside = True
        elif character == ")":
            stop(index, "a comment is closed that was not opened", "begin it with ( on the same line")
        elif character not in LEGAL:
            stop(index, f"the character {character!r} has no meaning in a block", "take it out; decimals stand behind a point")
        kept.append(character if opened or inside else character.upper())
        columns.append(index + 1)
    if inside and comment_style == "parentheses":
        start = len(text) - 1 - text[::-1].index("(")
        stop(start, "a comment that is not closed", "close it with ) on the same line")
    columns.append(len(text) + 1)
    return "".join(kept), columns


def _explain(mistake: UnexpectedInput, bare: str, columns: list[int], text: str, line: int, file: str | None) -> NoReturn:
    """Raise the message of the mistake, with what stands there (NISTIR 6556, 3.3)."""
    at = mistake.pos_in_stream
    if isinstance(mistake, UnexpectedToken):
        expected: Collection[str] = mistake.accepts or mistake.expected
        at = len(bare) if mistake.token.type == "$END" else at
    else:
        expected = getattr(mistake, "allowed", None) or ()
    if at is None or not 0 <= at < len(columns):
        at = len(bare)
    known = mistake_at(bare, at, expected)
    column = columns[at]
    here = text[column - 1 : column + 11].strip()
    found = f"found {here!r}" if here else "found the end of the line"
    raise ProgramError(f"{known.wrong}: {found}", place=Place(file=file, line=line, column=column), cure=known.cure)
