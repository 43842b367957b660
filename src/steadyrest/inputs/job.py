"""Job files: the inputs of a part, what is said about them, and how it is posted.

A shop keeps one for each part, NAME.job.toml:

    steadyrest_job = 1
    name = "lantern spindle"
    stock = { shape = "round", diameter = 40, from = -90, to = 0 }

    [[tools]]
    number = 3
    shape = "flat"
    diameter = 6

    [[inputs]]
    file = "flats.nc"
    indexed = [0, 60, 120, 180, 240, 300]

    [[inputs]]
    file = "groove.nc"
    wrap = { diameter = 40 }

    [post]
    controller = "rs274ngc"
    output = "lantern_spindle.nc"
    [post.set]
    rotary.A.chuck_faces = "-X"      # today the rotary stands at the other end of the table
"""

from __future__ import annotations

import json
import os
import re
from contextlib import suppress
from contextvars import ContextVar
from pathlib import Path
from tomllib import TOMLDecodeError
from typing import Annotated, Any

from pydantic import ConfigDict, Discriminator, Field, PrivateAttr, Tag, TypeAdapter, field_validator, model_validator

from steadyrest.errors import InputError, Place
from steadyrest.findings import ACCEPTABLE
from steadyrest.inputs.assembly import take
from steadyrest.inputs.options import Input, InputOptions, PartFacts, PartOptions, Text, check_apart, check_unsaid, load_toml, validated
from steadyrest.inputs.readers import HEAD_BYTES, Piece, Reader
from steadyrest.inputs.setup import Setup
from steadyrest.notices import Notice
from steadyrest.progress import Progress
from steadyrest.toml_text import parse_toml
from steadyrest.toolpath import (
    BallTool,
    BullnoseTool,
    ChamferTool,
    DrillTool,
    FlatTool,
    One,
    Part,
    Positive,
    Tool,
    Toolpath,
    broken_rule,
)

_FIRST_KEY = re.compile(rb"^(?:\xef\xbb\xbf)?[ \t]*steadyrest_job[ \t]*=", re.MULTILINE)


class PostSettings(Part):
    """How the part is posted."""

    controller: Text = Field(default="rs274ngc", description="Name of an installed profile, or the path of a profile's folder from here.")
    output: Path | None = Field(default=None, description="The program's file, from the folder of the job file.")
    set: dict[str, Any] = Field(
        default_factory=dict, description="Settings of the profile for this part, by their dotted names, such as rotary.A.chuck_faces."
    )
    operations: Annotated[tuple[Annotated[int, Field(strict=True)] | str, ...], Field(min_length=1)] | None = Field(
        default=None, description="Which operations, by number from 1 or by name; all unless given."
    )
    tolerance: Positive | None = Field(
        default=None, description="How far the tip may be off the toolpath, in the toolpath's units; 0.01 mm unless given."
    )
    accept: tuple[str, ...] = Field(
        default=(),
        description="Findings that would stop the program but are intended, such as origin; they stay listed. Never a failed proof.",
    )

    @field_validator("accept")
    @classmethod
    def _names_are_known(cls, names: tuple[str, ...]) -> tuple[str, ...]:
        if unknown := [name for name in names if name not in ACCEPTABLE]:
            raise broken_rule(f"there is no finding '{unknown[0]}' to accept", f"name one of {', '.join(sorted(ACCEPTABLE))}")
        return names

    def sets(self) -> tuple[str, ...]:
        """The settings as KEY=VALUE texts, as on the command line."""
        from steadyrest.profile import leaves  # not needed for a job that is only taken

        stated = leaves(self.set).items()
        return tuple(f"{key}={json.dumps(value, ensure_ascii=False)}" for key, value in stated if value != {})


_GAUGE_LENGTH = (
    "From the tool's tip to the gauge line of its holder, as it is measured at the tool setter, in the toolpath's units. Needed of every "
    "tool that cuts on a machine whose head turns: the program then holds for this length only."
)


class _InHolder(Part):
    gauge_length: Positive | None = Field(default=None, description=_GAUGE_LENGTH)


