"""The files of a new profile's folder, as text."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

from steadyrest.profile import Profile
from steadyrest.profile_tools.claims import Claim
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


def controller_text(name: str, extends: str, parent: Profile, given: Mapping[str, Any], sorted_: Sorted | None) -> str:
    """controller.toml: the differences that are known, each with its source, and the first questions as comments."""
    speaks = f"{name}, like {parent.name}: say here in one sentence what this controller speaks and how its rotary is mounted."
    lines = [
        f"# {name}: only what is different from {parent.name}. `steadyrest controller show` prints all that holds.",
        "# Behind each setting stands where it was seen: the page of the manual, the line of a trusted program, the machine itself.",
        "# Settings stand by their full names, such as rotary.A.chuck_faces, above any heading in brackets.",
        f"extends = {said(extends)}",
        f"speaks = {said(speaks)}",
        "",
    ]
    lines += [f"{key} = {said(value)}  # stated when this file was made: say here where it was seen" for key, value in given.items()]
    if sorted_ is not None and sorted_.stated:
        lines += ["# Shown by the example, and different from the parent."]
        lines += [f"{claim.key} = {said(claim.value)}  # {source(claim)}" for claim in sorted_.stated]
        lines.append("")
    if sorted_ is not None and sorted_.asked:
        lines += ["# Ask first, then take the # away."]
        lines += [f"# {claim.key} = {said(claim.value)}  # {source(claim)}: {_plain(reason)}" for claim, reason in sorted_.asked]
        lines.append("")
    taken = {*given, *((claim.key for claim in sorted_.stated) if sorted_ else ())}
    letters: list[str] = [*parent.rotary] or [""]
    keys = [key.format(letter=letter) for key in ASKED_FIRST for letter in (letters if "{letter}" in key else letters[:1])]
    shown = [(key, value_of(parent, key)) for key in keys if key not in taken]
    lines += [f"# As in {parent.name}. Where README.md leads you to another answer, take the # away, change it, and say where you saw it."]
    lines += [f"# {key} = {said(value)}" for key, value in shown if not isinstance(value, Absent)]
    return "\n".join(lines) + "\n"


def source(claim: Claim) -> str:
    """Where a claim was seen, as a comment."""
    where = f"line {claim.line}: {_plain(claim.text)}" if claim.line else "the whole example"
    return f"{where} ({_plain(claim.why)})"


def readme_text(name: str, folder: str, profile: Profile, parent: str, proposal: Proposal | None, sorted_: Sorted | None) -> str:
    """README.md: what to do next, what the example showed, and the questionnaire.

    folder   the profile's, from where the commands are given, as a shell takes it
    """
    parts = [
        f"# {name}",
        f"One controller, as its machine stands in this shop. `controller.toml` states only what is different from `{parent}`.",
        "\n".join(
            [
                "1. Go through the questions below, at the machine. Write an answer into `controller.toml` only where it differs from",
                "   what holds now, and say behind it where you saw it.",
                f"2. Give the commands below from where `{folder}` was made: `controller check` after every change, `pytest` before every",
                "   commit. The first time, `pytest --update-goldens` keeps the programs of the tour: read them as new ones.",
                f"   Under version control, `steadyrest controller compare {folder}@HEAD` shows what an edit changes in each of them.",
                "3. First program: above the part, single block, rapid and feed turned down, hand on feed hold.",
            ]
        ),
        "\n".join(["```sh", *_commands(folder, profile), "```"]),
    ]
    if proposal is not None and sorted_ is not None:
        parts.append(_example_text(proposal, sorted_))
    return "\n\n".join(parts) + "\n\n" + questions_text(profile).rstrip() + "\n"


def _commands(folder: str, profile: Profile) -> list[str]:
    ending = profile.program.extension
    turns = [f"steadyrest turn-check --controller {folder} --output turn{ending}"] if profile.rotary else []
    return [
        *turns,
        f"steadyrest controller check {folder}",
        "pytest --update-goldens",
        f"steadyrest post {folder}/{PART} --controller {folder} --output first_part{ending}",
    ]


def test_text(name: str, profile: Profile, program: Sequence[str]) -> str:
    """The test file: the end of the first program as it came out when the folder was made; the mounting once somebody has seen it."""
    last = next((at for at in reversed(range(len(program))) if profile.stops.end and profile.stops.end in program[at]), len(program) - 1)
    end = list(program[last:])
    turn = _turn(profile, program)
    lines = [
        f'"""What this shop relies on in {name}. Read each line once; from then on a change that breaks it is noticed."""',
        "",
        "from pathlib import Path",
        "",
        *(["import pytest", ""] if profile.rotary else []),
        "from steadyrest import posted_text",
        "from steadyrest.profile import load_profile",
        "",
        "HERE = Path(__file__).parent",
        *_waiting(profile, turn),
        "",
        "",
        "def program() -> list[str]:",
        f'    return posted_text(HERE / "{PART}", HERE).splitlines()',
        "",
        "",
        "def test_the_program_ends_as_the_controller_wants_it() -> None:",
        f"    assert {json.dumps(end)} == program()[-{len(end)}:]",
    ]
    for letter in profile.rotary:
        lines += [
            "",
            "",
            f"def test_rotary_{letter.lower()}_is_mounted_as_it_was_seen() -> None:",
            f'    if "{letter}" not in SEEN:',
            f'        pytest.skip("nobody has looked at rotary {letter} yet: do the turn check, then fill in SEEN")',
            f'    rotary = load_profile(HERE).rotary["{letter}"]',
            f'    assert SEEN["{letter}"] == (rotary.chuck_faces, rotary.positive_turns_chuck)',
        ]
    if turn:
        lines += [
            "",
            "",
            "def test_the_second_face_is_turned_to_with_the_line_that_was_read() -> None:",
            "    if not SECOND_FACE:",
            '        pytest.skip("which line turns to the second face hangs on the mounting: look at it first, then fill in SECOND_FACE")',
            "    assert SECOND_FACE in program()",
        ]
    return "\n".join(lines) + "\n"


def _waiting(profile: Profile, turn: str) -> list[str]:
    """What is filled in once the mounting was seen; the tests of it wait until then."""
    if not profile.rotary:
        return []
    letter, rotary = next(iter(profile.rotary.items()))
    example = f'{{"{letter}": ("{rotary.chuck_faces}", "{rotary.positive_turns_chuck}")}}'
    lines = ["", f"SEEN: dict[str, tuple[str, str]] = {{}}  # fill in what you saw, for example {example}"]
    if turn:
        lines.append(
            f'SECOND_FACE = ""  # then the line that turns to 90 degrees, as you read it; with the mounting above: {json.dumps(turn)}'
        )
    return lines


def first_part(profile: Profile) -> dict[str, Any]:
    """A small toolpath that the profile's controller can run: two faces, or one where nothing turns."""
    along = next(iter(profile.rotary.values())).along if profile.rotary else "X"
    if along == "Z":
        moves: list[dict[str, Any]] = [
            {"rapid": [30, 0, 10]},
            {"cut": [30, 0, -1], "feed": 150},
            {"cut": [20, 0, -1], "feed": 400},
            {"rapid": [20, 0, 10]},
        ]
    else:
        ends = [(-10, 26), (-10, 19), (-30, 19), (-30, 26)]
        places = [[end, 0, z] if along == "X" else [0, end, z] for end, z in ends]
        moves = [{"rapid": places[0]}, {"cut": places[1], "feed": 150}, {"cut": places[2], "feed": 400}, {"rapid": places[3]}]
    rotary = {"intent": "indexed", "angles": [0, 90]} if profile.rotary else {"intent": "still"}
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


