"""In what do two profiles differ, and what does each difference do to a program?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from steadyrest.dialect.former import Side
from steadyrest.dialect.reasons import TOGETHER, PartRows, side_by_side
from steadyrest.dialect.settings import Absent, differences
from steadyrest.dialect.steps import Dialect, changes_between, differing_templates, on_every_line
from steadyrest.dialect.trial import try_out
from steadyrest.profile import ResolvedProfile
from steadyrest.toolpath import Toolpath

NEUTRAL = "this controller"
"""Both profiles are called this while programs are compared, so that a refusal reads the same in both."""


@dataclass(frozen=True, slots=True)
class SettingsApart:
    """A setting that differs: its values (ABSENT where there is none) and the files that stated them."""

    key: str
    first: Any
    second: Any
    first_origin: str
    second_origin: str


@dataclass(frozen=True, slots=True)
class TemplatesApart:
    """A template that differs; the files, empty where there is none."""

    name: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class ProgramsApart:
    """Both programs of one toolpath.

    outcomes         what became of each: "proved", "not proved", "refused" or "broken", and in which words
    parts            all parts, equal and different ones; block numbers and line endings are left out
    everywhere       changes of block numbers and line endings that are at work
    without_effect   differences of the profiles that change nothing in this program
    """

    toolpath: str
    outcomes: tuple[tuple[str, str], tuple[str, str]]
    parts: tuple[PartRows, ...]
    everywhere: tuple[str, ...]
    without_effect: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether the two programs are not the same."""
        return bool(self.everywhere) or any(part.differs for part in self.parts)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything in which two profiles differ."""

    first: str
    second: str
    settings: tuple[SettingsApart, ...]
    templates: tuple[TemplatesApart, ...]
    programs: tuple[ProgramsApart, ...]


def compare(first: Side, second: Side, toolpaths: Mapping[str, Toolpath]) -> Comparison:
    """The settings and templates that differ, and for each toolpath both programs side by side."""
    settings = tuple(
        SettingsApart(
            each.key,
            each.first,
            each.second,
            "" if isinstance(each.first, Absent) else first.place(_origin(first.resolved, each.key)),
            "" if isinstance(each.second, Absent) else second.place(_origin(second.resolved, each.key)),
        )
        for each in differences(first.resolved.profile, second.resolved.profile)
    )
    apart = differing_templates(first.resolved.template_folders, second.resolved.template_folders)
    templates = tuple(
        TemplatesApart(name, "" if one is None else first.place(str(one)), "" if other is None else second.place(str(other)))
        for name, (one, other) in apart.items()
    )
    dialects = _dialect(first.resolved), _dialect(second.resolved)
    changes = changes_between(*dialects)
    with TemporaryDirectory(prefix="steadyrest-") as scratch:
        programs = tuple(_programs(name, toolpath, dialects, changes, Path(scratch) / "templates") for name, toolpath in toolpaths.items())
    return Comparison(first.label, second.label, settings, templates, programs)


def _programs(name: str, toolpath: Toolpath, dialects: tuple[Dialect, Dialect], changes: list[str], scratch: Path) -> ProgramsApart:
    trials = [try_out(toolpath, dialect.profile, dialect.template_folders) for dialect in dialects]
    parts = side_by_side(toolpath, *dialects, changes, scratch)
    at_work = {change for part in parts for row in part.rows for reason in row.reasons for change in reason.split(TOGETHER)}
    written = all(trial.outcome in ("proved", "not proved") for trial in trials)
    everywhere = on_every_line(toolpath, *dialects, changes) if written else ()
    return ProgramsApart(
        name,
        ((trials[0].outcome, trials[0].words), (trials[1].outcome, trials[1].words)),
        parts,
        everywhere,
        tuple(change for change in changes if change not in at_work and change not in everywhere),
    )


def _dialect(resolved: ResolvedProfile) -> Dialect:
    return Dialect(resolved.profile.model_copy(update={"name": NEUTRAL}), resolved.template_folders)


def _origin(resolved: ResolvedProfile, key: str) -> str:
    """Who stated a setting, or something inside it."""
    inside: Iterable[str] = (origin for other, origin in resolved.origins.items() if other == key or other.startswith(key + "."))
    return next(iter(inside), "built-in default")
