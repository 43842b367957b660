"""The job file of a part, read and written by the page: what is said on the page is kept there and nowhere else.

The command line reads the same file. Comments and order stay as somebody wrote them. What no command could read after a
change is refused, and the old file stands.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AbstractTable, AoT

from steadyrest.errors import InputError, OutputError, Place
from steadyrest.inputs import Job, job_from, load_job
from steadyrest.profile import resolve
from steadyrest.request import Request
from steadyrest.writing import put_in_place

ENDING = ".job.toml"


@dataclass(frozen=True, slots=True)
class JobFile:
    """A job file as it is now.

    path     its place
    text     what stands there
    job      what that means; None where no command could read it, and then `error` says why
    """

    path: Path
    text: str
    job: Job | None
    error: InputError | None

    @property
    def digest(self) -> str:
        """By which a form knows on what it was made: a change is refused where the file was changed meanwhile."""
        return hashlib.sha256(self.text.encode()).hexdigest()[:16]

    @property
    def program(self) -> Path:
        """The file that a post of the job writes: the one that it names, or one beside it, called as the controller wants it."""
        if (said := self.request.output) is not None:
            return said
        ending = resolve(self.request.named_controller, self.request.sets).profile.program.extension
        return self.path.with_name(self.path.name.removesuffix(ENDING) + ending)

    @property
    def copy(self) -> Path:
        """The file of a copy of that program that was changed by hand: beside the job, never by the name of the program."""
        program = self.program
        return self.path.with_name(f"{program.stem}.edited{program.suffix}")

    @property
    def request(self) -> Request:
        """How the part is posted, as the command line would from this file alone."""
        return Request(self.path).with_job()


def read_job_file(path: Path) -> JobFile:
    """A job file, also one that is wrong. InputError where there is none, or it is no text."""
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        raise InputError("the file is not UTF-8", place=Place(file=path.name), cure="save it as UTF-8, or take it away") from None
    except OSError as error:
        wrong = "there is no such file" if isinstance(error, FileNotFoundError) else f"the file cannot be read: {error.strerror}"
        raise InputError(wrong, place=Place(file=path.name), cure="choose another part") from None
    try:
        return JobFile(path, text, load_job(path), None)
    except InputError as error:
        return JobFile(path, text, None, error)


def new_job_text(files: list[str], name: str) -> str:
    """The text of a job file for these inputs, relative to its folder."""
    document = tomlkit.document()
    document["steadyrest_job"] = 1
    document["name"] = name
    inputs = tomlkit.aot()
    for file in files:
        table = tomlkit.table()
        table["file"] = file
        inputs.append(table)
    document["inputs"] = inputs
    return tomlkit.dumps(document)


def changed_text(text: str, changes: Mapping[str, Any]) -> str:
    """The text of a job file with keys set, all else as it was.

    changes   by dotted key, such as `stock.diameter`, `post.set.rotary.A.chuck_faces` or `inputs.0.wrap`; a number counts entries of a
              list from 0, and the one after the last is a new one. None takes the key away, or the entry; a list without any goes as well
    raises    InputError where a key leads through something that holds none
    """
    document = tomlkit.parse(text)
    for key, value in changes.items():
        *groups, last = key.split(".")
        here: Any = document
        around: Any = document
        for group, inner in zip(groups, [*groups, last][1:], strict=True):
            around = here
            if isinstance(here, list):
                if int(group) == len(here) and value is not None:
                    here.append(tomlkit.table() if isinstance(here, AoT) else tomlkit.inline_table())
                if int(group) >= len(here):
                    break
                here = here[int(group)]
            elif group not in here and value is None:
                break
            else:
                here = here.setdefault(group, tomlkit.aot() if inner.isdigit() else tomlkit.table())
            if not isinstance(here, AbstractTable | dict | list):
                raise InputError(f"{key}: {group} holds no keys of its own", cure="correct the job file by hand")
        else:
            if isinstance(here, list):
                if value is None and int(last) < len(here):
                    del here[int(last)]
                if not here:
                    del around[groups[-1]]
            elif value is not None:
                here[last] = value
            elif last in here:
                del here[last]
    return tomlkit.dumps(document)


def check_unchanged(path: Path, seen: str | None) -> None:
    """OutputError where a job file is not the one with this digest any more; None: where there is one at all."""
    now = read_job_file(path).digest if path.exists() else None
    if now != seen:
        wrong = "this was changed meanwhile, in another window or by hand" if seen else "there is a job of that name already"
        cure = "look at it as it is now, and change it again" if seen else "choose another name"
        raise OutputError(wrong, place=Place(file=path.name), cure=cure)


def save_job(path: Path, text: str, *, seen: str | None) -> JobFile:
    """Put a job file in place, if a command can read it.

    seen     digest of the file on which the change was made; None: there must be none yet
    raises   OutputError where the file was changed meanwhile; InputError, with the key, where the text is no job. The old file stands then
    """
    check_unchanged(path, seen)
    try:
        job_from(text, path)
    except InputError as error:
        error.place = replace(error.place, file=path.name)
        raise
    put_in_place([text.encode()], path).commit()
    return read_job_file(path)
