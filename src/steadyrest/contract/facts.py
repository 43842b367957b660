"""What has to be true of a profile in a shop's repository? Each fact is a function that raises `Broken` where it is not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from steadyrest.errors import PlanError
from steadyrest.profile import ResolvedProfile, resolve
from steadyrest.profile_tools import ENDING, Result, Trial, check_sources, check_templates, events_reached, tour_folder, try_out
from steadyrest.toolpath import load_toolpath

OWN = "toolpaths"
"""The folder beside `controllers/` with the shop's own toolpaths, each of which is posted for every profile."""


class Broken(Exception):
    """A fact that does not hold: what is wrong and the cure, for whoever keeps the profile."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A toolpath that a profile is tried on: of the tour that comes with steadyrest ("tour"), or of the shop's own ("toolpaths")."""

    file: Path
    whose: str

    @property
    def name(self) -> str:
        """The file's name without its ending."""
        return self.file.name.removesuffix(ENDING)


@dataclass
class Shop:
    """A profile's folder in a shop's repository, and what came out of trying it: nothing is tried twice.

    folder    the profile's, in `controllers/`
    """

    folder: Path
    _trials: dict[Path, Trial] = field(default_factory=dict)

    @cached_property
    def subjects(self) -> tuple[Subject, ...]:
        """All toolpaths that the profile is tried on."""
        own = self.folder.parent.parent / OWN
        found = [Subject(file, "tour") for file in sorted(tour_folder().glob(f"*{ENDING}"))]
        return (*found, *(Subject(file, OWN) for file in sorted(own.glob(f"*{ENDING}"))))

    @cached_property
    def resolved(self) -> ResolvedProfile:
        """The profile with all that it inherits. Raises ProfileError."""
        return resolve(self.folder)

    def trial(self, subject: Subject) -> Trial:
        """A toolpath posted and proved, in memory. Raises ToolpathError for a toolpath that is wrong itself, ProfileError."""
        if subject.file not in self._trials:
            self._trials[subject.file] = try_out(load_toolpath(subject.file), self.resolved)
        return self._trials[subject.file]


def settings_fact(shop: Shop) -> None:
    """The profile loads with all that it inherits. Raises ProfileError, which names file and key."""
    assert shop.resolved.profile.name == shop.folder.name


def templates_fact(shop: Shop) -> None:
    """Every template can be used, and has an event or another template that uses it."""
    reached = events_reached((load_toolpath(subject.file) for subject in shop.subjects), shop.resolved)
    # An event that no toolpath here reaches is no mistake of the template.
    found = [one for one in check_templates(shop.resolved, reached) if "no program of the tour has this event" not in one.words]
    _all_good(found)


def sources_fact(shop: Shop) -> None:
    """Each setting that the profile states says in a comment where it comes from."""
    _all_good(check_sources(shop.folder))


def toolpath_fact(shop: Shop, subject: Subject) -> None:
    """The toolpath is posted and proved; or refused in words before anything is written, where the controller cannot do it."""
    trial = shop.trial(subject)
    if trial.outcome == "proved" or (trial.outcome == "refused" and isinstance(trial.error, PlanError)):
        return
    raise Broken(f"{subject.name} on {shop.folder.name}: {_outcome(trial)}")


def writing_fact(shop: Shop) -> None:
    """At least one toolpath of the tour can be written: else nothing is proved of the profile."""
    refused = []
    for subject in shop.subjects:
        if subject.whose == "tour":
            trial = shop.trial(subject)
            if trial.outcome != "refused":
                return
            refused.append(f"{subject.name}: {trial.words.splitlines()[0]}")
    raise Broken("\n  ".join(["not one toolpath of the tour can be written for this profile, so nothing is proved of it", *refused]))


def _outcome(trial: Trial) -> str:
    if trial.outcome == "not proved":
        text = trial.verdict.text() if trial.verdict is not None else trial.words
        return f"the program is not proved\n{text}"
    if trial.outcome == "broken":
        return f"{trial.words}; please report it with this profile"
    return f"refused, and not because the controller cannot do it\n{trial.words}"


def _all_good(results: Iterable[Result]) -> None:
    bad = [f"{one.what}: {one.words}" for one in results if one.level != "good"]
    if bad:
        raise Broken("\n".join(bad))
