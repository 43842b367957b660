"""The whole way of a toolpath: read, plan, write, prove, look for what it would hit, and only then put in place.

Long programs are proved while they are still being written, on a second core where there is one.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from steadyrest.errors import InputError, Place, ProgramError, Refused, SteadyrestError, TemplateError
from steadyrest.hooks import find_hooks, hooked
from steadyrest.motion import plan
from steadyrest.notices import Notice
from steadyrest.outcome import judge
from steadyrest.profile import Profile, ResolvedProfile, profile_digest, resolve
from steadyrest.profile.stated import FILE_NAME
from steadyrest.proof import Prover, Verdict, head_line, setting_of
from steadyrest.proof import prove as prove_program
from steadyrest.reading import read_program
from steadyrest.simulation import LEAST_SECONDS, SHARE_OF_POST, Hazards, Watch
from steadyrest.summary import Posted
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.writing import Recording, Writing, check_no_input, put_in_place, write_program
from steadyrest.writing.recording import WhoSaid

BESIDE_FROM_BYTES = 2_000_000
"""Toolpath files longer than this are proved while they are written."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """How a part is to be posted and judged; None where nobody has said.

    accept     names of findings that the user takes on themselves
    simulate   whether the stock is cut to see what touches
    """

    controller: str | None = None
    output: Path | None = None
    sets: tuple[str, ...] = ()
    tolerance: float | None = None
    accept: tuple[str, ...] = ()
    simulate: bool = True

    def over(self, part: Path) -> Wishes:
        """These, and what they leave open as the part's job file says, if it is one. Raises InputError for a job that is wrong."""
        if not part.name.endswith(".job.toml"):
            return self
        from steadyrest.inputs import load_job

        kept = load_job(part).post
        if self.output is None and kept.output is not None:
            check_within(kept.output, part)
        return Wishes(
            self.controller or kept.controller,
            self.output or kept.output,
            (*kept.sets(), *self.sets),
            self.tolerance if self.tolerance is not None else kept.tolerance,
            tuple(dict.fromkeys((*kept.accept, *self.accept))),
            self.simulate,
        )


def check_within(output: Path, job: Path) -> None:
    """InputError where a job file, which may come from anywhere, would put its program outside of its own folder."""
    folder, place = os.path.realpath(job.parent), os.path.realpath(output)
    if os.path.commonpath([folder, place]) != folder:
        raise InputError(
            f"the output {output} is not in the job file's folder",
            place=Place(file=str(job), key="post, output"),
            cure="name a file in that folder; or say --output yourself, which may be anywhere",
        )


def files_of(part: Path) -> list[Path]:
    """The files that a part is read from; see `inputs.files_of`."""
    if part.name.endswith(".toolpath.json"):
        return [part]
    from steadyrest.inputs import files_of as all_of

    return all_of(part)


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
    accept: Sequence[str] = (),
    simulate: bool = True,
    show: Callable[[int], None] | None = None,
) -> Posted:
    """Write the program of a toolpath, prove it, look for what it would hit, and put it in place unless the outcome is `stop`.

    part         the toolpath, or any other file that `read_part` reads
    controller   name of a profile, or the path of its folder
    sets         KEY=VALUE, overriding settings for this run
    tolerance    how far the tip may leave its path, file units, part frame
    accept       names of findings that the user takes on themselves
    simulate     whether the stock is cut to see what touches
    show         called now and then with the number of lines written so far
    raises       InputError when toolpath, profile or output is wrong; Refused when the outcome is `stop`: the old file stands as it was
    """
    begun = time.process_time()
    resolved = resolve(controller, sets)
    made_from = [*files_of(part), *(folder / FILE_NAME for folder in resolved.chain)]
    check_no_input(output, made_from)
    taken: list[Notice] = []
    toolpath = read_part(part, taken)
    program = begin(toolpath, resolved, tolerance=tolerance, accept=accept)
    writing = program.writing
    watch = Watch(toolpath, resolved.profile, program.letter) if simulate else None
    seen = watch.look if watch is not None else None
    proof = partial(prove_program, toolpath=toolpath, profile=resolved.profile, tolerance=tolerance, seen=seen)
    with (
        Prover(proof, beside=_is_long(part)) as prover,
        put_in_place(_shown(prover.passing(writing), writing, show), output, made_from) as placed,
    ):
        try:
            verdict = prover.verdict(placed.temporary)
        except ProgramError as error:
            raise _said_by(error, toolpath, resolved, tolerance) from None
        judged = Judging(toolpath, resolved.profile, tolerance, (*taken, *program.notices), accept)
        posted = judged.posted(output, placed.temporary, verdict, watch, time.process_time() - begun)
        if posted.outcome.word == "stop":
            raise refused(posted, f"{output} is as it was before" if output.exists() else f"{output} was not written")
        placed.commit()
    return posted


def refused(posted: Posted, state: str) -> Refused:
    """The refusal of a program whose outcome is `stop`; `state` says what stands now where it would have gone."""
    return Refused(f"stop: {state}", screen=posted.text(), found=posted.as_json())


