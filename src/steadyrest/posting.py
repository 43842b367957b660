"""The whole way of a toolpath: read, plan, write, prove, look for what it would hit, and only then put in place."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from steadyrest.errors import InputError, Place, ProgramError, Refused, SteadyrestError, TemplateError
from steadyrest.hooks import find_hooks, hooked
from steadyrest.motion import plan
from steadyrest.notices import Notice
from steadyrest.outcome import judge
from steadyrest.profile import FILE_NAME, ResolvedProfile, profile_digest, resolve
from steadyrest.progress import PROVING, Progress, Work
from steadyrest.proof import Verdict, head_line, setting_of
from steadyrest.proof import prove as prove_program
from steadyrest.reading import Piece, last_line, lines_in, read_program
from steadyrest.request import Request, files_of
from steadyrest.summary import Posted
from steadyrest.toolpath import Toolpath
from steadyrest.writing import Origin, Record, Writing, check_no_input, put_in_place, write_program

if TYPE_CHECKING:
    from steadyrest.simulation import Hazards, Watch


def post(request: Request, progress: Progress | None = None) -> Posted:
    """Write the program of a toolpath, prove it, look for what it would hit, and put it in place unless the outcome is `stop`.

    progress is told how far it is, stage by stage (`steadyrest.STAGES`)
    raises   InputError when toolpath, profile or output is wrong; Refused when the outcome is `stop`; whatever `progress` raises: the old
             file stands as it was
    """
    output = request.output
    if output is None:
        raise InputError("no file is named for the program", place=Place(key="output"), cure="name one")
    job = _Job(request, progress)
    made_from = [*files_of(request.part), *(folder / FILE_NAME for folder in job.resolved.chain)]
    check_no_input(output, made_from)
    program = job.begin()
    with put_in_place(program, output, made_from) as placed:
        verdict = job.proved(placed.temporary, program.lines)
        posted = job.judged(output, placed.temporary, verdict, program.notices)
        if posted.outcome.word == "stop":
            state = "is as it was before" if output.exists() else "was not written"
            raise Refused(f"stop: {output} {state}", screen=posted.text(), found=posted.as_json())
        placed.commit()
    return posted


def post_to_memory(request: Request, *, progress: Progress | None = None) -> tuple[Posted, bytes]:
    """As `post`, without a file, for whoever only looks: a `stop` is in the outcome and raises nothing."""
    job = _Job(request, progress)
    program = job.begin()
    text = b"".join(program)
    name = request.part.name if isinstance(request.part, Path) else job.toolpath.name
    return job.judged(Path(name), text, job.proved(text, program.lines), program.notices), text


def posted_text(
    toolpath: Path | Toolpath,
    controller: str | Path,
    *,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    gauge_lengths: Mapping[int, float] | None = None,
) -> str:
    """The text of a small program, without a file; the toolpath may be in memory. Raises as `post` does, but judges by the proof alone."""
    lengths = dict(gauge_lengths or {})
    request = Request(toolpath, str(controller), sets=tuple(sets), tolerance=tolerance, gauge_lengths=lengths, simulate=False)
    posted, text = post_to_memory(request)
    if not posted.verdict.proved:
        raise Refused("not proved", screen=posted.verdict.text(), found=posted.verdict.to_json())
    return text.decode("ascii")


def prove(program: Path | bytes, request: Request, progress: Progress | None = None) -> Posted:
    """Prove and judge a program that exists, edited by hand or old. Raises InputError, and whatever `progress` raises; what was found is
    in the outcome.
    """
    job = _Job(request, progress)
    verdict = job.prove(program, lines_in(program) if progress is not None else 0)
    return job.judged(program if isinstance(program, Path) else Path("program"), program, verdict)


class _Job:
    """A request with its profile and toolpath read, on its way to a judged program."""

    def __init__(self, request: Request, progress: Progress | None) -> None:
        self._begun = time.process_time()
        self._request, self._progress = request, progress
        self._notices: list[Notice] = []
        self.resolved = resolve(request.named_controller, request.sets, unset=request.unset)
        self.toolpath = request.toolpath(self._notices, progress=progress)
        self._setting = setting_of(self.toolpath, self.resolved.profile, None, request.tolerance, request.gauge_lengths)
        self._watch: Watch | None = None
        if request.simulate:
            from steadyrest.simulation import Watch  # a command without it should not wait for it

            self._watch = Watch(self.toolpath, self.resolved.profile, self._setting.letter, request.gauge_lengths)
        self.read = partial(read_program, profile=self.resolved.profile, rotary_letter=self._setting.letter)

    def begin(self, record: Record | None = None) -> Writing:
        """Its program, unproved."""
        progress = self._progress if record is None else None  # a second time is none of the work
        return begin(self.toolpath, self.resolved, self._request, record=record, progress=progress)

    def prove(self, program: Path | bytes, lines: int) -> Verdict:
        """The proof of a program of so many lines."""
        work, reached = Work(self._progress, PROVING, lines), 0

        def seen(piece: Piece) -> None:
            nonlocal reached
            work.to(reached)
            if self._watch is not None:
                self._watch.look(piece)
            reached = last_line(piece)

        verdict = prove_program(
            program,
            self.toolpath,
            self.resolved.profile,
            tolerance=self._request.tolerance,
            gauge_lengths=self._request.gauge_lengths,
            seen=seen,
        )
        if verdict.proved:
            work.end()
        return verdict

    def proved(self, program: Path | bytes, lines: int) -> Verdict:
        """The proof of a program that was written just now: what is wrong in its words is said by who wrote them."""
        try:
            return self.prove(program, lines)
        except ProgramError as error:
            raise self.said_by(error) from None

    def judged(self, program: Path, text: Path | bytes, verdict: Verdict, notices: Sequence[Notice] = ()) -> Posted:
        """The program, by the name that it is called by, judged; `text` is the file in which it is now, or its bytes."""
        setting, profile, watch = self._setting, self.resolved.profile, self._watch
        hazards: Hazards | str | None = "not asked for" if verdict.proved else None
        if verdict.proved and watch is not None:
            from steadyrest.simulation import LEAST_SECONDS, SHARE_OF_POST

            allowed = max(LEAST_SECONDS, SHARE_OF_POST * (time.process_time() - self._begun))
            hazards = watch.hazards(lambda: self.read(text), allowed, self._progress)
        changed = (*self._notices, *notices)
        outcome = judge(verdict, hazards, setting, notices=changed, accept=self._request.accept)
        inch, lengths = setting.program_scale != 1.0, self._request.gauge_lengths
        return Posted(program, self.toolpath, profile.name, verdict, outcome, changed, inch, lengths)

    def said_by(self, error: ProgramError) -> SteadyrestError:
        """The error of a line that the controller would not take, at the template or plug-in that says it."""
        who: list[str] = []

        def hear(origin: Origin) -> None:
            if origin.said is not None and origin.first_line == error.place.line:
                who.append(origin.file)

        with suppress(SteadyrestError):
            for _ in self.begin(hear):
                if who:
                    break
        if not who:
            return ProgramError(error.wrong, place=Place(line=error.place.line), cure=error.cure)
        wrong = f"what it writes as line {error.place.line} is not in the controller's language: {error.wrong}"
        return TemplateError(wrong, place=Place(file=who[0]), cure=error.cure)


def begin(
    toolpath: Toolpath,
    resolved: ResolvedProfile,
    request: Request | None = None,
    *,
    record: Record | None = None,
    progress: Progress | None = None,
) -> Writing:
    """Plan and write a toolpath, unproved: for whoever proves the text, or only looks at it.

    request  with what tolerance and gauge lengths; the findings that the user takes on themselves, which the program's head says.
             Nothing of it is said unless given
    record   is told which item of the plan each line comes from
    progress is told how many moves are planned and written
    raises   InputError, now or while the text is read
    """
    profile, hooks, request = resolved.profile, find_hooks(), request or Request(toolpath)
    head = head_line(toolpath.digest, profile_digest(profile))
    lengths, accepted = request.gauge_lengths, request.accept
    planned = plan(toolpath, profile, tolerance=request.tolerance, gauge_lengths=lengths, accepted=accepted, head=head, progress=progress)
    items = hooked(planned.items, hooks, profile, [operation.name for operation in toolpath.operations])
    folders = (*resolved.template_folders, *hooks.template_folders)
    noticed = hooks.not_loaded, planned.notices
    return write_program(items, profile, folders, inch=planned.inch, rotary_letters=planned.letters, record=record, noticed=noticed)
