"""The application: its pages by address, what all of them share, and errors in the same words as on the terminal."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache, partial
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request as Asked
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from steadyrest.errors import InputError, SteadyrestError
from steadyrest.page.folder import Folder
from steadyrest.page.job_file import ENDING, JobFile, read_job_file
from steadyrest.page.tasks import Tasks

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
    """What the page works with: the folder that the user gave, and the tasks of this run."""

    folder: Folder
    tasks: Tasks


def page_of(asked: Asked) -> Page:
    """What the page works with."""
    found = asked.app.state.page
    assert isinstance(found, Page)
    return found


def job_of(asked: Asked) -> JobFile:
    """The job file that an address names as `?job=NAME`, relative to the folder. InputError where there is none."""
    name = asked.query_params.get("job", "")
    if not name.endswith(ENDING):
        raise InputError("the address names no job", cure="choose a part on the first page")
    return read_job_file(page_of(asked).folder.file(name))


def address(asked: Asked, step: str = "", **query: str | int | None) -> str:
    """The address of a step, such as `look`, with the job of this one unless another is named; empty: the first page."""
    said = {"job": asked.query_params.get("job"), **query} if step else query
    kept = {key: str(value) for key, value in said.items() if value is not None}
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


def back(asked: Asked, step: str = "", **query: str | int | None) -> RedirectResponse:
    """After a change: look at the step anew, so that a reload changes nothing twice."""
    return RedirectResponse(address(asked, step, **query), 303)


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


def in_thread(work: Callable[..., Response]) -> Callable[[Asked], Any]:
    """An endpoint for a form: `work(asked, form)` is ordinary code that may take a while, so the server runs it beside itself."""

    async def endpoint(asked: Asked) -> Response:
        form = await form_of(asked)
        return await asyncio.to_thread(work, asked, form)

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


def _first(asked: Asked) -> Response:
    folder = page_of(asked).folder
    jobs = [folder.name(each) for each in folder.files() if each.name.endswith(ENDING)]
    return shown(asked, "first.html.j2", jobs=jobs)


def _task(asked: Asked) -> Response:
    return JSONResponse(page_of(asked).tasks.state(asked.path_params["key"]))


def _cancel(asked: Asked) -> Response:
    tasks = page_of(asked).tasks
    tasks.cancel(asked.path_params["key"])
    return JSONResponse(tasks.state(asked.path_params["key"]))


def _wrong(asked: Asked, error: Exception) -> Response:
    """An error on purpose: its words, on a page or as JSON, as the address asks for."""
    assert isinstance(error, SteadyrestError)
    if "application/json" in asked.headers.get("accept", ""):
        return JSONResponse({**error.as_json(), "text": str(error)}, 422)
    job = None
    with suppress(SteadyrestError):
        job = job_of(asked)
    return shown(asked, "error.html.j2", status=422, wrong=error, job=job)


def _mistake(asked: Asked, error: Exception) -> Response:
    """The last net: no traceback for whoever stands at the machine."""
    wrong = SteadyrestError(
        f"a mistake in steadyrest itself: {type(error).__name__}: {str(error)[:300]}", cure="keep the files of this part and report them"
    )
    return _wrong(asked, wrong)


def _absent(asked: Asked, error: Exception) -> Response:
    return shown(asked, "error.html.j2", status=404, wrong=InputError("there is no such page", cure="start from the first page"))


def make_app(page: Page) -> Starlette:
    """The application for a folder, without its guard: addresses here have no token."""
    routes = [
        Route("/", _first),
        Route("/task/{key:str}", _task),
        Route("/task/{key:str}/cancel", _cancel, methods=["POST"]),
        *step_routes(),
        Mount("/static", StaticFiles(directory=str(Path(str(resources.files("steadyrest.page"))) / "static"))),
    ]
    app = Starlette(routes=routes, exception_handlers={SteadyrestError: _wrong, 404: _absent, Exception: _mistake})
    app.state.page = page
    return app


def step_routes() -> list[Route]:
    """The pages of all steps; each is a module of its own."""
    return []
