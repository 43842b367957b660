"""The step Profile: every setting with its source, a change tried on this part's program and on the tour, and saved where it belongs."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.errors import InputError, OutputError, ProfileError, SteadyrestError
from steadyrest.page.app import Page, back, check_own, in_thread, job_of, page_of, said, shown
from steadyrest.page.job_file import JobFile, changed_text, check_unchanged, save_job
from steadyrest.page.settings_form import chapters, fields_of, set_text
from steadyrest.profile import ResolvedProfile, profile_digest, resolve
from steadyrest.profile_tools import (
    Change,
    check_tour,
    compare,
    create,
    created_text,
    is_ours,
    planned_change,
    set_values,
    side,
    store,
    tour,
    try_out,
)
from steadyrest.progress import Progress
from steadyrest.request import load

MOST_TRIED, MOST_ROWS = 60, 40
"""Settings tried together, and lines of the program that are shown for them."""


def _shown(
    asked: Asked,
    *,
    status: int = 200,
    wrong: Exception | None = None,
    change: Any = None,
    told: str = "",
    tried: Sequence[str] | None = None,
) -> Response:
    page, job = page_of(asked), job_of(asked)
    facts: dict[str, Any] = {"job": job, "wrong": wrong, "change": change, "told": told, "chapters": None}
    if job.job is None:
        return shown(asked, "profile.html.j2", "profile", status, **facts)
    controller, sets = job.request.named_controller, list(job.request.sets)
    try:
        held = resolve(controller, sets)
    except ProfileError as error:
        return shown(asked, "profile.html.j2", "profile", status, **{**facts, "wrong": wrong or error})
    tried = list(asked.query_params.getlist("set") if tried is None else tried)[:MOST_TRIED]
    changed, wrongs = _changed(controller, sets, tried)
    values = set_values(tried)
    facts |= {
        "controller": controller,
        "chapters": chapters(held, changed, values, wrongs),
        "values": values,
        "tried": tried,
        "key": asked.query_params.get("key", ""),
        "speaks": held.profile.speaks,
        "ours": is_ours(held.chain[0]),
        "effect": None,
        "task": None,
        "results": None,
    }
    if tried and not wrongs and changed is not None:
        facts["effect"] = _effect(job, controller, sets, [*sets, *tried])
        task = _tour(page, controller, tried)
        state = page.tasks.state(task)
        facts |= {"task": task, "state": state, "results": state["result"]["results"] if state["status"] == "done" else None}
    return shown(asked, "profile.html.j2", "profile", status, **facts)


def _changed(controller: str, sets: Sequence[str], tried: Sequence[str]) -> tuple[ResolvedProfile | None, dict[str, str]]:
    """The profile with what is tried, and what is wrong with it by key."""
    try:
        return resolve(controller, [*sets, *tried]), {}
    except ProfileError as error:
        wrongs: dict[str, str] = {}
        for each in tried:
            key = each.partition("=")[0]
            try:
                resolve(controller, [*sets, each])
            except ProfileError as alone:
                wrongs[key] = f"{alone.wrong}: {alone.cure}" if alone.cure else alone.wrong
        return None, wrongs or {tried[-1].partition("=")[0]: str(error)}


def _effect(job: JobFile, controller: str, sets: list[str], with_it: list[str]) -> dict[str, Any]:
    """Which lines of this part's program change, and why; what becomes of the program."""
    try:
        part = load(job.path)
    except InputError as error:
        return {"error": str(error)}
    with side(controller, sets) as one, side(controller, with_it) as other:
        (programs,) = compare(one, other, {job.path.name: part}).programs
    rows = [(row, each.operation) for each in programs.parts for row in each.rows if row.reasons]
    told = [{"was": row.first, "is": row.second, "why": list(row.reasons), "operation": number} for row, number in rows[:MOST_ROWS]]
    return {
        "error": "",
        "count": len(rows),
        "rows": told,
        "first": programs.first,
        "second": programs.second,
        "everywhere": list(programs.everywhere),
        "without_effect": list(programs.without_effect),
    }


def _tour(page: Page, controller: str, tried: Sequence[str]) -> str:
    """Begin to prove the tour with what would be saved, once for each profile: the job's own settings left aside. Gives the task's key."""
    saved = resolve(controller, tried)
    said_all = json.dumps([controller, *tried, profile_digest(saved.profile)])
    key = f"tour{hashlib.sha256(said_all.encode()).hexdigest()[:24]}"
    page.tasks.start(key, prove_tour, {"controller": controller, "sets": list(tried)})
    return key


