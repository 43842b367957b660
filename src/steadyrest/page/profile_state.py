"""What a profile is now: its templates with the lines they write, what `controller check` finds, and what changed since the last commit."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.errors import InputError, ProfileError
from steadyrest.events import EVENTS
from steadyrest.page.app import Page, back, check_own, in_thread, job_of, page_of, said, shown
from steadyrest.page.job_file import JobFile, read_job_file
from steadyrest.page.made import key_of
from steadyrest.page.profile_tried import digest_of, key_from
from steadyrest.page.tasks import Task
from steadyrest.profile import FILE_NAME, ResolvedProfile, resolve
from steadyrest.profile_tools import (
    Absent,
    Comparison,
    check,
    compare,
    event_lines,
    is_ours,
    last_commit,
    side,
    template_files,
    tour,
)  # fmt: skip
from steadyrest.profile_tools import (
    said as value_said,
)
from steadyrest.progress import Progress
from steadyrest.request import load

MOST_LINES = 12
"""Of one template, shown of what it writes in this part's program."""


def _held(asked: Asked, tab: str) -> tuple[JobFile, ResolvedProfile | None, dict[str, Any]]:
    """The job and its profile; None, with the words for the page, where one of them cannot be read."""
    job = job_of(asked)
    facts: dict[str, Any] = {"job": job, "tab": tab, "wrong": None}
    if job.job is None:
        return job, None, facts
    try:
        held = resolve(job.request.named_controller, job.request.sets)
    except ProfileError as error:
        return job, None, facts | {"wrong": error}
    return job, held, facts | {"name": held.chain[0].name, "folder_of": str(held.chain[0]), "ours": is_ours(held.chain[0])}


def _templates(asked: Asked) -> Response:
    job, held, facts = _held(asked, "templates")
    if held is not None:
        key, state = _lines_task(page_of(asked), job, held)
        lines = state["result"]["lines"] if state["status"] == "done" else {}
        facts |= {"task": key, "state": state, "templates": list(_listed(held, lines))}
    return shown(asked, "profile_templates.html.j2", "profile", **facts)


def _listed(held: ResolvedProfile, lines: dict[str, list[tuple[int, str]]]) -> Iterator[dict[str, Any]]:
    """Each template, those of the profile itself first, then in the order of a program: whose, its text, the lines that come from it."""
    order = [f"{event}.j2" for event in EVENTS]
    files = sorted(template_files(held).items(), key=lambda one: order.index(one[0]) if one[0] in order else len(order))
    for name, file in sorted(files, key=lambda one: one[1].parent.parent != held.chain[0]):
        event = name.removesuffix(".j2")
        row, folder = EVENTS.get(event), file.parent.parent
        whose = "this profile" if folder == held.chain[0] else f"inherited from {folder.name}" if folder in held.chain else "shared by all"
        yield {
            "name": name,
            "event": event.replace("_", " "),
            "when": row.when if row else "Only what other templates include.",
            "whose": whose,
            "file": str(file),
            "text": file.read_text(encoding="utf-8", errors="replace"),
            "lines": lines.get(event, [])[:MOST_LINES],
            "count": len(lines.get(event, [])),
        }


def _lines_task(page: Page, job: JobFile, held: ResolvedProfile, *, again: bool = False) -> Task:
    digest = key_of(job)
    return page.tasks.begun(key_from("templates", str(job.path), digest, digest_of(held)), written, {"job": str(job.path)}, again=again)


