"""The whole way to a report: post a toolpath to memory if that is all there is, and look at the program as it reads back.

The report room itself knows nothing of planning and writing; whatever was posted here is read again from its text.
"""

from __future__ import annotations

import shlex
from pathlib import Path

from steadyrest.errors import OutputError, Place, ProgramError
from steadyrest.notices import Notice
from steadyrest.posting import begin
from steadyrest.profile import resolve
from steadyrest.progress import DRAWING, Progress, Work
from steadyrest.reading import opened_program, read_program
from steadyrest.request import Request
from steadyrest.sheet import SheetFacts, setup_front_fragment, setup_sheet_fragment, setup_sheet_style, sheet_facts
from steadyrest.viewer import Looked, PageParts, PictureForm, PictureOf, SetupSheet, draw, look, page_parts, write_page


def look_at(
    request: Request, program: Path | None = None, *, cells: tuple[int, int] | None = None, progress: Progress | None = None
) -> Looked:
    """A program, read back, proved and simulated.

    program    the program to look at; None: the toolpath is posted to memory
    cells      lines of the simulated field, see `steadyrest.viewer.look`
    progress   is told how far it is, stage by stage
    raises     InputError; a failed proof is in the verdict
    """
    resolved = resolve(request.named_controller, request.sets)
    changed: list[Notice] = []
    toolpath = request.toolpath(changed, progress=progress)
    if program is not None:
        with opened_program(program) as opened:
            text, name = opened.read(), program.name
    else:
        underway = begin(toolpath, resolved, request, progress=progress)
        text = b"".join(underway)
        changed += underway.notices
        part = request.part.name if isinstance(request.part, Path) else toolpath.name or "a toolpath"
        name = f"program of {part}, posted to memory"
    try:
        return look(
            text, name, toolpath, resolved.profile, tolerance=request.tolerance, changed=tuple(changed), accept=request.accept,
            gauge_lengths=request.gauge_lengths, cells=cells, progress=progress,
        )  # fmt: skip
    except ProgramError as error:
        error.place = error.place.within(str(program or name))
        raise


def sheet_of(looked: Looked) -> SheetFacts:
    """The facts of the setup sheet of a program that was looked at."""
    items = read_program(looked.text, looked.setting.profile, rotary_letter=looked.setting.letter)
    return sheet_facts(looked.posted, looked.setting, items, str(looked.posted.program))


def command_of(request: Request, program: Path | None = None, output: str = "report.html") -> str:
    """The command that makes this report again, with the names of files alone: where they lie is nobody's affair."""
    part = request.part.name if isinstance(request.part, Path) else "part.toolpath.json"
    words = ["steadyrest", "report", *([program.name, "--toolpath", part] if program is not None else [part])]
    if request.controller:
        words += ["--controller", Path(request.controller).name]
    words += [word for name, said in (("--set", request.sets), ("--accept", request.accept)) for one in said for word in (name, one)]
    words += ["--tolerance", f"{request.tolerance:g}"] if request.tolerance is not None else []
    words += [word for number, length in request.gauge_lengths.items() for word in ("--tool-length", f"{number}={length:g}")]
    return shlex.join([*words, "--output", output])


def report_page(looked: Looked, *, made: str = "", command: str = "", progress: Progress | None = None) -> bytes:
    """The report, with the setup sheet; where the program must not run both say so.

    made       the day on which it is made, for people; empty: a line to write it on by hand
    command    as of `command_of`; empty: it is not said
    progress   is told that it is drawn
    """
    Work(progress, DRAWING).to(0)
    return write_page(looked, setup_sheet=_of_report(sheet_of(looked)), made=made, command=command, progress=progress)


def report_parts(looked: Looked, facts: SheetFacts, *, made: str = "", command: str = "", progress: Progress | None = None) -> PageParts:
    """The same in pieces, for a page that has its own head; `facts` as of `sheet_of`."""
    Work(progress, DRAWING).to(0)
    return page_parts(looked, setup_sheet=_of_report(facts), made=made, command=command, progress=progress)


def _of_report(facts: SheetFacts) -> SetupSheet:
    return SetupSheet(setup_front_fragment(facts), setup_sheet_fragment(facts), setup_sheet_style())


def report(request: Request, program: Path | None = None, *, progress: Progress | None = None) -> bytes:
    """The report on a program, or on the one that would be posted, as one page for a browser (HTML, UTF-8). Raises as `look_at` does."""
    return report_page(look_at(request, program, progress=progress), command=command_of(request, program), progress=progress)


def picture_of(looked: Looked, of: PictureOf, output: Path, progress: Progress | None = None) -> bytes:
    """A picture in the form that the name of its file asks for. OutputError for any but .png and .svg."""
    forms: dict[str, PictureForm] = {".png": "png", ".svg": "svg"}
    form = forms.get(output.suffix.lower())
    if form is None:
        wrong, cure = f"a picture cannot be written as '{output.suffix}'", "end the name in .png or .svg"
        raise OutputError(wrong, place=Place(file=str(output)), cure=cure)
    Work(progress, DRAWING).to(0)
    return draw(looked, of, form)
