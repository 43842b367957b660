"""Programs that turn the rotary between their cuts: each face at its angle, as the named profile mounts the rotary.

The angles expected follow from ISO 841 (from memory): a positive A turns a table that carries the work left-hand about +X, so that A90 is
the face that stood at 90 degrees; with the chuck facing the other way it is the one at 270.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from steadyrest.columns import join
from steadyrest.errors import SteadyrestError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.notices import Notice
from steadyrest.posting import begin, posted_text
from steadyrest.profile import resolve
from steadyrest.toolpath import Holes, Indexed, MoveColumns, Operation, Toolpath

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
    part = options.pop("part", PART)
    return take([Input.model_validate({"file": file, **options})], part, notices)


def angles_of(toolpath: Toolpath) -> list[float]:
    found = []
    for operation in toolpath.operations:
        assert isinstance(operation.rotary, Indexed)
        found += operation.rotary.angles or ()
    return found


def moves_of(operation: Operation) -> MoveColumns:
    return join([item for item in operation.stream() if isinstance(item, MoveColumns)])


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


ROUND = "G0 A0\nG0 X0 Y0 Z30\nG1 Z20 F100\nG93 G1 X-40 A1440 F0.5\nG94 G0 Z60\nM2\n"


@pytest.mark.parametrize(("language", "sense"), [("rs274ngc", 1), ("rs274ngc-right-end", -1)])
def test_a_cut_that_turns_the_rotary_is_a_way_of_the_tip_round_the_part(language: str, sense: int, tmp_path: Path) -> None:
    """By hand, ISO 841: four turns and 40 along in two minutes, right-hand where the chuck faces +X. Ends and quarters of it coincide."""
    part = PART.model_copy(update={"centre": (0.0, 0.0, 5.0)})
    toolpath = taken(tmp_path, ROUND, language=language, part=part)
    (operation,) = toolpath.operations
    assert ("X", (0.0, 0.0, 5.0), "simultaneous") == (toolpath.axis, toolpath.centre, operation.rotary.intent)
    rows = moves_of(operation)
    ends = rows.end[np.isfinite(rows.feed)] - [0.0, 0.0, 5.0]
    np.testing.assert_allclose(np.hypot(ends[:, 1], ends[:, 2]), 15, atol=1e-9)
    turned = np.unwrap(np.arctan2(-ends[:, 1], ends[:, 2])) * sense
    np.testing.assert_allclose(np.degrees(turned), -36 * ends[:, 0], atol=1e-6)
    assert turned[-1] == pytest.approx(8 * np.pi)
    assert 15 * (1 - np.cos(np.diff(turned).max() / 2)) < 0.011
    assert rows.feed[np.isfinite(rows.feed)][-1] == pytest.approx(np.hypot(8 * np.pi * 15, 40) / 2, rel=1e-3)
    assert rows.tool_axis is not None
    np.testing.assert_allclose(rows.tool_axis[np.isfinite(rows.feed)][:, 1:] * 15, ends[:, 1:], atol=1e-9)


@pytest.mark.parametrize(("language", "degrees"), [("rs274ngc", -340), ("rollover-shortest", 20), ("rs274ngc-right-end", 340)])
def test_over_zero_a_cut_goes_round_as_the_machine_does(language: str, degrees: int, tmp_path: Path) -> None:
    over = ROUND.replace("A0", "A350").replace("A1440", "A10").replace("X-40 ", "")
    rows = moves_of(taken(tmp_path, over, language=language).operations[-1])
    ends = rows.end[np.isfinite(rows.feed)]
    assert np.degrees(np.ptp(np.unwrap(np.arctan2(-ends[:, 1], ends[:, 2])))) == pytest.approx(abs(degrees))
    gone = np.unwrap(np.arctan2(-ends[:, 1], ends[:, 2]))
    assert np.degrees(gone[-1] - gone[0]) == pytest.approx(degrees)


def test_where_it_turns_about_y_and_beside_faces_it_is_taken_too(tmp_path: Path) -> None:
    """By hand: A positive B moves the tool right-hand round the part about Y, so from +Z to +X."""
    about_y = ROUND.replace("X-40 A1440", "Y-40 B90").replace("A0", "B0")
    toolpath = taken(tmp_path, about_y, language="rs274ngc-b")
    assert "Y" == toolpath.axis
    rows = moves_of(toolpath.operations[0])
    np.testing.assert_allclose(rows.end[np.isfinite(rows.feed)][-1], [20, -40, 0], atol=1e-9)
    kinds = [
        operation.rotary.intent for operation in taken(tmp_path, FACES.replace("X-30\n", "X-30 A91\n"), language="rs274ngc").operations
    ]
    assert ["indexed", "simultaneous", "indexed", "indexed"] == kinds


def test_where_a_linear_drive_turns_the_part_the_tool_stands_over_the_axis_of_rotation(tmp_path: Path) -> None:
    """36 mm of Y are a turn of it, so that nothing in the program says where the tool stands across the axis."""
    faces = "G0 Y0\nG0 X0 Z30\nG1 Z19 F100\nX-10\nG0 Z60\nY9\nZ30\nG1 Z19\nX-20\nG0 Z60\nM2\n"
    part = PART.model_copy(update={"centre": (0.0, 3.0, -12.0)})
    for text, intents in ((faces, ["indexed"] * 2), (faces.replace("X-20", "X-20 Y18"), ["indexed", "simultaneous"])):
        toolpath = taken(tmp_path, text, language="y-drives-rotary", part=part)
        first, second = (moves_of(operation) for operation in toolpath.operations)
        assert intents == [operation.rotary.intent for operation in toolpath.operations]
        np.testing.assert_allclose(first.end[:, 1], 3, atol=1e-9)
    cut = second.end[np.isfinite(second.feed)]
    np.testing.assert_allclose([cut[0], cut[-1]], [[-10, 3 - 31, -12], [-20, 3, -12 - 31]], atol=1e-9)


def test_a_part_turned_about_the_spindle_s_axis_while_it_cuts_is_an_arc_of_the_tip(tmp_path: Path) -> None:
    """By hand: 30 from C, which turns a quarter; the tool stands along Z all the time."""
    upright = machine(tmp_path, 'extends = "upright-c"\nspeaks = "C turns while it cuts."\n[rotary.C]\nturns_while_cutting = true\n')
    (operation,) = taken(tmp_path, "G0 C0\nG0 X30 Y0 Z30\nG1 Z19 F100\nC90\nG0 Z60\nM2\n", language=upright).operations
    level = moves_of(operation).end
    level = level[np.isclose(level[:, 2], 19)]
    np.testing.assert_allclose([level[0], level[-1]], [[30, 0, 19], [0, 30, 19]], atol=1e-9)
    np.testing.assert_allclose(np.hypot(*level.T[:2]), 30, atol=1e-9)


@pytest.mark.parametrize(
    ("text", "language", "wrong"),
    [
        (ROUND, None, "nobody has said how the rotary is mounted"),
        (ROUND.replace("G0 A0\n", ""), "rs274ngc", "a cut before the rotary's angle is stated"),
        ("G0 X0 Y0 Z30\nM8\nG1 Z20 A90 F100\nM2\n", "rs274ngc", "a cut before the rotary's angle is stated"),
        (ROUND.replace("G93 G1", "G2").replace("F0.5", "I-20 F100"), "rs274ngc", "an arc while a rotary turns"),
        (ROUND.replace("A1440", "A1440000"), "rs274ngc", "a cut that turns a rotary by more than 360000 degrees"),
    ],
)
def test_what_cannot_be_taken_of_one_rotary_that_turns_while_it_cuts_is_refused(
    text: str, language: str | None, wrong: str, tmp_path: Path
) -> None:
    error = refusal(tmp_path, text, language=language)
    assert wrong in str(error)
    assert error.cure


def test_a_cut_before_the_angle_is_stated_is_refused(tmp_path: Path) -> None:
    error = refusal(tmp_path, FACES.replace("G0 A0\n", ""), language="rs274ngc")
    assert "a cut before the rotary's angle is stated" in str(error)


def test_a_program_that_stays_at_zero_needs_no_profile(tmp_path: Path) -> None:
    still = "G0 A0\nG0 X0 Y0 Z30\nG1 Z19 F100\nX-10 A0.\nG0 Z60\nM2\n"
    assert ["still"] == [operation.rotary.intent for operation in taken(tmp_path, still).operations]


CHAIN = """extends = "rs274ngc"
speaks = "C carried by A, whose axis lies 48 mm over the reference point."
chain = "part C A bed spindle"
[rotary.C]
along = "Z"
seen_from = "+Z"
positive_turns = "clockwise"
[rotary.A]
point = [0, 0, 48]
"""
HEAD_CHAIN = """extends = "upright-c"
speaks = "C in the table, B in the head."
chain = "part C bed B spindle"
[rotary.B]
along = "Y"
seen_from = "+Y"
positive_turns = "clockwise"
pivot = [0, 0, 150]
"""
PLANES = """G0 C0 A0
G0 X0 Y0 Z90
G1 Z19 F100
X-10
G0 Z90
C90 A90
G0 X-20 Y0
G1 Z18
G2 X-30 I-5
G0 Z90
A90 C0
G98 G81 X-40 Y5 Z10 R22 F80
G80
M2
"""


@pytest.fixture
def two_rotaries(tmp_path: Path) -> str:
    return machine(tmp_path, CHAIN)


def machine(folder: Path, text: str) -> str:
    (folder / "two").mkdir()
    (folder / "two" / "controller.toml").write_text(text, encoding="utf-8")
    return str(folder / "two")


def test_each_place_of_two_rotaries_in_the_table_is_a_plane(two_rotaries: str, tmp_path: Path) -> None:
    """By hand, ISO 841: A90 lays the tool along -Y of what A carries, C90 turns that on to +X; A's axis stays where it is."""
    notices: list[Notice] = []
    toolpath = taken(tmp_path, PLANES, notices, language=two_rotaries)
    planes = [
        plane for operation in toolpath.operations if isinstance(operation.rotary, Indexed) for plane in operation.rotary.planes or ()
    ]
    assert [(0, 0, 1), (1, 0, 0), (0, -1, 0)] == [plane.z for plane in planes]
    assert [(1, 0, 0), (0, 1, 0), (1, 0, 0)] == [plane.x for plane in planes]
    assert [(0, 0, 0), (-48, 0, 48), (0, 48, 48)] == [plane.origin for plane in planes]
    cut, arc, hole = ([move.model_dump(exclude_none=True) for move in operation.moves or ()] for operation in toolpath.operations)
    assert {"cut": (-10, 0, 19)} in cut
    assert (-30, 0, 18) in [move.get("arc") for move in arc]
    assert any("hole" in move for move in hole)
    (told,) = [notice.sentence() for notice in notices if notice.kind == "TurnedInPlanes"]
    assert "the words C and A are read by the chain of two (part C A bed spindle)" in told
    assert "X 0 Y 0 Z 0 mm" in told


