"""The first page: the parts of the folder, files that have no job yet, and a place to drop new ones."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request as Asked
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from steadyrest.errors import InputError, OutputError
from steadyrest.inputs import HEAD_BYTES, InputOptions, files_of, reader_for
from steadyrest.page.app import Page, address, in_thread, page_of, said, shown, wants_json
from steadyrest.page.draft import drop_drafts
from steadyrest.page.folder import MOST_FILES, Folder
from steadyrest.page.guard import MOST_BYTES
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
        "most": MOST_BYTES,
    }
    return shown(asked, "first.html.j2", status=status, **facts)


def _job_files(folder: Folder) -> list[Path]:
    return [each for each in folder.files() if each.name.endswith(ENDING)]


def without_job(folder: Folder) -> list[dict[str, str]]:
    """Files of the folder that can be read and belong to no job yet: the name of each, and what it is."""
    taken = {file for job in _job_files(folder) for file in _taken(job, *_stamp(job))}
    left = [each for each in folder.files() if os.path.realpath(each) not in taken and not each.name.endswith(RECORD_ENDING)]
    return [{"name": folder.name(each), "speaks": kind} for each in left[:MOST_SHOWN] if (kind := _kind(each, *_stamp(each)))]


def _stamp(file: Path) -> tuple[int, int]:
    """By which one knows that a file was written anew: its time and size; nothing of one that is gone."""
    with suppress(OSError):
        known = file.stat()
        return known.st_mtime_ns, known.st_size
    return 0, 0


@lru_cache(maxsize=MOST_FILES)
def _taken(job: Path, *stamp: int) -> tuple[str, ...]:
    """The files that a job reads and writes, worked out anew where it was written anew."""
    return tuple(os.path.realpath(file) for file in (*files_of(job), *_outputs(job)))


def _outputs(job: Path) -> list[Path]:
    """The program that a job writes: no part begins with it."""
    with suppress(InputError):
        output = read_job_file(job).request.output
        return [output] if output is not None else []
    return []


def _jobs(folder: Folder, jobs: list[Path]) -> Iterator[dict[str, Any]]:
    for job in jobs:
        runs, known = [], None
        with suppress(InputError):
            runs = [each for each in runs_of(job) if each.run]
        with suppress(InputError):  # one file that is no text does not shut the others out
            known = read_job_file(job).job
        try:
            changed = datetime.fromtimestamp(job.stat().st_mtime).isoformat(" ", "minutes")
        except OSError:
            continue  # taken away meanwhile, or a link to nothing
        inputs = [each.file.name for each in known.inputs] if known is not None else []
        yield {
            "name": folder.name(job),
            "changed": changed,
            "inputs": inputs,
            "wrong": known is None,
            "last": runs[-1] if runs else None,
        }


@lru_cache(maxsize=MOST_FILES)
def _kind(file: Path, time: int, size: int) -> str:
    """What a file is, in a sentence; empty for one that is nothing that can be read. Looked up anew where it was written anew."""
    with suppress(InputError, OSError):
        if size <= LARGEST:
            return reader_for(file, InputOptions()).speaks
    return ""


def _new(asked: Asked, form: FormData) -> Response:
    """A job of the files that were dropped or chosen; a job file that was dropped is one already.

    Told as JSON to a script that asks for it: that keeps hold of the dropped files, which a form loses where they are refused.
    """
    page = page_of(asked)
    chosen = [str(each) for each in form.getlist("file")]
    try:
        files = [page.folder.file(name) for name in chosen]
        for each in kept(page, form):
            chosen.append(page.folder.name(each))
            files.append(each)
        job = _job_of(page, files, said(form, "name"), dropped_only=len(files) > 0 and not form.getlist("file"))
    except (InputError, OutputError) as error:
        if wants_json(asked):
            return JSONResponse({"text": str(error), "replace": isinstance(error, OutputError)}, 422)
        return _shown(asked, status=422, wrong=error, chosen=chosen)
    to = address(asked, "part", job=page.folder.name(job))
    return JSONResponse({"to": to}) if wants_json(asked) else RedirectResponse(to, 303)


def _job_of(page: Page, files: list[Path], name: str, *, dropped_only: bool) -> Path:
    """The job that these files are, or are read by already, or a new one of them."""
    if not files:
        raise InputError("no file is chosen", cure="drop files here, or tick some of the list")
    if dropped_only and (jobs := [each for each in files if each.name.endswith(ENDING)]):
        return jobs[0]
    known = _read_from(page.folder, files) if dropped_only and not name else None
    return known or _begun(page, files, name)


def _read_from(folder: Folder, files: list[Path]) -> Path | None:
    """The job that is read from all of these files already: they were written anew, and no other part begins."""
    wanted = {os.path.realpath(each) for each in files}
    return next((job for job in _job_files(folder) if wanted <= {os.path.realpath(file) for file in files_of(job)}), None)


def kept(page: Page, form: FormData) -> Iterator[Path]:
    """The files that a form brings, put into the folder one after the other. InputError for one that may not be, or that nothing can read;
    of two with one name neither is kept, and OutputError says where another file has it."""
    dropped = [each for each in form.getlist("dropped") if isinstance(each, UploadFile) and each.filename]
    names = [str(each.filename).replace("\\", "/").rpartition("/")[2] for each in dropped]
    if twice := [name for name in names if names.count(name) > 1]:
        raise InputError(f"two of the dropped files are called {twice[0]}", cure="give one of them another name, and drop them again")
    for name, each in zip(names, dropped, strict=True):
        content = each.file.read()
        with suppress(OSError, ValueError):  # a name that no file may have is refused by the folder, in its own words
            check_kind(name, content[:HEAD_BYTES])
        yield page.folder.keep(name, content, replace=said(form, "replace") == "yes")


def check_kind(name: str, head: bytes) -> None:
    """InputError where no reader knows a file of that name with that beginning; before it is put anywhere."""
    with TemporaryDirectory() as folder:
        tried = Path(folder, name)
        tried.write_bytes(head)
        try:
            reader_for(tried, InputOptions())
        except InputError as error:
            error.place = replace(error.place, file=name)
            if head:
                error.cure = "a program has the ending .nc, CL data .cl, a toolpath .json, a job .job.toml: give it the ending of its kind"
            raise


def _begun(page: Page, files: list[Path], name: str) -> Path:
    """A new job of files, in the folder of the first; called after it unless a name is given."""
    for each in files:
        if not each.is_file():
            raise InputError(f"there is no file {each.name}", cure="reload the page, and choose again")
    called = name or files[0].name.partition(".")[0]
    job = files[0].parent / f"{called}{ENDING}"
    if set(called) & set("/\\") or called.startswith(".") or not called.isprintable():
        raise InputError(f"{called!r} is no name for a part", cure="use letters, digits, - and _")
    if job.exists():
        files_said = ", ".join(each.file.name for each in known.inputs) if (known := read_job_file(job).job) is not None else "other files"
        raise InputError(
            f"there is a job of that name already, {job.name}, of {files_said}",
            cure="write another name into Name of the part; or open that part, and add the file there",
        )
    drop_drafts(job.parent)
    relative = [os.path.relpath(each, job.parent) for each in dict.fromkeys(files)]
    return save_job(job, new_job_text([Path(each).as_posix() for each in relative], called), seen=None).path


ROUTES = [Route("/", _shown), Route("/new", in_thread(_new), methods=["POST"])]
