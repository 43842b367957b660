"""A setup sheet from files: a program that is judged again, or a toolpath that is posted aside first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from steadyrest.posting import post_aside, prove
from steadyrest.profile import resolve, rotaries_of
from steadyrest.reading import read_program
from steadyrest.sheet.facts import SheetFacts, sheet_facts


def setup_sheet(
    toolpath: Path,
    controller: str,
    *,
    program: Path | None = None,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept: Sequence[str] = (),
    simulate: bool = True,
) -> SheetFacts:
    """The facts of the sheet. A program that must not run gets its sheet too, with STOP across it.

    program   a program that exists, judged again here; None: the toolpath is posted and judged, and nothing is kept
    raises    InputError where something that was given is wrong
    """
    text: Path | bytes
    if program is not None:
        posted = prove(program, toolpath, controller, sets=sets, tolerance=tolerance, accept=accept, simulate=simulate)
        text, name = program, program.name
    else:
        posted, text = post_aside(toolpath, controller, sets=sets, tolerance=tolerance, accept=accept, simulate=simulate)
        name = ""
    profile = resolve(controller, sets).profile
    letter = next(iter(rotaries_of(profile, posted.toolpath.axis)), None)
    return sheet_facts(posted, profile, read_program(text, profile, rotary_letter=letter), name)
