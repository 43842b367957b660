"""A new profile's folder, which works at once: controller.toml, README with the questionnaire, a first part, and a test.

How the files look stands in the templates of the folder `starter`, what to ask at the machine in questionnaire.toml.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from steadyrest.errors import OutputError, Place, ProfileError, Refused
from steadyrest.posting import posted_text
from steadyrest.profile import FILE_NAME, Profile, ResolvedProfile, bundled_folder, folder_of, has_one_in_table, resolve
from steadyrest.profile_tools.example import Claim
from steadyrest.profile_tools.proposal import Proposal, proposal, sorted_claims
from steadyrest.profile_tools.settings import Absent, said, value_of, with_values
from steadyrest.profile_tools.stating import plain_comment
from steadyrest.profile_tools.trial import tried_gauge_lengths, try_out
from steadyrest.progress import FITTING, Progress, Work
from steadyrest.reading import opened_program
from steadyrest.toolpath import parse_toolpath

_SETTING = re.compile(r'(?<![\w.])([a-z_]+(\.\w+)+( = ("[^"]*"|true|false|-?\d+))?|chain = "[^"]*")')
_VALUE = re.compile(r'(?<![\w.])([a-z_]+(?:\.\w+)+|chain) = ("[^"]*"|true|false|-?\d+)')
NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
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


@dataclass(frozen=True, slots=True)
class Created:
    """A new profile.

    parent     the name of the profile that it extends
    proposal   what the example showed; None without one
    stated     settings that it shows and the parent has otherwise; they are set
    asked      those that have to be asked first, and why
    same       those that are as in the parent
    profile    what it is
    text       of its controller.toml
    """

    folder: Path
    parent: str
    proposal: Proposal | None
    stated: list[Claim]
    asked: list[tuple[Claim, str]]
    same: list[Claim]
    profile: Profile
    text: str = ""


def create(
    name: str,
    parent: str,
    inside: Path,
    *,
    sets: Sequence[str] = (),
    example: Path | None = None,
    sources: Mapping[str, str] | None = None,
    progress: Progress | None = None,
    make: bool = True,
) -> Created:
    """Make the folder NAME inside another one.

    parent    name or path of the profile to extend
    sets      KEY=VALUE: differences that are known already
    example   a trusted program; what it shows is stated, with the line that shows it
    sources   by dotted key of `sets`, where that was seen: the comment behind its line
    progress  is told how many programs were written to try what it shows
    make      False: its first part is tried, and nothing is made
    raises    ProfileError for names, parents and settings that are wrong, ProgramError for an example that is no program, OutputError
              where the folder exists or cannot be made, Refused where the first part is not proved. Nothing is left behind then.
    """
    folder = inside / name
    if not NAME.fullmatch(name):
        cure = "use small letters, digits and hyphens, such as corner-mill"
        raise ProfileError(f"{name!r} cannot be the name of a profile", cure=cure)
    if (bundled_folder() / name).is_dir():
        raise ProfileError(f"there is a bundled profile called {name}", cure="choose a name that only your shop has")
    if os.path.lexists(folder):
        raise OutputError("exists already, and is never overwritten", place=Place(file=str(folder)), cure="choose another name")
    # The parent by its name where the new folder finds it by that, else by the way there, from where the command is run.
    extends, parent_folder = parent, None
    if Path(parent).name == parent:
        with suppress(ProfileError):
            parent_folder = folder_of(parent, folder)
    if parent_folder is None:
        parent_folder = Path(os.path.abspath(folder_of(parent)))
        extends = Path(os.path.relpath(parent_folder, folder)).as_posix()
    resolved, given = resolve(parent_folder), _given(parent_folder, sets)
    created = _shown(folder, resolved, given, example, progress)
    profile = with_values(resolved.profile, {**{claim.key: claim.value for claim in created.stated}, **given})
    created = replace(created, text=_controller_text(created, extends, resolved.profile, given, sources or {}), profile=profile)
    if not make:
        trial = try_out(parse_toolpath(first_part(profile)), replace(resolved, profile=profile))
        if trial.outcome != "proved":
            raise trial.error or Refused("the first part is not proved", screen=trial.words)
        return created
    with _fails_as(folder, "made"):
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
    try:
        _write(folder / FILE_NAME, created.text)
        _write(folder / "README.md", _readme_text(created))
        _write(folder / PART, json.dumps(first_part(profile), indent=1) + "\n")
        lengths = tried_gauge_lengths(parse_toolpath(first_part(profile)), profile)
        program = posted_text(folder / PART, folder, gauge_lengths=lengths).splitlines()
        _write(folder / f"test_{name.replace('-', '_')}.py", _test_text(name, profile, program, lengths))
    except BaseException:
        shutil.rmtree(folder)
        raise
    return created


def _given(parent: str | Path, sets: Sequence[str]) -> dict[str, Any]:
    """The settings that are known already, by their keys."""
    profile = resolve(parent, sets).profile
    keys = [".".join(part.strip() for part in each.partition("=")[0].split(".")) for each in sets]
    return {key: value_of(profile, key) for key in keys}


def _shown(
    folder: Path, resolved: ResolvedProfile, given: Mapping[str, Any], example: Path | None, progress: Progress | None = None
) -> Created:
    """What an example shows that is not given already, sorted by what is done with it."""
    found: Proposal | None = None
    if example is not None:
        with opened_program(example) as opened:
            found = proposal(opened.read(), str(example), resolved.profile)

    work = Work(progress, FITTING)

    def fails(profile: Profile) -> str:
        work.on()
        return try_out(parse_toolpath(first_part(profile)), replace(resolved, profile=profile)).words

    claims = sorted_claims(found.claims if found is not None else (), resolved.profile, given, fails)
    return Created(folder, resolved.profile.name, found, *claims, resolved.profile)


@contextmanager
def _fails_as(path: Path, cannot: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise OutputError(f"cannot be {cannot}: {error.strerror}", place=Place(file=str(path)), cure="name another folder") from None


def _write(file: Path, text: str) -> None:
    with _fails_as(file, "written"):
        file.write_text(text, encoding="utf-8", newline="\n")


def _controller_text(created: Created, extends: str, parent: Profile, given: Mapping[str, Any], sources: Mapping[str, str]) -> str:
    """controller.toml: the differences that are known, each with its source, and the first questions as comments."""
    taken = {*given, *(claim.key for claim in created.stated)}
    letters: list[str] = [*parent.rotary] or [""]
    keys = [key.format(letter=letter) for key in ASKED_FIRST for letter in (letters if "{letter}" in key else letters[:1])]
    values = [(key, value_of(parent, key)) for key in keys if key not in taken]
    left = [(key, value) for key, value in values if not isinstance(value, Absent)]
    name = created.folder.name
    speaks = f"{name}, like {parent.name}: say here in one sentence what this controller speaks and how its rotary is mounted."
    names = {"name": name, "extends": extends, "parent": parent.name, "speaks": speaks}
    return _rendered("controller.toml", **names, given=given, seen=sources, claims=created, left=left)


def _readme_text(created: Created) -> str:
    profile = created.profile
    shown = (
        ("Different from the parent, and stated in `controller.toml`:", [(claim, "") for claim in created.stated]),
        ("To be asked first; a comment in `controller.toml`:", created.asked),
        ("The same as the parent:", [(claim, "") for claim in created.same]),
    )
    which = [""] if has_one_in_table(profile) else [f" --rotary {letter}" for letter in profile.rotary]
    turns, ending, path = which if profile.rotary else [], profile.program.extension, shlex.quote(created.folder.as_posix())
    lengths = " --tool-length 1=LENGTH" if tried_gauge_lengths(parse_toolpath(first_part(profile)), profile) else ""
    names = {"name": created.folder.name, "folder": path, "parent": created.parent, "part": PART, "ending": ending, "turns": turns}
    names |= {"lengths": lengths}
    return _rendered("README.md", **names, proposal=created.proposal, shown=shown, questions=questions_text(profile).rstrip())


def _test_text(name: str, profile: Profile, program: Sequence[str], lengths: Mapping[int, float]) -> str:
    """The test file: the end of the first program as it came out when the folder was made; the mounting once somebody has seen it."""
    last = next((at for at in reversed(range(len(program))) if profile.stops.end and profile.stops.end in program[at]), len(program) - 1)
    seen = next((f'{{"{letter}": ("{at.chuck_faces}", "{at.positive_turns_chuck}")}}' for letter, at in profile.rotary.items()), "")
    letters = "".join(rotary.word_letter(letter) for letter, rotary in profile.rotary.items())
    turns = re.compile(rf"^[^(;]*(?<![A-Z])[{letters}][+-]?\.?\d" if letters else "(?!)")
    turn = next((line for line in reversed(program) if turns.match(line)), "")
    rotaries, end = list(profile.rotary), list(program[last:])
    given = f", gauge_lengths={dict(lengths)}" if lengths else ""
    return _rendered("test_profile.py", name=name, part=PART, rotaries=rotaries, seen=seen, turn=turn, end=end, lengths=given)


def _rendered(file: str, **names: object) -> str:
    folder = FileSystemLoader(Path(__file__).with_name("starter"))
    environment = Environment(loader=folder, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    environment.filters |= {"said": said, "source": _source, "plain": _plain, "comment": plain_comment, "json": json.dumps}
    return environment.get_template(f"{file}.j2").render(**names)


def questionnaire(profile: Profile) -> Iterator[tuple[str, dict[str, Any]]]:
    """The questions for one profile, each with its chapter: those about the rotary once for each that it has; those for some machines only
    where it is one.

    look      what to look at or to try
    answers   each with the settings that it leads to
    keys      the settings that it is about
    """
    two = dict(zip(("{first}", "{second}"), profile.rotary, strict=False)) if len(profile.rotary) == 2 else {}
    asked = {None, "alone" if has_one_in_table(profile) else "chain", *(["two"] if two else [])}
    for chapter in tomllib.loads(Path(__file__).with_name("questionnaire.toml").read_text(encoding="utf-8"))["chapters"]:
        questions = [each for each in chapter["questions"] if {chapter.get("where"), each.get("where")} <= asked]
        text = json.dumps(questions)
        for name, of_two in two.items():
            text = text.replace(name, of_two)
        for letter, along in [(letter, each.along) for letter, each in profile.rotary.items()] if "{letter}" in text else [("", "")]:
            for question in json.loads(text.replace("{letter}", letter).replace("{along}", along)):
                yield chapter["title"], question


def answered(settings: str) -> dict[str, Any]:
    """The values that an answer of the questionnaire leads to, by dotted key; a setting that it only names is left to whoever answers."""
    return {found[1]: tomllib.loads(f"value = {found[2]}")["value"] for found in _VALUE.finditer(settings)}


def named_settings(question: Mapping[str, Any]) -> list[str]:
    """The dotted keys that a question and its answers name, in their order."""
    named = (found[0].partition(" = ")[0] for answer in question["answers"] for text in answer for found in _SETTING.finditer(text))
    return list(dict.fromkeys([*question["keys"], *named]))


def questions_text(profile: Profile) -> str:
    """The questionnaire as part of a README, with the value that holds now behind each setting."""
    lines: list[str] = []
    for chapter, asked in groupby(questionnaire(profile), itemgetter(0)):
        lines += [f"## {chapter}", ""]
        for number, (_, question) in enumerate(asked, 1):
            lines += [f"{number}. {question['look']}", ""]
            lines += [
                f"   * {answer}: {_coded(setting)}" if setting else f"   * {_coded(answer)}" for answer, setting in question["answers"]
            ]
            held = [(key, value_of(profile, key)) for key in question["keys"]]
            lines += ["", "   Now: " + ", ".join(f"`{key} = {said(value)}`" for key, value in held if not isinstance(value, Absent)), ""]
    return "\n".join(lines)


def _coded(text: str) -> str:
    return _SETTING.sub(r"`\g<0>`", text)


def first_part(profile: Profile) -> dict[str, Any]:
    """A small toolpath that the profile's controller can run: two faces, or one where nothing turns."""
    along = next((each.along for each in profile.rotary.values() if has_one_in_table(profile) or each.along != "Z"), "X")
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


