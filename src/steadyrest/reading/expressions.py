"""What a calculation in a program comes to: parameters, operators and functions (NISTIR 6556, 3.3.2)."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from steadyrest.errors import Place, ProgramError

if TYPE_CHECKING:
    from lark import Token, Tree

NEAR_INTEGER = 0.0001  # NISTIR 6556, 3.3.2.1: how close a value meant as an integer must be to one
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


@dataclass(slots=True)
class Parameters:
    """The values that the program itself gave to its parameters; any other stands in the controller and is not known."""

    values: dict[int, float] = field(default_factory=dict)

    def index(self, value: float, place: Place, *, setting: bool = False) -> int:
        """The parameter's number; refused when it is none, or one that moves the machine's offsets."""
        number = round(value)
        if abs(value - number) > NEAR_INTEGER or not 1 <= number <= LARGEST_PARAMETER:
            raise ProgramError(
                f"#{value:g} is not a parameter: those have whole numbers from 1 to {LARGEST_PARAMETER}",
                place=place,
                cure="correct the number after #",
            )
        if setting and number >= FIRST_KEPT_PARAMETER:
            raise ProgramError(
                f"#{number} holds an offset or a position of the machine, which cannot be followed from here",
                place=place,
                cure="set offsets at the machine, use parameters from 1 to 5060",
            )
        return number

    def value(self, number: int, place: Place) -> float:
        """The value of a parameter that this program has set before."""
        if number not in self.values:
            raise ProgramError(
                f"#{number} was not set by this program, so its value is unknown",
                place=place,
                cure=f"set it first, as #{number}=1, or write the number itself",
            )
        return self.values[number]


def evaluate(node: Tree[Token] | Token, parameters: Parameters, place: Place) -> float:
    """The value of a number, parameter, bracket or function; ProgramError at `place` when it has none."""
    try:
        value = _evaluate(node, parameters, place)
    except RecursionError:
        raise ProgramError("the calculation is nested too deeply", place=place, cure="write it in parts") from None
    except (ValueError, ArithmeticError) as impossible:
        raise ProgramError(f"the calculation has no value: {impossible}", place=place, cure="correct it") from None
    if isinstance(value, complex) or not math.isfinite(value):
        raise ProgramError("the calculation has no value", place=place, cure="correct it")
    return value


def _evaluate(node: Tree[Token] | Token, parameters: Parameters, place: Place) -> float:
    if isinstance(node, str):  # a token
        return float(node)
    parts: list[Any] = node.children
    match node.data:
        case "parameter":
            return parameters.value(parameters.index(_evaluate(parts[1], parameters, place), place), place)
        case "group":
            return _evaluate(parts[1], parameters, place)
        case "function":
            return FUNCTIONS[str(parts[0])](_evaluate(parts[2], parameters, place))
        case "arctangent":
            return math.degrees(math.atan2(_evaluate(parts[2], parameters, place), _evaluate(parts[6], parameters, place)))
        case _:
            return OPERATORS[str(parts[1])](_evaluate(parts[0], parameters, place), _evaluate(parts[2], parameters, place))
