"""The whole way to a report: post a toolpath to memory if that is all there is, and look at the program as it reads back.

The report room itself knows nothing of planning and writing; whatever was posted here is read again from its text.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from steadyrest.errors import OutputError, Place, ProgramError
from steadyrest.notices import Notice
from steadyrest.posting import begin, read_part
from steadyrest.profile import resolve
from steadyrest.reading import opened_program, read_program
from steadyrest.report import Looked, PictureForm, PictureOf, draw, look, write_page
from steadyrest.sheet import setup_sheet_fragment, setup_sheet_style, sheet_facts
from steadyrest.summary import Posted


def look_at(
    part: Path,
    controller: str,
    *,
    program: Path | None = None,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept: Sequence[str] = (),
    cells: tuple[int, int] | None = None,
    show: Callable[[str, int], None] | None = None,
) -> Looked:
    """A program, read back, proved and simulated.

    part       the toolpath, or any other file that `steadyrest.posting.read_part` reads
    program    the program to look at; None: the toolpath is posted to memory
    cells      lines of the simulated field, see `steadyrest.report.look`
    show       called now and then with what is being done and the line reached
    raises     InputError; a failed proof is in the verdict
    """
    resolved = resolve(controller, sets)
    changed: list[Notice] = []
    toolpath = read_part(part, changed)
    if program is not None:
        text, name = _bytes_of(program), program.name
    else:
        underway = begin(toolpath, resolved, tolerance=tolerance, accept=accept)
        text = b"".join(underway.writing)
        changed += underway.notices
        name = f"program of {part.name}, posted to memory"
    try:
        return look(
            text, name, toolpath, resolved.profile, tolerance=tolerance, changed=tuple(changed), accept=accept, cells=cells, progress=show
        )  # fmt: skip
    except ProgramError as error:
        if error.place.file is None:
            error.place = error.place.within(str(program) if program is not None else name)
        raise


def posted_of(looked: Looked) -> Posted:
    """What is known of it, in the form of every other command: its screen and its data."""
    inch = looked.setting.program_scale != 1.0
    return Posted(Path(looked.name), looked.toolpath, looked.profile.name, looked.verdict, looked.outcome, looked.changed, inch)


def report_page(looked: Looked) -> bytes:
    """The report, with the setup sheet; where the program must not run both say so."""
    items = read_program(looked.text, looked.profile, rotary_letter=looked.letter)
    facts = sheet_facts(posted_of(looked), looked.profile, items, looked.name)
    sheet = setup_sheet_fragment(facts), setup_sheet_style()
    return write_page(looked, setup_sheet=sheet)


def picture_of(looked: Looked, of: PictureOf, output: Path) -> bytes:
    """A picture in the form that the name of its file asks for. OutputError for any but .png and .svg."""
    forms: dict[str, PictureForm] = {".png": "png", ".svg": "svg"}
    form = forms.get(output.suffix.lower())
    if form is None:
        raise OutputError(
            f"a picture cannot be written as '{output.suffix}'", place=Place(file=str(output)), cure="end the name in .png or .svg"
        )
    return draw(looked, of, form)


def _bytes_of(program: Path) -> bytes:
    with opened_program(program) as opened:
        return opened.read()
