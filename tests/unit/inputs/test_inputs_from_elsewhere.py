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
O72
(CLEVIS, LEFT FACE)
(6 MM MILL IN POCKET 1)
N5 G90 G80 G40 G17
N10 G21 G49
N15 M6 T1
N20 M3 S8000
N25 G54 G0 A0. X0. Y0.
N30 Z25. G43 H1
N35 M8
N40 Z5.
N45 G1 F300. Z-1.
N50 F900. X20.
N55 G2 I0. J10. X30. Y10.
N60 G0 Z25.
N65 G81 G99 R2. Z-5. F200. X5. Y5.
N70 X10.
N75 G80
N80 X12. Y12.
N85 M9
N90 M5 G91 G28 Z0.
N95 G28 X0. Y0.
N100 M30
%
"""
SEMICOLONS = """; second side (the long edge in the jaws)
G90
G64
G21
S10000 M3
G0 Z5
X1 Y1
G1 Z-0.5 F100
X5 F400   ; over the bridge, \N{LATIN CAPITAL LETTER O WITH STROKE}6
G2 I-2 J0 X5 Y1
G0Z5
M5
M30
"""
TIGHT = "%\nG20G90G80G40G17\nM06T1\nS12000M03\nG54G00X0.Y0.\nZ1.G43H01\nM41\nG09G01Z-.05F10.\nG09G01X1.F30.\nG00Z1.\nM30\n%\n"
PLAIN = TIGHT.replace("G09", "")
TURNED_PLANES = """:250 (LEVER (REV 2))
N1 G15 G69 G80 G49 G40 G17
N2 G91 G28 Z0.
N3 G21 G90 G94
N4 M6 T1
N5 M3 S8000
N6 G0 X10. Y5.
N7 Z5.
N8 G1 Z1. F333.
N9 G2 G19 J1. K0. Y6. Z0.
N10 G3 G17 I0. J1. X10. Y8.
N11 G3 G18 I0. K1. X9. Z1.
N12 G91 G28 Z0.
N13 M30
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
    assert ("CLEVIS, LEFT FACE", "flood", 8000.0) == (operation.name, operation.coolant, operation.spindle.rpm)
    found = moves(operation)
    assert [{"rapid": (0.0, 0.0, 25.0)}, {"rapid": (0.0, 0.0, 5.0)}] == found[1:3]
    assert [(5.0, 5.0), (10.0, 5.0)] == [move["hole"] for move in found if "hole" in move]


def test_drilling_that_breaks_the_chip_is_taken(tmp_path: Path) -> None:
    found = moves(taken(tmp_path, WITH_A_NUMBER.replace("G81 G99 R2.", "G73 G99 Q1.5 R2.")).operations[0])
    holes = [move for move in found if "hole" in move]
    assert [("chip-break", 1.5, -5.0)] * 2 == [(hole["cycle"], hole["peck"], hole["bottom"]) for hole in holes]


def test_after_the_end_of_a_cycle_the_motion_from_before_holds(tmp_path: Path) -> None:
    """ISO 6983-1 gives the end of cycles a group of its own (from memory); it was a rapid."""
    assert {"rapid": (12.0, 12.0, 2.0)} == moves(taken(tmp_path, WITH_A_NUMBER).operations[0])[-1]


def test_comments_of_any_kind_are_texts(tmp_path: Path) -> None:
    operation = taken(tmp_path, SEMICOLONS, tool=1).operations[0]
    assert "second side (the long edge in the jaws)" == operation.name
    assert "over the bridge, \N{LATIN CAPITAL LETTER O WITH STROKE}6" in [move.get("note") for move in moves(operation)]
    assert "LEVER [REV 2]" == taken(tmp_path, TURNED_PLANES).operations[0].name


def test_what_is_taken_for_granted_is_told(tmp_path: Path) -> None:
    notices: list[Notice] = []
    taken(tmp_path, SEMICOLONS, notices, tool=1)
    told = [notice.sentence() for notice in notices if notice.kind == "Assumed"]
    assert [
        "assumed: F per minute (no feed mode in the program)",
        "assumed: arcs in the XY plane (no plane in the program)",
    ] == told