class FlatToolInHolder(FlatTool, _InHolder):
    """An end mill with a flat end."""


class BallToolInHolder(BallTool, _InHolder):
    """An end mill with a ball end of the tool's diameter."""


class BullnoseToolInHolder(BullnoseTool, _InHolder):
    """An end mill with rounded corners."""


class DrillToolInHolder(DrillTool, _InHolder):
    """A drill; its tip is the point."""


class ChamferToolInHolder(ChamferTool, _InHolder):
    """A conical cutter."""


class ToolOfInput(Part):
    """A tool that an input describes, as it stands in its holder."""

    number: Annotated[int, Field(strict=True, ge=1)] = Field(description="The tool's number, as operations name it; no two alike.")
    gauge_length: Positive = Field(description=_GAUGE_LENGTH)


def _which(said: Any) -> str:
    """An entry with a gauge length and without a shape is of a tool that an input describes."""
    of_input = "gauge_length" in said and "shape" not in said if isinstance(said, dict) else isinstance(said, ToolOfInput)
    return "of_input" if of_input else "described"


_Described = FlatToolInHolder | BallToolInHolder | BullnoseToolInHolder | DrillToolInHolder | ChamferToolInHolder
ToolInHolder = Annotated[
    Annotated[_Described, Field(discriminator="shape"), Tag("described")] | Annotated[ToolOfInput, Tag("of_input")], Discriminator(_which)
]
_TOOL: TypeAdapter[Tool] = TypeAdapter(Tool, config=ConfigDict(defer_build=True))


class Job(PartFacts):
    """A job file: the part, its inputs in order, and how it is posted."""

    steadyrest_job: One = Field(description="Version of this form: 1.")
    tools: tuple[ToolInHolder, ...] = Field(
        default=(),
        description="Tools, as in the toolpath: they add what inputs leave open, and override what inputs state. Without `shape` an entry "
        "gives the gauge length of a tool that an input describes.",
    )
    inputs: Annotated[tuple[Input, ...], Field(min_length=1)] = Field(description="The inputs, in the order in which they are cut.")
    post: PostSettings = Field(default_factory=PostSettings, description="How the part is posted.")
    setup: Setup = Field(default_factory=Setup, description="How it stands at the machine on the day; the program is the same without it.")

    _file: str | None = PrivateAttr(default=None)
    """It was read from; None when it was built in memory."""

    @model_validator(mode="after")
    def _tools_apart(self) -> Job:
        check_apart([tool.number for tool in self.tools])
        return self

    @property
    def part(self) -> PartOptions:
        """What it says about the part, to be taken with its inputs."""
        described = (tool for tool in self.tools if not isinstance(tool, ToolOfInput))
        tools = tuple(_TOOL.validate_python(tool.model_dump(by_alias=True, exclude={"gauge_length"})) for tool in described)
        facts = {name: getattr(self, name) for name in PartFacts.model_fields}
        return PartOptions.model_construct(**facts, tools=tools, gauge_lengths=self.gauge_lengths)

    @property
    def gauge_lengths(self) -> dict[int, float]:
        """By the number of a tool, in the toolpath's units: those that it states."""
        return {tool.number: tool.gauge_length for tool in self.tools if tool.gauge_length is not None}

    def toolpath(self, notices: list[Notice] | None = None, *, progress: Progress | None = None) -> Toolpath:
        """All inputs joined, and of their operations those that `post.operations` names. Raises as take does."""
        whole = take(self.inputs, self.part, notices, progress=progress)
        kept: set[int] = set()
        for each in self.post.operations or ():
            found = [at for at, one in enumerate(whole.operations, 1) if each in (at, one.name)]
            if not found:
                listed = ", ".join(f"{at} {one.name!r}" for at, one in enumerate(whole.operations[:20], 1))
                wrong, place = f"there is no operation {each!r}; there are {listed}", Place(file=self._file, key="post, operations")
                raise InputError(wrong, place=place, cure="give one of those names, or its number")
            kept.update(found)
        chosen = tuple(one for at, one in enumerate(whole.operations, 1) if at in kept)
        return whole if self.post.operations is None else whole.model_copy(update={"operations": chosen})


