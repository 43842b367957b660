"""The step Profile: every setting with its source, a change tried on this part's program and on the tour, and saved where it belongs."""

from __future__ import annotations

import hashlib
import os
from datetime import date
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.errors import InputError, ProfileError
from steadyrest.page import standing
from steadyrest.page.app import Page, back, check_own, in_thread, job_of, page_of, said, shown
from steadyrest.page.job_file import JobFile, changed_text, check_unchanged, save_job
from steadyrest.page.profile_tried import Tried, changed, effect_task, tour_task
from steadyrest.page.settings_form import addable, chapters, fields_of, set_text
from steadyrest.profile import resolve
from steadyrest.profile_tools import Change, is_ours, planned_change, set_values, store

WHOLE_TABLES = {"rotary": 2, "numbers": 3}
"""Tables by letter begin with these, and their names have so many parts: `rotary.B`, `numbers.by_letter.R`."""


def _shown(
    asked: Asked,
    *,
    status: int = 200,
    wrong: Exception | None = None,
    change: Any = None,
    typed: FormData | None = None,
) -> Response:
    page, job = page_of(asked), job_of(asked)
    facts: dict[str, Any] = {"job": job, "wrong": wrong, "change": change, "chapters": None, "tab": "settings", "typed": typed or {}}
    if job.job is None:
        return shown(asked, "profile.html.j2", "profile", status, **facts)
    controller, sets = job.request.named_controller, job.request.sets
    facts |= {"controller": controller, "machines": machines(page, job), "saved": asked.query_params.get("saved", "") == controller}
    try:
        held = resolve(controller, sets)
    except ProfileError as error:
        return shown(asked, "profile.html.j2", "profile", status, **{**facts, "wrong": wrong or error})
    query = asked.query_params
    said_in = query if typed is None else typed
    tried = Tried.of(said_in.getlist("set"), said_in.getlist("unset"))
    after, wrongs = changed(job, tried) if tried else (None, {})
    values = set_values(tried.sets)
    told = {key: f"{each.wrong}: {each.cure}" if each.cure else each.wrong for key, each in wrongs.items()}
    could = addable(held)
    added = [each for each in dict.fromkeys([*query.getlist("add"), *map(_table, values)]) if each in could]
    facts |= {
        "chapters": chapters(held, after, values, told, unset=tried.unset, added=added),
        "addable": [each for each in could if each not in added],
        "added": added,
        "tried": tried,
        "wrongs": list(wrongs.values()),
        "key": query.get("key", "") or (added[-1] if query.getlist("add") and added else ""),
        "held": held.profile,
        "name": held.chain[0].name,
        "ours": is_ours(held.chain[0]),
        "effect": None,
        "tour": None,
    }
    if tried and after is not None:
        facts["effect"], facts["tour"] = effect_task(page, job, tried), tour_task(page, job, tried)
    return shown(asked, "profile.html.j2", "profile", status, **facts)


def _table(key: str) -> str:
    parts = key.split(".")
    return ".".join(parts[: WHOLE_TABLES.get(parts[0], 1)])


def machines(page: Page, job: JobFile) -> list[tuple[str, str, bool]]:
    """The profiles that this part can be posted with, as the job file would name each; what each speaks; and whether the part is now."""
    now = job.request.named_controller
    listed = [(each.name, each.speaks, _same(each.name, now, job)) for each in standing.machines(page.folder, job)]
    return listed if any(current for _, _, current in listed) else [(now, "as the job file names it", True), *listed]


def _same(name: str, now: str, job: JobFile) -> bool:
    """Whether a machine of the list is the one that a part is posted with; those in the page's folder are named by the way there."""
    return name == now or (name.startswith(".") and os.path.realpath(job.path.parent / name) == os.path.realpath(now))


def beside(job: JobFile, folder: Path) -> str:
    """How a job file names a profile's folder: by the way there from itself."""
    return f"./{Path(os.path.relpath(folder, job.path.parent)).as_posix()}"


def _use(asked: Asked, form: FormData) -> Response:
    """Post this part for another machine; its own settings, such as today's mounting, stay."""
    job, controller = job_of(asked), said(form, "controller")
    if controller not in [name for name, _, _ in machines(page_of(asked), job)]:
        raise InputError(f"there is no profile {controller!r} to choose", cure="reload the page, and choose again")
    resolve(str(job.path.parent / controller) if controller.startswith(".") else controller, job.request.sets)
    save_job(job.path, changed_text(job.text, {"post.controller": controller}), seen=said(form, "seen"))
    return back(asked, "profile")