def test_the_unit_of_a_program_that_states_none_can_be_said(tmp_path: Path) -> None:
    text = SEMICOLONS.replace("G21\n", "")
    assert "units" in str(refusal(tmp_path, text, tool=1))
    notices: list[Notice] = []
    inches = taken(tmp_path, text, notices, tool=1, units="inch")
    assert "inch" == inches.units
    assert {"rapid": (1.0, 1.0, 5.0)} in moves(inches.operations[0])
    assert "assumed: lengths in inches as given (no unit in the program)" in [notice.sentence() for notice in notices]
    stated = taken(tmp_path, SEMICOLONS, tool=1, units="mm").operations
    assert stated == taken(tmp_path, text, tool=1, units="mm").operations


def test_path_control_is_the_machines_own_affair(tmp_path: Path) -> None:
    notices: list[Notice] = []
    taken(tmp_path, SEMICOLONS, notices, tool=1)
    assert any("G64 is not carried into the toolpath: how corners are rounded" in notice.sentence() for notice in notices)


def test_a_code_without_meaning_here_is_left_out_when_said(tmp_path: Path) -> None:
    error = refusal(tmp_path, TIGHT)
    assert "--leave-out M41" in error.cure
    notices: list[Notice] = []
    toolpath = taken(tmp_path, TIGHT, notices, leave_out=("G9", "M41"))
    assert "inch" == toolpath.units
    assert any("G9 (2 times)" in notice.sentence() for notice in notices)


def test_planes_codes_that_end_what_is_not_on_and_nested_comments(tmp_path: Path) -> None:
    arcs = [move for move in moves(taken(tmp_path, TURNED_PLANES).operations[0]) if "arc" in move]
    assert ["YZ", "XY", "XZ"] == [arc.get("plane", "XY") for arc in arcs]


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("M98", "programs and macros"),
        ("G68", "turned, mirrored"),
        ("G54.7", "shifted"),
        ("G41", "compensation"),
        ("G1", "line"),
        ("G92", "offsets"),
    ],
)
def test_what_says_what_is_cut_is_never_left_out(code: str, why: str, tmp_path: Path) -> None:
    text = PLAIN.replace("M41", code)
    if code not in ("G1",):
        assert code not in refusal(tmp_path, text).cure
    error = refusal(tmp_path, text, leave_out=(code,))
    assert f"{code} cannot be left out" in str(error)
    assert why in str(error)


def test_a_place_beside_a_code_left_out_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, PLAIN.replace("M41", "G325 X5."), leave_out=("G325",))
    assert "whether the tool goes there is not known" in str(error)
    assert 7 == error.place.line


@pytest.mark.parametrize("word", ["U5.", "W-3.", "B90."])
def test_a_word_that_may_move_an_axis_never_goes_with_a_code_left_out(word: str, tmp_path: Path) -> None:
    error = refusal(tmp_path, PLAIN.replace("M41", f"G325 {word}"), leave_out=("G325",))
    assert word in str(error)
    assert 7 == error.place.line


def test_a_pause_that_may_be_meant_in_milliseconds_is_refused(tmp_path: Path) -> None:
    assert "milliseconds" in refusal(tmp_path, WITH_A_NUMBER.replace("N40 Z5.", "N40 Z5.\nG4 P1000")).cure
    taken(tmp_path, WITH_A_NUMBER.replace("N40 Z5.", "N40 Z5.\nG4 P90"))
    bottom = WITH_A_NUMBER.replace("G81 G99 R2.", "G82 G99 P500 R2.")
    assert "milliseconds" in refusal(tmp_path, bottom).cure


def test_limits_of_a_controller_do_not_count(tmp_path: Path) -> None:
    text = WITH_A_NUMBER.replace("S8000", "S60000").replace("M6 T1", "M6 T101").replace("N40", "N1234567")
    error = refusal(tmp_path, text)
    assert "tool 101 is used, but its shape and size are not given" in str(error)


def test_reference_point_without_z_needs_z_clear(tmp_path: Path) -> None:
    error = refusal(tmp_path, WITH_A_NUMBER.replace("N90 M5 G91 G28 Z0.\n", "N90 M5 G91\n"))
    assert "without Z" in str(error)


def test_a_rapid_beside_the_way_to_the_reference_point_only_sets_the_motion(tmp_path: Path) -> None:
    text = WITH_A_NUMBER.replace("N90 M5 G91 G28 Z0.", "N90 M5 G00 G91 G28 Z0.")
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
