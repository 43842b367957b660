"""The whole way of a toolpath: read, plan, write, prove, and only then put in place.

Long programs are proved while they are still being written, on a second core where there is one.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steadyrest.errors import Place, ProgramError, Refused, SteadyrestError, TemplateError
from steadyrest.hooks import find_hooks, hooked
from steadyrest.motion import plan
from steadyrest.notices import Notice
from steadyrest.profile import ResolvedProfile, profile_digest, resolve
from steadyrest.proof import Verdict, head_line
from steadyrest.proof import prove as prove_program
from steadyrest.proof.beside import Prover
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.writing import Recording, Writing, put_in_place, write_program
from steadyrest.writing.recording import WhoSaid

BESIDE_FROM_BYTES = 2_000_000
"""Toolpath files longer than this are proved while they are written."""


@dataclass(frozen=True, slots=True)
class Posted:
    """A program and what is known of it.

    program    its file
    verdict    what the proof says
    notices    what was changed on the way from toolpath to program
    """

    program: Path
    toolpath: Toolpath
    controller: str
    verdict: Verdict
    notices: tuple[Notice, ...]

    def text(self) -> str:
        """One screen for whoever stands at the machine."""
        from steadyrest.summary import summary

        return summary(self.program, self.toolpath, self.controller, self.verdict, self.notices)

    def as_json(self) -> dict[str, Any]:
        """The same as data."""
        from steadyrest.summary import summary_data

        return summary_data(self.program, self.toolpath, self.controller, self.verdict, self.notices)


@dataclass(frozen=True, slots=True)
class Wishes:
    """How a part is to be posted; None where nobody has said."""

    controller: str | None = None
    output: Path | None = None
    sets: tuple[str, ...] = ()
    tolerance: float | None = None
    accept_origin: bool = False

    def over(self, part: Path) -> Wishes:
        """These, and what they leave open as the part's job file says, if it is one. Raises InputError for a job that is wrong."""
        if not part.name.endswith(".job.toml"):
            return self
        from steadyrest.inputs import load_job

        kept = load_job(part).post
        return Wishes(
            self.controller or kept.controller,
            self.output or kept.output,
            (*kept.sets(), *self.sets),
            self.tolerance if self.tolerance is not None else kept.tolerance,
            self.accept_origin or kept.origin_is_meant,
        )


def read_part(part: Path, notices: list[Notice]) -> Toolpath:
    """The toolpath in any file that can be read: neutral, CL data, a plain program, a job file. What was changed goes into `notices`."""
    if part.name.endswith(".toolpath.json") or not part.is_file():
        return load_toolpath(part)
    from steadyrest.inputs import load_input

    return load_input(part, notices=notices)


def post(
    part: Path,
    controller: str,
    output: Path,
    *,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept_origin: bool = False,
    show: Callable[[int], None] | None = None,
) -> Posted:
    """Write the program of a toolpath, prove it, and put it in place.

    part         the toolpath, or any other file that `read_part` reads
    controller   name of a profile, or the path of its folder
    sets         KEY=VALUE, overriding settings for this run
    tolerance    how far the tip may leave its path, file units, part frame
    show         called now and then with the number of lines written so far
    raises       InputError when toolpath, profile or output is wrong; Refused when the proof fails. The old file then stands as it was
    """
    resolved = resolve(controller, sets)
    taken: list[Notice] = []
    toolpath = read_part(part, taken)
    program = begin(toolpath, resolved, tolerance=tolerance, accept_origin=accept_origin)
    writing = program.writing
    with (
        Prover(toolpath, resolved.profile, tolerance, beside=_is_long(part)) as prover,
        put_in_place(_shown(prover.passing(writing), writing, show), output) as placed,
    ):
        try:
            verdict = prover.verdict(placed.temporary)
        except ProgramError as error:
            raise _said_by(error, toolpath, resolved, tolerance) from None
        if not verdict.proved:
            failed = Posted(output, toolpath, resolved.profile.name, verdict, (*taken, *program.notices))
            raise Refused(f"not proved, and {output} is as it was before", screen=verdict.text(), found=failed.as_json())
        placed.commit()
    return Posted(output, toolpath, resolved.profile.name, verdict, (*taken, *program.notices))


