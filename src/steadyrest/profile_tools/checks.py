"""Is a profile right? All checks, in the order in which a mistake would make the next ones meaningless; and how what they find is said.

Its settings are valid, its templates too, each setting has a source and does something. Then the tour is posted and proved, also under
settings that nobody would choose: every program is proved, or refused in words, and never in between.
"""

from __future__ import annotations

import json
import re
import textwrap
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Literal

from steadyrest.errors import ProfileError, SteadyrestError, TemplateError
from steadyrest.events import EVENTS
from steadyrest.folding import width as width_of
from steadyrest.model_errors import nearest
from steadyrest.profile import (
    FILE_NAME,
    Profile,
    ResolvedProfile,
    folder_of,
    kept_key,
    leaves,
    line_of,
    read_toml,
    resolve,
    said_names,
)
from steadyrest.profile_tools.new_profile import questionnaire
from steadyrest.profile_tools.reach import reach_in_words
from steadyrest.profile_tools.settings import NOT_IN_PROGRAMS, Absent, said, table_of, value_of, with_values
from steadyrest.profile_tools.trial import Trial, events_reached, matters, program_text, tour, tried
from steadyrest.progress import TRYING, Progress, Work
from steadyrest.proof import prove
from steadyrest.toml_text import lines_of_keys
from steadyrest.toolpath import Toolpath, parse_toolpath
from steadyrest.writing import Templates

Level = Literal["good", "remark", "wrong", "refused"]

WIDTH = 110

_QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'")
_SOURCE = re.compile(r"#\s*\S.*\S")
_WORD = re.compile(r"[A-Z]-?[0-9.]+")
TRUSTED = "codes.trusted"
_LIMITS = re.compile(r"(^|\.)(largest\w*|longest\w*|smallest\w*|fastest|travel|from|to|characters)$")
"""Limits show only in a program that comes near them, and the tour's parts are small: no remark about those."""


@dataclass(frozen=True, slots=True)
class Result:
    """One finding.

    check   which check found it: "settings", "templates", "sources", "chain", "effect", "tour", "extreme"
    what    the setting, file, toolpath or trial that it is about
    level   "good"; "remark": worth a look; "wrong": the profile is wrong; "refused": a program does not cut what it should
    words   what was found, and the cure
    """

    check: str
    what: str
    level: Level
    words: str


@dataclass(frozen=True, slots=True)
class Report:
    """All findings about one profile."""

    profile: str
    results: tuple[Result, ...]

    def exit_code(self, *, strict: bool = False) -> int:
        """0 good, 1 the profile is wrong (with `strict`: or there are remarks), 3 a program was refused by the proof."""
        levels = {result.level for result in self.results}
        if "refused" in levels:
            return 3
        return 1 if "wrong" in levels or (strict and "remark" in levels) else 0

    def text(self) -> str:
        """A table: a row a finding, later lines of its words below each other."""
        lines, before = [self.profile], ""
        width = min(34, max((len(result.what) for result in self.results), default=0))
        for result in self.results:
            mark = result.level if result.level == "good" else result.level.upper()
            head = f"  {result.check if result.check != before else '':<10}{mark:<9}{result.what:<{width}}  "
            before = result.check
            for line in result.words.splitlines() or [""]:
                below, most = " " * len(head), max(WIDTH, len(head) + 40)
                if width_of(most) < most:  # a narrow terminal: its words stand below it
                    lines += [head.rstrip()] if head.strip() else []
                    head = below = "    "
                wrapper = textwrap.TextWrapper(width_of(most), head, below, break_long_words=False, break_on_hyphens=False)
                lines += wrapper.wrap(line.strip()) or [head]
                head = below
        named: dict[Level, str] = {"good": "good", "remark": "remark(s)", "wrong": "wrong", "refused": "refused by the proof"}
        found = Counter(result.level for result in self.results)
        counts = [f"{found[level]} {words}" for level, words in named.items() if found[level] or level == "good"]
        return "\n".join([*lines, "", f"  {', '.join(counts)}"]) + "\n"

    def data(self, *, strict: bool = False) -> dict[str, Any]:
        """The same as data. Keys are only ever added."""
        return {"profile": self.profile, "exit_code": self.exit_code(strict=strict), "results": [asdict(each) for each in self.results]}


