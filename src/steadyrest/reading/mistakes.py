"""How each mistake of spelling in a block is called: what is wrong, the cure, and examples that go wrong in that way."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mistake in the spelling of a block, with blocks (blanks taken out, in capitals) that make it."""

    wrong: str
    cure: str
    examples: tuple[str, ...]


MISTAKES: dict[str, Mistake] = {
    "no_number": Mistake(
        "a number is missing after the letter",
        "give the number, or take the letter out",
        (
            "X",
            "G1X",
            "G",
            "XY1",
            "G1XY1",
            "X.",
            "X-",
            "X+",
            "X(NOTE)",
            "X--1",
            "X]",
            "X=1",
            "X*2",
            "X/",
        ),
    ),
    "no_letter": Mistake(
        "a number without a letter before it, or a second point or sign in a number",
        "give each number one letter, one sign, one point",
        (
            "1",
            "-1",
            ".5",
            "X1.2.3",
            "X1-2",
            "X1+2",
            "/1",
            "(NOTE)1",
        ),
    ),
    "late_delete_mark": Mistake(
        "the block delete mark stands only at the start of a block",
        "put / before everything, or take it out",
        (
            "X1/",
            "N1/X1",
            "//X1",
            "(NOTE)/X1",
        ),
    ),
    "outside_brackets": Mistake(
        "a bracket without a beginning, or an operator outside brackets",
        "calculations stand in [ ]",
        (
            "]",
            "X1]",
            "[1]",
            "X1*2",
            "X1=2",
            "=2",
            "X1[2]",
            "/]",
            "*",
        ),
    ),
    "open_bracket": Mistake(
        "a bracket that is not closed",
        "close it with ]",
        (
            "X[1",
            "X[1+2",
            "XSIN[30",
            "X[[1]",
            "X[1*2",
            "X[1**2",
            "X[1X2",
            "X[#1",
            "X[1=",
            "XATAN[1",
            "XATAN[1]/[2",
        ),
    ),
    "no_value": Mistake(
        "a value is missing in the calculation",
        "give a number, a parameter or a bracket",
        (
            "X[",
            "X[]",
            "X[1+]",
            "X[1*",
            "X[1**",
            "X[+]",
            "XSIN[]",
            "X[1+X",
            "X[X",
            "XATAN[]",
            "XATAN[1]/[]",
            "X[1*X",
        ),
    ),
    "no_brackets": Mistake(
        "a function needs its value in brackets",
        "write it as SIN[30]",
        (
            "XSIN",
            "XSIN30",
            "XATAN",
            "XATAN1",
            "X[SIN30]",
        ),
    ),
    "one_of_two": Mistake(
        "ATAN takes two values",
        "write it as ATAN[1]/[2]",
        (
            "XATAN[1]",
            "XATAN[1]X2",
            "XATAN[1]/2",
            "XATAN[1]/",
        ),
    ),
    "no_parameter": Mistake(
        "the number of a parameter is missing",
        "write it as #1",
        (
            "#",
            "X#",
            "#X",
            "X#X1",
            "#=1",
            "#]",
            "X##",
        ),
    ),
    "parameter_alone": Mistake(
        "a parameter by itself",
        "set it as #1=2 or give it a letter as X#1",
        (
            "#1",
            "#1X1",
            "X1#1",
            "#1#2",
            "#[1]",
            "#1(NOTE)",
            "#1/2",
        ),
    ),
    "no_setting": Mistake(
        "the value of the parameter is missing",
        "write it as #1=2",
        (
            "#1=",
            "#1=X1",
            "#1=(NOTE)",
            "#1==2",
        ),
    ),
}


def mistake_at(bare: str, at: int, expected: Collection[str]) -> Mistake:
    """What kind of mistake a block makes.

    bare      the block, blanks taken out, in capitals
    at        where it cannot go on
    expected  the terminals of the grammar with which it could
    """
    before, here = bare[at - 1 : at], bare[at : at + 1]
    if "NUMBER" in expected:
        if before in ("#", "="):
            return MISTAKES["no_parameter" if before == "#" else "no_setting"]
        return MISTAKES["no_value" if _in_brackets(bare[:at]) else "no_number"]
    if "OPEN" in expected:
        return MISTAKES["one_of_two" if before == "/" else "no_brackets"]
    for terminal, name in (("OVER", "one_of_two"), ("CLOSE", "open_bracket"), ("EQUALS", "parameter_alone")):
        if terminal in expected:
            return MISTAKES[name]
    if here == "/":
        return MISTAKES["late_delete_mark"]
    return MISTAKES["no_letter" if here and here in "0123456789.+-" else "outside_brackets"]


def _in_brackets(bare: str) -> bool:
    """Whether a bracket is open at the end of the text; comments hold none that count."""
    depth, comment = 0, False
    for character in bare:
        comment = character in "(;" or (comment and character != ")")
        if not comment:
            depth += (character == "[") - (character == "]")
    return depth > 0
