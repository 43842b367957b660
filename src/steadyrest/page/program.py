"""The step Program: the program line by line, each word explained, and a copy of it that is proved while somebody changes it."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import asdict, dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any
from urllib.parse import quote

from starlette.datastructures import FormData
from starlette.requests import Request as Asked
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from steadyrest.errors import InputError, OutputError, Place
from steadyrest.explaining import Written, explain_lines, explanation_data, lines_of, sections, write_anew
from steadyrest.page.app import in_thread, job_of, page_of, said, shown
from steadyrest.page.draft import keep_draft, read_draft
from steadyrest.page.edited import Change, changes_between, edited, read_changes
from steadyrest.page.job_file import JobFile
from steadyrest.page.made import PROGRAM, made
from steadyrest.page.trial import AT_ONCE, proved_beside, proved_now, tried
from steadyrest.request import files_of
from steadyrest.writing import check_no_input, put_in_place

KEPT = 2
"""Programs that are kept in memory, with where each of their lines comes from."""
MOST_LINES = 200
"""Explained in one answer."""
MOST_COPY_BYTES = 64 * 2**20
"""Of a saved copy that is opened again."""


@dataclass(slots=True)
class Posted:
    """A program of a job as it was made, for the addresses that are asked about it.

    key       of what decides it (`Made`)
    file      where its bytes are
    found     what was said of it, as `steadyrest post --json` prints it
    lines     its lines, without their ends
    """

    key: str
    job: JobFile
    file: Path
    text: bytes
    found: dict[str, Any]
    lines: list[str]
    _written: Written | None = None
    _lock: Lock = field(default_factory=Lock)

    def written(self) -> Written:
        """The same program written anew, with where each line comes from: once, when the first word is asked about."""
        with self._lock:
            if self._written is None:
                self._written = write_anew(self.job.request)
            return self._written


_known: OrderedDict[tuple[Path, str], Posted] = OrderedDict()
_knowing = Lock()


def _posted(asked: Asked, key: str = "") -> Posted:
    """The program of the job that an address names: the one with this key if it is still known, else as it is now. InputError where it
    is not made yet, or cannot be."""
    job = job_of(asked)
    with _knowing:
        if (job.path, key) in _known:
            return _known[job.path, key]
    found = made(page_of(asked), job)
    if not found.done:
        raise InputError("the program is not made yet", cure="open the page of the program, and wait for it")
    if key and key != found.key:
        raise InputError("the program was made anew meanwhile: the job or its profile was changed", cure="reload the page")
    with _knowing:
        if (job.path, found.key) not in _known:
            text = found.program
            _known[job.path, found.key] = Posted(found.key, job, found.folder / PROGRAM, text, found.posted, lines_of(text))
        _known.move_to_end((job.path, found.key))
        while len(_known) > KEPT:
            _known.popitem(last=False)
        return _known[job.path, found.key]


def _program(asked: Asked) -> Response:
    job = job_of(asked)
    if job.error is not None:
        return shown(asked, "program.html.j2", "program", job=job, program=None, task=None)
    making = made(page_of(asked), job, again="again" in asked.query_params)
    if not making.done:
        return shown(asked, "program.html.j2", "program", job=job, program=None, task=making.key, state=making.state)
    program = _posted(asked, making.key)
    folder = page_of(asked).folder
    copy = program.job.copy
    facts = {
        "program": program,
        "name": program.job.program.name,
        "outcome": program.found["outcome"],
        "copy": folder.name(copy),
        "copied": copy.is_file(),
        "task": None,
    }
    return shown(asked, "program.html.j2", "program", job=job, **facts)


def _outline(asked: Asked) -> Response:
    """The sections of a program and what was found in its lines."""
    program = _posted(asked, asked.query_params.get("key", ""))
    findings = [
        {"line": one["line"], "weight": one["weight"], "sentence": one["sentence"]} for one in program.found["findings"] if one["line"]
    ]
    return JSONResponse({"sections": [asdict(one) for one in sections(program.written())], "findings": findings})


def _line(asked: Asked) -> Response:
    """Some lines of a program explained, as `steadyrest explain --json` prints them, with the names of their files made short."""
    program = _posted(asked, asked.query_params.get("key", ""))
    try:
        first = int(asked.query_params.get("line", ""))
        last = int(asked.query_params.get("last", first))
    except ValueError:
        raise InputError("no line of the program is named", cure="choose a line") from None
    if last - first >= MOST_LINES:
        raise InputError(f"more than {MOST_LINES} lines are asked for at once", cure=f"ask for {MOST_LINES} at most")
    explanation = explain_lines(Path(program.job.program.name), program.lines, first, last, program.written())
    return JSONResponse(explanation_data(explanation), headers={"Cache-Control": "no-store"})


def _file(asked: Asked) -> Response:
    """The program as a file; `copy=yes`: the saved copy."""
    program = _posted(asked, asked.query_params.get("key", ""))
    text, name = program.text, program.job.program.name
    if asked.query_params.get("copy") == "yes":
        copy = program.job.copy
        text, name = _saved(copy), copy.name
    plain = "".join(letter if letter.isascii() and (letter.isalnum() or letter in "._-") else "_" for letter in name)
    headers = {"Content-Disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name)}"}
    return Response(text, media_type="text/plain", headers=headers)


def _copy(asked: Asked) -> Response:
    """By which changes the saved copy differs from the program."""
    program = _posted(asked, asked.query_params.get("key", ""))
    changes = changes_between(program.text, _saved(program.job.copy))
    return JSONResponse({"changes": [one.as_json() for one in changes]})


def _draft(asked: Asked) -> Response:
    """What was changed and is not saved yet."""
    program = _posted(asked, asked.query_params.get("key", ""))
    return JSONResponse(read_draft(program.job.path, program.lines).as_json())


def _keep(asked: Asked, form: FormData) -> Response:
    """Keep what was changed so far."""
    program, changes = _changed(asked, form)
    forget = said(form, "forget") == "yes"
    return JSONResponse(keep_draft(program.job.path, changes, program.lines, seen=said(form, "seen"), forget=forget).as_json())


def _prove(asked: Asked, form: FormData) -> Response:
    """What the proof says of the changes: the answer itself, or for a long program the `task` that finds it."""
    program, changes = _changed(asked, form)
    if len(program.lines) > AT_ONCE:
        return JSONResponse(
            {"task": proved_beside(page_of(asked).tasks, said(form, "tab"), program.key, program.file, changes, program.job.path)}
        )
    return JSONResponse(proved_now(said(form, "tab"), program.text, changes, program.job.request))


def _save(asked: Asked, form: FormData) -> Response:
    """Put the changed copy into the folder beside the job, once it is proved; the program itself stays as it is."""
    program, changes = _changed(asked, form)
    page, copy = page_of(asked), program.job.copy
    if not changes:
        raise InputError("nothing was changed", cure="change a line first")
    if len(program.lines) > AT_ONCE:
        task = proved_beside(page.tasks, said(form, "tab"), program.key, program.file, changes, program.job.path)
        state = page.tasks.state(task)
        if state["status"] != "done":
            raise InputError("the copy is not proved yet", cure="wait until it is proved, and save it then")
        found = state["result"]
    else:
        found = tried(program.text, changes, program.job.request)
    if found["outcome"] not in ("run", "look"):
        raise InputError(f"the copy was not saved: it must not run\n{found['text']}", cure="undo the change that is wrong")
    text = edited(program.text, changes)
    if copy.exists() and said(form, "replace") != "yes" and not (copy.is_file() and copy.read_bytes() == text):
        raise OutputError(
            "there is a copy of that name already", place=Place(file=copy.name), cure="choose to replace it, or give that file another name"
        )
    check_no_input(copy, files_of(program.job.path))
    put_in_place([text], copy).commit()
    return JSONResponse({"saved": page.folder.name(copy), "outcome": found["outcome"]})


def _changed(asked: Asked, form: FormData) -> tuple[Posted, tuple[Change, ...]]:
    program = _posted(asked, said(form, "key"))
    return program, read_changes(said(form, "changes"), len(program.lines))


def _saved(copy: Path) -> bytes:
    try:
        with copy.open("rb") as opened:
            text = opened.read(MOST_COPY_BYTES + 1)
    except OSError as error:
        raise InputError(
            f"the saved copy cannot be read: {error.strerror}", place=Place(file=copy.name), cure="change lines, and save it anew"
        ) from None
    if len(text) > MOST_COPY_BYTES:
        raise InputError(f"the saved copy has more than {MOST_COPY_BYTES // 2**20} MB", place=Place(file=copy.name), cure="take it away")
    return text


ROUTES = [
    Route("/program", _program),
    Route("/program/outline", _outline),
    Route("/program/line", _line),
    Route("/program/file", _file),
    Route("/program/copy", _copy),
    Route("/program/draft", _draft),
    Route("/program/draft", in_thread(_keep), methods=["POST"]),
    Route("/program/prove", in_thread(_prove), methods=["POST"]),
    Route("/program/save", in_thread(_save), methods=["POST"]),
]
