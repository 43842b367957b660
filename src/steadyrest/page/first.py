"""The first page: the parts of the folder, files that have no job yet, and a place to drop new ones."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request as Asked
from starlette.responses import Response
from starlette.routing import Route

from steadyrest.errors import InputError, OutputError
from steadyrest.inputs import InputOptions, files_of, reader_for
from steadyrest.page.app import Page, back, in_thread, page_of, said, shown
from steadyrest.page.folder import Folder
from steadyrest.page.job_file import ENDING, new_job_text, read_job_file, save_job
from steadyrest.record import ENDING as RECORD_ENDING
from steadyrest.record import runs_of

MOST_SHOWN = 200
LARGEST = 512 * 2**20
"""Bytes of a file whose kind is looked up for the list."""


def _shown(asked: Asked, *, status: int = 200, wrong: Exception | None = None, chosen: list[str] | None = None) -> Response:
    folder = page_of(asked).folder
    facts: dict[str, Any] = {
        "jobs": list(_jobs(folder, _job_files(folder))),
        "files": without_job(folder),
        "wrong": wrong,
        "chosen": chosen or [],
    }
    return shown(asked, "first.html.j2", status=status, **facts)


def _job_files(folder: Folder) -> list[Path]:
    return [each for each in folder.files() if each.name.endswith(ENDING)]


def without_job(folder: Folder) -> list[dict[str, str]]:
    """Files of the folder that can be read and belong to no job yet: the name of each, and what it is."""
    taken = {os.path.realpath(file) for job in _job_files(folder) for file in (*files_of(job), *_outputs(job))}
    left = [each for each in folder.files() if os.path.realpath(each) not in taken and not each.name.endswith(RECORD_ENDING)]
    return [{"name": folder.name(each), "speaks": kind} for each in left[:MOST_SHOWN] if (kind := _kind(each))]


def _outputs(job: Path) -> list[Path]:
    """The program that a job writes: no part begins with it."""
    with suppress(InputError):
        output = read_job_file(job).request.output
        return [output] if output is not None else []
    return []


def _jobs(folder: Folder, jobs: list[Path]) -> Iterator[dict[str, Any]]:
    for job in jobs:
        runs = []
        with suppress(InputError):
            runs = [each for each in runs_of(job) if each.run]
        changed = datetime.fromtimestamp(job.stat().st_mtime).isoformat(" ", "minutes")
        inputs = [Path(each).name for each in files_of(job)[1:]]
        yield {"name": folder.name(job), "changed": changed, "inputs": inputs, "last": runs[-1] if runs else None}


def _kind(file: Path) -> str:
    """What a file is, in a sentence; empty for one that is nothing that can be read."""
    with suppress(InputError, OSError):
        if file.stat().st_size <= LARGEST:
            return reader_for(file, InputOptions()).speaks
    return ""


def _new(asked: Asked, form: FormData) -> Response:
    """A job of the files that were dropped or chosen; a job file that was dropped is one already."""
    page = page_of(asked)
    chosen = [str(each) for each in form.getlist("file")]
    try:
        dropped = list(kept(page, form))
        files = [page.folder.file(name) for name in chosen]
        if jobs := [each for each in dropped if each.name.endswith(ENDING)]:
            return back(asked, "part", job=page.folder.name(jobs[0]))
        if dropped and not files and not said(form, "name") and (known := _read_from(page.folder, dropped)):
            return back(asked, "part", job=page.folder.name(known))
        if not (dropped or files):
            raise InputError("no file is chosen", cure="drop files here, or tick some of the list")
        job = _begun(page, [*files, *dropped], said(form, "name"))
    except (InputError, OutputError) as error:
        return _shown(asked, status=422, wrong=error, chosen=chosen)
    return back(asked, "part", job=page.folder.name(job))


def _read_from(folder: Folder, files: list[Path]) -> Path | None:
    """The job that is read from all of these files already: they were written anew, and no other part begins."""
    wanted = {os.path.realpath(each) for each in files}
    return next((job for job in _job_files(folder) if wanted <= {os.path.realpath(file) for file in files_of(job)}), None)


def kept(page: Page, form: FormData) -> Iterator[Path]:
    """The files that a form brings, put into the folder one after the other. InputError for one that may not be."""
    for each in form.getlist("dropped"):
        if isinstance(each, UploadFile) and each.filename:
            yield page.folder.keep(each.filename, each.file.read(), replace=said(form, "replace") == "yes")


def _begun(page: Page, files: list[Path], name: str) -> Path:
    """A new job of files, in the folder of the first; called after it unless a name is given."""
    for each in files:
        if not each.is_file():
            raise InputError(f"there is no file {each.name}", cure="reload the page, and choose again")
    called = name or files[0].name.partition(".")[0]
    job = files[0].parent / f"{called}{ENDING}"
    if set(called) & set("/\\") or called.startswith(".") or not called.isprintable():
        raise InputError(f"{called!r} is no name for a part", cure="use letters, digits, - and _")
    relative = [os.path.relpath(each, job.parent) for each in dict.fromkeys(files)]
    return save_job(job, new_job_text([Path(each).as_posix() for each in relative], called), seen=None).path


ROUTES = [Route("/", _shown), Route("/new", in_thread(_new), methods=["POST"])]