@dataclass(frozen=True, slots=True)
class Judging:
    """What is known of a program beside its text, for its outcome."""

    toolpath: Toolpath
    profile: Profile
    tolerance: float | None
    notices: tuple[Notice, ...]
    accept: Sequence[str]

    def posted(self, program: Path, text: Path | bytes, verdict: Verdict, watch: Watch | None, seconds: float) -> Posted:
        """The program, judged.

        program   its file, by which it is called; `text` the file in which it is now, or its bytes
        watch     has seen all of it; None: nothing is simulated
        seconds   that all else has taken: the simulation may take a share of that
        """
        setting = setting_of(self.toolpath, self.profile, None, self.tolerance)
        hazards: Hazards | None = None
        if verdict.proved and watch is None:
            hazards = Hazards({}, (), "not asked for")
        elif verdict.proved and watch is not None:
            allowed = max(LEAST_SECONDS, SHARE_OF_POST * seconds)
            hazards = watch.hazards(lambda: read_program(text, self.profile, rotary_letter=setting.letter), allowed)
        outcome = judge(verdict, hazards, setting, notices=self.notices, accept=self.accept)
        inch = setting.program_scale != 1.0
        return Posted(program, self.toolpath, self.profile.name, verdict, outcome, self.notices, inch)


def post_aside(
    part: Path,
    controller: str,
    *,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept: Sequence[str] = (),
    simulate: bool = True,
) -> tuple[Posted, bytes]:
    """As `post`, into memory, for whoever only looks: a `stop` is in the outcome and raises nothing."""
    begun = time.process_time()
    resolved = resolve(controller, sets)
    taken: list[Notice] = []
    toolpath = read_part(part, taken)
    program = begin(toolpath, resolved, tolerance=tolerance, accept=accept)
    text = b"".join(program.writing)
    watch = Watch(toolpath, resolved.profile, program.letter) if simulate else None
    verdict = _proved(text, toolpath, resolved, tolerance, watch)
    judging = Judging(toolpath, resolved.profile, tolerance, (*taken, *program.notices), accept)
    return judging.posted(Path(part.name), text, verdict, watch, time.process_time() - begun), text


def _proved(text: bytes, toolpath: Toolpath, resolved: ResolvedProfile, tolerance: float | None, watch: Watch | None = None) -> Verdict:
    """The proof of a text in memory; a line that is not in the language is an error of the template that says it."""
    seen = watch.look if watch is not None else None
    try:
        return prove_program(text, toolpath, resolved.profile, tolerance=tolerance, seen=seen)
    except ProgramError as error:
        raise _said_by(error, toolpath, resolved, tolerance) from None


def _said_by(error: ProgramError, toolpath: Toolpath, resolved: ResolvedProfile, tolerance: float | None) -> SteadyrestError:
    """The error of a line that the controller would not take, at the template or plug-in that says it: the program's file is no one's."""
    who = WhoSaid(error.place.line or 0)
    with suppress(SteadyrestError):
        for _ in begin(toolpath, resolved, tolerance=tolerance, record=who).writing:
            if who.file:
                break
    place = Place(file=who.file or None, line=None if who.file else error.place.line)
    wrong = f"what it writes as line {error.place.line} is not in the controller's language: {error.wrong}" if who.file else error.wrong
    return (TemplateError if who.file else ProgramError)(wrong, place=place, cure=error.cure)


def posted_text(toolpath: Path | Toolpath, controller: str | Path, *, sets: Sequence[str] = (), tolerance: float | None = None) -> str:
    """The text of a small program, without a file; the toolpath may be in memory. Raises as `post` does, but judges by the proof alone."""
    resolved = resolve(controller, sets)
    if isinstance(toolpath, Path):
        toolpath = read_part(toolpath, [])
    text = b"".join(begin(toolpath, resolved, tolerance=tolerance).writing)
    verdict = _proved(text, toolpath, resolved, tolerance)
    if not verdict.proved:
        raise Refused("not proved", screen=verdict.text(), found=verdict.to_json())
    return text.decode("ascii")


def prove(
    program: Path,
    part: Path,
    controller: str,
    *,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept: Sequence[str] = (),
    simulate: bool = True,
) -> Posted:
    """Prove and judge a program that exists, edited by hand or old. Raises InputError; what was found is in the outcome."""
    begun = time.process_time()
    resolved = resolve(controller, sets)
    notices: list[Notice] = []
    toolpath = read_part(part, notices)
    letter = setting_of(toolpath, resolved.profile, None, tolerance).letter
    watch = Watch(toolpath, resolved.profile, letter) if simulate else None
    seen = watch.look if watch is not None else None
    verdict = prove_program(program, toolpath, resolved.profile, tolerance=tolerance, seen=seen)
    judging = Judging(toolpath, resolved.profile, tolerance, tuple(notices), accept)
    return judging.posted(program, program, verdict, watch, time.process_time() - begun)


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
    accept: Sequence[str] = (),
    record: Recording | None = None,
) -> Underway:
    """Plan and write, unproved: for whoever proves the text, or only looks at it.

    accept   names of findings that the user takes on themselves: the program's head says them
    record   hears which item of the plan each line comes from
    raises   InputError, now or while the text is read
    """
    profile, hooks = resolved.profile, find_hooks()
    head = head_line(toolpath.digest, profile_digest(profile))
    planned = plan(toolpath, profile, tolerance=tolerance, accepted=accept, head=head)
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


__all__ = [
    "Judging",
    "Posted",
    "SteadyrestError",
    "Underway",
    "Wishes",
    "begin",
    "post",
    "post_aside",
    "posted_text",
    "prove",
    "read_part",
    "refused",
]
