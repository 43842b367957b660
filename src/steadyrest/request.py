"""What is posted, and how: one object from a command line, a job file, a test or another program to every way of judging a program."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from steadyrest.errors import InputError, Place

if TYPE_CHECKING:
    from steadyrest.notices import Notice
    from steadyrest.progress import Progress
    from steadyrest.toolpath import Toolpath

DEFAULT_CONTROLLER = "rs274ngc"


@dataclass(frozen=True, slots=True)
class Request:
    """How a part is posted and judged; None where nobody has said.

    part         a toolpath: its file, its bytes, or in memory; or the file of any other input, a job file too
    controller   name of a profile, or the path of its folder
    output       the program's file
    sets         KEY=VALUE, overriding settings of the profile
    tolerance    how far the tip may leave its path, file units, part frame
    accept       names of findings that the user takes on themselves
    simulate     whether the stock is cut to see what touches
    unset        keys that the profile's own file states, left out: what its parents say holds
    gauge_lengths   by the number of a tool: from its tip to the gauge line of its holder, file units. Needed where a head turns
    """

    part: Path | bytes | Toolpath
    controller: str | None = None
    output: Path | None = None
    sets: Sequence[str] = ()
    tolerance: float | None = None
    accept: Sequence[str] = ()
    simulate: bool = True
    unset: Sequence[str] = ()
    gauge_lengths: Mapping[int, float] = field(default_factory=dict)

    @property
    def named_controller(self) -> str:
        """The controller, never open."""
        return self.controller or DEFAULT_CONTROLLER

    def with_job(self) -> Request:
        """This, and what it leaves open as the part's job file says, if it is one. Raises InputError for a job that is wrong."""
        if not isinstance(self.part, Path) or self.part.name.endswith(".toolpath.json"):
            return self
        from steadyrest.inputs import is_job, load_job

        if not is_job(self.part):
            return self
        job = load_job(self.part)
        kept = job.post
        if self.output is None and kept.output is not None:
            # A job file may come from anywhere: it puts its program nowhere outside of its own folder.
            folder, place = os.path.realpath(self.part.parent), os.path.realpath(kept.output)
            if os.path.commonpath([folder, place]) != folder:
                raise InputError(
                    f"the output {kept.output} is not in the job file's folder",
                    place=Place(file=str(self.part), key="post, output"),
                    cure="name a file in that folder; or give --output, which may be anywhere",
                )
        return replace(
            self,
            controller=self.controller or kept.controller,
            output=self.output or kept.output,
            sets=(*kept.sets(), *self.sets),
            tolerance=self.tolerance if self.tolerance is not None else kept.tolerance,
            accept=tuple(dict.fromkeys((*kept.accept, *self.accept))),
            gauge_lengths={**job.gauge_lengths, **self.gauge_lengths},
        )

    def toolpath(self, notices: list[Notice] | None = None, *, progress: Progress | None = None) -> Toolpath:
        """The part as a toolpath, as of `load`. InputError as well for a gauge length that is none, or of a tool that there is not."""
        found = load(self.part, notices, progress=progress)
        numbers = [tool.number for tool in found.tools]
        for number, length in self.gauge_lengths.items():
            wrong, cure = "", "give the length from the tool's tip to the gauge line of its holder, such as 128.35"
            if number not in numbers:
                wrong = (
                    f"a gauge length is given for tool {number}, and the toolpath has no such tool; it has {', '.join(map(str, numbers))}"
                )
                cure = "correct the number of the tool, or leave its gauge length out"
            elif not (isinstance(length, int | float) and isfinite(length) and length > 0):
                wrong = f"the gauge length of tool {number} is {length!r}; it has to be a number above 0"
            if wrong:
                place = Place(file=str(self.part) if isinstance(self.part, Path) else None, key="gauge_length")
                raise InputError(wrong, place=place, cure=cure)
        return found


def load(
    part: str | os.PathLike[str] | bytes | Toolpath, notices: list[Notice] | None = None, *, progress: Progress | None = None
) -> Toolpath:
    """The toolpath in anything that can be read: neutral, as file or bytes; CL data, a plain program or a job, as files.

    notices   what was changed on the way is added to it
    progress  is told how far it is, stage by stage
    raises    InputError: file, place, what is wrong, and the cure
    """
    from steadyrest.toolpath import Toolpath, load_toolpath, parse_toolpath

    if isinstance(part, Toolpath):
        return part
    if isinstance(part, bytes):
        return parse_toolpath(part)
    path = Path(part)
    if path.name.endswith(".toolpath.json") or not path.is_file():
        return load_toolpath(path, progress)
    from steadyrest.inputs import load_input

    toolpath = load_input(path, notices=notices if notices is not None else [], progress=progress)
    if progress is not None:  # every program names it, and that it takes a while is told where there is somebody to tell
        toolpath.find_digest(progress)
    return toolpath


def files_of(part: object) -> list[Path]:
    """The files that a part is read from, those that a job names included; none for what is in memory."""
    if not isinstance(part, Path):
        return []
    if part.name.endswith(".toolpath.json"):
        return [part]
    from steadyrest.inputs import files_of as all_of

    return all_of(part)
