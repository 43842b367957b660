"""The whole way to a report: post a toolpath to memory if that is all there is, and look at the program as it reads back.

The report room itself knows nothing of planning and writing; whatever was posted here is read again from its text.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from steadyrest.errors import OutputError, Place, ProgramError
from steadyrest.notices import Notice
from steadyrest.posting import begin, read_part
from steadyrest.profile import resolve
from steadyrest.reading import opened_program, read_program
from steadyrest.report import Looked, PictureForm, PictureOf, draw, find, look, write_page
from steadyrest.sheet import setup_sheet_fragment, setup_sheet_style, sheet_facts
from steadyrest.summary import summary_data


def look_at(
    part: Path,
    controller: str,
    *,
    program: Path | None = None,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept_origin: bool = False,
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
        underway = begin(toolpath, resolved, tolerance=tolerance, accept_origin=accept_origin)
        text = b"".join(underway.writing)
        changed += underway.notices
        name = f"program of {part.name}, posted to memory"
    try:
        return look(
            text, name, toolpath, resolved.profile, tolerance=tolerance, changed=tuple(changed), cells=cells, progress=show
        )  # fmt: skip
    except ProgramError as error:
        if error.place.file is None:
            error.place = error.place.within(str(program) if program is not None else name)
        raise


def looked_data(looked: Looked) -> dict[str, Any]:
    """What `--json` prints of it: the keys of the verdict, and the findings beside them. Keys are only ever added."""
    verdict = summary_data(Path(looked.name), looked.toolpath, looked.profile.name, looked.verdict, looked.changed)
    findings = [{"weight": one.weight, "sentence": one.sentence, "line": one.line} for one in find(looked)]
    return {**verdict, "findings": findings}


def report_page(looked: Looked) -> bytes:
    """The report, with the setup sheet where the program is proved: there is none for a program that must not run."""
    sheet = None
    if looked.verdict.proved:
        items = read_program(looked.text, looked.profile, rotary_letter=looked.letter)
        sheet = setup_sheet_fragment(sheet_facts(looked.toolpath, looked.profile, looked.verdict, items, looked.name)), setup_sheet_style()
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