JUST_BEFORE_DEG = 359.98
"""A start at this angle crosses from one turn to the next within the first moves."""

Variant = tuple[str, Mapping[str, Any], bool]
"""A name, the settings that are changed, and whether the angles of the toolpaths are shifted."""


def check(name_or_path: str, progress: Progress | None = None) -> Report:
    """Check a profile by its name or path: settings, templates, sources, effect, the tour, extreme settings.

    progress   is told how many of the programs are written, which it does to try the profile
    What is wrong with the profile is in the report; raises only ProfileError for a name or path that leads to no profile.
    """
    folder = folder_of(name_or_path)
    try:
        resolved = resolve(folder)
    except ProfileError as error:
        found = (Result("settings", each.place.key or "controller.toml", "wrong", each.alone()) for each in (error, *error.also))
        return Report(folder.name, tuple(found))
    return Report(folder.name, tuple(_results(resolved, progress)))


def _results(resolved: ResolvedProfile, progress: Progress | None) -> Iterator[Result]:
    yield Result("settings", "controller.toml", "good", "all known, valid, and possible together")
    toolpaths = tour()
    # The tour is gone through for its events, to be proved, as it is and without each setting, and for each variant; three times mirrored.
    changed = 1 + len(stated_keys(resolved.chain[0])) if len(resolved.chain) > 1 else 0
    rounds = 2 + changed + sum(1 for _ in variants(resolved.profile)) + 3 * bool(resolved.profile.rotary)
    work = Work(progress, TRYING, rounds * len(toolpaths))
    reached = events_reached(toolpaths.values(), resolved)
    work.on(len(toolpaths))
    templates = list(check_templates(resolved, reached))
    yield from templates
    yield from check_sources(resolved.chain[0])
    if any(result.level == "wrong" for result in templates):
        return
    yield from (Result("chain", each.what, "good", each.words) for each in reach_in_words(resolved.profile))
    yield from check_effect(resolved, toolpaths, work)
    yield from check_tour(tried(toolpaths, resolved, work))
    if missed := sorted(EVENTS.keys() - reached):
        yield Result("tour", f"{len(missed)} event(s)", "good", f"not in any of its programs: {', '.join(missed)}")
    yield from check_extreme_settings(resolved, toolpaths, work)
    work.end()


def stated_keys(folder: Path) -> list[str]:
    """The dotted keys that a folder's own controller.toml states, `extends` and `drop` left aside."""
    return list(leaves({key: value for key, value in read_toml(folder / FILE_NAME).items() if key not in ("extends", "drop")}))


def check_sources(folder: Path) -> Iterator[Result]:
    """A setting's source stands in a comment behind it, or on the line above it."""
    sources = _with_source(folder)
    cure = "add a comment after a # with the source: the manual's page, a proven program, the machine itself"
    for key, line in ((key, line) for key, (line, sourced) in sources.items() if not sourced):
        yield Result("sources", key, "remark", f"line {line} gives no source for this value; {cure}")
    if with_source := sum(sourced for _, sourced in sources.values()):
        yield Result("sources", f"{with_source} setting(s)", "good", "with their source in a comment")


def _with_source(folder: Path) -> dict[str, tuple[int, bool]]:
    """By key: its line, and whether a comment says where it comes from."""
    text = (folder / FILE_NAME).read_text(encoding="utf-8-sig").splitlines()
    lines = lines_of_keys("\n".join(text))
    found: dict[str, tuple[int, bool]] = {}
    for key in stated_keys(folder):
        line = lines.get(key) or line_of(folder / FILE_NAME, key)
        if key != "speaks" and line is not None:
            above = text[line - 2] if line > 1 else ""
            found[key] = line, bool(_SOURCE.search(_QUOTED.sub("", text[line - 1])) or re.match(r"\s*#\s*\S", above))
    return found


