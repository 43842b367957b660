"""Inputs against figures that nobody here made: the NIST report, ISO 841's signs, closed forms of arcs and helices, SciPy.

Sources: NISTIR 6556 (Kramer, Proctor, Messina, The NIST RS274NGC Interpreter, Version 3, 2000), 3.5.3.2, 3.5.16.2 and appendix C.1;
positions on rotary tables worked by hand from ISO 841's signs (from memory), the axis of the tool from the tip towards the spindle; the
words of CL data from memory of APT (INCITS 37) and ISO 4343.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from steadyrest.inputs import Input, PartOptions, take
from steadyrest.inputs.geometry import chorded, lengths, sweeps_rad
from steadyrest.inputs.stretches import ARC, ArcColumns, Moves
from steadyrest.toolpath import Holes, MoveColumns, Toolpath

HEAD = "UNITS/MM\nLOADTL/1\nCUTTER/2\nSPINDL/1000,CLW\nFEDRAT/100\n"
START = "G21 G17 G90 G94 G40 G49 G80 G54\nT1 M6\nS1000 M3\n"
TOOLS = [{"number": 1, "shape": "flat", "diameter": 2.0}]


def toolpath_of(tmp_path: Path, name: str, text: str, **part: Any) -> Toolpath:
    (tmp_path / name).write_text(text)
    return take([Input(file=tmp_path / name)], PartOptions.model_validate({"clearance": 300.0, "tools": TOOLS, **part}))


def only_run(toolpath: Toolpath) -> MoveColumns:
    (run,) = toolpath.operations[0].stream()
    assert isinstance(run, MoveColumns)
    return run


@pytest.mark.parametrize(
    ("axis", "word_deg", "centre", "place"),
    [
        ("X", 30, (0, 0), (30, 21.160254, 16.650635)),
        ("X", -30, (0, 0), (30, -3.839746, 26.650635)),
        ("X", 90, (0, 0), (30, 25, -10)),
        ("X", 30, (2, -5), (30, 23.928203, 16.980762)),
        ("X", 90, (2, -5), (30, 32, -13)),
        ("X", 180, (2, -5), (30, -6, -35)),
        ("Y", 30, (0, 0), (13.480762, 10, 36.650635)),
        ("Y", 90, (0, 0), (-25, 10, 30)),
    ],
)
def test_points_with_a_tool_axis_stand_on_the_table_where_iso_841_puts_them(
    axis: str, word_deg: float, centre: tuple[float, float], place: tuple[float, ...], tmp_path: Path
) -> None:
    """p = (30, 10, 25) under a word A or B of ISO 841 (from memory), for which the tool stands at t = R(word) (0, 0, 1) round the part."""
    t = Rotation.from_euler(axis.lower(), word_deg, degrees=True).apply([0, 0, 1])
    text = HEAD + "MULTAX/ON\nRAPID\nGOTO/30,10,25," + ",".join(f"{value:.9f}" for value in t) + "\nFINI\n"
    middle = (0.0, *map(float, centre)) if axis == "X" else (float(centre[0]), 0.0, float(centre[1]))
    toolpath = toolpath_of(tmp_path, "a.cl", text, axis=axis, centre=middle)
    assert [pytest.approx(word_deg % 360, abs=1e-6)] == [angle % 360 for angle in toolpath.operations[0].rotary.angles]  # type: ignore[union-attr]
    np.testing.assert_allclose(only_run(toolpath).end[0], place, atol=1e-6)


def test_the_arc_of_the_report_has_its_sweep_and_length(tmp_path: Path) -> None:
    """3.5.3.2: at (7, 7), G17 G2 X10 Y16 I3 J4 turns round (10, 11) with radius 5."""
    run = only_run(toolpath_of(tmp_path, "a.nc", START + "G0 X7 Y7 Z0\nG17 G2 X10 Y16 I3 J4 F100\nM2\n"))
    assert run.arcs is not None
    np.testing.assert_allclose(run.arcs.centre[1, :2], [10, 11])
    assert -143.130102 == pytest.approx(math.degrees(run.arcs.sweep_rad[1]), abs=1e-6)
    assert 12.490458 == pytest.approx(5 * abs(run.arcs.sweep_rad[1]), abs=1e-6)


def test_the_arcs_of_the_engraving_example(tmp_path: Path) -> None:
    """C.1: a three-quarter turn, a full circle, and an arc by radius round (66.5, 0.877501)."""
    body = "G0 X16 Y2.5 Z0\nG3 X13.5 Y0 I-2.5 F10\nG0 X32.5 Y0\nG2 X32.5 J2.5\nG0 X64 Y4\nG2 X69 R4\nM2\n"
    run = only_run(toolpath_of(tmp_path, "a.nc", START + body))
    assert run.arcs is not None
    arcs = np.flatnonzero(~np.isnan(run.arcs.sweep_rad))
    np.testing.assert_allclose(np.abs(run.arcs.sweep_rad[arcs[:2]]) * 2.5, [11.780972, 15.707963], atol=1e-6)
    np.testing.assert_allclose(run.arcs.centre[arcs[2], :2], [66.5, 0.877501], atol=1e-6)


@pytest.mark.parametrize(
    ("block", "levels", "places"),
    [
        ("G90 G81 G98 X4 Y5 Z1.5 R2.8 F100", (2.8, 1.5), [(4, 5)]),
        ("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3 F100", (4.8, 4.2), [(5, 7), (9, 12), (13, 17)]),
    ],
)
def test_the_holes_of_the_report(block: str, levels: tuple[float, float], places: list[tuple[float, float]], tmp_path: Path) -> None:
    """3.5.16.2: from (1, 2, 3)."""
    toolpath = toolpath_of(tmp_path, "a.nc", f"{START}G0 X1 Y2 Z3\n{block}\nM2\n")
    holes = [hole for item in toolpath.operations[0].stream() if isinstance(item, Holes) for hole in item]
    assert places == [(pytest.approx(hole.x), pytest.approx(hole.y)) for hole in holes]
    assert {levels} == {(round(hole.retract, 9), round(hole.bottom, 9)) for hole in holes}


@pytest.mark.parametrize("turn_deg", [10.0, 90.0, 180.0, 270.0, 359.0])
@pytest.mark.parametrize("rise", [0.0, 7.0])
def test_chords_of_arcs_and_helices_lie_on_the_closed_form(turn_deg: float, rise: float) -> None:
    """Length r h of the arc, sqrt((r h)^2 + rise^2) of the helix; middles of chords within the tolerance; SciPy turns the points."""
    normal = np.array([2.0, -1.0, 2.0]) / 3
    across = np.array([1.0, 2.0, 0.0]) / math.sqrt(5)
    centre, radius, tolerance = np.array([3.0, -4.0, 5.0]), 12.0, 0.002
    turn = Rotation.from_rotvec(np.radians(turn_deg) * normal)
    start = centre + radius * across
    arc = ArcColumns(start[None, :], centre[None, :], normal[None, :], np.zeros(1, dtype=np.int64))
    end = (centre + turn.apply(radius * across) + rise * normal)[None, :]
    assert turn_deg == pytest.approx(math.degrees(sweeps_rad(arc, end)[0]))
    assert math.hypot(radius * math.radians(turn_deg), rise) == pytest.approx(lengths(arc, end)[0])
    row = Moves(np.array([ARC], dtype=np.uint8), end, np.array([100.0]), np.array([1]), arcs=arc)
    points = np.vstack([start, chorded(row, tolerance, np.array([True])).end])
    share = np.linspace(0, 1, len(points))
    expected = (
        centre
        + Rotation.from_rotvec(np.radians(turn_deg * share)[:, None] * normal).apply(radius * across)
        + share[:, None] * rise * normal
    )
    np.testing.assert_allclose(points, expected, atol=1e-9)
    middles = (points[1:] + points[:-1]) / 2 - centre
    out = np.linalg.norm(middles - np.outer(middles @ normal, normal), axis=1)
    assert radius - tolerance <= out.min()
    length = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert math.hypot(radius * math.radians(turn_deg), rise) == pytest.approx(length, rel=1e-4)


def test_a_quarter_circle_in_the_words_of_apt(tmp_path: Path) -> None:
    """The centre, the vector along the circle's axis and the radius, then the cut point at its end; APT's record, from memory."""
    text = HEAD + "FROM/0,0,25\nRAPID\nGOTO/20,0,5\nGOTO/20,0,-2\nCIRCLE/0,0,-2,0,0,1,20\nGOTO/0,20,-2\nGODLTA/0,0,27\nFINI\n"
    run = only_run(toolpath_of(tmp_path, "a.cl", text))
    assert run.arcs is not None
    assert 90.0 == pytest.approx(math.degrees(run.arcs.sweep_rad[2]))
    np.testing.assert_allclose(run.end[-1], [0, 20, 25])


@pytest.mark.parametrize(("parts", "degrees"), [(6, 60.0), (42, 360 / 42), (8, 45.0)])
def test_divisions_of_a_dividing_head_add_up(parts: int, degrees: float, tmp_path: Path) -> None:
    """Angle of one division is 360 / N (US Army course OD1644 on milling, indexing): N steps of INCR come to a whole turn."""
    step = f"ROTABL/INCR,{degrees!r},CLW\nRAPID\nGOTO/0,0,50\nGOTO/0,0,40\nRAPID\nGOTO/0,0,50\n"
    toolpath = toolpath_of(tmp_path, "a.cl", HEAD + step * parts + "FINI\n")
    angles = [angle for operation in toolpath.operations for angle in operation.rotary.angles]  # type: ignore[union-attr]
    np.testing.assert_allclose(angles, degrees * np.arange(1, parts + 1), atol=1e-9)
