"""One statement: its major word, its arguments, and where each of them is in the file (ISO 4343 / ISO 3592, INCITS 37 APT).

And the words of CL data (ISO 4343, from memory), with what becomes of each: honoured, left out with a notice, or refused; further
words get their meaning from a mapping file.

    statement: [label ")"] word ["/" [argument {"," argument}]]

Blanks, `$` continuations and `$$` comments are taken out before, and letters turned into capitals: outside literal statements
(PARTNO, PPRINT, INSERT, LETTER, which do not come here) none of them has a meaning.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated

from pydantic import Field, StringConstraints, model_validator

from steadyrest.errors import Place, ToolpathError
from steadyrest.inputs.options import load_toml
from steadyrest.toolpath import BEYOND, One, Part, broken_rule


def _words(listed: str) -> frozenset[str]:
    return frozenset(listed.split())


HONOURED = _words(
    "AIR CIRCLE CLEARP CLRSRF COOLNT CUTCOM CUTTER CYCLE DELAY DWELL END FEDRAT FINI FROM GODLTA GOHOME GOTO INSERT INTOL LINTOL "
    "LOADTL MULTAX OPSKIP OPSTOP ORIGIN OUTTOL PARTNO PPRINT RAPID RETRCT ROTABL ROTATE ROTHED SPINDL STOP TLAXIS TOLER TOOLNO "
    "TRACUT TRANS UNITS UNLOAD"
)
"""Words that say what is cut, or have an argument that does."""

LITERAL_WORDS = ("PARTNO", "PPRINT", "INSERT", "LETTER")
"""Statements whose text runs to the end of the line, in which `$` and blanks mean themselves."""

FIXED = _words("CIRCLE CYCLE FINI FROM GODLTA GOTO MULTAX RAPID ROTABL ROTATE ROTHED TLAXIS TRANS UNITS")
"""Words that a mapping file cannot give another meaning: the path itself hangs on them."""

HARMLESS = {
    "MACHIN": "the controller is chosen when the program is posted",
    "DISPLY": "it asks for a plot",
    "LEADER": "it asks for blank tape",
    "LETTER": "it asks for readable text on tape",
    "CLPRNT": "it controls a listing",
    "PLABEL": "it controls a listing",
    "SEQNO": "block numbers are a setting of the profile",
    "TMARK": "it marks a block for a restart",
    "REWIND": "how a program ends is a setting of the profile",
    "POSTN": "how small moves are treated is decided in planning",
    "SLOWDN": "slowing down at corners is left to the controller",
    "CHECK": "travel limits are a setting of the profile",
    "LIMIT": "limits of feed and speed are settings of the profile",
    "MCHTOL": "rounding at corners is left to the controller",
    "ARCSLP": "how arcs are written is a setting of the profile",
    "CLAMP": "when the rotary is clamped follows from the intent of each operation and the profile's clamp",
    "SELCTL": "choosing the next tool early is left to the profile",
}
"""Words that say nothing about what is cut, and where that is said instead."""

REFUSED = {
    "COPY": ("it repeats motion under a transform", "let the system that wrote the file resolve it into points"),
    "INDEX": ("it marks motion to be repeated", "let the system that wrote the file resolve it into points"),
    "PREFUN": ("it asks for a raw code of one controller", "put it into the profile, or let a mapping file ignore it"),
    "AUXFUN": ("it asks for a raw code of one controller", "put it into the profile, or let a mapping file ignore it"),
    "TURRET": ("a mill with a rotary has no turret", "use LOADTL, or translate it to LOADTL in a mapping file"),
    "HEAD": ("choosing a head has no meaning here", "let a mapping file ignore it if there is one head only"),
    "COUPLE": ("the spindle cannot be coupled to the feed", "use CYCLE/TAP"),
    "THREAD": ("a thread with the spindle in step is turned, not milled", "mill it with points, or use CYCLE/TAP"),
    "PITCH": ("a lead belongs to thread cutting", "use CYCLE/TAP with PERREV"),
    "MODE": (
        "it changes what later statements mean, in a way that differs between systems",
        "let a mapping file ignore it if it changes nothing",
    ),
    "RESET": ("what it cancels differs between systems", "state feed, spindle and coolant anew, or let a mapping file ignore it"),
    "SAFETY": ("where the safe position is differs between systems", "write RAPID and GOTO, or RETRCT with CLEARP"),
    "SAFPOS": ("where the safe position is differs between systems", "write RAPID and GOTO, or RETRCT with CLEARP"),
}
"""Words that are known and cannot be carried out: why, and the cure."""

PART_PROGRAM = _words(
    "MACRO TERMAC CALL LOOPST LOOPND JUMPTO IF DO READ RESERV POINT LINE PLANE CYLNDR CONE SPHERE VECTOR MATRIX PATERN GO GOFWD "
    "GOBACK GOLFT GORGT GOUP GODOWN INDIRV INDIRP TLLFT TLRGT TLON PSIS POCKET SCURV SSURF"
)
"""Words of the part program, which the processor has to resolve (APT, from memory)."""

KNOWN = HONOURED | HARMLESS.keys() | REFUSED.keys()


def unknown_word(word: str, mapped: Collection[str]) -> tuple[str, str] | None:
    """What is wrong with a major word that neither the standards nor the mapping file know, and the cure; None if it is known."""
    if word in KNOWN or word in mapped:
        return None
    if word in PART_PROGRAM:
        return (
            f"{word} belongs to the part program; CL data holds resolved points only",
            "let the system that wrote the file process it to CL data",
        )
    close = get_close_matches(word, sorted(KNOWN), n=1, cutoff=0.75)
    meant = f"did you mean {close[0]}? If not, " if close else ""
    return (
        f"the word {word} is not known",
        f'{meant}give its meaning in a mapping file, with --words FILE or words = "FILE" in the job file: '
        f'[words.{word}] means = "ignore", or "note", or a statement such as "LOADTL/{{1}}"',
    )


SHOWN = 72  # columns of a card: as much of a statement as a message shows
_WORD = r"[A-Z][A-Z0-9_]*"
_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[ED][+-]?[0-9]+)?"
_SPOT = re.compile(r"\{(\d+|all)\}")
"""In the meaning of a word: where an argument of it goes."""
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
class Couplet:
    """A minor word, or a literal, with the numbers right after it; the word is empty for numbers before the first word."""

    word: str
    numbers: tuple[float, ...]
    at: int
    """Where it begins in `bare`."""
    literal: bool = False


@dataclass(frozen=True, slots=True)
class Statement:
    """A statement as it stands in the file, its major word and its arguments.

    shown     the statement's lines, blanks round them taken off, for messages
    bare      without blanks, continuation marks and comments, in capitals; empty for a literal statement
    spots     line and column of each character of `bare`, and one more for its end
    file      the file's name
    text      of a literal statement
    at        where the major word begins in `bare`
    """

    shown: str
    bare: str
    spots: Sequence[tuple[int, int]]
    file: str | None
    word: str = ""
    couplets: tuple[Couplet, ...] = ()
    text: str = ""
    at: int = 0

    @property
    def line(self) -> int:
        """The line on which it begins."""
        return self.spots[0][0]

    def error(self, wrong: str, cure: str, at: int | None = None) -> ToolpathError:
        """The error that shows the statement; it points at the major word unless `at` says where."""
        line, column = self.spots[min(self.at if at is None else at, len(self.spots) - 1)]
        return ToolpathError(f"{wrong}, in {shown(self.shown)!r}", place=Place(file=self.file, line=line, column=column), cure=cure)

    def allow(self, known: Collection[str], cure: str = "correct it", refused: Mapping[str, tuple[str, str]] | None = None) -> None:
        """ToolpathError for a minor word that is not known, or that is `refused`: what is wrong with it, and the cure."""
        for couplet in self.couplets:
            if refused and couplet.word in refused:
                raise self.error(*refused[couplet.word], couplet.at)
            if couplet.word and couplet.word not in known:
                raise self.error(f"{self.word} does not know {couplet.word}; allowed are {', '.join(known)}", cure, couplet.at)

    def numbers(self, *counts: int) -> tuple[float, ...]:
        """The arguments, which have to be so many numbers and nothing else."""
        form = f"write {self.word}/" + ",".join("xyzijkr"[: max(counts)])
        for couplet in self.couplets:
            if couplet.word:
                raise self.error(f"{self.word} takes numbers only, found {couplet.word}", form, couplet.at)
        values = self.couplets[0].numbers if self.couplets else ()
        if len(values) not in counts:
            raise self.error(f"{self.word} has {len(values)} numbers; it takes {' or '.join(map(str, counts))}", form)
        return values

    def only_number(self, what: str, form: str, beside: Collection[str] = ()) -> float | None:
        """The only number but for those after the words `beside`; None for none."""
        found = [(value, couplet.at) for couplet in self.couplets if couplet.word not in beside for value in couplet.numbers]
        if len(found) > 1:
            raise self.error(f"{self.word} has more than one {what}", f"write {self.word}/{form}", found[1][1])
        return found[0][0] if found else None

    def only_word(self, *allowed: str, unless_given: str = "") -> str:
        """The only argument, one of the allowed minor words; `unless_given` for a statement without arguments."""
        if not self.couplets and unless_given:
            return unless_given
        if len(self.couplets) != 1 or self.couplets[0].numbers:
            raise self.error(f"{self.word} takes one word: {', '.join(allowed)}", f"write {self.word}/{allowed[0]}")
        self.allow(allowed, "write one of them")
        return self.couplets[0].word


def parse(source: Statement, mapped: Collection[str] = ()) -> Statement:
    """A statement that is not a literal one; ToolpathError with line and column, also for a major word that is not known.

    source    its text, without word and arguments
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
    couplets: list[tuple[str, list[float], int, bool]] = []
    if at < len(bare) and bare[at] != "/":
        raise _mistake(source, at, _NO_SLASH)
    at += 1
    while at < len(bare) or couplets:
        argument = _ARGUMENT.match(bare, at)
        if argument is None:
            raise _mistake(source, at, _NO_ARGUMENT)
        minor, number, literal = argument.groups()
        if number is None:
            couplets.append((minor or literal, [], at, literal is not None))
        else:
            value = float(number.replace("D", "E"))
            if not abs(value) < BEYOND:
                raise source.error("a number too large", f"write a number below {BEYOND:g}", at)
            couplets = couplets or [("", [], at, False)]
            couplets[-1][1].append(value)
        at = argument.end()
        if at == len(bare):
            break
        if bare[at] != ",":
            raise _mistake(source, at, _BADLY_WRITTEN)
        at += 1
    found = tuple(Couplet(minor, tuple(numbers), at, literal) for minor, numbers, at, literal in couplets)
    return replace(source, word=word, couplets=found, at=head.start(1))


def _mistake(source: Statement, at: int, wanted: tuple[str, str]) -> ToolpathError:
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
        word = re.match(_WORD, self.means.upper())
        if word is None or word[0] not in KNOWN or word[0] in LITERAL_WORDS:
            raise broken_rule(
                f"means {self.means!r}, which is neither ignore, note, nor a statement that begins with a standard word",
                'write "ignore", "note", or for example "LOADTL/{1}"',
            )
        return self


class WordsFile(Part):
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
    found = load_toml(path, WordsFile)
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
