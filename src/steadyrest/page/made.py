"""What is made of a job as it is now: the program, what is said of it, its setup sheet and what is looked at.

Whichever step asks first has it made, once. It is kept under a digest of everything that decides it, so that an unchanged job is shown at
once and a changed one made anew.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from importlib.metadata import version
from pathlib import Path
from typing import Any

from steadyrest.errors import InputError
from steadyrest.packages import offered, package_of
from steadyrest.page.app import Page
from steadyrest.page.folder import file_digest
from steadyrest.page.job_file import JobFile, read_job_file
from steadyrest.profile import FILE_NAME, resolve
from steadyrest.progress import Progress
from steadyrest.request import Request, files_of

KEPT = 3
"""What is made of one job is kept so often, the newest; so a change that is taken back is shown at once."""
PROGRAM, POSTED, SHEET, FACTS, LOOK, COLUMNS = "program.nc", "posted.json", "sheet.html", "sheet.json", "look.json", "columns.bin"
"""Files in the folder of what was made: the program's bytes as they would be written; `Posted.as_json`; the setup sheet, a whole page, and
of its facts what the run record keeps; the pieces of the report by their names (`steadyrest.viewer.PageParts`) with its `facts`; and its
numbers, deflated."""


@dataclass(frozen=True, slots=True)
class Made:
    """What is made of a job, or is being made.

    key      of its task
    state    how far it is (`Tasks.state`); `failed`, with the error, where no program can be written of the job. A program that must not
             run is made as well: its outcome is `stop`
    folder   holds the files once `state["status"]` is `done`
    """

    key: str
    state: dict[str, Any]
    folder: Path

    @property
    def done(self) -> bool:
        """Whether its files are there."""
        return bool(self.state["status"] == "done")

    @property
    def posted(self) -> dict[str, Any]:
        """What is said of the program, the same as `steadyrest post --json` prints. Only where it is done."""
        found: dict[str, Any] = json.loads((self.folder / POSTED).read_text(encoding="utf-8"))
        return found

    @property
    def facts(self) -> dict[str, Any]:
        """Of the setup sheet: sentences by `mounting`, `origin`, `stick_out`, `checklist`; `tools`: number, name, where its length goes."""
        found: dict[str, Any] = json.loads((self.folder / FACTS).read_text(encoding="utf-8"))
        return found

    @property
    def program(self) -> bytes:
        """The program's bytes. Only where it is done."""
        return (self.folder / PROGRAM).read_bytes()


def made(page: Page, job: JobFile, *, again: bool = False) -> Made:
    """What is made of a job as it is now; begun here unless it is there or under way. What was made of it before is cleaned away.

    again    whether what failed or was cancelled is tried once more
    raises   InputError where the job file, or the profile that it names, cannot be read
    """
    if job.error is not None:
        raise job.error
    whose = _whose(job)
    key = whose + key_of(job)
    before = page.tasks.state(key)
    _, state = page.tasks.begun(key, make, {"job": str(job.path), "digest": key.removeprefix(whose)}, again=again)
    if before["status"] != state["status"]:
        page.tasks.forget(whose, but=key, kept=KEPT)
    return Made(key, state, page.tasks.folder / key)


def made_before(page: Page, job: JobFile) -> Made | None:
    """What was made of a job as it is now, if it is there: nothing is begun. Raises as `made`."""
    key = _whose(job) + key_of(job)
    found = Made(key, page.tasks.state(key), page.tasks.folder / key)
    return found if found.done else None


def _whose(job: JobFile) -> str:
    return f"made-{hashlib.sha256(str(job.path).encode()).hexdigest()[:12]}-"


def key_of(job: JobFile) -> str:
    """A digest of all that decides what is made of a job: what it says but for `setup`, the bytes of every file it is read from, profile
    and templates with what they are laid over, this version, and other packages that have a say. InputError where the profile cannot be
    read."""
    request = job.request
    resolved = resolve(request.named_controller, request.sets)
    stated = {key: value for key, value in tomllib.loads(job.text).items() if key != "setup"}
    seen = hashlib.sha256(f"{version('steadyrest')}\n{json.dumps(stated, sort_keys=True, default=str)}".encode())
    files = [*files_of(job.path)[1:], *(folder / FILE_NAME for folder in resolved.chain)]
    for folder in resolved.template_folders:
        files += sorted(folder.rglob("*.j2"))
    for file in files:
        seen.update(f"\n{file}\n{file_digest(file)}".encode())  # that it is not there is told by the work
    for told in _packages():
        seen.update(f"\n{told}".encode())
    return seen.hexdigest()[:32]


def _packages() -> Iterator[str]:
    for group in ("steadyrest.events", "steadyrest.readers"):
        for point in offered(group):
            yield f"{point.name} {point.value} {package_of(point)}"


def make(inside: Path, asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """The work, in a process of its own; gives the outcome and the program's digest.

    asked    `job`, the path of the job file, and the `digest` (`key_of`) for which it is made: InputError where its files changed meanwhile
    """
    from steadyrest.reporting import command_of, look_at, report_parts, sheet_of
    from steadyrest.sheet import setup_sheet_page

    request = Request(Path(asked["job"]))
    looked = look_at(request.with_job(), progress=progress)
    sheet = sheet_of(looked)
    parts = report_parts(looked, sheet, made=date.today().isoformat(), command=command_of(request), progress=progress)
    digest = hashlib.sha256(looked.text).hexdigest()
    if key_of(read_job_file(Path(asked["job"]))) != asked["digest"]:
        raise InputError("the files of this job were changed while it was being made", cure="look at it as it is now")
    (inside / PROGRAM).write_bytes(looked.text)
    (inside / POSTED).write_text(json.dumps(looked.posted.as_json()), encoding="utf-8")
    (inside / SHEET).write_text(setup_sheet_page(sheet), encoding="utf-8")
    facts = {
        "mounting": sheet.mounting.sentences if sheet.mounting is not None else sheet.chain,
        "origin": sheet.origin,
        "stick_out": sheet.stick_out,
        "checklist": sheet.checklist,
        "tools": [{"number": one.tool.number, "name": one.tool.name or one.shape, "offset": one.offset} for one in sheet.tools],
    }
    (inside / FACTS).write_text(json.dumps(facts), encoding="utf-8")
    (inside / COLUMNS).write_bytes(parts.columns)
    (inside / LOOK).write_text(json.dumps({**parts.fragments, "facts": parts.facts}), encoding="utf-8")
    return {"outcome": looked.posted.outcome.word, "digest": digest}
