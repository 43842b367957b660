"""Blocks by the grammar: what is not plain words, such as expressions and blanks inside numbers, and what is wrong with what is none."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Collection, Mapping
from functools import cache
from importlib.resources import files
from string import ascii_letters, digits
from typing import Any, NoReturn

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedInput, UnexpectedToken

from steadyrest.errors import Place, ProgramError
from steadyrest.reading.block_words import ANY_COMMENT, MOST_DIGITS, Block, Word
from steadyrest.reading.state import NEAR_INTEGER

LARGEST_PARAMETER = 5399  # NISTIR 6556, 3.2.1
FIRST_KEPT_PARAMETER = 5061  # from here on they hold probe results, reference points and offsets of the machine (table 2)


def _power(left: float, right: float) -> float:
    if left < 0 and right != round(right):
        raise ValueError("a negative number to a power that is not whole")
    return math.pow(left, right)


OPERATORS: dict[str, Callable[[float, float], float]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
    "MOD": lambda left, right: left % abs(right),  # never negative
    "**": _power,
    "AND": lambda left, right: float(left != 0 and right != 0),
    "OR": lambda left, right: float(left != 0 or right != 0),
    "XOR": lambda left, right: float((left != 0) != (right != 0)),
}
"""What stands between two values; a logical result is 1 or 0 (NISTIR 6556, 3.3.2.3)."""

FUNCTIONS: dict[str, Callable[[float], float]] = {
    "ABS": abs,
    "SIN": lambda degrees: math.sin(math.radians(degrees)),
    "COS": lambda degrees: math.cos(math.radians(degrees)),
    "TAN": lambda degrees: math.tan(math.radians(degrees)),
    "ASIN": lambda value: math.degrees(math.asin(value)),
    "ACOS": lambda value: math.degrees(math.acos(value)),
    "EXP": math.exp,
    "LN": math.log,
    "SQRT": math.sqrt,
    "FIX": lambda value: float(math.floor(value)),
    "FUP": lambda value: float(math.ceil(value)),
    "ROUND": lambda value: math.copysign(math.floor(abs(value) + 0.5), value),  # halves away from zero, as a C library rounds
}
"""Functions of one value, angles in degrees (NISTIR 6556, 3.3.2.4)."""


def evaluate(node: Tree[Token] | Token, parameters: Mapping[int, float], place: Place) -> float:
    """The value of a number, parameter, bracket or function; ProgramError at `place` when it has none."""

    def value_of(node: Tree[Token] | Token) -> float:
        if isinstance(node, str):  # a token
            return float(node)
        parts: list[Any] = node.children
        match node.data:
            case "parameter":
                number = _parameter(value_of(parts[1]), place)
                if number in parameters:
                    return parameters[number]
                wrong, cure = f"#{number} was not set by this program, so its value is unknown", f"set it first, as #{number}=1"
                raise ProgramError(wrong, place=place, cure=f"{cure}, or write the number itself")
            case "group":
                return value_of(parts[1])
            case "function":
                return FUNCTIONS[str(parts[0])](value_of(parts[2]))
            case "arctangent":
                return math.degrees(math.atan2(value_of(parts[2]), value_of(parts[6])))
            case _:
                return OPERATORS[str(parts[1])](value_of(parts[0]), value_of(parts[2]))

    try:
        value = value_of(node)
    except RecursionError:
        raise ProgramError("the calculation is nested too deeply", place=place, cure="write it in parts") from None
    except (ValueError, ArithmeticError) as impossible:
        raise ProgramError(f"the calculation has no value: {impossible}", place=place, cure="correct it") from None
    if isinstance(value, complex) or not math.isfinite(value):
        raise ProgramError("the calculation has no value", place=place, cure="correct it")
    return value


def _parameter(value: float, place: Place) -> int:
    number = round(value)
    if abs(value - number) > NEAR_INTEGER or not 1 <= number <= LARGEST_PARAMETER:
        wrong = f"#{value:g} is not a parameter: those have whole numbers from 1 to {LARGEST_PARAMETER}"
        raise ProgramError(wrong, place=place, cure="correct the number after #")
    return number


BLANKS = " \t"
LEGAL = frozenset(ascii_letters + digits + ".+-*/#=[]:")
MISTAKES = {
    "no_number": ("a number is missing after the letter", "give the number, or take the letter out"),
    "no_letter": (
        "a number without a letter before it, or a second point or sign in a number",
        "give each number one letter, one sign, one point",
    ),
    "late_delete_mark": ("block delete (/) is only allowed at the start of a block", "put / before everything, or take it out"),
    "outside_brackets": ("a closing bracket without an opening one, or an operator outside brackets", "put calculations in [ ]"),
    "open_bracket": ("a bracket that is not closed", "close it with ]"),
    "no_value": ("a value is missing in the calculation", "give a number, a parameter or a bracket"),
    "no_brackets": ("a function needs its value in brackets", "write it as SIN[30]"),
    "one_of_two": ("ATAN takes two values", "write it as ATAN[1]/[2]"),
    "no_parameter": ("the number of a parameter is missing", "write it as #1"),
    "parameter_alone": ("a parameter by itself", "set it as #1=2 or give it a letter as X#1"),
    "no_setting": ("the value of the parameter is missing", "write it as #1=2"),
}
"""How each mistake in the spelling of a block is called, and its cure."""


@cache
def block_parser() -> Lark:
    """The parser of one block, built once."""
    grammar = files(__package__).joinpath("word_address.lark").read_text(encoding="utf-8")
    return Lark(grammar, parser="lalr", lexer="contextual", start="block")


def read_by_grammar(text: str, line: int, *, comment_style: str, parameters: dict[int, float], file: str | None = None) -> Block:
    """The words of any line, numbers evaluated; see `program.read_block`."""
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
                number = _parameter(evaluate(item.children[1], parameters, place), place)
                if number >= FIRST_KEPT_PARAMETER:
                    wrong = f"#{number} holds an offset or a position of the machine, which cannot be followed from here"
                    raise ProgramError(wrong, place=place, cure="set offsets at the machine, use parameters from 1 to 5060")
                settings.append((number, evaluate(item.children[3], parameters, place)))
        elif item.type == "COMMENT":
            comments.append(item[1:-1] if item.startswith("(") else item[1:])
        else:
            skip = True
    parameters.update(settings)
    return Block(line, tuple(words), tuple(comments), skip, bool(settings))


def _word(item: Tree[Token], parameters: Mapping[int, float], place: Place, column: int) -> Word:
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
    depth, semicolon, opening = 0, False, 0
    for index, character in enumerate(text):
        inside = depth > 0 or semicolon
        if not (" " <= character <= "~" or character == "\t") and not (inside and comment_style == "any"):
            cure = "take it out: letters, digits and signs of plain ASCII only"
            stop(index, f"the character {character!r} is not allowed in a program", cure)
        comment = True
        if semicolon:
            pass
        elif depth:
            if character == "(" and comment_style != "any":
                stop(index, "a comment inside a comment", "close the first one with ) before the next begins")
            depth += (character == "(") - (character == ")")
            if character in "()" and depth + (character == ")") > 1:
                character = "[" if character == "(" else "]"  # the grammar knows no comment inside another
        elif character in BLANKS:
            continue
        elif character in "(;":
            opens = {"parentheses": "(", "semicolon": ";", "any": "(;"}.get(comment_style, "")
            if character not in opens:
                allowed = f"comments that begin with {opens}" if opens else "no comments at all"
                stop(index, f"{character!r} begins no comment on this controller, it takes {allowed}", "take the comment out or rewrite it")
            depth, semicolon, opening = int(character == "("), character == ";", index
        elif character == ")":
            stop(index, "a comment is closed that was not opened", "begin it with ( on the same line")
        elif character not in LEGAL:
            stop(index, f"the character {character!r} has no meaning in a block", "take it out; decimals follow a point")
        else:
            comment = False
        kept.append(character if comment else character.upper())
        columns.append(index + 1)
    if depth:
        stop(opening, "a comment that is not closed", "close it with ) on the same line")
    columns.append(len(text) + 1)
    return "".join(kept), columns


def _explain(mistake: UnexpectedInput, bare: str, columns: list[int], text: str, line: int, file: str | None) -> NoReturn:
    """Raise the message of the mistake, with what stands there (NISTIR 6556, 3.3)."""
    expected: Collection[str]
    if isinstance(mistake, UnexpectedToken):
        expected, ends = mistake.accepts or mistake.expected, mistake.token.type == "$END"
    else:
        expected, ends = getattr(mistake, "allowed", None) or (), False
    at = len(bare) if ends or mistake.pos_in_stream is None else mistake.pos_in_stream
    wrong, cure = MISTAKES[_mistake(bare, at, expected)]
    column = columns[at]
    here = text[column - 1 : column + 11].strip()
    found = f"found {here!r}" if here else "found the end of the line"
    raise ProgramError(f"{wrong}: {found}", place=Place(file=file, line=line, column=column), cure=cure)


def _mistake(bare: str, at: int, expected: Collection[str]) -> str:
    """Which of MISTAKES stops a block at a character, where it could go on with these terminals of the grammar."""
    before, here = bare[at - 1 : at], bare[at : at + 1]
    if "NUMBER" in expected:
        if before in ("#", "="):
            return "no_parameter" if before == "#" else "no_setting"
        open_before = ANY_COMMENT.sub("", bare[:at])
        return "no_value" if open_before.count("[") > open_before.count("]") else "no_number"
    if "OPEN" in expected:
        return "one_of_two" if before == "/" else "no_brackets"
    for terminal, name in (("OVER", "one_of_two"), ("CLOSE", "open_bracket"), ("EQUALS", "parameter_alone")):
        if terminal in expected:
            return name
    if here == "/":
        return "late_delete_mark"
    return "no_letter" if here and here in "0123456789.+-" else "outside_brackets"