def load_job(path: Path) -> Job:
    """Read a job file; its paths count from its folder. InputError names file, line, key, what is allowed, and the cure."""
    return _placed(load_toml(path, Job), path)


def job_from(text: str, path: Path) -> Job:
    """The job that a file at that place would be if it held this text. InputError as from `load_job`."""
    try:
        data = parse_toml(text)
    except TOMLDecodeError as error:
        raise InputError(f"this is not TOML: {error}", place=Place(file=str(path)), cure="correct it there") from None
    return _placed(validated(Job, data, str(path), text), path)


def _placed(job: Job, path: Path) -> Job:
    folder = path.parent

    def placed(said: Path | None) -> Path | None:
        return folder / said if said is not None else None

    inputs = tuple(
        each.model_copy(update={"file": folder / each.file, "words": placed(each.words), "language": _profile_path(each.language, folder)})
        for each in job.inputs
    )
    post = job.post.model_copy(update={"output": placed(job.post.output), "controller": _profile_path(job.post.controller, folder)})
    found = job.model_copy(update={"inputs": inputs, "post": post})
    found._file = str(path)
    return found


def files_of(path: Path) -> list[Path]:
    """The files that an input is read from: itself, and of a job file what it names, and so on. Nothing of a file that cannot be read."""
    found: list[Path] = []
    left = [path]
    while left and len(found) <= 10 * MOST_JOBS:
        here = left.pop()
        found.append(here)
        with suppress(InputError, OSError, ValueError):
            if is_job(here):
                named = [file for each in load_job(here).inputs for file in (each.file, each.words) if file is not None]
                left += [file for file in named if file not in found]
    return found


def is_job(path: Path) -> bool:
    """Whether a file is a job file: by its name, or by what it begins with."""
    if path.name.endswith(".job.toml"):
        return True
    with suppress(OSError):
        if path.is_file():  # a pipe would be waited for
            with path.open("rb") as opened:
                return JOB.recognises(opened.read(HEAD_BYTES))
    return False


def job_schema() -> dict[str, Any]:
    """JSON schema (draft 2020-12) of the job file, with the meaning, unit and default of every key."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **Job.model_json_schema(by_alias=True)}


def _profile_path(said: str | None, folder: Path) -> str | None:
    """A profile's name as it is; a path, from the folder of the job file."""
    if said is None:
        return None
    return str(folder / Path(said).expanduser()) if "/" in said or said in (".", "..") or said.endswith(".toml") else said


_OPEN: ContextVar[tuple[tuple[str, ...], list[str]]] = ContextVar("open")
"""Of the job files being read, one inside the other: those that are open, outermost first, and all that have been read."""
MOST_JOBS = 200
"""Job files read as inputs of job files, for one toolpath."""


def read_job(path: Path, options: InputOptions, part: PartOptions) -> Piece:
    """A job file as a piece of another toolpath: all its inputs, joined; what it says about posting is left aside."""
    names = sorted(InputOptions.model_fields.keys() - {"kind"})
    check_unsaid(options, names, "is given for a job file, which states it itself", str(path))
    around, read = _OPEN.get(((), []))
    real = os.path.realpath(path)
    read.append(real)
    wrong = f"more than {MOST_JOBS} job files include each other" if len(read) > MOST_JOBS else ""
    if real in around:
        wrong = f"job files include each other in a ring: {' -> '.join(os.path.basename(each) for each in (*around, real)[-6:])}"
    if wrong:
        raise InputError(wrong, place=Place(file=str(path)), cure="list the toolpaths and programs of the job in one job file, each once")
    notices: list[Notice] = []
    token = _OPEN.set(((*around, real), read))
    try:
        job = load_job(path)
        return Piece.of(take(job.inputs, job.part, notices), notices)
    finally:
        _OPEN.reset(token)


JOB = Reader(
    kind="job",
    speaks="a job file of steadyrest: inputs, intents, tools and stock of a part (TOML)",
    endings=(".job.toml",),
    recognises=lambda head: _FIRST_KEY.search(head) is not None,
    read=read_job,
)