def prove_tour(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work of a task: the toolpaths with which every profile is tried, each posted and proved."""
    resolved, toolpaths = resolve(asked["controller"], asked["sets"]), tour()
    trials = {}
    for done, (name, toolpath) in enumerate(toolpaths.items()):
        progress("proving the tour", done, len(toolpaths))
        trials[name] = try_out(toolpath, resolved)
    found = [{"what": each.what, "level": each.level, "words": each.words} for each in check_tour(trials)]
    return {"results": found, "good": all(each["level"] not in ("wrong", "refused") for each in found)}


def _try(asked: Asked, form: FormData) -> Response:
    """What is different in the form from what holds becomes part of the address: nothing is written."""
    job = job_of(asked)
    form_now = chapters(resolve(job.request.named_controller, list(job.request.sets)), None, {}, {})
    tried = []
    for field in fields_of(form_now):
        name = f"f.{field.key}"
        if name in form and _text(form, name) != field.held:
            tried.append(set_text(field, _text(form, name)))
    if len(tried) > MOST_TRIED:
        raise InputError(f"more than {MOST_TRIED} settings are changed at once", cure="save some of them first")
    return _with(asked, tried)


def _text(form: FormData, name: str) -> str:
    return str(form[name]).replace("\r\n", "\n").strip("\n")


def _with(asked: Asked, tried: Sequence[str]) -> Response:
    from urllib.parse import urlencode

    answer = back(asked, "profile")
    more = urlencode([("set", each) for each in tried])
    answer.headers["location"] += f"&{more}" if more else ""
    return answer


def _save(asked: Asked, form: FormData) -> Response:
    """Keep what is tried: for this part alone in the job, or in a profile of the shop's own, shown first."""
    page, job = page_of(asked), job_of(asked)
    controller, tried = job.request.named_controller, [str(each) for each in form.getlist("set")]
    values = set_values(tried)
    if not values:
        raise InputError("nothing is changed", cure="change a setting, and try it first")
    if said(form, "keep") == "part":
        kept = {f"post.set.{key}": _plain(value) for key, value in values.items()}
        save_job(job.path, changed_text(job.text, kept), seen=said(form, "seen"))
        return back(asked, "profile")
    sources = dict.fromkeys(values, f"set in the page, {date.today()}")
    try:
        change = planned_change(controller, values, sources, child=said(form, "child") or None)
        check_own(page, change.file)
    except (InputError, OutputError) as error:
        return _shown(asked, status=422, wrong=error, tried=tried)
    if said(form, "keep") != "machine":
        told: dict[str, Any] = {"words": change.words(), "difference": change.difference(), "file": str(change.file)}
        told |= {"new": change.new, "child": said(form, "child"), "shown": _digest(change)}
        return _shown(asked, change=told, tried=tried)
    check_unchanged(job.path, said(form, "seen"))  # before the profile is written, so that both are or neither is
    if said(form, "shown") != _digest(change):
        wrong = InputError("the profile was changed since this was shown", cure="look at what would be saved now, and save it then")
        return _shown(asked, status=422, wrong=wrong, tried=tried)
    state = page.tasks.state(_tour(page, controller, tried))
    if said(form, "anyway") != "yes" and not (state["status"] == "done" and state["result"]["good"]):
        wrong = InputError("the tour is not proved with this change", cure="wait until it is; or say that you want it although it is not")
        return _shown(asked, status=422, wrong=wrong, tried=tried)
    store(change)
    keys: dict[str, Any] = {f"post.set.{key}": None for key in values}
    if change.controller != controller:
        keys["post.controller"] = change.controller
    save_job(job.path, changed_text(job.text, keys), seen=said(form, "seen"))
    return back(asked, "profile")


def _digest(change: Change) -> str:
    """Of what the file holds before and after: by which the page knows that this is the change that it has shown."""
    return hashlib.sha256(f"{change.file}\n{change.before}\n{change.after}".encode()).hexdigest()[:16]


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _new(asked: Asked, form: FormData) -> Response:
    """A profile of one's own in the folder of the part: with questions to ask at the machine, or from a program that runs there."""
    page, job = page_of(asked), job_of(asked)
    dropped, name = form.get("example"), said(form, "name")
    example = None
    if isinstance(dropped, UploadFile) and dropped.filename:
        example = page.folder.keep(dropped.filename, dropped.file.read())
    if not name.replace("-", "").replace("_", "").isalnum() or not name.isascii():
        raise InputError(f"{name!r} is no name for a profile", cure="use letters, digits, - and _")
    check_unchanged(job.path, said(form, "seen"))
    created = create(name, job.request.named_controller, page.folder.file("controllers"), example=example)
    named = f"./{Path(os.path.relpath(created.folder, job.path.parent)).as_posix()}"
    try:
        save_job(job.path, changed_text(job.text, {"post.controller": named}), seen=said(form, "seen"))
    except SteadyrestError as error:
        return _shown(asked, status=422, wrong=error)
    return _shown(asked, told=created_text(created))


ROUTES = [
    Route("/profile", _shown),
    Route("/profile/try", in_thread(_try), methods=["POST"]),
    Route("/profile/save", in_thread(_save), methods=["POST"]),
    Route("/profile/new", in_thread(_new), methods=["POST"]),
]
