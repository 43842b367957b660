"""Programs in which a word can mean two things: refused with the cure, or understood as the trade means it and told."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from steadyrest.errors import ProgramError
from steadyrest.inputs import Input, PartOptions, take
from steadyrest.notices import Notice
from steadyrest.posting import posted_text
from steadyrest.toolpath import Toolpath

PART = PartOptions.model_validate({"clearance": 60.0, "tools": [{"number": 1, "shape": "flat", "diameter": 6.0}]})
HEAD = "G21 G17 G90\nT1 M6\nS3000 M3\n"
CUT = "G0 X0 Y0 Z30\nG1 Z18 F100\nX10\nG0 Z30\n"


def taken(folder: Path, body: str, notices: list[Notice] | None = None, *, head: str = HEAD, **options: Any) -> Toolpath:
    file = folder / "part.nc"
    file.write_text(f"{head}{body}M30\n", encoding="ascii")
    return take([Input.model_validate({"file": file, **options})], PART, notices)


def refusal(folder: Path, body: str, *, head: str = HEAD) -> ProgramError:
    with pytest.raises(ProgramError) as refused:
        taken(folder, body, head=head)
    return refused.value


def moves(toolpath: Toolpath, number: int = 0) -> list[dict[str, Any]]:
    return [move.model_dump(exclude_defaults=True) for move in toolpath.operations[number].moves or ()]


@pytest.mark.parametrize("offset", ["G54", "G55"])
def test_a_work_offset_after_cuts_under_none_stated_is_refused(offset: str, tmp_path: Path) -> None:
    error = refusal(tmp_path, f"{CUT}{offset}\n{CUT}")
    assert f"{offset} after cuts under no work offset stated" in error.wrong
    assert 10 == error.place.line


def test_a_work_offset_after_the_last_cut_changes_nothing(tmp_path: Path) -> None:
    assert taken(tmp_path, CUT).operations == taken(tmp_path, f"{CUT}G54\n").operations


def test_a_place_from_before_the_first_work_offset_is_not_known_after_it(tmp_path: Path) -> None:
    assert "a position that is not stated" in refusal(tmp_path, "G0 X5 Y5 Z30\nG54\nG1 Z18 F100\n").wrong
    assert {"rapid": (0.0, 0.0, 30.0)} == moves(taken(tmp_path, f"G0 X5 Y5 Z40\nG54\n{CUT}"))[0]


@pytest.mark.parametrize("block", ["G69 X20", "G50.1 X0 Y0", "G15 Y5", "G50 X0", "G0 G50.1 X0", "G13.1 Z1", "G97 S500 X3"])
def test_a_word_of_an_axis_beside_a_code_that_ends_a_mode_is_refused(block: str, tmp_path: Path) -> None:
    error = refusal(tmp_path, f"G0 X0 Y0 Z30\nG1 Z18 F100\n{block}\n")
    assert "whether the tool goes there is not known" in error.wrong
    assert 6 == error.place.line
    assert "block of its own" in error.cure


def test_beside_a_code_of_motion_a_code_that_ends_a_mode_changes_nothing(tmp_path: Path) -> None:
    for block in ("G0 G40 G49 G80 G69 G15 X20", "G91 G28 G69 Z0\nG90 G0 X20 Y0 Z30", "G69\nG1 X20"):
        assert taken(tmp_path, f"{CUT}{block}\n").operations


def test_a_word_of_an_axis_beside_the_end_of_a_cycle_is_no_cut(tmp_path: Path) -> None:
    """A cycle called while a cut was in force: at the end some controllers go on with the cut, others at rapid."""
    drilled = "G0 X0 Y0 Z30\nG1 Z18 F100\nG99 G81 X5 Z10 R20 F80\n"
    assert "G80" in refusal(tmp_path, f"{drilled}G80 Z30\n").wrong
    assert {"rapid": (5.0, 0.0, 30.0)} == moves(taken(tmp_path, f"{drilled}G80 G0 Z30\n"))[-1]
    rapid_before = drilled.replace("G1 Z18 F100\n", "Z25\n")
    assert {"rapid": (5.0, 0.0, 30.0)} == moves(taken(tmp_path, f"{rapid_before}G80 Z30\n"))[-1]


@pytest.mark.parametrize(
    ("words", "plane", "centre"),
    [
        ("G2 I10", "", (10, 0)),
        ("G3 I0 J-5", "", (0, -5)),
        ("G18 G2 K-4", "XZ", (0, -4)),
        ("G19 G3 J3", "YZ", (3, 0)),
    ],
)
def test_an_arc_without_an_end_is_a_full_circle(words: str, plane: str, centre: tuple[float, float], tmp_path: Path) -> None:
    notices: list[Notice] = []
    toolpath = taken(tmp_path, f"G0 X0 Y0 Z0\n{words} F100\nG1 X20\n", notices)
    arc = next(move for move in moves(toolpath) if "arc" in move)
    assert (0, 0, 0) == arc["arc"]
    assert plane == arc.get("plane", "")
    across = {"": (0, 1), "XZ": (0, 2), "YZ": (1, 2)}[plane]
    assert centre == tuple(arc["centre"][axis] for axis in across)
    assert any("full circle" in notice.sentence() for notice in notices)


def test_full_circles_one_after_the_other_and_down_a_helix(tmp_path: Path) -> None:
    found = moves(taken(tmp_path, "G0 X0 Y0 Z2\nG2 I10 F100\nI8.\nZ1. I6\nG1 X0\n"))
    arcs = [(move["arc"], move["centre"][0]) for move in found if "arc" in move]
    assert [((0, 0, 2), 10), ((0, 0, 2), 8), ((0, 0, 1), 6)] == arcs


def test_a_full_circle_without_an_end_is_cut_all_round(tmp_path: Path) -> None:
    part = PartOptions.model_validate({"clearance": 60.0, "tools": [{"number": 1, "shape": "flat", "diameter": 6.0}]})
    file = tmp_path / "part.nc"
    file.write_text(f"{HEAD}G0 X-20 Y0 Z30\nG1 Z18 F100\nG2 I10\nG0 Z30\nM30\n", encoding="ascii")
    toolpath = take([Input(file=file)], part)
    run = next(run for run in toolpath.operations[0].stream() if getattr(run, "arcs", None) is not None)
    assert 2 * math.pi == pytest.approx(abs(float(run.arcs.sweep_rad[-2])))
    assert "G2 X-20 Y0 I10 J0" in posted_text(toolpath, "rs274ngc")


@pytest.mark.parametrize("block", ["G2 R5", "G2", "G1 I5", "G0 I3 J3"])
def test_an_arc_without_end_and_centre_says_nothing(block: str, tmp_path: Path) -> None:
    if block == "G2":  # the motion from here on
        assert taken(tmp_path, f"G0 X0 Y0 Z0\n{block}\nG1 X5 F100\n").operations
    else:
        assert 5 == refusal(tmp_path, f"G0 X0 Y0 Z0\n{block} F100\n").place.line
