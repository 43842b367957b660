"""The step Deliver: the program goes where the machine reads it, proved once more and read back; what was there is kept.

Where it may go: the folder that the profile names, and those that were given when the page was started.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.delivery import deliver, delivered_name, deliveries_to
from steadyrest.errors import InputError, OutputError, Place, Refused
from steadyrest.page.app import Page, back, in_thread, job_of, page_of, said, shown
from steadyrest.page.folder import file_digest
from steadyrest.page.job_file import JobFile
from steadyrest.page.look import checks_of, run_of
from steadyrest.page.made import Made, made
from steadyrest.posting import post
from steadyrest.profile import Profile, resolve
from steadyrest.progress import Progress
from steadyrest.record import next_run, runs_of
from steadyrest.request import Request

MOST_FORMER = 8
"""Deliveries listed, the last first."""
FILLED = ("program", "place", "name")


def programs_of(job: JobFile) -> list[Path]:
    """What may be delivered of a job: its program, which is posted anew, and the copy of it that was edited, if there is one."""
    return [job.program, *([job.copy] if job.copy.is_file() else [])]


def places_of(page: Page, job: JobFile, profile: Profile) -> list[Path]:
    """Folders into which a program may be delivered, the machine's own first."""
    machine = [Path(profile.delivery.folder).expanduser()] if profile.delivery.folder else []
    return list(dict.fromkeys([*machine, *page.deliver_to]))


def _shown(asked: Asked, *, status: int = 200, wrong: Exception | None = None, typed: FormData | None = None) -> Response:
    page, job = page_of(asked), job_of(asked)
    facts: dict[str, Any] = {"job": job, "made": None, "wrong": wrong, "task": None, "state": None, "delivered": None}
    if job.job is None:
        return shown(asked, "deliver.html.j2", "deliver", status, **facts)
    profile = resolve(job.request.named_controller, job.request.sets).profile
    found = made(page, job)
    task = asked.query_params.get("task", "")
    state = page.tasks.state(task) if task.startswith("deliver-") else None
    programs, places = programs_of(job), places_of(page, job, profile)
    name = _proposed(programs[0].name, profile)
    facts |= {
        "made": found,
        "task": task,
        "state": state,
        "delivered": state["result"] if state is not None and state["status"] == "done" else None,
        "programs": [each.name for each in programs],
        "places": [str(each) for each in places],
        "filled": {"program": programs[0].name, "place": str(places[0]) if places else "", "name": name},
        "profile": profile,
        "copy": file_digest(job.copy),
        "record": _record(job, found) if found.done else None,
        "former": deliveries_to([place / name for place in places])[:MOST_FORMER],
    }
    if typed is not None:
        facts["filled"] = {key: said(typed, key) for key in FILLED}
    return shown(asked, "deliver.html.j2", "deliver", status, **facts)


def _record(job: JobFile, found: Made) -> dict[str, Any]:
    """How far the run record is: boxes, how many of them are `ticked`, and the remarks; or what is `wrong` with it."""
    try:
        run = next_run(runs_of(job.path), run_of(job, found))
    except InputError as error:
        return {"wrong": error}
    names = [name for name, _ in checks_of(found)]
    return {"wrong": None, "boxes": len(names), "ticked": len({*names} & {*run.checked}), "remarks": run.remarks}


def _proposed(name: str, profile: Profile) -> str:
    """The name under which the machine takes the program; where the file's own will not do, the file's own, and its form says why."""
    try:
        return delivered_name(name, profile)
    except OutputError:
        return name


def _begin(asked: Asked, form: FormData) -> Response:
    """Deliver, in a process of its own: a share may be slow."""
    page, job = page_of(asked), job_of(asked)
    filled = {key: said(form, key) for key in FILLED}
    return back(asked, "deliver", task=_started(page, job, filled, said(form, "seen"), said(form, "copy")))


def _started(page: Page, job: JobFile, filled: dict[str, str], seen: str, copy: str) -> str:
    if job.error is not None:
        raise job.error
    profile = resolve(job.request.named_controller, job.request.sets).profile
    found = made(page, job)
    if found.key != seen:
        raise InputError("the job was changed since this page was shown", cure="look at the program as it is now, and deliver then")
    found = _whole(found)
    programs = {each.name: each for each in programs_of(job)}
    places = {str(each): each for each in places_of(page, job, profile)}
    if filled["program"] not in programs:
        raise InputError(f"{filled['program']!r} is no program of this job", cure="choose one of the list")
    if filled["place"] not in places:
        raise InputError(
            f"{filled['place']!r} is none of the folders that were given for programs",
            place=Place(key="delivery.folder"),
            cure="choose one of the list; or start the page with --deliver-to FOLDER; or set delivery.folder in the profile",
        )
    name = delivered_name(filled["name"], profile)
    program = programs[filled["program"]]
    if not program.resolve().is_relative_to(page.folder.path):
        raise InputError(f"{program} is not in the folder of this page", cure="name an output in that folder")
    edited = program != job.program
    if edited and file_digest(program) != copy:
        raise InputError(f"{program.name} was changed since this page was shown", cure="look at it under Program, and deliver then")
    told = {
        "job": str(job.path),
        "program": str(program),
        "edited": edited,
        "digest": copy if edited else hashlib.sha256(found.program).hexdigest(),
        "place": filled["place"],
        "name": name,
    }
    when = datetime.now(UTC).astimezone()
    key = f"deliver-{hashlib.sha256(repr((sorted(told.items()), when)).encode()).hexdigest()[:24]}"
    page.tasks.start(key, work, {**told, "when": when.isoformat()})
    return key


def _whole(found: Made) -> Made:
    if not found.done:
        raise InputError("the program is not made yet", cure="wait until it is, and look at it first")
    if found.posted["outcome"] == "stop":
        raise Refused("stop: this program must not run, and is not delivered", cure="look what stops it, under Look")
    return found


def work(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """In a process of its own: post the program into its file unless it is an edited one, and deliver that. Raises as both do, and
    Refused where it is another program than the one that was looked at."""
    request = Request(Path(asked["job"])).with_job()
    program = Path(asked["program"])
    if not asked["edited"]:
        post(replace(request, output=program), progress)
    if file_digest(program) != asked["digest"]:
        raise Refused("this is another program than the one that was looked at", cure="look at it as it is now, and deliver then")
    done = deliver(
        program, request, datetime.fromisoformat(asked["when"]), folder=Path(asked["place"]), name=asked["name"], progress=progress
    )
    return {**done.as_json(), "text": done.text()}


ROUTES = [
    Route("/deliver", _shown),
    Route("/deliver", in_thread(_begin, _shown), methods=["POST"]),
]
