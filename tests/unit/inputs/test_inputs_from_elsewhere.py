"""Programs as systems write them for controllers of their own: what is commonly beside the words of NISTIR 6556 is understood, or told.

The programs are made up; that programs look like this is common practice.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import ProgramError, SteadyrestError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.notices import Notice
from steadyrest.toolpath import Operation, Toolpath

PART = PartOptions.model_validate({"clearance": 60.0, "tools": [{"number": 1, "shape": "flat", "diameter": 6.0}]})

WITH_A_NUMBER = """%
O0001
(PART 7 - SIDE A)
(T1 | 6MM FLAT | H1)
N100 G21
N102 G0 G17 G40 G49 G80 G90
N104 T1 M6
N106 G0 G90 G54 X0. Y0. A0. S8000 M3
N108 G43 H1 Z25. M8
N110 Z5.
N112 G1 Z-1. F300.
N114 X20. F900.
N116 G2 X30. Y10. I0. J10.
N122 G0 Z25.
N124 G99 G81 X5. Y5. Z-5. R2. F200.
N126 X10.
N128 G80
N129 X12. Y12.
N130 M5
N132 G91 G28 Z0. M9
N134 G28 X0. Y0.
N136 M30
%
"""
SEMICOLONS = """; made for a small mill (with a spindle that is set by hand)
G21
G90
G64 P0.01
M3 S10000
G0 X1 Y1 Z5
G1 Z-0.5 F100
G1 X5 F400   ; long side, \N{LATIN CAPITAL LETTER O WITH STROKE}6
G2 X5 Y1 I-2 J0
G0Z5
M5
M30
"""
TIGHT = "%\nG0G17G20G40G80G90\nT1M06\nG54\nM03S12000\nG00X0.Y0.\nG43H01Z1.\nG05.1Q1\nG01Z-.05F10.\nX1.F30.\nG05.1Q0\nG00Z1.\nM30\n%\n"
TURNED_PLANES = """O01001 (NAME (REV 2))
N10 G90 G94 G17 G49 G40 G80 G69 G15
N20 G28 G91 Z0.
N25 G90 G21
N30 T1 M6
N35 S8000 M3
N50 G0 X10. Y5. Z5.
N70 G1 Z1. F333.
N75 G19 G2 Y6. Z0. J1. K0.
N80 G17 G3 X10. Y8. I0. J1.
N90 G18 G3 X9. Z1. I0. K1.
N115 G28 G91 Z0.
N135 M30
"""


def taken(folder: Path, text: str, notices: list[Notice] | None = None, **options: Any) -> Toolpath:
    file = folder / "part.nc"
    file.write_text(text, encoding="utf-8")
    return take([Input.model_validate({"file": file, **options})], PART, notices)


def refusal(folder: Path, text: str, **options: Any) -> SteadyrestError:
    with pytest.raises(SteadyrestError) as refused:
        taken(folder, text, **options)
    return refused.value


def moves(operation: Operation) -> list[dict[str, Any]]:
    return [move.model_dump(exclude_defaults=True) for move in operation.moves or ()]


def test_a_program_with_a_number_a_safe_line_and_holes(tmp_path: Path) -> None:
    operation = taken(tmp_path, WITH_A_NUMBER).operations[0]
    assert ("PART 7 - SIDE A", "flood", 8000.0) == (operation.name, operation.coolant, operation.spindle.rpm)
    found = moves(operation)
    assert [{"rapid": (0.0, 0.0, 25.0)}, {"rapid": (0.0, 0.0, 5.0)}] == found[1:3]
    assert [(5.0, 5.0), (10.0, 5.0)] == [move["hole"] for move in found if "hole" in move]


def test_drilling_that_breaks_the_chip_is_taken(tmp_path: Path) -> None:
    found = moves(taken(tmp_path, WITH_A_NUMBER.replace("G99 G81 X5. Y5. Z-5.", "G99 G73 X5. Y5. Z-5. Q1.5")).operations[0])
    holes = [move for move in found if "hole" in move]
    assert [("chip-break", 1.5, -5.0)] * 2 == [(hole["cycle"], hole["peck"], hole["bottom"]) for hole in holes]


def test_after_the_end_of_a_cycle_the_motion_from_before_holds(tmp_path: Path) -> None:
    """ISO 6983-1 gives the end of cycles a group of its own (from memory); it was a rapid."""
    assert {"rapid": (12.0, 12.0, 2.0)} == moves(taken(tmp_path, WITH_A_NUMBER).operations[0])[-1]


def test_comments_of_any_kind_are_texts(tmp_path: Path) -> None:
    operation = taken(tmp_path, SEMICOLONS, tool=1).operations[0]
    assert "made for a small mill (with a spindle that is set by hand)" == operation.name
    assert "long side, \N{LATIN CAPITAL LETTER O WITH STROKE}6" in [move.get("note") for move in moves(operation)]
    assert "NAME [REV 2]" == taken(tmp_path, TURNED_PLANES).operations[0].name


def test_what_is_taken_for_granted_is_told(tmp_path: Path) -> None:
    notices: list[Notice] = []
    taken(tmp_path, SEMICOLONS, notices, tool=1)
    told = [notice.sentence() for notice in notices if type(notice).__name__ == "Assumed"]
    assert [
        "taken for granted: F is per minute, no unit of it is stated",
        "taken for granted: the plane of arcs is XY, none is stated",
    ] == told


def test_the_unit_of_a_program_that_states_none_can_be_said(tmp_path: Path) -> None:
    text = SEMICOLONS.replace("G21\n", "")
    assert "units" in str(refusal(tmp_path, text, tool=1))
    notices: list[Notice] = []
    inches = taken(tmp_path, text, notices, tool=1, units="inch")
    assert "inch" == inches.units
    assert {"rapid": (1.0, 1.0, 5.0)} in moves(inches.operations[0])
    assert "taken for granted: lengths are in inches as was said, no unit is stated" in [notice.sentence() for notice in notices]
    stated = taken(tmp_path, SEMICOLONS, tool=1, units="mm").operations
    assert stated == taken(tmp_path, text, tool=1, units="mm").operations


def test_path_control_is_the_machines_own_affair(tmp_path: Path) -> None:
    notices: list[Notice] = []
    taken(tmp_path, SEMICOLONS, notices, tool=1)
    assert any("G64 is not carried into the toolpath: how corners are rounded" in notice.sentence() for notice in notices)


def test_a_code_without_meaning_here_is_left_out_when_said(tmp_path: Path) -> None:
    error = refusal(tmp_path, TIGHT)
    assert "--leave-out G5.1" in error.cure
    notices: list[Notice] = []
    toolpath = taken(tmp_path, TIGHT, notices, leave_out=("G5.1",))
    assert "inch" == toolpath.units
    assert any("G5.1 (2 times)" in notice.sentence() for notice in notices)


def test_planes_codes_that_end_what_is_not_on_and_nested_comments(tmp_path: Path) -> None:
    arcs = [move for move in moves(taken(tmp_path, TURNED_PLANES).operations[0]) if "arc" in move]
    assert ["YZ", "XY", "XZ"] == [arc.get("plane", "XY") for arc in arcs]


@pytest.mark.parametrize(
    ("code", "why"),
    [("M98", "programs and macros"), ("G68", "turned, mirrored"), ("G41", "compensation"), ("G1", "line"), ("G92", "offsets")],
)
def test_what_says_what_is_cut_is_never_left_out(code: str, why: str, tmp_path: Path) -> None:
    text = TIGHT.replace("G05.1Q1", code).replace("G05.1Q0\n", "")
    if code not in ("G1",):
        assert code not in refusal(tmp_path, text).cure
    error = refusal(tmp_path, text, leave_out=(code,))
    assert f"{code} cannot be left out" in str(error)
    assert why in str(error)


def test_a_place_beside_a_code_left_out_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, TIGHT.replace("G05.1Q1", "G325 X5.").replace("G05.1Q0\n", ""), leave_out=("G325",))
    assert "whether the tool goes there is not known" in str(error)
    assert 8 == error.place.line


@pytest.mark.parametrize("word", ["U5.", "W-3.", "B90."])
def test_a_word_that_may_move_an_axis_never_goes_with_a_code_left_out(word: str, tmp_path: Path) -> None:
    error = refusal(tmp_path, TIGHT.replace("G05.1Q1", f"G325 {word}").replace("G05.1Q0\n", ""), leave_out=("G325",))
    assert word in str(error)
    assert 8 == error.place.line


def test_a_pause_that_may_be_meant_in_milliseconds_is_refused(tmp_path: Path) -> None:
    assert "milliseconds" in refusal(tmp_path, WITH_A_NUMBER.replace("N110 Z5.", "N110 Z5.\nG4 P1000")).cure
    taken(tmp_path, WITH_A_NUMBER.replace("N110 Z5.", "N110 Z5.\nG4 P90"))
    bottom = WITH_A_NUMBER.replace("G99 G81 X5. Y5. Z-5.", "G99 G82 P500 X5. Y5. Z-5.")
    assert "milliseconds" in refusal(tmp_path, bottom).cure


def test_limits_of_a_controller_do_not_count(tmp_path: Path) -> None:
    text = WITH_A_NUMBER.replace("S8000", "S60000").replace("T1 M6", "T101 M6").replace("N110", "N1234567")
    error = refusal(tmp_path, text)
    assert "tool 101 is used, and what it is, is not known" in str(error)


def test_reference_point_without_z_needs_z_clear(tmp_path: Path) -> None:
    error = refusal(tmp_path, WITH_A_NUMBER.replace("N132 G91 G28 Z0. M9\n", "N132 G91\n"))
    assert "without Z" in str(error)


def test_a_rapid_beside_the_way_to_the_reference_point_only_sets_the_motion(tmp_path: Path) -> None:
    text = WITH_A_NUMBER.replace("N132 G91 G28 Z0. M9", "N132 G00 G91 G28 Z0. M9")
    assert taken(tmp_path, WITH_A_NUMBER).operations == taken(tmp_path, text).operations


def test_a_file_in_another_encoding_says_so(tmp_path: Path) -> None:
    file = tmp_path / "part.nc"
    file.write_text(WITH_A_NUMBER, encoding="utf-16")
    with pytest.raises(SteadyrestError, match="UTF-16"):
        take([Input(file=file)], PART)


def test_a_mark_of_the_encoding_and_other_line_ends_change_nothing(tmp_path: Path) -> None:
    same = taken(tmp_path, WITH_A_NUMBER)
    for text in ("\N{ZERO WIDTH NO-BREAK SPACE}" + WITH_A_NUMBER, WITH_A_NUMBER.replace("\n", "\r\n"), WITH_A_NUMBER.lower()):
        assert [len(moves(each)) for each in same.operations] == [len(moves(each)) for each in taken(tmp_path, text).operations]


def test_what_comes_after_the_end_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProgramError, match="after the end"):
        taken(tmp_path, WITH_A_NUMBER.replace("M30\n%", "M30\nO9001\nX5.\nM99\n%"))


def test_a_file_cut_off_is_refused(tmp_path: Path) -> None:
    for lines in range(4, WITH_A_NUMBER.count("\n") - 1):
        text = "\n".join(WITH_A_NUMBER.split("\n")[:lines]) + "\n"
        assert isinstance(refusal(tmp_path, text), SteadyrestError)