def check_effect(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath], work: Work | None = None) -> Iterator[Result]:
    """A setting equal to the parent's says nothing; one without which every program of the tour is the same may say nothing.

    Answers to the questions at the machine get no such remark: that somebody has looked is worth its line.
    """
    folder = resolved.chain[0]
    if len(resolved.chain) < 2:
        return
    work, parent = work or Work(None, TRYING), resolve(resolved.chain[1]).profile
    dropped = tuple(str(key) + "." for key in read_toml(folder / FILE_NAME).get("drop", []))
    before = [(each, program_text(each, resolved)) for each in toolpaths.values()]
    at_work = 0
    asked = {key for _, question in questionnaire(resolved.profile) for key in question["keys"]}
    answered = {kept_key(key) for key, (_, sourced) in _with_source(folder).items() if sourced and key in asked}
    for key in map(kept_key, stated_keys(folder)):
        work.on(len(toolpaths))
        if key.startswith(NOT_IN_PROGRAMS) or key in answered:
            continue
        own, inherited = value_of(resolved.profile, key), value_of(parent, key)
        if key == TRUSTED:
            written = {word for _, text in before for word in _WORD.findall(text)}
            for code in (code for code in own if code not in written):
                words = f"{code} is in no program of the tour, but the proof would let it pass; take it out unless a template writes it"
                yield Result("effect", TRUSTED, "remark", words)
        elif own == inherited and not key.startswith(dropped):
            cure = f"the parent {resolved.chain[1].name} has it too: take the line out"
            yield Result("effect", key, "remark", f"{said(own)} is the value without this line too; {cure}")
        elif isinstance(inherited, Absent) or key.startswith(dropped) or matters(key, inherited, resolved, before):
            at_work += 1
        elif own != "" and not _LIMITS.search(key):  # that the controller has no such code is a fact for the reader
            words = f"with {said(inherited)}, as in {resolved.chain[1].name}, every program of the tour is the same"
            yield Result("effect", key, "remark", f"{words}; try it on a toolpath where it matters, or take the line out")
    work.on(len(toolpaths))
    if at_work:
        yield Result("effect", f"{at_work} setting(s)", "good", "change programs of the tour, or other settings need them")


def check_templates(resolved: ResolvedProfile, reached: Collection[str]) -> Iterator[Result]:
    """Syntax, unknown names, arithmetic; then templates that no event uses, that the parent has just so, or that the tour never reaches.

    reached   the events of the tour's programs
    """
    own = resolved.chain[0] / "templates"
    wrong: set[str] = set()
    for mistake in Templates(resolved.template_folders).mistakes():
        wrong.add(name := Path(mistake.place.file or "").name)
        yield Result("templates", name, "wrong", str(mistake))
    texts = {file: file.read_text(encoding="utf-8", errors="replace") for file in sorted(own.glob("*.j2"))}
    for file, text in texts.items():
        if file.name in wrong:
            continue
        others = (folder / file.name for folder in resolved.template_folders if folder != own)
        below = next((other for other in others if other.is_file()), None)
        if file.stem not in EVENTS and not any(f'"{file.name}"' in each or f"'{file.name}'" in each for each in texts.values()):
            cure = said_names("did you mean", [f"{name}.j2" for name in nearest(file.stem, EVENTS)])
            words = "; ".join(filter(None, ["no event has this name, and no template includes it", cure]))
            yield Result("templates", file.name, "remark", words)
        elif below is not None and below.read_text(encoding="utf-8", errors="replace") == text:
            yield Result("templates", file.name, "remark", f"the same as {below}: take it out")
        elif file.stem in EVENTS and file.stem not in reached:
            yield Result("templates", file.name, "remark", "no program of the tour has this event, so the template was read but not tried")
    if not wrong:
        yield Result("templates", f"{len(EVENTS)} event(s)", "good", f"{len(texts)} of their templates are the profile's own")


