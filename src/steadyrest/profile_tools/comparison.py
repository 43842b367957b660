"""In what do two profiles differ, and what does each difference do to a program?

NAME@REVISION is what a profile stated at a former revision of the git repository in which it lies.
"""

from __future__ import annotations

import io
import os
import subprocess
import tarfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from steadyrest.errors import Place, ProfileError
from steadyrest.profile import BUILT_IN, ResolvedProfile, folder_of, resolve
from steadyrest.profile_tools.reasons import ON_EVERY_LINE, TEMPLATE, TOGETHER, PartRows, changes_between, side_by_side
from steadyrest.profile_tools.settings import NOT_IN_PROGRAMS, Absent, said
from steadyrest.profile_tools.trial import matters, program_text, try_out
from steadyrest.progress import COMPARING, Progress, Work
from steadyrest.toolpath import Toolpath

NEUTRAL = "this controller"
"""Both profiles are called this while programs are compared, so that a refusal reads the same in both."""


@dataclass(frozen=True, slots=True)
class Side:
    """One of two profiles to be compared.

    label            what it was called by whoever asked
    tree, revision   of a former revision: the folder in which it lies, which is gone afterwards
    """

    label: str
    resolved: ResolvedProfile
    tree: str = ""
    revision: str = ""

    def place(self, path: str) -> str:
        """A path, a setting's origin for example, in words that still mean something afterwards."""
        return f"{self.revision}:{path.removeprefix(self.tree)}" if self.tree and path.startswith(self.tree) else path


def revision_in(said: str) -> tuple[str, str]:
    """NAME and REVISION of `NAME@REVISION`; the revision is empty where none is said, or where a folder has that very name."""
    name, at, revision = said.rpartition("@")
    if not at or not name or Path(said).exists():
        return said, ""
    return name, revision


@contextmanager
def side(said: str, sets: Sequence[str] = ()) -> Iterator[Side]:
    """The profile by a name, a path, or either with @REVISION; while the block runs, its files can be read.

    sets   KEY=VALUE laid over it, not where a revision is said
    Raises ProfileError: no such profile, no git repository, no such revision, or not in that revision.
    """
    name, revision = revision_in(said)
    if not revision:
        yield Side(said, resolve(said, sets))
        return
    folder = folder_of(name).resolve()
    top = Path(_git(folder, "rev-parse", "--show-toplevel", place=said).decode().strip()).resolve()
    inside = folder.relative_to(top)
    if revision.startswith("-"):
        raise ProfileError(f"{revision!r} is not a revision", place=Place(file=said), cure="for example NAME@HEAD, or NAME@ and a tag")
    wrong = f"git knows no revision {revision!r}"
    commit = _git(folder, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", place=said, wrong=wrong).decode().strip()
    with TemporaryDirectory(prefix="steadyrest-") as scratch:
        tree = Path(scratch) / top.name
        yield Side(said, _former(top, commit, inside, tree, said), str(tree), revision)


def _former(top: Path, commit: str, inside: Path, tree: Path, said: str) -> ResolvedProfile:
    """The profile among its neighbours; where a parent of it lies further away, in the whole tree."""
    wrong = f"{inside.as_posix()} was not there then"
    for part in (inside.parent.as_posix(), "."):
        archive = _git(top, "archive", "--format=tar", commit, "--", part, place=said, wrong=wrong)
        with tarfile.open(fileobj=io.BytesIO(archive)) as packed:
            packed.extractall(tree, filter="data")
        if not (tree / inside).is_dir():
            raise ProfileError(wrong, place=Place(file=said), cure="choose a revision that has it; git log --follow shows them")
        with suppress(ProfileError):
            return resolve(tree / inside)
    return resolve(tree / inside)


def _git(folder: Path, *arguments: str, place: str, wrong: str = "") -> bytes:
    """What git answers. The variables that git sets for its hooks would lead it to another repository."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
    where = Place(file=place)
    try:
        done = subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, check=False, env=environment)
    except OSError:
        raise ProfileError("a revision needs git, and git cannot be run", place=where, cure="install git, or give a path") from None
    if done.returncode:
        told = done.stderr.decode(errors="replace").strip().splitlines()
        raise ProfileError(
            wrong or f"git says: {told[-1] if told else 'nothing'}",
            place=where,
            cure=f"{folder} has to be in a git repository that has the revision; or give the path of the older version",
        )
    return done.stdout


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
    parts            all parts, equal and different ones; block numbers and line endings are left out
    everywhere       changes of block numbers and line endings that are at work
    without_effect   differences of the profiles that change nothing in this program
    """

    toolpath: str
    first: Mapping[str, str]
    second: Mapping[str, str]
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
        programs.append(ProgramsApart(name, one, other, parts, everywhere, without_effect))
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
    return {
        "first": comparison.first,
        "second": comparison.second,
        "settings": [
            {name: None if isinstance(value, Absent) else value for name, value in asdict(each).items()} for each in comparison.settings
        ],
        "templates": [{"name": each.key, "first": each.first_origin, "second": each.second_origin} for each in comparison.templates],
        "programs": [
            {
                "toolpath": program.toolpath,
                "differs": program.differs,
                "first": program.first,
                "second": program.second,
                "everywhere": program.everywhere,
                "without_effect": program.without_effect,
                "parts": [
                    asdict(replace(part, rows=tuple(row for row in part.rows if row.reasons))) for part in program.parts if part.differs
                ],
            }
            for program in comparison.programs
        ],
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