def test_planned_for_the_same_machine_it_says_the_same_words(two_rotaries: str, tmp_path: Path) -> None:
    text = b"".join(begin(taken(tmp_path, PLANES, language=two_rotaries), resolve(two_rotaries))).decode("ascii").splitlines()
    told = [line for line in text if line in ("G0 A90 C90", "G0 C0", "X-20", "G17 G2 X-30 Y0 I-5 J0") or "Z18" in line or "G81" in line]
    assert ["G0 A90 C90", "X-20", "G94 G1 Z18 F100", "G17 G2 X-30 Y0 I-5 J0", "G0 C0", "G94 G17 G99 G81 X-40 Y5 Z10 R22 F80"] == told


def test_the_reference_point_of_a_chain_lies_where_the_centre_of_the_part_is_said(two_rotaries: str, tmp_path: Path) -> None:
    part = PART.model_copy(update={"centre": (0.0, 0.0, -48.0)})  # so that A's axis goes through the zero of the program
    toolpath = taken(tmp_path, PLANES, language=two_rotaries, part=part)
    assert (0.0, 0.0, -48.0) == toolpath.centre
    rotary = toolpath.operations[2].rotary
    assert isinstance(rotary, Indexed)
    assert [(0, 0, 0)] == [plane.origin for plane in rotary.planes or ()]


