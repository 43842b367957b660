"""Is a profile right? All checks, in the order in which a mistake would make the next ones meaningless."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from steadyrest.errors import ProfileError, SteadyrestError, TemplateError
from steadyrest.events import EVENTS
from steadyrest.profile import folder_of, resolve
from steadyrest.profile_tools.check_files import check_effect, check_sources, check_templates
from steadyrest.profile_tools.extreme_settings import check_extreme_settings
from steadyrest.profile_tools.results import Report, Result
from steadyrest.profile_tools.trial import Trial, events_reached, tour, tried


def check(name_or_path: str) -> Report:
    """Check a profile by its name or path: settings, templates, sources, effect, the tour, extreme settings.

    What is wrong with the profile is in the report; raises only ProfileError for a name or path that leads to no profile.
    """
    folder = folder_of(name_or_path)
    try:
        resolved = resolve(folder)
    except ProfileError as error:
        found = (Result("settings", each.place.key or "controller.toml", "wrong", each.alone()) for each in (error, *error.also))
        return Report(folder.name, tuple(found))
    results = [Result("settings", "controller.toml", "good", "all known, valid, and possible together")]
    toolpaths = tour()
    reached: set[str] = set()
    for toolpath in toolpaths.values():
        reached |= events_reached(toolpath, resolved.profile, resolved.template_folders)
    templates = list(check_templates(resolved, reached))
    results += templates
    results += check_sources(resolved.chain[0])
    if any(result.level == "wrong" for result in templates):
        return Report(folder.name, tuple(results))
    results += check_effect(resolved, toolpaths)
    results += check_tour(tried(toolpaths, resolved.profile, resolved.template_folders))
    missed = sorted(set(EVENTS) - reached)
    if missed:
        results.append(Result("tour", f"{len(missed)} event(s)", "good", f"not in any of its programs: {', '.join(missed)}"))
    results += check_extreme_settings(resolved, toolpaths)
    return Report(folder.name, tuple(results))


def check_tour(trials: Mapping[str, Trial]) -> Iterator[Result]:
    """A result for each toolpath: proved, refused in words because the controller cannot, or wrong."""
    for name, trial in trials.items():
        yield _result(name, trial)
    if trials and not any(trial.outcome in ("proved", "not proved") for trial in trials.values()):
        words = "no toolpath of the tour can be written for this profile, so nothing about it is proved"
        yield Result("tour", "all", "wrong", f"{words}; read the reasons above")


def _result(name: str, trial: Trial) -> Result:
    if trial.outcome == "proved":
        assert trial.verdict is not None
        verdict = trial.verdict
        words = f"proved: {verdict.whole.lines} lines, at most {verdict.farthest:.4f} {verdict.units} off the toolpath"
        return Result("tour", name, "good", words)
    if trial.outcome == "refused":
        if isinstance(trial.error, TemplateError):
            return Result("tour", name, "wrong", trial.words)
        assert trial.error is not None
        return Result("tour", name, "good", f"not for this controller: {_without_file(trial.error)}")
    if trial.outcome == "not proved":
        return Result("tour", name, "refused", f"the program does not cut what the toolpath asks for: {trial.words}")
    return Result("tour", name, "refused", f"{trial.words}; nothing is proved; please report it with this profile")


def _without_file(error: SteadyrestError) -> str:
    """Where in the toolpath and what; the file is the tour's."""
    where = str(replace(error.place, file=None))
    return f"{where}: {error.wrong}" if where else error.wrong
