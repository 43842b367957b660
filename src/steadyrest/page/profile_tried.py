"""A change of a profile before it is saved: as the address says it, what it does to this part's program, and the tour with it.

Both are tasks of their own: a part of a hundred thousand lines takes its time, and whoever waits sees how far it is and may end it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError, ProfileError
from steadyrest.page.app import Page
from steadyrest.page.folder import file_digest
from steadyrest.page.job_file import JobFile, read_job_file
from steadyrest.page.made import key_of
from steadyrest.page.tasks import Task
from steadyrest.posting import post_to_memory
from steadyrest.profile import SET, ResolvedProfile, profile_digest, resolve
from steadyrest.profile_tools import check_tour, compare, set_values, side, template_files, tour, try_out
from steadyrest.progress import TRYING, Progress, Work
from steadyrest.request import Request, load

MOST_TRIED, MOST_ROWS = 60, 40
"""Settings tried together, and lines of the program that are shown for them."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What is tried: settings as KEY=VALUE, and keys that are stated no more, in the job's own settings or else in the profile's file."""

    sets: tuple[str, ...] = ()
    unset: tuple[str, ...] = ()

    @classmethod
    def of(cls, sets: Iterable[Any], unset: Iterable[Any]) -> Tried:
        """What an address or a form says. InputError for more than can be looked through."""
        tried = cls(tuple(map(str, sets)), tuple(dict.fromkeys(map(str, unset))))
        if len(tried.sets) + len(tried.unset) > MOST_TRIED:
            raise InputError(f"more than {MOST_TRIED} settings are changed at once", cure="save some of them first")
        return tried

    def __bool__(self) -> bool:
        return bool(self.sets or self.unset)

    @property
    def query(self) -> list[tuple[str, str]]:
        """As part of an address."""
        return [*(("set", each) for each in self.sets), *(("unset", each) for each in self.unset)]

    def in_job(self, job: JobFile) -> list[str]:
        """Those of the keys stated no more that the job file states."""
        stated = set_values(job.request.sets)
        return [key for key in self.unset if key in stated]

    def in_profile(self, job: JobFile) -> list[str]:
        """Those that the profile's own file states."""
        return [key for key in self.unset if key not in set(self.in_job(job))]

    def on_part(self, job: JobFile) -> Request:
        """How this part would be posted with it."""
        out, request = set(self.in_job(job)), job.request
        kept = [each for each in request.sets if not out & set_values([each]).keys()]
        return replace(request, sets=(*kept, *self.sets), unset=tuple(self.in_profile(job)))

    def saved(self, job: JobFile) -> ResolvedProfile:
        """The profile as it would be saved for the machine: the job's own settings left aside."""
        return resolve(job.request.named_controller, self.sets, unset=self.in_profile(job))


def resolved_of(request: Request) -> ResolvedProfile:
    """The profile with which something is posted."""
    return resolve(request.named_controller, request.sets, unset=request.unset)


def changed(job: JobFile, tried: Tried) -> tuple[ResolvedProfile | None, dict[str, ProfileError]]:
    """The profile with what is tried, and what is wrong with it by key."""
    try:
        return resolved_of(tried.on_part(job)), {}
    except ProfileError as error:
        wrongs: dict[str, ProfileError] = {}
        for sets, unset in [*(((each,), ()) for each in tried.sets), *(((), (each,)) for each in tried.unset)]:
            try:
                resolved_of(Tried(sets, unset).on_part(job))
            except ProfileError as alone:
                wrongs[alone.place.key or "".join((*sets, *unset)).partition("=")[0]] = _here(alone)
        return None, wrongs or {error.place.key or "": _here(error)}


def _here(error: ProfileError) -> ProfileError:
    place = replace(error.place, file="tried here, not saved") if error.place.file == SET else error.place
    return ProfileError(error.wrong, place=place, cure=error.cure)


def key_from(whose: str, *decided_by: object) -> str:
    """The key of a task, from what decides its result."""
    return f"{whose}{hashlib.sha256(json.dumps(decided_by, default=str).encode()).hexdigest()[:24]}"


def digest_of(resolved: ResolvedProfile) -> str:
    """Of all that a profile writes with: its settings and its templates."""
    return key_from("", profile_digest(resolved.profile), [(name, file_digest(file)) for name, file in template_files(resolved).items()])


def effect_task(page: Page, job: JobFile, tried: Tried, *, again: bool = False) -> Task:
    """The key and the state of the task that tries a change on this part's program."""
    key = key_from("effect", str(job.path), key_of(job), tried.sets, tried.unset, digest_of(resolved_of(tried.on_part(job))))
    asked = {"job": str(job.path), "digest": key_of(job), "sets": tried.sets, "unset": tried.unset}
    return page.tasks.begun(key, effect, asked, again=again)


def effect(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: the outcome of this part's program before and after, which lines change, and why."""
    job, tried = read_job_file(Path(asked["job"])), Tried(tuple(asked["sets"]), tuple(asked["unset"]))
    if key_of(job) != asked["digest"]:
        raise InputError("the files of this job were changed while this was tried", cure="try it on the job as it is now")
    now, then = job.request, tried.on_part(job)
    before, after = _judged(now, progress), _judged(then, progress)
    part = load(job.path)
    with side(now.named_controller, now.sets) as one, side(then.named_controller, then.sets, then.unset) as other:
        (programs,) = compare(one, other, {job.path.name: part}, progress=progress).programs
    rows = [
        {"was": row.first, "is": row.second, "why": list(row.reasons), "where": _where(each.name, each.operation)}
        for each in programs.parts
        for row in each.rows
        if row.reasons
    ]
    return {
        "before": before,
        "after": after,
        "come": [each for each in after["findings"] if each not in before["findings"]],
        "gone": [each for each in before["findings"] if each not in after["findings"]],
        "count": len(rows),
        "rows": rows[:MOST_ROWS],
        "everywhere": list(programs.everywhere),
        "without_effect": list(programs.without_effect),
    }


def _where(part: str, operation: int) -> str:
    what = part.replace("_", " ")
    return f"{what}, operation {operation}" if operation else what


def _judged(request: Request, progress: Progress) -> dict[str, Any]:
    """What becomes of a program: `run`, `look`, `stop`, or `refused` where none can be written; with what is said of it."""
    try:
        posted, _ = post_to_memory(request, progress=progress)
    except InputError as error:
        return {"outcome": "refused", "line": "no program can be written", "findings": [str(error)]}
    return {"outcome": posted.outcome.word, "line": posted.outcome.line, "findings": [text for _, text in posted.said]}


def tour_task(page: Page, job: JobFile, tried: Tried, *, again: bool = False) -> Task:
    """The key and the state of the task that proves the tour with what would be saved, once for each profile."""
    saved, controller, unset = tried.saved(job), job.request.named_controller, tried.in_profile(job)
    key = key_from("tour", controller, tried.sets, unset, digest_of(saved))
    return page.tasks.begun(key, prove_tour, {"controller": controller, "sets": tried.sets, "unset": unset}, again=again)


def prove_tour(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: the toolpaths with which every profile is tried, each posted and proved."""
    resolved, toolpaths = resolve(asked["controller"], asked["sets"], unset=asked["unset"]), tour()
    work, trials = Work(progress, TRYING, len(toolpaths)), {}
    for name, toolpath in toolpaths.items():
        trials[name] = try_out(toolpath, resolved)
        work.on()
    found = [{"what": each.what, "level": each.level, "words": each.words} for each in check_tour(trials)]
    return {"results": found, "good": all(each["level"] not in ("wrong", "refused") for each in found)}