def test_what_cannot_be_taken_of_two_rotaries_is_refused(two_rotaries: str, tmp_path: Path) -> None:
    blind = refusal(tmp_path, PLANES.replace("G0 C0 A0", "G0 A0"), language=two_rotaries)
    assert "a cut before each rotary's angle is stated" in str(blind)
    assert "C0 A0" in blind.cure
    turning = PLANES.replace("G1 Z18", "G1 Z18 C91")
    assert "an arc while a rotary turns" in str(refusal(tmp_path, turning.replace("X-30 I-5", "X-30 I-5 C95"), language=two_rotaries))
    assert "machine and part do not coincide" in str(refusal(tmp_path, turning, language=two_rotaries, shift=(1, 0, 0)))
    blind = refusal(tmp_path, turning.replace("G0 C0 A0", "G0 A0"), language=two_rotaries)
    assert "a cut before each rotary's angle is stated" in str(blind)
    assert "the program turns the rotaries itself" in str(refusal(tmp_path, PLANES, language=two_rotaries, indexed=(0, 60)))


TURNING = """(T1 gauge length 80)
G0 C0 A0
G0 X30 Y0 Z90
G1 Z19 F100
G93 G1 X30 C90 F4
G94 G1 Z90 F500
G0 A90 C0
X-20 Y0
G1 Z18 F100
G2 X-30 I-5
G0 Z90
M2
"""


