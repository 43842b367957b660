"""Is a profile right? All checks, in the order in which a mistake would make the next ones meaningless."""

from __future__ import annotations

from steadyrest.dialect.check_stated import check_effect, check_sources
from steadyrest.dialect.check_templates import check_templates
from steadyrest.dialect.check_tour import check_tour, tried
from steadyrest.dialect.hostile import check_hostile
from steadyrest.dialect.results import Report, Result
from steadyrest.dialect.tour_toolpaths import tour
from steadyrest.dialect.trial import events_reached
from steadyrest.errors import ProfileError
from steadyrest.events import EVENTS
from steadyrest.profile import folder_of, resolve


def check(name_or_path: str) -> Report:
    """Check a profile by its name or path: settings, templates, sources, effect, the tour, hostile settings.

    What is wrong with the profile is in the report; raises only ProfileError for a name or path that leads to no profile.
    """
    folder = folder_of(name_or_path)
    try:
        resolved = resolve(folder)
    except ProfileError as error:
        all_of_them = (error, *error.also)
        return Report(
            folder.name, tuple(Result("settings", each.place.key or "controller.toml", "wrong", each.alone()) for each in all_of_them)
        )
    results = [Result("settings", "controller.toml", "good", "known, of the right kind, and possible together")]
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
    results += check_hostile(resolved, toolpaths)
    return Report(folder.name, tuple(results))
