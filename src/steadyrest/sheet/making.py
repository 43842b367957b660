"""A setup sheet from files: a program that is judged again, or a toolpath that is posted aside first."""

from __future__ import annotations

from pathlib import Path

from steadyrest.posting import post_to_memory, prove
from steadyrest.profile import resolve, rotaries_of
from steadyrest.reading import read_program
from steadyrest.request import Request
from steadyrest.sheet.facts import SheetFacts, sheet_facts


def setup_sheet(request: Request, program: Path | None = None) -> SheetFacts:
    """The facts of the sheet. A program that must not run gets its sheet too, with STOP across it.

    program   a program that exists, judged again here; None: the toolpath is posted and judged, and nothing is kept
    raises    InputError where something that was given is wrong
    """
    text: Path | bytes
    if program is not None:
        posted, text, name = prove(program, request), program, program.name
    else:
        posted, text = post_to_memory(request)
        name = ""
    profile = resolve(request.named_controller, request.sets).profile
    letter = next(iter(rotaries_of(profile, posted.toolpath.axis)), None)
    return sheet_facts(posted, profile, read_program(text, profile, rotary_letter=letter), name)
