"""What to ask at the machine, and which setting each answer leads to; the questions themselves stand in questionnaire.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from steadyrest.profile import Profile
from steadyrest.profile_tools.settings import Absent, said, value_of

_SETTING = re.compile(r'(?<![\w.])[a-z_]+(\.\w+)+( = ("[^"]*"|true|false|-?\d+))?')


@dataclass(frozen=True, slots=True)
class Question:
    """What to look at or to try, in words; the answers, each with the settings that it leads to; the settings that it is about."""

    chapter: str
    look: str
    answers: tuple[tuple[str, str], ...]
    keys: tuple[str, ...]


def questionnaire(profile: Profile) -> Iterator[Question]:
    """The questions for one profile, chapter by chapter: those about the rotary once for each that it has."""
    for chapter in _chapters():
        about_rotary = any("{letter}" in key for question in chapter["questions"] for key in question["keys"])
        for letter, along in [(letter, each.along) for letter, each in profile.rotary.items()] if about_rotary else [("", "")]:
            for question in chapter["questions"]:

                def named(text: str, letter: str = letter, along: str = along) -> str:
                    return text.replace("{letter}", letter).replace("{along}", along)

                answers = tuple((named(answer), named(setting)) for answer, setting in question["answers"])
                yield Question(chapter["title"], named(question["look"]), answers, tuple(map(named, question["keys"])))


@cache
def _chapters() -> list[dict[str, Any]]:
    chapters: list[dict[str, Any]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))["chapters"]
    return chapters


def questions_text(profile: Profile) -> str:
    """The questionnaire as part of a README, with the value that holds now behind each setting."""
    lines: list[str] = []
    chapter, number = "", 0
    for question in questionnaire(profile):
        if question.chapter != chapter:
            chapter, number = question.chapter, 0
            lines += [f"## {chapter}", ""]
        number += 1
        lines += [f"{number}. {question.look}", ""]
        lines += [f"   * {answer}: {_coded(setting)}" if setting else f"   * {_coded(answer)}" for answer, setting in question.answers]
        held = [(key, value_of(profile, key)) for key in question.keys]
        lines += ["", "   Now: " + ", ".join(f"`{key} = {said(value)}`" for key, value in held if not isinstance(value, Absent)), ""]
    return "\n".join(lines)


def _coded(text: str) -> str:
    """Settings, with their values, set as code."""
    return _SETTING.sub(r"`\g<0>`", text)
