"""The files of a new profile's folder, as text; how they look stands in the templates of the folder `starter`."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from steadyrest.profile import Profile
from steadyrest.profile_tools.example import Claim
from steadyrest.profile_tools.proposal import Proposal, Sorted
from steadyrest.profile_tools.questionnaire import questions_text
from steadyrest.profile_tools.settings import Absent, said, value_of

PART = "first_part.toolpath.json"

ASKED_FIRST = (
    "rotary.{letter}.chuck_faces",
    "rotary.{letter}.positive_turns_chuck",
    "rotary.{letter}.travel.kind",
    "feed.per_minute_counts",
    "numbers.length.decimals",
    "words.spaces",
    "stops.end",
)
"""What most often is another thing than in the parent: these stand in the file as comments, ready to be changed."""


def controller_text(name: str, extends: str, parent: Profile, given: Mapping[str, Any], claims: Sorted) -> str:
    """controller.toml: the differences that are known, each with its source, and the first questions as comments."""
    taken = {*given, *(claim.key for claim in claims.stated)}
    letters: list[str] = [*parent.rotary] or [""]
    keys = [key.format(letter=letter) for key in ASKED_FIRST for letter in (letters if "{letter}" in key else letters[:1])]
    values = [(key, value_of(parent, key)) for key in keys if key not in taken]
    return _rendered(
        "controller.toml",
        name=name,
        extends=extends,
        parent=parent.name,
        speaks=f"{name}, like {parent.name}: say here in one sentence what this controller speaks and how its rotary is mounted.",
        given=given,
        stated=claims.stated,
        asked=claims.asked,
        left=[(key, value) for key, value in values if not isinstance(value, Absent)],
    )


def readme_text(name: str, folder: str, profile: Profile, parent: str, proposal: Proposal | None, claims: Sorted) -> str:
    """README.md: what to do next, what the example showed, and the questionnaire.

    folder   the profile's, from where the commands are given, as a shell takes it
    """
    shown = (
        ("Different from the parent, and stated in `controller.toml`:", [(claim, "") for claim in claims.stated]),
        ("To be asked first; a comment in `controller.toml`:", claims.asked),
        ("The same as the parent:", [(claim, "") for claim in claims.same]),
    )
    return _rendered(
        "README.md",
        name=name,
        folder=folder,
        parent=parent,
        part=PART,
        ending=profile.program.extension,
        turns=bool(profile.rotary),
        proposal=proposal,
        shown=shown,
        questions=questions_text(profile).rstrip(),
    )


def test_text(name: str, profile: Profile, program: Sequence[str]) -> str:
    """The test file: the end of the first program as it came out when the folder was made; the mounting once somebody has seen it."""
    last = next((at for at in reversed(range(len(program))) if profile.stops.end and profile.stops.end in program[at]), len(program) - 1)
    seen = [f'{{"{letter}": ("{each.chuck_faces}", "{each.positive_turns_chuck}")}}' for letter, each in profile.rotary.items()]
    end, turn = list(program[last:]), _turn(profile, program)
    rotaries = list(profile.rotary)
    return _rendered("test_profile.py", name=name, part=PART, rotaries=rotaries, seen="".join(seen[:1]), turn=turn, end=end)


def first_part(profile: Profile) -> dict[str, Any]:
    """A small toolpath that the profile's controller can run: two faces, or one where nothing turns."""
    along = next(iter(profile.rotary.values())).along if profile.rotary else "X"
    ends = [(30, 10), (30, -1), (20, -1), (20, 10)] if along == "Z" else [(-10, 26), (-10, 19), (-30, 19), (-30, 26)]
    places = [[0, end, z] if along == "Y" else [end, 0, z] for end, z in ends]
    rotary = {"intent": "indexed", "angles": [0, 90]} if profile.rotary else {"intent": "still"}
    moves = [{"rapid": places[0]}, {"cut": places[1], "feed": 150}, {"cut": places[2], "feed": 400}, {"rapid": places[3]}]
    return {
        "steadyrest_toolpath": 1,
        "name": "first part",
        "units": "mm",
        "axis": along,
        "stock": {"shape": "round", "diameter": 40, "from": -60, "to": 0},
        "tools": [{"number": 1, "name": "6 mm end mill", "shape": "flat", "diameter": 6}],
        "operations": [
            {"name": "slots", "tool": 1, "spindle": {"rpm": 3000, "turns": "clockwise"}, "coolant": "off", "rotary": rotary, "moves": moves}
        ],
    }


def source(claim: Claim) -> str:
    """Where a claim was seen, as a comment."""
    where = f"line {claim.line}: {plain(claim.text)}" if claim.line else "the whole example"
    return f"{where} ({plain(claim.why)})"


def plain(text: str) -> str:
    """Text that can stand in a comment or a sentence."""
    return "".join(c if " " <= c <= "~" else " " for c in text).replace("`", "'")


def _turn(profile: Profile, program: Sequence[str]) -> str:
    """The last line that turns the rotary."""
    letters = "".join(rotary.word_letter(letter) for letter, rotary in profile.rotary.items())
    pattern = re.compile(rf"^[^(;]*(?<![A-Z])[{letters}][+-]?\.?\d" if letters else "(?!)")
    return next((line for line in reversed(program) if pattern.match(line)), "")


def _rendered(file: str, **names: object) -> str:
    folder = FileSystemLoader(Path(__file__).with_name("starter"))
    environment = Environment(loader=folder, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    environment.filters |= {"said": said, "source": source, "plain": plain, "json": json.dumps}
    return environment.get_template(f"{file}.j2").render(**names)
