"""Has each setting of a controller.toml a source, are its templates right, does each do anything? And how what checks find is said."""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from steadyrest.events import EVENTS
from steadyrest.model_errors import nearest
from steadyrest.profile import FILE_NAME, ResolvedProfile, leaves, line_of, read_toml, resolve, said_names
from steadyrest.profile_tools.new_profile import questionnaire
from steadyrest.profile_tools.settings import NOT_IN_PROGRAMS, Absent, said, value_of
from steadyrest.profile_tools.trial import matters, program_text
from steadyrest.toml_text import lines_of_keys
from steadyrest.toolpath import Toolpath
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

    check   which check found it: "settings", "templates", "sources", "effect", "tour", "extreme"
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
                below = " " * len(head)
                wrapper = textwrap.TextWrapper(max(WIDTH, len(head) + 40), head, below, break_long_words=False, break_on_hyphens=False)
                lines += wrapper.wrap(line.strip()) or [head]
                head = below
        named: dict[Level, str] = {"good": "good", "remark": "remark(s)", "wrong": "wrong", "refused": "refused by the proof"}
        found = Counter(result.level for result in self.results)
        counts = [f"{found[level]} {words}" for level, words in named.items() if found[level] or level == "good"]
        return "\n".join([*lines, "", f"  {', '.join(counts)}"]) + "\n"

    def data(self, *, strict: bool = False) -> dict[str, Any]:
        """The same as data. Keys are only ever added."""
        return {"profile": self.profile, "exit_code": self.exit_code(strict=strict), "results": [asdict(each) for each in self.results]}


def stated_keys(folder: Path) -> list[str]:
    """The dotted keys that a folder's own controller.toml states, `extends` and `drop` left aside."""
    return list(leaves({key: value for key, value in read_toml(folder / FILE_NAME).items() if key not in ("extends", "drop")}))


def check_sources(folder: Path) -> Iterator[Result]:
    """A setting's source stands in a comment behind it, or on the line above it."""
    sources = _with_source(folder)
    for key, (line, sourced) in sources.items():
        if not sourced:
            cure = "add a comment after a # with the source: the manual's page, a proven program, the machine itself"
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


def check_effect(resolved: ResolvedProfile, toolpaths: Mapping[str, Toolpath]) -> Iterator[Result]:
    """A setting equal to the parent's says nothing; one without which every program of the tour is the same may say nothing.

    Answers to the questions at the machine get no such remark: that somebody has looked is worth its line.
    """
    folder = resolved.chain[0]
    if len(resolved.chain) < 2:
        return
    parent = resolve(resolved.chain[1]).profile
    dropped = tuple(str(key) + "." for key in read_toml(folder / FILE_NAME).get("drop", []))
    before = [(each, program_text(each, resolved)) for each in toolpaths.values()]
    at_work = 0
    asked = {key for question in questionnaire(resolved.profile) for key in question.keys}
    answered = {key for key, (_, sourced) in _with_source(folder).items() if sourced and key in asked}
    for key in stated_keys(folder):
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