def _source(claim: Claim) -> str:
    where = f"line {claim.line}: {_plain(claim.text)}" if claim.line else "the whole example"
    return f"{where} ({_plain(claim.why)})"


def _plain(text: str) -> str:
    """Text that can stand in a comment or a sentence."""
    return "".join(c if " " <= c <= "~" else " " for c in text).replace("`", "'")


def created_text(created: Created) -> str:
    """One screen, or as long as the example has things to show."""
    lines = [f"{created.folder}: created, extends {created.parent}; its first part was posted and proved"]
    if created.proposal is not None:
        lines += ["", f"{created.proposal.example} shows these settings that differ from {created.parent}; they are set now:"]
        lines += _claims([(claim, "") for claim in created.stated])
        if created.asked:
            lines += ["", "check these first; they are comments in controller.toml:", *_claims(created.asked)]
        lines += ["", f"{len(created.same)} more settings that it shows are the same as in {created.parent}; README.md lists them"]
        lines += ["", "it does not show:", *(f"  - {sentence}" for sentence in created.proposal.unknown)]
    lines += [
        "",
        f"next: go through {created.folder / 'README.md'} at the machine, then",
        f"      steadyrest controller check {created.folder}",
    ]
    return "\n".join(lines)


def _claims(claims: Sequence[tuple[Claim, str]]) -> list[str]:
    lines: list[str] = []
    for claim, reason in claims:
        where = f"line {claim.line}: {claim.text}" if claim.line else "the whole file"
        lines += [f"  {claim.key} = {said(claim.value)}", f"      {where}  ({claim.why})", *([f"      {reason}"] if reason else [])]
    return lines or ["  nothing"]
