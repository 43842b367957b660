"""What is known of how a job stands at the machine: its part, its machine, its rotaries, and who said each fact of the mounting."""

from __future__ import annotations

import os
import tomllib
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from steadyrest.centre import usual
from steadyrest.errors import InputError, ProfileError, SteadyrestError
from steadyrest.page.folder import Folder
from steadyrest.page.job_file import JobFile
from steadyrest.profile import (
    FILE_NAME,
    Profile,
    ResolvedProfile,
    Rotary,
    chain_of,
    find_profiles,
    has_one_in_table,
    resolve,
    rotaries_of,
    rotary_along,
)
from steadyrest.profile_tools import Said, said_by
from steadyrest.proof import Setting, setting_of
from steadyrest.reading import sigma
from steadyrest.request import files_of, load
from steadyrest.toolpath import Toolpath
from steadyrest.turn_check import carried


@dataclass(frozen=True, slots=True)
class Mounted:
    """A rotary as the job takes it to stand; `faces_by`, `turns_by` and `line_by`: who said so."""

    letter: str
    rotary: Rotary
    profile: Profile
    faces_by: Said
    turns_by: Said
    line_by: Said

    @property
    def stands(self) -> Literal["upright", "horizontal"]:
        """How the spindle stands."""
        return self.profile.spindle.stands

    @property
    def in_head(self) -> bool:
        """Whether it carries the tool."""
        chain = chain_of(self.profile)
        return chain is not None and self.letter in chain.tool

    @property
    def carries(self) -> str:
        """The other rotary of a chain that it carries; empty where it carries none."""
        return carried(self.profile, self.letter)

    @property
    def word(self) -> str:
        """What the program and the display call it."""
        return self.rotary.word_letter(self.letter)

    @property
    def turns(self) -> str:
        """Which way the chuck turns where the display counts up."""
        return self.rotary.positive_word_turns_chuck

    @property
    def known(self) -> bool:
        """Whether somebody who can have seen it has said both facts."""
        return "assumed" not in (self.faces_by, self.turns_by)

    @property
    def sense(self) -> int | None:
        """As in `steadyrest.centre.Touches`: None as long as a profile that never saw this table only assumes it."""
        return sigma(self.rotary.chuck_faces, self.rotary.positive_turns_chuck) if self.known else None

    @property
    def word_sense(self) -> int | None:
        """The same for the word that the display shows; a borrowed drive may count against the degrees."""
        return sigma(self.rotary.chuck_faces, self.turns) if self.known else None


@dataclass(frozen=True, slots=True)
class Standing:
    """How a job stands, as far as its files say.

    toolpath   None where it cannot be read, which the step Part tells
    named      the machine as the job file names it; empty where it names none, and the default is used
    resolved   its profile with what the job sets; None where it cannot be read, and then `wrong` says why
    rotaries   those of a chain of two, or of a head, from the part to the spindle; else the one along the axis of rotation, if there is one
    setting    of all of these together; None where one is missing
    """

    job: JobFile
    toolpath: Toolpath | None
    named: str
    resolved: ResolvedProfile | None = None
    wrong: SteadyrestError | None = None
    rotaries: tuple[Mounted, ...] = ()
    setting: Setting | None = None

    @property
    def on_chain(self) -> bool:
        """Whether two rotaries turn, or a head does."""
        return self.resolved is not None and not has_one_in_table(self.resolved.profile)

    @property
    def mounted(self) -> Mounted | None:
        """The one rotary in the table; None on a chain, and where there is none."""
        return self.rotaries[0] if self.rotaries and not self.on_chain else None

    @property
    def axis(self) -> str:
        """The axis of rotation: the part's; where that cannot be read, the job's."""
        said = self.job.job.axis if self.job.job is not None else None
        return self.toolpath.axis if self.toolpath is not None else said or "X"

    @property
    def machine(self) -> str:
        """The machine, never open, for people."""
        return self.named or self.job.request.named_controller

    @property
    def profile(self) -> Profile:
        """Only where there is one: else raises what is wrong with it."""
        if self.resolved is None:
            raise self.wrong or ProfileError("the machine's profile cannot be read", cure="choose another machine")
        return self.resolved.profile

    def rotary(self, letter: str = "") -> Mounted:
        """The rotary of that letter, or without one the only one; ProfileError where the machine has none such."""
        found = [each for each in self.rotaries if each.letter == letter or (not letter and not self.on_chain)]
        if not found:
            wrong = f"{self.profile.name} has no rotary {letter or f'along {self.axis}, the axis of the part'}"
            raise ProfileError(wrong, cure="choose another machine")
        return found[0]


