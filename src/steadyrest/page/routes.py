"""The application of a folder: the pages of all steps by their addresses, and errors in the same words as on the terminal."""

from __future__ import annotations

from contextlib import suppress
from importlib import resources
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request as Asked
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from steadyrest.errors import InputError, SteadyrestError
from steadyrest.page import deliver, first, look, part, profile, profile_new, profile_state, program, today
from steadyrest.page.app import Page, job_of, page_of, shown, wants_json


def _task(asked: Asked) -> Response:
    return JSONResponse(page_of(asked).tasks.state(asked.path_params["key"]))


def _cancel(asked: Asked) -> Response:
    tasks = page_of(asked).tasks
    tasks.cancel(asked.path_params["key"])
    return JSONResponse(tasks.state(asked.path_params["key"]))


def _wrong(asked: Asked, error: Exception) -> Response:
    """An error on purpose: its words, on a page or as JSON, as the address asks for."""
    assert isinstance(error, SteadyrestError)
    if wants_json(asked):
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
        *first.ROUTES,
        *part.ROUTES,
        Route("/task/{key:str}", _task),
        Route("/task/{key:str}/cancel", _cancel, methods=["POST"]),
        *today.ROUTES,
        *look.ROUTES,
        *program.ROUTES,
        *profile.ROUTES,
        *profile_state.ROUTES,
        *profile_new.ROUTES,
        *deliver.ROUTES,
        Mount("/static", StaticFiles(directory=str(Path(str(resources.files("steadyrest.page"))) / "static"))),
    ]
    app = Starlette(routes=routes, exception_handlers={SteadyrestError: _wrong, 404: _absent, Exception: _mistake})
    app.state.page = page
    return app