def _try(asked: Asked, form: FormData) -> Response:
    """What is different in the form from what holds becomes part of the address: nothing is written."""
    job, added = job_of(asked), [str(each) for each in form.getlist("add")]
    held = resolve(job.request.named_controller, job.request.sets)
    sets, unset = [], [str(each) for each in form.getlist("unset")]
    for field in fields_of(chapters(held, None, {}, {}, added=[each for each in added if each in addable(held)])):
        name = f"f.{field.key}"
        if field.key not in unset and name in form and _text(form, name) != field.held:
            sets.append(set_text(field, _text(form, name)))
    return back(asked, "profile", *Tried.of(sets, unset).query)


def _text(form: FormData, name: str) -> str:
    return str(form[name]).replace("\r\n", "\n").strip("\n")


def _again(asked: Asked, form: FormData) -> Response:
    """Try once more what failed or was cancelled."""
    page, job, tried = page_of(asked), job_of(asked), Tried.of(form.getlist("set"), form.getlist("unset"))
    effect_task(page, job, tried, again=True)
    tour_task(page, job, tried, again=True)
    return back(asked, "profile", *tried.query)


def _save(asked: Asked, form: FormData) -> Response:
    """Keep what is tried: for this part alone in the job, or in a profile of the shop's own, shown first."""
    page, job = page_of(asked), job_of(asked)
    controller, tried = job.request.named_controller, Tried.of(form.getlist("set"), form.getlist("unset"))
    values = set_values(tried.sets)
    if not tried:
        raise InputError("nothing is changed", cure="change a setting, and try it first")
    if said(form, "keep") == "part":
        return _save_in_job(asked, job, tried, values, form)
    where = said(form, "source") or f"set in the page, {date.today()}"
    child = said(form, "child") or None
    change = planned_change(controller, values, dict.fromkeys(values, where), child=child, unset=tried.in_profile(job), why=where)
    check_own(page, change.file)
    if said(form, "keep") != "machine":
        told: dict[str, Any] = {"words": change.words(), "difference": change.difference(), "file": str(change.file), "new": change.new}
        return _shown(asked, change=told | {"shown": _digest(change)}, typed=form)
    check_unchanged(job.path, said(form, "seen"))  # before the profile is written, so that both are or neither is
    if said(form, "shown") != _digest(change):
        raise InputError("the profile was changed since this was shown", cure="look at what would be saved now, and save it then")
    _, state = tour_task(page, job, tried)
    if said(form, "anyway") != "yes" and not (state["status"] == "done" and state["result"]["good"]):
        raise InputError("the tour is not proved with this change", cure="wait until it is; or say that you want it although it is not")
    store(change)
    keys: dict[str, Any] = {f"post.set.{key}": None for key in (*values, *tried.in_job(job))}
    if change.controller != controller:
        keys["post.controller"] = change.controller
    save_job(job.path, changed_text(job.text, keys), seen=said(form, "seen"))
    return back(asked, "profile", saved=change.controller)


def _save_in_job(asked: Asked, job: JobFile, tried: Tried, values: dict[str, Any], form: FormData) -> Response:
    if own := tried.in_profile(job):
        raise InputError(
            f"the profile states {', '.join(own)} itself, and cannot state it no more for one part alone",
            cure="save it for the machine; or give another value for this part",
        )
    kept: dict[str, Any] = {f"post.set.{key}": list(value) if isinstance(value, tuple) else value for key, value in values.items()}
    kept |= {f"post.set.{key}": None for key in tried.in_job(job)}
    save_job(job.path, changed_text(job.text, kept), seen=said(form, "seen"))
    return back(asked, "profile")


def _digest(change: Change) -> str:
    """Of what the file holds before and after: by which the page knows that this is the change that it has shown."""
    return hashlib.sha256(f"{change.file}\n{change.before}\n{change.after}".encode()).hexdigest()[:16]


ROUTES = [
    Route("/profile", _shown),
    Route("/profile/use", in_thread(_use, _shown), methods=["POST"]),
    Route("/profile/try", in_thread(_try), methods=["POST"]),
    Route("/profile/again", in_thread(_again), methods=["POST"]),
    Route("/profile/save", in_thread(_save, _shown), methods=["POST"]),
]
