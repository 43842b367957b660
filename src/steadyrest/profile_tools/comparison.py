"""In what do two profiles differ, and what does each difference do to a program?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from steadyrest.profile import BUILT_IN, ResolvedProfile
from steadyrest.profile_tools.git_revision import Side
from steadyrest.profile_tools.reasons import (
    TOGETHER,
    Dialect,
    PartRows,
    Row,
    changes_between,
    differing_templates,
    on_every_line,
    side_by_side,
)
from steadyrest.profile_tools.settings import Absent, differences, said, value_of
from steadyrest.profile_tools.trial import try_out
from steadyrest.toolpath import Toolpath

SIDES = ("first", "second")
NEUTRAL = "this controller"
"""Both profiles are called this while programs are compared, so that a refusal reads the same in both."""


@dataclass(frozen=True, slots=True)
class Apart:
    """A setting or template that differs: its key or name, its values (ABSENT where there is none), and the files that say it, or empty."""

    key: str
    first: Any
    second: Any
    first_origin: str
    second_origin: str


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
    settings: tuple[Apart, ...]
    templates: tuple[Apart, ...]
    programs: tuple[ProgramsApart, ...]


def compare(first: Side, second: Side, toolpaths: Mapping[str, Toolpath]) -> Comparison:
    """The settings and templates that differ, and for each toolpath both programs side by side."""
    found = differences(first.resolved.profile, second.resolved.profile)
    settings = tuple(Apart(each.key, each.first, each.second, _origin(first, each.key), _origin(second, each.key)) for each in found)
    files = differing_templates(first.resolved.template_folders, second.resolved.template_folders)
    templates = tuple(
        Apart(name, one, other, first.place(str(one)) if one else "", second.place(str(other)) if other else "")
        for name, (one, other) in files.items()
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


def _origin(side: Side, key: str) -> str:
    """Who stated a setting, or something inside it; empty where the profile does not have it."""
    inside = (origin for other, origin in side.resolved.origins.items() if other == key or other.startswith(key + "."))
    return "" if isinstance(value_of(side.resolved.profile, key), Absent) else side.place(next(inside, BUILT_IN))


WIDTH = 34
MOST_ROWS = 8
"""So many rows of one part are shown before the rest is counted, unless all are asked for."""


def comparison_text(comparison: Comparison, *, everything: bool = False) -> str:
    """The comparison for a person. `everything` shows equal lines too, and every row of long parts."""
    lines = [f"{comparison.first}  |  {comparison.second}", ""]
    lines += [*_settings(comparison), ""]
    for program in comparison.programs:
        lines += [*([""] if program.differs else []), *_program(program, everything)]
    same = [program.toolpath for program in comparison.programs if not program.differs]
    if comparison.programs:
        lines += ["", f"{len(comparison.programs) - len(same)} of {len(comparison.programs)} programs differ"]
    return "\n".join(lines) + "\n"


def short(origin: str) -> str:
    """The folder and the file are enough for a person to know whose setting it is."""
    return "/".join(origin.replace("\\", "/").split("/")[-2:])


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """The same as data; values that are not there are null, lines that are equal are left out."""
    return {
        "first": comparison.first,
        "second": comparison.second,
        "settings": [
            {"key": each.key}
            | {side: None if isinstance(value, Absent) else value for side, value in zip(SIDES, (each.first, each.second), strict=True)}
            | {"first_origin": each.first_origin or None, "second_origin": each.second_origin or None}
            for each in comparison.settings
        ],
        "templates": [
            {"name": each.key, "first": each.first_origin or None, "second": each.second_origin or None} for each in comparison.templates
        ],
        "programs": [
            {
                "toolpath": program.toolpath,
                "differs": program.differs,
                **{side: {"outcome": outcome, "words": words} for side, (outcome, words) in zip(SIDES, program.outcomes, strict=True)},
                "everywhere": list(program.everywhere),
                "without_effect": list(program.without_effect),
                "parts": [
                    {
                        "name": part.name,
                        "operation": part.operation,
                        "rows": [asdict(row) | {"reasons": list(row.reasons)} for row in part.rows if row.reasons],
                    }
                    for part in program.parts
                    if part.differs
                ],
            }
            for program in comparison.programs
        ],
    }


def _settings(comparison: Comparison) -> list[str]:
    if not comparison.settings and not comparison.templates:
        return ["no setting and no template differs"]
    lines = [f"{len(comparison.settings)} setting(s) differ" if comparison.settings else "no setting differs"]
    for each in comparison.settings:
        lines.append(f"  {each.key}")
        for label, value, origin in (
            (comparison.first, each.first, each.first_origin),
            (comparison.second, each.second, each.second_origin),
        ):
            lines.append(f"      {label}: {said(value)}" + (f"  ({short(origin)})" if origin else ""))
    if comparison.templates:
        lines.append(f"{len(comparison.templates)} template(s) differ")
        lines += [
            f"  {each.key}: {each.first_origin or 'not there'} | {each.second_origin or 'not there'}" for each in comparison.templates
        ]
    return lines


def _program(program: ProgramsApart, everything: bool) -> list[str]:
    outcomes = " | ".join(outcome for outcome, _ in program.outcomes)
    refused = all(outcome == "refused" for outcome, _ in program.outcomes)
    same = "; in the same words" if refused else "; the programs are the same"
    lines = [f"== {program.toolpath}: {outcomes}" + ("" if program.differs else same)]
    lines += [f"   {outcome}: {words}" for outcome, words in program.outcomes if outcome in ("not proved", "broken")]
    skipped = 0
    for part in program.parts:
        if not part.differs and not everything:
            skipped += len(part.rows)
            continue
        if skipped:
            lines.append(f"   ... {skipped} equal line(s)")
            skipped = 0
        lines += _part(part, everything)
    if skipped and program.differs:
        lines.append(f"   ... {skipped} equal line(s)")
    if program.everywhere:
        lines.append(f"   on every line, and left out above: {', '.join(program.everywhere)}")
    if program.differs and program.without_effect:
        lines.append(f"   changes nothing here: {', '.join(program.without_effect)}")
    return lines


def _part(part: PartRows, everything: bool) -> list[str]:
    where = f"operation {part.operation}, " if part.operation else ""
    lines = [f"   {where}{part.name.replace('_', ' ')}"]
    rows = [row for row in part.rows if row.reasons or everything]
    shown = rows if everything else rows[:MOST_ROWS]
    lines += [_row(row) for row in shown]
    if len(rows) > len(shown):
        reasons = sorted({reason for row in rows[len(shown) :] for reason in row.reasons})
        lines.append(f"      ... {len(rows) - len(shown)} more line(s)  <- {', '.join(reasons)}")
    return lines


def _row(row: Row) -> str:
    first, second = ("-" if line is None else line.rstrip("\r") for line in (row.first, row.second))
    if not row.reasons:
        return f"      {first:<{WIDTH}}   {second}"
    return f"      {first:<{WIDTH}} | {second:<{WIDTH}}  <- {', '.join(row.reasons)}"