def standing(job: JobFile) -> Standing:
    """How a job stands. What is wrong with its part or profile is told in it, and not raised; of the job file itself it is raised."""
    if job.error is not None:
        raise job.error
    toolpath = None
    with suppress(SteadyrestError):
        toolpath = part_of(job)
    plain, request = Standing(job, toolpath, controller_said(job.text)), job.request
    try:
        resolved = resolve(request.named_controller, request.sets)
    except ProfileError as error:
        return replace(plain, wrong=error)
    profile = resolved.profile
    found = rotary_along(profile, plain.axis)
    meant = ((found,) if found is not None else ()) if has_one_in_table(profile) else rotaries_of(profile).items()
    setting = None
    if toolpath is not None:
        with suppress(SteadyrestError):
            setting = setting_of(toolpath, profile, None, request.tolerance, request.gauge_lengths)
    return replace(plain, resolved=resolved, rotaries=tuple(_mounted(resolved, *each) for each in meant), setting=setting)


def _mounted(resolved: ResolvedProfile, letter: str, rotary: Rotary) -> Mounted:
    keys = [f"rotary.{letter}.{key}" for key in ("chuck_faces", "positive_turns_chuck", "pivot" if rotary.pivot else "point")]
    return Mounted(letter, rotary, resolved.profile, *(said_by(resolved, key) if key in resolved.origins else "assumed" for key in keys))


def part_of(job: JobFile) -> Toolpath:
    """The job's toolpath, read anew only where the job or one of its files has changed. Raises as `load` does."""
    seen = []
    for file in files_of(job.path):
        try:
            now = os.stat(file)
            seen.append((str(file), now.st_mtime_ns, now.st_size))
        except OSError:
            seen.append((str(file), 0, 0))
    return _part(str(job.path), job.digest, tuple(seen))


@lru_cache(maxsize=2)
def _part(path: str, digest: str, seen: tuple[tuple[str, int, int], ...]) -> Toolpath:
    return load(Path(path))


def controller_said(text: str) -> str:
    """The machine that the text of a job file names; empty where it names none."""
    with suppress(tomllib.TOMLDecodeError):
        post: Any = tomllib.loads(text).get("post", {})
        said = post.get("controller", "") if isinstance(post, dict) else ""
        return said if isinstance(said, str) else ""
    return ""


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine that can be chosen: as a job file names it, its sentence, and whose it is."""

    name: str
    speaks: str
    where: str


def machines(folder: Folder, job: JobFile) -> list[Machine]:
    """The machines that can be chosen: the shop's own first, those in the page's folder, then what came with steadyrest and packages."""
    found = [
        Machine(each.name, each.speaks, "your own" if each.where == "user configuration" else each.where)
        for each in find_profiles()
        if not each.error and not each.hidden_by
    ]
    here = []
    for file in folder.files():
        if file.name == FILE_NAME:
            name = Path(os.path.relpath(file.parent, job.path.parent)).as_posix()
            with suppress(SteadyrestError):
                here.append(Machine(name if name.startswith("..") else f"./{name}", resolve(file.parent).profile.speaks, "in this folder"))
    own = [each for each in found if each.where == "your own"]
    return [*own, *here, *(each for each in found if each.where != "your own")]


def usual_machine() -> str:
    """The machine that is usual in this shop; empty where none is said, or what is said cannot be read."""
    with suppress(InputError):
        return usual().machine
    return ""
