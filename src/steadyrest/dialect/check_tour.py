"""Does a profile write every program of the tour that it can, and is each of them proved?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from steadyrest.dialect.results import Result
from steadyrest.dialect.trial import Trial, try_out
from steadyrest.errors import SteadyrestError, TemplateError
from steadyrest.profile import Profile
from steadyrest.toolpath import Toolpath


def check_tour(trials: Mapping[str, Trial]) -> Iterator[Result]:
    """A result for each toolpath: proved, refused in words because the controller cannot, or wrong."""
    for name, trial in trials.items():
        yield _result(name, trial)
    if trials and not any(trial.outcome in ("proved", "not proved") for trial in trials.values()):
        words = "not one toolpath of the tour can be written for this profile, so nothing is proved of it"
        yield Result("tour", "all", "wrong", f"{words}; read the reasons above")


def tried(toolpaths: Mapping[str, Toolpath], profile: Profile, template_folders: Sequence[Path]) -> dict[str, Trial]:
    """Every toolpath written and proved."""
    return {name: try_out(toolpath, profile, template_folders) for name, toolpath in toolpaths.items()}


def _result(name: str, trial: Trial) -> Result:
    if trial.outcome == "proved":
        assert trial.verdict is not None
        verdict = trial.verdict
        words = f"proved: {verdict.whole.lines} lines, never more than {verdict.farthest:.4f} {verdict.units} off"
        return Result("tour", name, "good", words)
    if trial.outcome == "refused":
        if isinstance(trial.error, TemplateError):
            return Result("tour", name, "wrong", trial.words)
        assert trial.error is not None
        return Result("tour", name, "good", f"not for this controller: {_without_file(trial.error)}")
    if trial.outcome == "not proved":
        return Result("tour", name, "refused", f"the program does not cut what the toolpath says: {trial.words}")
    return Result("tour", name, "refused", f"{trial.words}; nothing is proved; please report it with this profile")


def _without_file(error: SteadyrestError) -> str:
    """Where in the toolpath and what; the file is the tour's."""
    where = str(replace(error.place, file=None))
    return f"{where}: {error.wrong}" if where else error.wrong