def check_tour(trials: Mapping[str, Trial]) -> Iterator[Result]:
    """A result for each toolpath: proved, refused in words because the controller cannot, or wrong."""
    for name, trial in trials.items():
        if (verdict := trial.verdict) is not None and verdict.proved:
            words = f"proved: {verdict.whole.lines} lines, at most {verdict.farthest:.4f} {verdict.units} off the toolpath"
            yield Result("tour", name, "good", words)
        elif trial.outcome == "refused" and isinstance(trial.error, TemplateError):
            yield Result("tour", name, "wrong", trial.words)
        elif trial.outcome == "refused" and trial.error is not None:
            where = str(replace(trial.error.place, file=None))  # the file is the tour's
            words = f"{where}: {trial.error.wrong}" if where else trial.error.wrong
            yield Result("tour", name, "good", f"not for this controller: {words}")
        elif trial.outcome == "not proved":
            yield Result("tour", name, "refused", f"the program does not cut what the toolpath asks for: {trial.words}")
        else:
            yield Result("tour", name, "refused", f"{trial.words}; nothing is proved; please report it with this profile")
    if trials and not any(trial.outcome in ("proved", "not proved") for trial in trials.values()):
        words = "no toolpath of the tour can be written for this profile, so nothing about it is proved"
        yield Result("tour", "all", "wrong", f"{words}; read the reasons above")


def variants(profile: Profile) -> Iterator[Variant]:
    """The extreme settings for one profile."""
    coarse = {key: min(value, 1) for key, value in leaves(table_of(profile)).items() if key.endswith("decimals") and value is not None}
    yield "coarse numbers", {**coarse, "numbers.feed.decimals": 0, "numbers.feed.inch_decimals": 0}, False
    yield "inches", {"units.program": "inch"}, False
    yield "millimetres", {"units.program": "mm"}, False
    narrow = {"travel.from": -185, "travel.to": 185, "travel.kind": "limited"}
    of_rotaries: list[Variant] = [
        *((f"narrow travel, {rule}", {**narrow, "travel.when_exceeded": rule}, False) for rule in ("turn_back", "refuse")),
        ("rollover, shortest, start near the wrap", {"travel.kind": "rollover", "travel.rule": "shortest"}, True),
        ("rollover, sign, start near the wrap", {"travel.kind": "rollover", "travel.rule": "sign"}, True),
        ("start near the wrap", {}, True),
        ("always from one side", {"unwinding.between": "one_side"}, False),
    ]
    for name, values, shifted in of_rotaries if profile.rotary else ():
        yield name, {f"rotary.{letter}.{key}": each for letter in profile.rotary for key, each in values.items()}, shifted
    for what in ("chuck_faces", "positive_turns_chuck") if profile.rotary else ():
        yield f"{what} reversed", turned(profile, what), False


def check_extreme_settings(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath], work: Work | None = None) -> Iterator[Result]:
    """A result for each variant, then whether the proof sees a part that would come out mirrored."""
    near = {name: near_the_wrap(toolpath) for name, toolpath in toolpaths.items()}
    work = work or Work(None, TRYING)
    for name, values, shifted in variants(resolved.profile):
        before = work.done
        try:
            changed = replace(resolved, profile=with_values(resolved.profile, values))
        except ProfileError as error:
            yield Result("extreme", name, "good", f"refused as a profile: {error.wrong}")
            work.to(before + len(toolpaths))
            continue
        trials = tried(near if shifted else toolpaths, changed, work)
        outcomes = [trial.outcome for trial in trials.values()]
        words = [f"{outcomes.count('proved')} proved", f"{outcomes.count('refused')} refused with a reason"]
        bad = {outcome: [f"{each}: {trial.words}" for each, trial in trials.items() if trial.outcome == outcome] for outcome in outcomes}
        if broken := bad.get("broken"):
            yield Result("extreme", name, "refused", "; ".join([*words, *broken]))
        elif doubted := bad.get("not proved"):
            words += [f"{len(doubted)} written and refused by the proof", *doubted[:2]]
            yield Result("extreme", name, "remark", "; ".join(words))
        else:
            yield Result("extreme", name, "good", ", ".join(words))
    if resolved.profile.rotary:
        yield from _check_mounting(resolved, toolpaths, work)


