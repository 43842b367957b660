"""What all pages share: what they work with, how an address, a form and a page of a template are made of it."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request as Asked
from starlette.responses import HTMLResponse, RedirectResponse, Response

from steadyrest.errors import InputError, Place, SteadyrestError
from steadyrest.page.folder import Folder
from steadyrest.page.job_file import ENDING, JobFile, read_job_file
from steadyrest.page.tasks import Tasks
from steadyrest.profile import user_folder
from steadyrest.request import files_of

STEPS = (
    ("part", "Part"),
    ("today", "How it stands today"),
    ("look", "Look"),
    ("program", "Program"),
    ("profile", "Profile"),
    ("deliver", "Deliver"),
)
"""The way of a job: the address of each step below the page's own, and its name."""
MOST_FIELDS, MOST_FIELD_BYTES = 2_000, 8 * 2**20
"""Of one form."""


@dataclass(frozen=True, slots=True)
class Page:
    """What the page works with: the folder that the user gave, the tasks of this run, and folders into which programs may be delivered."""

    folder: Folder
    tasks: Tasks
    deliver_to: tuple[Path, ...] = ()


def page_of(asked: Asked) -> Page:
    """What the page works with."""
    found = asked.app.state.page
    assert isinstance(found, Page)
    return found


def job_of(asked: Asked) -> JobFile:
    """The job file that an address names as `?job=NAME`, relative to the folder; one that reads files elsewhere has an error, as if no
    command could read it. InputError where there is none."""
    name = asked.query_params.get("job", "")
    if not name.endswith(ENDING):
        raise InputError("the address names no job", cure="choose a part on the first page")
    folder = page_of(asked).folder
    job = read_job_file(folder.file(name))
    for file in files_of(job.path)[1:]:
        if not folder.holds(file):
            wrong = f"the input {file} is not in the folder {folder.path}"
            cure = "copy it into that folder, or start the page in a folder that holds both"
            return replace(job, job=None, error=InputError(wrong, place=Place(file=job.path.name, key="inputs"), cure=cure))
    return job


def address(asked: Asked, step: str = "", *more: tuple[str, str], **query: str | int | None) -> str:
    """The address of a step, such as `look`, with the job of this one unless another is named; empty: the first page. `more`: of a query
    that says one name several times.
    """
    said = {"job": asked.query_params.get("job"), **query} if step else query
    kept = [*((key, str(value)) for key, value in said.items() if value is not None), *more]
    return f"{asked.scope['root_path']}/{quote(step)}" + (f"?{urlencode(kept)}" if kept else "")


def shown(asked: Asked, template: str, step: str = "", status: int = 200, **facts: Any) -> HTMLResponse:
    """A page made of a template, which extends `base.html.j2`.

    step    which of `STEPS` it is
    facts   of the template; `job` is the JobFile where there is one
    """
    root, folder = asked.scope["root_path"], page_of(asked).folder
    common = {"root": root, "folder": folder, "step": step, "steps": STEPS, "job": None, "to": partial(address, asked)}
    made = templates().get_template(template).render(**{**common, **facts})
    return HTMLResponse(made, status)


def back(asked: Asked, step: str = "", *more: tuple[str, str], section: str = "", **query: str | int | None) -> RedirectResponse:
    """After a change: look at the step anew, so that a reload changes nothing twice; at that `section` of it, if one is named."""
    return RedirectResponse(address(asked, step, *more, **query) + (f"#{section}" if section else ""), 303)


async def form_of(asked: Asked) -> FormData:
    """What a form holds. InputError where it is no form, or too large a one."""
    try:
        return await asked.form(max_files=50, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD_BYTES)
    except HTTPException as error:
        raise InputError(f"this form cannot be read: {error.detail}", cure="go back, reload the page, and try again") from None


def said(form: FormData, name: str) -> str:
    """A field of a form as a text without spaces around it; empty where it was left out or is a file."""
    value = form.get(name, "")
    return "" if isinstance(value, UploadFile) else value.strip()


def typed_in(form: FormData | None) -> dict[str, str]:
    """All fields of a form as texts, as of `said`; nothing where there is none."""
    return {name: said(form, name) for name in form} if form is not None else {}


def wants_json(asked: Asked) -> bool:
    """Whether a script asks, which takes data and no page."""
    return "application/json" in asked.headers.get("accept", "")


def in_thread(work: Callable[..., Response], again: Callable[..., Response] | None = None) -> Callable[[Asked], Any]:
    """An endpoint for a form: `work(asked, form)` is ordinary code that may take a while, so the server runs it beside itself.

    again    shows the form anew, with what is wrong above all that was typed: `again(asked, status=, wrong=, typed=)`. None, and for a
             script: the error is all that is told
    """

    def done(asked: Asked, form: FormData) -> Response:
        try:
            return work(asked, form)
        except SteadyrestError as error:
            if again is None or wants_json(asked):
                raise
            return again(asked, status=422, wrong=error, typed=form)

    async def endpoint(asked: Asked) -> Response:
        form = await form_of(asked)
        try:
            return await asyncio.to_thread(done, asked, form)
        finally:
            await form.close()

    return endpoint


@cache
def templates() -> Environment:
    """The page's templates: everything is escaped, and a name that is not there is an error."""
    return Environment(
        loader=PackageLoader("steadyrest.page", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def check_own(page: Page, profile: Path) -> None:
    """A profile's file may be written to in the folder of this page and in the user's own; InputError for one elsewhere, which a job file
    that came from somewhere may name."""
    inside = (page.folder.path, Path(os.path.realpath(user_folder())))
    if not any(Path(os.path.realpath(profile)).is_relative_to(each) for each in inside):
        wrong = f"{profile} is neither in the folder of this page nor among your own profiles"
        raise InputError(wrong, cure="give a name, and a profile of your own is made that extends it")