def test_of_two_rotaries_that_turn_while_it_cuts_tip_and_tool_axis_in_the_part_are_taken(two_rotaries: str, tmp_path: Path) -> None:
    """By hand, ISO 841: 30 from C the tip goes a quarter turn round the part, right-hand, in a quarter of a minute."""
    notices: list[Notice] = []
    first, second = taken(tmp_path, TURNING, notices, language=two_rotaries).operations
    assert isinstance(first.rotary, Indexed)  # the tool stands along Z all the time, so that it is an arc in a plane
    rows = moves_of(first)
    level = rows.end[np.isclose(rows.end[:, 2], 19)]
    np.testing.assert_allclose([level[0], level[-1]], [[30, 0, 19], [0, 30, 19]], atol=1e-9)
    np.testing.assert_allclose(np.hypot(*level.T[:2]), 30, atol=1e-9)
    assert np.linalg.norm(np.diff(level, axis=0), axis=1).max() < 2 * np.sqrt(2 * 30 * 0.011)
    assert rows.feed[np.isclose(rows.end[:, 2], 19)][-1] == pytest.approx(30 * np.pi / 2 * 4, rel=1e-3)
    assert isinstance(second.rotary, Indexed)
    assert [(0, -1, 0)] == [pytest.approx(plane.z) for plane in second.rotary.planes or ()] or second.rotary.angles == (90.0,)
    (told,) = [notice.sentence() for notice in notices if notice.kind == "TurnedInPart"]
    assert "where tip and tool axis then are in the part" in told


def test_a_cut_that_tilts_the_part_is_simultaneous_and_holes_lie_where_the_part_has_turned(two_rotaries: str, tmp_path: Path) -> None:
    tilting = TURNING.replace("X30 C90 F4", "A30 C90 F4").replace("G2 X-30 I-5", "G98 G81 X-40 Y5 Z10 R22 F80\nG80")
    first, second = taken(tmp_path, tilting, language=two_rotaries).operations
    assert "simultaneous" == first.rotary.intent
    rows = moves_of(first)
    assert rows.tool_axis is not None
    lean = np.radians(30)
    np.testing.assert_allclose(rows.tool_axis[-1], [np.sin(lean), 0, np.cos(lean)], atol=1e-9)
    (hole,) = [hole for item in second.stream() if isinstance(item, Holes) for hole in item]
    assert (22 - 10, 1) == (pytest.approx(hole.retract - hole.bottom), 1)