def near_the_wrap(toolpath: Toolpath) -> Toolpath:
    """The same toolpath, read again from its file, with the indexed angles and the start of wrapped paths just before a full turn."""
    assert toolpath.file is not None
    data = json.loads(Path(toolpath.file).read_text(encoding="utf-8"))
    for operation in data["operations"]:
        rotary = operation["rotary"]
        if "angles" in rotary:
            rotary["angles"] = [angle + JUST_BEFORE_DEG for angle in rotary["angles"]]
        elif rotary["intent"] == "wrapped":
            rotary["start_angle"] = rotary.get("start_angle", 0) + JUST_BEFORE_DEG
    return parse_toolpath(data)


def turned(profile: Profile, *what: Literal["chuck_faces", "positive_turns_chuck"]) -> dict[str, str]:
    """The settings of a mounting with one fact, or both, turned round."""
    opposite = {"+": "-", "-": "+", "clockwise": "counterclockwise", "counterclockwise": "clockwise"}
    values = {f"rotary.{letter}.{key}": str(getattr(rotary, key)) for letter, rotary in profile.rotary.items() for key in what}
    return {key: opposite.get(value) or opposite[value[0]] + value[1] for key, value in values.items()}


def _check_mounting(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath], work: Work) -> Iterator[Result]:
    """Both facts turned round are the same mounting, so the same program; one of them is a mirrored part, which the proof must see."""
    profile = resolved.profile
    try:
        both = replace(resolved, profile=with_values(profile, turned(profile, "chuck_faces", "positive_turns_chuck")))
        other = replace(resolved, profile=with_values(profile, turned(profile, "chuck_faces")))
    except ProfileError as error:
        yield Result("extreme", "the part's direction of turn", "wrong", str(error))
        return
    unequal, seen, unseen = list[str](), list[str](), list[str]()
    begun = work.done
    for number, (name, toolpath) in enumerate(toolpaths.items()):
        work.to(begun + 3 * number)
        if toolpath.stock is not None:  # without a held end nothing is turned end for end: the two facts alone count
            toolpath = toolpath.model_copy(update={"stock": toolpath.stock.model_copy(update={"held": None})})
        here = _blocks(program_text(toolpath, resolved))
        if here != _blocks(program_text(toolpath, both)):
            unequal.append(name)
        mirrored = program_text(toolpath, other)
        if mirrored.startswith("refused: ") or _blocks(mirrored) == here:
            continue  # nothing turns in it
        (unseen if _proved(mirrored, toolpath, profile) else seen).append(name)
    if unequal:
        words = f"reversing both the chuck and its direction of turn changes the program, and must not: {', '.join(unequal)}"
        yield Result("extreme", "the part's direction of turn", "refused", words)
    if unseen:
        yield Result("extreme", "a mirrored part", "refused", f"the proof does not see it: {', '.join(unseen)}")
    elif seen:
        yield Result("extreme", "a mirrored part", "good", f"the proof refuses it: {', '.join(seen)}")


def _proved(text: str, toolpath: Toolpath, profile: Profile) -> bool:
    try:
        return prove(text.encode("ascii"), toolpath, profile).proved
    except SteadyrestError:
        return False


def _blocks(text: str) -> list[str]:
    """The lines without the comments, one of which names the mounting."""
    lines = (line.split("(")[0].split(";")[0].strip() for line in text.splitlines())
    return [line for line in lines if line]
