"""A setup sheet from files: a program that is proved again, or a toolpath that is posted aside first."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from steadyrest.errors import Refused
from steadyrest.posting import Posted, post, prove
from steadyrest.profile import resolve
from steadyrest.reading import read_program
from steadyrest.sheet.facts import SheetFacts, rotary_of, sheet_facts


def setup_sheet(
    toolpath: Path, controller: str, *, program: Path | None = None, sets: Sequence[str] = (), tolerance: float | None = None
) -> SheetFacts:
    """The facts of the sheet.

    program   a program that exists, proved again here; None: the toolpath is posted, proved and read back, and nothing is kept
    raises    InputError where something that was given is wrong; Refused when the proof fails: there is no sheet for such a program
    """
    if program is not None:
        proved = prove(program, toolpath, controller, sets=sets, tolerance=tolerance)
        if not proved.verdict.proved:
            raise Refused("not proved, and there is no setup sheet for it", screen=proved.verdict.text(), found=proved.as_json())
        return _facts(proved, controller, sets, program.name)
    with tempfile.TemporaryDirectory(prefix="steadyrest-") as folder:
        posted = post(toolpath, controller, Path(folder) / "program", sets=sets, tolerance=tolerance)
        return _facts(posted, controller, sets, "")


def _facts(posted: Posted, controller: str, sets: Sequence[str], name: str) -> SheetFacts:
    profile = resolve(controller, sets).profile
    letter, _ = rotary_of(posted.toolpath, profile)
    return sheet_facts(posted.toolpath, profile, posted.verdict, read_program(posted.program, profile, rotary_letter=letter), name)
