"""On the way to a report: an error of a program names its file, and a picture has the form that its name asks for."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.errors import OutputError, ProgramError
from steadyrest.reporting import look_at, picture_of
from steadyrest.request import Request

PART = Path(__file__).parents[1] / "golden" / "tour" / "still.toolpath.json"


def test_an_error_of_the_program_names_its_file(tmp_path: Path) -> None:
    program = tmp_path / "part.nc"
    program.write_text("G1 X-5-0\n")
    with pytest.raises(ProgramError) as error:
        look_at(Request(PART), program, cells=(8, 16))
    assert str(program) == error.value.place.file


def test_a_toolpath_alone_is_posted_to_memory_and_named_so() -> None:
    looked = look_at(Request(PART, "radius-arcs"), cells=(8, 16))
    assert ("program of still.toolpath.json, posted to memory", "radius-arcs") == (str(looked.posted.program), looked.posted.controller)
    assert looked.posted.inch
    with pytest.raises(OutputError, match=r"cannot be written as '\.gif'"):
        picture_of(looked, "part", Path("part.gif"))
