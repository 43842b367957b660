"""One word of a finished program changed by hand: the proof names its line, and says what the word says and what it should say."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from planting import Program
from program_text import Text

from steadyrest.errors import SteadyrestError
from steadyrest.posting import posted_text
from steadyrest.profile import load_profile
from steadyrest.proof import Failure, prove
from steadyrest.toolpath import load_toolpath

TOUR = sorted((Path(__file__).parent.parent / "golden" / "tour").glob("*.toolpath.json"))
EDITS = 120
"""In each dialect."""
ON_THE_LINE, WITH_BOTH_VALUES = 0.9, 0.8
"""Least shares of the edits that are refused. An edit is not always to be seen where it is: a height that is another's as well, a word
that now says what stood before. And a rule such as a step of a peck has no one value that would be right."""


@dataclass(frozen=True)
class Edit:
    """One word of line `at` (from 0) changed from one number to another."""

    program: Program
    at: int
    letter: str
    was: float
    now: float
    text: Text


@cache
def programs(name: str) -> list[Program]:
    found = []
    for path in TOUR:
        try:
            found.append(Program.of(posted_text(path, name), load_toolpath(path), load_profile(name)))
        except SteadyrestError:
            continue
    return found


def drawn(name: str, chance: random.Random) -> Edit | None:
    """A word of axes, rotary, F, S, T, H or a cycle, with another number."""
    program = chance.choice(programs(name))
    at = chance.randrange(len(program.text.lines))
    words = {letter: number for letter, number in program.text.words(at).items() if number and letter in "XYZABCFSTHRQP"}
    if not words:
        return None
    letter = chance.choice(sorted(words))
    inverse = any(block.at == at and block.inverse for block in program.blocks)
    whole = letter in "TH"
    counts = not whole and program.form(letter, inverse).point == "counts" and "." not in words[letter]
    unit = 10.0 ** -program.decimals(letter, inverse) if counts else 1.0
    was = float(words[letter]) * unit
    step = chance.choice([0.2, 1, 5, 20]) / (25.4 if program.inch else 1)
    if whole:
        now = was + 1
    elif letter in "FS":
        now = was * chance.choice([0.5, 1.1, 2, 10] if letter == "F" else [0.5, 1.1, 2])
    else:
        now = chance.choice([was + step, was - step, -was, 10 * was])
    spelled = str(round(now)) if whole or letter == "S" else program.spelled(letter, abs(now) if letter in "QP" else now, inverse)
    if float(spelled) == float(words[letter]):
        return None
    return Edit(program, at, letter, was, float(spelled) * unit, program.text.number(at, letter, spelled))


def refused(edit: Edit) -> Failure | None:
    try:
        return prove(str(edit.text).encode("latin-1"), edit.program.toolpath, edit.program.profile).failure
    except SteadyrestError:
        return None  # the reader names the place


def says(sentence: str, value: float) -> bool:
    numbers = [float(number) for number in re.findall(r"-?\d+\.?\d*", sentence)]
    return any(abs(abs(number) - abs(value)) <= 1e-3 * max(1.0, abs(value)) for number in numbers)


@pytest.mark.parametrize(
    "name", ["rs274ngc", "limited-clamped", "plain-lines", "radius-arcs", "inverse-seconds", "iso6983-degrees-in-f", "counts-numbered"]
)
def test_a_changed_word_is_named_on_its_line_with_what_it_says_and_should_say(name: str) -> None:
    chance = random.Random(f"edits of {name}")
    judged, lines, values = 0, 0, 0
    for _ in range(EDITS):
        edit = drawn(name, chance)
        failure = refused(edit) if edit is not None else None
        if edit is None or failure is None:
            continue
        judged += 1
        lines += failure.place.line == edit.at + 1
        # in inverse time, and where axes are counted, F is no speed: what is right is said as one
        right = edit.letter == "F" or says(failure.sentence, edit.was)
        values += says(failure.sentence, edit.now) and right
    assert judged > EDITS / 3
    assert lines >= ON_THE_LINE * judged, f"{lines} of {judged} on their line"
    assert values >= WITH_BOTH_VALUES * judged, f"{values} of {judged} with both values"


def test_a_changed_step_is_named_on_its_line() -> None:
    """Of steps all that comes after is elsewhere: the first block that shows it is named."""
    chance = random.Random("edits of steps")
    edits = [edit for _ in range(EDITS) if (edit := drawn("incremental", chance)) is not None]
    failures = [(edit, failure) for edit in edits if (failure := refused(edit)) is not None]
    assert len(failures) > EDITS / 3
    assert sum(failure.place.line == edit.at + 1 for edit, failure in failures) >= 0.85 * len(failures)
