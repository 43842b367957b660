"""The inputs room: CL data, plain three-axis programs, neutral toolpaths and job files become one neutral toolpath.

The door: `take` joins inputs, `load_input` takes one, `load_job` reads a job file, whose `toolpath()` is what is
posted, and `read_arguments` what a command line says.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from steadyrest.inputs.arguments import ABOUT_INPUT, ABOUT_PART, read_arguments
from steadyrest.inputs.assembly import assembled
from steadyrest.inputs.job import Job, PostSettings, files_of, job_schema, load_job
from steadyrest.inputs.options import Input, InputOptions, PartOptions, Wrap
from steadyrest.inputs.readers import FoundReader, Piece, Reader, find_readers, reader_for, unfit
from steadyrest.notices import Notice
from steadyrest.toolpath import Toolpath, load_toolpath

__all__ = [
    "ABOUT_INPUT",
    "ABOUT_PART",
    "FoundReader",
    "Input",
    "InputOptions",
    "Job",
    "PartOptions",
    "Piece",
    "PostSettings",
    "Reader",
    "Wrap",
    "files_of",
    "find_readers",
    "job_schema",
    "load_input",
    "load_job",
    "read_arguments",
    "take",
    "unfit",
]


def take(inputs: Sequence[Input], options: PartOptions | None = None, notices: list[Notice] | None = None) -> Toolpath:
    """One neutral toolpath from inputs of any readable kind, in their order.

    options    what is said about the part (stock, axis, centre, tools, units): it goes before what inputs say
    notices    what was changed or left out on the way is added to this list
    raises     InputError, or one of its kind (ToolpathError, ProgramError): file, line, statement, what is allowed, and the cure
    """
    return assembled(inputs, options if options is not None else PartOptions(), notices)


def load_input(
    path: Path, options: InputOptions | None = None, part: PartOptions | None = None, notices: list[Notice] | None = None
) -> Toolpath:
    """One input of any readable kind as a toolpath; a neutral toolpath about which nothing is said comes as load_toolpath gives it.

    arguments and errors as for `take`; of a job file all inputs, joined
    """
    options = options if options is not None else InputOptions()
    part = part if part is not None else PartOptions()
    kind = reader_for(path, options).kind
    if kind == "toolpath" and options.model_copy(update={"kind": None}) == InputOptions() and part == PartOptions():
        return load_toolpath(path)
    if kind == "job" and part == PartOptions():
        return load_job(path).toolpath(notices)
    return take([Input(file=path, **options.model_dump(by_alias=True))], part, notices)
