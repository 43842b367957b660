"""On the way to a report: an error of a program names its file, and a picture has the form that its name asks for."""

from __future__ import annotations

from pathlib import Path

import pytest

from steadyrest.errors import OutputError, ProgramError
from steadyrest.reporting import command_of, look_at, picture_of
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


@pytest.mark.parametrize(
    ("request_", "program", "command"),
    [
        (Request(PART), None, "steadyrest report still.toolpath.json --output report.html"),
        (Request(PART.read_bytes()), None, "steadyrest report part.toolpath.json --output report.html"),
        (
            Request(PART, "/shop/profiles/old mill", sets=("rotary.A.chuck_faces=-X",), tolerance=0.02, accept=("origin", "held")),
            Path("/jobs/7/part.nc"),
            "steadyrest report part.nc --toolpath still.toolpath.json --controller 'old mill' --set rotary.A.chuck_faces=-X"
            " --accept origin --accept held --tolerance 0.02 --output report.html",
        ),
    ],
)
def test_a_report_says_the_command_that_makes_it_again_without_any_folder(request_: Request, program: Path | None, command: str) -> None:
    assert command == command_of(request_, program)
