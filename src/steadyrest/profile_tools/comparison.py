"""In what do two profiles differ, and what does each difference do to a program?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from steadyrest.profile import BUILT_IN
from steadyrest.profile_tools.reasons import ON_EVERY_LINE, TEMPLATE, TOGETHER, PartRows, changes_between, side_by_side
from steadyrest.profile_tools.revision import Side
from steadyrest.profile_tools.settings import NOT_IN_PROGRAMS, Absent, said
from steadyrest.profile_tools.trial import matters, program_text, try_out
from steadyrest.progress import COMPARING, Progress, Work
from steadyrest.toolpath import Toolpath

NEUTRAL = "this controller"
"""Both profiles are called this while programs are compared, so that a refusal reads the same in both."""


@dataclass(frozen=True, slots=True)
class Apart:
    """A setting or template that differs: its key or name, its values (ABSENT, or no file: None), and the files that say it."""

    key: str
    first: Any
    second: Any
    first_origin: str | None
    second_origin: str | None


@dataclass(frozen=True, slots=True)
class ProgramsApart:
    """Both programs of one toolpath.

    first, second    what became of each: its `outcome`, "proved", "not proved", "refused" or "broken", and the `words` of that
    everywhere       changes of block numbers and line endings that are at work
    without_effect   differences of the profiles that change nothing in this program
    parts            all parts, equal and different ones; block numbers and line endings are left out
    """

    toolpath: str
    first: Mapping[str, str]
    second: Mapping[str, str]
    everywhere: tuple[str, ...]
    without_effect: tuple[str, ...]
    parts: tuple[PartRows, ...]

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


def compare(first: Side, second: Side, toolpaths: Mapping[str, Toolpath], *, progress: Progress | None = None) -> Comparison:
    """The settings and templates that differ, and for each toolpath both programs side by side.

    progress   is told how many of the programs are written and compared
    """
    changes = changes_between(first.resolved, second.resolved)
    settings, templates = list[Apart](), list[Apart]()
    for change, (one, other) in changes.items():
        if change.startswith(TEMPLATE):
            origins = (side.place(str(file)) if file else None for side, file in ((first, one), (second, other)))
            templates.append(Apart(change.removeprefix(TEMPLATE), one, other, *origins))
        else:
            settings.append(Apart(change, one, other, _origin(first, change, one), _origin(second, change, other)))
    in_programs = {change: pair for change, pair in changes.items() if not change.startswith(NOT_IN_PROGRAMS)}
    neutral = {"name": NEUTRAL}
    ours, theirs = (replace(each.resolved, profile=each.resolved.profile.model_copy(update=neutral)) for each in (first, second))
    programs: list[ProgramsApart] = []
    work = Work(progress, COMPARING, 2 * len(toolpaths))
    for name, toolpath in toolpaths.items():
        work.to(2 * len(programs))
        trials = try_out(toolpath, ours), try_out(toolpath, theirs)
        work.on()
        with TemporaryDirectory(prefix="steadyrest-") as scratch:
            parts = side_by_side(toolpath, ours, theirs, in_programs, Path(scratch) / "templates")
        written = all(trial.outcome in ("proved", "not proved") for trial in trials)
        whole = [(toolpath, program_text(toolpath, theirs))]
        among = (change for change in in_programs if written and change.startswith(ON_EVERY_LINE))
        everywhere = tuple(change for change in among if matters(change, in_programs[change][0], theirs, whole))
        reasons = (each for part in parts for row in part.rows for reason in row.reasons for each in reason.split(TOGETHER))
        at_work = {*everywhere, *reasons}
        without_effect = tuple(change for change in in_programs if change not in at_work)
        one, other = ({"outcome": trial.outcome, "words": trial.words} for trial in trials)
        programs.append(ProgramsApart(name, one, other, everywhere, without_effect, parts))
    work.end()
    return Comparison(first.label, second.label, tuple(settings), tuple(templates), tuple(programs))


def _origin(side: Side, key: str, value: Any) -> str | None:
    """Who stated a setting, or something inside it; None where the profile does not have it."""
    inside = (origin for other, origin in side.resolved.origins.items() if other == key or other.startswith(key + "."))
    return None if isinstance(value, Absent) else side.place(next(inside, BUILT_IN))


WIDTH = 34
MOST_ROWS = 8
"""So many rows of one part are shown before the rest is counted, unless all are asked for."""


def comparison_text(comparison: Comparison, *, everything: bool = False) -> str:
    """The comparison for a person. `everything` shows equal lines too, and every row of long parts."""
    settings, templates = comparison.settings, comparison.templates
    differ = (
        f"{len(settings)} setting(s) differ" if settings else "no setting differs" if templates else "no setting and no template differs"
    )
    lines = [f"{comparison.first}  |  {comparison.second}", "", differ]
    for each in settings:
        lines.append(f"  {each.key}")
        sides = ((comparison.first, each.first, each.first_origin), (comparison.second, each.second, each.second_origin))
        for label, value, origin in sides:
            # The folder and the file are enough for a person to know whose setting it is.
            short = "/".join(origin.replace("\\", "/").split("/")[-2:]) if origin else ""
            lines.append(f"      {label}: {said(value)}" + (f"  ({short})" if short else ""))
    lines += [f"{len(templates)} template(s) differ"] if templates else []
    lines += [f"  {each.key}: {each.first_origin or 'not there'} | {each.second_origin or 'not there'}" for each in templates]
    lines.append("")
    for program in comparison.programs:
        lines += [*([""] if program.differs else []), *_program(program, everything)]
    if comparison.programs:
        lines += ["", f"{sum(program.differs for program in comparison.programs)} of {len(comparison.programs)} programs differ"]
    return "\n".join(lines) + "\n"


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """The same as data; values that are not there are null, lines that are equal are left out."""
    programs = []
    for each in comparison.programs:
        parts = (replace(part, rows=tuple(row for row in part.rows if row.reasons)) for part in each.parts if part.differs)
        programs.append({"toolpath": each.toolpath, "differs": each.differs, **asdict(replace(each, parts=tuple(parts)))})
    return {
        "first": comparison.first,
        "second": comparison.second,
        "settings": [
            {name: None if isinstance(value, Absent) else value for name, value in asdict(each).items()} for each in comparison.settings
        ],
        "templates": [{"name": each.key, "first": each.first_origin, "second": each.second_origin} for each in comparison.templates],
        "programs": programs,
    }


def _program(program: ProgramsApart, everything: bool) -> list[str]:
    sides = [(each["outcome"], each["words"]) for each in (program.first, program.second)]
    refused = all(outcome == "refused" for outcome, _ in sides)
    same = "" if program.differs else "; in the same words" if refused else "; the programs are the same"
    lines = [f"== {program.toolpath}: {' | '.join(outcome for outcome, _ in sides)}{same}"]
    lines += [f"   {outcome}: {words}" for outcome, words in sides if outcome in ("not proved", "broken")]
    for shown, parts in groupby(program.parts if program.differs or everything else (), lambda part: part.differs or everything):
        if shown:
            lines += [line for part in parts for line in _part(part, everything)]
        else:
            lines.append(f"   ... {sum(len(part.rows) for part in parts)} equal line(s)")
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
    for row in shown:
        first, second = ("-" if line is None else line.rstrip("\r") for line in (row.first, row.second))
        reasons = f" | {second:<{WIDTH}}  <- {', '.join(row.reasons)}" if row.reasons else f"   {second}"
        lines.append(f"      {first:<{WIDTH}}{reasons}")
    if left := rows[len(shown) :]:
        lines.append(f"      ... {len(left)} more line(s)  <- {', '.join(sorted({reason for row in left for reason in row.reasons}))}")
    return lines
