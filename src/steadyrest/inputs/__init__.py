"""The inputs room: CL data, plain three-axis programs, neutral toolpaths and job files become one neutral toolpath.

The door: `take` joins inputs, `load_input` takes one, `load_job` reads a job file, whose `toolpath()` is what is
posted, and `read_arguments` what a command line says.
"""

from __future__ import annotations

from pathlib import Path

from steadyrest.inputs.assembly import take
from steadyrest.inputs.contents import InputSeen, MissingTool, Overview, overview
from steadyrest.inputs.job import Job, ToolOfInput, files_of, is_job, job_from, job_schema, load_job
from steadyrest.inputs.options import ABOUT_INPUT, ABOUT_PART, PROGRAMS_ONLY, Input, InputOptions, PartOptions, Wrap, read_arguments
from steadyrest.inputs.readers import HEAD_BYTES, Piece, Reader, find_readers, reader_for, unfit
from steadyrest.inputs.setup import BallTouched, Setup, Touched
from steadyrest.notices import Notice
from steadyrest.progress import Progress
from steadyrest.toolpath import Toolpath, load_toolpath

__all__ = [
    "ABOUT_INPUT",
    "ABOUT_PART",
    "HEAD_BYTES",
    "PROGRAMS_ONLY",
    "BallTouched",
    "Input",
    "InputOptions",
    "InputSeen",
    "Job",
    "MissingTool",
    "Overview",
    "PartOptions",
    "Piece",
    "Reader",
    "Setup",
    "ToolOfInput",
    "Touched",
    "Wrap",
    "files_of",
    "find_readers",
    "is_job",
    "job_from",
    "job_schema",
    "load_input",
    "load_job",
    "overview",
    "read_arguments",
    "reader_for",
    "take",
    "unfit",
]


def load_input(
    path: Path,
    options: InputOptions | None = None,
    part: PartOptions | None = None,
    notices: list[Notice] | None = None,
    *,
    progress: Progress | None = None,
) -> Toolpath:
    """One input of any readable kind as a toolpath; a neutral toolpath about which nothing is said comes as load_toolpath gives it.

    arguments and errors as for `take`; of a job file all inputs, joined
    """
    options, part = options or InputOptions(), part or PartOptions()
    kind = reader_for(path, options).kind
    if kind == "toolpath" and options.model_copy(update={"kind": None}) == InputOptions() and part == PartOptions():
        return load_toolpath(path, progress)
    if kind == "job" and part == PartOptions():
        return load_job(path).toolpath(notices, progress=progress)
    return take([Input(file=path, **options.model_dump(by_alias=True))], part, notices, progress=progress)