def _said_by(error: ProgramError, toolpath: Toolpath, resolved: ResolvedProfile, tolerance: float | None) -> SteadyrestError:
    """The error of a line that the controller would not take, at the template or plug-in that says it: the program's file is no one's."""
    who = WhoSaid(error.place.line or 0)
    with suppress(SteadyrestError):
        for _ in begin(toolpath, resolved, tolerance=tolerance, accept_origin=True, record=who).writing:
            if who.file:
                break
    place = Place(file=who.file or None, line=None if who.file else error.place.line)
    wrong = f"what it writes as line {error.place.line} is not in the controller's language: {error.wrong}" if who.file else error.wrong
    return (TemplateError if who.file else ProgramError)(wrong, place=place, cure=error.cure)


def posted_text(toolpath: Path | Toolpath, controller: str | Path, *, sets: Sequence[str] = (), tolerance: float | None = None) -> str:
    """The proved text of a small program, without a file; the toolpath may be one in memory. Raises as `post` does."""
    resolved = resolve(controller, sets)
    if isinstance(toolpath, Path):
        toolpath = read_part(toolpath, [])
    text = b"".join(begin(toolpath, resolved, tolerance=tolerance).writing)
    try:
        verdict = prove_program(text, toolpath, resolved.profile, tolerance=tolerance)
    except ProgramError as error:
        raise _said_by(error, toolpath, resolved, tolerance) from None
    if not verdict.proved:
        raise Refused("not proved", screen=verdict.text(), found=verdict.to_json())
    return text.decode("ascii")


def prove(program: Path, part: Path, controller: str, *, sets: Sequence[str] = (), tolerance: float | None = None) -> Posted:
    """Prove a program that exists, edited by hand or old. Raises InputError; a failed proof is in the verdict."""
    resolved = resolve(controller, sets)
    toolpath = read_part(part, [])
    verdict = prove_program(program, toolpath, resolved.profile, tolerance=tolerance)
    return Posted(program, toolpath, resolved.profile.name, verdict, ())


@dataclass(frozen=True, slots=True)
class Underway:
    """A program that is being written.

    writing   its text: iterate it to the end
    inch      it is in inches, else in millimetres
    letter    the rotary that it turns; None: none
    """

    writing: Writing
    inch: bool
    letter: str | None
    _noticed: tuple[Sequence[Notice], Sequence[Notice]]

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What was changed on the way; complete once the text is exhausted."""
        broken, planned = self._noticed
        return (*broken, *planned, *self.writing.notices)


def begin(
    toolpath: Toolpath,
    resolved: ResolvedProfile,
    *,
    tolerance: float | None = None,
    accept_origin: bool = False,
    record: Recording | None = None,
) -> Underway:
    """Plan and write, unproved: for whoever proves the text, or only looks at it.

    record   hears which item of the plan each line comes from
    raises   InputError, now or while the text is read
    """
    profile, hooks = resolved.profile, find_hooks()
    head = head_line(toolpath.digest, profile_digest(profile))
    planned = plan(toolpath, profile, tolerance=tolerance, accept_origin=accept_origin, head=head)
    items = hooked(planned.items, hooks, profile, [operation.name for operation in toolpath.operations])
    folders = (*resolved.template_folders, *hooks.template_folders)
    writing = write_program(items, profile, folders, inch=planned.inch, rotary_letter=planned.letter, record=record)
    return Underway(writing, planned.inch, planned.letter, (hooks.not_loaded, planned.notices))


def _is_long(part: Path) -> bool:
    try:
        long = part.stat().st_size > BESIDE_FROM_BYTES
    except OSError:
        return False
    return long and (os.cpu_count() or 1) > 1


def _shown(chunks: Iterator[bytes], writing: Writing, show: Callable[[int], None] | None) -> Iterator[bytes]:
    for chunk in chunks:
        yield chunk
        if show is not None:
            show(writing.lines)


__all__ = ["Posted", "SteadyrestError", "Underway", "Wishes", "begin", "post", "posted_text", "prove", "read_part"]
