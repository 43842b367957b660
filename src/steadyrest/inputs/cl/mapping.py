"""The meaning of words that a system adds to CL data on its own, as a small TOML file of the shop says it.

steadyrest_words = 1

[words.TINT]
means = "ignore"          # says nothing about what is cut; listed in a notice
[words.CHAPTR]
means = "note"            # its text goes to the operator
[words.FETCH]
means = "LOADTL/{1}"      # {1} is its first argument, {2} the second; {all} all of them
[words.PREFUN]
means = "ignore"          # also a standard word that would be refused
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

from pydantic import Field, StringConstraints, model_validator

from steadyrest.inputs.cl.statement import FIXED, KNOWN, LITERAL_WORDS, Statement, parse
from steadyrest.inputs.options import One, load_toml
from steadyrest.toolpath import Part, broken_rule

_SPOT = re.compile(r"\{(\d+|all)\}")
_WORD = re.compile(r"[A-Z][A-Z0-9_]*")


class WordMeaning(Part):
    """What one word means."""

    means: Annotated[str, Field(strict=True, min_length=1)] = Field(
        description="`ignore`: does not change what is cut. `note`: its text goes to the operator. Else a statement of standard words, "
        "such as `LOADTL/{1}`, in which {1} is the word's first argument and {all} for all of them."
    )

    @model_validator(mode="after")
    def _means_something_known(self) -> WordMeaning:
        if self.means in ("ignore", "note"):
            return self
        word = _WORD.match(self.means.upper())
        if word is None or word[0] not in KNOWN or word[0] in LITERAL_WORDS:
            raise broken_rule(
                f"means {self.means!r}, which is neither ignore, note, nor a statement that begins with a standard word",
                'write "ignore", "note", or for example "LOADTL/{1}"',
            )
        return self


class WordsFile(Part):
    """A mapping file: what the words mean that a system adds on its own."""

    steadyrest_words: One = Field(description="Version of this form: 1.")
    words: dict[Annotated[str, StringConstraints(pattern=r"^[A-Za-z][A-Za-z0-9_]*$")], WordMeaning] = Field(
        description="The words, each with its meaning."
    )

    @model_validator(mode="after")
    def _leaves_the_path_alone(self) -> WordsFile:
        for word in self.words:
            if word.upper() in FIXED:
                raise broken_rule(f"the word {word} moves the tool and cannot get another meaning", "take it out of the mapping file")
        return self


def load_mapping(path: Path) -> dict[str, str]:
    """The meanings of a file by word, in capitals; InputError names file, line, key and cure."""
    found = load_toml(path, WordsFile, "a mapping file begins with steadyrest_words = 1")
    return {word.upper(): meaning.means for word, meaning in found.words.items()}


def resolved(statement: Statement, form: str, file: Path) -> Statement:
    """The statement that a mapped one stands for, by the form that its mapping file gives."""
    given = [
        value for each in statement.couplets for value in ([each.word] if each.word else []) + [repr(number) for number in each.numbers]
    ]

    def filled(spot: re.Match[str]) -> str:
        if spot[1] == "all":
            return ",".join(given)
        if not 1 <= int(spot[1]) <= len(given):
            raise statement.error(
                f"{statement.word} has {len(given)} arguments, and {file} asks for number {spot[1]}",
                f"correct the meaning of {statement.word}: {form!r}",
            )
        return given[int(spot[1]) - 1]

    bare = "".join(_SPOT.sub(filled, form).split()).upper()
    # Every sign of the new statement points at the word in the file that it stands for.
    return parse(Statement(statement.shown, bare, (statement.spots[0],) * (len(bare) + 1), statement.file))
