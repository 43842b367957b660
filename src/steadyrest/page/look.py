"""The step Look: the outcome first, then the report's own views; what has to be checked, ticked here and kept in the run record."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from markupsafe import Markup
from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from steadyrest.errors import InputError
from steadyrest.findings import ACCEPTABLE
from steadyrest.page.app import back, in_thread, job_of, page_of, said, shown, wants_json
from steadyrest.page.job_file import JobFile, changed_text, save_job
from steadyrest.page.made import COLUMNS, LOOK, SHEET, Made, made
from steadyrest.record import Run, differences, next_run, record_run, runs_of
from steadyrest.sheet import setup_sheet_style
from steadyrest.viewer import page_files

SHEET_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
LONGEST = 2_000
"""Characters of a field of the run record."""
FORMER = 10


def _shown(asked: Asked) -> Response:
    job = job_of(asked)
    facts: dict[str, Any] = {"job": job, "made": None}
    if job.job is None:
        return shown(asked, "look.html.j2", "look", **facts)
    found = made(page_of(asked), job)
    facts["made"] = found
    if found.done:
        former = runs_of(job.path)
        today = run_of(job, found)
        ended = [each for each in former if each.run]
        facts |= {
            "parts": {name: Markup(text) for name, text in _parts(found).items()},
            "posted": found.posted,
            "checks": checks_of(found),
            "acceptable": acceptable_of(found),
            "run": next_run(former, today),
            "former": ended[::-1][:FORMER],
            "different": differences(ended[-1], today) if ended else [],
            "tools": found.facts["tools"],
            "scripts": [name for name in page_files() if name[0].isdigit()],
        }
    return shown(asked, "look.html.j2", "look", **facts)


def _parts(found: Made) -> dict[str, str]:
    parts: dict[str, str] = json.loads((found.folder / LOOK).read_text(encoding="utf-8"))
    return parts


def checks_of(found: Made) -> list[tuple[str, str]]:
    """What has to be ticked before cycle start, each with the name under which it is kept: findings, then the sheet's first run."""
    open_ones = [one for one in found.posted["findings"] if one["weight"] != "stop" or one["accepted"]]
    findings = [(f"{one['name']}:{one['line'] or 0}", str(one["sentence"])) for one in open_ones]
    return [*findings, *((f"sheet:{text}", text) for text in found.facts["checklist"])]


def acceptable_of(found: Made) -> list[dict[str, Any]]:
    """Of the findings that stop the program those that may be taken on, each name once."""
    stops = [one for one in found.posted["findings"] if one["weight"] == "stop" and one["name"] in ACCEPTABLE]
    return list({one["name"]: one for one in stops}.values())


def run_of(job: JobFile, found: Made) -> Run:
    """The run that is being set up, as far as it is known without asking."""
    return Run(
        when=datetime.now(UTC).astimezone().isoformat(timespec="seconds"),
        outcome=str(found.posted["outcome"]),
        program=str(found.state["result"]["digest"]),
        toolpath=str(found.posted["toolpath_digest"]),
        profile=str(found.posted["profile_digest"]),
        mounting=tuple(found.facts["mounting"]),
        settings=(job.request.named_controller, *job.request.sets),
        gauge_lengths={str(number): length for number, length in job.request.gauge_lengths.items()},
    )


def _record(asked: Asked, form: FormData) -> Response:
    """Keep what was ticked and filled in; `run` says that it has been run."""
    job = job_of(asked)
    found = made(page_of(asked), job)
    if not found.done or found.key != said(form, "seen"):
        raise InputError(
            "the job was changed since this page was shown, and nothing was kept", cure="look at it as it is now, then fill it in"
        )
    texts = {name: said(form, name) for name in form if name == "origin" or name == "remarks" or name.startswith("tool-")}
    if long := [name for name, text in texts.items() if len(text) > LONGEST]:
        raise InputError(f"what was written under {long[0]} has more than {LONGEST} characters", cure="shorten it")
    names = {name for name, _ in checks_of(found)}
    today = replace(
        run_of(job, found),
        origin=texts.get("origin", ""),
        remarks=texts.get("remarks", ""),
        tools={name.removeprefix("tool-"): text for name, text in texts.items() if name.startswith("tool-")},
        checked=tuple(str(each) for each in form.getlist("checked") if str(each) in names),
        run=said(form, "run") == "yes",
    )
    if today.run and today.outcome == "stop":
        raise InputError("stop: a program that must not run has no run to record", cure="see what stops it, under Look")
    record_run(job.path, today)
    return JSONResponse({}) if wants_json(asked) else back(asked, "look")


def _accept(asked: Asked, form: FormData) -> Response:
    """Take on a finding that stops the program, for this job."""
    job, name = job_of(asked), said(form, "name")
    if name not in ACCEPTABLE:
        raise InputError(f"there is no finding {name!r} to accept", cure="there is no way past a failed proof: mend what it says")
    taken = job.job.post.accept if job.job is not None else ()
    wanted = [each for each in taken if each != name] if said(form, "take") == "back" else [*dict.fromkeys((*taken, name))]
    save_job(job.path, changed_text(job.text, {"post.accept": wanted or None}), seen=said(form, "seen"))
    return back(asked, "look")


def _again(asked: Asked, form: FormData) -> Response:
    made(page_of(asked), job_of(asked), again=True)
    return back(asked, "look")


def _file(asked: Asked) -> Response:
    """The viewer's scripts and style, the same as the report holds in itself."""
    name = asked.path_params["name"]
    files = {**page_files(), "sheet.css": setup_sheet_style()}
    if name not in files:
        raise InputError("there is no such file", cure="start from the first page")
    return Response(
        files[name], media_type="text/css" if name.endswith(".css") else "text/javascript", headers={"Cache-Control": "max-age=600"}
    )


def _columns(asked: Asked) -> Response:
    """The numbers that belong to the page that asks, by its key: the job may have been changed since."""
    found = made(page_of(asked), job_of(asked))
    if not found.done or found.key != asked.query_params.get("key"):
        raise InputError("the job was changed since this page was shown", cure="reload the page")
    return Response((found.folder / COLUMNS).read_bytes(), media_type="application/octet-stream")


def _sheet(asked: Asked) -> Response:
    found = made(page_of(asked), job_of(asked))
    if not found.done:
        return back(asked, "look")
    return HTMLResponse((found.folder / SHEET).read_text(encoding="utf-8"), headers={"Content-Security-Policy": SHEET_POLICY})


ROUTES = [
    Route("/look", _shown),
    Route("/look/run", in_thread(_record), methods=["POST"]),
    Route("/look/accept", in_thread(_accept), methods=["POST"]),
    Route("/look/again", in_thread(_again), methods=["POST"]),
    Route("/look/columns", _columns),
    Route("/look/sheet", _sheet),
    Route("/look/viewer/{name:str}", _file),
]