def written(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: the lines of this part's program, by the event whose template says them."""
    request = read_job_file(Path(asked["job"])).request
    resolved = resolve(request.named_controller, request.sets)
    return {"lines": event_lines(load(request.part, progress=progress), resolved, progress=progress)}


def _state(asked: Asked) -> Response:
    job, held, facts = _held(asked, "state")
    if held is not None:
        (checks, checked), (since, changes) = _state_tasks(page_of(asked), job, held)
        facts |= {"checks": checks, "checked": checked, "since": since, "changes": changes}
        facts["made"] = asked.query_params.get("made", "") == held.chain[0].name
    return shown(asked, "profile_state.html.j2", "profile", **facts)


def _state_tasks(page: Page, job: JobFile, held: ResolvedProfile, *, again: bool = False) -> tuple[Task, Task]:
    """The tasks that check the profile and that compare it with what is committed: of itself, without the settings of the job."""
    controller = job.request.named_controller
    alone = resolve(controller)
    texts = [(folder / FILE_NAME).read_bytes().decode("utf-8", "replace") for folder in alone.chain]
    asked = {"controller": controller, "folder": str(alone.chain[0]), "elsewhere": "", "commit": None}
    with suppress(ProfileError):
        try:
            check_own(page, alone.chain[0] / FILE_NAME)  # what a repository says is run by git: only of the user's own folders
            asked["commit"] = str(last_commit(alone.chain[0])) if is_ours(alone.chain[0]) else None
        except InputError as error:
            asked["elsewhere"] = error.wrong
    return (
        page.tasks.begun(key_from("check", controller, digest_of(alone), texts), checked, asked, again=again),
        page.tasks.begun(key_from("since", controller, digest_of(alone), texts, asked), changed_since, asked, again=again),
    )


def checked(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: the same as `steadyrest controller check`."""
    return check(asked["controller"], progress=progress).data()


def changed_since(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: the same as `steadyrest controller compare NAME@HEAD`, in a sentence for each change.

    The result has `commit`, None with `why` where there is nothing to compare with.
    """
    folder = Path(asked["folder"])
    if not is_ours(folder):
        return {"commit": None, "why": f"{folder.name} came with steadyrest and is never changed; a profile of your own extends it"}
    if asked["elsewhere"]:
        return {"commit": None, "why": f"{asked['elsewhere']}; on the command line: steadyrest controller compare {folder}@HEAD"}
    try:
        commit = last_commit(folder)
        with side(f"{folder}@HEAD") as before, side(str(folder)) as now:
            found = compare(before, now, tour(), progress=progress)
    except ProfileError as error:
        return {"commit": None, "why": str(error)}
    return {"commit": {"name": commit.name, "when": commit.when, "subject": commit.subject}, **_in_words(found, folder.name)}


def _in_words(found: Comparison, name: str) -> dict[str, Any]:
    settings = [{"key": each.key, "was": _value(each.first), "is": _value(each.second)} for each in found.settings]
    templates = [{"name": each.key, "what": _template(each.first, each.second, name)} for each in found.templates]
    differ = [
        {"name": each.toolpath, "was": each.first["outcome"], "is": each.second["outcome"], "words": each.second["words"]}
        for each in found.programs
        if each.differs or each.first["outcome"] != each.second["outcome"]
    ]
    return {"settings": settings, "templates": templates, "programs": differ, "tried": len(found.programs)}


def _template(first: Path | None, second: Path | None, name: str) -> str:
    """What became of a template: a profile's own, or one that it inherits."""
    was, now = (file is not None and file.parent.parent.name == name for file in (first, second))
    if was == now:
        return "is new" if first is None else "is gone" if second is None else "was changed"
    return "is this profile's own now" if now else "is no longer this profile's own: the inherited one holds" if second else "is gone"


def _value(value: Any) -> str:
    return value_said(value) if not isinstance(value, Absent | dict) else "not there" if isinstance(value, Absent) else "a whole table"


def _again(asked: Asked, form: FormData) -> Response:
    """Do once more what failed or was cancelled."""
    page, job = page_of(asked), job_of(asked)
    held = resolve(job.request.named_controller, job.request.sets)
    if said(form, "what") == "templates":
        _lines_task(page, job, held, again=True)
        return back(asked, "profile/templates")
    _state_tasks(page, job, held, again=True)
    return back(asked, "profile/state")


ROUTES = [
    Route("/profile/templates", _templates),
    Route("/profile/state", _state),
    Route("/profile/again-state", in_thread(_again), methods=["POST"]),
]
