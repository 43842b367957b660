"""Programs that turn the rotary between their cuts: each face at its angle, as the named profile mounts the rotary.

The angles expected follow from ISO 841 (from memory): a positive A turns a table that carries the work left-hand about +X, so that A90 is
the face that stood at 90 degrees; with the chuck facing the other way it is the one at 270.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import SteadyrestError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.notices import Notice
from steadyrest.posting import posted_text
from steadyrest.toolpath import Holes, Indexed, Toolpath

PART = PartOptions.model_validate({"clearance": 60.0, "tools": [{"number": 1, "shape": "flat", "diameter": 6.0}]})
START = "G21 G17 G90 G94 G54\nT1 M6\nS3000 M3\n"
FACES = """G0 A0
G0 X0 Y0 Z30
G1 Z19 F100
X-10
G0 Z60
A90
G0 X-20 Y0
Z30
G1 Z18
X-30
G0 Z60
G0 X-40 A-90.
G99 G81 X-40 Y5 Z10 R22 F80
Y-5 A180
G80
G0 Z60
M2
"""


def taken(folder: Path, text: str, notices: list[Notice] | None = None, **options: Any) -> Toolpath:
    file = folder / "faces.nc"
    file.write_text(START + text, encoding="ascii")
    return take([Input.model_validate({"file": file, **options})], options.pop("part", PART), notices)


def angles_of(toolpath: Toolpath) -> list[float]:
    found = []
    for operation in toolpath.operations:
        assert isinstance(operation.rotary, Indexed)
        found += operation.rotary.angles
    return found


def refusal(folder: Path, text: str, **options: Any) -> SteadyrestError:
    with pytest.raises(SteadyrestError) as refused:
        taken(folder, text, **options)
    return refused.value


@pytest.mark.parametrize(("language", "angles"), [("rs274ngc", [0, 90, 270, 180]), ("rs274ngc-right-end", [0, 270, 90, 180])])
def test_each_face_is_an_operation_at_its_angle(language: str, angles: list[float], tmp_path: Path) -> None:
    toolpath = taken(tmp_path, FACES, language=language)
    assert angles == angles_of(toolpath)
    assert "X" == toolpath.axis


def test_a_hole_lies_where_its_cycle_has_turned_the_part(tmp_path: Path) -> None:
    operations = taken(tmp_path, FACES, language="rs274ngc").operations
    holes = [[(hole.x, hole.y) for item in operation.stream() if isinstance(item, Holes) for hole in item] for operation in operations]
    assert [[], [], [(-40, 5)], [(-40, -5)]] == holes


def test_a_position_lost_before_the_first_cut_makes_no_operation_of_its_own(tmp_path: Path) -> None:
    text = "(DRUM)\nG0 A0\nG0 X0 Y0 Z60\nG43 H1 Z30\nG1 Z19 F100\nX-10\nG0 Z60\nM2\n"
    (operation,) = taken(tmp_path, text).operations
    assert "DRUM" == operation.name
    assert ["cut", "cut"] == [key for move in operation.moves or () for key in move.model_dump(exclude_none=True) if key == "cut"]


def test_a_row_of_holes_round_the_part(tmp_path: Path) -> None:
    round_it = "G0 A0\nG0 X-40 Y0 Z60\nG98 G81 X-40 Y0 Z10 R22 F80\nA60.\nA120.\nG80\nM2\n"
    toolpath = taken(tmp_path, round_it, language="rs274ngc")
    assert [0, 60, 120] == angles_of(toolpath)
    holes = [
        [(hole.x, hole.y, hole.bottom) for item in operation.stream() if isinstance(item, Holes) for hole in item]
        for operation in toolpath.operations
    ]
    assert [[(-40, 0, 10)]] * 3 == holes
    assert 3 == posted_text(toolpath, "rs274ngc").count("G81")


def test_what_was_made_of_the_angles_is_told(tmp_path: Path) -> None:
    notices: list[Notice] = []
    taken(tmp_path, FACES, notices, language="rs274ngc-right-end")
    (told,) = [notice.sentence() for notice in notices if notice.kind == "TurnedAs"]
    assert told.endswith("A90 is the face at 270 degrees")
    assert "chuck faces -X" in told


def test_without_a_named_profile_it_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, FACES)
    assert "nobody has said how the rotary is mounted" in str(error)
    assert "--language" in error.cure
    assert 3 + 6 == error.place.line


def test_said_to_lie_elsewhere_it_is_refused(tmp_path: Path) -> None:
    assert "turns the rotary itself" in str(refusal(tmp_path, FACES, language="rs274ngc", indexed=(0, 60)))
    assert "turns the rotary itself" in str(refusal(tmp_path, FACES, language="rs274ngc", wrap={"diameter": 40}))


def test_a_turn_while_cutting_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, FACES.replace("X-30\n", "X-30 A91\n"), language="rs274ngc")
    assert "while it cuts" in str(error)
    assert 3 + 10 == error.place.line


def test_a_cut_before_the_angle_is_stated_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, FACES.replace("G0 A0\n", ""), language="rs274ngc")
    assert "a cut before the rotary's angle is stated" in str(error)


def test_a_program_that_stays_at_zero_needs_no_profile(tmp_path: Path) -> None:
    still = "G0 A0\nG0 X0 Y0 Z30\nG1 Z19 F100\nX-10 A0.\nG0 Z60\nM2\n"
    assert ["still"] == [operation.rotary.intent for operation in taken(tmp_path, still).operations]