def test_the_lengths_of_its_tools_are_those_that_the_head_of_a_program_tells_before_those_that_are_said_today(tmp_path: Path) -> None:
    """By hand: B90, clockwise from +Y, swings the tip from below the pivot to its +X side: by pivot and gauge length, each way."""
    head = machine(tmp_path, HEAD_CHAIN)
    text = TURNING.replace("G0 A90 C0", "G0 B90").replace("A", "B").replace("G93 G1 X30 C90 F4\n", "")
    today = PART.model_copy(update={"gauge_lengths": {1: 100.0}})
    for told, part, length in ((text, PART, 80.0), (text, today, 80.0), (text.replace("(T1 gauge length 80)\n", ""), today, 100.0)):
        _, second = taken(tmp_path, told, language=head, part=part).operations
        assert isinstance(second.rotary, Indexed)
        (plane,) = second.rotary.planes or ()
        assert plane.z == pytest.approx((-1, 0, 0))
        cut = np.array(moves_of(second).end)[-2]
        x, y, z = plane.axes @ cut + plane.origin
        assert (-30 + 150 + length, 0, 18 + 150 + length) == (pytest.approx(x), pytest.approx(y), pytest.approx(z))
        assert not [one for one in second.stream() if "gauge length" in str(one)]
    unsaid = refusal(tmp_path, text.replace("(T1 gauge length 80)\n", ""), language=head)
    assert "B, which carries the tool, and the gauge length of tool 1 is not known" in str(unsaid)
    assert "--tool-length 1=LENGTH" in unsaid.cure
    cycle = text.replace("G2 X-30 I-5", "G98 G81 X-40 Y5 Z10 R22 F80\nG80")
    assert "a drilling cycle with the head turned" in str(refusal(tmp_path, cycle, language=head))


def test_a_program_that_says_where_the_axes_lie_is_taken_only_with_them_there(two_rotaries: str, tmp_path: Path) -> None:
    for text in (PLANES, TURNING):
        said = f"(axis of C through X0 Y0 Z-20)\n(axis of A through X0 Y0 Z28)\n{text}"
        error = refusal(tmp_path, said, language=two_rotaries)
        assert "made for an axis of A that lies 20 mm beside that of two" in str(error)
        assert error.place.line == 3 + 2
        assert "centre" in error.cure
        toolpath = taken(tmp_path, said, language=two_rotaries, part=PART.model_copy(update={"centre": (0.0, 0.0, -20.0)}))
        assert "axis of" not in str([list(operation.stream()) for operation in toolpath.operations])


def test_what_the_head_of_a_posted_program_says_of_its_machine_is_not_said_of_another(tmp_path: Path) -> None:
    mounting, proved = (
        "(A+ turns the chuck clockwise, looking at its face)\n",
        "(PROVED TOOLPATH 0123456789ABCDEF PROFILE FEDCBA9876543210)\n",
    )
    texts = {}
    for name, head in (("posted", mounting + proved), ("by hand", mounting)):
        file = tmp_path / f"{name}.nc"
        file.write_text(f"(DRUM)\n(toolpath drum.json)\n{head}{START}{FACES}", encoding="ascii")
        notices: list[Notice] = []
        toolpath = take([Input.model_validate({"file": file, "language": "rs274ngc"})], PART, notices)
        said = [move.note for operation in toolpath.operations for move in operation.moves or () if move.model_dump().get("note")]
        texts[name] = toolpath.operations[0].name, said, any("its machine and its proof" in each.sentence() for each in notices)
    assert ("DRUM", [], True) == texts["posted"]
    assert ("DRUM", ["toolpath drum.json", mounting.strip("()\n")], False) == texts["by hand"]


def test_a_head_that_stands_at_zero_needs_no_lengths(tmp_path: Path) -> None:
    head = machine(tmp_path, HEAD_CHAIN)
    text = PLANES.replace("A", "B")
    (_, plane, _) = (operation.rotary for operation in taken(tmp_path, text.replace("B90", "B0"), language=head).operations)
    assert isinstance(plane, Indexed)
    assert [(0, 0, 1)] == [one.z for one in plane.planes or ()]
    assert [(0, 1, 0)] == [one.x for one in plane.planes or ()]