def _example_text(proposal: Proposal, sorted_: Sorted) -> str:
    """What an example showed, and what it could not."""
    lines = [f"## What {_plain(proposal.example)} shows", ""]
    for title, rows in (
        ("Different from the parent, and stated in `controller.toml`:", [(claim, "") for claim in sorted_.stated]),
        ("To be asked first; a comment in `controller.toml`:", list(sorted_.asked)),
        ("The same as the parent:", [(claim, "") for claim in sorted_.same]),
    ):
        if rows:
            lines += [title, ""]
            lines += [
                f"* `{claim.key} = {said(claim.value)}`: {source(claim)}" + (f"; {_plain(reason)}" if reason else "")
                for claim, reason in rows
            ]
            lines.append("")
    lines += ["It does not show:", "", *(f"* {_plain(sentence)}" for sentence in proposal.unknown)]
    return "\n".join(lines)


def _turn(profile: Profile, program: Sequence[str]) -> str:
    """The last line that turns the rotary."""
    letters = "".join(rotary.replaces or letter for letter, rotary in profile.rotary.items())
    if not letters:
        return ""
    pattern = re.compile(rf"^[^(;]*(?<![A-Z])[{letters}][+-]?\.?\d")
    turning = [line for line in program if pattern.match(line)]
    return turning[-1] if turning else ""


def _plain(text: str) -> str:
    """Text that can stand in a comment or a sentence."""
    return "".join(c if " " <= c <= "~" else " " for c in text).replace("`", "'")
